//! The strip of time: applications, burning and marks on one line, and the same in words.

use maud::{Markup, html};
use serde::Serialize;
use trial::moment::Elapsed;
use trial::run::{Ending, Observed};
use utoipa::ToSchema;

use super::super::shown;

/// What happened when.
#[derive(Default, Serialize, ToSchema)]
pub(super) struct Moments {
    /// What lasted.
    spans: Vec<Span>,
    /// What was marked.
    marks: Vec<Marked>,
}

/// Something that lasted.
#[derive(Serialize, ToSchema)]
struct Span {
    /// `flame`, `afterflame`, `afterglow` or `surroundings`.
    kind: &'static str,
    /// What it is, in words.
    what: String,
    /// When it began.
    from_s: f64,
    /// When it ended.
    to_s: f64,
}

/// Something that was marked.
#[derive(Serialize, ToSchema)]
struct Marked {
    /// When.
    at_s: f64,
    /// What, in words.
    what: String,
}

/// The moments of a run.
pub(super) fn moments(observed: &Observed) -> Moments {
    let seconds = |at: Elapsed| at.since(Elapsed::ZERO).seconds();
    let mut spans: Vec<Span> = Vec::new();
    let several = observed.applications.len() > 1;
    for (place, application) in observed.applications.iter().enumerate() {
        let which = if several { format!(" {}", place + 1) } else { String::new() };
        spans.push(Span {
            kind: "flame",
            what: format!("Flame on specimen{which}"),
            from_s: seconds(application.on),
            to_s: seconds(application.removed),
        });
    }
    let removed = spans.last().map_or(0.0, |last| last.to_s);
    let flames_out = observed.flames.at().map_or(removed, seconds);
    let endings = [
        ("afterflame", "Flames after removal", removed, observed.flames),
        ("afterglow", "Glow after the flames", flames_out, observed.glow),
        ("surroundings", "Layer or surroundings burning", removed, observed.surroundings),
    ];
    for (kind, what, from_s, ending) in endings {
        let (to_s, what) = match ending {
            Ending::None => continue,
            Ending::Out(at) => (seconds(at), what.to_owned()),
            Ending::PutOutByHand(at) => (seconds(at), format!("{what}, put out by hand")),
        };
        spans.push(Span { kind, what, from_s, to_s });
    }
    let marks = observed
        .marks
        .iter()
        .map(|mark| Marked { at_s: seconds(mark.at), what: shown::mark(mark) });
    Moments { spans, marks: marks.collect() }
}

/// Where the drawing begins and how wide it is, in its own units.
const LEFT: f64 = 10.0;
const WIDTH: f64 = 700.0;
/// The height of a row.
const ROW: f64 = 34.0;

/// The strip as a drawing, with its twin in words below.
pub(super) fn drawn(moments: &Moments) -> Markup {
    let ends = moments.spans.iter().map(|span| span.to_s);
    let last = ends.chain(moments.marks.iter().map(|mark| mark.at_s)).fold(1.0, f64::max);
    let step = step(last);
    let x = |seconds: f64| LEFT + WIDTH * (seconds / last).clamp(0.0, 1.0);
    let kinds = ["flame", "afterflame", "afterglow", "surroundings"];
    let rows: Vec<&str> =
        kinds.into_iter().filter(|kind| moments.spans.iter().any(|it| it.kind == *kind)).collect();
    let row_at = |kind: &str| {
        let place = rows.iter().position(|row| *row == kind).unwrap_or(0);
        (0..place).fold(6.0, |y, _| y + ROW)
    };
    let axis = rows.iter().fold(ROW, |y, _| y + ROW);
    let ticks = std::iter::successors(Some(0.0), |at| Some(at + step)).take_while(|at| *at <= last);
    html! {
        div.wide role="region" aria-label="Strip of time" tabindex="0" {
            svg.strip viewBox={ "0 0 720 " (axis + 26.0) } role="img" aria-labelledby="strip-title" {
                title #strip-title { "What happened when, in seconds from the first flame" }
                @for span in &moments.spans {
                    rect class={ "span " (span.kind) } x=(x(span.from_s)) y=(row_at(span.kind))
                        width=((x(span.to_s) - x(span.from_s)).max(1.0)) height="12" {}
                    text x=(x(span.from_s).min(420.0)) y=(row_at(span.kind) + 25.0) {
                        (span.what) ": " (format!("{:.1} s", span.to_s - span.from_s))
                    }
                }
                @for (place, mark) in moments.marks.iter().enumerate() {
                    line.mark x1=(x(mark.at_s)) x2=(x(mark.at_s)) y1="0" y2=(axis) {}
                    text x=(x(mark.at_s) + 3.0) y=(axis - 8.0) { (place + 1) }
                }
                line.axis x1=(LEFT) x2=(LEFT + WIDTH) y1=(axis) y2=(axis) {}
                @for at in ticks {
                    line.axis x1=(x(at)) x2=(x(at)) y1=(axis) y2=(axis + 6.0) {}
                    text x=(x(at)) y=(axis + 21.0) text-anchor="middle" { (at) }
                }
            }
        }
        ul { @for span in &moments.spans {
            li { (span.what) ": " (format!("{:.1} s to {:.1} s", span.from_s, span.to_s)) }
        } }
        @if !moments.marks.is_empty() {
            p { "Marks" }
            ol { @for mark in &moments.marks { li { (mark.what) } } }
        }
    }
}

/// So far apart that some ten ticks fit.
fn step(last: f64) -> f64 {
    let steps = [1.0, 2.0, 5.0, 10.0, 20.0, 30.0, 60.0, 120.0, 300.0, 600.0];
    steps.into_iter().find(|step| last / step <= 12.0).unwrap_or(3600.0)
}
