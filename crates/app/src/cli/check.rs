//! `check`: is this machine, and this folder, ready for the work?
#![expect(clippy::disallowed_methods, reason = "whether a folder takes files is found by trying")]

use std::fs;
use std::path::Path;

use clap::Args;
use jiff::{Timestamp, tz::TimeZone};
use ledger::{Address, Book, LedgerError};
use serde::Serialize;

use super::Global;
use crate::clock;
use crate::output::{Form, Output};
use crate::problem::{Exit, Problem};
use crate::room;

/// Looks at this machine and this folder, and says what to do
///
/// Examples:
///   cinderbook check                        this machine, and the current folder
///   cinderbook --book laboratory check      this machine, and the book in that folder
///
/// Writes one short file into the folder and takes it away again.
#[derive(Args, Debug)]
#[command(verbatim_doc_comment)]
pub(crate) struct Check {}

/// All that was looked at.
#[derive(Serialize)]
struct Checks<'a> {
    checks: &'a [Looked],
}

/// One thing looked at.
#[derive(Serialize)]
struct Looked {
    what: &'static str,
    found: String,
    /// What to do, when something is to be done.
    to_do: Option<String>,
}

impl Check {
    /// Runs the command.
    pub(crate) fn run(&self, global: &Global, output: &mut Output) -> Result<Exit, Problem> {
        let Self {} = self;
        let folder = global.book.as_deref().unwrap_or(Path::new("."));
        let mut looked = vec![program(), clock_of(clock::now()?)];
        if !Address::is_one(folder) {
            looked.push(folder_of(folder));
            looked.extend(room_of(folder));
        }
        looked.extend(book_in(folder, global.book.is_some()));
        let to_do = looked.iter().filter(|one| one.to_do.is_some()).count();
        show(&looked, output);
        if to_do > 0 {
            output
                .word(&format!("{to_do} of {} things ask for something to be done.", looked.len()));
            return Ok(Exit::Finding);
        }
        output
            .word("Ready. Next: `cinderbook selfcheck` holds the reference cases on this machine.");
        Ok(Exit::Good)
    }
}

fn program() -> Looked {
    let cores = std::thread::available_parallelism().map_or(1, std::num::NonZero::get);
    Looked {
        what: "program",
        found: format!(
            "cinderbook {} on {} {}, {cores} cores",
            env!("CARGO_PKG_VERSION"),
            std::env::consts::OS,
            std::env::consts::ARCH
        ),
        to_do: None,
    }
}

/// The clock cannot be held against another one here; one that stands before the program was
/// made is certainly wrong.
fn clock_of(now: Timestamp) -> Looked {
    let zone = TimeZone::system();
    let name = zone.iana_name().unwrap_or("a zone without a name").to_owned();
    let local = zone.to_datetime(now);
    let wrong = local.year() < 2026;
    Looked {
        what: "clock",
        found: format!("{} in {name}", local.strftime("%Y-%m-%d %H:%M:%S")),
        to_do: wrong.then(|| {
            "Set the clock of this machine: it shows a time before this program was made."
                .to_owned()
        }),
    }
}

/// Room on the disk of the folder, where the system tells.
fn room_of(folder: &Path) -> Option<Looked> {
    let left = ledger::room::left(folder)?;
    let to_do = room::words(folder).map(|_| room::FREE_SOME.to_owned());
    Some(Looked { what: "disk", found: format!("{} MiB left", left >> 20), to_do })
}

fn folder_of(folder: &Path) -> Looked {
    let what = "folder";
    let name = fs::canonicalize(folder).unwrap_or_else(|_| folder.to_owned());
    let name = name.display();
    let trial = folder.join(".cinderbook-check");
    let written = fs::write(&trial, b"cinderbook check\n").and_then(|()| fs::remove_file(&trial));
    match written {
        Ok(()) => Looked { what, found: format!("{name} takes files"), to_do: None },
        Err(error) => Looked {
            what,
            found: format!("{name} takes no files: {error}"),
            to_do: Some(
                "Choose a folder on this machine's own disk that this account may write to."
                    .to_owned(),
            ),
        },
    }
}

/// The book in the folder, when there is one or one was named.
fn book_in(folder: &Path, named: bool) -> Option<Looked> {
    let what = "book";
    match Book::open(folder) {
        Ok(book) => {
            let found = match book.head() {
                Some(head) => format!("its last entry is number {}", head.number),
                None => "it has no entry yet".to_owned(),
            };
            Some(Looked { what, found, to_do: None })
        }
        Err(LedgerError::NotABook { .. }) if !named => None,
        Err(error) => {
            let to_do = error.hint().unwrap_or("Run `cinderbook verify` on it.").to_owned();
            Some(Looked { what, found: error.to_string(), to_do: Some(to_do) })
        }
    }
}

fn show(looked: &[Looked], output: &mut Output) {
    if output.form() == Form::Json {
        output.json(&Checks { checks: looked });
        return;
    }
    for one in looked {
        output.value(&format!("{:<9}{}", one.what, one.found));
        if let Some(to_do) = &one.to_do {
            output.value(&format!("{:<9}to do: {to_do}", ""));
        }
    }
}
