//! Records what was seen on one specimen.

use trial::confirmation::still_holds;
use trial::fact::{Authorisation, Fact};
use trial::finding::Stage;
use trial::moment::Moment;
use trial::number::PlanNumber;
use trial::run::{Observed, record};

use super::people;
use super::review::hours_later;
use crate::book::OpenBook;
use crate::output::Output;
use crate::problem::Problem;

/// Records a run under the confirmation that holds. Where it is written later than it was seen, the
/// reason stands in its note.
pub(crate) fn run(
    book: &mut OpenBook,
    plan: PlanNumber,
    (mut observed, why_later): (Observed, &str),
    output: &Output,
) -> Result<(), Problem> {
    if let Some(later) = written_later(observed.began, book.now()?, why_later)? {
        observed.note = format!("{} {later}", observed.note).trim_start().to_owned();
    }
    let ready = book.ready(plan)?;
    let by = (&ready.plan().draft().ordered.method, observed.began.day());
    if let Err(refused) = book.history().may(&observed.observer, Authorisation::Test, by) {
        return Err(people::refused(book, (Stage::Run, plan), &refused, output));
    }
    let confirmed = match still_holds(&ready, book.history(), observed.began) {
        Ok(confirmed) => confirmed,
        Err(findings) => return Err(book.refuse((Stage::Confirmation, plan), findings, output)),
    };
    let run = match record(&confirmed, observed) {
        Ok(run) => run,
        Err(findings) => return Err(book.refuse((Stage::Run, plan), findings, output)),
    };
    let confirmation = confirmed.number();
    let observed = Box::new(run.observed().clone());
    book.keep(&Fact::RunRecorded { plan, confirmation, observed }, output)?;
    let burning = run.duration_of_burning().time.value;
    output.word(&format!("specimen {}: duration of burning {burning:.1}", run.specimen()));
    for departure in run.departures() {
        output.word(&format!("  {}", departure.text));
    }
    Ok(())
}

/// What the record says of something that is written later than it was seen: by how much, and why.
///
/// # Errors
///
/// [`Problem`] where it is not said why.
fn written_later(began: Moment, written: Moment, why: &str) -> Result<Option<String>, Problem> {
    let Some(hours) = hours_later(began, written) else { return Ok(None) };
    match why.trim().trim_end_matches('.') {
        "" => Err(Problem::used_wrongly(format!(
            "this is written {hours:.0} h after the flame, and it is not said why"
        ))
        .hint("Say why it is written later: the reason stays in the record and prints.")),
        why => Ok(Some(format!("Written {hours:.0} h after the flame because: {why}."))),
    }
}
