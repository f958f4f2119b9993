//! `export`, `backup`, `restore`: copies of a book.

use std::path::PathBuf;

use clap::Args;
use ledger::{Book, Copied, LedgerError, restore, restore_on_database};
use trial::number::ReportNumber;

use super::Global;
use super::new::OnDatabase;
use crate::book::{OpenBook, Time, from_ledger, moment_now, named};
use crate::copied::LastBackup;
use crate::output::Output;
use crate::problem::{Exit, Problem};
use crate::step::rests::bundle;

/// Writes the whole record, or what one report rests on, as plain files that anyone can check
///
/// Examples:
///   cinderbook --book my-book export all
///   cinderbook --book my-book export for-customer --report 1
///
/// The bundle of a report holds its own entries and files, with the proof that they stand in the
/// record, and nothing of another customer's.
#[derive(Args, Debug)]
#[command(verbatim_doc_comment)]
pub(crate) struct Export {
    /// The folder to write, empty or not there yet
    to: PathBuf,
    /// Only what this report rests on, with the proof that it stands in the record
    #[arg(long, value_name = "NUMBER")]
    report: Option<u32>,
}

impl Export {
    /// Runs the command.
    pub(crate) fn run(&self, global: &Global, output: &mut Output) -> Result<Exit, Problem> {
        let book = Book::open_read_only(named(global)?).map_err(|error| from_ledger(&error))?;
        let copied = match self.report {
            None => output.during("exporting", || book.export(&self.to)),
            Some(number) => {
                let book = OpenBook::of(book, None, Time::Clock)?;
                let number = ReportNumber(number);
                let bundled = output.during("exporting", || bundle(&book, number, &self.to));
                Ok(bundled?)
            }
        };
        said(copied, &self.to.display().to_string(), output)?;
        output.word(&format!("Next: `cinderbook verify {}`.", self.to.display()));
        Ok(Exit::Good)
    }
}

/// Copies a book, also while it is in use, and checks the copy
#[derive(Args, Debug)]
pub(crate) struct Backup {
    /// The folder to write, empty or not there yet
    to: PathBuf,
}

impl Backup {
    /// Runs the command.
    pub(crate) fn run(&self, global: &Global, output: &mut Output) -> Result<Exit, Problem> {
        let book = Book::open_read_only(named(global)?).map_err(|error| from_ledger(&error))?;
        let copied = output.during("copying", || book.back_up(&self.to));
        let to = self.to.display().to_string();
        let head = said(copied, &to, output)?;
        let last = LastBackup { at: moment_now()?.to_string(), to, head };
        if let Err(error) = last.note(book.folder()) {
            output.word(&format!("The book does not know of it, for it cannot be noted: {error}"));
        }
        output.word("The book's key is not in it: keep a copy of the file `key` in another place.");
        output.word("Next: keep the copy on another disk; `restore` makes a book of it again.");
        Ok(Exit::Good)
    }
}

/// Makes a book of a backup again, in a new folder or on a database without a book
#[derive(Args, Debug)]
pub(crate) struct Restore {
    /// The backup
    from: PathBuf,
    /// The folder to write, empty or not there yet; or a database,
    /// `postgres://OWNER@HOST/DATABASE`
    to: PathBuf,
    #[command(flatten)]
    database: OnDatabase,
}

impl Restore {
    /// Runs the command.
    pub(crate) fn run(&self, output: &mut Output) -> Result<Exit, Problem> {
        let making = self.database.making(&self.to)?;
        let copied = output.during("restoring", || match &making {
            Some(making) => restore_on_database(&self.from, &self.to, making),
            None => restore(&self.from, &self.to),
        });
        let to = self.database.opened_as(&self.to);
        said(copied, &to, output)?;
        output.word(&format!("Next: `cinderbook verify {to}`."));
        Ok(Exit::Good)
    }
}

/// Says what was copied, and gives the head of its record.
fn said(
    copied: Result<Copied, LedgerError>,
    to: &str,
    output: &mut Output,
) -> Result<Option<String>, Problem> {
    let copied = copied.map_err(|error| from_ledger(&error))?;
    let head = copied.head.map(|head| head.to_string());
    let shown =
        head.as_ref().map_or_else(|| "no entries".to_owned(), |head| format!("last entry {head}"));
    output.value(&format!("{to}: {shown}, {} evidence files", copied.evidence));
    Ok(head)
}
