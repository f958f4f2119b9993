//! Around the flame, told in lines: gas, purge, smoke. A guide that keeps nothing and judges nothing.

use metrology::{Duration, Length, Mass, Ratio, Temperature};
use serde::Serialize;
use trial::around::{AroundError, Chamber, Gas, Guide, Smoke};
use utoipa::ToSchema;

use crate::problem::Problem;

/// What goes before everything that is told.
pub(crate) const GUIDE: &str = "A guide: local rules and the laboratory's own decide.";

/// One figure.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, ToSchema)]
#[schema(as = AroundLine)]
pub(crate) struct Line {
    /// What.
    pub(crate) what: String,
    /// How much, with its unit.
    pub(crate) value: String,
}

/// What is told: figures, then sentences.
#[derive(Clone, Debug, Default, PartialEq, Eq, Serialize, ToSchema)]
pub(crate) struct Told {
    /// The figures.
    pub(crate) lines: Vec<Line>,
    /// What is to be said with them.
    pub(crate) words: Vec<String>,
}

impl Told {
    fn line(&mut self, what: &str, value: String) {
        self.lines.push(Line { what: what.to_owned(), value });
    }

    fn say(&mut self, words: &str) {
        self.words.push(words.to_owned());
    }
}

/// A flame, and the cartridge that feeds it.
pub(crate) struct Flame {
    /// The gas.
    pub(crate) gas: Gas,
    /// The flame's height.
    pub(crate) height: Length,
    /// The room's temperature.
    pub(crate) room: Temperature,
    /// What the cartridge held, and how long the flame has burnt from it.
    pub(crate) cartridge: Option<(Mass, Duration)>,
}

/// How much gas a flame burns, and what is left of its cartridge.
pub(crate) fn flame(flame: &Flame) -> Result<Told, Problem> {
    let Flame { gas, height, room, cartridge } = *flame;
    let burns = guide()?.flame(gas, height, room).map_err(outside)?;
    let within = format!("± {:.0} %", burns.within.percent());
    let mut told = Told::default();
    told.line("Flow of gas", format!("{:.1} {within}", burns.flow));
    told.line("Power", format!("{:.0} W {within}", burns.power_watts));
    told.line("Burnt in an hour", format!("{:.1} {within}", burns.each_hour));
    if let Some((held, burnt)) = cartridge {
        let cartridge = burns.cartridge(held, burnt).map_err(outside)?;
        told.line("Used of the cartridge", format!("{:.1} {within}", cartridge.used));
        told.line("Left in it", format!("{:.0}", cartridge.left));
        told.line("Which lasts", format!("{:.0} h {within}", cartridge.lasts.seconds() / 3600.0));
        if cartridge.left == Mass::from_grams(0.0) {
            told.say("By this the cartridge is empty: weigh it.");
        } else {
            told.say("A scale tells what is left better than a clock: weigh the cartridge.");
        }
    }
    told.say(
        "The flow follows from the height alone, by a working form that is about a tenth off. \
         Height does not confirm a flame: the copper block does.",
    );
    Ok(told)
}

/// The allowance for air that does not mix, as stated or the guide's.
pub(crate) fn mixing(stated: Option<f64>) -> Result<f64, Problem> {
    stated.map_or_else(|| guide().map(Guide::usual_mixing), Ok)
}

/// How long a chamber is purged.
pub(crate) fn purge(chamber: Chamber, left: Ratio) -> Result<Told, Problem> {
    let time = guide()?.purge(chamber, left).map_err(outside)?;
    let changes = chamber.cubic_metres_each_hour / chamber.cubic_metres;
    let mut told = Told::default();
    told.line("Air changes in an hour", format!("{changes:.0}"));
    told.line("To purge", format!("{}, until {} is left", rounded_up(time), share(left)));
    told.say("The door stays shut until then, also when the flame is long out.");
    if chamber.mixing <= 1.0 {
        told.say(
            "This takes the air to mix perfectly. Allow 3 to 10 times as long where it does not.",
        );
    }
    told.say("Take the extraction that was measured, not the one that is printed on the fan.");
    Ok(told)
}

/// What the smoke of a material may hold.
pub(crate) fn smoke(smoke: Smoke<'_>) -> Result<Told, Problem> {
    let guide = guide()?;
    let mut told = Told::default();
    for gas in guide.smoke(smoke).map_err(outside)? {
        let (most, dangerous) = (gas.most_ppm, gas.dangerous_ppm);
        let times = if most > dangerous {
            format!(
                ": {:.1} times what is immediately dangerous ({dangerous:.0} ppm)",
                most / dangerous
            )
        } else {
            format!("; immediately dangerous is {dangerous:.0} ppm")
        };
        told.line(
            &sentence_case(&gas.gas),
            format!("up to {most:.0} ppm{times} ({})", gas.given_by),
        );
    }
    if !guide.knows(smoke.material) {
        told.say("The material is not known by its name: all that a plastic may give is listed.");
    }
    told.say(
        "The most that the closed chamber's air may hold before it is purged, by rough yields.",
    );
    told.say(
        "Keep the door shut and purge before it is opened. Residues may be acid: wear gloves.",
    );
    Ok(told)
}

/// The guide that is built in.
fn guide() -> Result<&'static Guide, Problem> {
    Guide::built_in().map_err(|error| Problem::surroundings(error.to_string()))
}

fn outside(error: AroundError) -> Problem {
    Problem::used_wrongly(error.to_string()).hint(error.hint())
}

/// A time as it is waited for: whole seconds, or minutes and seconds, never less.
fn rounded_up(time: Duration) -> String {
    let seconds = time.seconds().ceil();
    if seconds < 120.0 {
        format!("{seconds:.0} s")
    } else {
        format!("{:.0} min {:.0} s", (seconds / 60.0).floor(), seconds % 60.0)
    }
}

/// A share as it is typed.
fn share(ratio: Ratio) -> String {
    // A share that was typed in per cent is not quite that number any more.
    format!("{} %", (ratio.percent() * 1e9).round() / 1e9)
}

/// With a capital in front.
fn sentence_case(words: &str) -> String {
    let mut letters = words.chars();
    letters.next().map(char::to_uppercase).into_iter().flatten().chain(letters).collect()
}
