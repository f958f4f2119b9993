//! Faults of the disk under an open book: room that is made for presses, and what is noted of a write
//! that failed, so that the record says it once the book takes entries again.
#![expect(clippy::disallowed_methods, reason = "a note beside the record is read and taken away")]

use std::fs;
use std::path::Path;

use ledger::blob::BlobError;
use ledger::files::{Disk, put};
use ledger::store::StoreError;
use ledger::{Book, LedgerError, entry};
use serde::{Deserialize, Serialize};
use trial::fact::Fact;
use trial::machine::FaultMet;
use trial::moment::Moment;
use trial::number::PersonName;

use super::OpenBook;
use crate::output::Output;
use crate::room;
use crate::web::drop_films;

/// What is lost by a fault after which the book was opened anew and holds.
const NOTHING: &str = "nothing that was said to be kept";

/// The note of a write that failed, in the book's folder.
const NOTE: &str = "fault.json";

#[derive(Serialize, Deserialize)]
struct Noted {
    /// When, in UTC.
    at: String,
    /// Who was to write.
    who: String,
    /// What went wrong.
    what: String,
}

impl OpenBook {
    /// Adds an entry. Where the disk is full and what is to be kept cannot be repeated, room is made
    /// and the book opened anew, whose last entry tells whether this one was kept; what was met then
    /// is given back.
    pub(super) fn append(
        &mut self,
        at: Moment,
        who: &PersonName,
        fact: &Fact,
    ) -> Result<Option<FaultMet>, LedgerError> {
        let due = self.book.head().map_or(1, |head| head.number + 1);
        let Err(refused) = self.book.append(at, who, fact) else { return Ok(None) };
        let full = matches!(refused, LedgerError::Store(StoreError::DiskFull));
        if !full || !cannot_be_repeated(fact) {
            return Err(refused);
        }
        let Some(made) = make_room(self.book.folder()) else { return Err(refused) };
        self.open_anew()?;
        let written = entry::write(fact);
        let kept = self.book.stored(due)?.is_some_and(|stored| {
            let entry = stored.entry;
            entry.who == who.0 && entry.kind == written.kind && entry.body == written.body
        });
        if !kept {
            self.book.append(at, who, fact)?;
        }
        Ok(Some(FaultMet {
            what: format!("the disk was full when entry {due} was to be kept"),
            lost: NOTHING.to_owned(),
            done: format!("{made} given up, and the book was opened anew"),
        }))
    }

    /// Opens the same book again: what is on the disk holds.
    fn open_anew(&mut self) -> Result<(), LedgerError> {
        let folder = self.book.folder().to_owned();
        // The right to write goes with the book that had it.
        self.book = Book::open_read_only(&folder)?;
        self.book = Book::open(&folder)?;
        Ok(())
    }

    /// Notes that a write failed, where the disk still takes that: the entry about it comes when the
    /// book is opened next.
    #[expect(clippy::wildcard_enum_match_arm, reason = "all others are no faults of the disk")]
    pub(super) fn note(&self, who: &PersonName, error: &LedgerError) {
        let what = match error {
            LedgerError::Store(
                StoreError::DiskFull
                | StoreError::Failed { .. }
                | StoreError::Damaged { .. }
                | StoreError::ReadOnly,
            ) => error.to_string(),
            LedgerError::Evidence(BlobError::Refused { cause, .. }) => format!("{error}: {cause}"),
            _ => return,
        };
        let path = self.book.folder().join(NOTE);
        let at = self.now().map(|at| at.to_string()).unwrap_or_default();
        let noted = Noted { at, who: who.0.clone(), what };
        if !path.exists()
            && let Ok(text) = serde_json::to_vec_pretty(&noted)
        {
            // A disk that cannot take it is said to be faulty by everything else too.
            put(&Disk, &path, &text).ok();
        }
    }

    /// Keeps what was noted of a fault, now that the book takes entries again.
    pub(super) fn tell_noted(&mut self, output: &Output) {
        let path = self.book.folder().join(NOTE);
        let Some(Noted { at, who, what }) =
            fs::read(&path).ok().and_then(|text| serde_json::from_slice(&text).ok())
        else {
            return;
        };
        let entries = self.book.head().map_or(0, |head| head.number);
        let met = FaultMet {
            what: format!("a write failed at {at}: {what}"),
            lost: NOTHING.to_owned(),
            done: format!("the book was opened anew; its {entries} entries were read and hold"),
        };
        let own = self.who.replace(PersonName(who));
        if self.keep(&Fact::FaultMet(met), output).is_ok() {
            fs::remove_file(&path).ok();
        }
        self.who = own;
    }
}

/// Whether a fact is of an open specimen, whose flame does not wait.
fn cannot_be_repeated(fact: &Fact) -> bool {
    matches!(fact, Fact::PressesKept { .. } | Fact::TimekeeperTaken { .. })
}

/// Gives up what is there for this moment, films first: what was given up, in words; none where there
/// was nothing.
fn make_room(book: &Path) -> Option<String> {
    let films = drop_films(book).then_some("films that were coming in");
    let reserve = ledger::room::release(book).then_some(room::SET_ASIDE);
    let made: Vec<&str> = films.into_iter().chain(reserve).collect();
    match made.as_slice() {
        [] => None,
        [one] => Some(format!("{one} were")),
        several => Some(format!("{} were", several.join(" and "))),
    }
}
