//! `record`: the trail of what was done, and corrections.

use clap::{Args, Subcommand};
use serde::Serialize;
use trial::fact::Fact;
use trial::number::EntryNumber;

use super::Global;
use crate::book::{OpenBook, from_ledger, named};
use crate::output::{Form, Output};
use crate::problem::{Exit, Problem};

/// Shows what the record holds, and corrects an entry by a new one
#[derive(Args, Debug)]
pub(crate) struct Record {
    #[command(subcommand)]
    what: What,
}

#[derive(Subcommand, Debug)]
enum What {
    /// Lists the entries: number, time, who, what
    List,
    /// Shows one entry as it is written
    Show {
        /// The entry
        entry: u64,
    },
    /// Withdraws an entry; it stays visible, with the reason
    Withdraw {
        /// The entry
        entry: u64,
        /// Why
        #[arg(long)]
        reason: String,
    },
}

#[derive(Serialize)]
struct Line {
    entry: u64,
    at: String,
    who: String,
    kind: String,
}

impl Record {
    /// Runs the command.
    pub(crate) fn run(&self, global: &Global, output: &mut Output) -> Result<Exit, Problem> {
        match &self.what {
            What::List => list(global, output),
            What::Show { entry } => show(global, *entry, output),
            What::Withdraw { entry, reason } => {
                let mut book = OpenBook::open(global)?;
                let (entry, reason) = (EntryNumber(*entry), reason.clone());
                book.keep(&Fact::Corrected { entry, reason, by: None }, output)?;
                output.word("Next: record what holds instead.");
                Ok(Exit::Good)
            }
        }
    }
}

fn list(global: &Global, output: &mut Output) -> Result<Exit, Problem> {
    let book = ledger::Book::open_read_only(named(global)?).map_err(|error| from_ledger(&error))?;
    let mut lines = Vec::new();
    for recorded in book.entries() {
        let recorded = recorded.map_err(|error| from_ledger(&error))?;
        let (entry, at) = (recorded.entry.0, recorded.at.to_string());
        let kind = recorded.fact.kind().to_owned();
        lines.push(Line { entry, at, who: recorded.who.0, kind });
    }
    match output.form() {
        Form::Json => output.json(&lines),
        Form::Text => {
            for Line { entry, at, who, kind } in lines {
                output.value(&format!("{entry}\t{at}\t{who}\t{kind}"));
            }
            output.word("Next: `record show N` shows one entry; `verify` checks them all.");
        }
    }
    Ok(Exit::Good)
}

fn show(global: &Global, number: u64, output: &mut Output) -> Result<Exit, Problem> {
    let book = ledger::Book::open_read_only(named(global)?).map_err(|error| from_ledger(&error))?;
    for stored in book.chain() {
        let stored = stored.map_err(|error| from_ledger(&error))?;
        if stored.entry.number == number {
            output.value(&String::from_utf8_lossy(&stored.entry.body));
            output.word(&format!("Its hash is {}.", stored.hash));
            return Ok(Exit::Good);
        }
    }
    Err(Problem::used_wrongly(format!("there is no entry {number} in this book"))
        .hint("`record list` lists the entries."))
}
