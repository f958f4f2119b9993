//! `serve`: the book as pages.

use std::net::SocketAddr;

use clap::Args;

use super::Global;
use crate::book::OpenBook;
use crate::problem::{Exit, Problem};
use crate::web::{self, Wanted};

/// Opens the book as pages on this machine
///
/// Examples:
///   cinderbook --book my-book serve
///   cinderbook --book my-book serve --listen 127.0.0.1:8000
///   cinderbook --book my-book serve --link "Name"
///
/// Whoever uses the pages signs in. While nobody can, a link is written for the first person to
/// choose a password with; it can be used once. Ends with Ctrl-C; what was kept is kept. The pages ask no other machine for anything.
#[derive(Args, Debug)]
#[command(verbatim_doc_comment)]
pub(crate) struct Serve {
    /// The address and port to listen on; port 0 takes a free one
    #[arg(long, default_value = "127.0.0.1:4160")]
    listen: SocketAddr,
    /// Write a one-use link with which this person chooses a (new) password
    #[arg(long, value_name = "NAME")]
    link: Option<String>,
}

impl Serve {
    /// Runs the command.
    pub(crate) fn run(&self, global: &Global) -> Result<Exit, Problem> {
        if !self.listen.ip().is_loopback() {
            return Err(Problem::used_wrongly(format!(
                "{} is open to the network, and the pages are not enciphered",
                self.listen
            ))
            .hint("Listen on 127.0.0.1."));
        }
        let book = OpenBook::open(global)?;
        if let Some(name) = &self.link {
            known(&book, name)?;
        }
        let wanted = Wanted { listen: self.listen, link: self.link.clone() };
        web::serve(book, global.door(), &wanted)?;
        Ok(Exit::Good)
    }
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
