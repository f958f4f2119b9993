//! A heating and its cooling with the fitted course, and below what the fit leaves over.

use metrology::Duration;
use reading::copper_block::Residual;
use reading::{Point, Trace};

use super::axes::{Scale, across, ticks, upright};
use super::decimate::thinned;
use super::drawing::{Anchor, At, Chart, Dash, Drawing, Ink, Look, Pen};

const WIDTH: f64 = 720.0;
const LEFT: f64 = 44.0;
const RIGHT: f64 = 700.0;
const TOP: f64 = 34.0;
const BOTTOM: f64 = 330.0;

/// The picture of what is left over lies below, on the same time.
const LEFT_TOP: f64 = 372.0;
const LEFT_BOTTOM: f64 = 470.0;

/// What to draw.
#[derive(Clone, Copy, Debug)]
pub struct BlockView<'a> {
    /// The name of the file or determination.
    pub name: &'a str,
    /// What was recorded.
    pub trace: &'a Trace,
    /// The fitted course, heating and cooling.
    pub course: &'a [Point],
    /// What is left over.
    pub residuals: &'a [Residual],
    /// When the flame was taken away: the course has a gap there.
    pub flame_away: Duration,
    /// What it shows, in one or two sentences: read in the picture's place.
    pub told: &'a str,
}

/// Readings with the fitted course over them, and the readings less the course below.
#[must_use]
pub fn block(view: &BlockView<'_>, look: Look) -> Chart {
    let mut drawing = Drawing::new(look, WIDTH, LEFT_BOTTOM + 40.0);
    let last = view.trace.point(view.trace.len() - 1).at.seconds();
    let time = Scale::new((view.trace.point(0).at.seconds(), last), (LEFT, RIGHT));
    let hottest = view.trace.highest().temperature.celsius();
    let heat = Scale::new((0.0, round_above(hottest)), (BOTTOM, TOP));
    upright(&mut drawing, &heat, (LEFT, RIGHT), "temperature, °C");
    drawing.text(At(RIGHT, TOP - 12.0), Anchor::End, Ink::Quiet, view.name);
    let place = |point: Point, scale: &Scale| {
        At(time.at(point.at.seconds()), scale.at(point.temperature.celsius()))
    };
    let readings = view.trace.points().map(|point| place(point, &heat));
    drawing.path(&thinned(readings), Pen(Ink::Black, 1.0, Dash::Solid));
    let (heated, cooled) =
        view.course.split_at(view.course.partition_point(|point| point.at < view.flame_away));
    for (course, name) in [(heated, "fitted, in the flame"), (cooled, "fitted, cooling")] {
        let course: Vec<At> = thinned(course.iter().map(|point| place(*point, &heat)));
        drawing.path(&course, Pen(Ink::Blue, 1.6, Dash::Dashed));
        if let Some(At(x, y)) = course.get(course.len() / 2) {
            drawing.small(At(x + 8.0, y + 4.0), Anchor::Start, Ink::Blue, name);
        }
    }
    left_over(&mut drawing, view, &time);
    across(&mut drawing, &time, LEFT_BOTTOM, "time, s");
    drawing.finish(&format!("The block's course: {}", view.name), view.told.to_owned())
}

/// The readings less the course, about zero.
fn left_over(drawing: &mut Drawing, view: &BlockView<'_>, time: &Scale) {
    let kelvins = view.residuals.iter().map(|residual| residual.difference.kelvin().abs());
    let most = round_above(kelvins.fold(0.5, f64::max));
    let scale = Scale::new((-most, most), (LEFT_BOTTOM, LEFT_TOP));
    upright(drawing, &scale, (LEFT, RIGHT), "readings less fit, K");
    let zero = scale.at(0.0);
    drawing.line(At(LEFT, zero), At(RIGHT, zero), Pen(Ink::Blue, 1.0, Dash::Dashed));
    let away = view.residuals.partition_point(|residual| residual.at < view.flame_away);
    let (heated, cooled) = view.residuals.split_at(away);
    for part in [heated, cooled] {
        let places = part.iter().map(|residual| {
            At(time.at(residual.at.seconds()), scale.at(residual.difference.kelvin()))
        });
        drawing.path(&thinned(places), Pen(Ink::Black, 0.8, Dash::Solid));
    }
}

/// The first round mark that is not below a value.
fn round_above(value: f64) -> f64 {
    let (marks, _) = ticks(0.0, value, 5);
    let step = marks.get(1).zip(marks.first()).map_or(value, |(second, first)| second - first);
    (value / step).ceil() * step
}
