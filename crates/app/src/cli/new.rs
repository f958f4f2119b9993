//! `new`: an empty book for a laboratory.

use std::path::{Path, PathBuf};

use clap::Args;
use ledger::{Address, Book, Making, Places};
use trial::fact::{Authorisation, BookKind, Fact, Laboratory};
use trial::number::PersonName;

use crate::book::{OpenBook, Time, from_ledger};
use crate::output::Output;
use crate::problem::{Exit, Problem};
use crate::step;

/// Makes a new book for a laboratory
///
/// Examples:
///   cinderbook new my-book --laboratory "Our laboratory" --address "Street, town" --person "Name"
///   cinderbook new $DATABASE --role bench --files /srv/lab …
///
/// A book is a folder: the record, and the files it keeps as evidence. Put it on a local disk. Or
/// it is a PostgreSQL database that several benches write in: it is made as the role that owns the
/// tables, and used as another that can add entries and change none.
#[derive(Args, Debug)]
#[command(verbatim_doc_comment)]
pub(crate) struct New {
    /// The folder, empty or not there yet; or a database,
    /// `postgres://OWNER@HOST/DATABASE`
    #[arg(value_name = "BOOK")]
    folder: PathBuf,
    #[command(flatten)]
    database: OnDatabase,
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
        let made = match self.database.making(&self.folder)? {
            Some(making) => Book::create_on_database(&self.folder, &making),
            None => Book::create(&self.folder),
        };
        let book = made.map_err(|error| from_ledger(&error))?;
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
        step::proof::begin_aside(&mut book, output);
        let book = self.database.opened_as(&self.folder);
        output.word(&format!(
            "Next: `cinderbook --book {book} equipment add …` for what you test with."
        ));
        Ok(Exit::Good)
    }
}

/// What is said once of a book on a database.
#[derive(Args, Debug)]
pub(crate) struct OnDatabase {
    /// On a database: the role that adds entries and can change none; it must be there
    #[arg(long, value_name = "NAME")]
    role: Option<String>,
    /// On a database: the folder in which each machine keeps its own files for the book
    #[arg(long, value_name = "DIR")]
    files: Option<PathBuf>,
    /// On a database: where the evidence lies for all programs alike, a folder that they all reach
    /// or `s3://BUCKET/PREFIX?endpoint=…` [default: `evidence` in the folder of --files]
    #[arg(long, value_name = "PLACE")]
    evidence: Option<String>,
}

impl OnDatabase {
    /// How the book at this address is made; `None` for a folder.
    pub(crate) fn making(&self, at: &Path) -> Result<Option<Making>, Problem> {
        let Self { role, files, evidence } = self;
        let stated = role.is_some() || files.is_some() || evidence.is_some();
        match (Address::is_one(at), role, files) {
            (false, ..) if stated => {
                let text = "`--role`, `--files` and `--evidence` are for a book on a database";
                Err(Problem::used_wrongly(text).hint("Leave them out, or name a database."))
            }
            (false, ..) => Ok(None),
            (true, Some(role), Some(files)) => {
                let (role, files) = (role.clone(), files.clone());
                let beside = || files.join("evidence").display().to_string();
                let evidence = evidence.clone().unwrap_or_else(beside);
                Ok(Some(Making { places: Places { files, evidence }, role }))
            }
            (true, ..) => {
                let text = "a book on a database needs `--role` and `--files`";
                Err(Problem::used_wrongly(text)
                    .hint("Say which role adds entries, and in which folder files lie."))
            }
        }
    }

    /// The address by which the book is used from then on.
    pub(crate) fn opened_as(&self, at: &Path) -> String {
        match (Address::read(at), &self.role) {
            (Ok(address), Some(role)) if Address::is_one(at) => address.shown_as(role),
            _ => at.display().to_string(),
        }
    }
}
