//! A measured value: what was found, and how sure that is.

use crate::quantity::Quantity;

/// A value with its standard uncertainty.
///
/// The uncertainty is one standard deviation (GUM 2.3.1), in the type of a *difference* of the
/// quantity. An expanded uncertainty is made from it by [`Measurement::expanded`].
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Measurement<Q: Quantity> {
    /// The best estimate.
    pub value: Q,
    /// The standard uncertainty.
    pub uncertainty: Q::Difference,
    /// How well the uncertainty itself is known.
    pub degrees_of_freedom: DegreesOfFreedom,
}

impl<Q: Quantity> Measurement<Q> {
    /// The expanded uncertainty U = k·u.
    #[must_use]
    pub fn expanded(&self, coverage_factor: f64) -> Q::Difference {
        Q::Difference::of_unit(self.uncertainty.in_unit() * coverage_factor)
    }
}

/// Degrees of freedom of a standard uncertainty (GUM G.3, G.4).
#[derive(Clone, Copy, Debug, PartialEq, PartialOrd)]
pub enum DegreesOfFreedom {
    /// A number of them, not necessarily whole (Welch-Satterthwaite gives fractions).
    Of(f64),
    /// Taken as exactly known.
    Infinite,
}
