//! The curve of a heating: its readings with their gaps, the lines that place its crossings, and
//! the same in words.

use maud::{Markup, html};
use metrology::Duration;
use reading::{Crossing, Point, RiseTime, Trace, Window};
use serde::Serialize;
use utoipa::ToSchema;

use crate::step::confirm::expanded_s;

/// So many readings of a curve are drawn at most.
const DRAWN_MOST: usize = 400;

/// A pause this many times the usual step is drawn as a gap.
const GAP_STEPS: f64 = 5.0;

/// A curve is drawn from so many seconds before it passes the bottom of the window.
const BEFORE_S: f64 = 5.0;

/// What a curve looks like.
#[derive(Clone, Debug, Serialize, ToSchema)]
pub(super) struct Curve {
    /// What stands at its end, such as `D-3`.
    pub(super) name: String,
    /// Its readings, in pieces without a gap.
    pub(super) pieces: Vec<Vec<Spot>>,
    /// Where it crosses the ends of the window.
    pub(super) crossings: Vec<Crossed>,
    /// Readings that were kept and not used.
    pub(super) not_used: Vec<Spot>,
    /// What it shows, in words.
    pub(super) told: String,
}

/// A reading of a curve.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, ToSchema)]
pub(super) struct Spot {
    /// Seconds on the curve's own axis.
    pub(super) s: f64,
    /// Degrees Celsius.
    pub(super) celsius: f64,
}

/// Where a curve crosses a temperature.
#[derive(Clone, Copy, Debug, Serialize, ToSchema)]
pub(super) struct Crossed {
    /// Seconds on the curve's own axis.
    s: f64,
    /// Degrees Celsius.
    celsius: f64,
    /// The slope of the line that places it.
    slope_kelvin_per_second: f64,
}

/// The axes of a picture.
#[derive(Clone, Copy, Debug)]
pub(super) struct Axes {
    /// From when to when, in seconds.
    pub(super) seconds: (f64, f64),
    /// What the time counts from.
    pub(super) since: &'static str,
    /// The window of temperature.
    pub(super) window: Window,
}

impl Axes {
    /// Time from where the bottom of the window was passed.
    pub(super) const fn since_bottom(window: Window) -> Self {
        Self { seconds: (-BEFORE_S, 35.0), since: "seconds since it passed the bottom", window }
    }

    /// Time from where the flame was put on.
    pub(super) const fn since_flame(window: Window) -> Self {
        Self { seconds: (-BEFORE_S, 40.0), since: "seconds since the flame was put on", window }
    }
}

impl Spot {
    /// A reading, its time counted from another.
    pub(super) fn of(point: Point, zero: Duration) -> Self {
        spot(point, zero.seconds())
    }
}

/// The name of a curve that grows.
const GROWING: &str = "now";

impl Curve {
    /// The curve of a heating at work.
    pub(super) fn growing(spots: &[Spot]) -> Self {
        Self {
            name: GROWING.to_owned(),
            pieces: pieces(spots),
            crossings: Vec::new(),
            not_used: Vec::new(),
            told: "the heating at work.".to_owned(),
        }
    }

    /// The curve of a trace in which a rise was read; its zero is where it passed the bottom.
    pub(super) fn of(name: String, trace: &Trace, rise: Option<&RiseTime>) -> Self {
        let zero = rise.map_or(trace.point(0).at, |rise| rise.start.at);
        Self::since(name, trace, rise, zero)
    }

    /// The same with another zero, such as when the flame was put on.
    pub(super) fn since(
        name: String,
        trace: &Trace,
        rise: Option<&RiseTime>,
        zero: Duration,
    ) -> Self {
        let zero = zero.seconds();
        let last = rise.map_or(f64::INFINITY, |rise| rise.end.at.seconds() - zero + 3.0);
        let spots: Vec<Spot> = trace
            .points()
            .map(|point| spot(point, zero))
            .filter(|spot| spot.s >= -BEFORE_S && spot.s <= last)
            .collect();
        let not_used = rise.map(|rise| rise.points_not_used.as_slice()).unwrap_or_default();
        let not_used = not_used.iter().filter(|index| **index < trace.len());
        let crossed = |crossing: &Crossing| Crossed {
            s: rounded(crossing.at.seconds() - zero),
            celsius: crossing.limit.celsius(),
            slope_kelvin_per_second: crossing.slope_kelvin_per_second,
        };
        let crossings = rise.map(|rise| vec![crossed(&rise.start), crossed(&rise.end)]);
        Self {
            name,
            pieces: pieces(&spots),
            crossings: crossings.unwrap_or_default(),
            not_used: not_used.map(|index| spot(trace.point(*index), zero)).collect(),
            told: rise.map_or_else(|| without(trace), told),
        }
    }
}

fn spot(point: Point, zero_s: f64) -> Spot {
    Spot { s: rounded(point.at.seconds() - zero_s), celsius: point.temperature.celsius() }
}

/// To the millisecond: finer than a picture shows.
fn rounded(seconds: f64) -> f64 {
    (seconds * 1e3).round() / 1e3
}

/// `100 °C at 3.2 s, 700 °C at 26.6 s: 23.4 s`.
fn told(rise: &RiseTime) -> String {
    let (start, end) = (&rise.start, &rise.end);
    let uncertainty = expanded_s(&rise.value);
    let mut told = format!(
        "{:.0} at {:.1} of the trace, {:.0} at {:.1}: {:.2} ± {uncertainty:.2} s (k = 2).",
        start.limit,
        start.at,
        end.limit,
        end.at,
        rise.value.value.seconds()
    );
    if !rise.points_not_used.is_empty() {
        told.push_str(&format!(" Readings kept and not used: {}.", rise.points_not_used.len()));
    }
    told
}

fn without(trace: &Trace) -> String {
    let highest = trace.highest();
    format!("No rise was read. The warmest reading is {:.1}.", highest.temperature)
}

/// The spots in pieces without a gap, each thinned to what can be seen.
pub(super) fn pieces(spots: &[Spot]) -> Vec<Vec<Spot>> {
    let steps = spots.len().saturating_sub(1).max(1);
    #[expect(clippy::cast_precision_loss, reason = "a count of readings")]
    let usual = match (spots.first(), spots.last()) {
        (Some(first), Some(last)) => (last.s - first.s) / steps as f64,
        _ => return Vec::new(),
    };
    let stride = spots.len().div_ceil(DRAWN_MOST);
    let pieces = spots.chunk_by(|one, other| other.s - one.s <= GAP_STEPS * usual);
    let thinned = pieces.map(|piece| {
        let last = piece.len() - 1;
        let kept = piece.iter().enumerate().filter(|(at, _)| at % stride == 0 || *at == last);
        kept.map(|(_, spot)| *spot).collect()
    });
    thinned.collect()
}

// The picture is 3 to 2, so that a good rise lies near 45°.
const LEFT: f64 = 76.0;
const RIGHT: f64 = 646.0;
const TOP: f64 = 16.0;
const BOTTOM: f64 = 396.0;
const WARMEST: f64 = 800.0;

impl Axes {
    /// The axes as the page's script reads them.
    fn told(&self) -> String {
        let (from, to) = self.seconds;
        format!("{from} {to} {WARMEST} {LEFT} {RIGHT} {TOP} {BOTTOM}")
    }

    fn x(&self, s: f64) -> f64 {
        let (from, to) = self.seconds;
        LEFT + (s.clamp(from, to) - from) / (to - from) * (RIGHT - LEFT)
    }
}

fn y(celsius: f64) -> f64 {
    BOTTOM - celsius.clamp(0.0, WARMEST) / WARMEST * (BOTTOM - TOP)
}

/// The curves on one scale, each with its name at its end. `id` is the picture's own on its page.
pub(super) fn picture(curves: &[Curve], axes: &Axes, id: &str) -> Markup {
    let told: Vec<String> =
        curves.iter().map(|curve| format!("{}: {}", curve.name, curve.told)).collect();
    let label = format!("Temperature of the block in °C, {}. {}", axes.since, told.join(" "));
    html! {
        svg.curves #(id) viewBox="0 -14 730 482" role="img" aria-label=(label)
            data-axes=(axes.told()) {
            (grid(axes))
            @for (place, curve) in curves.iter().enumerate() { (drawn(curve, axes, place)) }
        }
    }
}

fn grid(axes: &Axes) -> Markup {
    let (from, to) = axes.seconds;
    let tens = (-1..=12).map(|ten| f64::from(ten) * 10.0).filter(|s| *s >= from && *s <= to);
    let hundreds = (0..=4).map(|step| f64::from(step) * 200.0);
    html! {
        @for celsius in hundreds {
            line.tick x1=(LEFT - 5.0) y1=(y(celsius)) x2=(LEFT) y2=(y(celsius)) {}
            text x=(LEFT - 9.0) y=(y(celsius) + 5.0) text-anchor="end" { (celsius) }
        }
        @for s in tens {
            line.tick x1=(axes.x(s)) y1=(BOTTOM) x2=(axes.x(s)) y2=(BOTTOM + 5.0) {}
            text x=(axes.x(s)) y=(BOTTOM + 27.0) text-anchor="middle" { (s) }
        }
        // Each name stands where no good rise passes.
        @for (limit, x, anchor) in [
            (axes.window.bottom(), RIGHT, "end"),
            (axes.window.top(), LEFT + 6.0, "start"),
        ] {
            @let at = y(limit.celsius());
            line.limit x1=(LEFT) y1=(at) x2=(RIGHT) y2=(at) {}
            text x=(x) y=(at - 5.0) text-anchor=(anchor) { (format!("{limit:.0}")) }
        }
        path.axis d=(format!("M{LEFT} {TOP}V{BOTTOM}H{RIGHT}")) {}
        text x=(LEFT) y=(BOTTOM + 58.0) { (axes.since) }
        text x=(LEFT + 6.0) y=(TOP + 4.0) { "°C" }
    }
}

/// The second and the third of three are dashed and dotted.
fn drawn(curve: &Curve, axes: &Axes, place: usize) -> Markup {
    let class = ["run first", "run second", "run third"][place % 3];
    let steps = |piece: &[Spot]| {
        let step = |spot: &Spot| format!("{:.1} {:.1}", axes.x(spot.s), y(spot.celsius));
        format!("M{}", piece.iter().map(step).collect::<Vec<_>>().join("L"))
    };
    let end = curve.pieces.last().and_then(|piece| piece.last());
    if curve.name == GROWING {
        let all = curve.pieces.iter().map(|piece| steps(piece)).collect::<String>();
        let (x, y) = end.map_or((LEFT, BOTTOM), |end| (axes.x(end.s), y(end.celsius)));
        return html! {
            path #growing class=(class) d=(all) {}
            text #growing-name x=(x + 6.0) y=(y + 4.0) { (GROWING) }
        };
    }
    html! {
        @for piece in &curve.pieces { path class=(class) d=(steps(piece)) {} }
        @for crossing in &curve.crossings {
            @let reach = 1.5;
            @let rise = reach * crossing.slope_kelvin_per_second;
            line.fit x1=(axes.x(crossing.s - reach)) y1=(y(crossing.celsius - rise))
                x2=(axes.x(crossing.s + reach)) y2=(y(crossing.celsius + rise)) {}
            circle.crossing cx=(axes.x(crossing.s)) cy=(y(crossing.celsius)) r="4" {}
        }
        @for spot in &curve.not_used {
            circle.hollow cx=(axes.x(spot.s)) cy=(y(spot.celsius)) r="4" {
                title { (format!("{:.1} °C at {:.2} s: kept, not used", spot.celsius, spot.s)) }
            }
        }
        @if let Some(end) = end {
            text x=(axes.x(end.s) + 6.0) y=(y(end.celsius) + 4.0 + 17.0 * f64::from(u8::try_from(place % 8).unwrap_or(0))) {
                (curve.name)
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn spots(seconds: &[f64]) -> Vec<Spot> {
        seconds.iter().map(|s| Spot { s: *s, celsius: 20.0 }).collect()
    }

    #[test]
    fn a_gap_is_left_open_and_many_readings_are_thinned() {
        let even: Vec<f64> = (0..20).map(|tenth| f64::from(tenth) / 10.0).collect();
        assert_eq!(pieces(&spots(&even)).len(), 1);
        let with_gap: Vec<f64> = even.iter().copied().filter(|s| *s < 0.5 || *s > 1.4).collect();
        assert_eq!(pieces(&spots(&with_gap)).len(), 2);
        let many: Vec<f64> = (0..5000).map(|step| f64::from(step) / 100.0).collect();
        let thin = pieces(&spots(&many));
        assert!(thin[0].len() <= DRAWN_MOST + 1);
        assert_eq!(thin[0].last(), Some(&Spot { s: 49.99, celsius: 20.0 }));
        assert!(pieces(&[]).is_empty());
    }
}
