//! `new`: an empty book for a laboratory.

use std::path::PathBuf;

use clap::Args;
use ledger::Book;
use trial::fact::{Authorisation, BookKind, Fact, Laboratory};
use trial::number::PersonName;

use crate::book::{OpenBook, Time, from_ledger};
use crate::output::Output;
use crate::problem::{Exit, Problem};

/// Makes a new book for a laboratory
///
/// Examples:
///   cinderbook new my-book --laboratory "Our laboratory" --address "Street, town" --person "Name"
///
/// A book is a folder: the record, and the files it keeps as evidence. Put it on a local disk.
#[derive(Args, Debug)]
#[command(verbatim_doc_comment)]
pub(crate) struct New {
    /// The folder, empty or not there yet
    folder: PathBuf,
    /// The laboratory's name
    #[arg(long)]
    laboratory: String,
    /// Its address
    #[arg(long)]
    address: String,
    /// Where the tests are made [default: the address]
    #[arg(long)]
    place: Option<String>,
    /// The first person, who may test, review and issue
    #[arg(long)]
    person: String,
}

impl New {
    /// Runs the command.
    pub(crate) fn run(&self, output: &Output) -> Result<Exit, Problem> {
        let book = Book::create(&self.folder).map_err(|error| from_ledger(&error))?;
        let person = PersonName(self.person.clone());
        let mut book = OpenBook::of(book, Some(person.clone()), Time::Clock)?;
        let laboratory = Laboratory {
            name: self.laboratory.clone(),
            address: self.address.clone(),
            place: self.place.clone().unwrap_or_else(|| self.address.clone()),
        };
        book.keep(&Fact::BookOpened { laboratory, kind: BookKind::Real }, output)?;
        let authorisations = Authorisation::ALL.to_vec();
        book.keep(&Fact::PersonAdmitted { person, authorisations }, output)?;
        let folder = self.folder.display();
        output.word(&format!(
            "Next: `cinderbook --book {folder} equipment add …` for what you test with."
        ));
        Ok(Exit::Good)
    }
}
