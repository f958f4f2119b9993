//! The straight line through points by least squares, with what its parameters are worth.

use crate::measurement::DegreesOfFreedom;
use crate::statistics::as_f64;
use thiserror::Error;

/// Fits y = intercept + slope·x by least squares.
///
/// Sums are taken about the weighted mean of x, so a large common part costs no digits. The
/// intercept is the line's value at x = 0: subtract a reference from x beforehand if that
/// place is far from the points.
///
/// # Errors
///
/// [`LineError`] for fewer points than the parameters (and their scatter) need, points that
/// all lie above one another, or a number that is not finite or an uncertainty that is not
/// positive.
///
/// # Source
///
/// GUM H.3 for [`Weighting::Equal`]; the same formulas with weights 1/u² else.
///
/// # Examples
///
/// ```
/// use metrology::fit::{LinePoint, Weighting, fit_line};
/// let points = [(0.0, 1.0), (1.0, 3.1), (2.0, 4.9)].map(|(x, y)| LinePoint { x, y });
/// let line = fit_line(&points, Weighting::Equal)?;
/// assert_eq!(format!("{:.2} {:.2}", line.intercept, line.slope), "1.05 1.95");
/// # Ok::<(), metrology::fit::LineError>(())
/// ```
pub fn fit_line(points: &[LinePoint], weighting: Weighting<'_>) -> Result<Line, LineError> {
    let needed = match weighting {
        Weighting::Equal => 3,
        Weighting::Uncertainties(_) => 2,
    };
    if points.len() < needed {
        return Err(LineError::TooFew { found: points.len(), needed });
    }
    if let Some(place) = points.iter().position(|p| !(p.x.is_finite() && p.y.is_finite())) {
        return Err(LineError::NotFinite { number: place + 1 });
    }
    let weights = weights(points.len(), weighting)?;
    let total: f64 = weights.iter().sum();
    let weighted = |value: fn(&LinePoint) -> f64| {
        let first = value(&points[0]);
        let sum: f64 = points.iter().zip(&weights).map(|(p, w)| w * (value(p) - first)).sum();
        first + sum / total
    };
    let (centre_x, centre_y) = (weighted(|point| point.x), weighted(|point| point.y));
    let (mut spread, mut along) = (0.0, 0.0);
    for (point, weight) in points.iter().zip(&weights) {
        let from_centre = point.x - centre_x;
        spread += weight * from_centre * from_centre;
        along += weight * from_centre * (point.y - centre_y);
    }
    if points.iter().all(|point| point.x.to_bits() == points[0].x.to_bits()) || spread <= 0.0 {
        return Err(LineError::OneAboveAnother { x: points[0].x });
    }
    let slope = along / spread;
    let residual = |point: &LinePoint| (point.y - centre_y) - slope * (point.x - centre_x);
    let squares: f64 =
        points.iter().zip(&weights).map(|(p, w)| w * residual(p) * residual(p)).sum();
    let free = as_f64(points.len()) - 2.0;
    let residual_deviation = if free > 0.0 { (squares / free).sqrt() } else { 0.0 };
    let (variance, degrees_of_freedom) = match weighting {
        Weighting::Equal => (squares / free, DegreesOfFreedom::Of(free)),
        Weighting::Uncertainties(_) => (1.0, DegreesOfFreedom::Infinite),
    };
    let slope_variance = variance / spread;
    let intercept_variance = variance / total + centre_x * centre_x * slope_variance;
    let size = (slope_variance * intercept_variance).sqrt();
    Ok(Line {
        intercept: centre_y - slope * centre_x,
        slope,
        intercept_uncertainty: intercept_variance.sqrt(),
        slope_uncertainty: slope_variance.sqrt(),
        correlation: if size > 0.0 { -centre_x * slope_variance / size } else { 0.0 },
        residual_deviation,
        degrees_of_freedom,
        centre: LinePoint { x: centre_x, y: centre_y },
        centre_variance: variance / total,
    })
}

/// One point, x and y each in a unit of the caller's choice.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct LinePoint {
    /// Taken as exact.
    pub x: f64,
    /// What scatters.
    pub y: f64,
}

/// How the points count.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Weighting<'points> {
    /// All alike; their scatter about the line tells the uncertainty.
    Equal,
    /// By the standard uncertainty of each y, taken as known; the scatter is not used.
    Uncertainties(&'points [f64]),
}

/// A fitted line, in the units of its points.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Line {
    /// y at x = 0.
    pub intercept: f64,
    /// Change of y with x.
    pub slope: f64,
    /// Standard uncertainty of the intercept.
    pub intercept_uncertainty: f64,
    /// Standard uncertainty of the slope.
    pub slope_uncertainty: f64,
    /// r between intercept and slope.
    pub correlation: f64,
    /// Standard deviation of the points about the line; with uncertainties given, in units of
    /// those, so that 1 means "as uncertain as was said".
    pub residual_deviation: f64,
    /// Of the uncertainties above.
    pub degrees_of_freedom: DegreesOfFreedom,
    centre: LinePoint,
    centre_variance: f64,
}

impl Line {
    /// The line's value at `x`, and its standard uncertainty there.
    #[must_use]
    pub fn at(&self, x: f64) -> (f64, f64) {
        let from_centre = x - self.centre.x;
        let turn = self.slope_uncertainty * from_centre;
        let variance = self.centre_variance + turn * turn;
        (self.centre.y + self.slope * from_centre, variance.sqrt())
    }
}

/// Why no line can be laid through points.
#[derive(Clone, Copy, Debug, PartialEq, Error)]
pub enum LineError {
    /// Too few points.
    #[error("a line needs at least {needed} points here, not {found}")]
    TooFew {
        /// How many there were.
        found: usize,
        /// How many it takes.
        needed: usize,
    },
    /// A coordinate that is not a finite number.
    #[error("point {number} has a coordinate that is no finite number")]
    NotFinite {
        /// Which point, counted from 1.
        number: usize,
    },
    /// All points have one x.
    #[error("all points lie at x = {x}; a line needs two different places")]
    OneAboveAnother {
        /// Their x.
        x: f64,
    },
    /// Not one uncertainty for each point.
    #[error("{found} uncertainties for {points} points")]
    Uncertainties {
        /// How many points there are.
        points: usize,
        /// How many uncertainties there were.
        found: usize,
    },
    /// An uncertainty that is not above zero.
    #[error("point {number} needs an uncertainty above zero, not {found}")]
    Uncertainty {
        /// Which point, counted from 1.
        number: usize,
        /// What was found.
        found: f64,
    },
}

fn weights(points: usize, weighting: Weighting<'_>) -> Result<Vec<f64>, LineError> {
    let uncertainties = match weighting {
        Weighting::Equal => return Ok(vec![1.0; points]),
        Weighting::Uncertainties(uncertainties) => uncertainties,
    };
    if uncertainties.len() != points {
        return Err(LineError::Uncertainties { points, found: uncertainties.len() });
    }
    let weight = |(place, &found): (usize, &f64)| {
        if found.is_finite() && found > 0.0 {
            Ok(1.0 / (found * found))
        } else {
            Err(LineError::Uncertainty { number: place + 1, found })
        }
    };
    uncertainties.iter().enumerate().map(weight).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    fn points(pairs: &[(f64, f64)]) -> Vec<LinePoint> {
        pairs.iter().map(|&(x, y)| LinePoint { x, y }).collect()
    }

    #[test]
    fn what_cannot_be_fitted_is_named() {
        let fit = |pairs: &[(f64, f64)]| fit_line(&points(pairs), Weighting::Equal).unwrap_err();
        assert_eq!(fit(&[(0.0, 0.0)]), LineError::TooFew { found: 1, needed: 3 });
        assert_eq!(
            fit(&[(2.0, 0.0), (2.0, 1.0), (2.0, 5.0)]),
            LineError::OneAboveAnother { x: 2.0 }
        );
        assert_eq!(
            fit(&[(0.0, 0.0), (1.0, f64::NAN), (2.0, 0.0)]),
            LineError::NotFinite { number: 2 }
        );
        let two = points(&[(0.0, 0.0), (1.0, 1.0)]);
        assert_eq!(
            fit_line(&two, Weighting::Uncertainties(&[1.0, 0.0])),
            Err(LineError::Uncertainty { number: 2, found: 0.0 })
        );
    }

    #[test]
    fn equal_uncertainties_give_the_line_of_equal_points() {
        let scattered = points(&[(0.0, 1.0), (1.0, 2.5), (2.0, 2.9), (5.0, 6.1)]);
        let equal = fit_line(&scattered, Weighting::Equal).unwrap();
        let same = vec![equal.residual_deviation; 4];
        let known = fit_line(&scattered, Weighting::Uncertainties(&same)).unwrap();
        assert!((known.slope - equal.slope).abs() < 1e-14);
        assert!((known.slope_uncertainty - equal.slope_uncertainty).abs() < 1e-14);
        assert!((known.at(3.0).1 - equal.at(3.0).1).abs() < 1e-14);
        assert!((known.residual_deviation - 1.0).abs() < 1e-14);
    }

    #[test]
    fn a_far_origin_costs_no_digits() {
        let near = points(&[(0.0, 1.0), (1.0, 2.5), (2.0, 2.9)]);
        let far: Vec<_> = near.iter().map(|p| LinePoint { x: p.x + 1e9, ..*p }).collect();
        let near = fit_line(&near, Weighting::Equal).unwrap();
        let far = fit_line(&far, Weighting::Equal).unwrap();
        assert!((near.slope / far.slope - 1.0).abs() < 1e-14);
        assert!((near.at(1.5).0 - far.at(1e9 + 1.5).0).abs() < 1e-12);
    }
}
