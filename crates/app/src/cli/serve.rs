//! `serve`: the book as pages.

use std::net::SocketAddr;
use std::path::{Path, PathBuf};

use clap::Args;
use ledger::{Address, Book};

use super::Global;
use crate::book::{OpenBook, Time, from_ledger, named};
use crate::output::Output;
use crate::problem::{Exit, Problem};
use crate::web::{self, Own, Wanted};

/// Opens the book as pages, on this machine or on the laboratory's network
///
/// Examples:
///   cinderbook --book my-book serve
///   cinderbook --book my-book serve --listen 127.0.0.1:8000
///   cinderbook --book my-book serve --link "Name"
///   cinderbook --book my-book serve --listen 0.0.0.0:4160 --name bench.lab.example
///   cinderbook --book my-book serve --listen 0.0.0.0:4160 --certificate lab.pem --key lab.key
///
/// In a folder that is empty, or not there yet, a new book is made: the first person opens it for
/// their laboratory, or for a made-up one to try it with.
///
/// Whoever uses the pages signs in. While nobody can, a link is written for the first person to
/// choose a password with; it can be used once. Ends with Ctrl-C; what was kept is kept. The pages
/// ask no other machine for anything.
///
/// On the network the pages are enciphered, always: by a certificate of the laboratory's, or by one
/// of a small authority that the book makes for itself. Devices are told to trust that at
/// /device/certificate.
#[derive(Args, Debug)]
#[command(verbatim_doc_comment)]
pub(crate) struct Serve {
    /// The address and port to listen on; port 0 takes a free one
    #[arg(long, default_value = "127.0.0.1:4160")]
    listen: SocketAddr,
    /// Write a one-use link with which this person chooses a (new) password
    #[arg(long, value_name = "NAME")]
    link: Option<String>,
    /// A host name by which devices reach the pages, besides the address; may be given again
    #[arg(long = "name", value_name = "HOST")]
    names: Vec<String>,
    /// The laboratory's certificate for these names, with its chain (PEM)
    #[arg(long, value_name = "FILE", requires = "key")]
    certificate: Option<PathBuf>,
    /// The key of that certificate (PEM)
    #[arg(long, value_name = "FILE", requires = "certificate")]
    key: Option<PathBuf>,
}

impl Serve {
    /// Runs the command.
    pub(crate) fn run(&self, global: &Global) -> Result<Exit, Problem> {
        let folder = named(global)?;
        let book = if !Address::is_one(folder) && is_empty(folder) {
            empty(folder, &global.door())?
        } else {
            OpenBook::open(global)?
        };
        if let Some(name) = &self.link {
            known(&book, name)?;
        }
        let own = self.certificate.clone().zip(self.key.clone());
        let own = own.map(|(certificate, key)| Own { certificate, key });
        let (names, link) = (self.names.clone(), self.link.clone());
        let wanted = Wanted { listen: self.listen, link, names, own };
        web::serve(book, global.door(), &wanted)?;
        Ok(Exit::Good)
    }
}

/// Whether nothing is in a folder, or it is not there yet.
fn is_empty(folder: &Path) -> bool {
    folder.read_dir().map_or(!folder.exists(), |mut inside| inside.next().is_none())
}

/// A book without entries: its first person opens it for their laboratory.
fn empty(folder: &Path, output: &Output) -> Result<OpenBook, Problem> {
    let book = Book::create(folder).map_err(|error| from_ledger(&error))?;
    output.word(&format!("A new book was made in {}.", folder.display()));
    OpenBook::of(book, None, Time::Clock)
}

/// Whether the record knows this person.
fn known(book: &OpenBook, name: &str) -> Result<(), Problem> {
    let people = book.history().people();
    if people.keys().any(|person| person.0 == name) {
        return Ok(());
    }
    let names: Vec<String> = people.keys().map(|person| format!("\"{person}\"")).collect();
    Err(Problem::used_wrongly(format!("`{name}` is not admitted to this book"))
        .hint(format!("Name one of {}.", names.join(", "))))
}
