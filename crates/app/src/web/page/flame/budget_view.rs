//! The page of a rise time's budget.

use maud::{Markup, html};

use super::why::Budgeted;
use crate::form::fields::{Field, Filled};
use crate::step::budget::{BudgetLine, BudgetSheet, RuleShown};
use crate::web::answer::sentence;

/// What stands on the page.
pub(super) fn main(found: &Budgeted, filled: Filled<'_>) -> Markup {
    html! {
        (filled.summary())
        @match &found.sheet {
            Ok(sheet) => (told(sheet)),
            Err(problem) => {
                p.sentence { "There is no budget." }
                p { (sentence(&problem.text)) @if let Some(hint) = &problem.hint { " " (hint) } }
                @for cause in &problem.causes { p { (sentence(cause)) } }
            }
        }
        (certificate(found.number, filled))
        p.onward { a href={ "/flame/determinations/" (found.number) } { "Why it is as it is" } }
    }
}

fn told(sheet: &BudgetSheet) -> Markup {
    html! {
        p.sentence { (sheet.read) }
        p { "Expanded uncertainty, " (sheet.coverage) ". The method takes the time as it was read, with any block within its tolerance. For the block that the method describes, by a sensor that does not lag, it would be " (sheet.corrected) "." }
        h2 { "What it is made of" }
        (lines(&sheet.lines))
        @for said in &sheet.together { p { (said) } }
        @if !sheet.taken.is_empty() {
            p { "Nothing was stated for these lines; they are taken as usual: " (sheet.taken.join("; ")) "." }
        }
        h2 { "First order against trials" }
        p { (sheet.trials.sentence) }
        h2 { "By each decision rule" }
        (rules(&sheet.rules))
        h2 { "What would halve it" }
        p { (sheet.halving) }
        @if !sheet.improvements.is_empty() {
            div.wide role="region" aria-label="What would make it smaller" tabindex="0" { table {
                thead { tr { th { "Alone" } th.number { "Then ±" } } }
                tbody { @for it in &sheet.improvements {
                    tr { td { (it.says) } td.number { (format!("{:.2}\u{a0}s", it.expanded_s)) } }
                } }
            } }
        }
    }
}

fn lines(lines: &[BudgetLine]) -> Markup {
    let (counting, nothing): (Vec<&BudgetLine>, Vec<&BudgetLine>) =
        lines.iter().partition(|line| line.contribution_s != 0.0);
    html! {
        div.wide role="region" aria-label="Lines of the budget" tabindex="0" { table {
            thead { tr {
                th { "Line" } th.number { "Standard uncertainty" } th.number { "Seconds for each unit" }
                th.number { "Adds" } th.number { "Of the variance" }
            } }
            tbody { @for line in counting {
                tr {
                    td { (line.name) p.hint { (line.why) } }
                    td.number { (format!("{:.4}\u{a0}{}", line.standard_uncertainty, unit(line))) }
                    td.number { (format!("{:.4}", line.sensitivity).replace('-', "−")) }
                    td.number { (format!("{:.3}\u{a0}s", line.contribution_s.abs())) }
                    td.number { (format!("{:.1}\u{a0}%", 100.0 * line.share).replace('-', "−")) }
                }
            } }
        } }
        @if !nothing.is_empty() {
            p.hint { "Nothing comes from: " (nothing.iter().map(|it| it.name.as_str()).collect::<Vec<_>>().join("; ")) "." }
        }
    }
}

/// The unit of a line; a ratio has none.
fn unit(line: &BudgetLine) -> &str {
    if line.unit == "1" { "" } else { &line.unit }
}

fn rules(rules: &[RuleShown]) -> Markup {
    let inside = rules.first().map_or(0.0, |rule| rule.in_band);
    html! {
        div.wide role="region" aria-label="Decision rules" tabindex="0" { table {
            thead { tr { th { "Rule" } th { "The band is" } th { "Accepted are" } th.number { "Risk at its edge" } } }
            tbody { @for rule in rules {
                tr {
                    td { (rule.rule) }
                    td { (rule.standing) }
                    td { @match rule.accepted_s {
                        Some((low, high)) => (format!("{low:.2} s to {high:.2} s")),
                        None => "nothing",
                    } }
                    td.number { @if let Some(risk) = rule.worst_risk { (format!("{:.1} %", 100.0 * risk)) } }
                }
            } }
        } }
        p { "The true time lies in the band with a probability of "
            (crate::words::percent(metrology::Ratio::from_fraction(inside))) "." }
    }
}

/// What the thermocouple's certificate says.
fn certificate(number: u32, filled: Filled<'_>) -> Markup {
    let field = |name, label, hint| Field { name, label, hint };
    html! {
        h2 { "With a certificate" }
        form method="get" action={ "/flame/determinations/" (number) "/budget" } novalidate {
            (filled.number(field("bottom", "Thermocouple at the bottom of the window: standard uncertainty in K (optional)", "By its calibration, in place of its class.")))
            (filled.number(field("top", "The same at the top", "")))
            (filled.number(field("correlation", "How closely these go together, from −1 to 1 (optional)", "One thermocouple serves both ends: 0.8 is usual, 0 is on the safe side.")))
            (filled.number(field("junction", "Reference junction: standard uncertainty in K (optional)", "")))
            button.second type="submit" { "Show it with these" }
        }
    }
}
