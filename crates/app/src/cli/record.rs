//! `record`: the trail of what was done, and corrections.

use clap::{Args, Subcommand};
use serde::Serialize;
use trial::fact::{Fact, Recorded};
use trial::machine::FaultMet;
use trial::number::EntryNumber;

use super::{Global, verify};
use crate::book::{OpenBook, Time, from_ledger, moment_now, named};
use crate::checked::{LastCheck, LastScrub};
use crate::output::{Form, Output};
use crate::problem::{Exit, Problem};
use crate::step::verify::{Checked, outside};
use crate::step::{proof, rests, scrub};

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
    /// Signs the head of the record as it is now, and writes it: keep it elsewhere
    Head,
    /// Checks the record as `verify` does; while it does not check, no report is issued
    Check,
    /// Reads all evidence again now, and holds each file against its hash
    Scrub,
    /// Withdraws an entry; it stays visible, with the reason
    Withdraw {
        /// The entry
        entry: u64,
        /// Why
        #[arg(long)]
        reason: String,
    },
    /// Records a fault of disk, machine or program, and what was done about it
    Fault {
        /// What was met
        what: String,
        /// What was lost by it
        #[arg(long, default_value = "nothing")]
        lost: String,
        /// What was done
        #[arg(long)]
        done: String,
    },
}

/// Who asked, where no person is named.
const COMMAND_LINE: &str = "the command line";

/// An entry as one line of a list.
#[derive(Serialize)]
pub(super) struct Line {
    pub(super) entry: u64,
    at: String,
    who: String,
    kind: String,
}

impl Line {
    pub(super) fn of(recorded: &Recorded) -> Self {
        Self {
            entry: recorded.entry.0,
            at: recorded.at.to_string(),
            who: recorded.who.to_string(),
            kind: recorded.fact.kind().to_owned(),
        }
    }

    /// Its columns behind the number.
    pub(super) fn rest(&self) -> String {
        let Self { at, who, kind, .. } = self;
        format!("{at}\t{who}\t{kind}")
    }

    fn words(&self) -> String {
        format!("{}\t{}", self.entry, self.rest())
    }
}

impl Record {
    /// Runs the command.
    pub(crate) fn run(&self, global: &Global, output: &mut Output) -> Result<Exit, Problem> {
        match &self.what {
            What::List => list(global, output),
            What::Show { entry } => show(global, *entry, output),
            What::Head => head(global, output),
            What::Check => check(global, output),
            What::Scrub => scrub(global, output),
            What::Withdraw { entry, reason } => {
                let mut book = OpenBook::open(global)?;
                let (entry, reason) = (EntryNumber(*entry), reason.clone());
                book.keep(&Fact::Corrected { entry, reason, by: None }, output)?;
                output.word("Next: record what holds instead.");
                Ok(Exit::Good)
            }
            What::Fault { what, lost, done } => {
                let mut book = OpenBook::open(global)?;
                let [what, lost, done] = [what, lost, done].map(|it| it.trim().to_owned());
                if what.is_empty() || done.is_empty() {
                    return Err(Problem::used_wrongly(
                        "a fault needs what was met and what was done",
                    ));
                }
                book.keep(&Fact::FaultMet(FaultMet { what, lost, done }), output)?;
                output.word("Next: `cinderbook verify` checks the record.");
                Ok(Exit::Good)
            }
        }
    }
}

fn list(global: &Global, output: &mut Output) -> Result<Exit, Problem> {
    let book = ledger::Book::open_read_only(named(global)?).map_err(|error| from_ledger(&error))?;
    let (mut lines, mut reports, mut fault) = (Vec::new(), None, None);
    for recorded in book.entries() {
        let recorded = match recorded {
            Ok(recorded) => recorded,
            Err(error) => {
                // What lies before it holds, and is shown all the same.
                fault = Some(from_ledger(&error));
                break;
            }
        };
        if let Fact::ReportIssued(issued) = &recorded.fact {
            reports = Some((issued.number, recorded.at));
        }
        lines.push(Line::of(&recorded));
    }
    match (output.form(), fault) {
        (Form::Json, None) => output.json(&lines),
        (Form::Json, Some(fault)) => return Err(fault),
        (Form::Text, Some(fault)) => {
            lines.iter().for_each(|line| output.value(&line.words()));
            return Err(fault);
        }
        (Form::Text, None) => {
            lines.iter().for_each(|line| output.value(&line.words()));
            output.word(&format!("Last head seen outside: {}.", outside(reports, moment_now()?)));
            output.word("Next: `record show N` shows one entry; `verify` checks them all.");
        }
    }
    Ok(Exit::Good)
}

/// Signs the head and writes it.
fn head(global: &Global, output: &mut Output) -> Result<Exit, Problem> {
    let mut book = OpenBook::open(global)?;
    proof::begin(&mut book, output)?;
    let signed = proof::sign(&book)?.ok_or_else(|| {
        Problem::used_wrongly("the book's key is not in its folder")
            .hint("Put the file `key` back from a copy, or begin another with `key renew --lost`.")
    })?;
    output.value(&signed.note);
    output.word("Next: send it to someone outside, who can hold a later record against it.");
    Ok(Exit::Good)
}

/// Checks the record, and notes what came of it.
fn check(global: &Global, output: &mut Output) -> Result<Exit, Problem> {
    let folder = named(global)?;
    let began = moment_now()?;
    let found = output.during("checking", || ledger::verify(folder, None));
    let found = found.map_err(|error| from_ledger(&error))?;
    let checked = Checked::of(&found, began);
    verify::whole(&checked, output);
    let who = global.person.clone().unwrap_or_else(|| COMMAND_LINE.to_owned());
    let (sound, hint) = (checked.sound, found.hint());
    let last = LastCheck { at: began.to_string(), who, checked, hint };
    last.note(folder).map_err(|error| {
        Problem::surroundings("the check cannot be noted in the book's folder").because(&error)
    })?;
    if sound {
        return Ok(Exit::Good);
    }
    output.word("No report is issued until the record checks. Call the quality manager.");
    Ok(Exit::Finding)
}

/// Reads all evidence again, and notes what came of it.
fn scrub(global: &Global, output: &mut Output) -> Result<Exit, Problem> {
    let book = ledger::Book::open_read_only(named(global)?).map_err(|error| from_ledger(&error))?;
    let book = OpenBook::of(book, None, Time::Clock)?;
    let who = global.person.clone().unwrap_or_else(|| COMMAND_LINE.to_owned());
    let (folder, named) = (book.book().folder(), rests::evidence(&book));
    let found = output.during("reading", || scrub::scrub(folder, &named, &who, &mut |_| true))?;
    let Some(LastScrub { files, bytes, faults, .. }) = found else { return Ok(Exit::Good) };
    output.value(&format!("{files} evidence files, {bytes} bytes"));
    for fault in &faults {
        output.value(&format!("does not check: {fault}"));
    }
    if faults.is_empty() {
        return Ok(Exit::Good);
    }
    output.word("No report is issued until the record checks. Call the quality manager.");
    Ok(Exit::Finding)
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
