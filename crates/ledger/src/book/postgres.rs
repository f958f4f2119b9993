//! A book on a PostgreSQL database, which several programs write in at the same time.
//!
//! Its evidence lies where all of them reach it. What belongs to one machine or to one program (a
//! sitting at the block, pieces of films that come in) lies in a folder of that machine.

use std::cell::RefCell;
use std::path::{Path, PathBuf};
use std::sync::Arc;

use trial::fact::Recorded;

use super::{Book, Writing};
use crate::blob::Blobs;
use crate::chain::{Head, Stored};
use crate::error::LedgerError;
use crate::files::{Disk, create_folders};
use crate::place::{Lock, LockError};
use crate::remote::Remote;
use crate::store::postgres::{Address, Notes, Places};
use crate::store::{Postgres, Store};
use crate::walk::recorded;

/// The folder of copies of evidence that lies elsewhere. It may be emptied.
const COPIES: &str = "evidence-copies";

/// How many entries of others are taken up at a time.
const BATCH: usize = 100;

/// So many programs may serve a book on one machine.
const SERVING_MOST: u32 = 100;

/// What a book on a database has besides.
pub(super) struct Shared {
    at: PathBuf,
    address: Address,
    /// The folder of this program alone, and the lock on it.
    own: Option<(PathBuf, Lock)>,
    noted: Option<Head>,
    /// Where the key and the signed heads lie; `None` of an old book, where they lie in the folder
    /// of each machine.
    beside: Option<Notes>,
}

/// How a book is made on a database.
#[derive(Clone, Debug)]
pub struct Making {
    /// Where what is no entry is kept.
    pub places: Places,
    /// The role that is to add entries, and is to be able to do no more.
    pub role: String,
}

impl Book {
    /// Makes a new book on a database, as the role that owns its tables. Its first entries may be
    /// added at once; later it is opened as the other role.
    ///
    /// # Errors
    ///
    /// As the database says, or the disk.
    pub fn create_on_database(at: &Path, making: &Making) -> Result<Self, LedgerError> {
        let address = Address::read(at)?;
        let mut places = making.places.clone();
        places.files = absolute(&places.files)?;
        create_folders(&Disk, &places.files)
            .map_err(LedgerError::refused("create", &places.files))?;
        if Remote::is_one(&places.evidence) {
            let there = Remote::read(&places.evidence)?.list();
            there.map_err(LedgerError::refused("reach", Path::new(&places.evidence)))?;
        } else {
            let evidence = absolute(Path::new(&places.evidence))?;
            create_folders(&Disk, &evidence).map_err(LedgerError::refused("create", &evidence))?;
            places.evidence = evidence.display().to_string();
        }
        let store = Postgres::create(&address, &places, &making.role)?;
        Self::on_database((at, address), store, Writing::Yes(None))
    }

    pub(super) fn open_on_database(at: &Path, writing: Writing) -> Result<Self, LedgerError> {
        let address = Address::read(at)?;
        let store = match writing {
            Writing::No => Postgres::open_read_only(&address)?,
            Writing::Yes(_) | Writing::Stopped(_) => Postgres::open(&address)?,
        };
        let book = Self::on_database((at, address), store, writing)?;
        if let (Writing::Yes(_), Some(noted)) = (&book.writing, book.noted_head()) {
            book.holds(noted)?;
        }
        Ok(book)
    }

    fn on_database(
        (at, address): (&Path, Address),
        store: Postgres,
        writing: Writing,
    ) -> Result<Self, LedgerError> {
        let places = store.places()?;
        let folder = places.files;
        create_folders(&Disk, &folder).map_err(LedgerError::refused("create", &folder))?;
        let blobs = evidence(&folder, &places.evidence)?.shared(&store.mark()?);
        // Noted before the end is read: the end can only be later.
        let noted = store.noted()?.map(|(number, hash)| Head { number, hash });
        let last = store.last()?;
        if let Some(last) = &last {
            last.check()?;
        }
        if let Writing::Yes(_) = writing {
            blobs.clear_incoming();
        }
        let (blobs, store) = (Arc::new(blobs), Box::new(store));
        let beside = store.has_signed()?.then(|| Notes::of(&address)).transpose()?;
        let shared = Some(Shared { at: at.to_owned(), address, own: None, noted, beside });
        let (files, tree) = (Arc::new(Disk), RefCell::default());
        Ok(Self { folder, shared, store, blobs, files, last, tree, writing })
    }

    /// Whether other programs may add entries while this one has the book open.
    #[must_use]
    pub fn is_shared(&self) -> bool {
        self.shared.is_some()
    }

    /// What the book is opened by: its folder, or the address of its database.
    #[must_use]
    pub fn place(&self) -> &Path {
        self.shared.as_ref().map_or(&self.folder, |shared| &shared.at)
    }

    /// The notes beside the record, of a book that several programs write in.
    ///
    /// # Errors
    ///
    /// Where this machine gives no way to wait for answers.
    pub fn notes(&self) -> Result<Option<Notes>, LedgerError> {
        let notes = self.shared.as_ref().map(|shared| Notes::of(&shared.address));
        Ok(notes.transpose()?)
    }

    /// The folder of what belongs to this program alone: of a book that others write in too, once
    /// a place was taken there; otherwise the book's.
    #[must_use]
    pub fn own_folder(&self) -> &Path {
        let own = self.shared.as_ref().and_then(|shared| shared.own.as_ref());
        own.map_or(&self.folder, |(folder, _)| folder)
    }

    /// Takes the first free place of those who serve the book on this machine: a program that is
    /// started again finds what it had left.
    ///
    /// # Errors
    ///
    /// As the disk says, or if all are taken.
    pub fn take_place(&mut self) -> Result<(), LedgerError> {
        let Some(shared) = &mut self.shared else { return Ok(()) };
        let (mut held, mut by) = (self.folder.clone(), None);
        for nth in 1..=SERVING_MOST {
            held = self.folder.join(format!("serve-{nth}"));
            create_folders(&Disk, &held).map_err(LedgerError::refused("create", &held))?;
            match Lock::take(&held) {
                Ok(lock) => {
                    shared.own = Some((held, lock));
                    return Ok(());
                }
                Err(LockError::Held(other)) => by = other,
                Err(LockError::Refused(cause)) => {
                    return Err(LedgerError::refused("write in", &held)(cause));
                }
            }
        }
        Err(LedgerError::InUse { folder: held, by })
    }

    /// Reads what other programs have added since, each entry held against the one before it. A
    /// book that no other program can write in has nothing to catch up with.
    ///
    /// # Errors
    ///
    /// As the store says; an entry that does not follow.
    pub fn catch_up(&mut self) -> Result<Vec<Recorded>, LedgerError> {
        let mut added = Vec::new();
        if self.shared.is_none() {
            return Ok(added);
        }
        loop {
            let reached = self.last.as_ref().map_or(0, |last| last.entry.number);
            let batch = self.store.after(reached, BATCH)?;
            let is_all = batch.len() < BATCH;
            for stored in batch {
                stored.check()?;
                stored.entry.follows(self.last.as_ref())?;
                added.push(recorded(&stored)?);
                self.last = Some(stored);
            }
            if is_all {
                return Ok(added);
            }
        }
    }

    /// The head as it was noted when the book was opened, of a book on a database.
    pub(crate) fn noted_head(&self) -> Option<Head> {
        self.shared.as_ref().and_then(|shared| shared.noted)
    }

    /// Where the key and the signed heads of all machines lie; `None` of a book that keeps them in
    /// its folder.
    pub(crate) fn beside(&self) -> Option<&Notes> {
        self.shared.as_ref().and_then(|shared| shared.beside.as_ref())
    }

    pub(crate) fn store(&self) -> &dyn Store {
        self.store.as_ref()
    }

    /// Takes over an entry as it is.
    pub(crate) fn take(&mut self, stored: Stored) -> Result<(), LedgerError> {
        stored.entry.follows(self.last.as_ref())?;
        self.store.append(&stored)?;
        self.last = Some(stored);
        Ok(())
    }
}

/// The evidence in its place: a folder that all reach, or a store elsewhere, of which this machine
/// keeps copies.
fn evidence(files: &Path, place: &str) -> Result<Blobs, LedgerError> {
    if Remote::is_one(place) {
        let copies = files.join(COPIES);
        create_folders(&Disk, &copies).map_err(LedgerError::refused("create", &copies))?;
        return Ok(Blobs::new(copies, Arc::new(Disk)).elsewhere(Remote::read(place)?));
    }
    let folder = PathBuf::from(place);
    folder.metadata().map_err(LedgerError::refused("open", &folder))?;
    Ok(Blobs::new(folder, Arc::new(Disk)))
}

/// A folder's name from the root on: every program must mean the same one.
fn absolute(folder: &Path) -> Result<PathBuf, LedgerError> {
    std::path::absolute(folder).map_err(LedgerError::refused("find", folder))
}
