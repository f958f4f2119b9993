//! The flame chart: each confirmation as a dot, the weighted mean as a line, two kinds of limits,
//! the sums below, and what changed at the bench.

use std::ops::Range;

use metrology::Duration;
use metrology::control_chart::{Side, Sums};
use trial::flame_chart::{ChartMark, ChartRules, FlameChart, Spot};

use super::axes::{Scale, small, upright};
use super::drawing::{Anchor, At, Chart, Dash, Drawing, Filled, Ink, Look, Pen};

const WIDTH: f64 = 470.0;
const LEFT: f64 = 34.0;
const RIGHT: f64 = 378.0;
const TOP: f64 = 44.0;
const BOTTOM: f64 = 214.0;
/// Words inside the picture stand at this height, below the method's upper limit.
const WORDS: f64 = TOP + 23.0;
/// The sums stand below, between these.
const SUMS_TOP: f64 = 252.0;
const SUMS_BOTTOM: f64 = 312.0;

const METHOD: Pen = Pen(Ink::Rust, 1.1, Dash::Solid);
const THREE_SIGMA: Pen = Pen(Ink::Blue, 1.1, Dash::Dashed);
const MEAN_LIMIT: Pen = Pen(Ink::Line, 0.9, Dash::Dotted);

/// The letter of a change on the chart, by its place among all changes: `a` to `z`, then `aa`.
#[must_use]
pub fn mark_letter(place: usize) -> String {
    let letter = |place: usize| char::from(b'a' + u8::try_from(place % 26).unwrap_or(0));
    match (place / 26).checked_sub(1) {
        None => letter(place).to_string(),
        Some(first) => format!("{}{}", letter(first), letter(place)),
    }
}

/// The chart of the spots `shown`. Nothing of none.
#[must_use]
pub fn flame_chart(
    chart: &FlameChart,
    rules: &ChartRules,
    shown: Range<usize>,
    look: Look,
) -> Option<Chart> {
    let spots = chart.spots.get(shown.clone())?;
    if spots.is_empty() {
        return None;
    }
    let mut drawing = Drawing::new(look, WIDTH, SUMS_BOTTOM + 34.0);
    let order = Scale::new((small(shown.start) - 0.7, small(shown.end - 1) + 0.7), (LEFT, RIGHT));
    let rise = heights(chart, spots);
    let picture = Picture { chart, rules, shown, order, rise };
    picture.base(&mut drawing);
    upright(&mut drawing, &picture.rise, (LEFT, RIGHT), "mean rise time, s; up is slower");
    picture.marks(&mut drawing);
    let mut names = picture.limits(&mut drawing);
    picture.weighted(&mut drawing, &mut names);
    picture.spots(&mut drawing);
    picture.calls(&mut drawing);
    named(&mut drawing, names);
    picture.sums(&mut drawing);
    picture.days(&mut drawing);
    Some(drawing.finish("Flame chart", chart.told().join(" ")))
}

struct Picture<'a> {
    chart: &'a FlameChart,
    rules: &'a ChartRules,
    shown: Range<usize>,
    order: Scale,
    rise: Scale,
}

/// What a line is called at its end.
struct Name {
    y: f64,
    ink: Ink,
    words: String,
}

/// All that is drawn, and the method's own limits, with a little room.
fn heights(chart: &FlameChart, spots: &[Spot]) -> Scale {
    let means = spots.iter().map(|spot| spot.mean);
    let base = chart.base.into_iter().flat_map(|base| [base.limits.low, base.limits.high]);
    let band = chart.band.iter().flat_map(|band| [band.limits.low, band.limits.high]);
    let all = means.chain(base).chain(band).map(Duration::seconds);
    let (low, high) = all.fold((f64::INFINITY, f64::NEG_INFINITY), |(low, high), value| {
        (low.min(value), high.max(value))
    });
    let room = (0.06 * (high - low)).max(0.05);
    Scale::new((low - room, high + room), (BOTTOM, TOP))
}

impl Picture<'_> {
    fn each(&self) -> impl Iterator<Item = (f64, &Spot)> {
        self.shown
            .clone()
            .zip(&self.chart.spots[self.shown.clone()])
            .map(|(place, spot)| (self.order.at(small(place)), spot))
    }

    /// The confirmations of the base line lie on a band.
    fn base(&self, drawing: &mut Drawing) {
        let Some(base) = self.chart.base else { return };
        let (first, last) = (base.first.max(self.shown.start), base.last.min(self.shown.end - 1));
        if first > last {
            return;
        }
        let (from, to) = (self.order.at(small(first) - 0.5), self.order.at(small(last) + 0.5));
        drawing.rect(At(from, TOP), At(to, BOTTOM), Ink::Band);
        let words = if base.frozen.is_some() { "base line" } else { "base line, not frozen" };
        drawing.small(At(from + 3.0, WORDS), Anchor::Start, Ink::Quiet, words);
    }

    /// Both kinds of limits, and the centre.
    fn limits(&self, drawing: &mut Drawing) -> Vec<Name> {
        let mut names = Vec::new();
        let mut line = |value: Duration, pen: Pen, words: String| {
            let y = self.rise.at(value.seconds());
            drawing.line(At(LEFT, y), At(RIGHT, y), pen);
            names.push(Name { y, ink: pen.0, words });
        };
        if let Some(band) = &self.chart.band {
            for value in [band.limits.low, band.limits.high] {
                line(value, METHOD, format!("method {:.1}", value.seconds()));
            }
        }
        if let Some(base) = self.chart.base {
            let centre = Pen(Ink::Line, 0.7, Dash::Solid);
            line(base.line.centre, centre, format!("centre {:.2}", base.line.centre.seconds()));
            for value in [base.limits.low, base.limits.high] {
                line(value, THREE_SIGMA, format!("3 sigma {:.2}", value.seconds()));
            }
        }
        names
    }

    /// The weighted mean, and its own limits, piece by piece: it begins anew after an answer.
    fn weighted(&self, drawing: &mut Drawing, names: &mut Vec<Name>) {
        let charted: Vec<_> = self
            .each()
            .filter_map(|(x, spot)| Some((x, spot.at, spot.charted?.weighted)))
            .collect();
        let answers: Vec<_> = self
            .chart
            .calls
            .iter()
            .filter_map(|call| call.answer.as_ref())
            .map(|answer| answer.at)
            .collect();
        let same = |one: &(f64, trial::moment::Moment, _),
                    other: &(f64, trial::moment::Moment, _)| {
            !answers.iter().any(|at| (one.1..other.1).contains(at))
        };
        for piece in charted.chunk_by(same) {
            let at = |(x, value): (f64, Duration)| {
                At(x, self.rise.at(value.seconds()).clamp(TOP, BOTTOM))
            };
            let line: Vec<At> = piece.iter().map(|it| at((it.0, it.2.value))).collect();
            let low: Vec<At> = piece.iter().map(|it| at((it.0, it.2.limits.low))).collect();
            let high: Vec<At> = piece.iter().map(|it| at((it.0, it.2.limits.high))).collect();
            drawing.path(&low, MEAN_LIMIT);
            drawing.path(&high, MEAN_LIMIT);
            drawing.path(&line, Pen(Ink::Black, 1.5, Dash::Solid));
        }
        if let Some((.., last)) = charted.last() {
            let y = |value: Duration| self.rise.at(value.seconds());
            let words = "weighted mean".to_owned();
            names.push(Name { y: y(last.value), ink: Ink::Black, words });
            let words = "limit of that mean".to_owned();
            names.push(Name { y: y(last.limits.high), ink: Ink::Quiet, words });
        }
    }

    /// Each confirmation; one beyond three sigma is hollow.
    fn spots(&self, drawing: &mut Drawing) {
        for (x, spot) in self.each() {
            let at = At(x, self.rise.at(spot.mean.seconds()));
            if spot.charted.is_some_and(|it| it.beyond.is_some()) {
                drawing.dot(at, 3.2, Filled(Ink::Rust, Ink::Ground));
            } else {
                drawing.dot(at, 1.6, Filled(Ink::Black, Ink::Black));
            }
        }
    }

    /// Where the weighted mean left its limits, and the turn before.
    fn calls(&self, drawing: &mut Drawing) {
        for call in &self.chart.calls {
            if let Some(spot) = self.chart.spots.get(call.place)
                && self.shown.contains(&call.place)
                && let Some(charted) = spot.charted
            {
                let y = self.rise.at(charted.weighted.value.seconds()).clamp(TOP, BOTTOM);
                let x = self.order.at(small(call.place));
                drawing.dot(At(x, y), 4.4, Filled(Ink::Black, Ink::Ground));
                let below = call.side == Side::Above;
                let y = if below { y + 16.0 } else { y - 9.0 };
                drawing.text(At(x, y), Anchor::Middle, Ink::Black, "call");
            }
            let turn = small(call.since) - 0.5;
            if self.order.holds(turn) {
                let x = self.order.at(turn);
                drawing.line(At(x, TOP), At(x, BOTTOM), Pen(Ink::Black, 0.8, Dash::Fine));
                drawing.small(At(x + 3.0, WORDS), Anchor::Start, Ink::Black, "turn");
            }
        }
    }

    /// What changed, each by a letter above the chart.
    fn marks(&self, drawing: &mut Drawing) {
        let mut free = f64::NEG_INFINITY;
        for (place, mark) in self.chart.marks.iter().enumerate() {
            let Some(x) = self.place(mark) else { continue };
            drawing.line(At(x, TOP), At(x, BOTTOM), Pen(Ink::Line, 0.6, Dash::Fine));
            // Two changes at one place stand beside each other.
            let letter_x = x.max(free);
            free = letter_x + 8.0;
            let letter = mark_letter(place);
            drawing.text(At(letter_x, TOP - 2.0), Anchor::Middle, Ink::Black, &letter);
        }
    }

    fn place(&self, mark: &ChartMark) -> Option<f64> {
        let place = small(mark.after) - 0.5;
        self.order.holds(place).then(|| self.order.at(place))
    }

    /// The sums of both sides against their limit.
    fn sums(&self, drawing: &mut Drawing) {
        let limit = self.rules.cusum.decision_sigma;
        let charted: Vec<_> =
            self.each().filter_map(|(x, spot)| Some((x, spot.charted?.sums))).collect();
        let largest = |sums: fn(&Sums) -> f64| {
            1.1 * charted.iter().map(|(_, it)| sums(it)).fold(limit, f64::max)
        };
        let (high, low) = (largest(|it| it.above_sigma), -largest(|it| it.below_sigma));
        let scale = Scale::new((low, high), (SUMS_BOTTOM, SUMS_TOP));
        drawing.text(At(LEFT - 6.0, SUMS_TOP - 8.0), Anchor::Start, Ink::Black, "sums, sigma");
        let axis = Pen(Ink::Line, 0.7, Dash::Solid);
        drawing.line(At(LEFT, SUMS_TOP), At(LEFT, SUMS_BOTTOM), axis);
        drawing.line(At(LEFT, scale.at(0.0)), At(RIGHT, scale.at(0.0)), axis);
        let mut names = vec![Name { y: scale.at(0.0), ink: Ink::Quiet, words: "0".to_owned() }];
        for (limit, words) in [(limit, "slower"), (-limit, "faster")] {
            let y = scale.at(limit);
            drawing.line(At(LEFT, y), At(RIGHT, y), THREE_SIGMA);
            let words = format!("limit {}, {words}", limit.abs());
            names.push(Name { y, ink: Ink::Blue, words });
        }
        let above: Vec<At> =
            charted.iter().map(|(x, sums)| At(*x, scale.at(sums.above_sigma))).collect();
        let below: Vec<At> =
            charted.iter().map(|(x, sums)| At(*x, scale.at(-sums.below_sigma))).collect();
        drawing.path(&above, Pen(Ink::Black, 1.3, Dash::Solid));
        drawing.path(&below, Pen(Ink::Black, 1.1, Dash::Dashed));
        named(drawing, names);
    }

    /// Days below, as many as stand beside each other.
    fn days(&self, drawing: &mut Drawing) {
        let pen = Pen(Ink::Line, 0.7, Dash::Solid);
        drawing.line(At(LEFT, SUMS_BOTTOM), At(RIGHT, SUMS_BOTTOM), pen);
        let step = self.shown.len().div_ceil(5).max(1);
        for (nth, (x, spot)) in self.each().enumerate() {
            if nth % step == 0 {
                drawing.line(At(x, SUMS_BOTTOM), At(x, SUMS_BOTTOM + 3.5), pen);
                let day = spot.at.day().to_string();
                drawing.text(At(x, SUMS_BOTTOM + 13.0), Anchor::Start, Ink::Black, &day);
                let number = spot.number.to_string();
                drawing.small(At(x, SUMS_BOTTOM + 24.0), Anchor::Start, Ink::Quiet, &number);
            }
        }
    }
}

/// The name of each line at its end, moved apart where they would touch.
fn named(drawing: &mut Drawing, mut names: Vec<Name>) {
    const STEP: f64 = 9.5;
    names.sort_by(|one, other| one.y.total_cmp(&other.y));
    let mut free = f64::NEG_INFINITY;
    for name in names {
        let y = name.y.max(free);
        free = y + STEP;
        let thin = Pen(name.ink, 0.4, Dash::Solid);
        drawing.line(At(RIGHT + 1.0, name.y), At(RIGHT + 7.0, y), thin);
        drawing.small(At(RIGHT + 9.0, y + 3.0), Anchor::Start, name.ink, &name.words);
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn letters_go_on_after_z() {
        let found: Vec<String> = [0, 25, 26, 27, 52].map(mark_letter).to_vec();
        assert_eq!(found, ["a", "z", "aa", "ab", "ba"]);
    }
}
