//! What is suspected, in words: the groups, their evidence, and what to do.

use metrology::{DegreesOfFreedom, Mass, Measurement, Ratio, Temperature};

use super::super::CopperBlock;
use super::features::{COMES, COUNT, Features, GOES, HEAT, LOSS_LOG, SURFACE, WANDER};
use super::hypothesis::Hypothesis;
use super::{BaseLine, Cause, Determination, Suspected};

/// A group of causes.
pub(super) struct Group {
    hypotheses: &'static [Hypothesis],
    causes: &'static [Cause],
    advice: &'static str,
}

const GROUPS: [Group; 7] = [
    Group {
        hypotheses: &[Hypothesis::LessHeat],
        causes: &[Cause::FlameWeaker, Cause::FlameOffCentre, Cause::BlockTooHigh],
        advice: "Look along the burner from two sides: is the flame under the middle of the block, \
                 and the block at its height? If both are right, the flame is weak: measure its \
                 height and turn the flow up.",
    },
    Group {
        hypotheses: &[Hypothesis::MoreHeat],
        causes: &[Cause::FlameStronger, Cause::BlockTooLow],
        advice: "Measure the distance from burner to block. If it is right, the flame is strong: \
                 measure its height and turn the flow down.",
    },
    Group {
        hypotheses: &[Hypothesis::Dull],
        causes: &[Cause::BlockDull],
        advice: "Clean and polish the block, then heat it once without counting.",
    },
    Group {
        hypotheses: &[Hypothesis::Lighter],
        causes: &[Cause::BlockLighter],
        advice: "Weigh the block, and hold it against its record.",
    },
    Group {
        hypotheses: &[Hypothesis::Heavier],
        causes: &[Cause::BlockHeavier],
        advice: "Weigh the block, and hold it against its record; look for soot and for solder.",
    },
    Group {
        hypotheses: &[Hypothesis::Lagging, Hypothesis::SeeingTheFlame],
        causes: &[Cause::ThermocoupleSeatedBadly],
        advice: "Seat the thermocouple down to the bottom of its hole, and fix it there.",
    },
    Group {
        hypotheses: &[Hypothesis::Draught],
        causes: &[Cause::Draught],
        advice: "Switch the extraction off and close the chamber while the block is heated.",
    },
];

const WARM: Group = Group {
    hypotheses: &[Hypothesis::Warm],
    causes: &[Cause::StartedWarm],
    advice: "Let the block cool before the flame comes.",
};

/// All of them.
pub(super) fn groups() -> impl Iterator<Item = &'static Group> {
    GROUPS.iter().chain(std::iter::once(&WARM))
}

/// The numbers that evidence is told from.
pub(super) struct Facts<'a> {
    block: &'a CopperBlock,
    features: &'a Features,
    base: [f64; COUNT],
    off: [f64; COUNT],
    unsure: [f64; COUNT],
    rest: Option<Temperature>,
    warmest: Temperature,
}

impl<'a> Facts<'a> {
    pub(super) fn new(
        base: &BaseLine,
        block: &'a CopperBlock,
        determination: &Determination,
        features: &'a Features,
        warmest: Temperature,
    ) -> Self {
        let covariance = base.covariance(features);
        Self {
            block,
            features,
            base: base.mean,
            off: std::array::from_fn(|n| features.values[n] - base.mean[n]),
            unsure: std::array::from_fn(|n| covariance[n][n].sqrt()),
            rest: determination.fit.phases.rest.map(|rest| rest.temperature),
            warmest,
        }
    }

    pub(super) fn suspected(
        &self,
        group: &Group,
        probability: impl Fn(Hypothesis) -> f64,
    ) -> Suspected {
        let of = |hypothesis: &Hypothesis| probability(*hypothesis);
        // The member that the curve speaks for more gives the evidence.
        let strongest = group.hypotheses.iter().max_by(|one, other| of(one).total_cmp(&of(other)));
        Suspected {
            causes: group.causes,
            probability: Ratio::from_fraction(group.hypotheses.iter().map(of).sum()),
            evidence: strongest.map_or_else(String::new, |strongest| self.evidence(*strongest)),
            advice: group.advice,
        }
    }

    /// The heat from the flame, less the base line's, relative to it.
    pub(super) fn heat_change(&self) -> Measurement<Ratio> {
        relative(self.off[HEAT], self.unsure[HEAT])
    }

    /// The mass that the changes of heat, loss and emissivity together speak for.
    pub(super) fn mass(&self) -> Measurement<Mass> {
        let surface = self.base[SURFACE].max(1e-3);
        let parts = [
            (self.off[HEAT], self.unsure[HEAT]),
            (self.off[LOSS_LOG], self.unsure[LOSS_LOG]),
            (self.off[SURFACE] / surface, self.unsure[SURFACE] / surface),
        ];
        let (mut sum, mut weights) = (0.0, 0.0);
        for (off, unsure) in parts {
            sum += off / (unsure * unsure);
            weights += 1.0 / (unsure * unsure);
        }
        let grams = self.block.mass.grams() * libm::exp(-sum / weights);
        Measurement {
            value: Mass::from_grams(grams),
            uncertainty: Mass::from_grams(grams / weights.sqrt()),
            degrees_of_freedom: DegreesOfFreedom::Infinite,
        }
    }

    fn evidence(&self, hypothesis: Hypothesis) -> String {
        match hypothesis {
            Hypothesis::Nothing => {
                "Nothing differs from the base line by more than chance.".to_owned()
            }
            Hypothesis::LessHeat | Hypothesis::MoreHeat => self.heat(),
            Hypothesis::Dull => format!(
                "The emissivity is {:.3} ± {:.3}; in the base line it is {:.3}.",
                self.features.values[SURFACE],
                2.0 * self.unsure[SURFACE],
                self.base[SURFACE]
            ),
            Hypothesis::Lighter | Hypothesis::Heavier => {
                let mass = self.mass();
                format!(
                    "Heating and cooling are both as quick as those of a block of \
                     {:.3} g ± {:.3} g; the record says {:.3} g.",
                    mass.value.grams(),
                    2.0 * mass.uncertainty.grams(),
                    self.block.mass.grams()
                )
            }
            Hypothesis::Lagging => format!(
                "The readings follow the flame {:.2} s late when it comes and {:.2} s late when it \
                 goes; in the base line it is {:.2} s and {:.2} s.",
                self.features.values[COMES],
                self.features.values[GOES],
                self.base[COMES],
                self.base[GOES]
            ),
            Hypothesis::SeeingTheFlame => format!(
                "The readings jump when the flame comes and goes: they are {:.2} s and {:.2} s \
                 ahead of where they are in the base line.",
                -self.off[COMES], -self.off[GOES]
            ),
            Hypothesis::Draught => format!(
                "What the fit leaves over wanders: slow residuals have {:.1} times the variance that \
                 they have in the base line, and the loss to the air is {:+.0} % of it.",
                libm::exp(self.off[WANDER]),
                100.0 * libm::expm1(self.off[LOSS_LOG])
            ),
            Hypothesis::Warm => self.rest.map_or_else(
                || "The trace does not show the block before the flame came.".to_owned(),
                |rest| {
                    format!(
                        "The block was at {:.1} when the flame came; at most {:.0} is allowed.",
                        rest, self.warmest
                    )
                },
            ),
        }
    }

    fn heat(&self) -> String {
        let change = self.heat_change();
        let side = if change.value.fraction() < 0.0 { "less" } else { "more" };
        format!(
            "The flame brings {:.1} % ± {:.1} % {side} heat into the block than in the base line \
             ({:.2} W at 400 °C).",
            change.value.percent().abs(),
            2.0 * change.uncertainty.percent(),
            self.features.watt()
        )
    }
}

/// A change of a logarithm, as a relative one.
fn relative(off: f64, unsure: f64) -> Measurement<Ratio> {
    Measurement {
        value: Ratio::from_fraction(libm::expm1(off)),
        uncertainty: Ratio::from_fraction(unsure * libm::exp(off)),
        degrees_of_freedom: DegreesOfFreedom::Infinite,
    }
}
