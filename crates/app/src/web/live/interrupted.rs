//! A sitting in the middle of which the program ended. What was read of its heating is put into
//! the book at the next start, as a void determination, or as one that counts where the curve was
//! whole; and what happened is said on the pages of the flame until another sitting is begun.

use std::path::Path;

use trial::moment::Moment;
use trial::number::PersonName;

use super::About;
use super::heating::{AFTER_TOP, Ended};
use super::notes::{self, HeatingNote, Note, Noted};
use super::read::{recorded, tried};
use crate::book::OpenBook;
use crate::output::Output;
use crate::problem::Problem;
use crate::step::confirm;
use crate::web::answer::sentence;
use crate::web::page::when;
use crate::web::site::{Person, Site};

/// What to do at the block, whatever the program knows.
const SEE: &str = "See that the flame is away from the block.";

/// Puts the heating of an interrupted sitting into the book, if there was one.
pub(in crate::web) async fn settled(site: &Site) {
    let note = match notes::read(site.folder()) {
        Some(Noted::Sitting(note) | Noted::Interrupted { yet: Some(note), .. }) => note,
        Some(Noted::Interrupted { yet: None, .. }) | None => return,
    };
    let all = format!("All readings are in {} of the book's folder.", note.recording);
    let noted = match &note.heating {
        None => {
            let about = note.about();
            let said = format!(
                "The program ended while {} sat at the block with {}. No heating was at work. \
                 {SEE} {all}",
                about.by, about.source
            );
            Noted::Interrupted { said, yet: None }
        }
        Some(heating) => {
            let by = Person(PersonName::from(heating.by.as_str()));
            let (note, heating) = (note.clone(), heating.clone());
            let again = note.clone();
            let done = site.act(by, move |book, output| settle(book, &note, &heating, output));
            match done.await {
                Ok(said) => Noted::Interrupted { said: format!("{said} {SEE} {all}"), yet: None },
                Err(refused) => {
                    let why = sentence(&refused.problem().text);
                    let said = format!(
                        "The program ended during a heating of the block, which is not in the \
                         book. {why} {SEE} {all}"
                    );
                    Noted::Interrupted { said, yet: Some(again) }
                }
            }
        }
    };
    if let Noted::Interrupted { said, .. } = &noted {
        site.say(said);
    }
    if let Err(problem) = notes::write(site.folder(), Some(&noted)) {
        site.say(&sentence(&problem.text));
    }
}

/// What is said of an interrupted sitting, until another is begun.
pub(in crate::web) fn said(book: &Path) -> Option<String> {
    match notes::read(book)? {
        Noted::Interrupted { said, .. } => Some(said),
        Noted::Sitting(_) => None,
    }
}

/// Records the heating, and says what came of it.
fn settle(
    book: &mut OpenBook,
    note: &Note,
    heating: &HeatingNote,
    output: &Output,
) -> Result<String, Problem> {
    let Some((moment, on)) = heating.put_on() else {
        return Err(Problem::used_wrongly("the note of it does not say when the flame was put on"));
    };
    let begun = format!("{} put the flame on at {}", heating.by, when(moment));
    if let Some(made) = book.history().determinations().iter().find(|made| made.at == moment) {
        let told = confirm::told(made);
        return Ok(format!("The program ended just after a heating, for which {begun}. {told}."));
    }
    let about = note.about().of(heating.first);
    let bytes = notes::cut(book.book().own_folder(), &note.recording, on);
    let lasting = notes::last(&bytes).map_or(0.0, |last| (last - on).seconds().max(0.0));
    let whole = whole(book, &about, moment, &bytes);
    let void = (!whole).then(|| {
        format!(
            "the program ended during the heating; what was read is kept, till {lasting:.1} s \
             after the flame was put on"
        )
    });
    let by = PersonName::from(heating.by.as_str());
    let (first, start) = (heating.first, heating.start());
    let ended = Ended { by, moment, first, on, start, bytes, void };
    let (heated, said) = if about.records {
        recorded(book, &about, ended, output)?
    } else {
        tried(book, &about, &ended)?
    };
    let curve = if whole { "Its curve is whole, and is read as any other. " } else { "" };
    let told = sentence(&heated.told);
    Ok(format!("The program ended during a heating, for which {begun}. {curve}{told} {said}"))
}

/// Whether the curve of the heating has come to its end.
fn whole(book: &OpenBook, about: &About, moment: Moment, bytes: &[u8]) -> bool {
    let read = confirm::read(book, &about.heating(), &about.file_name(moment), bytes);
    let Ok(confirm::ReadTrace { trace, found: Ok(rise) }) = read else { return false };
    trace.points().last().is_some_and(|last| last.at - rise.end.at > AFTER_TOP)
}
