//! An input of a budget in one line, for tests.

use metrology::DegreesOfFreedom;
use metrology::uncertainty::{Input, Shape};

/// A normal input without units; infinite `degrees` mean a well-known uncertainty.
pub(crate) fn input(name: &str, value: f64, uncertainty: f64, degrees: f64) -> Input {
    Input {
        name: name.to_owned(),
        unit: String::new(),
        uncertainty_unit: String::new(),
        value,
        standard_uncertainty: uncertainty,
        degrees_of_freedom: if degrees.is_finite() {
            DegreesOfFreedom::Of(degrees)
        } else {
            DegreesOfFreedom::Infinite
        },
        shape: Shape::Normal,
    }
}

/// As [`input`], with a shape.
pub(crate) fn shaped(name: &str, value: f64, uncertainty: f64, shape: Shape) -> Input {
    Input { shape, ..input(name, value, uncertainty, f64::INFINITY) }
}
