//! The plans under which the flame can be confirmed: of many, the newest that are still open.

use maud::{Markup, html};
use serde::Serialize;
use trial::history::History;
use trial::number::PlanNumber;
use utoipa::ToSchema;

use crate::book::OpenBook;
use crate::form::fields::{Answer, Field, Filled as Form, Typed, Wrong};

/// So many are offered.
const OFFERED: usize = 20;

/// Plans found ready.
#[derive(Serialize, ToSchema)]
pub(super) struct Offered {
    /// The newest of them, those without a report first.
    pub(super) plans: Vec<PlanShown>,
    /// How many more are without a report. Each plan found ready can be named by its number.
    pub(super) more: usize,
}

/// A plan under which the flame can be confirmed.
#[derive(Clone, Serialize, ToSchema)]
pub(super) struct PlanShown {
    /// The plan.
    plan: u32,
    /// The laboratory's job.
    job: String,
}

/// The plans found ready that are offered.
pub(super) fn offered(history: &History) -> Offered {
    let mut open: Vec<PlanNumber> =
        history.open_plans().filter(|plan| history.is_ready(*plan)).collect();
    open.reverse();
    let more = open.len().saturating_sub(OFFERED);
    open.truncate(OFFERED);
    let mut numbers = open.clone();
    let others = history.plans().rev().filter(|plan| history.is_ready(*plan));
    numbers.extend(others.filter(|plan| !open.contains(plan)).take(OFFERED - open.len()));
    let shown = numbers.into_iter().filter_map(|number| {
        let job = history.plan(number)?.draft().job.clone();
        Some(PlanShown { plan: number.0, job })
    });
    Offered { plans: shown.collect(), more }
}

/// The plan that was chosen, or whose number was typed.
///
/// # Errors
///
/// [`Wrong`] where it was not found ready.
pub(super) fn plan(book: &OpenBook, typed: &Typed) -> Result<PlanNumber, Wrong> {
    let ask = "Choose the plan for which the flame is confirmed.";
    let field = if typed.text("other").is_empty() { "plan" } else { "other" };
    let text = typed.needed(field, ask)?;
    let number = text.trim_start_matches("P-").parse().ok().map(PlanNumber);
    let ready = number.filter(|number| book.history().is_ready(*number));
    ready.ok_or_else(|| Wrong::new(field, format!("Plan `{text}` was not found ready. {ask}")))
}

/// The plan; the only one is chosen. Where there are many, another one's number can be typed.
pub(super) fn pick_plan(form: Form<'_>, offered: &Offered) -> Markup {
    let numbers: Vec<String> = offered.plans.iter().map(|it| it.plan.to_string()).collect();
    let options = offered
        .plans
        .iter()
        .zip(&numbers)
        .map(|(it, number)| Answer { value: number, label: format!("P-{}: {}", it.plan, it.job) });
    let blank =
        (offered.plans.len() != 1).then(|| Answer { value: "", label: "Choose".to_owned() });
    let options: Vec<Answer<'_>> = blank.into_iter().chain(options).collect();
    let hint = match offered.more {
        0 => "Those without a report stand first.".to_owned(),
        more => format!("The newest without a report; {more} more are found below by number."),
    };
    html! {
        (form.pick(Field {
            name: "plan",
            label: "For which plan is the flame confirmed?",
            hint: if offered.plans.len() > 1 { &hint } else { "" },
        }, &options))
        @if offered.plans.len() >= OFFERED {
            (form.number(Field {
                name: "other",
                label: "Number of another plan (optional)",
                hint: "Such as 12. It goes before what is chosen above.",
            }))
        }
    }
}
