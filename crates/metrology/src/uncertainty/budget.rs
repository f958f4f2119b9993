//! The combined standard uncertainty to first order, line by line (GUM 5 and G.4).

use super::derivative::partial_derivative;
use super::inputs::{Input, Inputs};
use crate::measurement::{DegreesOfFreedom, Measurement};
use crate::quantity::Quantity;
use thiserror::Error;

impl Inputs {
    /// Combines the inputs through `model` to first order.
    ///
    /// The model takes the values in the order of the inputs, each in its own unit, and gives
    /// the result in the unit of the caller's choice. Sensitivities are found by differences,
    /// good to about ten digits.
    ///
    /// # Errors
    ///
    /// [`BudgetError`] if the model has no finite value at the estimates or around one of them.
    ///
    /// # Source
    ///
    /// GUM 5.1.2 (independent inputs) and 5.2.2 (correlated inputs).
    pub fn budget(&self, model: impl Fn(&[f64]) -> f64) -> Result<Budget, BudgetError> {
        let at: Vec<f64> = self.list().iter().map(|input| input.value).collect();
        let value = model(&at);
        if !value.is_finite() {
            return Err(BudgetError::NoValue { value });
        }
        let mut sensitivities = Vec::with_capacity(at.len());
        for (place, input) in self.list().iter().enumerate() {
            let step = if input.standard_uncertainty > 0.0 {
                input.standard_uncertainty
            } else {
                1e-3 * if input.value == 0.0 { 1.0 } else { input.value.abs() }
            };
            let name = input.name.clone();
            let slope = partial_derivative(&model, &at, place, step);
            sensitivities.push(slope.ok_or(BudgetError::NoSlope { name })?);
        }
        self.budget_of_sensitivities(value, &sensitivities)
    }

    /// Combines the inputs with sensitivities that are known, one for each input.
    ///
    /// # Errors
    ///
    /// [`BudgetError`] if their number differs from that of the inputs, or one of them or the
    /// value is not finite.
    pub fn budget_of_sensitivities(
        &self,
        value: f64,
        sensitivities: &[f64],
    ) -> Result<Budget, BudgetError> {
        let list = self.list();
        if !value.is_finite() {
            return Err(BudgetError::NoValue { value });
        }
        if sensitivities.len() != list.len() {
            let (inputs, found) = (list.len(), sensitivities.len());
            return Err(BudgetError::Sensitivities { inputs, found });
        }
        if let Some(place) = sensitivities.iter().position(|slope| !slope.is_finite()) {
            return Err(BudgetError::NoSlope { name: list[place].name.clone() });
        }
        let contributions: Vec<f64> = list
            .iter()
            .zip(sensitivities)
            .map(|(input, slope)| input.standard_uncertainty * slope)
            .collect();
        let parts: Vec<f64> = (0..list.len())
            .map(|place| contributions[place] * self.together(place, &contributions))
            .collect();
        let variance = parts.iter().sum::<f64>().max(0.0);
        let lines = list.iter().enumerate().map(|(place, input)| Line {
            input: input.clone(),
            sensitivity: sensitivities[place],
            contribution: contributions[place],
            share: if variance > 0.0 { parts[place] / variance } else { 0.0 },
        });
        Ok(Budget {
            value,
            standard_uncertainty: variance.sqrt(),
            effective_degrees_of_freedom: self.effective_degrees_of_freedom(&parts, variance),
            lines: lines.collect(),
        })
    }

    /// r between two results that were made from these same inputs (GUM H.2.3).
    ///
    /// Zero if one of them has no uncertainty.
    #[must_use]
    pub fn correlation_of(&self, one: &Budget, other: &Budget) -> f64 {
        let of_other: Vec<f64> = other.lines.iter().map(|line| line.contribution).collect();
        let covariance: f64 = (0..self.list().len().min(one.lines.len()).min(of_other.len()))
            .map(|place| one.lines[place].contribution * self.together(place, &of_other))
            .sum();
        let size = one.standard_uncertainty * other.standard_uncertainty;
        if size > 0.0 { (covariance / size).clamp(-1.0, 1.0) } else { 0.0 }
    }

    /// The contributions of all inputs as far as they go along with the one at `place`.
    fn together(&self, place: usize, contributions: &[f64]) -> f64 {
        contributions.iter().enumerate().map(|(other, part)| self.r(place, other) * part).sum()
    }

    /// The formula of Welch and Satterthwaite (GUM G.2b), with groups in the place of inputs.
    ///
    /// It holds for independent terms. Inputs that hang together by correlation, also through
    /// others, therefore form one group: its variance is taken whole, covariances included,
    /// and it has the fewest degrees of freedom among its members. For inputs observed side by
    /// side these are the same, n − 1 (as in GUM H.2); else this is on the safe side. Without
    /// correlations each input is its own group and the formula is the GUM's.
    fn effective_degrees_of_freedom(&self, parts: &[f64], variance: f64) -> DegreesOfFreedom {
        let mut sum = 0.0;
        for group in self.groups() {
            let group_variance: f64 = group.iter().map(|&place| parts[place]).sum();
            let fewest = group
                .iter()
                .filter_map(|&place| match self.list()[place].degrees_of_freedom {
                    DegreesOfFreedom::Of(number) if parts[place] != 0.0 => Some(number),
                    DegreesOfFreedom::Of(_) | DegreesOfFreedom::Infinite => None,
                })
                .fold(f64::INFINITY, f64::min);
            let share = if variance > 0.0 { group_variance / variance } else { 0.0 };
            sum += share * share / fewest;
        }
        let effective = 1.0 / sum;
        if effective.is_finite() {
            DegreesOfFreedom::Of(effective)
        } else {
            DegreesOfFreedom::Infinite
        }
    }

    /// The places of the inputs, those that hang together in one group.
    fn groups(&self) -> Vec<Vec<usize>> {
        let mut groups: Vec<Vec<usize>> = Vec::new();
        for place in 0..self.list().len() {
            let hangs_on = |group: &Vec<usize>| group.iter().any(|&o| self.r(place, o) != 0.0);
            let (joined, mut apart): (Vec<_>, Vec<_>) = groups.into_iter().partition(hangs_on);
            let mut group: Vec<usize> = joined.into_iter().flatten().collect();
            group.push(place);
            apart.push(group);
            groups = apart;
        }
        groups
    }
}

/// A result with all that its uncertainty is made of. Numbers are in the unit of the model's
/// value unless said otherwise.
#[derive(Clone, Debug, PartialEq)]
pub struct Budget {
    /// The model at the estimates.
    pub value: f64,
    /// The combined standard uncertainty.
    pub standard_uncertainty: f64,
    /// Of the combined standard uncertainty, not truncated.
    pub effective_degrees_of_freedom: DegreesOfFreedom,
    /// One for each input, in their order.
    pub lines: Vec<Line>,
}

impl Budget {
    /// The result as a measured value, for a model that gives its value in the unit of `Q`.
    #[must_use]
    pub fn measurement<Q: Quantity>(&self) -> Measurement<Q> {
        Measurement {
            value: Q::of_unit(self.value),
            uncertainty: Q::Difference::of_unit(self.standard_uncertainty),
            degrees_of_freedom: self.effective_degrees_of_freedom,
        }
    }
}

/// One line of a budget.
#[derive(Clone, Debug, PartialEq)]
pub struct Line {
    /// The input.
    pub input: Input,
    /// How the result moves with the input: its unit by the input's uncertainty unit.
    pub sensitivity: f64,
    /// Sensitivity times standard uncertainty, with its sign.
    pub contribution: f64,
    /// Part of the variance that goes with this input, half of each covariance included. The
    /// shares sum to 1; one may be negative where a correlation takes uncertainty away.
    pub share: f64,
}

/// Why inputs cannot be combined.
#[derive(Clone, Debug, PartialEq, Error)]
pub enum BudgetError {
    /// The model has no finite value at the estimates.
    #[error("the model gives {value} at the estimates of its inputs, which is no finite number")]
    NoValue {
        /// What it gave.
        value: f64,
    },
    /// The model cannot be followed around one input.
    #[error("the model has no finite slope along input `{name}`")]
    NoSlope {
        /// Which input.
        name: String,
    },
    /// Not one sensitivity for each input.
    #[error("{found} sensitivities for {inputs} inputs")]
    Sensitivities {
        /// How many inputs there are.
        inputs: usize,
        /// How many sensitivities there were.
        found: usize,
    },
}
