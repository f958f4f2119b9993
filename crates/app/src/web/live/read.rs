//! A heating that has ended is read, and recorded where the sitting's are.

use super::words::{ends, not_yet, within};
use super::{About, Ended, Heated};
use crate::book::OpenBook;
use crate::output::Output;
use crate::problem::{Exit, Problem};
use crate::step::confirm::{self, Witnessed};
use crate::web::answer::sentence;
use trial::fact::{Cooling, EvidenceKind, Fact};
use trial::number::DeterminationNumber;

/// Records a heating, and holds all that there are against the band.
pub(super) fn recorded(
    book: &mut OpenBook,
    about: &About,
    ended: Ended,
    output: &Output,
) -> Result<(Heated, String), Problem> {
    let about = &about.of(ended.first);
    let heating = about.heating();
    let name = about.file_name(ended.moment);
    let remarks = about.remarks();
    let witnessed = Witnessed { at: ended.moment, start: ended.start, void: ended.void, remarks };
    let number = confirm::witnessed(book, &heating, (&name, &ended.bytes), witnessed, output)?;
    let read = confirm::read(book, &heating, &name, ended.bytes.as_slice()).ok();
    let on = ended.on;
    let made = book.history().determinations().iter().find(|made| made.number == number);
    let heated = Heated {
        number: Some(number),
        told: made.map(confirm::told).unwrap_or_default(),
        void: made.is_some_and(|made| made.void.is_some()),
        rise_s: made.and_then(|made| made.rise_time).map(both),
        on,
        trace: read.map(|read| (read.trace, read.found.ok())),
    };
    let said = match confirm::flame(book, about.plan, output) {
        Ok(Some(number)) => {
            format!("{} {number}: the flame is confirmed.{}", within(book, about.plan), ends(book))
        }
        Ok(None) => not_yet(book, about.plan),
        Err(problem) if problem.exit == Exit::Finding => {
            let found = problem.findings.iter();
            let found: Vec<String> =
                found.map(|it| format!("{} {}", sentence(&it.text), it.hint)).collect();
            format!("The flame is not confirmed. {}", found.join(" "))
        }
        Err(problem) => return Err(problem),
    };
    Ok((heated, said))
}

/// Records the cooling after a heating.
pub(super) fn cooled(
    book: &mut OpenBook,
    about: &About,
    (determination, bytes): (DeterminationNumber, Vec<u8>),
    output: &Output,
) -> Result<(), Problem> {
    let name = format!("{determination} with its cooling.csv");
    let evidence = book.file_bytes(&name, EvidenceKind::Trace, &mut bytes.as_slice())?;
    let read_as = about.read_as.clone();
    let cooling = Cooling { determination, evidence, read_as };
    book.keep(&Fact::CoolingKept(cooling), output).map(drop)
}

/// Reads a heating of the practice bench in a book of real tests, where nothing of it is recorded.
pub(super) fn tried(
    book: &OpenBook,
    about: &About,
    ended: &Ended,
) -> Result<(Heated, String), Problem> {
    let about = &about.of(ended.first);
    let name = about.file_name(ended.moment);
    let read = confirm::read(book, &about.heating(), &name, ended.bytes.as_slice())?;
    let (told, void) = match (&ended.void, &read.found) {
        (Some(why), _) => (format!("void: {why}"), true),
        (None, Ok(rise)) => (confirm::value(&rise.value), false),
        (None, Err(error)) => (format!("void: {error}"), true),
    };
    let rise_s = read.found.as_ref().ok().map(|rise| both(rise.value));
    let trace = Some((read.trace, read.found.ok()));
    let heated = Heated { number: None, told, void, rise_s, on: ended.on, trace };
    Ok((heated, "This was practice: nothing of it is in the book.".to_owned()))
}

fn both(rise: metrology::Measurement<metrology::Duration>) -> (f64, f64) {
    (rise.value.seconds(), confirm::expanded_s(&rise))
}
