//! The key file of a book and its signed heads, beside the record: `key`, and `heads/SIZE`. A book
//! on a database keeps both there, for all its machines alike (`database.rs`).
//!
//! Both can be lost without loss of data. A signed head says no more than the record says; the
//! same key signs the same record with the same bytes. It is kept so that one who holds a later
//! record can show that it continues this one, and finds out a record that does not.

#![expect(clippy::disallowed_methods, reason = "the ledger keeps files")]

use std::fs::{self, OpenOptions};
use std::io::{self, ErrorKind, Write as _};
use std::path::Path;

use crate::book::Book;
use crate::error::LedgerError;
use crate::files::{Disk, Files, put};
use crate::hash::TreeHash;
use crate::note::{Note, PublicKey, SecretKey, TreeHead, origin};
use crate::tree::Frontier;

mod database;

/// The file of the key: readable by its owner alone, in no backup and in no bundle.
const KEY: &str = "key";

/// The file of a key that is about to take the place of another.
const NEXT: &str = "key.next";

/// The folder of signed heads.
pub(crate) const HEADS: &str = "heads";

/// A signed head as it is kept.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct KeptHead {
    /// How many entries it is of, by its name.
    pub size: u64,
    /// Its text.
    pub note: String,
}

/// The signed heads that are kept in this folder, the smallest first.
///
/// # Errors
///
/// As the file system says.
pub fn kept_heads(folder: &Path) -> Result<Vec<KeptHead>, LedgerError> {
    sizes(folder)?.into_iter().map(|size| kept_head(folder, size)).collect()
}

/// The signed head that is kept of so many entries.
///
/// # Errors
///
/// As the file system says, also where there is none.
pub fn kept_head(folder: &Path, size: u64) -> Result<KeptHead, LedgerError> {
    let path = folder.join(HEADS).join(size.to_string());
    let bytes = fs::read(&path).map_err(LedgerError::refused("read", &path))?;
    Ok(KeptHead { size, note: String::from_utf8_lossy(&bytes).into_owned() })
}

/// Of how many entries heads are kept in this folder, the smallest first.
///
/// # Errors
///
/// As the file system says.
pub fn sizes(folder: &Path) -> Result<Vec<u64>, LedgerError> {
    let folder = folder.join(HEADS);
    let entries = match fs::read_dir(&folder) {
        Ok(entries) => entries,
        Err(cause) if cause.kind() == ErrorKind::NotFound => return Ok(Vec::new()),
        Err(cause) => return Err(LedgerError::refused("list", &folder)(cause)),
    };
    let mut sizes = Vec::new();
    for entry in entries {
        let name = entry.map_err(LedgerError::refused("list", &folder))?.file_name();
        sizes.extend(name.to_str().and_then(|name| name.parse::<u64>().ok()));
    }
    sizes.sort_unstable();
    Ok(sizes)
}

/// The key of the book in this folder: the one that the record names as `current`, where it names
/// one. `None` where it is not there.
///
/// # Errors
///
/// [`LedgerError::NotAKey`], or as the file system says.
pub fn read_key(
    folder: &Path,
    current: Option<&PublicKey>,
) -> Result<Option<SecretKey>, LedgerError> {
    let is_current = |key: &SecretKey| current.is_none_or(|current| key.public() == current);
    if let Some(key) = read(&folder.join(KEY))?.filter(is_current) {
        return Ok(Some(key));
    }
    let next = folder.join(NEXT);
    let Some(key) = read(&next)?.filter(|key| current.is_some() && is_current(key)) else {
        return Ok(None);
    };
    // It took the place of the other in the record, and the program ended before it did so here.
    let path = folder.join(KEY);
    Disk.rename(&next, &path).map_err(LedgerError::refused("name", &path))?;
    Ok(Some(key))
}

/// Keeps the first key of a book.
///
/// # Errors
///
/// As the file system says.
pub fn keep_key(folder: &Path, key: &SecretKey) -> Result<(), LedgerError> {
    write(&folder.join(KEY), key)
}

/// Keeps a key that is about to take the place of another: it does once the record says so and
/// [`read_key`] was asked for it.
///
/// # Errors
///
/// As the file system says.
pub fn keep_next_key(folder: &Path, key: &SecretKey) -> Result<(), LedgerError> {
    write(&folder.join(NEXT), key)
}

fn read(path: &Path) -> Result<Option<SecretKey>, LedgerError> {
    match fs::read_to_string(path) {
        Ok(text) => {
            let key = SecretKey::read(&text);
            key.map(Some).ok_or_else(|| LedgerError::NotAKey { path: path.to_owned() })
        }
        Err(cause) if cause.kind() == ErrorKind::NotFound => Ok(None),
        Err(cause) => Err(LedgerError::refused("read", path)(cause)),
    }
}

fn write(path: &Path, key: &SecretKey) -> Result<(), LedgerError> {
    let incoming = path.with_extension("incoming");
    let written = || -> io::Result<()> {
        let mut options = OpenOptions::new();
        options.write(true).create(true).truncate(true);
        #[cfg(unix)]
        std::os::unix::fs::OpenOptionsExt::mode(&mut options, 0o600);
        let mut file = options.open(&incoming)?;
        file.write_all(format!("{}\n", key.to_text()).as_bytes())?;
        file.sync_all()?;
        drop(file);
        Disk.rename(&incoming, path)?;
        Disk.sync_folder(crate::files::above(path))
    };
    written().map_err(LedgerError::refused("write", path))
}

/// The tree over the entries as far as it was asked for, and its head where one was signed last.
#[derive(Default)]
pub(crate) struct Grown {
    tree: Frontier,
    watched: Option<u64>,
    signed: Option<TreeHead>,
}

impl Grown {
    pub(crate) const fn size(&self) -> u64 {
        self.tree.size()
    }

    fn head(&self) -> TreeHead {
        TreeHead { size: self.tree.size(), root: self.tree.root() }
    }

    /// Remembers the head of so many entries, once it is there.
    pub(crate) fn watch(&mut self, signed: Option<u64>) {
        self.watched = signed;
    }

    pub(crate) fn push(&mut self, leaf: TreeHash) {
        self.tree.push(leaf);
        if self.watched == Some(self.tree.size()) {
            self.signed = Some(self.head());
        }
    }
}

impl Book {
    /// The name of the book in its signed heads; `None` for a book without entries.
    ///
    /// # Errors
    ///
    /// As [`Book::stored`].
    pub fn origin(&self) -> Result<Option<String>, LedgerError> {
        Ok(self.stored(1)?.map(|first| origin(&first.hash)))
    }

    /// How many entries the record has, and the hash of the tree over them. What was looked at
    /// before is not looked at again.
    ///
    /// # Errors
    ///
    /// As the store says; an entry that was changed.
    pub fn tree_head(&self) -> Result<TreeHead, LedgerError> {
        let size = self.head().map_or(0, |head| head.number);
        let mut tree = self.tree().borrow_mut();
        if tree.size() < size {
            tree.watch(self.signed_sizes()?.last().copied());
        }
        while tree.size() < size {
            let next = tree.size().saturating_add(1);
            let Some(stored) = self.stored(next)? else { break };
            tree.push(stored.leaf());
        }
        Ok(tree.head())
    }

    /// Signs the head as it is now, and keeps it. Where other programs have added entries that
    /// were not read here yet, it is the head of those that were.
    ///
    /// # Errors
    ///
    /// [`LedgerError::Forked`] if a head was signed before that this record does not continue;
    /// otherwise as [`Book::tree_head`], or as the disk says.
    pub fn sign_head(&self, key: &SecretKey) -> Result<KeptHead, LedgerError> {
        let head = self.tree_head()?;
        let end = self.store().last()?.map_or(0, |last| last.entry.number);
        let then = self.tree().borrow().signed;
        let from = then.map_or(head.size, |then| then.size);
        for size in self.signed_sizes()?.into_iter().filter(|size| *size >= from) {
            let kept = self.signed_head(size)?;
            let named = kept.and_then(|kept| Some(Note::read(&kept.note).ok()?.head().ok()?.1));
            let Some(signed) = named else { continue };
            let mut here = then.into_iter().chain([head]).filter(|here| here.size == signed.size);
            if signed.size > end || here.any(|here| here.root != signed.root) {
                return Err(LedgerError::Forked { signed, now: head });
            }
        }
        let kept = KeptHead { size: head.size, note: key.sign_head(head) };
        self.take_signed(&kept)?;
        self.tree().borrow_mut().signed = Some(head);
        Ok(kept)
    }

    /// Keeps a signed head.
    pub(crate) fn take_signed(&self, kept: &KeptHead) -> Result<(), LedgerError> {
        if let Some(notes) = self.beside() {
            return Ok(notes.keep_signed(kept)?);
        }
        let (folder, files) = (self.folder().join(HEADS), self.files());
        if !folder.is_dir() {
            let made = files.create_folder(&folder).and_then(|()| files.sync_folder(self.folder()));
            made.map_err(LedgerError::refused("create", &folder))?;
        }
        let path = folder.join(kept.size.to_string());
        put(files, &path, kept.note.as_bytes()).map_err(LedgerError::refused("write", &path))
    }

    /// The heads that were signed, the smallest first.
    ///
    /// # Errors
    ///
    /// As the file system says, or the database.
    pub fn signed_heads(&self) -> Result<Vec<KeptHead>, LedgerError> {
        match self.beside() {
            Some(notes) => Ok(notes.signed_heads()?),
            None => kept_heads(self.folder()),
        }
    }

    /// The signed head of so many entries; `None` where none was signed.
    ///
    /// # Errors
    ///
    /// As the file system says, or the database.
    pub fn signed_head(&self, size: u64) -> Result<Option<KeptHead>, LedgerError> {
        match self.beside() {
            Some(notes) => Ok(notes.signed_head(size)?),
            None => match kept_head(self.folder(), size) {
                Err(LedgerError::Refused { cause, .. }) if cause.kind() == ErrorKind::NotFound => {
                    Ok(None)
                }
                kept => kept.map(Some),
            },
        }
    }

    /// Of how many entries heads were signed, the smallest first.
    ///
    /// # Errors
    ///
    /// As the file system says, or the database.
    pub fn signed_sizes(&self) -> Result<Vec<u64>, LedgerError> {
        match self.beside() {
            Some(notes) => Ok(notes.signed_sizes()?),
            None => sizes(self.folder()),
        }
    }

    /// The key of the book: the one that the record names as `current`, where it names one. `None`
    /// where it is not there.
    ///
    /// # Errors
    ///
    /// As [`read_key`], or the database.
    pub fn key(&self, current: Option<&PublicKey>) -> Result<Option<SecretKey>, LedgerError> {
        match self.beside() {
            Some(notes) => database::read_key(notes, self.folder(), current),
            None => read_key(self.folder(), current),
        }
    }

    /// Keeps the first key of the book, and gives it: of a book on a database the one that another
    /// program has kept before.
    ///
    /// # Errors
    ///
    /// As [`keep_key`], or the database.
    pub fn keep_key(&self, key: SecretKey) -> Result<SecretKey, LedgerError> {
        let key = match self.beside() {
            Some(notes) => database::keep_key(notes, key)?,
            None => key,
        };
        keep_key(self.folder(), &key)?;
        Ok(key)
    }

    /// Keeps a key that is about to take the place of another: it does once the record says so and
    /// [`Book::key`] was asked for it.
    ///
    /// # Errors
    ///
    /// As [`keep_next_key`], or the database.
    pub fn keep_next_key(&self, key: &SecretKey) -> Result<(), LedgerError> {
        if let Some(notes) = self.beside() {
            database::keep_next_key(notes, key)?;
        }
        keep_next_key(self.folder(), key)
    }
}
