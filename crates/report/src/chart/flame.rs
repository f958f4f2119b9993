//! The confirmation of a flame: curves of the block on one scale, and each value with its
//! uncertainty against what is accepted.

use metrology::Duration;
use reading::Trace;

use super::axes::{Scale, across, small, upright};
use super::decimate::thinned;
use super::drawing::{Anchor, At, Chart, Dash, Drawing, Filled, Ink, Pen};
use crate::content::{Accepted, Determination, Flame, Value};
use crate::pdf::Curve;
use crate::words::{self, Words};
use trial::fact::Language;

const WIDTH: f64 = 470.0;
const LEFT: f64 = 34.0;

/// How long a curve is drawn beyond the top of the window.
const BEYOND_S: f64 = 2.0;

/// The curves of the determinations, laid over each other where they pass the bottom of the
/// window, so that the rise times can be compared along the top of it.
///
/// Nothing when no curve passes the window.
#[must_use]
pub fn confirmation(flame: &Flame, curves: &[Curve], language: Language) -> Option<Chart> {
    let words = words::of(language);
    let (said, text) = (&words.charts, |value: &Value| (words.shown)(&value.text()));
    let drawn: Vec<Drawn<'_>> = drawn(flame, curves);
    let latest = drawn.iter().map(|curve| curve.rise_s).reduce(f64::max)?;
    let accepted = band(&flame.accepted);
    let end = (latest.max(accepted.1) + BEYOND_S + 1.0).max(28.0);
    let (right, top, bottom) = (392.0, 30.0, 240.0);
    let mut drawing = Drawing::in_words(words, WIDTH, bottom + 34.0);
    let time = Scale::new((-4.0, end), (LEFT, right));
    let heat = Scale::new((0.0, 800.0), (bottom, top));

    let band_at = (time.at(accepted.0), time.at(accepted.1));
    drawing.rect(At(band_at.0, top), At(band_at.1, bottom), Ink::Band);
    let middle = f64::midpoint(band_at.0, band_at.1);
    let between = between(&flame.accepted, words);
    let shown = (said.accepted)(&between);
    drawing.small(At(middle, top - 6.0), Anchor::Middle, Ink::Quiet, &shown);
    upright(&mut drawing, &heat, (LEFT, right), said.block_temperature);
    let (low, high) = (&flame.window_bottom, &flame.window_top);
    across(&mut drawing, &time, bottom, &(said.since_passed)(&text(low)));
    for (limit, name) in [low, high].into_iter().zip(said.window) {
        let y = heat.at(limit.value);
        drawing.line(At(LEFT, y), At(right, y), Pen(Ink::Line, 0.7, Dash::Fine));
        let name = format!("{name}, {}", text(limit));
        let place = if limit == low {
            (At(right - 3.0, y - 4.0), Anchor::End)
        } else {
            (At(LEFT + 5.0, y - 4.0), Anchor::Start)
        };
        drawing.small(place.0, place.1, Ink::Quiet, &name);
    }
    for (index, curve) in drawn.iter().enumerate() {
        curve.draw(&mut drawing, (&time, &heat), pen(index, curve.number));
    }
    label(&mut drawing, &drawn, (&time, &heat), words);
    let lines = drawn.iter().map(|curve| curve.told(flame, words)).collect::<Vec<_>>().join(" ");
    let told = (said.curves)([&text(low), &lines, &between]);
    Some(drawing.finish(said.curves_title, told))
}

/// One curve, its zero where it passes the bottom of the window.
struct Drawn<'a> {
    number: &'a Determination,
    trace: &'a Trace,
    zero_s: f64,
    rise_s: f64,
    top_celsius: f64,
}

fn drawn<'a>(flame: &'a Flame, curves: &'a [Curve]) -> Vec<Drawn<'a>> {
    let with_curve = flame.determinations.iter().filter_map(|number| {
        let curve = curves.iter().find(|curve| curve.determination == number.number)?;
        let (bottom, top) = (number.bottom.as_ref()?, number.top.as_ref()?);
        Some(Drawn {
            number,
            trace: &curve.trace,
            zero_s: bottom.at_s,
            rise_s: top.at_s - bottom.at_s,
            top_celsius: top.temperature_celsius,
        })
    });
    let mut drawn: Vec<_> = with_curve.collect();
    drawn.sort_by(|before, after| before.rise_s.total_cmp(&after.rise_s));
    drawn
}

impl Drawn<'_> {
    fn draw(&self, drawing: &mut Drawing, (time, heat): (&Scale, &Scale), pen: Pen) {
        let until = self.rise_s + BEYOND_S;
        let shown = |at: f64| time.holds(at) && at <= until;
        let places = self.trace.points().filter_map(|point| {
            let at = point.at.seconds() - self.zero_s;
            let celsius = point.temperature.celsius().clamp(heat.low(), heat.high());
            shown(at).then(|| At(time.at(at), heat.at(celsius)))
        });
        drawing.path(&thinned(places), pen);
        let crossed = At(time.at(self.rise_s), heat.at(self.top_celsius));
        drawing.dot(crossed, 2.2, Filled(pen.0, Ink::Ground));
    }

    /// Where the drawn curve ends.
    fn end(&self, (time, heat): (&Scale, &Scale)) -> At {
        let last = Duration::from_seconds(self.zero_s + self.rise_s + BEYOND_S);
        let index = self.trace.count_before(last).saturating_sub(1);
        let point = self.trace.point(index);
        let celsius = point.temperature.celsius().clamp(heat.low(), heat.high());
        At(time.at(point.at.seconds() - self.zero_s), heat.at(celsius))
    }

    fn told(&self, flame: &Flame, words: &Words) -> String {
        let text = |value: &Value| (words.shown)(&value.text());
        let rise = self.number.rise.as_ref().map_or_else(String::new, text);
        let charts = &words.charts;
        let void = self.number.void.is_some();
        let told = if void { charts.curve_void } else { charts.curve };
        told(self.number.number, [&text(&flame.window_top), &rise])
    }
}

/// The number of each curve beside its end, joined to it by a thin line.
fn label(drawing: &mut Drawing, drawn: &[Drawn<'_>], scales: (&Scale, &Scale), words: &Words) {
    const STEP: f64 = 13.0;
    let ends: Vec<At> = drawn.iter().map(|curve| curve.end(scales)).collect();
    let middle = ends.iter().map(|end| end.1).sum::<f64>() / small(ends.len());
    let first = (middle - STEP * small(ends.len() - 1) / 2.0).max(scales.1.at_high() + 4.0);
    let x = scales.0.at_high() + 8.0;
    for (index, (curve, end)) in drawn.iter().zip(ends).enumerate() {
        let y = first + STEP * small(index);
        let ink = pen(index, curve.number).0;
        let thin = Pen(ink, 0.5, Dash::Solid);
        drawing.path(&[At(end.0 + 1.5, end.1), At(x - 6.0, y), At(x - 2.0, y)], thin);
        let shown = curve.number.rise.as_ref().map_or("–", |rise| rise.shown.as_str());
        let void = if curve.number.void.is_some() { words.charts.void } else { "" };
        let number = (words.charts.number)(curve.number.number);
        let told = format!("{number}: {} s{void}", (words.shown)(shown));
        drawing.text(At(x, y + 3.0), Anchor::Start, ink, &told);
    }
}

fn pen(index: usize, number: &Determination) -> Pen {
    if !number.counts {
        return Pen(Ink::Line, 0.8, Dash::Solid);
    }
    match index % 3 {
        0 => Pen(Ink::Black, 1.3, Dash::Solid),
        1 => Pen(Ink::Blue, 1.3, Dash::Dashed),
        _ => Pen(Ink::Rust, 1.5, Dash::Dotted),
    }
}

fn band(accepted: &Accepted) -> (f64, f64) {
    (accepted.from.value, accepted.to.value)
}

fn between(accepted: &Accepted, words: &Words) -> String {
    let text = |value: &Value| (words.shown)(&value.text());
    (words.charts.between)(&text(&accepted.from), &text(&accepted.to))
}

/// Each rise time with its expanded uncertainty, against the band accepted.
///
/// Nothing when no determination gave a value.
#[must_use]
pub fn determinations(flame: &Flame, language: Language) -> Option<Chart> {
    let words = words::of(language);
    let said = &words.charts;
    let found: Vec<(&Determination, &Value)> = flame
        .determinations
        .iter()
        .filter_map(|number| number.rise.as_ref().map(|rise| (number, rise)))
        .collect();
    if found.is_empty() {
        return None;
    }
    let accepted = band(&flame.accepted);
    let spread = found.iter().map(|(_, rise)| reach(rise));
    let (low, high) =
        spread.fold(accepted, |range, reach| (range.0.min(reach.0), range.1.max(reach.1)));
    let room = (high - low) * 0.12;
    let (top, row) = (18.0, 15.0);
    let bottom = top + row * small(found.len()) + 4.0;
    let mut drawing = Drawing::in_words(words, WIDTH, bottom + 34.0);
    let time = Scale::new((low - room, high + room), (LEFT + 30.0, WIDTH - 10.0));
    let band_at = (time.at(accepted.0), time.at(accepted.1));
    drawing.rect(At(band_at.0, top), At(band_at.1, bottom), Ink::Band);
    let between = between(&flame.accepted, words);
    let shown = (said.accepted)(&between);
    let middle = f64::midpoint(band_at.0, band_at.1);
    drawing.small(At(middle, top - 6.0), Anchor::Middle, Ink::Quiet, &shown);
    for edge in [band_at.0, band_at.1] {
        drawing.line(At(edge, top), At(edge, bottom), Pen(Ink::Line, 0.7, Dash::Fine));
    }
    for (index, (number, rise)) in found.iter().enumerate() {
        let y = top + row * (small(index) + 0.5) + 2.0;
        let void = number.void.is_some();
        let ink = if void { Ink::Line } else { Ink::Black };
        let name = (said.number)(number.number) + if void { said.void } else { "" };
        drawing.text(At(LEFT + 22.0, y + 3.0), Anchor::End, ink, &name);
        let (from, to) = reach(rise);
        whisker(&mut drawing, (time.at(from), time.at(to)), y, ink);
        let inside = if void { Ink::Ground } else { ink };
        drawing.dot(At(time.at(rise.value), y), 2.4, Filled(ink, inside));
    }
    across(&mut drawing, &time, bottom, said.rise_axis);
    let each = found.iter().map(|(number, rise)| {
        let void = number.void.is_some();
        let name = if void { said.determination_void } else { said.determination };
        format!("{}: {}", name(number.number), (words.shown)(&rise.text()))
    });
    let told = (said.rises)(&each.collect::<Vec<_>>().join("; "), &between);
    Some(drawing.finish(said.rises_title, told))
}

/// The interval that a value and its expanded uncertainty span.
fn reach(value: &Value) -> (f64, f64) {
    let expanded = value.uncertainty.as_ref().map_or(0.0, |uncertainty| uncertainty.expanded);
    (value.value - expanded, value.value + expanded)
}

/// A bar with ends.
pub(super) fn whisker(drawing: &mut Drawing, (from, to): (f64, f64), y: f64, ink: Ink) {
    let pen = Pen(ink, 0.9, Dash::Solid);
    drawing.line(At(from, y), At(to, y), pen);
    for end in [from, to] {
        drawing.line(At(end, y - 3.0), At(end, y + 3.0), pen);
    }
}
