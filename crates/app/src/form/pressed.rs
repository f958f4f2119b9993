//! What the presses at the bench decide of a description, and where a description departs from it.

use trial::bench::{State, Timing};
use trial::history::History;
use trial::moment::Elapsed;
use trial::number::{PersonName, PlanNumber, SpecimenNumber};
use trial::run::{Ending, Observed};

/// The presses of a specimen whose timing is finished.
#[derive(Clone, Debug)]
pub(crate) struct Pressed {
    /// What they decide.
    pub(crate) timing: Timing,
    /// Who pressed.
    pub(crate) who: PersonName,
    /// Whether it is still to be said if there was any flame or glow: both were out at once.
    pub(crate) asks: bool,
    /// What the device said against its own time.
    pub(crate) doubts: Vec<String>,
}

/// A time that does not hold as it was pressed.
#[derive(Debug, PartialEq, Eq)]
pub(crate) struct Changed {
    /// Which.
    pub(crate) what: String,
    /// As it was pressed.
    pub(crate) pressed: String,
    /// As it holds.
    pub(crate) holds: String,
}

impl Pressed {
    /// What was pressed for a specimen; none as long as its timing is not finished.
    pub(crate) fn of(
        history: &History,
        plan: PlanNumber,
        specimen: SpecimenNumber,
    ) -> Option<Self> {
        let standing = history.standing(plan, specimen)?;
        let timing = standing.timing()?;
        let who = history.sitting(plan, specimen)?.who.clone();
        let doubts = standing.doubts.into_iter().filter_map(|doubt| doubt.note).collect();
        Some(Self { timing, who, asks: standing.asks_about_flame_and_glow, doubts })
    }

    /// What of `seen` departs from the presses.
    pub(crate) fn changed(&self, seen: &Observed) -> Vec<Changed> {
        let mut all = Vec::new();
        let both = self.timing.applications.iter().zip(&seen.applications).zip(1..);
        for ((pressed, holds), nth) in both {
            let flame = |what: &str| format!("Flame {nth} {what}");
            all.push((flame("on specimen"), tenths(pressed.on), tenths(holds.on)));
            all.push((flame("removed"), tenths(pressed.removed), tenths(holds.removed)));
        }
        let endings =
            [("Flames", self.timing.flames, seen.flames), ("Glow", self.timing.glow, seen.glow)];
        all.extend(endings.map(|(what, one, other)| (what.to_owned(), ended(one), ended(other))));
        if self.timing.surroundings != Ending::None {
            let layer = (self.timing.surroundings, seen.surroundings);
            all.push(("Layer or surroundings".to_owned(), ended(layer.0), ended(layer.1)));
        }
        let departs = all.into_iter().filter(|(_, pressed, holds)| pressed != holds);
        departs.map(|(what, pressed, holds)| Changed { what, pressed, holds }).collect()
    }
}

/// Whether a specimen is at the bench now: its flame was lit, and it is not finished.
pub(crate) const fn at_the_bench(state: State) -> bool {
    match state {
        State::OnSpecimen | State::Between | State::Burning | State::Glow | State::Layer => true,
        State::Ready | State::Finished | State::Spoilt => false,
    }
}

/// Whether a person keeps the time of a specimen that is neither described nor set aside.
pub(crate) fn keeps_time(
    history: &History,
    person: &PersonName,
    (plan, specimen): (PlanNumber, SpecimenNumber),
) -> bool {
    history.sitting(plan, specimen).is_some_and(|sitting| sitting.who == *person)
        && !history.used_specimens(plan).contains(&specimen)
}

/// The specimens at the bench now that a person times.
pub(crate) fn times_now(
    history: &History,
    person: &PersonName,
) -> Vec<(PlanNumber, SpecimenNumber)> {
    let open = |plan: PlanNumber, specimen: SpecimenNumber| {
        keeps_time(history, person, (plan, specimen))
            && history.standing(plan, specimen).is_some_and(|it| at_the_bench(it.state))
    };
    let of_plan = |plan: PlanNumber| {
        let specimens = history.specimens(plan).into_iter();
        specimens.filter(move |it| open(plan, *it)).map(move |it| (plan, it)).collect::<Vec<_>>()
    };
    history.open_plans().flat_map(of_plan).collect()
}

/// Where a specimen stands at the bench, in words.
pub(crate) const fn in_words(state: State) -> &'static str {
    match state {
        State::Ready => "ready",
        State::OnSpecimen => "flame on specimen",
        State::Between => "between applications",
        State::Burning => "burning after removal",
        State::Glow => "glow after the flames",
        State::Layer => "layer below still burning",
        State::Finished => "finished, to be described",
        State::Spoilt => "spoilt, to be said why",
    }
}

/// An instant as it is read: seconds to the tenth.
pub(crate) fn tenths(at: Elapsed) -> String {
    format!("{:.1}", at.since(Elapsed::ZERO))
}

/// How something ended, and when, as it is read.
pub(crate) fn ended(ending: Ending) -> String {
    match ending {
        Ending::None => "none".to_owned(),
        Ending::Out(at) => format!("out at {}", tenths(at)),
        Ending::PutOutByHand(at) => format!("put out by hand at {}", tenths(at)),
    }
}

/// An instant as it is typed: exact, and never with three decimals, which could be read in two ways.
pub(crate) fn typed(at: Elapsed) -> String {
    let (whole, part) = (at.microseconds() / 1_000_000, at.microseconds().abs() % 1_000_000);
    let decimals = format!("{part:06}");
    match decimals.trim_end_matches('0') {
        "" => format!("{whole}"),
        three if three.len() == 3 => format!("{whole}.{three}0"),
        part => format!("{whole}.{part}"),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::form::number::{SECONDS, read};

    #[test]
    fn an_instant_that_is_offered_is_read_as_the_same_instant() {
        for at in [0, 30_000_000, 30_200_000, 30_212_000, 30_212_300, 1_000, 41_999_999] {
            let offered = typed(Elapsed::from_microseconds(at));
            assert_eq!(read(&offered, &SECONDS).unwrap().millionths, at, "`{offered}`");
        }
    }
}
