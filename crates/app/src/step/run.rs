//! Records what was seen on one specimen.

use trial::confirmation::still_holds;
use trial::fact::{Authorisation, Fact};
use trial::finding::Stage;
use trial::number::PlanNumber;
use trial::run::{Observed, record};

use super::people;
use crate::book::OpenBook;
use crate::output::Output;
use crate::problem::Problem;

/// Records a run under the confirmation that holds.
pub(crate) fn run(
    book: &mut OpenBook,
    plan: PlanNumber,
    observed: Observed,
    output: &Output,
) -> Result<(), Problem> {
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
