//! The page of a plan.

use maud::{Markup, html};
use trial::readiness::CAUTIONS;
use trial::verdict::SpecimenStanding;

use super::super::reports::issue::language_choice;
use super::super::{device, help, shown};
use super::next::Next;
use super::sheet::{PlanSheet, SpecimenRow};
use crate::form::fields::{Answer, Field, Filled};
use crate::words::when_of;

/// What stands on the page.
pub(super) fn main(sheet: &PlanSheet, filled: Filled<'_>) -> Markup {
    html! {
        (filled.summary())
        p.sentence { (sheet.sentence) }
        (main_act(sheet, filled))
        h2 #specimens { "Specimens" }
        (shown::wide("Specimens", &specimens(sheet)))
        @if sheet.specimens.iter().any(|row| row.state != "not-tested") {
            p.onward { a href={ "/plans/" (sheet.plan) "/review" } { "Review of plan P-" (sheet.plan) } }
        }
        (readiness(sheet, filled))
        h2 { "Reports" }
        @if sheet.reports.is_empty() { p { "No report was issued." } }
        @else { ul { @for report in &sheet.reports {
            li { a href={ "/reports/" (report.report) } { "R-" (report.report) }
                ", issued at " (when_of(&report.at)) " by " (report.by) }
        } } }
        (planned(sheet))
    }
}

/// A form with one button.
fn button(act: &str, words: &str, inside: &Markup) -> Markup {
    html! {
        form method="post" novalidate {
            (inside)
            button type="submit" name="act" value=(act) { (words) }
        }
    }
}

/// A form with one button that is not the main action.
fn second(act: &str, words: &str) -> Markup {
    html! {
        form method="post" novalidate {
            button.second type="submit" name="act" value=(act) { (words) }
        }
    }
}

/// The one main action.
fn main_act(sheet: &PlanSheet, filled: Filled<'_>) -> Markup {
    let plan = sheet.plan;
    let none = html! {};
    match &sheet.next {
        Next::Cautions => html! {
            h2 { "Cautions" }
            (cautions())
            (button("cautions", "I have read the cautions", &none))
        },
        Next::Conditioned => {
            html! { p { a.button href="#conditioning" { "Record the conditioning" } } }
        }
        Next::PutRight => html! { p { a.button href="#missing" { "See what is missing" } } },
        Next::Readiness => button("readiness", "Check the readiness", &none),
        Next::ConfirmFlame => html! {
            p { a.button href="/flame/run" { "Confirm the flame" } }
        },
        Next::Test { specimen } => html! {
            p { a.button href={ "/bench/" (plan) "/" (specimen) } {
                "Go to the bench" span.apart { " with specimen " (specimen) }
            } }
        },
        Next::Describe { specimen } => html! {
            p { a.button href={ "/specimens/" (plan) "-" (specimen) "/describe" } {
                "Describe specimen " (specimen)
            } }
        },
        Next::AddSpecimens { specimens, reason } => add_specimens(specimens, reason, filled),
        Next::AcceptTimes { specimen } => html! {
            p { a.button href={ "/specimens/" (plan) "-" (specimen) "#times" } {
                "Look at the times of specimen " (specimen)
            } }
        },
        Next::SignTested { specimen } => html! {
            p { a.button href={ "/specimens/" (plan) "-" (specimen) "#signatures" } {
                "Sign specimen " (specimen) " as tested"
            } }
        },
        Next::Review => html! {
            p { a.button href={ "/plans/" (plan) "/review" } { "Review and sign" } }
        },
        Next::Replace { report } => html! {
            p { a.button href={ "/reports/new?plan=" (plan) } {
                "Issue a report in place of R-" (report)
            } }
        },
        Next::Judge => button("judge", "Judge", &none),
        Next::Report => button(
            "report",
            "Issue the report",
            &html! {
                input type="hidden" name="after"
                    value=(sheet.reports.last().map_or(0, |last| last.report));
                (device::clock_shown())
                (language_choice())
            },
        ),
        Next::Nothing => html! {
            p { a.button href="/reports" { "Reports" } }
            p.onward { a href={ "/plans/new?from=" (plan) } { "Plan a test like this one" } }
        },
    }
}

/// Further specimens, with the reason that the rules give.
fn add_specimens(specimens: &[u32], reason: &str, filled: Filled<'_>) -> Markup {
    let mut typed = filled.typed.clone();
    if typed.text("reason").is_empty() {
        typed.put("reason", reason);
    }
    let again = Filled { typed: &typed, wrong: filled.wrong };
    let inside = html! {
        @for specimen in specimens {
            input type="hidden" name="specimen" value=(specimen);
        }
        (again.line(Field { name: "reason", label: "Why", hint: "" }))
    };
    let words = match specimens {
        [_] => "Add one specimen".to_owned(),
        several => format!("Add {} further specimens", several.len()),
    };
    button("add-specimens", &words, &inside)
}

fn specimens(sheet: &PlanSheet) -> Markup {
    html! {
        table {
            thead { tr {
                th scope="col" { "Specimen" } th.number scope="col" { "Flame applied" }
                th.number scope="col" { "Afterflame" } th.number scope="col" { "Afterglow" }
                th.number scope="col" { "Burning" } th scope="col" { "Layer below" }
                th scope="col" { "Marks" } th scope="col" { "Verdict by the rules" }
            } }
            tbody { @for row in &sheet.specimens { (specimen(sheet.plan, row)) } }
        }
    }
}

fn specimen(plan: u32, row: &SpecimenRow) -> Markup {
    let none = "–";
    let time = |time: &Option<String>| time.clone().unwrap_or_else(|| none.to_owned());
    let applications =
        if row.applications.is_empty() { none.to_owned() } else { row.applications.join(", ") };
    html! {
        tr {
            td { a href={ "/specimens/" (plan) "-" (row.specimen) } {
                span.apart { "Specimen " } (row.specimen)
            } }
            td.number { (applications) }
            td.number { (time(&row.afterflame)) }
            td.number { (time(&row.afterglow)) }
            td.number { (time(&row.burning)) }
            td { (row.layer.as_deref().unwrap_or(none)) }
            td { @if row.marks.is_empty() { (none) }
                @for mark in &row.marks { (mark) br; } }
            td {
                @match row.verdict.as_deref().and_then(SpecimenStanding::of_word) {
                    Some(standing) => (shown::specimen_standing(standing)),
                    None => { (row.at_the_bench.unwrap_or(not_tested(row.state))) }
                }
                @for why in &row.because { br; (why) }
            }
        }
    }
}

fn not_tested(state: &str) -> &'static str {
    if state == "spoilt" { "– Not judged" } else { "Not tested" }
}

fn readiness(sheet: &PlanSheet, filled: Filled<'_>) -> Markup {
    html! {
        h2 #missing { "Before the flame" }
        @if sheet.missing.is_empty() {
            p { @if sheet.ready { "Found ready." } @else { "Nothing is missing; not found ready yet." } }
        } @else {
            dl.findings { @for finding in &sheet.missing {
                dt { (crate::web::answer::sentence(&finding.text)) }
                dd { (finding.hint) }
            } }
            (help::way("plan"))
        }
        @if sheet.next != Next::Readiness {
            (second("readiness", "Check the readiness"))
        }
        h3 #cautions { "Cautions" }
        @if sheet.next == Next::Cautions { p { "They stand above." } } @else {
            (cautions())
            @if sheet.cautions_acknowledged { p { "These were acknowledged for this plan." } }
            @else { (second("cautions", "I have read the cautions")) }
        }
        h3 #conditioning { "Conditioning" }
        (stored(sheet))
        details open[!filled.wrong.is_empty()] {
            summary { "Record a conditioning" }
            (conditioning(sheet, filled))
        }
    }
}

fn cautions() -> Markup {
    html! { ul { @for caution in CAUTIONS { li { (caution) } } } }
}

fn stored(sheet: &PlanSheet) -> Markup {
    html! {
        @if sheet.conditioned.is_empty() { p { "None is recorded." } }
        @else { (shown::wide("Conditioning", &html! {
            table {
                thead { tr { th scope="col" { "What" } th scope="col" { "From" }
                    th scope="col" { "Until" } th scope="col" { "Kept at" } } }
                tbody { @for row in &sheet.conditioned {
                    tr {
                        td { (row.what) }
                        td.moment { (when_of(&row.from)) }
                        td.moment { (when_of(&row.until)) }
                        td { (row.climate) }
                    }
                } }
            }
        })) }
    }
}

fn conditioning(sheet: &PlanSheet, filled: Filled<'_>) -> Markup {
    let numbers: Vec<String> = sheet.specimens.iter().map(|row| row.specimen.to_string()).collect();
    let mut what: Vec<Answer<'_>> = numbers
        .iter()
        .map(|number| Answer { value: number, label: format!("Specimen {number}") })
        .collect();
    what.push(Answer { value: "layer", label: "The layer below".to_owned() });
    let field = |name, label, hint| Field { name, label, hint };
    let time = "Date and time in UTC, such as 2026-11-24 08:00.";
    html! {
        form method="post" novalidate {
            (filled.any_of(field("what", "What was conditioned?", ""), &what))
            (filled.line(field("from", "When did it begin?", time)))
            (filled.line(field("until", "When did it end?", time)))
            (filled.number(field("temperature-from", "Lowest temperature, in °C", "")))
            (filled.number(field("temperature-to", "Highest temperature, in °C", "")))
            (filled.number(field("humidity-from", "Lowest relative humidity, in %", "")))
            (filled.number(field("humidity-to", "Highest relative humidity, in %", "")))
            button type="submit" name="act" value="conditioned" { "Record the conditioning" }
        }
    }
}

fn planned(sheet: &PlanSheet) -> Markup {
    html! {
        h2 { "What was planned" }
        dl.said { @for said in &sheet.planned { dt { (said.what) } dd { (said.said) } } }
        details {
            summary { "Each number with its clause" }
            (shown::wide("Numbers of the rules", &html! {
                table {
                    thead { tr { th scope="col" { "What" } th scope="col" { "Asked" }
                        th scope="col" { "Clause" } th scope="col" { "How the number stands" } } }
                    tbody { @for asked in &sheet.asked {
                        tr { td { (words(&asked.key)) } td { (asked.value) }
                            td { (asked.source) " " (asked.clause) } td { (asked.standing) } }
                    } }
                }
            }))
        }
    }
}

/// `confirmation.rise-time` as words.
fn words(key: &str) -> String {
    let (topic, number) = key.split_once('.').unwrap_or(("", key));
    format!("{}: {}", topic.replace('-', " "), number.replace('-', " "))
}
