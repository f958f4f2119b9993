//! A book: the folder that holds a laboratory's record and its evidence files. A book on a database
//! is chosen by its address alone, and is in `postgres.rs`.
//!
//! One program writes at a time; it holds the book's lock. An entry is acknowledged only when it
//! is on the disk. After a failed write it is unknown what the disk holds, so the book is closed
//! to writing until it is opened anew and its last entry read.

#![expect(clippy::disallowed_methods, reason = "the ledger keeps files")]

use std::cell::RefCell;
use std::fs::{self, File};
use std::io::{self, Read};
use std::path::{Path, PathBuf};
use std::sync::Arc;

use trial::fact::{Evidence, EvidenceHash, EvidenceKind, Fact, Recorded};
use trial::history::History;
use trial::moment::Moment;
use trial::number::{EntryNumber, PersonName};

use crate::ahead::each_fact;
use crate::blob::Blobs;
use crate::chain::{At, Entry, Head, Stored};
use crate::entry;
use crate::error::LedgerError;
use crate::files::{Disk, Files, create_folders, put};
use crate::hash::BlobHash;
use crate::heads::Grown;
use crate::incoming::Incoming;
use crate::place::{EVIDENCE, HEAD, Lock, LockError, RECORD, is_free, network_drive};
use crate::replay::Replay;
use crate::store::postgres::Address;
use crate::store::{Sqlite, Store};
use crate::walk::{Walk, recorded};

mod postgres;

pub use postgres::Making;
use postgres::Shared;

/// An open book.
pub struct Book {
    folder: PathBuf,
    shared: Option<Shared>,
    store: Box<dyn Store>,
    blobs: Arc<Blobs>,
    files: Arc<dyn Files>,
    last: Option<Stored>,
    /// The tree over the entries, as far as it was asked for.
    tree: RefCell<Grown>,
    writing: Writing,
}

/// Whether entries can be added.
enum Writing {
    /// They can, while this lock is held.
    Yes(#[expect(dead_code, reason = "held, not used")] Option<Lock>),
    /// The book was opened to read only.
    No,
    /// A write failed, for this reason.
    Stopped(String),
}

impl Book {
    /// Makes a new book in a folder that is empty or not there yet.
    ///
    /// # Errors
    ///
    /// [`LedgerError::NotFree`] if something else is in the folder,
    /// [`LedgerError::NetworkDrive`], [`LedgerError::InUse`], or as the disk says.
    pub fn create(folder: &Path) -> Result<Self, LedgerError> {
        let refused = |deed| LedgerError::refused(deed, folder);
        create_folders(&Disk, folder).map_err(refused("create"))?;
        if folder.join(RECORD).metadata().is_ok_and(|file| file.len() > 0)
            && let Ok(found) = Sqlite::open_read_only(&folder.join(RECORD))
        {
            // A book that was made and never opened by its first entry is taken up.
            return match found.last()? {
                None => Self::open(folder),
                Some(_) => Err(LedgerError::NotFree { folder: folder.to_owned() }),
            };
        }
        if !is_free(folder).map_err(refused("list"))? {
            return Err(LedgerError::NotFree { folder: folder.to_owned() });
        }
        let lock = take(folder)?;
        let evidence = folder.join(EVIDENCE);
        Disk.create_folder(&evidence).map_err(LedgerError::refused("create", &evidence))?;
        let store = Sqlite::create(&folder.join(RECORD))?;
        Disk.sync_folder(folder).map_err(LedgerError::refused("write to disk", folder))?;
        Self::over(folder, Box::new(store), Arc::new(Disk), Writing::Yes(Some(lock)))
    }

    /// Opens a book to read and to add to.
    ///
    /// # Errors
    ///
    /// [`LedgerError::NotABook`], [`LedgerError::InUse`], [`LedgerError::NetworkDrive`],
    /// [`LedgerError::CutShort`] if entries are gone that were there when it was last closed, or
    /// as the store says.
    pub fn open(folder: &Path) -> Result<Self, LedgerError> {
        if Address::is_one(folder) {
            return Self::open_on_database(folder, Writing::Yes(None));
        }
        let record = record(folder)?;
        let lock = take(folder)?;
        let store = Sqlite::open(&record)?;
        // Not open to writing before the head is found right: closing would note the wrong one.
        let mut book = Self::over(folder, Box::new(store), Arc::new(Disk), Writing::No)?;
        if let Some(seen) = seen_head(folder)? {
            book.holds(seen)?;
        }
        book.writing = Writing::Yes(Some(lock));
        book.blobs.clear_incoming();
        Ok(book)
    }

    /// Opens a book to read only, also while another program writes in it, and also one that
    /// [`Book::open`] refuses as cut short.
    ///
    /// # Errors
    ///
    /// [`LedgerError::NotABook`], or as the store says.
    pub fn open_read_only(folder: &Path) -> Result<Self, LedgerError> {
        if Address::is_one(folder) {
            return Self::open_on_database(folder, Writing::No);
        }
        let store = Sqlite::open_read_only(&record(folder)?)?;
        Self::over(folder, Box::new(store), Arc::new(Disk), Writing::No)
    }

    /// A book over a store and files of the caller's, for tests of what happens when they fail.
    ///
    /// # Errors
    ///
    /// As the store says.
    pub fn on(
        folder: &Path,
        store: Box<dyn Store>,
        files: Arc<dyn Files>,
    ) -> Result<Self, LedgerError> {
        Self::over(folder, store, files, Writing::Yes(None))
    }

    fn over(
        folder: &Path,
        store: Box<dyn Store>,
        files: Arc<dyn Files>,
        writing: Writing,
    ) -> Result<Self, LedgerError> {
        let blobs = Arc::new(Blobs::new(folder.join(EVIDENCE), Arc::clone(&files)));
        let last = store.last()?;
        if let Some(last) = &last {
            last.check()?;
        }
        let tree = RefCell::default();
        let folder = folder.to_owned();
        Ok(Self { folder, shared: None, store, blobs, files, last, tree, writing })
    }

    /// Where the book lies; of one on a database, where this machine keeps its own files for it.
    #[must_use]
    pub fn folder(&self) -> &Path {
        &self.folder
    }

    /// The last entry's number and hash; `None` for a book without entries.
    #[must_use]
    pub fn head(&self) -> Option<Head> {
        self.last.as_ref().map(|last| Head { number: last.entry.number, hash: last.hash })
    }

    /// Files bytes as evidence. When this returns they are on the disk. The same bytes are filed
    /// once, however often they come.
    ///
    /// # Errors
    ///
    /// [`LedgerError::ReadOnly`] or [`LedgerError::Stopped`] if the book is not open to writing,
    /// otherwise as the disk says; then nothing is on file that was not before.
    pub fn file_evidence(
        &self,
        name: &str,
        kind: EvidenceKind,
        source: &mut dyn Read,
    ) -> Result<Evidence, LedgerError> {
        self.check_writing()?;
        let filed = self.blobs.file(source)?;
        let hash = EvidenceHash(filed.hash.0);
        Ok(Evidence { name: name.to_owned(), hash, bytes: filed.bytes, kind })
    }

    /// A place for evidence that comes in slowly, piece by piece: the book is free meanwhile.
    ///
    /// # Errors
    ///
    /// As [`Book::file_evidence`].
    pub fn incoming(&self) -> Result<Incoming, LedgerError> {
        self.check_writing()?;
        Ok(self.blobs.incoming()?)
    }

    /// An evidence file to be read piece by piece: it is not held against its hash.
    ///
    /// # Errors
    ///
    /// [`crate::blob::BlobError`] as [`LedgerError::Evidence`]: missing, or as the disk says.
    pub fn open_evidence(&self, hash: EvidenceHash) -> Result<File, LedgerError> {
        Ok(self.blobs.open(BlobHash(hash.0))?)
    }

    /// The bytes of an evidence file, held against their hash.
    ///
    /// # Errors
    ///
    /// [`crate::blob::BlobError`] as [`LedgerError::Evidence`]: missing, damaged, or as the disk
    /// says.
    pub fn evidence(&self, hash: EvidenceHash) -> Result<Vec<u8>, LedgerError> {
        Ok(self.blobs.read(BlobHash(hash.0))?)
    }

    /// Adds an entry. When this returns it is on the disk.
    ///
    /// # Errors
    ///
    /// Before anything is written: the book is not open to writing, the moment lies before the
    /// last entry's, evidence is not on file, the fact cannot be written. After a
    /// [`LedgerError::Store`] it is unknown whether the entry was kept: the book takes no further
    /// entry and must be opened anew. A book that others write in goes on after
    /// [`Book::catch_up`], which reads what was kept.
    pub fn append(
        &mut self,
        at: Moment,
        who: &PersonName,
        fact: &Fact,
    ) -> Result<Recorded, LedgerError> {
        self.check_writing()?;
        let stored = Stored::new(self.entry(at, who, fact)?);
        stored.check()?;
        stored.entry.follows(self.last.as_ref())?;
        if let Err(cause) = self.store.append(&stored) {
            if self.shared.is_none() {
                self.writing = Writing::Stopped(cause.to_string());
            }
            return Err(cause.into());
        }
        let entry = EntryNumber(stored.entry.number);
        self.last = Some(stored);
        Ok(Recorded { entry, at, who: who.clone(), fact: fact.clone() })
    }

    /// The entry that would say this fact next, checked as far as can be before writing.
    fn entry(&self, at: Moment, who: &PersonName, fact: &Fact) -> Result<Entry, LedgerError> {
        let written = entry::write(fact);
        let back = entry::read(&written.kind, written.form, &written.body);
        if back.as_ref() != Ok(fact) {
            let why = back
                .err()
                .map_or("it reads back as another fact".to_owned(), |why| why.to_string());
            return Err(LedgerError::CannotWrite { kind: written.kind, why });
        }
        let evidence: Vec<_> = entry::evidence(fact).iter().map(|hash| BlobHash(hash.0)).collect();
        if let Some(hash) = evidence.iter().find(|hash| !self.blobs.holds(**hash)) {
            return Err(crate::blob::BlobError::Missing { hash: *hash }.into());
        }
        let last = self.last.as_ref();
        let entry = Entry {
            number: last.map_or(1, |last| last.entry.number.saturating_add(1)),
            previous: last.map(|last| last.hash),
            at: At::from_microseconds(at.unix_microseconds())
                .ok_or(LedgerError::OutsideCalendar { at })?,
            who: who.0.clone(),
            kind: written.kind,
            form: written.form,
            body: written.body,
            evidence,
        };
        entry.check_lengths()?;
        Ok(entry)
    }

    fn check_writing(&self) -> Result<(), LedgerError> {
        match &self.writing {
            Writing::Yes(_) => match self.blobs.unsynced() {
                None => Ok(()),
                Some(why) => Err(LedgerError::Stopped { why: why.to_owned() }),
            },
            Writing::No => Err(LedgerError::ReadOnly),
            Writing::Stopped(why) => Err(LedgerError::Stopped { why: why.clone() }),
        }
    }

    /// All entries in order, as facts, each held against its hash and the entry before it. Ends
    /// at the first fault.
    pub fn entries(&self) -> impl Iterator<Item = Result<Recorded, LedgerError>> {
        self.chain().map(|stored| recorded(&stored?))
    }

    /// One entry as it is filed, held against its hash; `None` if there is none of this number.
    ///
    /// # Errors
    ///
    /// As the store says; an entry that was changed.
    pub fn stored(&self, number: u64) -> Result<Option<Stored>, LedgerError> {
        let found = self.store.after(number.saturating_sub(1), 1)?.into_iter().next();
        let found = found.filter(|stored| stored.entry.number == number);
        if let Some(stored) = &found {
            stored.check()?;
        }
        Ok(found)
    }

    /// All entries in order, as they are filed, each held against its hash and the entry before
    /// it. Ends at the first fault.
    pub fn chain(&self) -> impl Iterator<Item = Result<Stored, LedgerError>> {
        Walk::of(self.store.as_ref()).checked()
    }

    /// The facts of the book up to its head, replayed in their order, each plan with the rules of
    /// its day.
    ///
    /// # Errors
    ///
    /// A fault of the record; an order of facts that no test can have.
    pub fn history(&self) -> Result<History, LedgerError> {
        let mut replay = Replay::begin(&self.blobs)?;
        let last = self.head().map_or(0, |head| head.number);
        // Others may add to the end meanwhile; without others the end is on the disk.
        let upto = self.shared.as_ref().and_then(|_| usize::try_from(last).ok());
        let upto = upto.unwrap_or(usize::MAX);
        let walk = Walk::of(self.store.as_ref()).take(upto);
        let mut tree = self.tree.borrow_mut();
        // Where it cannot be told what was signed, that is told when the head is to be signed.
        tree.watch(self.signed_sizes().unwrap_or_default().last().copied());
        each_fact(walk, |entry, leaf| {
            if entry.entry.0 == tree.size().saturating_add(1) {
                tree.push(leaf);
            }
            replay.follow(entry)
        })?;
        Ok(replay.history)
    }

    /// The evidence files, to be read while the book is not at hand.
    #[must_use]
    pub fn evidence_files(&self) -> Arc<Blobs> {
        Arc::clone(&self.blobs)
    }

    pub(crate) fn blobs(&self) -> &Blobs {
        &self.blobs
    }

    pub(crate) fn files(&self) -> &dyn Files {
        self.files.as_ref()
    }

    pub(crate) const fn tree(&self) -> &RefCell<Grown> {
        &self.tree
    }

    pub(crate) fn copy_record(&self, to: &Path) -> Result<(), LedgerError> {
        Ok(self.store.copy_to(to)?)
    }

    /// Holds the record against a head that was seen earlier, such as one printed on a report.
    ///
    /// # Errors
    ///
    /// [`LedgerError::CutShort`] if the record no longer reaches it, [`LedgerError::OtherHead`]
    /// if another entry stands there.
    pub fn holds(&self, seen: Head) -> Result<(), LedgerError> {
        let there = self.store.after(seen.number.saturating_sub(1), 1)?;
        match there.first() {
            Some(there) if there.entry.number == seen.number && there.hash == seen.hash => Ok(()),
            Some(there) if there.entry.number == seen.number => {
                Err(LedgerError::OtherHead { seen, found: there.hash })
            }
            _ => Err(LedgerError::CutShort { seen, last: self.head().map(|head| head.number) }),
        }
    }
}

impl Drop for Book {
    /// Notes the head. That it cannot be noted costs nothing but the notice.
    fn drop(&mut self) {
        if self.shared.is_some() {
            return;
        }
        if let (Writing::Yes(_), Some(head)) = (&self.writing, self.head()) {
            let text = format!("{head}\n");
            put(self.files.as_ref(), &self.folder.join(HEAD), text.as_bytes()).ok();
        }
    }
}

/// The record's file in a book.
pub(crate) fn record(folder: &Path) -> Result<PathBuf, LedgerError> {
    let record = folder.join(RECORD);
    match record.metadata() {
        Ok(file) if file.is_file() => Ok(record),
        Err(cause) if cause.kind() == io::ErrorKind::PermissionDenied => {
            Err(LedgerError::refused("open", &record)(cause))
        }
        _ => Err(LedgerError::NotABook { folder: folder.to_owned() }),
    }
}

/// The head that is noted in a book when it is closed, and in a bundle; `None` if none is.
pub(crate) fn seen_head(folder: &Path) -> Result<Option<Head>, LedgerError> {
    let path = folder.join(HEAD);
    let text = match fs::read_to_string(&path) {
        Ok(text) if text.is_empty() => return Ok(None),
        Ok(text) => text,
        Err(cause) if cause.kind() == io::ErrorKind::NotFound => return Ok(None),
        Err(cause) if cause.kind() == io::ErrorKind::InvalidData => {
            return Err(LedgerError::NotAHead { path });
        }
        Err(cause) => return Err(LedgerError::refused("read", &path)(cause)),
    };
    Head::read(&text).map(Some).ok_or(LedgerError::NotAHead { path })
}

/// Takes the right to write in a folder that is fit for it.
fn take(folder: &Path) -> Result<Lock, LedgerError> {
    if let Some(kind) = network_drive(folder) {
        return Err(LedgerError::NetworkDrive { folder: folder.to_owned(), kind });
    }
    Lock::take(folder).map_err(|why| match why {
        LockError::Held(by) => LedgerError::InUse { folder: folder.to_owned(), by },
        LockError::Refused(cause) => LedgerError::refused("write in", folder)(cause),
    })
}
