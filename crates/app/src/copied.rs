//! The note of a book's last backup, beside the record: what Set up shows of it.
#![expect(clippy::disallowed_methods, reason = "keeps a file beside the record")]

use std::fs;
use std::io;
use std::path::Path;

use ledger::files::{Disk, put};
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

const FILE: &str = "backup.json";

/// The last backup.
#[derive(Clone, Debug, Serialize, Deserialize, ToSchema)]
pub(crate) struct LastBackup {
    /// When, in UTC.
    pub(crate) at: String,
    /// The folder that was written.
    pub(crate) to: String,
    /// The head of the record in it; none where the book had no entries.
    pub(crate) head: Option<String>,
}

impl LastBackup {
    /// Of the book in `folder`; none where none was noted, or the note cannot be read.
    pub(crate) fn of(folder: &Path) -> Option<Self> {
        serde_json::from_slice(&fs::read(folder.join(FILE)).ok()?).ok()
    }

    /// Notes it in the book in `folder`.
    pub(crate) fn note(&self, folder: &Path) -> io::Result<()> {
        put(&Disk, &folder.join(FILE), &serde_json::to_vec_pretty(self)?)
    }
}
