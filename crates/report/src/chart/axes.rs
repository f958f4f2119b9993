//! Scales with round marks.

use super::drawing::{Anchor, At, Dash, Drawing, Ink, Pen};

/// A straight scale from a value to a place.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Scale {
    low: f64,
    high: f64,
    at_low: f64,
    at_high: f64,
}

impl Scale {
    /// The scale that puts `values` at `places`, end to end.
    pub(super) fn new(values: (f64, f64), places: (f64, f64)) -> Self {
        Self { low: values.0, high: values.1, at_low: places.0, at_high: places.1 }
    }

    pub(super) fn at(&self, value: f64) -> f64 {
        let share = (value - self.low) / (self.high - self.low);
        self.at_low + share * (self.at_high - self.at_low)
    }

    pub(super) fn holds(&self, value: f64) -> bool {
        (self.low..=self.high).contains(&value)
    }

    pub(super) const fn low(&self) -> f64 {
        self.low
    }

    pub(super) const fn high(&self) -> f64 {
        self.high
    }

    pub(super) const fn at_low(&self) -> f64 {
        self.at_low
    }

    pub(super) const fn at_high(&self) -> f64 {
        self.at_high
    }
}

/// Round values from `low` to `high`, at most `most` of them, with the decimals they need.
pub(super) fn ticks(low: f64, high: f64, most: usize) -> (Vec<f64>, usize) {
    let step = step(high - low, most);
    let decimals = if step >= 1.0 {
        0
    } else if step >= 0.1 {
        1
    } else {
        3
    };
    let first = (low / step - 1e-9).ceil();
    let marks = (0..=most).map(|index| (first + small(index)) * step);
    (marks.take_while(|mark| *mark <= high + step * 1e-9).collect(), decimals)
}

#[expect(clippy::cast_precision_loss, reason = "a chart has few ticks and few rows")]
pub(super) fn small(number: usize) -> f64 {
    number as f64
}

/// The smallest round step that needs at most `most` marks.
fn step(range: f64, most: usize) -> f64 {
    let least = (range / small(most.max(2) - 1)).max(0.001);
    let mut decade = 0.001;
    while decade < 1e12 {
        for factor in [1.0, 2.0, 5.0] {
            if factor * decade >= least {
                return factor * decade;
            }
        }
        decade *= 10.0;
    }
    decade
}

/// An axis below the picture: its line, round marks with numbers, and what it counts.
pub(super) fn across(drawing: &mut Drawing, scale: &Scale, y: f64, name: &str) {
    let pen = Pen(Ink::Line, 0.7, Dash::Solid);
    drawing.line(At(scale.at_low(), y), At(scale.at_high(), y), pen);
    let (marks, decimals) = ticks(scale.low(), scale.high(), 11);
    for mark in marks {
        let x = scale.at(mark);
        drawing.line(At(x, y), At(x, y + 3.5), pen);
        drawing.mark(At(x, y + 13.0), Anchor::Middle, &label(mark, decimals));
    }
    let middle = f64::midpoint(scale.at_low(), scale.at_high());
    drawing.text(At(middle, y + 27.0), Anchor::Middle, Ink::Black, name);
}

/// An axis at the left: its line, round marks with numbers and faint lines across, its name on
/// top.
pub(super) fn upright(drawing: &mut Drawing, scale: &Scale, (left, right): (f64, f64), name: &str) {
    let pen = Pen(Ink::Line, 0.7, Dash::Solid);
    let (marks, decimals) = ticks(scale.low(), scale.high(), 10);
    for mark in marks {
        let y = scale.at(mark);
        if mark > scale.low() {
            drawing.line(At(left, y), At(right, y), Pen(Ink::Grid, 0.5, Dash::Solid));
        }
        drawing.line(At(left - 3.5, y), At(left, y), pen);
        drawing.mark(At(left - 6.0, y + 3.0), Anchor::End, &label(mark, decimals));
    }
    drawing.line(At(left, scale.at_low()), At(left, scale.at_high()), pen);
    drawing.text(At(left - 6.0, scale.at_high() - 12.0), Anchor::Start, Ink::Black, name);
}

fn label(mark: f64, decimals: usize) -> String {
    let text = format!("{mark:.decimals$}");
    let text = if text.trim_start_matches('-').bytes().all(|b| matches!(b, b'0' | b'.')) {
        text.trim_start_matches('-').to_owned()
    } else {
        text
    };
    text.replace('-', "\u{2212}")
}

#[cfg(test)]
mod tests {
    use super::*;

    fn check(low: f64, high: f64, expected: &[f64]) {
        let (found, _) = ticks(low, high, 10);
        assert_eq!(found.len(), expected.len(), "{found:?}");
        for (found, expected) in found.iter().zip(expected) {
            assert!((found - expected).abs() < 1e-9, "{found} and not {expected}");
        }
    }

    #[test]
    fn ticks_are_round_and_stay_inside() {
        check(0.0, 800.0, &[0.0, 100.0, 200.0, 300.0, 400.0, 500.0, 600.0, 700.0, 800.0]);
        check(-3.0, 31.0, &[0.0, 5.0, 10.0, 15.0, 20.0, 25.0, 30.0]);
        check(22.0, 25.2, &[22.0, 22.5, 23.0, 23.5, 24.0, 24.5, 25.0]);
    }

    #[test]
    fn a_range_of_nothing_still_has_a_mark() {
        check(5.0, 5.0, &[5.0]);
    }

    #[test]
    fn a_mark_at_zero_has_no_sign() {
        assert_eq!(label(-0.0, 0), "0");
        assert_eq!(label(-5.0, 0), "\u{2212}5");
    }
}
