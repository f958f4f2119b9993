//! The bench's own accepted determinations: what is usual here, and how much it varies.

use metrology::{DegreesOfFreedom, HeatTransferCoefficient, Measurement, Ratio};

use super::super::cooling_clock::CoolingKnown;
use super::super::linear::Matrix;
use super::features::{COUNT, Features, LOSS_LOG, SURFACE};
use super::ranges::Ranges;
use super::{Determination, DiagnosisError};

/// What is usual on a bench.
#[derive(Clone, Debug)]
pub struct BaseLine {
    pub(super) number: usize,
    pub(super) mean: [f64; COUNT],
    /// How much determinations differ beyond what their own uncertainties explain.
    between: [f64; COUNT],
    /// The mean of their own covariances.
    within: Matrix<COUNT>,
}

impl BaseLine {
    /// The base line of accepted determinations, all of the same block as its record has it.
    ///
    /// # Errors
    ///
    /// When there are too few with a heating and a cooling.
    pub fn of<'a>(
        accepted: impl IntoIterator<Item = &'a Determination>,
    ) -> Result<Self, DiagnosisError> {
        let all: Vec<Features> = accepted.into_iter().filter_map(Features::of).collect();
        let needed = Ranges::built_in().fewest;
        if all.len() < needed {
            return Err(DiagnosisError::BaseLine { found: all.len(), needed });
        }
        let number = super::real(all.len());
        let mean = std::array::from_fn(|n| {
            all.iter().map(|features| features.values[n]).sum::<f64>() / number
        });
        let mut within = [[0.0; COUNT]; COUNT];
        for features in &all {
            for (sums, row) in within.iter_mut().zip(&features.covariance) {
                for (sum, entry) in sums.iter_mut().zip(row) {
                    *sum += entry / number;
                }
            }
        }
        let between = std::array::from_fn(|n| {
            let off = |features: &Features| features.values[n] - mean[n];
            let squares: f64 = all.iter().map(|features| off(features) * off(features)).sum();
            let variance = squares / (number - 1.0);
            // A part of it at least: that the rest explains all would be chance.
            (variance - within[n][n]).max(0.1 * variance)
        });
        Ok(Self { number: all.len(), mean, between, within })
    }

    /// The covariance of what one more determination is off the mean by.
    pub(super) fn covariance(&self, features: &Features) -> Matrix<COUNT> {
        let number = super::real(self.number);
        std::array::from_fn(|row| {
            std::array::from_fn(|column| {
                let between = if row == column { self.between[row] } else { 0.0 };
                between * (1.0 + 1.0 / number)
                    + features.covariance[row][column]
                    + self.within[row][column] / number
            })
        })
    }

    /// What it tells of a cooling beforehand.
    #[must_use]
    pub fn cooling_known(&self) -> CoolingKnown {
        let free = DegreesOfFreedom::Of(super::real(self.number) - 1.0);
        let loss = libm::exp(self.mean[LOSS_LOG]);
        let deviation =
            |n: usize| (self.between[n] + self.within[n][n] / super::real(self.number)).sqrt();
        let watt = HeatTransferCoefficient::from_watt_per_square_metre_kelvin;
        CoolingKnown::of_own_bench(
            Measurement {
                value: watt(loss),
                uncertainty: watt(loss * deviation(LOSS_LOG)),
                degrees_of_freedom: free,
            },
            Measurement {
                value: Ratio::from_fraction(self.mean[SURFACE]),
                uncertainty: Ratio::from_fraction(deviation(SURFACE)),
                degrees_of_freedom: free,
            },
        )
    }

    /// How many determinations it is made of.
    #[must_use]
    pub const fn number(&self) -> usize {
        self.number
    }
}
