//! What is kept of accounts, links and sessions, replaced as a whole: a file, readable by its owner
//! alone; of a book that several programs serve, a note in its database.
#![expect(clippy::disallowed_methods, reason = "keeps a file beside the record")]

use std::collections::BTreeMap;
use std::fs::{self, File, OpenOptions};
use std::io::{self, ErrorKind, Write as _};
use std::path::{Path, PathBuf};
use std::sync::Arc;

use jiff::Timestamp;
use ledger::files::{Disk, create_folders};
use ledger::store::StoreError;
use ledger::{Book, Notes};
use serde::{Deserialize, Serialize};
use trial::number::PersonName;

use super::account::{Account, Link};
use super::device::{Device, Promise};
use super::pass::Pass;
use super::session::Session;
use super::signing::Opened;
use crate::book::from_ledger;
use crate::problem::Problem;

/// The folder in a book's folder.
pub(in crate::web) const FOLDER: &str = "access";

const FILE: &str = "people.json";

/// Who may come in, and who is in.
#[derive(Clone, Default, Serialize, Deserialize)]
#[serde(default)]
pub(super) struct Kept {
    /// By the name the record knows.
    pub(super) accounts: BTreeMap<String, Account>,
    pub(super) links: Vec<Link>,
    pub(super) sessions: Vec<Session>,
    pub(super) passes: Vec<Pass>,
    pub(super) opened: Vec<Opened>,
    /// Whether a second factor is asked for.
    pub(super) asks_second: bool,
    /// The enrolled devices.
    pub(super) devices: Vec<Device>,
    /// Whether the bench opens on these alone.
    pub(super) asks_device: bool,
    /// Whether browsers are told to reach the book enciphered alone.
    pub(super) promise: Promise,
    #[serde(skip)]
    place: Place,
}

/// Where it is kept.
#[derive(Clone)]
enum Place {
    /// In this file, which this program alone changes.
    File(PathBuf),
    /// In a note, last seen in this version.
    Note(Arc<Notes>, i64),
}

impl Default for Place {
    fn default() -> Self {
        Self::File(PathBuf::new())
    }
}

/// The name of the note.
const NOTE: &str = "people";

impl Kept {
    /// Reads what the book has; without it there is nobody yet.
    pub(super) fn open(book: &Book) -> Result<Self, Problem> {
        if let Some(notes) = book.notes().map_err(|error| from_ledger(&error))? {
            let mut kept = Self { place: Place::Note(Arc::new(notes), 0), ..Self::default() };
            kept.read_newer()?;
            return Ok(kept);
        }
        let file = book.folder().join(FOLDER).join(FILE);
        let read = match fs::read(&file) {
            Ok(bytes) => bytes,
            Err(error) if error.kind() == ErrorKind::NotFound => b"{}".to_vec(),
            Err(error) => return Err(unreadable(&file, &error)),
        };
        let kept: Self =
            serde_json::from_slice(&read).map_err(|error| unreadable(&file, &error))?;
        Ok(Self { place: Place::File(file), ..kept })
    }

    /// Takes up what other programs changed. Where the database is away what is known holds: no
    /// page can be had then either.
    pub(super) fn look_again(&mut self) {
        drop(self.read_newer());
    }

    fn read_newer(&mut self) -> Result<(), Problem> {
        let Place::Note(notes, seen) = &self.place else { return Ok(()) };
        let newer = notes.newer(NOTE, *seen).map_err(|error| from_ledger(&error.into()))?;
        let Some(note) = newer else { return Ok(()) };
        let place = Place::Note(Arc::clone(notes), note.version);
        *self = Self { place, ..read(note.bytes.as_deref())? };
        Ok(())
    }

    /// Changes what is kept. It is on the disk when this returns, or it is not changed at all.
    pub(super) fn change<T>(&mut self, change: impl FnOnce(&mut Self) -> T) -> Result<T, Problem> {
        self.try_change(|kept| Ok(change(kept)))
    }

    /// The same with a change that may refuse. It is handed what every program has changed so far.
    pub(super) fn try_change<T>(
        &mut self,
        change: impl FnOnce(&mut Self) -> Result<T, Problem>,
    ) -> Result<T, Problem> {
        let notes = match &self.place {
            Place::Note(notes, _) => Arc::clone(notes),
            Place::File(file) => {
                let file = file.clone();
                let mut changed = self.clone();
                let done = change(&mut changed)?;
                put(&file, &changed.bytes()).map_err(|error| {
                    Problem::surroundings(format!("cannot write `{}`", file.display()))
                        .because(&error)
                        .hint("Check that the book's folder may be written to and has room.")
                })?;
                *self = changed;
                return Ok(done);
            }
        };
        let mut last = None;
        let note = notes.change(NOTE, |bytes| {
            let mut changed = read(bytes).map_err(Refusal)?;
            let done = change(&mut changed).map_err(Refusal)?;
            let bytes = changed.bytes();
            last = Some((changed, done));
            Ok::<_, Refusal>(bytes)
        });
        let note = note.map_err(|Refusal(problem)| problem)?;
        let fault = || Problem::surroundings("a fault of this program: nothing was changed");
        let (changed, done) = last.ok_or_else(fault)?;
        *self = Self { place: Place::Note(notes, note.version), ..changed };
        Ok(done)
    }

    fn bytes(&self) -> Vec<u8> {
        serde_json::to_vec_pretty(self).unwrap_or_default()
    }

    /// The account of this name, however its letters are written, and what is kept of its password.
    pub(super) fn account(&self, name: &str) -> Option<(PersonName, String)> {
        let name = name.trim().to_lowercase();
        let mut accounts = self.accounts.iter();
        let (person, account) = accounts.find(|(person, _)| person.to_lowercase() == name)?;
        Some((PersonName::from(person.as_str()), account.password.clone()))
    }

    /// Lets go of what has had its time.
    pub(super) fn tidy(&mut self, now: Timestamp) {
        self.links.retain(|link| link.worth_keeping(now));
        self.sessions.retain(|session| session.worth_keeping(now));
        self.passes.retain(|pass| pass.worth_keeping(now));
    }
}

/// Why a note was not changed.
struct Refusal(Problem);

impl From<StoreError> for Refusal {
    fn from(error: StoreError) -> Self {
        Self(from_ledger(&error.into()))
    }
}

/// Reads a note; without one there is nobody yet.
fn read(bytes: Option<&[u8]>) -> Result<Kept, Problem> {
    serde_json::from_slice(bytes.unwrap_or(b"{}")).map_err(|error| {
        Problem::surroundings("cannot read who may come in from the database").because(&error)
    })
}

fn unreadable(file: &Path, error: &dyn std::error::Error) -> Problem {
    Problem::surroundings(format!("cannot read `{}`", file.display())).because(error).hint(
        "The record is not touched by this. Put the file back from a copy, or remove it: the \
         people then choose new passwords.",
    )
}

/// Writes a whole file that its owner alone may read: either it is there or what was before.
pub(in crate::web) fn put(file: &Path, bytes: &[u8]) -> io::Result<()> {
    let folder = file.parent().unwrap_or(Path::new("."));
    create_folders(&Disk, folder)?;
    let incoming = file.with_extension("incoming");
    let mut options = OpenOptions::new();
    options.write(true).create(true).truncate(true);
    #[cfg(unix)]
    std::os::unix::fs::OpenOptionsExt::mode(&mut options, 0o600);
    let mut written = options.open(&incoming)?;
    written.write_all(bytes)?;
    written.sync_all()?;
    drop(written);
    fs::rename(&incoming, file)?;
    // Windows has no such call; there a rename is on the disk when it returns.
    if cfg!(unix) { File::open(folder)?.sync_all() } else { Ok(()) }
}
