//! What a few values say: mean, spread, and what n of n really shows.

use crate::distribution::{QuantileError, beta_quantile};
use crate::quantity::{Count, Quantity, Ratio};
use thiserror::Error;

/// The arithmetic mean, or nothing of no values.
#[must_use]
pub fn mean<Q: Quantity>(values: &[Q]) -> Option<Q> {
    // Taken about the first value, so that a large common part costs no digits.
    let first = values.first()?.in_unit();
    let sum: f64 = values.iter().map(|value| value.in_unit() - first).sum();
    Some(Q::of_unit(first + sum / as_f64(values.len())))
}

/// The standard deviation of the values, with n − 1 in the divisor (GUM 4.2.2); nothing of
/// fewer than two values.
#[must_use]
pub fn standard_deviation<Q: Quantity>(values: &[Q]) -> Option<Q::Difference> {
    if values.len() < 2 {
        return None;
    }
    let centre = mean(values)?.in_unit();
    let squares: f64 = values.iter().map(|value| value.in_unit() - centre).map(|d| d * d).sum();
    Some(Q::Difference::of_unit((squares / as_f64(values.len() - 1)).sqrt()))
}

/// The middle value, or the mean of the middle two; nothing of no values.
#[must_use]
pub fn median<Q: Quantity>(values: &[Q]) -> Option<Q> {
    let mut sorted: Vec<f64> = values.iter().map(|value| value.in_unit()).collect();
    sorted.sort_unstable_by(f64::total_cmp);
    let upper = *sorted.get(sorted.len() / 2)?;
    let lower = *sorted.get((sorted.len() - 1) / 2)?;
    Some(Q::of_unit(lower + 0.5 * (upper - lower)))
}

/// Between which fractions the true one lies, after `successes` of `trials`.
///
/// The interval of Clopper and Pearson: it covers the truth with *at least* `confidence`,
/// whatever the truth is, with half of what is left on each side.
///
/// # Errors
///
/// [`ProportionError`] if there are no trials, more successes than trials, or a confidence
/// that is not between 0 and 1.
///
/// # Examples
///
/// ```
/// use metrology::{Count, Ratio, statistics::proportion_interval};
/// // Ten of ten withstood the flame: seven of ten could be the truth all the same.
/// let seen = proportion_interval(Count::of(10), Count::of(10), Ratio::from_percent(95.0))?;
/// assert_eq!(format!("{:.1} %", seen.low.percent()), "69.2 %");
/// # Ok::<(), metrology::statistics::ProportionError>(())
/// ```
pub fn proportion_interval(
    successes: Count,
    trials: Count,
    confidence: Ratio,
) -> Result<ProportionInterval, ProportionError> {
    let each_side = 0.5 * (1.0 - checked(successes, trials, confidence)?);
    Ok(ProportionInterval {
        low: bound_below(successes, trials, each_side)?,
        high: bound_above(successes, trials, each_side)?,
    })
}

/// The fraction that the true one is at least, after `successes` of `trials`: the one-sided
/// bound of Clopper and Pearson.
///
/// # Errors
///
/// As [`proportion_interval`].
pub fn proportion_at_least(
    successes: Count,
    trials: Count,
    confidence: Ratio,
) -> Result<Ratio, ProportionError> {
    bound_below(successes, trials, 1.0 - checked(successes, trials, confidence)?)
}

/// The fraction that the true one is at most, after `successes` of `trials`: the one-sided
/// bound of Clopper and Pearson.
///
/// # Errors
///
/// As [`proportion_interval`].
pub fn proportion_at_most(
    successes: Count,
    trials: Count,
    confidence: Ratio,
) -> Result<Ratio, ProportionError> {
    bound_above(successes, trials, 1.0 - checked(successes, trials, confidence)?)
}

/// An interval of fractions.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct ProportionInterval {
    /// The true fraction is hardly below this.
    pub low: Ratio,
    /// The true fraction is hardly above this.
    pub high: Ratio,
}

/// Why nothing can be said of a proportion.
#[derive(Clone, Copy, Debug, PartialEq, Error)]
pub enum ProportionError {
    /// Nothing was tried.
    #[error("a proportion needs at least one trial")]
    NoTrials,
    /// More successes than trials.
    #[error("{successes} successes in {trials} trials is more than all")]
    MoreThanAll {
        /// How often it was seen.
        successes: Count,
        /// How often it was tried.
        trials: Count,
    },
    /// The confidence is not between 0 and 1.
    #[error(transparent)]
    Confidence(#[from] QuantileError),
}

fn checked(successes: Count, trials: Count, confidence: Ratio) -> Result<f64, ProportionError> {
    if trials.number() == 0 {
        return Err(ProportionError::NoTrials);
    }
    if successes > trials {
        return Err(ProportionError::MoreThanAll { successes, trials });
    }
    let probability = confidence.fraction();
    if probability > 0.0 && probability < 1.0 {
        Ok(probability)
    } else {
        Err(QuantileError::Probability { probability }.into())
    }
}

fn bound_below(successes: Count, trials: Count, risk: f64) -> Result<Ratio, ProportionError> {
    if successes.number() == 0 {
        return Ok(Ratio::from_fraction(0.0));
    }
    let failures = trials.number() - successes.number();
    let low = beta_quantile(risk, count_as_f64(successes.number()), count_as_f64(failures + 1))?;
    Ok(Ratio::from_fraction(low))
}

fn bound_above(successes: Count, trials: Count, risk: f64) -> Result<Ratio, ProportionError> {
    let failures = Count::of(trials.number() - successes.number());
    let low = bound_below(failures, trials, risk)?;
    Ok(Ratio::from_fraction(1.0 - low.fraction()))
}

#[expect(clippy::cast_precision_loss, reason = "counts of trials are far below 2^53")]
fn count_as_f64(number: u64) -> f64 {
    number as f64
}

#[expect(clippy::cast_precision_loss, reason = "no slice in memory has 2^53 values")]
pub(crate) fn as_f64(number: usize) -> f64 {
    number as f64
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::{Duration, Temperature};

    fn seconds(values: &[f64]) -> Vec<Duration> {
        values.iter().copied().map(Duration::from_seconds).collect()
    }

    #[test]
    fn nothing_has_no_mean_and_one_value_no_spread() {
        assert_eq!(mean::<Duration>(&[]), None);
        assert_eq!(median::<Duration>(&[]), None);
        assert_eq!(standard_deviation(&seconds(&[3.0])), None);
    }

    #[test]
    fn the_median_of_an_even_number_lies_between_the_middle_two() {
        assert_eq!(median(&seconds(&[4.0, 1.0, 3.0, 2.0])), Some(Duration::from_seconds(2.5)));
        assert_eq!(median(&seconds(&[9.0, 1.0, 3.0])), Some(Duration::from_seconds(3.0)));
    }

    #[test]
    fn a_large_common_part_costs_no_digits() {
        let far = [4.0, 7.0, 13.0, 16.0].map(|value| Temperature::from_celsius(1e9 + value));
        assert_eq!(standard_deviation(&far).unwrap().kelvin().to_bits(), 30_f64.sqrt().to_bits());
    }

    #[test]
    fn impossible_counts_are_refused_by_name() {
        let confidence = Ratio::from_percent(95.0);
        assert_eq!(
            proportion_at_least(Count::of(4), Count::of(3), confidence).unwrap_err().to_string(),
            "4 successes in 3 trials is more than all"
        );
        assert_eq!(
            proportion_at_least(Count::of(0), Count::of(0), confidence),
            Err(ProportionError::NoTrials)
        );
        assert!(
            proportion_at_most(Count::of(1), Count::of(3), Ratio::from_percent(100.0)).is_err()
        );
    }
}
