//! What the readings do not tell, and how far what they leave over is more than noise.

use std::fmt;

use metrology::Ratio;

use super::Parameter;
use super::least_squares::{COUNT, Problem, Values, real};
use crate::fit::Reading;

/// A parameter that the readings do not tell well, and why.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum NotToldApart {
    /// It moves together with another one: what the one lacks the other can make good.
    Together {
        /// The one.
        parameter: Parameter,
        /// The other.
        partner: Parameter,
        /// How closely they go together, from −1 to 1.
        correlation: Ratio,
        /// The standard uncertainty of the one, relative to its value; of an emissivity as it is.
        uncertainty: Ratio,
    },
    /// The part of the trace that would tell it was not there to be fitted.
    NotSeen {
        /// The parameter.
        parameter: Parameter,
    },
}

impl fmt::Display for NotToldApart {
    fn fmt(&self, out: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Together { parameter, partner, correlation, uncertainty } => write!(
                out,
                "{} is known to {:.1} % only: the readings do not tell it apart from {} \
                 (correlation {:.3})",
                parameter.name(),
                uncertainty.percent(),
                partner.name(),
                correlation.fraction()
            ),
            Self::NotSeen { parameter } => {
                let phase = if *parameter == Parameter::Loss { "cooling" } else { "heating" };
                write!(out, "{} is not told: no {phase} was fitted", parameter.name())
            }
        }
    }
}

/// A relative standard uncertainty up to here is good enough to hold a determination against
/// others; of an emissivity it is the uncertainty itself. In the order of [`Parameter::ALL`].
const GOOD: [f64; 4] = [0.005, 0.01, 0.02, 0.005];

/// Every parameter that is not known well enough, with the one that it goes with most.
pub(super) fn not_told_apart(
    values: &Values,
    covariance: &[[f64; COUNT]; COUNT],
    problem: &Problem<'_>,
) -> Vec<NotToldApart> {
    let told = |parameter: Parameter| match parameter {
        Parameter::Gain | Parameter::FlameTemperature => !problem.heating.is_empty(),
        Parameter::Loss => !problem.cooling.is_empty(),
        Parameter::Emissivity => true,
    };
    let correlation = |first: Parameter, second: Parameter| {
        let (first, second) = (first.place(), second.place());
        covariance[first][second] / (covariance[first][first] * covariance[second][second]).sqrt()
    };
    let mut found = Vec::new();
    for (parameter, good) in Parameter::ALL.into_iter().zip(GOOD) {
        if !told(parameter) {
            found.push(NotToldApart::NotSeen { parameter });
            continue;
        }
        let deviation = covariance[parameter.place()][parameter.place()].sqrt();
        let whole = match parameter {
            Parameter::Emissivity => 1.0,
            Parameter::Gain | Parameter::FlameTemperature | Parameter::Loss => {
                values[parameter.place()].abs()
            }
        };
        let fitted = |other: &Parameter| *other == Parameter::Loss || told(*other);
        let others = Parameter::ALL.into_iter().filter(|other| *other != parameter).filter(fitted);
        let partner = others.max_by(|one, other| {
            let size = |partner: &Parameter| correlation(parameter, *partner).abs();
            size(one).total_cmp(&size(other))
        });
        if let Some(partner) = partner.filter(|_| deviation > good * whole) {
            found.push(NotToldApart::Together {
                parameter,
                partner,
                correlation: Ratio::from_fraction(correlation(parameter, partner)),
                uncertainty: Ratio::from_fraction(deviation / whole),
            });
        }
    }
    found
}

/// How far the residuals wander.
#[derive(Clone, Copy, Debug)]
pub(super) struct Wander {
    /// The variance of means over two seconds, over what independent readings give.
    pub(super) ratio: f64,
    /// Whether it is more than chance.
    pub(super) significant: bool,
}

/// The length of a mean in seconds.
const MEAN: f64 = 2.0;

/// From the residuals of each phase: how slow is what they leave over?
pub(super) fn wander(phases: [(&[Reading], &[f64]); 2], scatter: f64) -> Wander {
    let (mut squares, mut means) = (0.0, 0_usize);
    let wild = super::least_squares::WILD * scatter;
    for (readings, residuals) in phases {
        let mut first = 0;
        while first < readings.len() {
            let end = readings[first].0 + MEAN;
            let count = readings[first..].iter().take_while(|(at, _)| *at < end).count();
            let group = &residuals[first..first + count];
            let sum: f64 = group.iter().map(|residual| residual.clamp(-wild, wild)).sum();
            squares += sum * sum / real(count);
            means += 1;
            first += count;
        }
    }
    // The fit has taken some freedom from the means.
    let free = (real(means) - 6.0).max(1.0);
    let ratio = squares / (scatter * scatter) / free;
    let chance = (2.0 / free).sqrt();
    Wander { ratio, significant: ratio > 1.0 + 3.0 * chance }
}
