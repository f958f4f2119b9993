//! What is taken of a block's cooling before it is seen: `standards/readings/block-cooling.toml`,
//! built in.

use std::sync::LazyLock;

use metrology::{HeatTransferCoefficient, Measurement, Quantity as _, Ratio};

use crate::rule_file::RuleFile;

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
        let file: RuleFile = toml::from_str(text).map_err(|error| error.to_string())?;
        let loss = "W/(m² K)";
        let ratio = |name| file.number(name, "1").map(Ratio::from_fraction);
        Ok(Self {
            loss: file.measured("loss", loss)?,
            emissivity: file.measured("emissivity", "1")?,
            least_loss: HeatTransferCoefficient::of_unit(file.number("least-loss", loss)?),
            most_emissivity: ratio("most-emissivity")?,
            model_any: ratio("model-any")?,
            model_own_bench: ratio("model-own-bench")?,
            still_air: file.measured("still-air", loss)?,
            fewest_coolings: file.count("fewest-coolings")?,
        })
    }
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
