//! A straight line and a parabola through a few readings, by least squares.

/// A straight line through readings, and how well it is known.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Line {
    pub(crate) count: usize,
    /// The mean of the times, in seconds.
    pub(crate) middle: f64,
    /// The mean of the temperatures, in degrees Celsius.
    pub(crate) level: f64,
    /// In kelvin per second.
    pub(crate) slope: f64,
    /// The sum of the squared distances of the times from their mean.
    pub(crate) spread: f64,
}

/// How far readings lie from a smooth curve.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Scatter {
    /// The standard deviation of one reading, in kelvin.
    pub(crate) deviation: f64,
    /// What it was found from: readings less the numbers fitted.
    pub(crate) degrees_of_freedom: usize,
    /// The curve's second derivative, in kelvin per second squared.
    pub(crate) curvature: f64,
}

/// Seconds and degrees Celsius of one reading.
pub(crate) type Reading = (f64, f64);

#[expect(clippy::cast_precision_loss, reason = "a count of readings is far below 2^53")]
const fn real(count: usize) -> f64 {
    count as f64
}

/// The straight line through `readings`, or nothing where fewer than two make none.
pub(crate) fn line(readings: impl Iterator<Item = Reading> + Clone) -> Option<Line> {
    let (mut count, mut sum_at, mut sum_value) = (0_usize, 0.0, 0.0);
    let from = readings.clone().next()?;
    for (at, value) in readings.clone() {
        count += 1;
        sum_at += at - from.0;
        sum_value += value - from.1;
    }
    let (middle, level) = (from.0 + sum_at / real(count), from.1 + sum_value / real(count));
    let (mut spread, mut product) = (0.0, 0.0);
    for (at, value) in readings {
        spread += (at - middle) * (at - middle);
        product += (at - middle) * (value - level);
    }
    (count >= 2 && spread > 0.0).then(|| Line {
        count,
        middle,
        level,
        slope: product / spread,
        spread,
    })
}

impl Line {
    /// The line's temperature at a time.
    pub(crate) fn at(&self, at: f64) -> f64 {
        self.level + self.slope * (at - self.middle)
    }

    /// The variance of the line's temperature at a time, for readings of variance 1.
    pub(crate) fn variance(&self, at: f64) -> f64 {
        1.0 / real(self.count) + (at - self.middle) * (at - self.middle) / self.spread
    }

    /// The standard deviation of `readings` about this line that was fitted to them.
    pub(crate) fn scatter(&self, readings: impl Iterator<Item = Reading>) -> f64 {
        let squares: f64 =
            readings.map(|(at, value)| (value - self.at(at)) * (value - self.at(at))).sum();
        if self.count > 2 { (squares / real(self.count - 2)).sqrt() } else { 0.0 }
    }
}

/// How `readings` scatter about a parabola, or nothing where fewer than four tell.
///
/// The parabola is built of three polynomials that are orthogonal on the readings' times, so
/// that no system of equations is solved.
pub(crate) fn scatter(readings: impl Iterator<Item = Reading> + Clone) -> Option<Scatter> {
    let line = line(readings.clone())?;
    if line.count < 4 {
        return None;
    }
    let cubes: f64 = readings.clone().map(|(at, _)| cube(at - line.middle)).sum();
    let (tilt, mean_square) = (cubes / line.spread, line.spread / real(line.count));
    let bow = |at: f64| {
        let x = at - line.middle;
        x * x - tilt * x - mean_square
    };
    let (mut bow_square, mut bow_product) = (0.0, 0.0);
    for (at, value) in readings.clone() {
        bow_square += bow(at) * bow(at);
        bow_product += bow(at) * (value - line.at(at));
    }
    let factor = if bow_square > 0.0 { bow_product / bow_square } else { 0.0 };
    let squares: f64 = readings
        .map(|(at, value)| value - line.at(at) - factor * bow(at))
        .map(|residual| residual * residual)
        .sum();
    let degrees_of_freedom = line.count - 3;
    Some(Scatter {
        deviation: (squares / real(degrees_of_freedom)).sqrt(),
        degrees_of_freedom,
        curvature: 2.0 * factor,
    })
}

fn cube(x: f64) -> f64 {
    x * x * x
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_parabola_scatters_by_nothing_about_itself() {
        let at = [0.0, 0.2, 0.3, 0.7, 1.1, 1.2];
        let readings = at.map(|at| (at + 1e4, 7.0 + 3.0 * at - 0.5 * at * at));
        let found = scatter(readings.into_iter()).unwrap();
        assert!(found.deviation < 1e-9, "{found:?}");
        assert!((found.curvature + 1.0).abs() < 1e-6, "{found:?}");
        assert_eq!(found.degrees_of_freedom, 3);
    }

    #[test]
    fn a_line_knows_its_middle_best() {
        let readings = [(0.0, 1.0), (1.0, 3.0), (2.0, 5.0), (3.0, 7.0)];
        let found = line(readings.into_iter()).unwrap();
        assert!((found.slope - 2.0).abs() < 1e-12 && (found.at(1.5) - 4.0).abs() < 1e-12);
        assert!((found.variance(1.5) - 0.25).abs() < 1e-12);
        assert!((found.variance(0.0) - 0.7).abs() < 1e-12);
        assert!(line([(1.0, 2.0)].into_iter()).is_none());
    }
}
