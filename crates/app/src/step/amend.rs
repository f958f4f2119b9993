//! Corrects what was seen of a specimen: what was recorded first stays beside it.

use trial::fact::Fact;
use trial::finding::Stage;
use trial::number::PlanNumber;
use trial::run::{Observed, amend as amended};

use crate::book::OpenBook;
use crate::output::Output;
use crate::problem::Problem;

/// Keeps what holds instead of what was recorded of a specimen, with the reason.
///
/// # Errors
///
/// Where it was not described, nothing differs, no reason is given, or no run can be so; and as the
/// disk says.
pub(crate) fn amend(
    book: &mut OpenBook,
    plan: PlanNumber,
    (observed, reason): (Observed, &str),
    output: &Output,
) -> Result<(), Problem> {
    let specimen = observed.specimen;
    let planned = book.plan_of(plan, specimen)?;
    let runs = book.history().runs(plan).iter();
    let Some(recorded) = runs.into_iter().find(|it| it.run.specimen() == specimen) else {
        let text = format!("nobody has said yet what was seen of specimen {specimen} of {plan}");
        return Err(Problem::conflict(text).hint("Describe it first; nothing is to be corrected."));
    };
    if *recorded.run.observed() == observed {
        return Err(Problem::used_wrongly(format!("nothing of specimen {specimen} differs"))
            .hint("Change the value that is wrong; the rest stays as it is."));
    }
    let reason = reason.trim().to_owned();
    if reason.is_empty() {
        return Err(Problem::used_wrongly("it is not said why a value is corrected")
            .hint("Write the reason: it stands beside the old value and prints on the report."));
    }
    let (entry, confirmation) = (recorded.entry, recorded.confirmation);
    if let Err(findings) = amended(planned, observed.clone()) {
        return Err(Problem::refusal(Stage::Run, plan, &findings));
    }
    let holds = Fact::RunRecorded { plan, confirmation, observed: Box::new(observed) };
    book.keep(&Fact::Corrected { entry, reason, by: Some(Box::new(holds)) }, output).map(drop)
}
