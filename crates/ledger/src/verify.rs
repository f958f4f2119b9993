//! Checking a record: every hash, every link, every evidence file, every verdict.

use std::collections::{BTreeMap, BTreeSet};
use std::path::Path;
use std::sync::Arc;

use thiserror::Error;
use trial::fact::{Fact, Recorded};
use trial::moment::Moment;
use trial::number::ReportNumber;

use crate::blob::{BlobError, Blobs};
use crate::book::{Book, record, seen_head};
use crate::chain::{At, Head, Stored};
use crate::error::LedgerError;
use crate::files::Disk;
use crate::hash::{BlobHash, EntryHash, TreeHash, short};
use crate::heads::{KeptHead, kept_heads};
use crate::key::BookKeys;
use crate::note::{Note, PublicKey, TreeHead, origin};
use crate::place::EVIDENCE;
use crate::replay::{Rejudged, judge_again};
use crate::store::postgres::Address;
use crate::store::{Sqlite, StoreError};
use crate::tree::Frontier;
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
    /// The size and the hash of the tree over the entries.
    pub tree: TreeHead,
    /// How many signed heads were held against the entries.
    pub signed: usize,
    /// The key that signs now.
    pub key: Option<PublicKey>,
    /// The entries by which a key began without the signature of the one before it.
    pub keys_lost: Vec<u64>,
    /// The last report that was issued, and when: its head left the house.
    pub outside: Option<(ReportNumber, Moment)>,
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
    /// A key began as none can.
    #[error("the ledger is broken at entry {number}: {why}")]
    Key {
        /// Which entry.
        number: u64,
        /// What is wrong with it.
        why: String,
    },
    /// The entries are not those that a signed head stands for, or the head itself was changed.
    #[error("the signed head of {size} entries does not check: {why}")]
    Signed {
        /// Of how many entries it is.
        size: u64,
        /// What is wrong.
        why: String,
    },
    /// A key was named, and no signed head is there to hold against it.
    #[error("no signed head is here to hold against the key {0}")]
    Unsigned(Box<PublicKey>),
    /// Entries at the end are gone, or another stands where one was seen.
    #[error("the ledger is broken at its end: {0}")]
    End(LedgerError),
    /// The file that holds the entries is damaged, wherever that is.
    #[error(transparent)]
    File(StoreError),
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
    /// A signature is of another content than stood in the record.
    #[error("the signature of entry {number} is of another content than {what} had then")]
    Signature {
        /// Which entry.
        number: u64,
        /// What was signed.
        what: String,
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
            | Self::Key { number, .. }
            | Self::Signature { number, .. }
            | Self::Verdict { number, .. } => Some(*number),
            Self::End(_)
            | Self::File(_)
            | Self::History { .. }
            | Self::Signed { .. }
            | Self::Unsigned(_) => None,
        }
    }
}

/// What is known of a record from elsewhere.
#[derive(Clone, Debug, Default)]
pub struct Seen {
    /// Heads that were seen, such as one printed on a report: with the hash of the tree, or, on
    /// reports before there was one, with the hash of the last entry.
    pub heads: Vec<Head>,
    /// A key that is believed: every signed head must be its own, or of a key that it handed over
    /// to or took the place of.
    pub key: Option<PublicKey>,
}

/// Checks a book: every entry, every evidence file, every verdict; the head it had when it was
/// last closed, its signed heads, and a head that was seen elsewhere, such as one printed on a
/// report.
///
/// # Errors
///
/// As [`crate::Book::open_read_only`]. Faults of the record are not errors: they are in the
/// [`Verification`].
pub fn verify(folder: &Path, seen: Option<Head>) -> Result<Verification, LedgerError> {
    verify_by(folder, &Seen { heads: seen.into_iter().collect(), key: None })
}

/// As [`verify`], by all that is known from elsewhere.
///
/// # Errors
///
/// As [`verify`].
pub fn verify_by(folder: &Path, seen: &Seen) -> Result<Verification, LedgerError> {
    if Address::is_one(folder) {
        let book = Book::open_read_only(folder)?;
        let heads = book.noted_head().into_iter().chain(seen.heads.iter().copied()).collect();
        let held = Held { heads, signed: book.signed_heads()?, key: seen.key.as_ref() };
        return examine(Walk::of(book.store()), book.blobs(), &held);
    }
    let store = Sqlite::open_read_only(&record(folder)?)?;
    let blobs = Blobs::new(folder.join(EVIDENCE), Arc::new(Disk));
    let mut found = examine(Walk::of(&store), &blobs, &Held::of(folder, seen)?)?;
    found.faults.extend(store.check_pages().err().map(Fault::File));
    Ok(found)
}

/// What a record is held against.
pub(crate) struct Held<'a> {
    heads: Vec<Head>,
    signed: Vec<KeptHead>,
    key: Option<&'a PublicKey>,
}

impl<'a> Held<'a> {
    /// What lies beside the record in its folder, and what was seen elsewhere.
    pub(crate) fn of(folder: &Path, seen: &'a Seen) -> Result<Self, LedgerError> {
        let heads = seen_head(folder)?.into_iter().chain(seen.heads.iter().copied()).collect();
        Ok(Self { heads, signed: kept_heads(folder)?, key: seen.key.as_ref() })
    }

    /// The sizes of the tree whose hashes are asked for.
    fn sizes(&self) -> impl Iterator<Item = u64> {
        self.heads.iter().map(|head| head.number).chain(self.signed.iter().map(|head| head.size))
    }
}

/// Checks entries as they come, with the evidence they name.
pub(crate) fn examine<E: ToString>(
    chain: impl Iterator<Item = Result<Stored, E>>,
    blobs: &Blobs,
    held: &Held<'_>,
) -> Result<Verification, LedgerError> {
    let mut examined =
        Examined { roots: held.sizes().map(|size| (size, None)).collect(), ..Examined::default() };
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
    examined.hold_heads(&held.heads);
    examined.hold_signed(&held.signed, held.key);
    let unnamed = examined.check_evidence(blobs)?;
    let Examined { before, entries, facts, mut faults, named, tree, keys, outside, .. } = examined;
    let mut verdicts = 0;
    if faults.is_empty() {
        let Rejudged { reached, faults: found } = judge_again(facts, blobs);
        verdicts = reached;
        faults.extend(found);
    }
    Ok(Verification {
        entries,
        head: before.map(|last| Head { number: last.entry.number, hash: last.hash }),
        evidence: named.len(),
        unnamed,
        verdicts,
        tree: TreeHead { size: tree.size(), root: tree.root() },
        signed: held.signed.len(),
        key: keys.current().cloned(),
        keys_lost: keys.lost().collect(),
        outside,
        faults,
    })
}

/// What has been seen of a record so far.
#[derive(Default)]
struct Examined {
    before: Option<Stored>,
    entries: u64,
    hashes: BTreeMap<u64, EntryHash>,
    facts: Vec<Recorded>,
    named: BTreeMap<BlobHash, u64>,
    tree: Frontier,
    /// The hash of the tree at the sizes that are asked for.
    roots: BTreeMap<u64, Option<TreeHash>>,
    keys: BookKeys,
    outside: Option<(ReportNumber, Moment)>,
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
            Ok(fact) => self.note(fact, &stored),
            Err(LedgerError::Unreadable { why, .. }) => {
                self.faults.push(Fault::Unreadable { number, why });
            }
            Err(other) => self.faults.push(Fault::Unreadable { number, why: other.to_string() }),
        }
        for blob in &entry.evidence {
            self.named.entry(*blob).or_insert(number);
        }
        self.hashes.insert(number, stored.hash);
        self.tree.push(stored.leaf());
        if let Some(root) = self.roots.get_mut(&self.tree.size()) {
            *root = Some(self.tree.root());
        }
        self.before = Some(stored);
    }

    /// Notes what the check itself must know of a fact.
    fn note(&mut self, recorded: Recorded, stored: &Stored) {
        let number = recorded.entry.0;
        if number == 1 {
            self.keys = BookKeys::of(origin(&stored.hash));
        }
        if let Fact::KeyBegun(key) = &recorded.fact
            && let Err(why) = self.keys.follow(number, key)
        {
            self.faults.push(Fault::Key { number, why });
        } else if let Fact::ReportIssued(issued) = &recorded.fact {
            self.outside = Some((issued.number, recorded.at));
        }
        self.facts.push(recorded);
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
            let root = self.roots.get(&seen.number).copied().flatten();
            match self.hashes.get(&seen.number) {
                Some(found) if *found == seen.hash => {}
                Some(_) if root.is_some_and(|root| root.0 == seen.hash.0) => {}
                Some(found) => {
                    let found = *found;
                    self.faults.push(Fault::End(LedgerError::OtherHead { seen, found }));
                }
                None => self.faults.push(Fault::End(LedgerError::CutShort { seen, last })),
            }
        }
    }

    /// Holds the entries against signed heads, and these against the book's keys.
    fn hold_signed(&mut self, signed: &[KeptHead], key: Option<&PublicKey>) {
        for KeptHead { size, note } in signed {
            if let Err(why) = self.signed(*size, note, key) {
                self.faults.push(Fault::Signed { size: *size, why });
            }
        }
        if let Some(key) = key.filter(|_| signed.is_empty()) {
            self.faults.push(Fault::Unsigned(Box::new(key.clone())));
        }
    }

    fn signed(&self, size: u64, note: &str, key: Option<&PublicKey>) -> Result<(), String> {
        let note = Note::read(note).map_err(|why| why.to_string())?;
        self.keys.signer(&note, key)?;
        let (name, head) = note.head().map_err(|why| why.to_string())?;
        if (name, head.size) != (self.keys.name(), size) {
            return Err(format!("it is the head of {} entries of {name}", head.size));
        }
        match self.roots.get(&size).copied().flatten() {
            Some(root) if root == head.root => Ok(()),
            Some(_) => Err("the entries are not those that were signed".to_owned()),
            None => Err(format!("the record ends at entry {}", self.tree.size())),
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
