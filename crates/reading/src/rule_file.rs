//! A file of rules of our own in `standards/readings`: each number is found by its name and its
//! unit.

use metrology::{DegreesOfFreedom, Measurement, Quantity};
use serde::Deserialize;

/// The file; it tells what each number is for. `Improvement` is what a file may say besides of how
/// lines of a budget become smaller.
#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
pub(crate) struct RuleFile<Improvement = Nothing> {
    #[serde(rename = "title")]
    _title: String,
    #[serde(rename = "version")]
    _version: u32,
    #[serde(rename = "standing")]
    _standing: String,
    rule: Vec<Rule>,
    #[serde(default = "Vec::new")]
    pub(crate) improvement: Vec<Improvement>,
}

/// What a file without improvements says of them.
#[derive(Deserialize)]
pub(crate) enum Nothing {}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct Rule {
    name: String,
    value: f64,
    uncertainty: Option<f64>,
    unit: String,
    #[serde(rename = "source")]
    _source: String,
    #[serde(rename = "says")]
    _says: String,
}

impl<Improvement> RuleFile<Improvement> {
    /// The number of this name in this unit.
    pub(crate) fn number(&self, name: &str, unit: &str) -> Result<f64, String> {
        self.rule(name, unit).map(|rule| rule.value)
    }

    /// A number without a unit, as a whole one.
    #[expect(
        clippy::cast_possible_truncation,
        clippy::cast_sign_loss,
        reason = "a cast keeps within bounds"
    )]
    pub(crate) fn count(&self, name: &str) -> Result<usize, String> {
        self.number(name, "1").map(|value| value.ceil() as usize)
    }

    /// The number of this name with the uncertainty that it states.
    pub(crate) fn measured<Q: Quantity<Difference = Q>>(
        &self,
        name: &str,
        unit: &str,
    ) -> Result<Measurement<Q>, String> {
        let rule = self.rule(name, unit)?;
        let uncertainty = rule.uncertainty.ok_or_else(|| format!("`{name}` has no uncertainty"))?;
        Ok(Measurement {
            value: Q::of_unit(rule.value),
            uncertainty: Q::of_unit(uncertainty),
            degrees_of_freedom: DegreesOfFreedom::Infinite,
        })
    }

    fn rule(&self, name: &str, unit: &str) -> Result<&Rule, String> {
        let rule = self.rule.iter().find(|rule| rule.name == name && rule.unit == unit);
        rule.ok_or_else(|| format!("no `{name}` in {unit}"))
    }
}
