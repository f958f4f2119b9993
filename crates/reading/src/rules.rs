//! The numbers by which a trace is read: `standards/readings/rise-time.toml`, built in.

use std::sync::LazyLock;

use metrology::{Duration, TemperatureDifference};
use serde::Deserialize;
use thiserror::Error;

/// How a rise time is read and when a sensor is not believed. The file tells what each is for.
#[derive(Clone, Debug, PartialEq)]
#[expect(missing_docs, reason = "each field is explained by its row in the file")]
pub struct Rules {
    pub version: u32,
    pub crossing_half_width: Duration,
    pub crossing_slope_uncertainty: f64,
    pub crossing_fewest_readings: usize,
    pub neighbourhood: TemperatureDifference,
    pub neighbourhood_fewest_readings: usize,
    pub neighbourhood_most_readings: usize,
    pub second_climb_fall: TemperatureDifference,
    pub open_circuit_jump: TemperatureDifference,
    pub open_circuit_longest_step: Duration,
    pub no_rise_change: TemperatureDifference,
    pub no_rise_time: Duration,
    pub reversed_fall: TemperatureDifference,
    pub reversed_time: Duration,
    pub resting_difference: TemperatureDifference,
    pub stuck_time: Duration,
    pub stuck_slope_kelvin_per_second: f64,
    pub stuck_fewest_readings: usize,
    pub spike_deviation: TemperatureDifference,
    pub spike_longest: usize,
    pub spikes_most: usize,
    pub spike_scatters: f64,
    pub spike_line: Duration,
    pub spike_line_fewest_readings: usize,
    pub spike_line_most_readings: usize,
    pub noise: TemperatureDifference,
    pub gap_time: Duration,
    pub gap_steps: f64,
    pub not_monotonic_fall: TemperatureDifference,
}

/// Why a file of reading rules is not one.
#[derive(Debug, Clone, PartialEq, Error)]
pub enum RulesError {
    /// It is not written as such a file is.
    #[error("the reading rules cannot be read: {0}")]
    Form(String),
    /// A rule is not there.
    #[error("the reading rules have no `{0}`")]
    Absent(&'static str),
    /// A rule has another unit than the one it is used in.
    #[error("the reading rule `{name}` is in {found}, and is needed in {needed}")]
    Unit {
        /// Which rule.
        name: &'static str,
        /// The unit in the file.
        found: String,
        /// The unit it must have.
        needed: &'static str,
    },
    /// A rule's number is out of place.
    #[error("the reading rule `{name}` is {found}; it must be more than 0")]
    Size {
        /// Which rule.
        name: &'static str,
        /// The number in the file.
        found: f64,
    },
    /// The file has rules that nobody reads.
    #[error("the reading rules have {found} rules; {read} are known")]
    Surplus {
        /// How many there are.
        found: usize,
        /// How many have a use.
        read: usize,
    },
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct File {
    #[serde(rename = "title")]
    _title: String,
    version: u32,
    #[serde(rename = "standing")]
    _standing: String,
    rule: Vec<Rule>,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct Rule {
    name: String,
    value: f64,
    unit: String,
    #[serde(rename = "row")]
    _row: String,
    #[serde(rename = "says")]
    _says: String,
}

const FILE: &str = include_str!("../../../standards/readings/rise-time.toml");

impl Rules {
    /// The rules built into the program, read once.
    ///
    /// # Panics
    ///
    /// Never on a built program: a test reads the file that is built in.
    #[must_use]
    #[expect(clippy::expect_used, reason = "the file is part of the program, and a test reads it")]
    pub fn built_in() -> &'static Self {
        static RULES: LazyLock<Rules> =
            LazyLock::new(|| Rules::from_toml(FILE).expect("the reading rules built in are sound"));
        &RULES
    }

    /// The rules of a file's text.
    ///
    /// # Errors
    ///
    /// When it is not such a file, or a rule is absent, unknown, without its unit, or not
    /// more than 0.
    pub fn from_toml(text: &str) -> Result<Self, RulesError> {
        let file: File =
            toml::from_str(text).map_err(|error| RulesError::Form(error.to_string()))?;
        let mut book = Book { rules: &file.rule, read: 0 };
        let rules = Self {
            version: file.version,
            crossing_half_width: book.seconds("crossing-half-width")?,
            crossing_slope_uncertainty: book.number("crossing-slope-uncertainty", "1")?,
            crossing_fewest_readings: book.count("crossing-fewest-readings")?,
            neighbourhood: book.kelvin("neighbourhood")?,
            neighbourhood_fewest_readings: book.count("neighbourhood-fewest-readings")?,
            neighbourhood_most_readings: book.count("neighbourhood-most-readings")?,
            second_climb_fall: book.kelvin("second-climb-fall")?,
            open_circuit_jump: book.kelvin("open-circuit-jump")?,
            open_circuit_longest_step: book.seconds("open-circuit-longest-step")?,
            no_rise_change: book.kelvin("no-rise-change")?,
            no_rise_time: book.seconds("no-rise-time")?,
            reversed_fall: book.kelvin("reversed-fall")?,
            reversed_time: book.seconds("reversed-time")?,
            resting_difference: book.kelvin("resting-difference")?,
            stuck_time: book.seconds("stuck-time")?,
            stuck_slope_kelvin_per_second: book.number("stuck-slope", "K/s")?,
            stuck_fewest_readings: book.count("stuck-fewest-readings")?,
            spike_deviation: book.kelvin("spike-deviation")?,
            spike_longest: book.count("spike-longest")?,
            spikes_most: book.count("spikes-most")?,
            spike_scatters: book.number("spike-scatter", "1")?,
            spike_line: book.seconds("spike-line")?,
            spike_line_fewest_readings: book.count("spike-line-fewest-readings")?,
            spike_line_most_readings: book.count("spike-line-most-readings")?,
            noise: book.kelvin("noise")?,
            gap_time: book.seconds("gap-time")?,
            gap_steps: book.number("gap-steps", "1")?,
            not_monotonic_fall: book.kelvin("not-monotonic-fall")?,
        };
        if book.read == file.rule.len() {
            Ok(rules)
        } else {
            Err(RulesError::Surplus { found: file.rule.len(), read: book.read })
        }
    }
}

struct Book<'a> {
    rules: &'a [Rule],
    read: usize,
}

impl Book<'_> {
    fn number(&mut self, name: &'static str, needed: &'static str) -> Result<f64, RulesError> {
        let rule = self.rules.iter().find(|rule| rule.name == name);
        let rule = rule.ok_or(RulesError::Absent(name))?;
        self.read += 1;
        if rule.unit != needed {
            return Err(RulesError::Unit { name, found: rule.unit.clone(), needed });
        }
        if !(rule.value > 0.0 && rule.value.is_finite()) {
            return Err(RulesError::Size { name, found: rule.value });
        }
        Ok(rule.value)
    }

    fn seconds(&mut self, name: &'static str) -> Result<Duration, RulesError> {
        self.number(name, "s").map(Duration::from_seconds)
    }

    fn kelvin(&mut self, name: &'static str) -> Result<TemperatureDifference, RulesError> {
        self.number(name, "K").map(TemperatureDifference::from_kelvin)
    }

    #[expect(
        clippy::cast_possible_truncation,
        clippy::cast_sign_loss,
        reason = "the number was found to be more than 0; a cast keeps within bounds"
    )]
    fn count(&mut self, name: &'static str) -> Result<usize, RulesError> {
        self.number(name, "1").map(|value| value.ceil() as usize)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn refusal(from: &str, to: &str) -> String {
        assert!(FILE.contains(from));
        Rules::from_toml(&FILE.replacen(from, to, 1)).unwrap_err().to_string()
    }

    #[test]
    fn the_rules_built_in_are_sound() {
        assert_eq!(Rules::from_toml(FILE), Ok(Rules::built_in().clone()));
    }

    #[test]
    fn a_rule_without_its_unit_or_its_place_is_refused() {
        let found = refusal("value = 50.0\nunit = \"K\"", "value = 50.0\nunit = \"°C\"");
        assert_eq!(found, "the reading rule `neighbourhood` is in °C, and is needed in K");
        assert_eq!(refusal("\"noise\"", "\"nose\""), "the reading rules have no `noise`");
        let found = refusal("value = 50.0", "value = -50.0");
        assert_eq!(found, "the reading rule `neighbourhood` is -50; it must be more than 0");
        assert!(refusal("row = \"R93\"\n", "").contains("missing field `row`"));
    }

    #[test]
    fn a_rule_that_nobody_reads_is_refused() {
        let more = "[[rule]]\nname = \"more\"\nvalue = 1\nunit = \"K\"\nrow = \"R0\"\nsays = \"\"";
        let found = Rules::from_toml(&format!("{FILE}\n{more}")).unwrap_err().to_string();
        assert_eq!(found, "the reading rules have 29 rules; 28 are known");
    }
}
