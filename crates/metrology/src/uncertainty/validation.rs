//! Whether the first-order result may stand, by the whole propagation (JCGM 101 8).

use super::budget::Budget;
use super::monte_carlo::Interval;

/// Holds the first-order interval value ± k·u against one found by Monte Carlo.
///
/// Both ends must agree within δ: half a unit in the last of `significant_digits` digits of the
/// standard uncertainty. Give the Monte Carlo interval of the same kind and probability that
/// is reported: symmetric, or shortest for a lopsided distribution.
///
/// # Source
///
/// JCGM 101:2008 7.9.2 and 8.1.3.
#[must_use]
pub fn validate(
    first_order: &Budget,
    coverage_factor: f64,
    monte_carlo: Interval,
    significant_digits: u8,
) -> Validation {
    let expanded = coverage_factor * first_order.standard_uncertainty;
    let tolerance = numerical_tolerance(first_order.standard_uncertainty, significant_digits);
    let difference_low = (first_order.value - expanded - monte_carlo.low).abs();
    let difference_high = (first_order.value + expanded - monte_carlo.high).abs();
    let outcome = if difference_low <= tolerance && difference_high <= tolerance {
        Outcome::Validated
    } else {
        Outcome::NotValidated
    };
    Validation { outcome, tolerance, difference_low, difference_high }
}

/// The comparison of a first-order result with the whole propagation. Numbers are in the unit
/// of the result.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Validation {
    /// Whether the first-order result may stand.
    pub outcome: Outcome,
    /// δ: how far the ends may differ.
    pub tolerance: f64,
    /// How far the lower ends differ.
    pub difference_low: f64,
    /// How far the upper ends differ.
    pub difference_high: f64,
}

/// Whether a first-order result may stand.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Outcome {
    /// Both ends agree.
    Validated,
    /// They do not: the Monte Carlo result is the one to report.
    NotValidated,
}

/// Half a unit in the last of so many significant digits of `uncertainty`.
fn numerical_tolerance(uncertainty: f64, significant_digits: u8) -> f64 {
    if uncertainty <= 0.0 {
        return 0.0;
    }
    let digits = f64::from(significant_digits.max(1));
    let exponent = libm::floor(libm::log10(uncertainty)) - digits + 1.0;
    // 0.0996 to two digits is 0.10: rounding may bring one digit more.
    let unit = libm::exp10(exponent);
    let carried = (uncertainty / unit).round() >= libm::exp10(digits);
    if carried { 5.0 * unit } else { 0.5 * unit }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_tolerance_is_half_a_unit_of_the_last_digit() {
        for (uncertainty, digits, expected) in [
            (2.0, 2, 0.05),
            (0.0539, 2, 0.0005),
            (10.1, 2, 0.5),
            (50e-6, 2, 0.5e-6),
            (0.0996, 2, 0.005),
            (0.000_8, 1, 0.000_05),
        ] {
            let found = numerical_tolerance(uncertainty, digits);
            assert!((found / expected - 1.0).abs() < 1e-12, "{uncertainty}: {found}");
        }
    }
}
