//! The page of the flame chart.

use maud::{Markup, PreEscaped, html};
use report::chart::{Look, flame_chart};
use trial::flame_chart::ChartRules;
use trial::number::ConfirmationNumber;
use trial::signature::Signed;

use crate::form::fields::{Field, Filled};
use crate::step::chart::{CallShown, ChartSheet, MarkShown, NumberShown, SpotShown};
use crate::web::page::shown::wide;
use crate::web::page::sign::way;

/// What stands on the page.
pub(super) fn main(sheet: &ChartSheet, filled: Filled<'_>) -> Markup {
    html! {
        (filled.summary())
        @for (place, sentence) in sheet.told.iter().enumerate() {
            p.sentence[place == 0] { (sentence) }
        }
        (acts(sheet, filled))
        @if sheet.spots.is_empty() {
            p { "Each confirmation of the flame will stand here as a dot. "
                a href="/flame/run" { "Confirm the flame" } "." }
        } @else {
            (picture(sheet))
            (files())
            h2 { "What changed" }
            @if sheet.marks.is_empty() { p { "Nothing between the confirmations shown." } }
            @else { (wide("What changed", &marks(&sheet.marks))) }
            @if !sheet.calls.is_empty() {
                h2 { "Calls" }
                (wide("Calls", &calls(&sheet.calls)))
            }
            h2 { "Confirmations" }
            @if sheet.earlier > 0 {
                p { (sheet.earlier) " earlier ones are not shown. "
                    a href="/flame/chart?last=1000" { "Show the last 1000" } }
            }
            (wide("Confirmations", &spots(&sheet.spots)))
        }
        h2 { "By which numbers" }
        @for sentence in &sheet.run_lengths { p { (sentence) } }
        (wide("By which numbers", &numbers(&sheet.numbers)))
    }
}

/// The act that closes a call; else the way to what was tested.
fn acts(sheet: &ChartSheet, filled: Filled<'_>) -> Markup {
    let done = Field {
        name: "done",
        label: "What was done?",
        hint: "What was looked at and changed, such as \"tube cleaned, flow set anew\"; or why \
               nothing was. It is recorded with your name and the time, and closes the call.",
    };
    html! {
        @if sheet.call_open {
            p { a.button.second href="/flame/tested" { "Tested since the last good confirmation" } }
            form method="post" action="/flame/chart" novalidate {
                (filled.words(done))
                button { "Note what was done" }
            }
        } @else {
            p { a.button href="/flame" { "Look at the flame" } " "
                a.button.second href="/flame/tested" { "What was tested since" } }
        }
    }
}

fn picture(sheet: &ChartSheet) -> Markup {
    let rules = ChartRules::built_in();
    let drawn = flame_chart(&sheet.chart, rules, sheet.shown.clone(), Look::Page);
    html! {
        @if let Some(drawn) = drawn {
            figure.large {
                div.wide role="region" aria-label="The chart" tabindex="0" {
                    (PreEscaped(drawn.svg))
                }
                figcaption.hint {
                    "Each dot is the mean rise time of a confirmation; a hollow one lies beyond \
                     three sigma. The thick line is the weighted mean, the dotted lines its own \
                     limits. Dashed: three sigma of single confirmations. Firm, above and below: \
                     the method's own limits. Under it the sums, firm for slower, dashed for \
                     faster. Letters: what changed."
                }
            }
        }
    }
}

fn files() -> Markup {
    html! {
        p {
            a href="/flame/chart.pdf" { "The chart as PDF" } " · "
            a href="/flame/chart.csv" { "as CSV" } " · "
            a href="/flame/chart.csv?for=spreadsheet" { "the same for a spreadsheet" } " · "
            a href="/flame/base-line" { "Base line of the flame" }
        }
    }
}

fn marks(marks: &[MarkShown]) -> Markup {
    html! {
        table {
            thead { tr { th scope="col" { "Letter" } th scope="col" { "When" }
                th scope="col" { "What" } th scope="col" { "Which results" } } }
            tbody { @for mark in marks { tr {
                td { (mark.letter) }
                td.moment { (minute(&mark.at)) }
                td { (mark.what) }
                td { @if let Some(before) = &mark.confirmation {
                    a href={ "/flame/tested?since=" (before) } { "Tested since " (before) }
                } @else { "–" } }
            } } }
        }
    }
}

fn calls(calls: &[CallShown]) -> Markup {
    html! {
        table {
            thead { tr { th scope="col" { "At" } th scope="col" { "The flame is" }
                th scope="col" { "Last good one" } th scope="col" { "What was done" } } }
            tbody { @for call in calls { tr {
                td { (call.confirmation) }
                td { (call.way) }
                td { @match &call.last_good {
                    Some(good) => a href={ "/flame/tested?since=" (good) } { (good) },
                    None => "none",
                } }
                td { @match (&call.done, &call.by, &call.answered) {
                    (Some(done), Some(by), Some(at)) => {
                        (done) " (" (by) ", " (minute(at)) ")"
                        br;
                        @match &call.signature {
                            Some(signature) => (signature),
                            None => a href=(sign(&call.confirmation)) {
                                "Sign what was done at " (call.confirmation)
                            },
                        }
                    }
                    _ => "open",
                } }
            } } }
        }
    }
}

fn spots(spots: &[SpotShown]) -> Markup {
    let or = |text: &Option<String>| text.clone().unwrap_or_else(|| "–".to_owned());
    html! {
        table {
            thead { tr { th scope="col" { "Confirmation" } th scope="col" { "When" }
                th.number scope="col" { "Mean, s" } th.number scope="col" { "Weighted, s" }
                th scope="col" { "Its limits, s" } th.number scope="col" { "Slower" }
                th.number scope="col" { "Faster" } th scope="col" { "Remark" } } }
            tbody { @for spot in spots.iter().rev() { tr {
                td { a href={ "/flame/tested?since=" (spot.confirmation) } { (spot.confirmation) } }
                td.moment { (minute(&spot.at)) }
                td.number { (spot.shown.mean) }
                td.number { (or(&spot.shown.weighted)) }
                td.moment { (or(&spot.shown.limits)) }
                td.number { (or(&spot.shown.slower)) }
                td.number { (or(&spot.shown.faster)) }
                td { (spot.remark) }
            } } }
        }
    }
}

fn numbers(numbers: &[NumberShown]) -> Markup {
    html! {
        table {
            thead { tr { th scope="col" { "Number" } th.number scope="col" { "Value" }
                th scope="col" { "Source" } th scope="col" { "Known" } } }
            tbody { @for it in numbers { tr {
                td { (it.says) }
                td.number { (it.shown) }
                td { (it.source) }
                td { (it.standing) }
            } } }
        }
    }
}

/// The way to sign what was done about a call.
fn sign(confirmation: &str) -> String {
    let number = confirmation.trim_start_matches("C-").parse().unwrap_or(0);
    way(Signed::FlameCall(ConfirmationNumber(number)), "reviewed", "/flame/chart")
}

/// `2026-11-03T08:12:00Z` as `2026-11-03 08:12`.
fn minute(at: &str) -> String {
    at.chars().take(16).collect::<String>().replace('T', " ")
}
