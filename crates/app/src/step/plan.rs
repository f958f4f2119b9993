//! Draws up a plan.

use trial::fact::{EvidenceKind, Fact};
use trial::finding::Stage;
use trial::number::PlanNumber;
use trial::plan::draw_up;

use crate::book::OpenBook;
use crate::form::plan::PlanForm;
use crate::output::Output;
use crate::problem::Problem;

/// Draws up the plan that the form asks for, under the next number, with the rules of today.
pub(crate) fn plan(
    book: &mut OpenBook,
    form: PlanForm,
    output: &Output,
) -> Result<PlanNumber, Problem> {
    let number = PlanNumber(book.history().last_plan().map_or(0, |last| last.0) + 1);
    let plan = match draw_up(form.draft(number), book.library()) {
        Ok(plan) => plan,
        // A plan that was never drawn up is not in the record: there is nothing to refuse yet.
        Err(findings) => return Err(Problem::refusal(Stage::Plan, number, &findings)),
    };
    let rules = plan.requirement().rules.clone();
    for used in &rules {
        let text = book.library().text(used).unwrap_or_default().to_owned();
        let name = format!("{}.toml", used.id.0.replace('/', "-"));
        book.file_bytes(&name, EvidenceKind::Rules, &mut text.as_bytes())?;
    }
    book.keep(&Fact::PlanDrawnUp { draft: Box::new(plan.draft().clone()), rules }, output)?;
    Ok(number)
}
