//! The page of the flame.

use maud::{Markup, html};

use super::curve::{Axes, picture};
use super::{DeterminationShown, FlameSheet};
use crate::form::fields::{Field, Filled};
use crate::web::answer::sentence;
use crate::web::page::help;

/// What stands on the page.
pub(super) fn main(sheet: &FlameSheet, filled: Filled<'_>) -> Markup {
    html! {
        (filled.summary())
        p.sentence { (sheet.sentence) }
        @if let Some(said) = &sheet.interrupted { p.abnormal { "◆ " (said) } }
        (acts(sheet))
        p.onward { a href="/flame/around" { "Around the flame: gas, purge, smoke" } }
        p.onward { a href="/flame/base-line" { "Base line of the flame" } }
        (help::way("flame"))
        @if !sheet.since.is_empty() {
            h2 { @if sheet.confirmation.is_some() { "Since that confirmation" } @else { "Determinations" } }
            @for said in &sheet.since_said { p { (said) } }
            (determinations(&sheet.since, filled))
        }
        @if let Some(last) = &sheet.confirmation {
            h2 { "Confirmation C-" (last.confirmation) }
            p { "Recorded at " (last.at) " by " (last.by) ", under "
                a href={ "/plans/" (last.plan) } { "plan P-" (last.plan) } "." }
            (determinations(&last.determinations, filled))
        }
    }
}

fn acts(sheet: &FlameSheet) -> Markup {
    html! {
        @if sheet.plans.plans.is_empty() {
            p { "No plan was found ready; the flame is confirmed for one. "
                a href="/plans" { "Look at the plans" } "." }
        } @else {
            p { @if let Some(next) = &sheet.next {
                    a.button href={ "/bench/" (next.plan) "/" (next.specimen) } {
                        "Go to the bench" span.apart { " with specimen " (next.specimen) }
                    } " "
                }
                a.button.second[sheet.next.is_some()] href="/flame/run" { "Confirm the flame" } " "
                a.button.second href="/flame/bring" { "Bring in a file" } " "
                a.button.second href="/flame/type" { "Type the two times" } }
        }
        p.onward { a href="/flame/chart" { "Flame chart" } }
    }
}

/// Each determination with its small curve, and a form to void it.
fn determinations(made: &[DeterminationShown], filled: Filled<'_>) -> Markup {
    html! {
        div.heatings { @for made in made { (determination(made, filled)) } }
    }
}

fn determination(made: &DeterminationShown, filled: Filled<'_>) -> Markup {
    let name = format!("D-{}", made.determination);
    let again = filled.typed.text("determination") == made.determination.to_string();
    html! {
        section.heating id=(name) aria-labelledby={ (name) "-name" } {
            h3 id={ (name) "-name" } { (name) }
            @match (&made.void, made.rise_s) {
                (Some(why), Some(rise)) => {
                    p { del { (format!("{rise:.2} s")) } " Void. " (sentence(why)) }
                }
                (Some(why), None) => p { "Void. " (sentence(why)) },
                (None, _) => p { b { (made.told.trim_start_matches(&format!("{name}: "))) } },
            }
            @if let (Some(curve), Some(window)) = (&made.curve, made.window) {
                figure {
                    (picture(std::slice::from_ref(curve), &Axes::since_bottom(window), &format!("{name}-curve")))
                    figcaption.hint { (curve.told) }
                }
            }
            p.hint { "At " (made.at) ", from " (made.source) "; the block began at "
                (format!("{:.1} °C", made.start_celsius)) "." }
            @for remark in &made.remarks { p { (remark) } }
            @if made.curve.is_some() {
                p.onward { a href={ "/flame/determinations/" (made.determination) } {
                    "Why is it so?" span.apart { " " (name) }
                } }
            }
            @if made.void.is_none() {
                details open[again && !filled.wrong.is_empty()] {
                    summary { "Void " (name) }
                    form method="post" action="/flame" novalidate {
                        input type="hidden" name="determination" value=(made.determination);
                        @if again { (filled.line(reason("reason"))) }
                        @else { (plain_reason(&name)) }
                        button.second type="submit" { "Void " (name) ", because of this" }
                    }
                }
            }
        }
    }
}

const fn reason(name: &str) -> Field<'_> {
    Field {
        name,
        label: "Why does it not count?",
        hint: "It stays in the record, with its reason.",
    }
}

/// The same question on a page with several such forms: each field has an id of its own.
fn plain_reason(name: &str) -> Markup {
    html! {
        div.field {
            label for={ (name) "-reason" } { (reason("").label) }
            p.hint id={ (name) "-hint" } { (reason("").hint) }
            input id={ (name) "-reason" } name="reason" type="text" autocomplete="off"
                aria-describedby={ (name) "-hint" };
        }
    }
}
