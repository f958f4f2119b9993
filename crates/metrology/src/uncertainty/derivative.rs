//! How a model's value moves with one of its inputs.

/// The partial derivative of `model` at `at` with respect to the input at `place`.
///
/// Central differences with the step halved eight times, each row of the table taking out one
/// more power of the step (Richardson's extrapolation); the entry that differs least from its
/// neighbours is taken. `step` is the first and widest: an input's standard uncertainty is of
/// the right size. Nothing, if the model has no finite value around the point.
pub(super) fn partial_derivative(
    model: &impl Fn(&[f64]) -> f64,
    at: &[f64],
    place: usize,
    step: f64,
) -> Option<f64> {
    const ROWS: usize = 9;
    let mut moved = at.to_vec();
    let mut slope = |step: f64| {
        let (above, below) = (at[place] + step, at[place] - step);
        moved[place] = above;
        let value_above = model(&moved);
        moved[place] = below;
        (value_above - model(&moved)) / (above - below)
    };
    let mut best: Option<(f64, f64)> = None;
    let mut row_before = [f64::NAN; ROWS];
    let mut halved = step;
    for row in 0..ROWS {
        let mut entries = [f64::NAN; ROWS];
        entries[0] = slope(halved);
        let mut power = 1.0;
        for column in 1..=row {
            power *= 4.0;
            let change = (entries[column - 1] - row_before[column - 1]) / (power - 1.0);
            entries[column] = entries[column - 1] + change;
            let doubt = (entries[column] - entries[column - 1])
                .abs()
                .max((entries[column] - row_before[column - 1]).abs());
            if doubt.is_finite() && best.is_none_or(|(least, _)| doubt < least) {
                best = Some((doubt, entries[column]));
            }
        }
        row_before = entries;
        halved *= 0.5;
    }
    best.map(|(_, derivative)| derivative)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn check(model: impl Fn(&[f64]) -> f64, at: f64, step: f64, expected: f64) {
        let found = partial_derivative(&model, &[at], 0, step).unwrap();
        assert!((found / expected - 1.0).abs() < 1e-10, "{found} against {expected}");
    }

    #[test]
    fn derivatives_have_ten_digits_at_wide_and_at_narrow_steps() {
        check(|x| libm::exp(x[0]), 1.0, 0.3, std::f64::consts::E);
        check(|x| libm::sin(x[0]), 0.5, 0.5, libm::cos(0.5));
        check(|x| 1.0 / x[0], 8000.0, 500.0, -1.0 / (8000.0 * 8000.0));
        check(|x| x[0] * x[0] * x[0], 2.0, 1e-3, 12.0);
    }

    #[test]
    fn a_model_that_ends_near_the_point_is_followed_with_smaller_steps() {
        check(|x| x[0].sqrt(), 1.0, 1.5, 0.5);
    }

    #[test]
    fn a_model_without_a_value_has_no_derivative() {
        assert_eq!(partial_derivative(&|_| f64::NAN, &[1.0], 0, 0.1), None);
    }
}
