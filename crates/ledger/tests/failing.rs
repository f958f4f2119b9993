//! A store and a file system that fail when they are told to.

use std::fs::File;
use std::io;
use std::path::Path;
use std::sync::Arc;
use std::sync::atomic::{AtomicU64, Ordering};

use ledger::chain::Stored;
use ledger::files::{Disk, Files};
use ledger::store::{Store, StoreError};

/// Counts deeds, and says of one of them that it fails. All deeds after it fail too: after a
/// failed sync nothing may be taken for done.
#[derive(Clone)]
pub(crate) struct Failing {
    done: Arc<AtomicU64>,
    at: u64,
}

impl Failing {
    /// Fails at the `at`-th deed, counted from 1.
    pub(crate) fn at(at: u64) -> Self {
        Self { done: Arc::default(), at }
    }

    /// Fails never.
    pub(crate) fn never() -> Self {
        Self::at(u64::MAX)
    }

    /// Whether the deed that was to fail was reached.
    pub(crate) fn reached(&self) -> bool {
        self.done.load(Ordering::SeqCst) >= self.at
    }

    fn fails_now(&self) -> bool {
        self.done.fetch_add(1, Ordering::SeqCst) + 1 >= self.at
    }

    fn deed<T>(&self, deed: impl FnOnce() -> io::Result<T>) -> io::Result<T> {
        if self.fails_now() { Err(io::Error::other("made to fail")) } else { deed() }
    }
}

/// The files of this machine, failing at the n-th deed.
pub(crate) struct FailingFiles(pub Failing);

impl Files for FailingFiles {
    fn create(&self, path: &Path) -> io::Result<File> {
        self.0.deed(|| Disk.create(path))
    }

    /// A write that fails has written its first half.
    fn write(&self, file: &mut File, bytes: &[u8]) -> io::Result<()> {
        if self.0.fails_now() {
            Disk.write(file, &bytes[..bytes.len() / 2])?;
            return Err(io::Error::new(io::ErrorKind::StorageFull, "made to fail"));
        }
        Disk.write(file, bytes)
    }

    fn sync(&self, file: &File) -> io::Result<()> {
        self.0.deed(|| Disk.sync(file))
    }

    fn rename(&self, from: &Path, to: &Path) -> io::Result<()> {
        self.0.deed(|| Disk.rename(from, to))
    }

    fn create_folder(&self, path: &Path) -> io::Result<()> {
        self.0.deed(|| Disk.create_folder(path))
    }

    fn sync_folder(&self, path: &Path) -> io::Result<()> {
        self.0.deed(|| Disk.sync_folder(path))
    }

    fn remove(&self, path: &Path) -> io::Result<()> {
        self.0.deed(|| Disk.remove(path))
    }
}

/// What a failing append has done before it failed. Both happen: a disk may refuse, and an answer
/// may be lost.
#[derive(Clone, Copy, Debug)]
pub(crate) enum Loses {
    /// The entry was not kept.
    TheEntry,
    /// The entry was kept, and the store did not learn of it.
    TheAnswer,
}

/// A store that fails at the n-th write.
pub(crate) struct FailingStore<S> {
    pub(crate) store: S,
    pub(crate) failing: Failing,
    pub(crate) loses: Loses,
}

impl<S: Store> Store for FailingStore<S> {
    fn append(&mut self, stored: &Stored) -> Result<(), StoreError> {
        if self.failing.fails_now() {
            if let Loses::TheAnswer = self.loses {
                self.store.append(stored)?;
            }
            return Err(StoreError::Failed { why: "made to fail".to_owned() });
        }
        self.store.append(stored)
    }

    fn last(&self) -> Result<Option<Stored>, StoreError> {
        self.store.last()
    }

    fn after(&self, number: u64, most: usize) -> Result<Vec<Stored>, StoreError> {
        self.store.after(number, most)
    }

    fn copy_to(&self, path: &Path) -> Result<(), StoreError> {
        self.store.copy_to(path)
    }
}
