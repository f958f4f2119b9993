//! What each cause makes of a determination, and how probable the determination is under it.

use super::super::linear::Factor;
use super::base_line::BaseLine;
use super::features::{
    COMES, COUNT, FLAME_KELVIN, Features, GOES, HEAT, LOSS_LOG, SURFACE, WANDER,
};
use super::ranges::{Range, Ranges, Spread};

/// What may be the matter: nothing, or one of the groups of causes that curves can tell.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Hypothesis {
    Nothing,
    LessHeat,
    MoreHeat,
    Dull,
    Lighter,
    Heavier,
    Lagging,
    SeeingTheFlame,
    Draught,
    Warm,
}

impl Hypothesis {
    pub(super) const ALL: [Self; 10] = [
        Self::Nothing,
        Self::LessHeat,
        Self::MoreHeat,
        Self::Dull,
        Self::Lighter,
        Self::Heavier,
        Self::Lagging,
        Self::SeeingTheFlame,
        Self::Draught,
        Self::Warm,
    ];

    /// Of those that something is the matter with, all but two are taken as equally many: the
    /// thermocouple's two share one place.
    pub(super) const fn share(self) -> f64 {
        match self {
            Self::Lagging | Self::SeeingTheFlame => 0.5,
            Self::Nothing
            | Self::LessHeat
            | Self::MoreHeat
            | Self::Dull
            | Self::Lighter
            | Self::Heavier
            | Self::Draught
            | Self::Warm => 1.0,
        }
    }

    fn range(self, ranges: &Ranges) -> Option<&Range> {
        match self {
            Self::Nothing => None,
            Self::LessHeat => Some(&ranges.less_heat),
            Self::MoreHeat => Some(&ranges.more_heat),
            Self::Dull => Some(&ranges.dull),
            Self::Lighter => Some(&ranges.lighter),
            Self::Heavier => Some(&ranges.heavier),
            Self::Lagging => Some(&ranges.lagging),
            Self::SeeingTheFlame => Some(&ranges.seeing_the_flame),
            Self::Draught => Some(&ranges.draught),
            Self::Warm => Some(&ranges.warm),
        }
    }

    /// What a cause of this size adds to the features of the base line.
    fn shift(self, size: f64, base: &[f64; COUNT]) -> [f64; COUNT] {
        let mut shift = [0.0; COUNT];
        match self {
            Self::Nothing | Self::Warm => {}
            Self::LessHeat => shift[HEAT] = libm::log1p(-size),
            Self::MoreHeat => shift[HEAT] = libm::log1p(size),
            Self::Dull => shift[SURFACE] = size,
            Self::Lighter => mass(&mut shift, 1.0 - size, base),
            Self::Heavier => mass(&mut shift, 1.0 + size, base),
            Self::Lagging => (shift[COMES], shift[GOES]) = (size, size),
            Self::SeeingTheFlame => {
                shift[COMES] = -size * STEP_TO_LAG.0;
                shift[GOES] = -size * STEP_TO_LAG.1;
            }
            Self::Draught => (shift[WANDER], shift[LOSS_LOG]) = (size, 0.2),
        }
        shift
    }
}

/// A block whose mass is this many times the recorded one takes and loses heat as if flame, air and
/// surface were all that much weaker.
fn mass(shift: &mut [f64; COUNT], times: f64, base: &[f64; COUNT]) {
    let log = libm::log(times);
    (shift[HEAT], shift[LOSS_LOG]) = (-log, -log);
    shift[SURFACE] = base[SURFACE] * (1.0 / times - 1.0);
}

/// Seconds by which a sensor that sees the flame wholly would be ahead: some 1450 K over a climb of
/// 42 K/s where the flame comes, some 800 K over a corner of 23 K/s where it goes.
const STEP_TO_LAG: (f64, f64) = (35.0, 35.0);

/// Parts that each range is cut into.
const PARTS: u32 = 40;

/// The logarithm of how probable the features are under a hypothesis.
pub(super) fn log_likelihood(hypothesis: Hypothesis, base: &BaseLine, features: &Features) -> f64 {
    let (least, logs) = distances(hypothesis, base, features);
    let Some(log_determinant) = logs else { return f64::NEG_INFINITY };
    let freedom = super::real(base.number) - 1.0;
    let density =
        |square: f64| -0.5 * (freedom + super::real(COUNT)) * libm::log1p(square / freedom);
    let best = density(least.iter().copied().fold(f64::INFINITY, f64::min));
    let sum: f64 = least.iter().map(|square| libm::exp(density(*square) - best)).sum();
    best + libm::log(sum / super::real(least.len())) - 0.5 * log_determinant
}

/// How far the features are from the nearest place of a hypothesis, squared, in its own deviations.
pub(super) fn nearest(hypothesis: Hypothesis, base: &BaseLine, features: &Features) -> f64 {
    distances(hypothesis, base, features).0.into_iter().fold(f64::INFINITY, f64::min)
}

/// The squared distances to the places of a hypothesis, and the logarithm of the determinant of
/// its covariance; that is nothing where a covariance is none.
fn distances(
    hypothesis: Hypothesis,
    base: &BaseLine,
    features: &Features,
) -> (Vec<f64>, Option<f64>) {
    let range = hypothesis.range(Ranges::built_in());
    let mut covariance = base.covariance(features);
    let none = Spread::default();
    let spread = range.map_or(&none, |range| &range.spread);
    let deviations = [
        (HEAT, spread.heat),
        (FLAME_KELVIN, spread.flame),
        (LOSS_LOG, spread.loss),
        (SURFACE, spread.emissivity),
        (COMES, spread.lag),
        (GOES, spread.lag),
        (WANDER, spread.wander),
    ];
    for (place, deviation) in deviations {
        covariance[place][place] += deviation * deviation;
    }
    let Some(factor) = Factor::of(&covariance) else { return (vec![f64::INFINITY], None) };
    let square = |shift: [f64; COUNT]| -> f64 {
        let off = std::array::from_fn(|n| features.values[n] - base.mean[n] - shift[n]);
        factor.whitened(&off).iter().map(|x| x * x).sum()
    };
    let squares = match range {
        None => vec![square([0.0; COUNT])],
        Some(range) => {
            range.places(PARTS).map(|size| square(hypothesis.shift(size, &base.mean))).collect()
        }
    };
    (squares, Some(factor.log_determinant()))
}
