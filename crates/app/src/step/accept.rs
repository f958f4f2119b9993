//! Accepts the doubtful times of a specimen, and holds a report back until that is done.

use trial::fact::{Authorisation, Fact};
use trial::finding::Stage;
use trial::number::{PlanNumber, SpecimenNumber};

use super::people;
use crate::book::OpenBook;
use crate::output::Output;
use crate::problem::{Exit, Found, Problem};

/// Keeps that the doubtful times of a specimen are accepted; once, however often it is asked.
///
/// # Errors
///
/// Where nothing is doubtful, no reason is given, or the person may not; and as the disk says.
pub(crate) fn times(
    book: &mut OpenBook,
    (plan, specimen): (PlanNumber, SpecimenNumber),
    reason: &str,
    output: &Output,
) -> Result<(), Problem> {
    book.plan_of(plan, specimen)?;
    let history = book.history();
    if history.doubts(plan, specimen).is_empty() {
        let text = format!("nothing makes the times of specimen {specimen} of {plan} doubtful");
        return Err(Problem::conflict(text).hint("There is nothing to accept."));
    }
    if history.times_accepted(plan, specimen).is_some() {
        return Ok(());
    }
    people::may(book, Authorisation::Review, (Stage::Review, plan), output)?;
    let reason = reason.trim().to_owned();
    if reason.is_empty() {
        return Err(Problem::used_wrongly("it is not said why the times are accepted")
            .hint("Say why they hold, such as \"the doubt is far smaller than the distance to the limit\"."));
    }
    book.keep(&Fact::TimesAccepted { plan, specimen, reason }, output).map(|_| ())
}

/// Whether nothing in a plan's times holds its report back.
///
/// # Errors
///
/// Each specimen whose times are doubtful and accepted by nobody.
pub(crate) fn none_waits(book: &OpenBook, plan: PlanNumber) -> Result<(), Problem> {
    let waiting = book.history().times_to_accept(plan);
    let found = |(specimen, doubts): &(SpecimenNumber, Vec<String>)| Found {
        kind: "doubtful-times".to_owned(),
        text: format!("the times of specimen {specimen} are doubtful: {}", doubts.join("; ")),
        hint: format!(
            "A reviewer accepts them on the page /specimens/{0}-{specimen}, or with `cinderbook run \
             accept {0} {specimen} --reason …`.",
            plan.0
        ),
    };
    match waiting.len() {
        0 => Ok(()),
        count => Err(Problem {
            findings: waiting.iter().map(found).collect(),
            exit: Exit::Finding,
            ..Problem::used_wrongly(format!(
                "plan {plan} cannot be reported yet: doubtful times of {count} {} wait to be \
                 accepted",
                if count == 1 { "specimen" } else { "specimens" }
            ))
        }),
    }
}
