//! The page of a sitting at the block.

use maud::{Markup, html};

use super::curve::{Axes, Curve, picture};
use super::run::{HeatingShown, SittingShown};
use crate::form::fields::{Field, Filled};

/// What stands on the page. What is inside `#live` is drawn anew when the stage changes.
pub(super) fn main(sitting: &SittingShown, filled: Filled<'_>) -> Markup {
    let now = &sitting.now;
    html! {
        script type="module" src="/assets/flame/run.js" {}
        (filled.summary())
        @if let Some(why) = &sitting.made_up {
            p.abnormal { "◆ " (why) @if !sitting.records { ": nothing of it is recorded" } "." }
        }
        p.sentence role="status" data-say="heading" { (now.heading) }
        p.alert.abnormal role="alert" data-say="trouble" { (now.trouble) }
        div #live data-sitting=(now.sitting) data-stage=(now.stage) data-heatings=(now.heatings) {
            (acts(sitting, filled))
            p.reading {
                b data-say="block" { (now.block) } " "
                span data-say="slope" { (now.slope) } " "
                span data-say="lasts" { (now.lasts) }
            }
            @if let Some(said) = &sitting.said { p.sentence { (said) } }
            (curves(sitting))
            (heatings(sitting))
            (about(sitting))
        }
    }
}

/// The one main action, and the rarer ones.
fn acts(sitting: &SittingShown, filled: Filled<'_>) -> Markup {
    let stage = sitting.now.stage;
    let why = Field {
        name: "reason",
        label: "Why does this heating not count?",
        hint: "It stays in the record, with its reason and its curve.",
    };
    html! {
        @if sitting.confirmed && stage != "heats" { (end(sitting)) }
        @if stage == "ready" {
            form method="post" action="/flame/run" {
                button.second[sitting.confirmed] #flame-on name="act" value="flame-on" {
                    "Flame on block"
                }
            }
        } @else if stage == "heats" {
            details open[!filled.wrong.is_empty()] {
                summary { "End this heating" }
                form method="post" action="/flame/run" novalidate {
                    (filled.line(why))
                    button.second name="act" value="end-heating" { "Void this heating" }
                }
            }
        }
    }
}

/// All curves on one scale, from where the flame was put on: those that count lie under the one
/// that grows.
fn curves(sitting: &SittingShown) -> Markup {
    let done = sitting.heatings.iter().filter(|it| !it.void).filter_map(|it| it.curve.as_ref());
    let drawn: Vec<Curve> = done.chain(&sitting.curve).cloned().collect();
    html! {
        @if !drawn.is_empty() {
            figure.large {
                (picture(&drawn, &Axes::since_flame(sitting.window), "curves"))
                figcaption.hint {
                    @for curve in &drawn { (curve.name) ": " (curve.told) " " }
                }
            }
        }
    }
}

fn heatings(sitting: &SittingShown) -> Markup {
    let counting = sitting.heatings.iter().filter(|it| !it.void).count();
    let needed = usize::try_from(sitting.needed).unwrap_or(usize::MAX);
    html! {
        h2 { "Determinations of this sitting" }
        ol.determinations {
            @for heating in &sitting.heatings { (heating_row(heating, sitting)) }
            @for _ in counting..needed.min(counting + 9) { li { "–" } }
        }
    }
}

fn heating_row(heating: &HeatingShown, sitting: &SittingShown) -> Markup {
    html! {
        li {
            @if heating.void { (heating.told) } @else { b { (heating.told) } }
            @if let (Some(rise), Some(expanded), false) = (heating.rise_s, heating.expanded_s, heating.void) {
                (scale((rise, expanded), (sitting.shortest_s, sitting.longest_s)))
                p.hint { (distance(rise, (sitting.shortest_s, sitting.longest_s))) }
            }
            @if let (Some(number), false) = (heating.determination, heating.void) {
                p.onward { a href={ "/flame#D-" (number) } { "Void D-" (number) } }
            }
        }
    }
}

/// How far a rise time lies from both limits, in words.
fn distance(rise: f64, (shortest, longest): (f64, f64)) -> String {
    let side = |by: f64| if by < 0.0 { "below" } else { "above" };
    let (above, over) = (rise - shortest, rise - longest);
    format!(
        "{:.2} s {} {shortest:.1} s, {:.2} s {} {longest:.1} s",
        above.abs(),
        side(above),
        over.abs(),
        side(over)
    )
}

/// The rise time with its uncertainty, on one line with both limits.
fn scale((rise, expanded): (f64, f64), (shortest, longest): (f64, f64)) -> Markup {
    let room = (longest - shortest) / 2.0;
    let x = |s: f64| {
        300.0 * ((s - shortest + room) / (2.0 * room + longest - shortest)).clamp(0.0, 1.0)
    };
    html! {
        svg.band viewBox="0 0 300 34" aria-hidden="true" {
            line.axis x1="0" y1="12" x2="300" y2="12" {}
            @for limit in [shortest, longest] {
                line.edge x1=(x(limit)) y1="3" x2=(x(limit)) y2="21" {}
                text x=(x(limit)) y="33" text-anchor="middle" { (format!("{limit:.1}")) }
            }
            line.reach x1=(x(rise - expanded)) y1="12" x2=(x(rise + expanded)) y2="12" {}
            circle.value cx=(x(rise)) cy="12" r="5" {}
        }
    }
}

fn about(sitting: &SittingShown) -> Markup {
    html! {
        h2 { "This sitting" }
        dl.said {
            dt { "Plan" } dd { a href={ "/plans/" (sitting.plan) } { "P-" (sitting.plan) } }
            dt { "Source" } dd { (sitting.source) }
            dt { "Begun by" } dd { (sitting.by) }
            dt { "All readings" } dd { (sitting.recording) " in the book's folder" }
        }
        @if !sitting.troubles.is_empty() {
            details {
                summary { "What was wrong with the source (" (sitting.troubles.len()) ")" }
                ul { @for trouble in &sitting.troubles { li { (trouble) } } }
            }
        }
        @if !sitting.confirmed || sitting.now.stage == "heats" { (end(sitting)) }
    }
}

/// Ends the sitting: the main action once the flame is confirmed.
fn end(sitting: &SittingShown) -> Markup {
    html! {
        form method="post" action="/flame/run" {
            button.second[!sitting.confirmed] #end name="act" value="end" { "End the sitting" }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::distance;

    #[test]
    fn a_rise_time_is_told_from_both_limits() {
        let band = (22.5, 24.5);
        assert_eq!(distance(23.4, band), "0.90 s above 22.5 s, 1.10 s below 24.5 s");
        assert_eq!(distance(24.51, band), "2.01 s above 22.5 s, 0.01 s above 24.5 s");
    }
}
