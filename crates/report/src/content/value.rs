//! A number as a report shows it: the value judged, its unit, and the text printed.

use std::borrow::Cow;

use metrology::{Measurement, Quantity};
use serde::{Deserialize, Serialize};

/// A number with its unit, and how it is printed.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Value {
    /// The value, not rounded.
    pub value: f64,
    /// Its unit.
    pub unit: Cow<'static, str>,
    /// The value as printed, without its unit.
    pub shown: String,
    /// How sure it is.
    pub uncertainty: Option<Uncertainty>,
}

/// An expanded uncertainty, in the unit of its value's differences.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Uncertainty {
    /// The expanded uncertainty, not rounded.
    pub expanded: f64,
    /// Its unit.
    pub unit: Cow<'static, str>,
    /// The coverage factor that was applied.
    pub coverage_factor: f64,
    /// As printed, without its unit.
    pub shown: String,
}

/// A civil day, written as ISO 8601 does: `2026-11-25`.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
#[serde(transparent)]
pub struct Day(pub String);

impl Value {
    /// `quantity`, printed with so many decimals.
    #[must_use]
    pub fn exact<Q: Quantity>(quantity: Q, decimals: usize) -> Self {
        let value = quantity.in_unit();
        Self { value, unit: Q::UNIT.into(), shown: fixed(value, decimals), uncertainty: None }
    }

    /// `measurement` with its expanded uncertainty, both printed with so many decimals.
    #[must_use]
    pub fn measured<Q: Quantity>(
        measurement: &Measurement<Q>,
        coverage_factor: f64,
        decimals: usize,
    ) -> Self {
        let expanded = measurement.expanded(coverage_factor).in_unit();
        Self {
            uncertainty: Some(Uncertainty {
                expanded,
                unit: <Q::Difference as Quantity>::UNIT.into(),
                coverage_factor,
                shown: fixed(expanded, decimals),
            }),
            ..Self::exact(measurement.value, decimals)
        }
    }

    /// The value with its unit, and its uncertainty where there is one.
    ///
    /// ```
    /// use report::content::Value;
    /// let value = Value::exact(metrology::Duration::from_seconds(30.04), 1);
    /// assert_eq!(value.text(), "30.0 s");
    /// ```
    #[must_use]
    pub fn text(&self) -> String {
        match &self.uncertainty {
            Some(uncertainty) => {
                format!("{} {} ± {} {}", self.shown, self.unit, uncertainty.shown, uncertainty.unit)
            }
            None => format!("{} {}", self.shown, self.unit),
        }
    }
}

/// `value` with so many decimals, with a true minus sign and never a negative zero.
fn fixed(value: f64, decimals: usize) -> String {
    let text = format!("{value:.decimals$}");
    match text.strip_prefix('-') {
        Some(digits) if digits.bytes().all(|byte| matches!(byte, b'0' | b'.')) => digits.into(),
        Some(digits) => format!("\u{2212}{digits}"),
        None => text,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_number_is_printed_with_a_true_minus_and_no_negative_zero() {
        assert_eq!(fixed(-1.25, 1), "\u{2212}1.2");
        assert_eq!(fixed(-0.04, 1), "0.0");
        assert_eq!(fixed(12.0, 2), "12.00");
    }
}
