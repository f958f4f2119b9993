//! Sources without an instrument: a file played again, and the practice bench.

use std::path::PathBuf;

use serde::{Deserialize, Deserializer};

use super::Kind;
use super::error::{SettingsError, check_names, within};

/// A logger's file, played again.
#[derive(Clone, Debug, PartialEq, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Replayed {
    /// The word that names this kind of source.
    #[serde(rename = "source")]
    pub kind: Kind,
    /// The file.
    pub file: PathBuf,
    /// Its columns, by name or number; the one temperature of the file when none is named.
    #[serde(default)]
    pub channels: Vec<String>,
    /// How fast.
    #[serde(default)]
    pub speed: Speed,
}

/// The practice bench: a made-up thermocouple in a made-up block.
#[derive(Clone, Debug, PartialEq, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct PracticeBench {
    /// The word that names this kind of source.
    #[serde(rename = "source")]
    pub kind: Kind,
    /// What its noise is drawn from: the same seed gives the same readings.
    pub seed: u64,
    /// Readings a second.
    #[serde(default = "ten")]
    pub readings_per_second: f64,
    /// The standard deviation of its noise.
    #[serde(default = "quiet")]
    pub noise_kelvin: f64,
    /// What it gets wrong.
    #[serde(default)]
    pub fault: Option<Fault>,
    /// Who puts the flame to the block.
    #[serde(default)]
    pub flame: Flame,
    /// It ends after this time; it goes on when not given.
    #[serde(default)]
    pub lasting_seconds: Option<f64>,
    /// How fast.
    #[serde(default)]
    pub speed: Speed,
}

/// Faults of a thermocouple that can be practised.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Fault {
    /// The wire opens on the way up.
    OpenCircuit,
    /// The wires touch near the instrument.
    NoRise,
    /// Plus and minus are swapped.
    Reversed,
    /// The instrument is set to another type.
    WrongType,
    /// The reading stands still for a while.
    Stuck,
    /// Some readings are far off.
    Spikes,
    /// The readings scatter.
    Noise,
    /// Readings stay away near the top.
    Gap,
}

/// Who moves the flame of the practice bench.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Flame {
    /// It comes and goes by itself, so that determinations follow each other.
    #[default]
    ByItself,
    /// Whoever practises moves it.
    ByHand,
}

/// How fast time passes.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Speed {
    /// This many seconds in one.
    Times(f64),
    /// As fast as readings are taken.
    AtOnce,
}

impl Default for Speed {
    fn default() -> Self {
        Self::Times(1.0)
    }
}

impl<'de> Deserialize<'de> for Speed {
    fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
        #[derive(Deserialize)]
        #[serde(untagged, expecting = "a speed such as 1.0, or \"at-once\"")]
        enum Written {
            Times(f64),
            Word(AtOnce),
        }
        #[derive(Deserialize)]
        #[serde(rename_all = "kebab-case")]
        enum AtOnce {
            AtOnce,
        }
        Ok(match Written::deserialize(deserializer)? {
            Written::Times(times) => Self::Times(times),
            Written::Word(AtOnce::AtOnce) => Self::AtOnce,
        })
    }
}

impl Speed {
    fn check(self) -> Result<(), SettingsError> {
        match self {
            Self::Times(times) => within("speed", times, (0.01, 1000.0), " times real time"),
            Self::AtOnce => Ok(()),
        }
    }
}

const fn ten() -> f64 {
    10.0
}

const fn quiet() -> f64 {
    0.3
}

impl Replayed {
    pub(super) fn check(&self) -> Result<(), SettingsError> {
        if !self.channels.is_empty() {
            check_names(self.channels.iter())?;
        }
        self.speed.check()
    }
}

impl PracticeBench {
    /// A bench with nothing wrong, for `seed`.
    #[must_use]
    pub const fn of_seed(seed: u64) -> Self {
        Self {
            kind: Kind::Practice,
            seed,
            readings_per_second: ten(),
            noise_kelvin: quiet(),
            fault: None,
            flame: Flame::ByItself,
            lasting_seconds: None,
            speed: Speed::Times(1.0),
        }
    }

    pub(super) fn check(&self) -> Result<(), SettingsError> {
        within("readings_per_second", self.readings_per_second, (0.1, 1000.0), "")?;
        within("noise_kelvin", self.noise_kelvin, (0.0, 100.0), " K")?;
        if let Some(seconds) = self.lasting_seconds {
            within("lasting_seconds", seconds, (0.1, 1e6), " s")?;
        }
        self.speed.check()
    }
}
