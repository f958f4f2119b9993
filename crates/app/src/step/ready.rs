//! Checks whether the test may begin.

use trial::fact::Fact;
use trial::finding::Stage;
use trial::number::PlanNumber;
use trial::readiness;

use crate::book::OpenBook;
use crate::output::Output;
use crate::problem::Problem;

/// Checks a plan's readiness, and keeps what was found.
pub(crate) fn ready(
    book: &mut OpenBook,
    number: PlanNumber,
    output: &Output,
) -> Result<(), Problem> {
    let (now, who) = (book.now()?, book.who()?);
    let found = readiness::check(book.plan(number)?, book.history(), &who, now);
    match found {
        Ok(_) => book.keep(&Fact::ReadinessFound { plan: number }, output).map(|_| ()),
        Err(findings) => Err(book.refuse((Stage::Readiness, number), findings, output)),
    }
}
