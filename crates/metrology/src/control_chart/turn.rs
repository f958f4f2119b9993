//! Since when a quantity is no longer where it was.

use super::{BaseLine, Side};
use crate::quantity::Quantity;
use crate::statistics::as_f64;

/// Where a series most likely left its centre, and how.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Turn {
    /// So many values were most likely still where they belong.
    pub still_good: usize,
    /// So many were at the least: no earlier turn agrees with the values.
    pub surely_good: usize,
    /// How it left.
    pub shape: Shape,
    /// How far, in sigma: the whole step, or the drift from one value to the next.
    pub size_sigma: f64,
}

/// How a series leaves its centre.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Shape {
    /// At once, and stays there.
    Step,
    /// A little more with each value.
    Drift,
}

/// The turn towards `side`, centre and sigma being known: a step or a straight drift from some value
/// on. Nothing if no value lies on that side.
///
/// Every turn agrees with the values whose likelihood is not far below the best: twice the
/// difference of the logarithms is at most `margin`. Of those the most likely drift is told, or the
/// most likely step where no drift is among them; and how early the earliest is.
///
/// # Source
///
/// The likelihood of normal deviates, worked out here: for each place the squares that a step or a
/// drift from there takes away.
#[must_use]
pub fn turn<Q: Quantity>(
    values: &[Q],
    base: &BaseLine<Q>,
    side: Side,
    margin: f64,
) -> Option<Turn> {
    let sign = match side {
        Side::Above => 1.0,
        Side::Below => -1.0,
    };
    let deviations: Vec<f64> =
        values.iter().map(|value| sign * base.standardised(*value)).collect();
    let mut all = Vec::new();
    for still_good in 0..deviations.len() {
        for shape in [Shape::Drift, Shape::Step] {
            let (size_sigma, taken) = shape.fitted(&deviations[still_good..]);
            if size_sigma > 0.0 {
                all.push((taken, still_good, shape, size_sigma));
            }
        }
    }
    let best = all.iter().map(|it| it.0).reduce(f64::max)?;
    all.retain(|it| it.0 >= best - margin);
    let surely_good = all.iter().map(|it| it.1).min()?;
    let most = |shape: Shape| {
        all.iter().filter(|it| it.2 == shape).max_by(|one, other| one.0.total_cmp(&other.0))
    };
    let (_, still_good, shape, size_sigma) = *most(Shape::Drift).or_else(|| most(Shape::Step))?;
    Some(Turn { still_good, surely_good, shape, size_sigma })
}

impl Shape {
    /// The size of this shape that fits the deviations best, and the squares that it takes away.
    fn fitted(self, deviations: &[f64]) -> (f64, f64) {
        let (mut product, mut square) = (0.0, 0.0);
        for (place, deviation) in deviations.iter().enumerate() {
            let of_shape = match self {
                Self::Step => 1.0,
                Self::Drift => as_f64(place + 1),
            };
            product += of_shape * deviation;
            square += of_shape * of_shape;
        }
        (product / square, product * product / square)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::Duration;

    fn check(values: &[f64], side: Side, expected: Option<(usize, Shape, f64)>) {
        let seconds = Duration::from_seconds;
        let base = BaseLine { centre: seconds(10.0), sigma: seconds(2.0) };
        let values: Vec<Duration> = values.iter().copied().map(seconds).collect();
        let found = turn(&values, &base, side, 0.5);
        assert!(found.is_none_or(|it| it.surely_good <= it.still_good));
        let found = found.map(|it| (it.still_good, it.shape, it.size_sigma));
        assert_eq!(found, expected);
    }

    #[test]
    fn a_step_and_a_drift_are_told_apart() {
        check(&[10.0, 10.0, 14.0, 14.0, 14.0], Side::Above, Some((2, Shape::Step, 2.0)));
        check(&[10.0, 10.0, 12.0, 14.0, 16.0, 18.0], Side::Above, Some((2, Shape::Drift, 1.0)));
        check(&[10.0, 10.0, 8.0, 6.0, 4.0, 2.0], Side::Below, Some((2, Shape::Drift, 1.0)));
    }

    #[test]
    fn a_wider_margin_lets_the_turn_be_earlier() {
        let seconds = Duration::from_seconds;
        let base = BaseLine { centre: seconds(10.0), sigma: seconds(2.0) };
        let values = [10.4, 9.8, 10.4, 11.0, 11.4, 12.2].map(seconds);
        let good = |margin| turn(&values, &base, Side::Above, margin).map(|it| it.surely_good);
        assert_eq!((good(0.0), good(3.84)), (Some(2), Some(0)));
    }

    #[test]
    fn values_on_the_other_side_have_no_turn() {
        check(&[9.0, 9.0], Side::Above, None);
        check(&[], Side::Above, None);
    }
}
