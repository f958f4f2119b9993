//! What is taken of a block's cooling before it is seen: `standards/readings/block-cooling.toml`,
//! built in.

use std::sync::LazyLock;

use metrology::{DegreesOfFreedom, HeatTransferCoefficient, Measurement, Quantity, Ratio};
use serde::Deserialize;

/// The numbers of the file; it tells what each is for.
#[derive(Debug)]
pub(super) struct Beforehand {
    pub(super) loss: Measurement<HeatTransferCoefficient>,
    pub(super) emissivity: Measurement<Ratio>,
    pub(super) least_loss: HeatTransferCoefficient,
    pub(super) most_emissivity: Ratio,
    pub(super) model_any: Ratio,
    pub(super) model_own_bench: Ratio,
    pub(super) still_air: Measurement<HeatTransferCoefficient>,
    pub(super) fewest_coolings: usize,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct File {
    #[serde(rename = "title")]
    _title: String,
    #[serde(rename = "version")]
    _version: u32,
    #[serde(rename = "standing")]
    _standing: String,
    rule: Vec<Rule>,
}

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

impl Beforehand {
    /// Those built into the program, read once.
    #[expect(clippy::expect_used, reason = "the file is part of the program, and a test reads it")]
    pub(super) fn built_in() -> &'static Self {
        static BEFOREHAND: LazyLock<Beforehand> = LazyLock::new(|| {
            let text = include_str!("../../../../standards/readings/block-cooling.toml");
            Beforehand::of(text).expect("what is taken of a cooling block is sound")
        });
        &BEFOREHAND
    }

    fn of(text: &str) -> Result<Self, String> {
        let file: File = toml::from_str(text).map_err(|error| error.to_string())?;
        let rule = |name: &str, unit: &str| {
            let rule = file.rule.iter().find(|rule| rule.name == name && rule.unit == unit);
            rule.ok_or_else(|| format!("no `{name}` in {unit}"))
        };
        let loss = "W/(m² K)";
        let ratio = |name| rule(name, "1").map(|rule| Ratio::from_fraction(rule.value));
        Ok(Self {
            loss: measured(rule("loss", loss)?)?,
            emissivity: measured(rule("emissivity", "1")?)?,
            least_loss: HeatTransferCoefficient::of_unit(rule("least-loss", loss)?.value),
            most_emissivity: ratio("most-emissivity")?,
            model_any: ratio("model-any")?,
            model_own_bench: ratio("model-own-bench")?,
            still_air: measured(rule("still-air", loss)?)?,
            fewest_coolings: count(rule("fewest-coolings", "1")?),
        })
    }
}

#[expect(
    clippy::cast_possible_truncation,
    clippy::cast_sign_loss,
    reason = "a cast keeps within bounds"
)]
fn count(rule: &Rule) -> usize {
    rule.value.ceil() as usize
}

/// A rule that states its uncertainty.
fn measured<Q: Quantity<Difference = Q>>(rule: &Rule) -> Result<Measurement<Q>, String> {
    let uncertainty =
        rule.uncertainty.ok_or_else(|| format!("`{}` has no uncertainty", rule.name))?;
    Ok(Measurement {
        value: Q::of_unit(rule.value),
        uncertainty: Q::of_unit(uncertainty),
        degrees_of_freedom: DegreesOfFreedom::Infinite,
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_is_built_in_is_sound() {
        let found = Beforehand::built_in();
        assert!(found.fewest_coolings > 3, "fewer tell no scatter");
        assert!(found.least_loss < found.loss.value && found.model_own_bench < found.model_any);
        let text = include_str!("../../../../standards/readings/block-cooling.toml");
        let refused =
            |from: &str, to: &str| Beforehand::of(&text.replacen(from, to, 1)).unwrap_err();
        assert_eq!(refused("\"loss\"", "\"lost\""), "no `loss` in W/(m² K)");
        assert_eq!(refused("uncertainty = 15.0\n", ""), "`loss` has no uncertainty");
    }
}
