//! Judges a plan's runs.

use trial::fact::Fact;
use trial::number::PlanNumber;
use trial::verdict::Verdict;

use crate::book::OpenBook;
use crate::output::Output;
use crate::problem::Problem;

/// Judges, and keeps the verdict with its exact account.
pub(crate) fn judge(
    book: &mut OpenBook,
    plan: PlanNumber,
    output: &Output,
) -> Result<Verdict, Problem> {
    book.plan(plan)?;
    if book.history().runs(plan).is_empty() {
        return Err(Problem::used_wrongly(format!("no specimen of plan {plan} was tested yet"))
            .hint(format!("Record one with `cinderbook run new {} FILE`.", plan.0)));
    }
    let Some(verdict) = book.history().judge(plan) else {
        return Err(Problem::used_wrongly(format!("plan {plan} is not in this book")));
    };
    let (standing, account) = (verdict.standing, verdict.account());
    book.keep(&Fact::VerdictReached { plan, standing, account }, output)?;
    Ok(verdict)
}
