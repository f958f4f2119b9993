//! The made-up laboratory as its first person finds it: on the morning of a test. Its equipment is in
//! calibration, a test is planned, specimen and layer are conditioned; nothing was in a flame yet.

use jiff::ToSpan as _;
use trial::fact::Conditioned;
use trial::moment::Moment;
use trial::number::SpecimenNumber;

use super::{bench, story};
use crate::book::OpenBook;
use crate::output::Output;
use crate::problem::Problem;

/// The name of the laboratory, and its address, where its first person gives none.
pub(crate) const LABORATORY: (&str, &str) = ("Made-up laboratory", "Nowhere (made up)");

/// So long were specimen and layer stored: twice what the method asks.
const STORED_MICROSECONDS: i64 = 48 * 3600 * 1_000_000;

/// Lays the laboratory out in a made-up book that was just opened.
pub(crate) fn found(book: &mut OpenBook, output: &Output) -> Result<(), Problem> {
    let now = book.now()?;
    let (calibrated, due) =
        (now.day().saturating_sub(50.days()), now.day().saturating_add(315.days()));
    for fact in bench::equipped(calibrated, due) {
        book.keep(&fact, output)?;
    }
    story::planned(book, output)?;
    let began = Moment::from_unix_microseconds(now.unix_microseconds() - STORED_MICROSECONDS)
        .map_err(|error| {
            Problem::surroundings(error.to_string()).hint("Set this machine's clock.")
        })?;
    for what in [Conditioned::Specimens(vec![SpecimenNumber(1)]), Conditioned::Layer] {
        book.keep(&story::conditioned(what, began, now), output)?;
    }
    Ok(())
}
