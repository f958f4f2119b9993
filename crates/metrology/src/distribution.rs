//! Probabilities and quantiles of the normal, Student's t and beta distributions.
//!
//! Written on `libm`, so that the same question has the same bits on every machine. All are
//! found by bringing the probability to the wanted one, and are held against the references of
//! the tests to twelve digits.

use thiserror::Error;

/// Probability that a standard normal deviate is at most `deviate`.
#[must_use]
pub fn normal_probability(deviate: f64) -> f64 {
    0.5 * libm::erfc(-deviate * std::f64::consts::FRAC_1_SQRT_2)
}

/// Probability density of a standard normal deviate.
#[must_use]
pub fn normal_density(deviate: f64) -> f64 {
    const ONE_OVER_ROOT_OF_TWO_PI: f64 = 0.398_942_280_401_432_7;
    ONE_OVER_ROOT_OF_TWO_PI * libm::exp(-0.5 * deviate * deviate)
}

/// The deviate that a standard normal one does not exceed with this probability.
///
/// # Errors
///
/// [`QuantileError::Probability`] unless 0 < `probability` < 1.
pub fn normal_quantile(probability: f64) -> Result<f64, QuantileError> {
    inner_probability(probability)?;
    let tail = probability.min(1.0 - probability);
    // A start within about 0.003 (Abramowitz and Stegun 26.2.22 has this form), then Halley's
    // rule, which triples the digits with each step.
    let root = (-2.0 * libm::log(tail)).sqrt();
    let mut deviate =
        (2.307_53 + 0.270_61 * root) / (1.0 + root * (0.992_29 + root * 0.044_81)) - root;
    for _ in 0..4 {
        let error = (normal_probability(deviate) - tail) / normal_density(deviate);
        deviate -= error / (1.0 + 0.5 * deviate * error);
    }
    Ok(if probability > 0.5 { -deviate } else { deviate })
}

/// The deviate that Student's t of `degrees_of_freedom` does not exceed with this probability.
///
/// Infinite degrees of freedom give the normal quantile.
///
/// # Errors
///
/// - [`QuantileError::Probability`] unless 0 < `probability` < 1.
/// - [`QuantileError::DegreesOfFreedom`] unless they are at least 1.
pub fn student_quantile(probability: f64, degrees_of_freedom: f64) -> Result<f64, QuantileError> {
    inner_probability(probability)?;
    if degrees_of_freedom.is_nan() || degrees_of_freedom < 1.0 {
        return Err(QuantileError::DegreesOfFreedom { degrees_of_freedom });
    }
    if degrees_of_freedom > MANY_DEGREES_OF_FREEDOM {
        return Ok(student_from_normal(normal_quantile(probability)?, degrees_of_freedom));
    }
    let tail = probability.min(1.0 - probability);
    if (tail - 0.5).abs() < f64::EPSILON {
        return Ok(0.0);
    }
    let mut high = 1.0;
    while student_upper_tail(high, degrees_of_freedom) > tail {
        high *= 2.0;
    }
    let size = boundary((0.0, high), |t| student_upper_tail(t, degrees_of_freedom) > tail);
    Ok(if probability > 0.5 { size } else { -size })
}

/// The fraction that a beta deviate of shapes `a` and `b` does not exceed with this probability.
///
/// # Errors
///
/// - [`QuantileError::Probability`] unless 0 < `probability` < 1.
/// - [`QuantileError::Shape`] unless both shapes are positive.
pub fn beta_quantile(probability: f64, a: f64, b: f64) -> Result<f64, QuantileError> {
    inner_probability(probability)?;
    for shape in [a, b] {
        if !(shape > 0.0 && shape.is_finite()) {
            return Err(QuantileError::Shape { shape });
        }
    }
    Ok(boundary((0.0, 1.0), |x| beta_probability(x, a, b) < probability))
}

/// Probability that a beta deviate of shapes `a` and `b` is at most `x`: the regularised
/// incomplete beta function, for 0 ≤ `x` ≤ 1 and positive shapes.
#[must_use]
pub fn beta_probability(x: f64, a: f64, b: f64) -> f64 {
    if x <= 0.0 {
        return 0.0;
    }
    if x >= 1.0 {
        return 1.0;
    }
    let log_front = libm::lgamma(a + b) - libm::lgamma(a) - libm::lgamma(b)
        + a * libm::log(x)
        + b * libm::log1p(-x);
    let front = libm::exp(log_front);
    // The continued fraction converges fast below the mean; above it the mirror image is used.
    if x < (a + 1.0) / (a + b + 2.0) {
        front * beta_fraction(x, a, b) / a
    } else {
        1.0 - front * beta_fraction(1.0 - x, b, a) / b
    }
}

/// Why a quantile cannot be given.
#[derive(Clone, Copy, Debug, PartialEq, Error)]
pub enum QuantileError {
    /// The probability is not between 0 and 1.
    #[error("a quantile needs a probability above 0 and below 1, not {probability}")]
    Probability {
        /// What was asked for.
        probability: f64,
    },
    /// Fewer than one degree of freedom.
    #[error("Student's t needs at least 1 degree of freedom, not {degrees_of_freedom}")]
    DegreesOfFreedom {
        /// What was asked for.
        degrees_of_freedom: f64,
    },
    /// A shape of the beta distribution is not positive.
    #[error("a beta distribution needs positive shapes, not {shape}")]
    Shape {
        /// What was asked for.
        shape: f64,
    },
}

/// From here on the expansion of t about the normal quantile is good to 14 digits.
const MANY_DEGREES_OF_FREEDOM: f64 = 2000.0;

fn inner_probability(probability: f64) -> Result<(), QuantileError> {
    if probability > 0.0 && probability < 1.0 {
        Ok(())
    } else {
        Err(QuantileError::Probability { probability })
    }
}

fn student_upper_tail(t: f64, degrees_of_freedom: f64) -> f64 {
    let square = t * t;
    let half = 0.5 * degrees_of_freedom;
    // Each form where it does not subtract two numbers that are nearly the same.
    if square > 1.0 {
        0.5 * beta_probability(degrees_of_freedom / (degrees_of_freedom + square), half, 0.5)
    } else {
        0.5 - 0.5 * beta_probability(square / (degrees_of_freedom + square), 0.5, half)
    }
}

/// Source: Abramowitz and Stegun 26.7.5, four terms (from memory; the tests hold it against an
/// independent package).
fn student_from_normal(z: f64, degrees_of_freedom: f64) -> f64 {
    let z2 = z * z;
    let terms = [
        z * (z2 + 1.0) / 4.0,
        z * ((5.0 * z2 + 16.0) * z2 + 3.0) / 96.0,
        z * (((3.0 * z2 + 19.0) * z2 + 17.0) * z2 - 15.0) / 384.0,
        z * ((((79.0 * z2 + 776.0) * z2 + 1482.0) * z2 - 1920.0) * z2 - 945.0) / 92_160.0,
    ];
    terms.iter().rev().fold(0.0, |sum, term| (sum + term) / degrees_of_freedom) + z
}

/// Continued fraction of the incomplete beta function, by the modified method of Lentz.
fn beta_fraction(x: f64, a: f64, b: f64) -> f64 {
    const TINY: f64 = 1e-300;
    const MOST_STEPS: u32 = 20_000;
    let away_from_zero = |value: f64| if value.abs() < TINY { TINY } else { value };
    let mut c = 1.0;
    let mut d = 1.0 / away_from_zero(1.0 - (a + b) * x / (a + 1.0));
    let mut fraction = d;
    for step in 1..MOST_STEPS {
        let m = f64::from(step);
        let even = m * (b - m) * x / ((a + 2.0 * m - 1.0) * (a + 2.0 * m));
        let odd = -(a + m) * (a + b + m) * x / ((a + 2.0 * m) * (a + 2.0 * m + 1.0));
        let mut change = 1.0;
        for term in [even, odd] {
            d = 1.0 / away_from_zero(1.0 + term * d);
            c = away_from_zero(1.0 + term / c);
            change = c * d;
            fraction *= change;
        }
        if (change - 1.0).abs() < f64::EPSILON {
            break;
        }
    }
    fraction
}

/// Where `below` stops to hold, between the two ends.
///
/// Halving until the ends touch: at most about a thousand cheap steps near zero, about sixty
/// elsewhere, and no start value to get wrong.
fn boundary((mut low, mut high): (f64, f64), below: impl Fn(f64) -> bool) -> f64 {
    loop {
        let middle = 0.5 * (low + high);
        if middle <= low || middle >= high {
            return high;
        }
        if below(middle) { low = middle } else { high = middle }
    }
}
