//! Uncertainty from repeated observations (GUM 4.2).

use crate::measurement::{DegreesOfFreedom, Measurement};
use crate::quantity::Quantity;
use crate::statistics::{as_f64, mean, standard_deviation};
use thiserror::Error;

/// What repeated observations of one quantity say of it.
///
/// # Errors
///
/// [`TypeAError::TooFew`] for fewer than two observations: one says nothing of its spread.
///
/// # Examples
///
/// ```
/// use metrology::{Duration, uncertainty::type_a};
/// let seen = [23.4, 23.6, 23.5].map(Duration::from_seconds);
/// let rise_time = type_a(&seen)?;
/// assert_eq!(format!("{:.1}", rise_time.mean), "23.5 s");
/// assert_eq!(format!("{:.3}", rise_time.standard_deviation_of_mean), "0.058 s");
/// # Ok::<(), metrology::uncertainty::TypeAError>(())
/// ```
pub fn type_a<Q: Quantity>(observations: &[Q]) -> Result<TypeA<Q>, TypeAError> {
    let too_few = TypeAError::TooFew { found: observations.len() };
    let centre = mean(observations).ok_or(too_few)?;
    let spread = standard_deviation(observations).ok_or(too_few)?;
    let number = as_f64(observations.len());
    Ok(TypeA {
        mean: centre,
        standard_deviation: spread,
        standard_deviation_of_mean: Q::Difference::of_unit(spread.in_unit() / number.sqrt()),
        degrees_of_freedom: number - 1.0,
    })
}

/// The result of a type A evaluation.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct TypeA<Q: Quantity> {
    /// The arithmetic mean.
    pub mean: Q,
    /// The experimental standard deviation of one observation.
    pub standard_deviation: Q::Difference,
    /// The standard uncertainty of the mean.
    pub standard_deviation_of_mean: Q::Difference,
    /// One less than the number of observations.
    pub degrees_of_freedom: f64,
}

impl<Q: Quantity> TypeA<Q> {
    /// The mean as a measured value.
    #[must_use]
    pub fn measurement(&self) -> Measurement<Q> {
        Measurement {
            value: self.mean,
            uncertainty: self.standard_deviation_of_mean,
            degrees_of_freedom: DegreesOfFreedom::Of(self.degrees_of_freedom),
        }
    }
}

/// Why observations say nothing of an uncertainty.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Error)]
pub enum TypeAError {
    /// A spread needs two observations.
    #[error("a type A evaluation needs at least 2 observations, not {found}")]
    TooFew {
        /// How many there were.
        found: usize,
    },
}
