//! Keeps films of specimens, and what is said of their place beside the presses.

use trial::fact::{Evidence, Fact};
use trial::film::{FilmRecorded, TonesHeard};
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

/// What is said of a film's place.
pub(crate) struct Placing {
    /// The time of the film at which the flame is removed.
    pub(crate) removed: Elapsed,
    /// What its sound proposed, where it was listened to.
    pub(crate) heard: Option<(Elapsed, TonesHeard)>,
}

/// Keeps when in a film the flame is removed, and first what its sound proposed; what was said last
/// already is not kept again. Whether the specimen has such a film.
pub(crate) fn place(
    book: &mut OpenBook,
    (plan, specimen): (PlanNumber, SpecimenNumber),
    (sha256, placing): (&str, Placing),
    output: &Output,
) -> Result<bool, Problem> {
    let Placing { removed, heard } = placing;
    let mut films = book.history().films(plan, specimen).iter();
    let Some(found) = films.find(|it| it.film.hash.to_string() == sha256) else {
        return Ok(false);
    };
    let film = found.film.hash;
    let known = found.heard.as_ref().map(|it| (it.removed, it.tones.clone()));
    let mut fresh = found.placed.as_ref().is_none_or(|placed| placed.removed != removed);
    if let Some((removed, tones)) = heard.filter(|heard| known.as_ref() != Some(heard)) {
        book.keep(&Fact::FilmHeard { plan, specimen, film, removed, tones }, output)?;
        // What was taken follows what was proposed, also where it is as it was.
        fresh = true;
    }
    if fresh {
        book.keep(&Fact::FilmPlaced { plan, specimen, film, removed }, output)?;
    }
    Ok(true)
}
