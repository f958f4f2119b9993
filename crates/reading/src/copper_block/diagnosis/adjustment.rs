//! Which way to turn the flow, and how far.

use metrology::fit::{LineError, LinePoint, Weighting, fit_line};
use metrology::{DegreesOfFreedom, Length, Measurement, Ratio};

use super::features::{Features, HEAT};
use super::ranges::Ranges;
use super::{Determination, Diagnosis};

/// How the heat into the block goes with the flow of gas: how many per cent more heat one per cent
/// more gas gives, near the set flame.
///
/// The height of a small flame goes with the flow of gas, so the same number holds for its height
/// (Roper's relation, which holds to about a tenth).
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct FlowSensitivity(pub Measurement<Ratio>);

impl FlowSensitivity {
    /// Of a flame of which nothing is known: heat goes with the gas, give or take a third.
    #[must_use]
    pub fn usual() -> Self {
        let ranges = Ranges::built_in();
        Self(Measurement {
            value: Ratio::from_fraction(ranges.heat_by_flow),
            uncertainty: Ratio::from_fraction(ranges.heat_by_flow_uncertainty),
            degrees_of_freedom: DegreesOfFreedom::Infinite,
        })
    }

    /// From determinations at different heights of the flame.
    ///
    /// # Errors
    ///
    /// When there are fewer than three whole ones, or all are of one height.
    pub fn fitted<'a>(
        determinations: impl IntoIterator<Item = (Length, &'a Determination)>,
    ) -> Result<Self, LineError> {
        let points: Vec<LinePoint> = determinations
            .into_iter()
            .filter_map(|(height, determination)| {
                let heat = Features::of(determination)?.values[HEAT];
                Some(LinePoint { x: libm::log(height.millimetres()), y: heat })
            })
            .collect();
        let line = fit_line(&points, Weighting::Equal)?;
        Ok(Self(Measurement {
            value: Ratio::from_fraction(line.slope),
            uncertainty: Ratio::from_fraction(line.slope_uncertainty),
            degrees_of_freedom: line.degrees_of_freedom,
        }))
    }
}

/// How far to turn the flow so that the flame gives what it gave in the base line.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Adjustment {
    /// The change of the flow; positive is up.
    pub flow: Measurement<Ratio>,
    /// The same as a change of the flame's height.
    pub height: Measurement<Length>,
}

impl Adjustment {
    /// From what was found, for a flame that is this high now.
    ///
    /// Nothing where the flame's heat does not go with the flow, so that no turning helps.
    #[must_use]
    pub fn of(diagnosis: &Diagnosis, sensitivity: FlowSensitivity, height: Length) -> Option<Self> {
        let FlowSensitivity(sensitivity) = sensitivity;
        let per_flow = sensitivity.value.fraction();
        if per_flow <= 2.0 * sensitivity.uncertainty.fraction() {
            return None;
        }
        let change = diagnosis.heat_change;
        let flow = -libm::log1p(change.value.fraction()) / per_flow;
        let by_heat = change.uncertainty.fraction() / (1.0 + change.value.fraction()) / per_flow;
        let by_sensitivity = flow * sensitivity.uncertainty.fraction() / per_flow;
        let unsure = (by_heat * by_heat + by_sensitivity * by_sensitivity).sqrt();
        let relative = libm::expm1(flow);
        let unsure = unsure * (1.0 + relative);
        let roper = Ranges::built_in().height_by_flow * relative;
        let free = DegreesOfFreedom::Infinite;
        Some(Self {
            flow: Measurement {
                value: Ratio::from_fraction(relative),
                uncertainty: Ratio::from_fraction(unsure),
                degrees_of_freedom: free,
            },
            height: Measurement {
                value: height * relative,
                uncertainty: height * (unsure * unsure + roper * roper).sqrt(),
                degrees_of_freedom: free,
            },
        })
    }
}
