//! From a standard uncertainty to an interval that covers the truth (GUM 6 and G).

use crate::distribution::{QuantileError, student_quantile};
use crate::measurement::{DegreesOfFreedom, Measurement};
use crate::quantity::{Quantity, Ratio};

/// The factor k for which ±k·u covers the truth with `probability`: Student's t.
///
/// # Errors
///
/// [`QuantileError`] unless the probability lies between 0 and 1 and there is at least one
/// degree of freedom (after truncation, if that is the rule).
///
/// # Source
///
/// GUM G.3.2 and G.4.1.
pub fn coverage_factor(
    probability: Ratio,
    degrees_of_freedom: DegreesOfFreedom,
    fractional: FractionalDegrees,
) -> Result<f64, QuantileError> {
    let fraction = probability.fraction();
    if !(fraction > 0.0 && fraction < 1.0) {
        return Err(QuantileError::Probability { probability: fraction });
    }
    let number = match (degrees_of_freedom, fractional) {
        (DegreesOfFreedom::Infinite, _) => f64::INFINITY,
        (DegreesOfFreedom::Of(number), FractionalDegrees::Truncated) => number.floor(),
        (DegreesOfFreedom::Of(number), FractionalDegrees::Kept) => number,
    };
    student_quantile(0.5 + 0.5 * fraction, number)
}

/// Expands a measured value's uncertainty so that it covers the truth with `probability`.
///
/// # Errors
///
/// As [`coverage_factor`].
pub fn expand<Q: Quantity>(
    measurement: &Measurement<Q>,
    probability: Ratio,
    fractional: FractionalDegrees,
) -> Result<Expanded<Q>, QuantileError> {
    let coverage_factor = coverage_factor(probability, measurement.degrees_of_freedom, fractional)?;
    Ok(Expanded {
        uncertainty: measurement.expanded(coverage_factor),
        coverage_factor,
        probability,
        fractional,
    })
}

/// An expanded uncertainty, with what it means.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Expanded<Q: Quantity> {
    /// U = k·u.
    pub uncertainty: Q::Difference,
    /// k.
    pub coverage_factor: f64,
    /// How likely ±U covers the truth.
    pub probability: Ratio,
    /// What was done with a fraction of a degree of freedom.
    pub fractional: FractionalDegrees,
}

/// What to do with a fraction of a degree of freedom, as Welch and Satterthwaite's formula
/// gives it.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum FractionalDegrees {
    /// Truncated to the next lower whole number, as the GUM does (G.4.1 note 1, H.1.6): k is
    /// never too small.
    Truncated,
    /// Taken as they are; Student's t is defined for them (G.4.1 note 1 allows interpolation).
    Kept,
}
