//! One trace with its window and crossings: the picture of `read trace`.

use metrology::Duration;
use reading::{Crossing, Point, RiseTime, Trace, Window};

use super::axes::{Scale, across, small, ticks, upright};
use super::decimate::thinned;
use super::drawing::{Anchor, At, Chart, Dash, Drawing, Filled, Ink, Look, Pen};

const WIDTH: f64 = 720.0;
const LEFT: f64 = 44.0;
const RIGHT: f64 = 700.0;
const TOP: f64 = 34.0;
const BOTTOM: f64 = 420.0;

/// A pause this many times the usual step is drawn as a gap.
const GAP_STEPS: f64 = 5.0;

/// Readings are dots of their own where they lie at least this far apart, in points.
const DOT_ROOM: f64 = 4.0;

/// What to draw.
#[derive(Clone, Copy, Debug)]
pub struct TraceView<'a> {
    /// The name of the file or channel.
    pub name: &'a str,
    /// What was recorded.
    pub trace: &'a Trace,
    /// The window of temperature.
    pub window: Window,
    /// The rise time, where one was read.
    pub rise: Option<&'a RiseTime>,
    /// Readings that were kept and not used, by index.
    pub not_used: &'a [usize],
    /// What was found, in one or two sentences: read in the picture's place.
    pub told: &'a str,
}

/// The trace with its window, its crossings with their fitted lines, readings not used as hollow
/// marks, and gaps left open.
///
/// Where a rise time was read, the picture shows the time around it; otherwise the whole trace.
#[must_use]
pub fn trace(view: &TraceView<'_>, look: Look) -> Chart {
    let mut drawing = Drawing::new(look, WIDTH, BOTTOM + 40.0);
    let (from, to) = span(view);
    let shown = view.trace.count_before(Duration::from_seconds(from))
        ..view.trace.count_before(Duration::from_seconds(to)) + 1;
    let (low, high) = heights(view, shown.clone());
    let time = Scale::new((from, to), (LEFT, RIGHT));
    let heat = Scale::new((low, high), (BOTTOM, TOP));
    upright(&mut drawing, &heat, (LEFT, RIGHT), "temperature, °C");
    across(&mut drawing, &time, BOTTOM, "time, s");
    drawing.text(At(RIGHT, TOP - 12.0), Anchor::End, Ink::Quiet, view.name);
    for limit in [view.window.bottom(), view.window.top()] {
        let y = heat.at(limit.celsius());
        drawing.line(At(LEFT, y), At(RIGHT, y), Pen(Ink::Line, 0.8, Dash::Fine));
        let words = format!("{} °C", limit.celsius());
        drawing.small(At(RIGHT, y - 4.0), Anchor::End, Ink::Quiet, &words);
    }
    let scales = (&time, &heat);
    curve(&mut drawing, view, shown.clone(), scales);
    for index in view.not_used.iter().filter(|index| shown.contains(index)) {
        if *index < view.trace.len() {
            let at = place(view.trace.point(*index), scales);
            drawing.dot(at, 3.0, Filled(Ink::Rust, Ink::Ground));
        }
    }
    for missing in view.trace.missing() {
        let at = missing.at.seconds();
        if time.holds(at) {
            let x = time.at(at);
            drawing.line(At(x, BOTTOM - 6.0), At(x, BOTTOM), Pen(Ink::Rust, 1.2, Dash::Solid));
        }
    }
    if let Some(rise) = view.rise {
        for crossing in [&rise.start, &rise.end] {
            mark(&mut drawing, crossing, scales);
        }
        span_of_rise(&mut drawing, rise, scales);
    }
    drawing.finish(&format!("Temperature over time: {}", view.name), view.told.to_owned())
}

/// From when to when the picture reaches.
fn span(view: &TraceView<'_>) -> (f64, f64) {
    let first = view.trace.point(0).at.seconds();
    let last = view.trace.point(view.trace.len() - 1).at.seconds();
    match view.rise {
        Some(rise) => {
            let (start, end) = (rise.start.at.seconds(), rise.end.at.seconds());
            let room = 0.3 * (end - start);
            ((start - room).max(first), (end + room).min(last))
        }
        None => (first, last),
    }
}

/// The lowest and the highest temperature of the picture, each a round number.
fn heights(view: &TraceView<'_>, shown: std::ops::Range<usize>) -> (f64, f64) {
    let window = (view.window.bottom().celsius().min(0.0), view.window.top().celsius());
    let (low, high) = view.trace.points_in(shown).fold(window, |(low, high), point| {
        let celsius = point.temperature.celsius();
        (low.min(celsius), high.max(celsius))
    });
    let (marks, _) = ticks(low, high, 9);
    let step = marks.get(1).zip(marks.first()).map_or(1.0, |(second, first)| second - first);
    ((low / step).floor() * step, (high / step).ceil() * step)
}

fn place(point: Point, (time, heat): (&Scale, &Scale)) -> At {
    At(time.at(point.at.seconds()), heat.at(point.temperature.celsius()))
}

/// The readings, with a break wherever the logger paused or gave no value.
fn curve(
    drawing: &mut Drawing,
    view: &TraceView<'_>,
    shown: std::ops::Range<usize>,
    scales: (&Scale, &Scale),
) {
    let count = view.trace.points_in(shown.clone()).len();
    let usual = (scales.0.high() - scales.0.low()) / small(count.max(2) - 1);
    let mut missing = view.trace.missing().iter().map(|missing| missing.at).peekable();
    let mut piece: Vec<At> = Vec::new();
    let mut before: Option<Duration> = None;
    let pen = Pen(Ink::Black, 1.2, Dash::Solid);
    for point in view.trace.points_in(shown.clone()) {
        let mut broken = before.is_some_and(|at| (point.at - at).seconds() > GAP_STEPS * usual);
        while missing.next_if(|at| *at < point.at).is_some() {
            broken = true;
        }
        if broken {
            drawing.path(&thinned(std::mem::take(&mut piece).into_iter()), pen);
        }
        piece.push(place(point, scales));
        before = Some(point.at);
    }
    drawing.path(&thinned(piece.into_iter()), pen);
    let room = (scales.0.at_high() - scales.0.at_low()) / small(count.max(1));
    if room >= DOT_ROOM {
        for point in view.trace.points_in(shown) {
            drawing.dot(place(point, scales), 1.2, Filled(Ink::Black, Ink::Black));
        }
    }
}

/// A crossing: its fitted line, drawn thin beyond the readings, and a mark where it meets the
/// limit.
fn mark(drawing: &mut Drawing, crossing: &Crossing, scales: (&Scale, &Scale)) {
    let (at, limit) = (crossing.at.seconds(), crossing.limit.celsius());
    let reach = 0.06 * (scales.0.high() - scales.0.low());
    let end = |side: f64| {
        let celsius = limit + side * reach * crossing.slope_kelvin_per_second;
        let held = celsius.clamp(scales.1.low(), scales.1.high());
        let second = if crossing.slope_kelvin_per_second.abs() > f64::EPSILON {
            at + (held - limit) / crossing.slope_kelvin_per_second
        } else {
            at + side * reach
        };
        At(scales.0.at(second), scales.1.at(held))
    };
    drawing.line(end(-1.0), end(1.0), Pen(Ink::Blue, 1.0, Dash::Solid));
    drawing.dot(At(scales.0.at(at), scales.1.at(limit)), 3.2, Filled(Ink::Blue, Ink::Ground));
}

/// The rise time as a dimension line below the curve.
fn span_of_rise(drawing: &mut Drawing, rise: &RiseTime, (time, heat): (&Scale, &Scale)) {
    let (start, end) = (time.at(rise.start.at.seconds()), time.at(rise.end.at.seconds()));
    let y = BOTTOM - 18.0;
    let thin = Pen(Ink::Blue, 0.7, Dash::Fine);
    for (x, crossing) in [(start, &rise.start), (end, &rise.end)] {
        drawing.line(At(x, heat.at(crossing.limit.celsius())), At(x, y), thin);
    }
    drawing.line(At(start, y), At(end, y), Pen(Ink::Blue, 1.0, Dash::Solid));
    let words = format!("{:.2}", rise.value.value);
    let middle = f64::midpoint(start, end);
    drawing.text(At(middle, y - 5.0), Anchor::Middle, Ink::Blue, &words);
}
