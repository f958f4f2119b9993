//! What is taken where nothing is stated: `standards/readings/block-budget.toml`, built in.

use std::sync::LazyLock;

use metrology::{
    Area, DegreesOfFreedom, Duration, Mass, Measurement, Ratio, Temperature, TemperatureDifference,
};
use serde::Deserialize;

use crate::rule_file::RuleFile;

/// What is taken of block, sensor and room where a laboratory states nothing. The file tells what
/// each is for.
#[derive(Clone, Debug)]
#[expect(missing_docs, reason = "each field is explained by its row in the file")]
pub struct Beginnings {
    pub mass: Mass,
    pub mass_half_width: Mass,
    pub area: Area,
    pub room: Temperature,
    pub room_half_width: TemperatureDifference,
    pub room_read: TemperatureDifference,
    pub start_half_width: TemperatureDifference,
    pub junction_half_width: TemperatureDifference,
    pub lag: Duration,
    pub lag_half_width: Duration,
    pub flame_seen_half_width: Ratio,
    pub clock_rate_half_width: Ratio,
    pub(super) improvements: Vec<Change>,
}

/// What would make lines of the budget smaller.
#[derive(Clone, Debug, Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct Change {
    #[serde(rename = "name")]
    _name: String,
    pub(super) says: String,
    pub(super) lines: Vec<String>,
    #[serde(default)]
    pub(super) standard: Vec<f64>,
    pub(super) times: Option<f64>,
}

impl Beginnings {
    /// Those built into the program, read once.
    ///
    /// # Panics
    ///
    /// Never on a built program: a test reads the file that is built in.
    #[must_use]
    #[expect(clippy::expect_used, reason = "the file is part of the program, and a test reads it")]
    pub fn built_in() -> &'static Self {
        static BEGINNINGS: LazyLock<Beginnings> = LazyLock::new(|| {
            let text = include_str!("../../../../../standards/readings/block-budget.toml");
            Beginnings::of(text).expect("the beginnings of the budget are sound")
        });
        &BEGINNINGS
    }

    /// The room's temperature: as it was read beside the block, or what is usual.
    #[must_use]
    pub fn room_of(&self, read: Option<Temperature>) -> Measurement<Temperature> {
        let (value, uncertainty) = match read {
            Some(read) => (read, self.room_read),
            None => (self.room, self.room_half_width / 3.0_f64.sqrt()),
        };
        Measurement { value, uncertainty, degrees_of_freedom: DegreesOfFreedom::Infinite }
    }

    fn of(text: &str) -> Result<Self, String> {
        let file: RuleFile<Change> = toml::from_str(text).map_err(|error| error.to_string())?;
        let number = |name: &str, unit: &str| file.number(name, unit);
        let kelvin = |name| number(name, "K").map(TemperatureDifference::from_kelvin);
        Ok(Self {
            mass: Mass::from_grams(number("block-mass", "g")?),
            mass_half_width: Mass::from_grams(number("block-mass-half-width", "g")?),
            area: Area::from_square_millimetres(number("block-area", "mm²")?),
            room: Temperature::from_celsius(number("room", "°C")?),
            room_half_width: kelvin("room-half-width")?,
            room_read: kelvin("room-read")?,
            start_half_width: kelvin("start-half-width")?,
            junction_half_width: kelvin("junction-half-width")?,
            lag: Duration::from_seconds(number("lag", "s")?),
            lag_half_width: Duration::from_seconds(number("lag-half-width", "s")?),
            flame_seen_half_width: Ratio::from_fraction(number("flame-seen-half-width", "1")?),
            clock_rate_half_width: Ratio::from_fraction(number("clock-rate-half-width", "1")?),
            improvements: file.improvement,
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_beginnings_built_in_are_sound() {
        let found = Beginnings::built_in();
        assert!(found.mass_half_width < found.mass && found.lag_half_width <= found.lag);
        let names = super::super::NAMES;
        for change in &found.improvements {
            assert!(change.says.ends_with('.'), "{}", change.says);
            assert!(change.times.is_some() != (change.standard.len() == change.lines.len()));
            for line in &change.lines {
                assert!(names.contains(&line.as_str()), "no line is called `{line}`");
            }
        }
        let (read, usual) = (found.room_of(Some(found.room)), found.room_of(None));
        assert!(read.value == usual.value && read.uncertainty < usual.uncertainty);
        let text = "title = \"\"\nversion = 1\nstanding = \"ours\"\nrule = []\nimprovement = []";
        assert_eq!(Beginnings::of(text).unwrap_err(), "no `block-mass` in g");
    }
}
