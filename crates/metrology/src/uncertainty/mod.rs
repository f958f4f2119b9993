//! How sure a measured value is: its components, their combination, and what covers the truth.
//!
//! The order of the work: components ([`type_a()`], [`TypeB`]), gathered as [`Inputs`] with
//! their correlations; combined to first order by [`Inputs::budget`] (GUM 5) and covered by
//! [`expand`] (GUM 6, G); propagated whole by [`monte_carlo()`] (JCGM 101); and the first held
//! against the second by [`validate`].

mod type_a;
mod type_b;
mod inputs;
mod derivative;
mod budget;
mod coverage;
mod monte_carlo;
mod validation;

pub use budget::{Budget, BudgetError, Line};
pub use coverage::{Expanded, FractionalDegrees, coverage_factor, expand};
pub use inputs::{Correlation, Input, Inputs, InputsError};
pub use monte_carlo::{Interval, MonteCarlo, MonteCarloError, Trials, monte_carlo};
pub use type_a::{TypeA, TypeAError, type_a};
pub use type_b::{Shape, TypeB};
pub use validation::{Outcome, Validation, validate};
