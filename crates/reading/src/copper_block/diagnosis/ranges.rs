//! How far each cause may go: `standards/readings/block-diagnosis.toml`, built in.

use std::sync::LazyLock;

use serde::Deserialize;

/// The file.
#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields, rename_all = "kebab-case")]
pub(super) struct Ranges {
    #[serde(rename = "title")]
    _title: String,
    #[serde(rename = "version")]
    _version: u32,
    #[serde(rename = "standing")]
    _standing: String,
    pub(super) nothing: f64,
    pub(super) confident: f64,
    pub(super) fewest: usize,
    pub(super) unlike: f64,
    pub(super) height_by_flow: f64,
    pub(super) heat_by_flow: f64,
    pub(super) heat_by_flow_uncertainty: f64,
    pub(super) less_heat: Range,
    pub(super) more_heat: Range,
    pub(super) dull: Range,
    pub(super) lighter: Range,
    pub(super) heavier: Range,
    pub(super) lagging: Range,
    pub(super) seeing_the_flame: Range,
    pub(super) draught: Range,
    pub(super) warm: Range,
}

/// How far one cause may go, and what it may do besides.
#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct Range {
    #[serde(rename = "says")]
    _says: String,
    pub(super) least: f64,
    pub(super) most: f64,
    pub(super) spread: Spread,
}

/// Standard deviations.
#[derive(Debug, Default, Deserialize)]
#[serde(deny_unknown_fields, default)]
pub(super) struct Spread {
    pub(super) heat: f64,
    pub(super) flame: f64,
    pub(super) loss: f64,
    pub(super) emissivity: f64,
    pub(super) lag: f64,
    pub(super) wander: f64,
}

impl Ranges {
    /// The ranges built into the program, read once.
    #[expect(clippy::expect_used, reason = "the file is part of the program, and a test reads it")]
    pub(super) fn built_in() -> &'static Self {
        static RANGES: LazyLock<Ranges> = LazyLock::new(|| {
            let text = include_str!("../../../../../standards/readings/block-diagnosis.toml");
            toml::from_str(text).expect("the ranges of the diagnosis are sound")
        });
        &RANGES
    }
}

impl Range {
    /// Places spread evenly over the range, at the middles of this many parts.
    pub(super) fn places(&self, number: u32) -> impl Iterator<Item = f64> {
        let step = (self.most - self.least) / f64::from(number);
        (0..number).map(move |n| self.least + step * (f64::from(n) + 0.5))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_ranges_built_in_are_sound() {
        let ranges = Ranges::built_in();
        for range in [&ranges.less_heat, &ranges.dull, &ranges.draught, &ranges.warm] {
            assert!(range.least < range.most);
        }
        assert!(ranges.nothing < 1.0 && ranges.confident > 0.5);
        let places: Vec<f64> = ranges.warm.places(3).collect();
        assert_eq!(places, [50.0, 150.0, 250.0]);
    }
}
