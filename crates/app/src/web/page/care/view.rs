//! The page of the care of the bench.

use maud::{Markup, html};

use super::{CareSheet, InTheWay};
use crate::form::fields::{Answer, Field, Filled};
use crate::step::care::CareShown;
use crate::web::page::shown::wide;

/// What stands on the page.
pub(super) fn main(sheet: &CareSheet, filled: Filled<'_>) -> Markup {
    html! {
        (filled.summary())
        p { "One press records that an act was done now, with your name. What was done stands on the "
            a href="/flame/chart" { "flame chart" } " too." }
        (wide("Care of the bench", &acts(&sheet.acts)))
        (in_detail(sheet, filled))
        @if !sheet.in_the_way.is_empty() { (let_through(&sheet.in_the_way, filled)) }
        (intervals(sheet, filled))
        p.onward { a href="/care/commissioning" { "A new bench: the list before its first test" } }
    }
}

fn acts(acts: &[CareShown]) -> Markup {
    html! {
        table {
            // What is pressed stands where a phone shows it.
            thead { tr { th scope="col" { "Act" } th scope="col" { "Done now" }
                th scope="col" { "How it stands" } th scope="col" { "Every" } } }
            tbody { @for it in acts { tr {
                td { (it.what) }
                td.press { (press(it)) }
                td {
                    @if it.due { span.abnormal { span aria-hidden="true" { "◆ " } "Due: " (it.told) } }
                    @else { (it.told) }
                }
                td { (interval(it)) }
            } } }
        }
    }
}

fn interval(it: &CareShown) -> String {
    let days = it.days.map(|days| format!("{days} days"));
    let specimens = it.specimens.map(|count| format!("{count} specimens"));
    let every: Vec<String> = days.into_iter().chain(specimens).collect();
    if every.is_empty() {
        return "not set".to_owned();
    }
    let whose = if it.own_interval { "" } else { " (a beginning of ours)" };
    let need = if it.for_ready { ", needed for ready" } else { "" };
    format!("{}{need}{whose}", every.join(" or "))
}

/// The one press; a lot is recorded by opening it.
fn press(it: &CareShown) -> Markup {
    html! {
        @if it.by_lot {
            a href="/open-lot" { "Open a lot" }
        } @else {
            form.inline method="post" action="/care" {
                input type="hidden" name="act" value="done";
                input type="hidden" name="task" value=(it.task);
                button.second aria-label={ "Done now: " (it.what) } { "Done now" }
            }
        }
    }
}

const fn field<'a>(name: &'a str, label: &'a str, hint: &'a str) -> Field<'a> {
    Field { name, label, hint }
}

fn pick_act<'s>(acts: impl Iterator<Item = &'s CareShown>) -> Vec<Answer<'s>> {
    let blank = Answer { value: "", label: "Choose".to_owned() };
    let acts = acts.map(|it| Answer { value: it.task, label: it.what.to_owned() });
    std::iter::once(blank).chain(acts).collect()
}

/// An act with its piece and what was found.
fn in_detail(sheet: &CareSheet, filled: Filled<'_>) -> Markup {
    let by_hand = sheet.acts.iter().filter(|it| !it.by_lot);
    let open = filled.typed.text("act") == "done" && !filled.wrong.is_empty();
    let blank = Answer { value: "", label: "None in particular".to_owned() };
    let pieces = sheet.pieces.iter().map(|(value, label)| Answer { value, label: label.clone() });
    let pieces: Vec<Answer<'_>> = std::iter::once(blank).chain(pieces).collect();
    html! {
        details open[open] {
            summary { "With piece and remark" }
            form method="post" action="/care" novalidate {
                input type="hidden" name="act" value="done";
                (filled.pick(field("task", "What was done?", ""), &pick_act(by_hand)))
                (filled.pick(field("piece", "To which piece? (optional)", ""), &pieces))
                (filled.line(field("note", "What was found? (optional)",
                    "Such as 0.581 g, or the bore in micrometres.")))
                button.second { "Record it" }
            }
        }
    }
}

fn let_through(due: &[InTheWay], filled: Filled<'_>) -> Markup {
    let values: Vec<String> = due.iter().map(|it| format!("{} {}", it.plan, it.item)).collect();
    let blank = Answer { value: "", label: "Choose".to_owned() };
    let items = due
        .iter()
        .zip(&values)
        .map(|(it, value)| Answer { value, label: format!("P-{}: {}", it.plan, it.what) });
    let items: Vec<Answer<'_>> = std::iter::once(blank).chain(items).collect();
    html! {
        h2 { "In the way of a plan" }
        p { "While this is due the bench does not begin. An engineer may write why a plan is tested \
             all the same; the reason prints on its report." }
        form method="post" action="/care" novalidate {
            input type="hidden" name="act" value="let";
            (filled.pick(field("let", "What is let through?", ""), &items))
            (filled.words(field("reason", "Why may it wait?", "")))
            button.second { "Let it through, because of this" }
        }
    }
}

fn intervals(sheet: &CareSheet, filled: Filled<'_>) -> Markup {
    let needs = [
        Answer { value: "no", label: "No: it is reminded of".to_owned() },
        Answer { value: "yes", label: "Yes: while it is due no plan is ready".to_owned() },
    ];
    html! {
        h2 { "The laboratory's own intervals" }
        p { "No standard gives them. What is called a beginning of ours is common practice, and \
             counts from the first time that an act is recorded." }
        form method="post" action="/care" novalidate {
            input type="hidden" name="act" value="every";
            (filled.pick(field("every-task", "Which act?", ""), &pick_act(sheet.acts.iter())))
            (filled.number(field("days", "After how many days? (optional)", "Such as 30.")))
            (filled.number(field("specimens", "After how many specimens? (optional)", "Such as 50.")))
            (filled.one_of(field("for-ready", "Is it needed for ready?", ""), &needs))
            button { "Set this interval" }
        }
    }
}
