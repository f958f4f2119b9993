//! What of a determination is held against others.

use super::super::fit::least_squares::{EMISSIVITY, FLAME, GAIN, LOSS};
use super::super::linear::Matrix;
use super::Determination;

/// How many there are.
pub(super) const COUNT: usize = 7;

/// The logarithm of the heat into a block of 400 °C: what gain and flame temperature together
/// are known by best.
pub(super) const HEAT: usize = 0;
/// The temperature of the flame in kelvin.
pub(super) const FLAME_KELVIN: usize = 1;
/// The logarithm of the loss to the air.
pub(super) const LOSS_LOG: usize = 2;
/// The emissivity.
pub(super) const SURFACE: usize = 3;
/// How late the sensor is where the flame comes, in seconds.
pub(super) const COMES: usize = 4;
/// How late it is where the flame goes.
pub(super) const GOES: usize = 5;
/// The logarithm of the wander of the residuals.
pub(super) const WANDER: usize = 6;

/// The middle of the rise, in kelvin.
const MIDDLE: f64 = 673.15;

/// Stands for a variance where nothing is known.
const UNKNOWN: f64 = 1e6;

/// The features of one determination and their covariance.
#[derive(Clone, Debug)]
pub(super) struct Features {
    pub(super) values: [f64; COUNT],
    pub(super) covariance: Matrix<COUNT>,
}

impl Features {
    /// Nothing where there was no heating or no cooling to fit, or no loss at all was found.
    pub(super) fn of(determination: &Determination) -> Option<Self> {
        let (fit, seating) = (&determination.fit, &determination.seating);
        let numbers = &fit.numbers;
        let [gain, flame, loss, emissivity, ..] = numbers.values;
        fit.flame?;
        if !numbers.cooled || loss <= 0.0 || flame <= MIDDLE {
            return None;
        }
        // The derivatives of the first four by the fitted parameters.
        let mut by = [[0.0; 4]; 4];
        by[HEAT][GAIN] = 1.0 / gain;
        by[HEAT][FLAME] = 1.0 / (flame - MIDDLE);
        by[FLAME_KELVIN][FLAME] = 1.0;
        by[LOSS_LOG][LOSS] = 1.0 / loss;
        by[SURFACE][EMISSIVITY] = 1.0;
        let mut covariance = [[0.0; COUNT]; COUNT];
        for row in 0..4 {
            for column in 0..4 {
                for (n, by_row) in by[row].iter().enumerate() {
                    for (m, by_column) in by[column].iter().enumerate() {
                        covariance[row][column] += by_row * numbers.covariance[n][m] * by_column;
                    }
                }
            }
        }
        let wander = fit.residuals.wander.fraction().max(0.1);
        let mut values = [
            libm::log(gain * (flame - MIDDLE)),
            flame,
            libm::log(loss),
            emissivity,
            0.0,
            0.0,
            libm::log(wander),
        ];
        for (place, lag) in [(COMES, seating.flame_comes), (GOES, seating.flame_goes)] {
            values[place] = lag.map_or(0.0, |lag| lag.value.seconds());
            let deviation = lag.map_or(UNKNOWN, |lag| lag.uncertainty.seconds());
            covariance[place][place] = deviation * deviation;
        }
        covariance[WANDER][WANDER] = WANDER_DEVIATION * WANDER_DEVIATION;
        Some(Self { values, covariance })
    }

    /// The heat into a block of 400 °C, in watt.
    pub(super) fn watt(&self) -> f64 {
        libm::exp(self.values[HEAT])
    }
}

/// The wander is a variance of some seventy means: the logarithm's deviation is the root of 2/70.
const WANDER_DEVIATION: f64 = 0.17;
