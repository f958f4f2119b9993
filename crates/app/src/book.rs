//! An open book: who writes, at what time, and what the record has come to.
#![expect(clippy::disallowed_methods, reason = "files are filed as evidence")]

mod met;

use std::fs::File;
use std::io::Read;
use std::path::Path;

use ledger::store::StoreError;
use ledger::{Book, Incoming, LedgerError, Side};
use trial::clocks::clocks;
use trial::fact::{Evidence, EvidenceKind, Fact, Recorded};
use trial::finding::{Finding, Stage};
use trial::history::History;
use trial::moment::Moment;
use trial::number::{EntryNumber, PersonName, PlanNumber, SpecimenNumber};
use trial::plan::Plan;
use trial::readiness::Ready;
use trial::rules::Library;

use crate::cli::Global;
use crate::clock;
use crate::output::Output;
use crate::problem::{Exit, Problem};
use crate::rules;
use crate::step::proof;
use crate::words::when;

/// A fact is offered so often, where other programs add entries first.
const OFFERS: usize = 200;

/// A book that entries can be added to.
pub(crate) struct OpenBook {
    book: Book,
    library: Library,
    history: History,
    who: Option<PersonName>,
    time: Time,
    patience: Option<std::time::Duration>,
}

/// Where the time of an entry comes from.
#[derive(Clone, Copy, Debug)]
pub(crate) enum Time {
    /// This machine's clock.
    Clock,
    /// The calendar of a made-up story.
    Story(Moment),
}

impl OpenBook {
    /// Opens the book that the command line names, for the person it names.
    pub(crate) fn open(global: &Global) -> Result<Self, Problem> {
        let book = Book::open(named(global)?).map_err(|error| from_ledger(&error))?;
        let mut book = Self::of(book, global.person.clone().map(PersonName), Time::Clock)?;
        book.tell_noted(&global.door());
        Ok(book)
    }

    /// A book just made or opened.
    pub(crate) fn of(book: Book, who: Option<PersonName>, time: Time) -> Result<Self, Problem> {
        let history = book.history().map_err(|error| from_ledger(&error))?;
        Ok(Self { book, library: rules::library()?, history, who, time, patience: None })
    }

    /// The book itself.
    pub(crate) const fn book(&self) -> &Book {
        &self.book
    }

    /// What the record has come to.
    pub(crate) const fn history(&self) -> &History {
        &self.history
    }

    /// Takes a place of one that serves the book.
    pub(crate) fn take_place(&mut self) -> Result<(), Problem> {
        self.book.take_place().map_err(|error| from_ledger(&error))
    }

    /// The built-in rules.
    pub(crate) const fn library(&self) -> &Library {
        &self.library
    }

    /// Lets another person write from now on.
    pub(crate) fn hand_to(&mut self, person: &str) {
        self.who = Some(PersonName::from(person));
    }

    /// Lets what is set in pages take so long from now on, and no longer.
    pub(crate) fn set_pages_within(&mut self, limit: std::time::Duration) {
        self.patience = Some(limit);
    }

    /// So long what is set in pages may take; none where it is waited for.
    pub(crate) const fn patience(&self) -> Option<std::time::Duration> {
        self.patience
    }

    /// Turns the pages of a story's calendar.
    pub(crate) fn turn_to(&mut self, moment: Moment) {
        self.time = Time::Story(moment);
    }

    /// Whether its calendar is that of a made-up story.
    pub(crate) const fn is_story(&self) -> bool {
        matches!(self.time, Time::Story(_))
    }

    /// The time now.
    pub(crate) fn now(&self) -> Result<Moment, Problem> {
        match self.time {
            Time::Story(moment) => Ok(moment),
            Time::Clock => moment_now(),
        }
    }

    /// Who writes: the person named, or the only one there is.
    pub(crate) fn who(&self) -> Result<PersonName, Problem> {
        let people = self.history.people().iter().filter(|(_, it)| it.disabled.is_none());
        let people: Vec<&PersonName> = people.map(|(person, _)| person).collect();
        let known: Vec<String> = people.iter().map(|person| format!("\"{person}\"")).collect();
        match (&self.who, people.as_slice()) {
            (Some(who), _) if self.history.people().contains_key(who) => Ok(who.clone()),
            (Some(who), []) if self.history.people().is_empty() => Ok(who.clone()),
            (Some(who), _) => {
                Err(Problem::used_wrongly(format!("`{who}` is not admitted to this book"))
                    .hint(format!("Name one of {} with `--as`.", known.join(", "))))
            }
            (None, [only]) => Ok((*only).clone()),
            (None, _) => Err(Problem::used_wrongly("it is not said who does this")
                .hint(format!("Name one of {} with `--as`.", known.join(", ")))),
        }
    }

    /// The plan with this number.
    pub(crate) fn plan(&self, number: PlanNumber) -> Result<&Plan, Problem> {
        self.history.plan(number).ok_or_else(|| {
            let hint = match (self.history.plans().next(), self.history.last_plan()) {
                (Some(first), Some(last)) if first == last => format!("There is {first}."),
                (Some(first), Some(last)) => format!("There are {first} to {last}."),
                _ => "Draw one up with `plan new`.".to_owned(),
            };
            Problem::used_wrongly(format!("plan {number} is not in this book")).hint(hint)
        })
    }

    /// The plan with this number, which has this specimen.
    pub(crate) fn plan_of(
        &self,
        plan: PlanNumber,
        specimen: SpecimenNumber,
    ) -> Result<&Plan, Problem> {
        let found = self.plan(plan)?;
        if self.history.specimens(plan).contains(&specimen) {
            return Ok(found);
        }
        Err(Problem::used_wrongly(format!("plan {plan} has no specimen {specimen}"))
            .hint("Choose a specimen of the plan."))
    }

    /// A plan that was found ready.
    pub(crate) fn ready(&self, number: PlanNumber) -> Result<Ready, Problem> {
        self.plan(number)?;
        self.history.ready(number).ok_or_else(|| {
            Problem::used_wrongly(format!("plan {number} was not found ready yet"))
                .hint(format!("Run `cinderbook ready check {}` first.", number.0))
        })
    }

    /// Keeps a fact: once this returns it is on the disk, and is said to be. Where another program
    /// adds an entry first, the fact is held against what the record then says, and offered again.
    pub(crate) fn keep(&mut self, fact: &Fact, output: &Output) -> Result<EntryNumber, Problem> {
        for _ in 0..OFFERS {
            self.catch_up()?;
            let (at, who) = (self.at()?, self.who()?);
            self.history.may_keep(&who, fact).map_err(|why| Problem::may_not(&why))?;
            if let Fact::KeyBegun(key) = fact {
                proof::may_begin(self, key)?;
            }
            let before = self.history.entries().last().map(|last| last.at.day());
            let entry = EntryNumber(self.book.head().map_or(0, |head| head.number) + 1);
            let next = Recorded { entry, at, who: who.clone(), fact: fact.clone() };
            self.history.follow(&self.library, next).map_err(|error| {
                Problem::used_wrongly(error.problem.to_string()).hint(error.hint())
            })?;
            match self.append(at, &who, fact) {
                Ok(met) => {
                    output.word(&format!("kept: entry {entry}, {}", fact.kind()));
                    if before.is_some_and(|before| before < at.day()) {
                        proof::sign_aside(self, output);
                    }
                    if let Some(met) = met {
                        // What it is about is kept; without this entry only the record says less.
                        self.keep(&Fact::FaultMet(met), output).ok();
                    }
                    return Ok(entry);
                }
                Err(LedgerError::Store(StoreError::Overtaken)) => self.take_back(),
                Err(error) => {
                    self.note(&who, &error);
                    self.take_back();
                    return Err(from_ledger(&error));
                }
            }
        }
        Err(Problem::conflict(format!("other programs came before in {OFFERS} tries"))
            .hint("Do it again."))
    }

    /// Takes up what other programs have added to the record.
    pub(crate) fn catch_up(&mut self) -> Result<(), Problem> {
        let added = self.book.catch_up().map_err(|error| from_ledger(&error))?;
        for recorded in added {
            if self.history.follow(&self.library, recorded).is_err() {
                // Its plan may rest on rules of another version of this program.
                break;
            }
        }
        let told = self.history.entries().last().map_or(0, |last| last.entry.0);
        if told != self.book.head().map_or(0, |head| head.number) {
            self.history = self.book.history().map_err(|error| from_ledger(&error))?;
        }
        Ok(())
    }

    /// Takes back the last fact, which followed and was not kept: what is on the disk holds. If
    /// that cannot be read either, nothing more is lost: the book takes no further entry, or is
    /// caught up with first.
    fn take_back(&mut self) {
        let entries = self.history.entries();
        let kept = entries.get(..entries.len().saturating_sub(1)).unwrap_or_default().to_vec();
        let shared = self.book.is_shared();
        let kept = shared.then(|| History::replay(&self.library, kept).ok()).flatten();
        if let Some(history) = kept.or_else(|| self.book.history().ok()) {
            self.history = history;
        }
    }

    /// The time of the next entry: now, or that of the last entry where the clock was put back a
    /// little since, or that of another machine is a little ahead.
    ///
    /// # Errors
    ///
    /// Where this machine's clock is wrong: before the program's day, or before the last entry.
    pub(crate) fn at(&self) -> Result<Moment, Problem> {
        let now = self.now()?;
        if self.is_story() {
            return Ok(now);
        }
        let wrong = |than: String| {
            let text = format!("the clock of this machine shows {}, before {than}", when(now));
            Problem::surroundings(text)
                .hint("Nothing was kept. Set the clock of this machine, then do it again.")
        };
        let not_before = clock::not_before();
        if now.day() < not_before {
            return Err(wrong(format!("{not_before}, from when this program is")));
        }
        match self.history.entries().last() {
            Some(last) if last.at > now => {
                let of = || format!("entry {} of the record, {}", last.entry, when(last.at));
                if last.at.since(now) <= clocks().noted { Ok(last.at) } else { Err(wrong(of())) }
            }
            Some(_) | None => Ok(now),
        }
    }

    /// Keeps the refusal of a stage, and gives it as the problem to show.
    pub(crate) fn refuse(
        &mut self,
        (stage, plan): (Stage, PlanNumber),
        findings: Vec<Finding>,
        output: &Output,
    ) -> Problem {
        let problem = Problem::refusal(stage, plan, &findings);
        match self.keep(&Fact::StageRefused { stage, plan, findings }, output) {
            Ok(_) => problem,
            Err(worse) => worse,
        }
    }

    /// Files a file as evidence.
    pub(crate) fn file(&self, path: &Path, kind: EvidenceKind) -> Result<Evidence, Problem> {
        let mut file = File::open(path).map_err(|error| {
            Problem::used_wrongly(format!("cannot open `{}`", path.display()))
                .because(&error)
                .hint("Check the name and the folder.")
        })?;
        let name = path.file_name().unwrap_or(path.as_os_str()).to_string_lossy();
        self.file_bytes(&name, kind, &mut file)
    }

    /// A place for a file that comes in slowly.
    pub(crate) fn incoming(&self) -> Result<Incoming, Problem> {
        self.book.incoming().map_err(|error| from_ledger(&error))
    }

    /// A file of evidence, to be read piece by piece.
    pub(crate) fn open_evidence(&self, evidence: &Evidence) -> Result<File, Problem> {
        self.book.open_evidence(evidence.hash).map_err(|error| from_ledger(&error))
    }

    /// Files bytes as evidence.
    pub(crate) fn file_bytes(
        &self,
        name: &str,
        kind: EvidenceKind,
        bytes: &mut dyn Read,
    ) -> Result<Evidence, Problem> {
        self.book.file_evidence(name, kind, bytes).map_err(|error| {
            if let Ok(who) = self.who() {
                self.note(&who, &error);
            }
            from_ledger(&error)
        })
    }
}

/// The folder of the book that the command line names.
pub(crate) fn named(global: &Global) -> Result<&Path, Problem> {
    global.book.as_deref().ok_or_else(|| {
        Problem::used_wrongly("no book is named")
            .hint("Name its folder with `--book DIR`, or in CINDERBOOK_BOOK; `new` makes one.")
    })
}

/// The machine's time now.
pub(crate) fn moment_now() -> Result<Moment, Problem> {
    let now = clock::now()?;
    Moment::from_unix_microseconds(now.as_microsecond())
        .map_err(|error| Problem::surroundings(error.to_string()).hint("Set this machine's clock."))
}

/// A refusal of the record, with the exit code of the side it comes from.
pub(crate) fn from_ledger(error: &LedgerError) -> Problem {
    let mut problem = Problem::surroundings(error.to_string());
    if let Some(cause) = std::error::Error::source(error) {
        problem = problem.because(cause);
    }
    problem.exit = match error.side() {
        Side::Record => Exit::Finding,
        Side::Use => Exit::UsedWrongly,
        Side::Surroundings => Exit::Surroundings,
    };
    match error.hint() {
        Some(hint) => problem.hint(hint),
        None => problem,
    }
}
