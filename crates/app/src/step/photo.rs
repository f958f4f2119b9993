//! Keeps photographs of a specimen from before the flame.

use trial::bench::State;
use trial::fact::{Evidence, Fact};
use trial::number::{PlanNumber, SpecimenNumber};

use crate::book::OpenBook;
use crate::output::Output;
use crate::problem::Problem;

/// Whether a photograph of before the flame may still come: none is one once the flame was there.
pub(crate) fn may_come(
    book: &OpenBook,
    (plan, specimen): (PlanNumber, SpecimenNumber),
) -> Result<(), Problem> {
    book.plan_of(plan, specimen)?;
    let history = book.history();
    let standing = history.standing(plan, specimen);
    let pressed = standing.is_some_and(|standing| standing.state != State::Ready);
    if pressed || history.used_specimens(plan).contains(&specimen) {
        return Err(Problem::conflict(format!(
            "the flame came to specimen {specimen} of plan {plan} already"
        ))
        .hint("Add the photograph to the description: it is one of after the flame."));
    }
    Ok(())
}

/// Keeps a photograph, once, however often it comes; how many there are then.
pub(crate) fn keep(
    book: &mut OpenBook,
    (plan, specimen): (PlanNumber, SpecimenNumber),
    photo: Evidence,
    output: &Output,
) -> Result<usize, Problem> {
    may_come(book, (plan, specimen))?;
    let known = book.history().photos_before(plan, specimen);
    if !known.iter().any(|it| it.hash == photo.hash) {
        book.keep(&Fact::SpecimenPhotographed { plan, specimen, photo }, output)?;
    }
    Ok(book.history().photos_before(plan, specimen).len())
}
