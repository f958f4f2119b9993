//! The notes of a book's last check and of the last reading of all its evidence, beside the
//! record. While the last check found a fault, no report is issued.
#![expect(clippy::disallowed_methods, reason = "keeps files beside the record")]

use std::fs;
use std::io;
use std::path::Path;

use ledger::files::{Disk, put};
use serde::de::DeserializeOwned;
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use crate::problem::{Exit, Problem};
use crate::step::verify::Checked;

const CHECK: &str = "check.json";
const SCRUB: &str = "scrub.json";

/// The last check of the record.
#[derive(Clone, Debug, Serialize, Deserialize, ToSchema)]
pub(crate) struct LastCheck {
    /// When it began, in UTC.
    pub(crate) at: String,
    /// Who asked for it.
    pub(crate) who: String,
    /// What came of it.
    pub(crate) checked: Checked,
    /// What to do about it.
    pub(crate) hint: Option<String>,
}

/// The last time that all evidence was read again.
#[derive(Clone, Debug, Serialize, Deserialize, ToSchema)]
pub(crate) struct LastScrub {
    /// When it ended, in UTC.
    pub(crate) at: String,
    /// How many files were read.
    pub(crate) files: usize,
    /// How many bytes they have.
    pub(crate) bytes: u64,
    /// What is wrong, a file a line.
    pub(crate) faults: Vec<String>,
}

impl LastCheck {
    /// Of the book in `folder`; none where none was noted, or the note cannot be read.
    pub(crate) fn of(folder: &Path) -> Option<Self> {
        read(folder, CHECK)
    }

    /// Notes it in the book in `folder`.
    pub(crate) fn note(&self, folder: &Path) -> io::Result<()> {
        put(&Disk, &folder.join(CHECK), &serde_json::to_vec_pretty(self)?)
    }
}

impl LastScrub {
    /// Of the book in `folder`; none where none was noted, or the note cannot be read.
    pub(crate) fn of(folder: &Path) -> Option<Self> {
        read(folder, SCRUB)
    }

    /// Notes it in the book in `folder`.
    pub(crate) fn note(&self, folder: &Path) -> io::Result<()> {
        put(&Disk, &folder.join(SCRUB), &serde_json::to_vec_pretty(self)?)
    }
}

fn read<T: DeserializeOwned>(folder: &Path, name: &str) -> Option<T> {
    serde_json::from_slice(&fs::read(folder.join(name)).ok()?).ok()
}

/// What stands in the way of issuing reports from the book in `folder`: its last check.
pub(crate) fn alarm(folder: &Path) -> Option<LastCheck> {
    LastCheck::of(folder).filter(|last| !last.checked.sound)
}

/// Refuses to issue a report while the last check of the record found a fault.
pub(crate) fn may_issue(folder: &Path) -> Result<(), Problem> {
    let Some(last) = alarm(folder) else { return Ok(()) };
    let fault = last.checked.faults.first().map_or("", String::as_str);
    let text = format!("the record did not check at {}: {fault}", last.at);
    Err(Problem { exit: Exit::Finding, ..Problem::used_wrongly(text) }.hint(
        "No report is issued until it checks again. Call the quality manager; then check it under \
         Record, or with `record check`.",
    ))
}
