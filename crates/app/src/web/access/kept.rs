//! The file of accounts, links and sessions: replaced as a whole, readable by its owner alone.
#![expect(clippy::disallowed_methods, reason = "keeps a file beside the record")]

use std::collections::BTreeMap;
use std::fs::{self, File, OpenOptions};
use std::io::{self, ErrorKind, Write as _};
use std::path::{Path, PathBuf};

use jiff::Timestamp;
use ledger::files::{Disk, create_folders};
use serde::{Deserialize, Serialize};
use trial::number::PersonName;

use super::account::{Account, Link};
use super::session::Session;
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
    #[serde(skip)]
    file: PathBuf,
}

impl Kept {
    /// Reads the file of the book in `folder`; without one there is nobody yet.
    pub(super) fn open(folder: &Path) -> Result<Self, Problem> {
        let file = folder.join(FOLDER).join(FILE);
        let read = match fs::read(&file) {
            Ok(bytes) => bytes,
            Err(error) if error.kind() == ErrorKind::NotFound => b"{}".to_vec(),
            Err(error) => return Err(unreadable(&file, &error)),
        };
        let kept: Self =
            serde_json::from_slice(&read).map_err(|error| unreadable(&file, &error))?;
        Ok(Self { file, ..kept })
    }

    /// Changes what is kept. It is on the disk when this returns, or it is not changed at all.
    pub(super) fn change<T>(&mut self, change: impl FnOnce(&mut Self) -> T) -> Result<T, Problem> {
        let mut changed = self.clone();
        let done = change(&mut changed);
        let bytes = serde_json::to_vec_pretty(&changed).unwrap_or_default();
        put(&self.file, &bytes).map_err(|error| {
            Problem::surroundings(format!("cannot write `{}`", self.file.display()))
                .because(&error)
                .hint("Check that the book's folder may be written to and has room.")
        })?;
        *self = changed;
        Ok(done)
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
    }
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
