//! Copies of a book: made while it is open, checked, and put back without overwriting anything.

use std::collections::BTreeSet;
use std::path::Path;
use std::sync::Arc;

use crate::blob::Blobs;
use crate::book::{Book, Making};
use crate::chain::Head;
use crate::error::LedgerError;
use crate::files::{Disk, Files};
use crate::fresh::Fresh;
use crate::hash::BlobHash;
use crate::place::{EVIDENCE, HEAD, RECORD};
use crate::store::Sqlite;
use crate::walk::Walk;

/// What a copy holds.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Copied {
    /// Its last entry.
    pub head: Option<Head>,
    /// How many evidence files.
    pub evidence: usize,
}

impl Book {
    /// Copies the book as it is at this moment into a folder that is empty or not there yet. Each
    /// entry and each evidence file of the copy is checked before the folder gets its name. Signed
    /// heads come along; the key does not: a copy must not be able to sign.
    ///
    /// # Errors
    ///
    /// [`LedgerError::NotFree`] if something is at `to`; a fault of the book; or as the disk says.
    /// Nothing is then left at `to`.
    pub fn back_up(&self, to: &Path) -> Result<Copied, LedgerError> {
        self.back_up_with(to, Arc::new(Disk))
    }

    /// As [`Book::back_up`], on files of the caller's.
    ///
    /// # Errors
    ///
    /// As [`Book::back_up`].
    pub fn back_up_with(&self, to: &Path, files: Arc<dyn Files>) -> Result<Copied, LedgerError> {
        let fresh = Fresh::begin(files.as_ref(), to)?;
        let record = fresh.path().join(RECORD);
        self.copy_record(&record)?;
        let evidence = fresh.folder(EVIDENCE)?;
        let copies = Blobs::in_the_making(evidence, Arc::clone(&files));
        let store = Sqlite::open_read_only(&record)?;
        let mut head = None;
        let mut copied = BTreeSet::new();
        for stored in Walk::of(&store).checked() {
            let stored = stored?;
            head = Some(Head { number: stored.entry.number, hash: stored.hash });
            for hash in stored.entry.evidence {
                if copied.insert(hash) {
                    copy(self.blobs(), &copies, hash)?;
                }
            }
        }
        copies.settle()?;
        drop(store);
        if let Some(head) = head {
            fresh.file(HEAD, |write| write(format!("{head}\n").as_bytes()))?;
        }
        self.copy_heads(&fresh, head)?;
        fresh.finish()?;
        Ok(Copied { head, evidence: copied.len() })
    }
}

/// Puts a copy back as a book, into a folder that is empty or not there yet.
///
/// # Errors
///
/// [`LedgerError::NotFree`] if something is at `to`: nothing is ever overwritten; otherwise as
/// [`Book::open_read_only`] and [`Book::back_up`].
pub fn restore(from: &Path, to: &Path) -> Result<Copied, LedgerError> {
    Book::open_read_only(from)?.back_up(to)
}

/// Puts a copy back as a book on a database, where no record may be yet.
///
/// # Errors
///
/// As [`Book::open_read_only`] and [`Book::create_on_database`]. What was put back before then
/// stays: its tables must be dropped before it is tried again.
pub fn restore_on_database(from: &Path, at: &Path, making: &Making) -> Result<Copied, LedgerError> {
    let from = Book::open_read_only(from)?;
    let mut to = Book::create_on_database(at, making)?;
    let mut copied = BTreeSet::new();
    for stored in from.chain() {
        let stored = stored?;
        for hash in &stored.entry.evidence {
            if copied.insert(*hash) {
                copy(from.blobs(), to.blobs(), *hash)?;
            }
        }
        to.take(stored)?;
    }
    let last = to.head().map_or(0, |head| head.number);
    for signed in from.signed_heads()?.iter().filter(|signed| signed.size <= last) {
        to.take_signed(signed)?;
    }
    Ok(Copied { head: to.head(), evidence: copied.len() })
}

/// Copies one evidence file; its hash is checked on the way.
pub(crate) fn copy(from: &Blobs, to: &Blobs, hash: BlobHash) -> Result<(), LedgerError> {
    let filed = to.file(&mut from.open(hash)?)?;
    if filed.hash == hash {
        return Ok(());
    }
    Err(crate::blob::BlobError::Damaged { hash, found: filed.hash }.into())
}
