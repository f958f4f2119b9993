//! What a method asks: each topic of the needle-flame test as typed provisions.

use crate::finding::words;
use crate::rules::{
    Band, Entry, Key, Limit, Provision, Range, Rules, RulesError, RulesProblem, Tolerance, Value,
    Word,
};
use metrology::{Count, Duration, Length, Mass, Ratio, Temperature};
use std::collections::BTreeMap;

/// All that is asked, topic by topic: of a method alone, or of a method with what a product
/// standard and a plan ask differently.
#[derive(Clone, Debug, PartialEq)]
pub struct Asked {
    /// The burner.
    pub burner: Burner,
    /// The gas.
    pub gas: Gas,
    /// The visible height of the flame, burner vertical.
    pub flame_height: Provision<Band<Length>>,
    /// The copper block.
    pub block: Block,
    /// The thermocouple in the block.
    pub thermocouple: Thermocouple,
    /// How the flame is confirmed.
    pub confirmation: ConfirmationAsked,
    /// Storage of the specimens before the test.
    pub conditioning: ConditioningAsked,
    /// Storage of board and tissue before the test.
    pub layer_conditioning: ConditioningAsked,
    /// The air of the test.
    pub atmosphere: Atmosphere,
    /// What lies below.
    pub layer: Layer,
    /// How the flame is applied.
    pub application: ApplicationAsked,
    /// How many specimens.
    pub specimens: SpecimensAsked,
    /// How far off the timing device may be.
    pub timing: Provision<Tolerance>,
    /// What counts as burning.
    pub counting: Provision<Counting>,
    /// What counts as meeting the requirement.
    pub criteria: Criteria,
}

/// The burner.
#[derive(Clone, Debug, PartialEq)]
pub struct Burner {
    /// Length of the tube.
    pub tube_length: Provision<Limit<Length>>,
    /// Bore of the tube.
    pub bore: Provision<Band<Length>>,
    /// Outside diameter of the tube.
    pub outside_diameter: Provision<Limit<Length>>,
}

/// The gas.
#[derive(Clone, Debug, PartialEq)]
pub struct Gas {
    /// Which gases are allowed.
    pub kind: Provision<String>,
    /// How pure.
    pub purity: Provision<Limit<Ratio>>,
}

/// The copper block.
#[derive(Clone, Debug, PartialEq)]
pub struct Block {
    /// What it is made of.
    pub material: Provision<String>,
    /// Its diameter.
    pub diameter: Provision<Band<Length>>,
    /// Its mass before drilling.
    pub mass: Provision<Band<Mass>>,
    /// Its surface.
    pub finish: Provision<String>,
}

/// The thermocouple in the block.
#[derive(Clone, Debug, PartialEq)]
pub struct Thermocouple {
    /// Its type and build.
    pub kind: Provision<String>,
    /// Its tolerance class.
    pub class: Provision<String>,
    /// Its outer diameter.
    pub diameter: Provision<Length>,
}

/// How the flame is confirmed.
#[derive(Clone, Debug, PartialEq)]
pub struct ConfirmationAsked {
    /// Where the rise is timed from.
    pub bottom: Provision<Band<Temperature>>,
    /// Where it is timed to.
    pub top: Provision<Band<Temperature>>,
    /// The accepted rise time.
    pub rise_time: Provision<Band<Duration>>,
    /// How far off the timer may be.
    pub timer: Provision<Tolerance>,
    /// How many determinations.
    pub determinations: Provision<Count>,
    /// How cool the block must be at each start.
    pub start: Provision<Limit<Temperature>>,
    /// Whether each rise time or their mean must lie in the band.
    pub rule: Provision<EachOrMean>,
    /// When a confirmation ends.
    pub lapses: Provision<Lapse>,
}

/// Storage before the test.
#[derive(Clone, Debug, PartialEq)]
pub struct ConditioningAsked {
    /// How long.
    pub duration: Provision<Limit<Duration>>,
    /// In what temperature.
    pub temperature: Provision<Range<Temperature>>,
    /// In what relative humidity.
    pub humidity: Provision<Range<Ratio>>,
}

/// The air of the test.
#[derive(Clone, Debug, PartialEq)]
pub struct Atmosphere {
    /// Its temperature.
    pub temperature: Provision<Range<Temperature>>,
    /// Its relative humidity.
    pub humidity: Provision<Limit<Ratio>>,
}

/// What lies below the specimen.
#[derive(Clone, Debug, PartialEq)]
pub struct Layer {
    /// The specified layer.
    pub kind: Provision<String>,
    /// The wrapping tissue.
    pub tissue: Provision<String>,
    /// Thickness of the board, about.
    pub board_thickness: Provision<Length>,
    /// How far below the place where the flame is applied.
    pub distance: Provision<Band<Length>>,
}

/// How the flame is applied.
#[derive(Clone, Debug, PartialEq)]
pub struct ApplicationAsked {
    /// The durations the method prefers.
    pub preferred: Provision<Vec<Duration>>,
    /// ta, where the product standard or the plan has chosen it.
    pub duration: Option<Provision<Duration>>,
    /// How far each application may be off ta.
    pub tolerance: Provision<Tolerance>,
    /// How many applications to one specimen.
    pub count: Provision<Count>,
    /// The pause between two applications.
    pub pause: Option<Provision<Duration>>,
    /// How far a pause may be off.
    pub pause_tolerance: Option<Provision<Tolerance>>,
    /// How far from a corner, where possible.
    pub edge_distance: Option<Provision<Limit<Length>>>,
}

/// How many specimens.
#[derive(Clone, Debug, PartialEq)]
pub struct SpecimensAsked {
    /// How many are tested.
    pub number: Provision<Count>,
    /// How many more may be tested if one does not meet the requirement; all of them must then.
    pub further: Option<Provision<Count>>,
}

/// What counts as meeting the requirement. A demand that is absent is not made.
#[derive(Clone, Debug, PartialEq)]
pub struct Criteria {
    /// The limit of tb.
    pub duration_of_burning: Option<Provision<Limit<Duration>>>,
    /// Whether ignition of the layer counts.
    pub layer_ignition: Option<Provision<Counted>>,
    /// Whether scorching of the board counts.
    pub layer_scorching: Option<Provision<Counted>>,
    /// Whether burning away completely counts.
    pub complete_burning: Option<Provision<Counted>>,
    /// The limit of the burnt or damaged length.
    pub damaged_length: Option<Provision<Limit<Length>>>,
}

words! {
    /// What a standard can ask of one specimen: a closed list.
    Demand {
        /// tb keeps its limit.
        DurationOfBurning = "duration-of-burning",
        /// The layer does not catch fire.
        LayerIgnition = "layer-ignition",
        /// The board is not scorched.
        LayerScorching = "layer-scorching",
        /// The specimen is not burnt completely.
        CompleteBurning = "complete-burning",
        /// The burnt or damaged length keeps its limit.
        DamagedLength = "damaged-length",
    }
}

macro_rules! choice {
    ($(#[$doc:meta])* $name:ident { $($(#[$line:meta])* $variant:ident = $word:literal,)* }) => {
        words! { $(#[$doc])* $name { $($(#[$line])* $variant = $word,)* } }

        impl Word for $name {
            const WORDS: &'static [(&'static str, Self)] = &[$(($word, Self::$variant)),*];
        }

        impl Value for $name {
            fn read(entry: &Entry) -> Result<Self, RulesProblem> {
                Self::of_entry(entry)
            }
        }
    };
}

choice! {
    /// Whether each determination or their mean must lie in the band.
    EachOrMean {
        /// Each.
        Each = "each",
        /// Their mean.
        Mean = "mean",
    }
}
choice! {
    /// When a confirmation ends, besides the laboratory's own longest age.
    Lapse {
        /// Whenever the gas supply is changed or replaced.
        GasChange = "at each gas change",
    }
}
choice! {
    /// What counts as burning after the flame is removed.
    Counting {
        /// Flames, and glowing as long as it is visible.
        FlamesAndGlow = "flames and glow",
        /// Flames alone.
        FlamesOnly = "flames only",
    }
}
choice! {
    /// Whether something that is seen counts against the specimen.
    Counted {
        /// It counts.
        Counts = "counts",
        /// It is noted and does not count.
        Disregarded = "disregarded",
    }
}

/// What a method asks by itself, before a product standard or a plan asks anything differently.
///
/// # Errors
///
/// [`RulesError`] for a profile: it is not complete without a method.
pub fn asked_by(method: &Rules) -> Result<Asked, RulesError> {
    let file = &method.head.id.0;
    let (asked, refused) = ask(file, method.entries.clone());
    let absent = || RulesProblem::Absent { key: "confirmation.rise-time".to_owned() };
    let place = crate::rules::Place::START;
    let first = refused.into_iter().next();
    asked.ok_or_else(|| {
        first.unwrap_or_else(|| RulesError { file: file.clone(), place, problem: absent() })
    })
}

/// Reads what is asked from the entries of a file, or of several laid over each other. Gives what
/// could be read and all that is wrong.
pub(crate) fn ask(file: &str, entries: BTreeMap<Key, Entry>) -> (Option<Asked>, Vec<RulesError>) {
    let mut taker = Taker { file, entries, refused: Vec::new() };
    let asked = taker.asked();
    let Taker { entries, mut refused, .. } = taker;
    for entry in entries.into_values() {
        let problem = RulesProblem::Unknown { key: entry.key.0, among: String::new() };
        refused.push(RulesError { file: file.to_owned(), place: entry.place, problem });
    }
    (asked.filter(|_| refused.is_empty()), refused)
}

/// Checks each number of a file against its kind. A method must be complete, a profile need not.
pub(crate) fn check(file: &str, rules: &Rules) -> Result<(), RulesError> {
    let whole = rules.head.methods.is_empty();
    let parts = std::iter::once(&rules.entries)
        .chain(rules.variants.values().map(|variant| &variant.entries));
    for entries in parts {
        let (_, refused) = ask(file, entries.clone());
        let wrong =
            |error: &RulesError| whole || !matches!(error.problem, RulesProblem::Absent { .. });
        if let Some(error) = refused.into_iter().find(wrong) {
            return Err(error);
        }
    }
    Ok(())
}

struct Taker<'f> {
    file: &'f str,
    entries: BTreeMap<Key, Entry>,
    refused: Vec<RulesError>,
}

impl Taker<'_> {
    fn may<T: Value>(&mut self, key: &str) -> Option<Provision<T>> {
        let entry = self.entries.remove(&Key(key.to_owned()))?;
        match T::read(&entry) {
            Ok(value) => Some(Provision {
                value,
                text: entry.text(),
                clause: entry.clause,
                standing: entry.standing,
                key: entry.key,
                source: entry.source,
                replaces: entry.replaces,
            }),
            Err(problem) => {
                let file = self.file.to_owned();
                self.refused.push(RulesError { file, place: entry.place, problem });
                None
            }
        }
    }

    fn need<T: Value>(&mut self, key: &str) -> Option<Provision<T>> {
        let absent = !self.entries.contains_key(&Key(key.to_owned()));
        if absent {
            let problem = RulesProblem::Absent { key: key.to_owned() };
            let file = self.file.to_owned();
            self.refused.push(RulesError { file, place: crate::rules::Place::START, problem });
        }
        self.may(key)
    }

    /// Takes every topic before any is missed, so that all that is wrong is found.
    fn asked(&mut self) -> Option<Asked> {
        let (burner, gas, flame_height) = (self.burner(), self.gas(), self.need("flame.height"));
        let (block, thermocouple) = (self.block(), self.thermocouple());
        let confirmation = self.confirmation();
        let conditioning = self.conditioning("conditioning");
        let layer_conditioning = self.conditioning("layer-conditioning");
        let (atmosphere, layer) = (self.atmosphere(), self.layer());
        let (application, specimens) = (self.application(), self.specimens());
        let (timing, counting) = (self.need("timing.accuracy"), self.need("burning.counting"));
        let criteria = self.criteria();
        Some(Asked {
            burner: burner?,
            gas: gas?,
            flame_height: flame_height?,
            block: block?,
            thermocouple: thermocouple?,
            confirmation: confirmation?,
            conditioning: conditioning?,
            layer_conditioning: layer_conditioning?,
            atmosphere: atmosphere?,
            layer: layer?,
            application: application?,
            specimens: specimens?,
            timing: timing?,
            counting: counting?,
            criteria,
        })
    }

    fn burner(&mut self) -> Option<Burner> {
        let (tube_length, bore) = (self.need("burner.tube-length"), self.need("burner.bore"));
        let outside_diameter = self.need("burner.outside-diameter");
        Some(Burner { tube_length: tube_length?, bore: bore?, outside_diameter: outside_diameter? })
    }

    fn gas(&mut self) -> Option<Gas> {
        let (kind, purity) = (self.need("gas.kind"), self.need("gas.purity"));
        Some(Gas { kind: kind?, purity: purity? })
    }

    fn block(&mut self) -> Option<Block> {
        let (material, finish) = (self.need("block.material"), self.need("block.finish"));
        let (diameter, mass) = (self.need("block.diameter"), self.need("block.mass"));
        Some(Block { material: material?, diameter: diameter?, mass: mass?, finish: finish? })
    }

    fn thermocouple(&mut self) -> Option<Thermocouple> {
        let (kind, class) = (self.need("thermocouple.kind"), self.need("thermocouple.class"));
        let diameter = self.need("thermocouple.diameter");
        Some(Thermocouple { kind: kind?, class: class?, diameter: diameter? })
    }

    fn confirmation(&mut self) -> Option<ConfirmationAsked> {
        let (bottom, top) = (self.need("confirmation.bottom"), self.need("confirmation.top"));
        let rise_time = self.need("confirmation.rise-time");
        let timer = self.need("confirmation.timer");
        let determinations = self.need("confirmation.determinations");
        let (start, rule) = (self.need("confirmation.start"), self.need("confirmation.rule"));
        let lapses = self.need("confirmation.lapses");
        Some(ConfirmationAsked {
            bottom: bottom?,
            top: top?,
            rise_time: rise_time?,
            timer: timer?,
            determinations: determinations?,
            start: start?,
            rule: rule?,
            lapses: lapses?,
        })
    }

    fn conditioning(&mut self, topic: &str) -> Option<ConditioningAsked> {
        let duration = self.need(&format!("{topic}.duration"));
        let temperature = self.need(&format!("{topic}.temperature"));
        let humidity = self.need(&format!("{topic}.humidity"));
        Some(ConditioningAsked {
            duration: duration?,
            temperature: temperature?,
            humidity: humidity?,
        })
    }

    fn atmosphere(&mut self) -> Option<Atmosphere> {
        let temperature = self.need("atmosphere.temperature");
        let humidity = self.need("atmosphere.humidity");
        Some(Atmosphere { temperature: temperature?, humidity: humidity? })
    }

    fn layer(&mut self) -> Option<Layer> {
        let (kind, tissue) = (self.need("layer.kind"), self.need("layer.tissue"));
        let board_thickness = self.need("layer.board-thickness");
        let distance = self.need("layer.distance");
        Some(Layer {
            kind: kind?,
            tissue: tissue?,
            board_thickness: board_thickness?,
            distance: distance?,
        })
    }

    fn application(&mut self) -> Option<ApplicationAsked> {
        let preferred = self.need("application.preferred");
        let (tolerance, count) =
            (self.need("application.tolerance"), self.need("application.count"));
        let duration = self.may("application.duration");
        let pause = self.may("application.pause");
        let pause_tolerance = self.may("application.pause-tolerance");
        let edge_distance = self.may("application.edge-distance");
        Some(ApplicationAsked {
            preferred: preferred?,
            duration,
            tolerance: tolerance?,
            count: count?,
            pause,
            pause_tolerance,
            edge_distance,
        })
    }

    fn specimens(&mut self) -> Option<SpecimensAsked> {
        let (number, further) = (self.need("specimens.number"), self.may("specimens.further"));
        Some(SpecimensAsked { number: number?, further })
    }

    fn criteria(&mut self) -> Criteria {
        Criteria {
            duration_of_burning: self.may("criteria.duration-of-burning"),
            layer_ignition: self.may("criteria.layer-ignition"),
            layer_scorching: self.may("criteria.layer-scorching"),
            complete_burning: self.may("criteria.complete-burning"),
            damaged_length: self.may("criteria.damaged-length"),
        }
    }
}
