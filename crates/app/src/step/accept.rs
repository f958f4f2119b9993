//! Accepts the doubtful times of a specimen, and holds a report back until that is done.

use trial::fact::{Authorisation, Fact};
use trial::number::{PlanNumber, SpecimenNumber};

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
    may(book)?;
    let reason = reason.trim().to_owned();
    if reason.is_empty() {
        return Err(Problem::used_wrongly("it is not said why the times are accepted")
            .hint("Say why they hold, such as \"the doubt is far smaller than the distance to the limit\"."));
    }
    book.keep(&Fact::TimesAccepted { plan, specimen, reason }, output).map(|_| ())
}

/// Whether who writes may accept doubtful times: a reviewer, where the laboratory states who is.
fn may(book: &OpenBook) -> Result<(), Problem> {
    let (who, history) = (book.who()?, book.history());
    let review = |may: &[Authorisation]| may.contains(&Authorisation::Review);
    if history.authorisations(&who).is_none_or(|may| may.is_empty() || review(may)) {
        return Ok(());
    }
    let people = history.people().iter().filter(|(_, may)| review(may));
    let names: Vec<&str> = people.map(|(person, _)| person.0.as_str()).collect();
    Err(Problem::conflict(format!("{who} is not authorised to review, and accepts no times"))
        .hint(format!("Ask one who is: {}.", names.join(", "))))
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
