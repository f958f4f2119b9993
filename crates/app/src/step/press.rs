//! Keeps presses from the bench, and lets another device take the timing over.

use trial::bench::{DeviceId, Press, PressLog, SittingId};
use trial::fact::{Authorisation, Fact};
use trial::finding::Stage;
use trial::number::{PlanNumber, SpecimenNumber};

use super::people;
use crate::book::OpenBook;
use crate::output::Output;
use crate::problem::Problem;

/// Which specimen is timed, on which device, in which sitting.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Bench {
    /// The plan.
    pub(crate) plan: PlanNumber,
    /// The specimen.
    pub(crate) specimen: SpecimenNumber,
    /// The device.
    pub(crate) device: DeviceId,
    /// The sitting.
    pub(crate) sitting: SittingId,
}

/// Keeps what a batch brings that is not kept yet, and gives the number of the last press kept.
/// A batch may come again, cut, or out of order.
pub(crate) fn presses(
    book: &mut OpenBook,
    bench: Bench,
    batch: &[Press],
    output: &Output,
) -> Result<u32, Problem> {
    let Bench { plan, specimen, device, sitting } = bench;
    if book.history().sitting(plan, specimen).is_none() {
        book.plan_of(plan, specimen)?;
        people::may(book, Authorisation::Test, (Stage::Run, plan), output)?;
    }
    let none = PressLog::default();
    let log = log(book, bench)?.unwrap_or(&none);
    let presses = log.fresh(batch).map_err(|error| {
        Problem::conflict(format!("specimen {specimen}: {error}")).hint(error.hint())
    })?;
    let Some(last) = presses.last() else { return Ok(log.kept_to()) };
    let kept_to = last.sequence;
    book.keep(&Fact::PressesKept { plan, specimen, device, sitting, presses }, output)?;
    Ok(kept_to)
}

/// Lets a sitting keep the time of a specimen from here on.
pub(crate) fn take_over(
    book: &mut OpenBook,
    bench: Bench,
    reason: &str,
    output: &Output,
) -> Result<(), Problem> {
    let Bench { plan, specimen, device, sitting } = bench;
    book.plan(plan)?;
    let reason = reason.trim().to_owned();
    if reason.is_empty() {
        return Err(Problem::used_wrongly("it is not said why another device takes over")
            .hint("Say why, such as \"the battery of the first tablet is empty\"."));
    }
    people::may(book, Authorisation::Test, (Stage::Run, plan), output)?;
    book.keep(&Fact::TimekeeperTaken { plan, specimen, device, sitting, reason }, output)?;
    Ok(())
}

/// The presses kept of this sitting; a sitting that never pressed may only begin where no other
/// times the specimen.
fn log(book: &OpenBook, bench: Bench) -> Result<Option<&PressLog>, Problem> {
    let Bench { plan, specimen, sitting, .. } = bench;
    book.plan_of(plan, specimen)?;
    if let Some(own) = book.history().sitting_of((plan, specimen), sitting) {
        return Ok(Some(&own.log));
    }
    match book.history().sitting(plan, specimen) {
        None => Ok(None),
        Some(other) => Err(Problem::conflict(format!(
            "specimen {specimen} is being timed by {} on another device since {}",
            other.who, other.since
        ))
        .hint("Watch from here, or take over.")),
    }
}
