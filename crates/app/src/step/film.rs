//! Keeps films of specimens, and what is said of their place beside the presses.

use trial::fact::{Evidence, Fact};
use trial::film::FilmRecorded;
use trial::moment::Elapsed;
use trial::number::{PlanNumber, SpecimenNumber};

use crate::book::OpenBook;
use crate::output::Output;
use crate::problem::Problem;

/// Keeps that a film is of a specimen; once, however often it comes.
pub(crate) fn keep(
    book: &mut OpenBook,
    (plan, specimen): (PlanNumber, SpecimenNumber),
    (film, recorded): (Evidence, Option<FilmRecorded>),
    output: &Output,
) -> Result<(), Problem> {
    if book.history().films(plan, specimen).iter().any(|it| it.film.hash == film.hash) {
        return Ok(());
    }
    book.keep(&Fact::FilmKept { plan, specimen, film, recorded }, output).map(|_| ())
}

/// Keeps when in a film the flame is removed; what was said last already is not kept again. Whether
/// the specimen has such a film.
pub(crate) fn place(
    book: &mut OpenBook,
    (plan, specimen): (PlanNumber, SpecimenNumber),
    (sha256, removed): (&str, Elapsed),
    output: &Output,
) -> Result<bool, Problem> {
    let mut films = book.history().films(plan, specimen).iter();
    let Some(found) = films.find(|it| it.film.hash.to_string() == sha256) else {
        return Ok(false);
    };
    let film = found.film.hash;
    if found.placed.as_ref().is_none_or(|placed| placed.removed != removed) {
        book.keep(&Fact::FilmPlaced { plan, specimen, film, removed }, output)?;
    }
    Ok(true)
}
