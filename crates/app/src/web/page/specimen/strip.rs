//! The strip of time: applications, burning and marks on one line, and the same in words.

use maud::{Markup, html};
use serde::Serialize;
use trial::bench::{Press, Seen, Standing, Timing};
use trial::moment::Elapsed;
use trial::run::{Application, Ending, Mark, MarkKind, Observed};
use utoipa::ToSchema;

use super::super::shown;
use super::films::FilmShown;
use crate::form::pressed::tenths;

/// What happened when.
#[derive(Default, Serialize, ToSchema)]
pub(super) struct Moments {
    /// What lasted.
    spans: Vec<Span>,
    /// What was marked.
    marks: Vec<Marked>,
    /// What was pressed at the bench, in order.
    presses: Vec<PressShown>,
}

/// Something that lasted.
#[derive(Serialize, ToSchema)]
struct Span {
    /// `flame`, `afterflame`, `afterglow`, `surroundings` or `film`.
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
#[schema(as = StripMarked)]
struct Marked {
    /// When.
    at_s: f64,
    /// What, in words.
    what: String,
}

/// A press at the bench.
#[derive(Serialize, ToSchema)]
struct PressShown {
    /// When, from the first flame that stands.
    at_s: f64,
    /// What was pressed, in words.
    what: String,
    /// With what, such as `switch`.
    input: &'static str,
    /// What became of it: `stands`, `withdrawn`, or `ignored` as it changed nothing.
    standing: &'static str,
    /// What the device noted.
    note: Option<String>,
}

/// When what lasted and what was marked, of a run or of its presses.
pub(super) struct Lasted<'a> {
    applications: &'a [Application],
    flames: Ending,
    glow: Ending,
    surroundings: Ending,
    /// When the layer caught first.
    caught: Option<Elapsed>,
    marks: Vec<Marked>,
}

impl<'a> From<&'a Observed> for Lasted<'a> {
    fn from(seen: &'a Observed) -> Self {
        let marked = |mark: &Mark| Marked { at_s: seconds(mark.at), what: shown::mark(mark) };
        Self {
            applications: &seen.applications,
            flames: seen.flames,
            glow: seen.glow,
            surroundings: seen.surroundings,
            caught: first_caught(seen.marks.iter().map(|mark| (mark.at, Some(mark.kind)))),
            marks: seen.marks.iter().map(marked).collect(),
        }
    }
}

impl<'a> From<&'a Timing> for Lasted<'a> {
    fn from(timing: &'a Timing) -> Self {
        let marked = |mark: &Seen| {
            let kind = mark.kind.map_or("not named yet", shown::mark_kind);
            Marked { at_s: seconds(mark.at), what: format!("{}: {kind}", tenths(mark.at)) }
        };
        Self {
            applications: &timing.applications,
            flames: timing.flames,
            glow: timing.glow,
            surroundings: timing.surroundings,
            caught: first_caught(timing.marks.iter().map(|mark| (mark.at, mark.kind))),
            marks: timing.marks.iter().map(marked).collect(),
        }
    }
}

fn first_caught(marks: impl Iterator<Item = (Elapsed, Option<MarkKind>)>) -> Option<Elapsed> {
    marks.filter(|(_, kind)| *kind == Some(MarkKind::LayerCaught)).map(|(at, _)| at).min()
}

fn seconds(at: Elapsed) -> f64 {
    at.since(Elapsed::ZERO).seconds()
}

/// The moments of a run, or of its presses as long as nobody described it.
pub(super) fn moments(lasted: Option<Lasted<'_>>, log: (&[Press], &Standing)) -> Moments {
    let presses = presses(log);
    let Some(lasted) = lasted else { return Moments { presses, ..Moments::default() } };
    let mut spans: Vec<Span> = Vec::new();
    let several = lasted.applications.len() > 1;
    for (place, application) in lasted.applications.iter().enumerate() {
        let which = if several { format!(" {}", place + 1) } else { String::new() };
        spans.push(Span {
            kind: "flame",
            what: format!("Flame on specimen{which}"),
            from_s: seconds(application.on),
            to_s: seconds(application.removed),
        });
    }
    let removed = spans.last().map_or(0.0, |last| last.to_s);
    let flames_out = lasted.flames.at().map_or(removed, seconds).max(removed);
    let caught = lasted.caught.map_or(removed, seconds);
    let endings = [
        ("afterflame", "Flames after removal", removed, lasted.flames),
        ("afterglow", "Glow after the flames", flames_out, lasted.glow),
        ("surroundings", "Layer or surroundings burning", caught, lasted.surroundings),
    ];
    for (kind, what, from_s, ending) in endings {
        let (to_s, what) = match ending {
            Ending::None => continue,
            Ending::Out(at) => (seconds(at), what.to_owned()),
            Ending::PutOutByHand(at) => (seconds(at), format!("{what}, put out by hand")),
        };
        // What was out before it would begin to count is none.
        if to_s >= from_s {
            spans.push(Span { kind, what, from_s, to_s });
        }
    }
    Moments { spans, marks: lasted.marks, presses }
}

fn presses((log, standing): (&[Press], &Standing)) -> Vec<PressShown> {
    let zero = standing.zero.unwrap_or(Elapsed::ZERO);
    let shown = |(place, press): (usize, &Press)| PressShown {
        at_s: press.at.since(zero).seconds(),
        what: press.act.word().replace('-', " "),
        input: press.input.word(),
        standing: if standing.withdrawn.contains(&place) {
            "withdrawn"
        } else if standing.ignored.contains(&place) {
            "ignored"
        } else {
            "stands"
        },
        note: press.note.clone(),
    };
    log.iter().enumerate().map(shown).collect()
}

impl Moments {
    /// Whether there is nothing to draw.
    pub(super) const fn is_empty(&self) -> bool {
        self.spans.is_empty()
    }

    /// With the films whose place and length are known.
    pub(super) fn with_films(mut self, films: &[FilmShown]) -> Self {
        for (film, nth) in films.iter().zip(1..) {
            if let Some((from_s, lasts)) = film.begins_s.zip(film.seconds)
                && !self.spans.is_empty()
            {
                let what = if films.len() > 1 { format!("Film {nth}") } else { "Film".to_owned() };
                self.spans.push(Span { kind: "film", what, from_s, to_s: from_s + lasts });
            }
        }
        self
    }
}

/// Where the drawing begins and how wide it is, in its own units.
const LEFT: f64 = 10.0;
const WIDTH: f64 = 700.0;
/// The height of a row.
const ROW: f64 = 36.0;

/// The strip as a drawing, with its twin in words below.
pub(super) fn drawn(moments: &Moments) -> Markup {
    // A film may go on for long: it is drawn as far as the strip goes.
    let ends = moments.spans.iter().filter(|it| it.kind != "film").map(|span| span.to_s);
    let last = ends.chain(moments.marks.iter().map(|mark| mark.at_s)).fold(1.0, f64::max);
    let step = step(last);
    let x = |seconds: f64| LEFT + WIDTH * (seconds / last).clamp(0.0, 1.0);
    let kinds = ["flame", "afterflame", "afterglow", "surroundings", "film"];
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
                @for mark in &moments.marks {
                    line.mark x1=(x(mark.at_s)) x2=(x(mark.at_s)) y1="0" y2=(axis) {}
                }
                @for span in &moments.spans {
                    rect class={ "span " (span.kind) } x=(x(span.from_s)) y=(row_at(span.kind))
                        width=((x(span.to_s) - x(span.from_s)).max(1.0)) height="12" {}
                    @let late = x(span.from_s) > WIDTH / 2.0;
                    text x=(x(if late { span.to_s } else { span.from_s }))
                        y=(row_at(span.kind) + 27.0) text-anchor=[late.then_some("end")] {
                        (span.what) ": " (format!("{:.1} s", span.to_s - span.from_s))
                    }
                }
                @for (place, mark) in moments.marks.iter().enumerate() {
                    text x=(x(mark.at_s) + 3.0) y=(axis - 8.0) { (place + 1) }
                }
                line.axis x1=(LEFT) x2=(LEFT + WIDTH) y1=(axis) y2=(axis) {}
                @for press in moments.presses.iter().filter(|it| it.standing == "stands") {
                    line.press x1=(x(press.at_s)) x2=(x(press.at_s)) y1=(axis - 6.0) y2=(axis) {}
                }
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

/// Every press, those too that were withdrawn or changed nothing.
pub(super) fn pressed(moments: &Moments) -> Markup {
    let said = |press: &PressShown| match press.standing {
        "withdrawn" => "withdrawn",
        "ignored" => "changed nothing",
        _ => "stands",
    };
    html! {
        @if !moments.presses.is_empty() {
            details {
                summary { "Every press at the bench (" (moments.presses.len()) ")" }
                (shown::wide("Presses", &html! {
                    table {
                        thead { tr { th.number scope="col" { "At, s" } th scope="col" { "Pressed" }
                            th scope="col" { "With" } th scope="col" { "What became of it" } } }
                        tbody { @for press in &moments.presses { tr {
                            td.number { (format!("{:.1}", press.at_s)) }
                            td { @if press.standing == "withdrawn" { del { (press.what) } }
                                @else { (press.what) } }
                            td { (press.input) }
                            td { (said(press)) @if let Some(note) = &press.note { ": " (note) } }
                        } } }
                    }
                }))
            }
        }
    }
}

/// So far apart that some ten ticks fit.
fn step(last: f64) -> f64 {
    let steps = [1.0, 2.0, 5.0, 10.0, 20.0, 30.0, 60.0, 120.0, 300.0, 600.0];
    steps.into_iter().find(|step| last / step <= 12.0).unwrap_or(3600.0)
}
