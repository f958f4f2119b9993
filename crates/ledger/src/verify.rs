//! Checking a record: every hash, every link, every evidence file, every verdict.

use std::collections::{BTreeMap, BTreeSet};
use std::path::Path;
use std::sync::Arc;

use thiserror::Error;
use trial::fact::Recorded;

use crate::blob::{BlobError, Blobs};
use crate::book::{Book, record, seen_head};
use crate::chain::{At, Head, Stored};
use crate::error::LedgerError;
use crate::files::Disk;
use crate::hash::{BlobHash, EntryHash, short};
use crate::place::EVIDENCE;
use crate::replay::{Rejudged, judge_again};
use crate::store::Sqlite;
use crate::store::postgres::Address;
use crate::walk::{Walk, recorded};

/// What came out of checking a record.
#[derive(Debug)]
pub struct Verification {
    /// How many entries were looked at.
    pub entries: u64,
    /// The last of them.
    pub head: Option<Head>,
    /// How many evidence files were held against their hashes.
    pub evidence: usize,
    /// How many evidence files no entry names. They come from a filing whose entry was never
    /// written, and do no harm.
    pub unnamed: usize,
    /// How many verdicts were reached again.
    pub verdicts: usize,
    /// What is wrong, in the order of the entries.
    pub faults: Vec<Fault>,
}

impl Verification {
    /// Whether nothing is wrong.
    #[must_use]
    pub fn is_sound(&self) -> bool {
        self.faults.is_empty()
    }

    /// Up to which entry nothing is wrong.
    #[must_use]
    pub fn sound_up_to(&self) -> u64 {
        let first = self.faults.iter().filter_map(Fault::entry).min();
        first.map_or(self.entries, |first| first.saturating_sub(1))
    }

    /// What to do about the faults.
    #[must_use]
    pub fn hint(&self) -> Option<String> {
        if self.is_sound() {
            return None;
        }
        let sound = match self.sound_up_to() {
            0 => String::new(),
            1 => " Entry 1 is sound;".to_owned(),
            last => format!(" Entries 1 to {last} are sound;"),
        };
        Some(format!("Nothing was changed.{sound} restore a copy and run `verify` on it."))
    }
}

/// One thing that is wrong with a record.
#[derive(Debug, Error)]
pub enum Fault {
    /// An entry was changed, and the entry after it tells.
    #[error("the ledger is broken at entry {number}: its contents hash to {}, but entry {} expects {}",
        short(found), number + 1, short(expected))]
    Changed {
        /// Which entry.
        number: u64,
        /// What its contents hash to.
        found: EntryHash,
        /// What the entry after it expects.
        expected: EntryHash,
    },
    /// An entry or the hash it is filed under was changed.
    #[error(
        "the ledger is broken at entry {number}: its contents hash to {}, but it is filed under {}",
        short(found),
        short(filed)
    )]
    Refiled {
        /// Which entry.
        number: u64,
        /// What its contents hash to.
        found: EntryHash,
        /// The hash it is filed under.
        filed: EntryHash,
    },
    /// Entries are gone.
    #[error(
        "the ledger is broken at entry {number}: it is missing, and entry {next} comes instead"
    )]
    Missing {
        /// The first that is gone.
        number: u64,
        /// What stands in its place.
        next: u64,
    },
    /// Entries stand in another order, or twice.
    #[error("the ledger is broken at entry {number}: entry {next} comes in its place")]
    OutOfOrder {
        /// Which should come.
        number: u64,
        /// Which comes.
        next: u64,
    },
    /// An entry is dated before the one before it.
    #[error(
        "the ledger is broken at entry {number}: it is dated {at}, earlier than the entry before it ({before})"
    )]
    BackDated {
        /// Which entry.
        number: u64,
        /// Its date.
        at: At,
        /// The date of the entry before it.
        before: At,
    },
    /// An entry cannot be read.
    #[error("the ledger is broken at entry {number}: {why}")]
    Unreadable {
        /// Which entry.
        number: u64,
        /// What is wrong with it.
        why: String,
    },
    /// An evidence file is missing or damaged.
    #[error("the ledger is broken at entry {number}: {cause}")]
    Evidence {
        /// The first entry that names it.
        number: u64,
        /// What is wrong with it.
        cause: BlobError,
    },
    /// Entries at the end are gone, or another stands where one was seen.
    #[error("the ledger is broken at its end: {0}")]
    End(LedgerError),
    /// The entries are sound, and tell what cannot have been.
    #[error("the ledger cannot be replayed: {why}")]
    History {
        /// What cannot have been.
        why: String,
    },
    /// A verdict comes out otherwise when it is judged again.
    #[error("the verdict of entry {number} comes out otherwise when judged again: {difference}")]
    Verdict {
        /// Which entry.
        number: u64,
        /// The first line that differs.
        difference: String,
    },
}

impl Fault {
    /// The entry at fault, where it is one.
    #[must_use]
    pub fn entry(&self) -> Option<u64> {
        match self {
            Self::Changed { number, .. }
            | Self::Refiled { number, .. }
            | Self::Missing { number, .. }
            | Self::OutOfOrder { number, .. }
            | Self::BackDated { number, .. }
            | Self::Unreadable { number, .. }
            | Self::Evidence { number, .. }
            | Self::Verdict { number, .. } => Some(*number),
            Self::End(_) | Self::History { .. } => None,
        }
    }
}

/// Checks a book: every entry, every evidence file, every verdict; the head it had when it was
/// last closed, and a head that was seen elsewhere, such as one printed on a report.
///
/// # Errors
///
/// As [`crate::Book::open_read_only`]. Faults of the record are not errors: they are in the
/// [`Verification`].
pub fn verify(folder: &Path, seen: Option<Head>) -> Result<Verification, LedgerError> {
    if Address::is_one(folder) {
        let book = Book::open_read_only(folder)?;
        let heads: Vec<Head> = book.noted_head().into_iter().chain(seen).collect();
        return examine(Walk::of(book.store()), book.blobs(), &heads);
    }
    let store = Sqlite::open_read_only(&record(folder)?)?;
    let blobs = Blobs::new(folder.join(EVIDENCE), Arc::new(Disk));
    let heads: Vec<Head> = seen_head(folder)?.into_iter().chain(seen).collect();
    examine(Walk::of(&store), &blobs, &heads)
}

/// Checks entries as they come, with the evidence they name.
pub(crate) fn examine<E: ToString>(
    chain: impl Iterator<Item = Result<Stored, E>>,
    blobs: &Blobs,
    heads: &[Head],
) -> Result<Verification, LedgerError> {
    let mut examined = Examined::default();
    let mut chain = chain.peekable();
    while let Some(stored) = chain.next() {
        match stored {
            Ok(stored) => {
                let next = chain.peek().and_then(|next| next.as_ref().ok());
                examined.take(stored, next);
            }
            Err(why) => {
                let number = examined.due();
                examined.faults.push(Fault::Unreadable { number, why: why.to_string() });
                break;
            }
        }
    }
    examined.hold_heads(heads);
    let unnamed = examined.check_evidence(blobs)?;
    let Examined { before, entries, facts, mut faults, named, .. } = examined;
    let mut verdicts = 0;
    if faults.is_empty() {
        let Rejudged { reached, faults: found } = judge_again(facts, blobs);
        verdicts = reached;
        faults.extend(found);
    }
    let head = before.map(|last| Head { number: last.entry.number, hash: last.hash });
    Ok(Verification { entries, head, evidence: named.len(), unnamed, verdicts, faults })
}

/// What has been seen of a record so far.
#[derive(Default)]
struct Examined {
    before: Option<Stored>,
    entries: u64,
    hashes: BTreeMap<u64, EntryHash>,
    facts: Vec<Recorded>,
    named: BTreeMap<BlobHash, u64>,
    faults: Vec<Fault>,
}

impl Examined {
    /// The number that comes next.
    fn due(&self) -> u64 {
        self.before.as_ref().map_or(1, |before| before.entry.number.saturating_add(1))
    }

    fn take(&mut self, stored: Stored, next: Option<&Stored>) {
        let entry = &stored.entry;
        let number = entry.number;
        self.entries += 1;
        self.place(&stored);
        let found = entry.hash();
        let expected = next
            .filter(|next| next.entry.number == number.saturating_add(1))
            .and_then(|next| next.entry.previous);
        match expected {
            // The entry after it may itself be the changed one; then it is named in its turn.
            Some(expected)
                if expected != found && (found != stored.hash || next_is_whole(next)) =>
            {
                self.faults.push(Fault::Changed { number, found, expected });
            }
            _ if found != stored.hash => {
                self.faults.push(Fault::Refiled { number, found, filed: stored.hash });
            }
            _ => {}
        }
        match recorded(&stored) {
            Ok(fact) => self.facts.push(fact),
            Err(LedgerError::Unreadable { why, .. }) => {
                self.faults.push(Fault::Unreadable { number, why });
            }
            Err(other) => self.faults.push(Fault::Unreadable { number, why: other.to_string() }),
        }
        for blob in &entry.evidence {
            self.named.entry(*blob).or_insert(number);
        }
        self.hashes.insert(number, stored.hash);
        self.before = Some(stored);
    }

    /// Holds an entry's number and time against the entry before it.
    fn place(&mut self, stored: &Stored) {
        let (due, number) = (self.due(), stored.entry.number);
        if number > due {
            self.faults.push(Fault::Missing { number: due, next: number });
        } else if number < due {
            self.faults.push(Fault::OutOfOrder { number: due, next: number });
        } else if number == 1 && stored.entry.previous.is_some() {
            let why = "it names an entry before it, and it is the first".to_owned();
            self.faults.push(Fault::Unreadable { number, why });
        }
        if let Some(before) = &self.before
            && stored.entry.at < before.entry.at
        {
            let (at, before) = (stored.entry.at, before.entry.at);
            self.faults.push(Fault::BackDated { number, at, before });
        }
        if number > 1 && stored.entry.previous.is_none() {
            let why = "it names no entry before it".to_owned();
            self.faults.push(Fault::Unreadable { number, why });
        }
    }

    fn hold_heads(&mut self, heads: &[Head]) {
        for seen in heads.iter().copied() {
            let last = self.before.as_ref().map(|last| last.entry.number);
            match self.hashes.get(&seen.number) {
                Some(found) if *found == seen.hash => {}
                Some(found) => {
                    let found = *found;
                    self.faults.push(Fault::End(LedgerError::OtherHead { seen, found }));
                }
                None => self.faults.push(Fault::End(LedgerError::CutShort { seen, last })),
            }
        }
    }

    /// Holds every named evidence file against its hash; gives the number of those not named.
    fn check_evidence(&mut self, blobs: &Blobs) -> Result<usize, LedgerError> {
        for (hash, number) in &self.named {
            if let Err(cause) = blobs.check(*hash) {
                self.faults.push(Fault::Evidence { number: *number, cause });
            }
        }
        let named: BTreeSet<BlobHash> = self.named.keys().copied().collect();
        Ok(blobs.list()?.iter().filter(|hash| !named.contains(hash)).count())
    }
}

fn next_is_whole(next: Option<&Stored>) -> bool {
    next.is_some_and(|next| next.check().is_ok())
}
