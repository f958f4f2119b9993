//! The numbers of the flame chart: `standards/readings/flame-chart.toml`, built in.

use crate::finding::words;
use metrology::Ratio;
use metrology::control_chart::{CusumRule, EwmaRule};
use std::sync::LazyLock;

/// By which numbers a change of the flame is called.
#[derive(Clone, Debug, PartialEq)]
pub struct ChartRules {
    /// Limits of single confirmations, in sigma.
    pub single_sigma: f64,
    /// The weighted mean.
    pub ewma: EwmaRule,
    /// The cumulative sums.
    pub cusum: CusumRule,
    /// How far below the best the likelihood of a turn may be that is not ruled out.
    pub turn_margin: f64,
    /// So many confirmations make a base line.
    pub fewest: usize,
    /// Each number with where it comes from, in the order of the file.
    pub numbers: Vec<ChartNumber>,
}

/// One number of the chart.
#[derive(Clone, Debug, PartialEq)]
pub struct ChartNumber {
    /// What it is for.
    pub says: String,
    /// Its value.
    pub value: f64,
    /// Where it comes from.
    pub source: String,
    /// How it is known.
    pub standing: NumberStanding,
}

words! {
    /// How a number of the chart is known.
    NumberStanding {
        /// Seen in its source.
        Seen = "seen",
        /// From memory of its source.
        Memory = "memory",
        /// Chosen by the project.
        Ours = "ours",
    }
}

/// The keys of the file, in its order.
const KEYS: [&str; 7] = [
    "three-sigma",
    "ewma-weight",
    "ewma-limit",
    "cusum-allowance",
    "cusum-limit",
    "turn-margin",
    "base-line-fewest",
];

impl ChartRules {
    /// The rules that are built in.
    #[must_use]
    pub fn built_in() -> &'static Self {
        static RULES: LazyLock<ChartRules> = LazyLock::new(built_in);
        &RULES
    }
}

#[expect(clippy::panic, reason = "the file is part of the program: a broken one is our bug")]
fn built_in() -> ChartRules {
    let name = "standards/readings/flame-chart.toml";
    let text = include_str!("../../../../standards/readings/flame-chart.toml");
    read(text).unwrap_or_else(|cause| panic!("{name}: {cause}"))
}

fn read(text: &str) -> Result<ChartRules, String> {
    let file: toml::Table = text.parse().map_err(|cause: toml::de::Error| cause.to_string())?;
    let numbers: Result<Vec<ChartNumber>, String> =
        KEYS.iter().map(|key| number(&file, key)).collect();
    let numbers = numbers?;
    let [single, weight, width, allowance, decision, turn_margin, fewest] =
        [0, 1, 2, 3, 4, 5, 6].map(|place| numbers[place].value);
    #[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "a small count")]
    let fewest = fewest as usize;
    if !(weight > 0.0 && weight <= 1.0) || fewest < 2 {
        return Err("the weight is a fraction, and a base line has two confirmations".to_owned());
    }
    Ok(ChartRules {
        single_sigma: single,
        ewma: EwmaRule { weight: Ratio::from_fraction(weight), width_sigma: width },
        cusum: CusumRule { allowance_sigma: allowance, decision_sigma: decision },
        turn_margin,
        fewest,
        numbers,
    })
}

fn number(file: &toml::Table, key: &str) -> Result<ChartNumber, String> {
    let without = |what: &str| format!("`{key}` has no {what}");
    let entry = file.get(key).and_then(toml::Value::as_table).ok_or_else(|| without("table"))?;
    let text = |what: &str| entry.get(what).and_then(toml::Value::as_str).map(str::to_owned);
    #[expect(clippy::cast_precision_loss, reason = "a small count")]
    let value =
        entry.get("value").and_then(|it| it.as_float().or(it.as_integer().map(|n| n as f64)));
    let standing = text("standing").and_then(|word| NumberStanding::of_word(&word));
    Ok(ChartNumber {
        says: text("says").ok_or_else(|| without("says"))?,
        value: value.filter(|it| *it > 0.0).ok_or_else(|| without("value above zero"))?,
        source: text("source").ok_or_else(|| without("source"))?,
        standing: standing.ok_or_else(|| without("standing"))?,
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_number_of_the_file_is_read() {
        let rules = ChartRules::built_in();
        assert_eq!(rules.numbers.len(), KEYS.len());
        assert_eq!(rules.fewest, 20);
        assert!((rules.ewma.width_sigma - 2.86).abs() < 1e-12);
    }

    #[test]
    fn what_is_not_there_is_named() {
        assert_eq!(read("").unwrap_err(), "`three-sigma` has no table");
        let text = "[three-sigma]\nvalue = 0\nsays = \"x\"";
        assert_eq!(read(text).unwrap_err(), "`three-sigma` has no value above zero");
    }
}
