//! The inputs of a measurement model, and how they hang together.

use super::type_a::TypeA;
use super::type_b::{Shape, TypeB};
use crate::measurement::{DegreesOfFreedom, Measurement};
use crate::quantity::Quantity;
use thiserror::Error;

/// One input quantity of a model.
#[derive(Clone, Debug, PartialEq)]
pub struct Input {
    /// What it is called in the budget.
    pub name: String,
    /// The unit of `value`, as printed.
    pub unit: String,
    /// The unit of `standard_uncertainty`, as printed: K for a temperature in °C.
    pub uncertainty_unit: String,
    /// The best estimate, in `unit`.
    pub value: f64,
    /// The standard uncertainty, in `uncertainty_unit`.
    pub standard_uncertainty: f64,
    /// How well the uncertainty itself is known.
    pub degrees_of_freedom: DegreesOfFreedom,
    /// The shape of its distribution.
    pub shape: Shape,
}

impl Input {
    /// A normally distributed input without units, as the worked examples print them; infinite
    /// `degrees` mean a well-known uncertainty.
    #[must_use]
    pub fn plain(name: &str, value: f64, uncertainty: f64, degrees: f64) -> Self {
        Self {
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

    /// As [`Input::plain`], well known and with a shape.
    #[must_use]
    pub fn shaped(name: &str, value: f64, uncertainty: f64, shape: Shape) -> Self {
        Self { shape, ..Self::plain(name, value, uncertainty, f64::INFINITY) }
    }

    /// An input that is normally distributed about a measured value.
    #[must_use]
    pub fn measured<Q: Quantity>(name: &str, measured: Measurement<Q>) -> Self {
        Self {
            name: name.to_owned(),
            unit: Q::UNIT.to_owned(),
            uncertainty_unit: Q::Difference::UNIT.to_owned(),
            value: measured.value.in_unit(),
            standard_uncertainty: measured.uncertainty.in_unit(),
            degrees_of_freedom: measured.degrees_of_freedom,
            shape: Shape::Normal,
        }
    }

    /// An input from repeated observations: Student's t about their mean.
    #[must_use]
    pub fn observed<Q: Quantity>(name: &str, observed: &TypeA<Q>) -> Self {
        Self { shape: Shape::StudentT, ..Self::measured(name, observed.measurement()) }
    }

    /// An input from knowledge, with its uncertainty taken as well known.
    #[must_use]
    pub fn known<Q: Quantity>(name: &str, value: Q, known: TypeB<Q::Difference>) -> Self {
        let measured = Measurement {
            value,
            uncertainty: known.standard_uncertainty(),
            degrees_of_freedom: DegreesOfFreedom::Infinite,
        };
        Self { shape: known.shape(), ..Self::measured(name, measured) }
    }
}

/// A correlation between two inputs, each called by its name.
#[derive(Clone, Debug, PartialEq)]
pub struct Correlation {
    /// The one and the other.
    pub between: [String; 2],
    /// r, from −1 to 1.
    pub coefficient: f64,
}

impl Correlation {
    /// The correlation r between two named inputs.
    #[must_use]
    pub fn between(one: &str, other: &str, coefficient: f64) -> Self {
        Self { between: [one.to_owned(), other.to_owned()], coefficient }
    }
}

/// Inputs that have been checked, alone and together.
#[derive(Clone, Debug, PartialEq)]
pub struct Inputs {
    list: Vec<Input>,
    /// Row after row; symmetric, ones on the diagonal.
    correlation: Vec<f64>,
    /// The lower triangular factor of `correlation`, row after row.
    factor: Vec<f64>,
}

impl Inputs {
    /// Gathers inputs with their correlations; pairs not named are independent.
    ///
    /// # Errors
    ///
    /// [`InputsError`] for the first input or correlation that cannot be, by its name.
    pub fn new(list: Vec<Input>, correlations: &[Correlation]) -> Result<Self, InputsError> {
        check_each(&list)?;
        let correlation = matrix(&list, correlations)?;
        let factor = factor(&list, &correlation)?;
        Ok(Self { list, correlation, factor })
    }

    /// The inputs, in the order the model takes them.
    #[must_use]
    pub fn list(&self) -> &[Input] {
        &self.list
    }

    /// r between the inputs at two places of the list.
    #[must_use]
    pub fn r(&self, one: usize, other: usize) -> f64 {
        self.correlation[one * self.list.len() + other]
    }

    /// The row of the triangular factor that makes an input from independent deviates, up to
    /// and with its diagonal.
    pub(super) fn factor_row(&self, place: usize) -> &[f64] {
        let start = place * self.list.len();
        &self.factor[start..=start + place]
    }

    /// Whether the input at this place is correlated with any other.
    pub(super) fn is_correlated(&self, place: usize) -> bool {
        (0..self.list.len()).any(|other| other != place && self.r(place, other) != 0.0)
    }
}

/// Why inputs cannot be used.
#[derive(Clone, Debug, PartialEq, Error)]
pub enum InputsError {
    /// A model without inputs has no uncertainty.
    #[error("a budget needs at least one input")]
    None,
    /// Correlations call inputs by name, so names must differ.
    #[error("two inputs are called `{name}`")]
    SameName {
        /// The name.
        name: String,
    },
    /// A value that is not a finite number.
    #[error("input `{name}` has the value {value}, which is no finite number")]
    Value {
        /// Which input.
        name: String,
        /// Its value.
        value: f64,
    },
    /// A standard uncertainty that is negative or no finite number.
    #[error("input `{name}` needs a standard uncertainty of zero or more, not {found}")]
    Uncertainty {
        /// Which input.
        name: String,
        /// What was found.
        found: f64,
    },
    /// Degrees of freedom that are not positive.
    #[error("input `{name}` needs degrees of freedom above zero, not {found}")]
    DegreesOfFreedom {
        /// Which input.
        name: String,
        /// What was found.
        found: f64,
    },
    /// The top of a trapezoid is wider than its base, or negative.
    #[error("input `{name}` has a trapezoid whose top is {found} of its base; it must be 0 to 1")]
    Trapezoid {
        /// Which input.
        name: String,
        /// What was found.
        found: f64,
    },
    /// A correlation calls an input that is not there.
    #[error("a correlation names `{name}`, which is no input of this budget")]
    UnknownName {
        /// The name.
        name: String,
    },
    /// An input is correlated with itself.
    #[error("a correlation names `{name}` twice; an input cannot be correlated with itself")]
    WithItself {
        /// The name.
        name: String,
    },
    /// A coefficient outside −1 to 1.
    #[error("the correlation of `{one}` and `{other}` must be from -1 to 1, not {found}")]
    Coefficient {
        /// The one.
        one: String,
        /// The other.
        other: String,
        /// What was found.
        found: f64,
    },
    /// One pair has two coefficients.
    #[error("the correlation of `{one}` and `{other}` is given twice")]
    GivenTwice {
        /// The one.
        one: String,
        /// The other.
        other: String,
    },
    /// No quantities can have these correlations all at once: their matrix is not positive
    /// semi-definite.
    #[error("the correlations of `{name}` with {others} cannot hold together")]
    Contradiction {
        /// The input at which it shows.
        name: String,
        /// Those it is correlated with.
        others: String,
    },
}

impl InputsError {
    /// The way out, where there is one.
    #[must_use]
    pub const fn hint(&self) -> Option<&'static str> {
        match self {
            Self::Contradiction { .. } => Some(
                "Check the signs: if a goes with b and b goes with c, then a cannot go against c.",
            ),
            Self::Uncertainty { .. } => Some("Give one standard deviation, without a sign."),
            Self::None
            | Self::SameName { .. }
            | Self::Value { .. }
            | Self::DegreesOfFreedom { .. }
            | Self::Trapezoid { .. }
            | Self::UnknownName { .. }
            | Self::WithItself { .. }
            | Self::Coefficient { .. }
            | Self::GivenTwice { .. } => None,
        }
    }
}

fn check_each(list: &[Input]) -> Result<(), InputsError> {
    if list.is_empty() {
        return Err(InputsError::None);
    }
    for (place, input) in list.iter().enumerate() {
        let name = input.name.clone();
        if list[..place].iter().any(|earlier| earlier.name == name) {
            return Err(InputsError::SameName { name });
        }
        if !input.value.is_finite() {
            return Err(InputsError::Value { name, value: input.value });
        }
        let found = input.standard_uncertainty;
        if !(found.is_finite() && found >= 0.0) {
            return Err(InputsError::Uncertainty { name, found });
        }
        if let DegreesOfFreedom::Of(found) = input.degrees_of_freedom
            && !(found.is_finite() && found > 0.0)
        {
            return Err(InputsError::DegreesOfFreedom { name, found });
        }
        if let Shape::Trapezoidal { top_to_base: found } = input.shape
            && !(0.0..=1.0).contains(&found)
        {
            return Err(InputsError::Trapezoid { name, found });
        }
    }
    Ok(())
}

fn matrix(list: &[Input], correlations: &[Correlation]) -> Result<Vec<f64>, InputsError> {
    let size = list.len();
    let place = |name: &String| {
        list.iter()
            .position(|input| input.name == *name)
            .ok_or_else(|| InputsError::UnknownName { name: name.clone() })
    };
    let mut matrix = vec![0.0; size * size];
    let mut given = vec![false; size * size];
    for Correlation { between: [one, other], coefficient } in correlations {
        let (row, column) = (place(one)?, place(other)?);
        let (one, other) = (one.clone(), other.clone());
        if row == column {
            return Err(InputsError::WithItself { name: one });
        }
        if !(-1.0..=1.0).contains(coefficient) {
            return Err(InputsError::Coefficient { one, other, found: *coefficient });
        }
        if given[row * size + column] {
            return Err(InputsError::GivenTwice { one, other });
        }
        for cell in [row * size + column, column * size + row] {
            matrix[cell] = *coefficient;
            given[cell] = true;
        }
    }
    for diagonal in 0..size {
        matrix[diagonal * size + diagonal] = 1.0;
    }
    Ok(matrix)
}

/// Cholesky's factor of a matrix that may be singular: correlations of exactly ±1 are allowed.
fn factor(list: &[Input], matrix: &[f64]) -> Result<Vec<f64>, InputsError> {
    /// What rounding leaves of a zero; a pivot this small carries no deviate of its own.
    const NOTHING: f64 = 1e-13;
    let size = list.len();
    let mut factor = vec![0.0; size * size];
    for column in 0..size {
        for row in column..size {
            let so_far: f64 =
                (0..column).map(|k| factor[row * size + k] * factor[column * size + k]).sum();
            let rest = matrix[row * size + column] - so_far;
            let pivot = factor[column * size + column];
            let contradiction = || contradiction(list, matrix, row);
            factor[row * size + column] = if row == column {
                if rest < -NOTHING {
                    return Err(contradiction());
                }
                if rest < NOTHING { 0.0 } else { rest.sqrt() }
            } else if pivot > 0.0 {
                rest / pivot
            } else if rest.abs() > NOTHING.sqrt() {
                return Err(contradiction());
            } else {
                0.0
            };
        }
    }
    Ok(factor)
}

fn contradiction(list: &[Input], matrix: &[f64], place: usize) -> InputsError {
    let others: Vec<String> = list
        .iter()
        .enumerate()
        .filter(|&(other, _)| other != place && matrix[place * list.len() + other] != 0.0)
        .map(|(_, input)| format!("`{}`", input.name))
        .collect();
    InputsError::Contradiction { name: list[place].name.clone(), others: others.join(" and ") }
}
