//! Charts that watch whether a quantity stays where it was.
//!
//! Single values against limits of so many sigma see a large change at once; the exponentially
//! weighted mean and the cumulative sums see a small one, or a slow drift, much sooner. No number
//! of a method is here: weight, widths and allowances are handed in.

mod run_length;
mod turn;

use crate::quantity::{Quantity, Ratio};
use crate::statistics::{as_f64, mean};

pub use run_length::{cusum_run_length, ewma_run_length, individuals_run_length};
pub use turn::{Shape, Turn, turn};

/// Where a quantity lay while nothing was wrong, and how much it scattered.
///
/// # Examples
///
/// ```
/// use metrology::Duration;
/// use metrology::control_chart::BaseLine;
/// let rise_times = [23.4, 23.6, 23.5, 23.7, 23.3].map(Duration::from_seconds);
/// let base = BaseLine::of(&rise_times).ok_or("too few")?;
/// assert_eq!(format!("{:.2} {:.3}", base.centre, base.sigma), "23.50 s 0.199 s");
/// # Ok::<(), &str>(())
/// ```
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct BaseLine<Q: Quantity> {
    /// Their mean.
    pub centre: Q,
    /// Their standard deviation.
    pub sigma: Q::Difference,
}

impl<Q: Quantity> BaseLine<Q> {
    /// The base line of single values in their order.
    ///
    /// Sigma comes from the mean of the moving ranges of two, divided by 2/√π, which is what that
    /// mean is expected to be for a normal deviate: a slow drift among the values widens it less
    /// than it would widen their standard deviation. Nothing of fewer than two values, or of
    /// values without any scatter.
    #[must_use]
    pub fn of(values: &[Q]) -> Option<Self> {
        let centre = mean(values)?;
        let ranges = values.windows(2).map(|pair| (pair[1].in_unit() - pair[0].in_unit()).abs());
        let moves = as_f64(values.len().checked_sub(1)?);
        let sigma = ranges.sum::<f64>() / moves / std::f64::consts::FRAC_2_SQRT_PI;
        let scatters = sigma.is_finite() && sigma > 0.0;
        scatters.then(|| Self { centre, sigma: Q::Difference::of_unit(sigma) })
    }

    /// The limits so many sigma on both sides of the centre.
    #[must_use]
    pub fn limits(&self, width_sigma: f64) -> Limits<Q> {
        let (centre, half) = (self.centre.in_unit(), width_sigma * self.sigma.in_unit());
        Limits { low: Q::of_unit(centre - half), high: Q::of_unit(centre + half) }
    }

    /// How many sigma above the centre a value lies.
    fn standardised(&self, value: Q) -> f64 {
        (value.in_unit() - self.centre.in_unit()) / self.sigma.in_unit()
    }
}

/// Two limits; a value on either is within.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Limits<Q> {
    /// The lower one.
    pub low: Q,
    /// The upper one.
    pub high: Q,
}

impl<Q: Quantity> Limits<Q> {
    /// On which side of them a value lies; none if it is within.
    #[must_use]
    pub fn left_by(&self, value: Q) -> Option<Side> {
        if value > self.high {
            Some(Side::Above)
        } else if value < self.low {
            Some(Side::Below)
        } else {
            None
        }
    }
}

/// A side of the centre.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Side {
    /// Larger values.
    Above,
    /// Smaller values.
    Below,
}

/// How an exponentially weighted mean is taken and limited.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct EwmaRule {
    /// The weight of the newest value.
    pub weight: Ratio,
    /// The limits, in sigma of the weighted mean.
    pub width_sigma: f64,
}

/// An exponentially weighted mean after one more value.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Smoothed<Q> {
    /// The mean.
    pub value: Q,
    /// Its limits: narrow after the first value, and soon those of a long series.
    pub limits: Limits<Q>,
}

/// The exponentially weighted means of values in their order, the first from the centre on.
///
/// # Source
///
/// NIST/SEMATECH e-Handbook 6.3.2.4; the limits are exact for each place in the series.
#[must_use]
pub fn ewma<Q: Quantity>(values: &[Q], base: &BaseLine<Q>, rule: EwmaRule) -> Vec<Smoothed<Q>> {
    let weight = rule.weight.fraction();
    let kept = 1.0 - weight;
    let settled = weight / (2.0 - weight);
    let (mut mean, mut faded) = (base.centre.in_unit(), 1.0);
    let step = |value: &Q| {
        mean = weight * value.in_unit() + kept * mean;
        faded *= kept * kept;
        let limits = base.limits(rule.width_sigma * (settled * (1.0 - faded)).sqrt());
        Smoothed { value: Q::of_unit(mean), limits }
    };
    values.iter().map(step).collect()
}

/// How cumulative sums are taken and limited.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct CusumRule {
    /// What is taken off each deviation, in sigma.
    pub allowance_sigma: f64,
    /// A sum beyond this signals, in sigma.
    pub decision_sigma: f64,
}

/// The two cumulative sums after one more value, in sigma; neither is below zero.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Sums {
    /// Of what lay above the centre.
    pub above_sigma: f64,
    /// Of what lay below it.
    pub below_sigma: f64,
}

impl Sums {
    /// The sum of a side.
    #[must_use]
    pub const fn of_side(&self, side: Side) -> f64 {
        match side {
            Side::Above => self.above_sigma,
            Side::Below => self.below_sigma,
        }
    }

    /// The side whose sum signals.
    #[must_use]
    pub fn signal(&self, rule: CusumRule) -> Option<Side> {
        let signals = |side: &Side| self.of_side(*side) > rule.decision_sigma;
        [Side::Above, Side::Below].into_iter().find(signals)
    }
}

/// The two-sided cumulative sums of values in their order, both from zero on.
///
/// # Source
///
/// NIST/SEMATECH e-Handbook 6.3.2.3, tabular form.
#[must_use]
pub fn cusum<Q: Quantity>(values: &[Q], base: &BaseLine<Q>, rule: CusumRule) -> Vec<Sums> {
    let mut sums = Sums::default();
    let step = |value: &Q| {
        let deviation = base.standardised(*value);
        sums = Sums {
            above_sigma: (sums.above_sigma + deviation - rule.allowance_sigma).max(0.0),
            below_sigma: (sums.below_sigma - deviation - rule.allowance_sigma).max(0.0),
        };
        sums
    };
    values.iter().map(step).collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::Duration;

    fn base() -> BaseLine<Duration> {
        let (centre, sigma) = (Duration::from_seconds(10.0), Duration::from_seconds(2.0));
        BaseLine { centre, sigma }
    }

    #[test]
    fn too_few_values_or_values_without_scatter_are_no_base_line() {
        let seconds = Duration::from_seconds;
        assert_eq!(BaseLine::<Duration>::of(&[]), None);
        assert_eq!(BaseLine::of(&[seconds(1.0)]), None);
        assert_eq!(BaseLine::of(&[seconds(1.0); 5]), None);
    }

    #[test]
    fn a_value_on_a_limit_is_within() {
        let limits = base().limits(3.0);
        let check = |value: f64, side| {
            assert_eq!(limits.left_by(Duration::from_seconds(value)), side);
        };
        check(16.0, None);
        check(16.01, Some(Side::Above));
        check(4.0, None);
        check(3.99, Some(Side::Below));
    }

    #[test]
    fn a_sum_forgets_what_lay_on_the_other_side() {
        let rule = CusumRule { allowance_sigma: 0.5, decision_sigma: 2.0 };
        let values = [14.0, 14.0, 8.0, 2.0, 2.0].map(Duration::from_seconds);
        let sums = cusum(&values, &base(), rule);
        let above: Vec<f64> = sums.iter().map(|it| it.above_sigma).collect();
        let below: Vec<f64> = sums.iter().map(|it| it.below_sigma).collect();
        assert_eq!(above, [1.5, 3.0, 1.5, 0.0, 0.0]);
        assert_eq!(below, [0.0, 0.0, 0.5, 4.0, 7.5]);
        let signals: Vec<_> = sums.iter().map(|it| it.signal(rule)).collect();
        assert_eq!(signals, [None, Some(Side::Above), None, Some(Side::Below), Some(Side::Below)]);
    }
}
