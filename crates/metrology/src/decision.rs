//! Holding a measured value against a limit: kept, broken, or undecided.

use crate::distribution::normal_probability;
use crate::measurement::Measurement;
use crate::quantity::{Quantity, Ratio};
use std::fmt;
use thiserror::Error;

/// Holds `measurement` against `limit` by `rule`.
///
/// With U = k·u and the guard band w = r·U (zero for simple acceptance), the limit is
/// - **kept** if it would still be kept with the value moved by w to either side;
/// - **broken** if it would still be broken with the value moved by w to either side;
/// - **undecided** between the two. Simple acceptance leaves nothing undecided.
///
/// The limit's own operator decides a value that lies exactly on an edge: 30 s keeps "at most
/// 30 s" and breaks "less than 30 s". Edges moved by a guard band are rounded to nine decimals
/// of the quantity's unit, so that 24.5 s less 0.9 s is 23.6 s and not a hair off it.
///
/// The probability of conformity takes the measurand to be normal about the measured value.
///
/// # Errors
///
/// [`DecisionError`] if the band is upside down, or the uncertainty, ratio or coverage factor
/// cannot be one.
///
/// # Source
///
/// Non-binary rule with guard band: ILAC-G8:09/2019 4.2. Probability of conformity and
/// specific risk: JCGM 106:2012 7 and 9.
///
/// # Examples
///
/// ```
/// use metrology::decision::{DecisionRule, Limit, Standing, decide};
/// use metrology::{DegreesOfFreedom, Duration, Measurement};
/// let rise_time = Measurement {
///     value: Duration::from_seconds(23.5),
///     uncertainty: Duration::from_seconds(0.55),
///     degrees_of_freedom: DegreesOfFreedom::Infinite,
/// };
/// let band = Limit::Between {
///     low: Duration::from_seconds(22.5),
///     high: Duration::from_seconds(24.5),
/// };
/// let rule = DecisionRule::GuardBand { ratio: 1.0, coverage_factor: 2.0 };
/// let decision = decide(rise_time, band, rule)?;
/// assert_eq!(decision.standing, Standing::Undecided);
/// assert_eq!(
///     decision.no_acceptance_zone().unwrap(),
///     "the guard bands of 1.1 s on both sides leave no acceptance zone between 22.5 s and \
///      24.5 s: the expanded uncertainty times the guard-band ratio must be below 1.0 s"
/// );
/// # Ok::<(), metrology::decision::DecisionError>(())
/// ```
pub fn decide<Q: Quantity>(
    measurement: Measurement<Q>,
    limit: Limit<Q>,
    rule: DecisionRule,
) -> Result<Decision<Q>, DecisionError> {
    let standard = measurement.uncertainty.in_unit();
    if !(standard.is_finite() && standard >= 0.0) {
        return Err(DecisionError::Uncertainty { found: measurement.uncertainty.to_string() });
    }
    if let Limit::Between { low, high } = limit
        && low > high
    {
        return Err(DecisionError::UpsideDown { low: low.to_string(), high: high.to_string() });
    }
    let guard_band = rule.factor()? * standard;
    let acceptance = limit.moved(-guard_band);
    let value = measurement.value;
    let standing = if acceptance.is_some_and(|zone| zone.is_kept_by(value)) {
        Standing::Kept
    } else if limit.moved(guard_band).is_some_and(|zone| zone.is_kept_by(value)) {
        Standing::Undecided
    } else {
        Standing::Broken
    };
    Ok(Decision {
        standing,
        limit,
        rule,
        guard_band: Q::Difference::of_unit(guard_band),
        acceptance,
        probability_of_conformity: Ratio::from_fraction(limit.conformity(value, standard)),
        worst_false_acceptance: acceptance.map(|zone| {
            let risks = zone.edges().map(|edge| match edge {
                Some(edge) => 1.0 - limit.conformity(edge, standard),
                None => 0.0,
            });
            Ratio::from_fraction(risks.into_iter().fold(0.0, f64::max))
        }),
    })
}

/// What a value is held against. The operator is part of the limit, since editions of a
/// standard differ in it.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Limit<Q: Quantity> {
    /// ≤: the limit itself is kept.
    AtMost(Q),
    /// <: the limit itself is broken.
    LessThan(Q),
    /// ≥: the limit itself is kept.
    AtLeast(Q),
    /// >: the limit itself is broken.
    MoreThan(Q),
    /// From `low` to `high`, both kept.
    Between {
        /// The lower end of the band.
        low: Q,
        /// The upper end of the band.
        high: Q,
    },
}

/// How the uncertainty enters the decision.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum DecisionRule {
    /// The value alone decides; near the limit the risk of a false acceptance is up to 50 %.
    SimpleAcceptance,
    /// Acceptance ends w = `ratio` · k · u before the limit, rejection begins w behind it.
    GuardBand {
        /// r of ILAC-G8: 1 for a risk of at most 2.5 %, 0.83 for at most 5 %.
        ratio: f64,
        /// k of the expanded uncertainty U = k·u.
        coverage_factor: f64,
    },
}

impl DecisionRule {
    /// How many standard uncertainties wide the guard band is.
    fn factor(self) -> Result<f64, DecisionError> {
        let Self::GuardBand { ratio, coverage_factor } = self else {
            return Ok(0.0);
        };
        if !(ratio.is_finite() && ratio >= 0.0) {
            return Err(DecisionError::Ratio { found: ratio });
        }
        if !(coverage_factor.is_finite() && coverage_factor > 0.0) {
            return Err(DecisionError::CoverageFactor { found: coverage_factor });
        }
        Ok(ratio * coverage_factor)
    }
}

/// How a value stands against a limit.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Standing {
    /// The limit is kept, by the rule.
    Kept,
    /// The limit is broken, by the rule.
    Broken,
    /// The value lies so near to the limit that the rule decides neither way.
    Undecided,
}

impl fmt::Display for Standing {
    fn fmt(&self, out: &mut fmt::Formatter<'_>) -> fmt::Result {
        out.write_str(match self {
            Self::Kept => "kept",
            Self::Broken => "broken",
            Self::Undecided => "undecided",
        })
    }
}

/// A decision with all that it rests on.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Decision<Q: Quantity> {
    /// Kept, broken or undecided.
    pub standing: Standing,
    /// The limit as the standard gives it.
    pub limit: Limit<Q>,
    /// The rule that was followed.
    pub rule: DecisionRule,
    /// w; zero for simple acceptance.
    pub guard_band: Q::Difference,
    /// The limit within its guard bands; nothing if they leave no room.
    pub acceptance: Option<Limit<Q>>,
    /// Probability that the true value keeps the limit, given the measured one.
    pub probability_of_conformity: Ratio,
    /// Probability that the true value breaks the limit, for a value accepted at the worst
    /// place of the acceptance zone; nothing if nothing can be accepted.
    pub worst_false_acceptance: Option<Ratio>,
}

impl<Q: Quantity> Decision<Q> {
    /// The risk that this very decision is false: of a false acceptance if the limit is kept,
    /// of a false rejection if it is broken; nothing if it is undecided.
    #[must_use]
    pub fn risk(&self) -> Option<Ratio> {
        let conforming = self.probability_of_conformity.fraction();
        match self.standing {
            Standing::Kept => Some(Ratio::from_fraction(1.0 - conforming)),
            Standing::Broken => Some(Ratio::from_fraction(conforming)),
            Standing::Undecided => None,
        }
    }

    /// A sentence that says so, if the guard bands leave no acceptance zone.
    #[must_use]
    pub fn no_acceptance_zone(&self) -> Option<String> {
        let Limit::Between { low, high } = self.limit else { return None };
        if self.acceptance.is_some() {
            return None;
        }
        let half = Q::Difference::of_unit(0.5 * (high.in_unit() - low.in_unit()));
        let decimals = decimals_for_two_digits(self.guard_band.in_unit());
        Some(format!(
            "the guard bands of {:.decimals$} on both sides leave no acceptance zone between \
             {low} and {high}: the expanded uncertainty times the guard-band ratio must be below \
             {half:.decimals$}",
            self.guard_band
        ))
    }
}

/// Why a value cannot be held against a limit.
#[derive(Clone, Debug, PartialEq, Error)]
pub enum DecisionError {
    /// The uncertainty is negative or not a number.
    #[error("a decision needs a standard uncertainty of zero or more, not {found}")]
    Uncertainty {
        /// What was found.
        found: String,
    },
    /// The ratio is negative or not a number.
    #[error("a guard band needs a ratio of zero or more, not {found}")]
    Ratio {
        /// What was found.
        found: f64,
    },
    /// The coverage factor is not positive.
    #[error("a guard band needs a coverage factor above zero, not {found}")]
    CoverageFactor {
        /// What was found.
        found: f64,
    },
    /// The lower end of the band lies above its upper end.
    #[error("the band from {low} to {high} is upside down")]
    UpsideDown {
        /// The lower end.
        low: String,
        /// The upper end.
        high: String,
    },
}

impl<Q: Quantity> Limit<Q> {
    /// Whether `value`, taken as exact, keeps the limit.
    #[must_use]
    pub fn is_kept_by(self, value: Q) -> bool {
        match self {
            Self::AtMost(limit) => value <= limit,
            Self::LessThan(limit) => value < limit,
            Self::AtLeast(limit) => value >= limit,
            Self::MoreThan(limit) => value > limit,
            Self::Between { low, high } => low <= value && value <= high,
        }
    }

    /// The limit made wider by `outward`, narrower if that is negative; nothing if no room is
    /// left. A band narrowed to a single value has no room.
    fn moved(self, outward: f64) -> Option<Self> {
        if outward == 0.0 {
            return Some(self);
        }
        let up = |edge: Q| Q::of_unit(nine_decimals(edge.in_unit() + outward));
        let down = |edge: Q| Q::of_unit(nine_decimals(edge.in_unit() - outward));
        match self {
            Self::AtMost(limit) => Some(Self::AtMost(up(limit))),
            Self::LessThan(limit) => Some(Self::LessThan(up(limit))),
            Self::AtLeast(limit) => Some(Self::AtLeast(down(limit))),
            Self::MoreThan(limit) => Some(Self::MoreThan(down(limit))),
            Self::Between { low, high } => {
                let (low, high) = (down(low), up(high));
                (low < high).then_some(Self::Between { low, high })
            }
        }
    }

    /// The lower and the upper edge.
    fn edges(self) -> [Option<Q>; 2] {
        match self {
            Self::AtMost(limit) | Self::LessThan(limit) => [None, Some(limit)],
            Self::AtLeast(limit) | Self::MoreThan(limit) => [Some(limit), None],
            Self::Between { low, high } => [Some(low), Some(high)],
        }
    }

    /// Probability that a normal measurand about `value` keeps the limit.
    fn conformity(self, value: Q, standard: f64) -> f64 {
        if standard == 0.0 {
            return if self.is_kept_by(value) { 1.0 } else { 0.0 };
        }
        let [low, high] = self.edges();
        let below = |edge: Q| normal_probability((edge.in_unit() - value.in_unit()) / standard);
        let above = |edge: Q| normal_probability((value.in_unit() - edge.in_unit()) / standard);
        match (low, high) {
            (None, None) => 1.0,
            (None, Some(high)) => below(high),
            (Some(low), None) => above(low),
            (Some(low), Some(high)) => (1.0 - above(high) - below(low)).max(0.0),
        }
    }
}

fn nine_decimals(value: f64) -> f64 {
    (value * 1e9).round() / 1e9
}

/// How many decimals show two significant digits of `value`.
fn decimals_for_two_digits(value: f64) -> usize {
    let mut decimals = 0;
    let mut scaled = value.abs();
    while scaled > 0.0 && scaled < 9.95 && decimals < 12 {
        scaled *= 10.0;
        decimals += 1;
    }
    decimals
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::{DegreesOfFreedom, Duration};

    const SIMPLE: DecisionRule = DecisionRule::SimpleAcceptance;
    const GUARDED: DecisionRule = DecisionRule::GuardBand { ratio: 1.0, coverage_factor: 2.0 };

    fn seconds(value: f64) -> Duration {
        Duration::from_seconds(value)
    }

    fn decided(value: f64, limit: Limit<Duration>, rule: DecisionRule) -> Decision<Duration> {
        let measurement = Measurement {
            value: seconds(value),
            uncertainty: seconds(0.45),
            degrees_of_freedom: DegreesOfFreedom::Infinite,
        };
        decide(measurement, limit, rule).unwrap()
    }

    fn check(value: f64, limit: Limit<Duration>, rule: DecisionRule, expected: Standing) {
        assert_eq!(decided(value, limit, rule).standing, expected, "{value} {limit:?} {rule:?}");
    }

    #[test]
    fn the_limit_itself_is_judged_by_its_operator() {
        let limit = seconds(30.0);
        check(30.0, Limit::AtMost(limit), SIMPLE, Standing::Kept);
        check(30.000_001, Limit::AtMost(limit), SIMPLE, Standing::Broken);
        check(30.0, Limit::LessThan(limit), SIMPLE, Standing::Broken);
        check(29.999_999, Limit::LessThan(limit), SIMPLE, Standing::Kept);
        check(30.0, Limit::AtLeast(limit), SIMPLE, Standing::Kept);
        check(30.0, Limit::MoreThan(limit), SIMPLE, Standing::Broken);
    }

    #[test]
    fn guard_bands_make_three_zones_on_each_side() {
        let band = Limit::Between { low: seconds(22.5), high: seconds(24.5) };
        for (value, expected) in [
            (21.599_999, Standing::Broken),
            (21.6, Standing::Undecided),
            (23.399_999, Standing::Undecided),
            (23.4, Standing::Kept),
            (23.6, Standing::Kept),
            (23.600_001, Standing::Undecided),
            (25.4, Standing::Undecided),
            (25.400_001, Standing::Broken),
        ] {
            check(value, band, GUARDED, expected);
        }
        let limit = Limit::LessThan(seconds(30.0));
        check(29.099_999, limit, GUARDED, Standing::Kept);
        check(29.1, limit, GUARDED, Standing::Undecided);
        check(30.9, limit, GUARDED, Standing::Broken);
    }

    #[test]
    fn the_risk_belongs_to_the_decision_taken() {
        let limit = Limit::AtMost(seconds(30.0));
        let kept = decided(29.55, limit, SIMPLE).risk().unwrap().fraction();
        assert!((kept - (1.0 - normal_probability(1.0))).abs() < 1e-12);
        let broken = decided(30.45, limit, SIMPLE).risk().unwrap().fraction();
        assert!((broken - (1.0 - normal_probability(1.0))).abs() < 1e-12);
        assert_eq!(decided(30.0, limit, GUARDED).risk(), None);
    }

    #[test]
    fn nothing_can_be_accepted_where_the_guard_bands_meet() {
        let narrow = Limit::Between { low: seconds(22.6), high: seconds(24.4) };
        let decision = decided(23.5, narrow, GUARDED);
        assert_eq!(decision.standing, Standing::Undecided);
        assert_eq!(decision.worst_false_acceptance, None);
        assert!(decision.no_acceptance_zone().unwrap().starts_with(
            "the guard bands of 0.90 s on both sides leave no acceptance zone between 22.6 s and \
             24.4 s"
        ));
        assert_eq!(decided(26.0, narrow, GUARDED).standing, Standing::Broken);
    }

    #[test]
    fn what_cannot_be_decided_is_named() {
        let exact = Measurement {
            value: seconds(1.0),
            uncertainty: seconds(-0.1),
            degrees_of_freedom: DegreesOfFreedom::Infinite,
        };
        let error = decide(exact, Limit::AtMost(seconds(2.0)), SIMPLE).unwrap_err();
        assert_eq!(
            error.to_string(),
            "a decision needs a standard uncertainty of zero or more, not -0.1 s"
        );
        let reversed = Limit::Between { low: seconds(2.0), high: seconds(1.0) };
        let sound = Measurement { uncertainty: seconds(0.1), ..exact };
        assert_eq!(
            decide(sound, reversed, SIMPLE).unwrap_err().to_string(),
            "the band from 2 s to 1 s is upside down"
        );
        let rule = DecisionRule::GuardBand { ratio: f64::NAN, coverage_factor: 2.0 };
        assert!(matches!(
            decide(sound, Limit::AtMost(seconds(2.0)), rule),
            Err(DecisionError::Ratio { .. })
        ));
    }
}
