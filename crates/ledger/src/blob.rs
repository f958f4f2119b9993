//! Blobs: bytes filed under their hash, in `ab/abcdef…` by its first two digits.
//!
//! This file knows bytes and hashes only. A blob never changes, so filing the same bytes again
//! does nothing. The name appears only after the bytes are on the disk: temporary name, sync,
//! rename, sync of the folder.

#![expect(clippy::disallowed_methods, reason = "the ledger keeps files")]

use std::fs::{self, File};
use std::io::{self, ErrorKind, Read};
use std::path::{Path, PathBuf};
use std::sync::Arc;
use std::sync::atomic::{AtomicU64, Ordering};
use std::time::Duration;

use sha2::{Digest, Sha256};
use thiserror::Error;

use crate::files::{self, Files};
use crate::hash::{BlobHash, short};
use crate::incoming::Incoming;

/// How many bytes are held in memory while a blob is filed or checked.
const CHUNK_BYTES: usize = 64 << 10;

/// What the names of files begin with that come in slowly.
const COMING: &str = "incoming-";

/// What comes in slowly has come by then.
const COMES_WITHIN: Duration = Duration::from_hours(48);

/// A folder of blobs.
pub struct Blobs {
    folder: PathBuf,
    files: Arc<dyn Files>,
    /// How many came in slowly so far.
    coming: AtomicU64,
    /// What tells the files that this program writes from those of others; empty where there are
    /// no others.
    mark: String,
}

/// A blob that is on file.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Filed {
    /// Its hash, which is its name.
    pub hash: BlobHash,
    /// Its length in bytes.
    pub bytes: u64,
}

/// Why a blob could not be filed or read.
#[derive(Debug, Error)]
pub enum BlobError {
    /// There is none under this hash.
    #[error("evidence {} is not on file", short(hash))]
    Missing {
        /// The hash asked for.
        hash: BlobHash,
    },
    /// What lies under this hash is something else.
    #[error("evidence {} is damaged: its contents hash to {}", short(hash), short(found))]
    Damaged {
        /// The hash it is filed under.
        hash: BlobHash,
        /// The hash of what is there.
        found: BlobHash,
    },
    /// What was to be filed could not be read to its end.
    #[error("cannot read what is to be filed as evidence")]
    Source(#[source] io::Error),
    /// The file system refused.
    #[error("cannot {deed} `{}`", path.display())]
    Refused {
        /// What was tried.
        deed: &'static str,
        /// On which file or folder.
        path: PathBuf,
        /// What the file system says.
        #[source]
        cause: io::Error,
    },
}

impl BlobError {
    /// The way out, where there is one.
    #[must_use]
    pub fn hint(&self) -> Option<&'static str> {
        match self {
            Self::Missing { .. } => Some("File the evidence first, or fetch it from a backup."),
            Self::Damaged { .. } => Some("Put the file back from a backup, then run `verify`."),
            Self::Source(cause) | Self::Refused { cause, .. } => files::hint(cause),
        }
    }
}

pub(crate) fn refused(
    deed: &'static str,
    path: &Path,
) -> impl FnOnce(io::Error) -> BlobError + use<> {
    let path = path.to_owned();
    move |cause| BlobError::Refused { deed, path, cause }
}

impl Blobs {
    /// The blobs of this folder, which must be there.
    #[must_use]
    pub fn new(folder: PathBuf, files: Arc<dyn Files>) -> Self {
        Self { folder, files, coming: AtomicU64::new(1), mark: String::new() }
    }

    /// The same, in a folder that other programs file in too; no other has this mark.
    #[must_use]
    pub(crate) fn shared(self, mark: &str) -> Self {
        Self { mark: format!("-{mark}"), ..self }
    }

    /// Where the blob of this hash lies, or would.
    #[must_use]
    pub fn path(&self, hash: BlobHash) -> PathBuf {
        let name = hash.to_string();
        self.folder.join(name.get(..2).unwrap_or_default()).join(name)
    }

    /// Files all that `source` gives, a piece at a time. When this returns it is on the disk.
    ///
    /// # Errors
    ///
    /// [`BlobError::Damaged`] if the hash is taken by other bytes, which only damage can bring
    /// about; [`BlobError::Source`] and [`BlobError::Refused`] as the file system says. Nothing
    /// is then on file that was not before.
    pub fn file(&self, source: &mut dyn Read) -> Result<Filed, BlobError> {
        let incoming = self.folder.join(format!("incoming{}", self.mark));
        let filed = self.take_in(source, &incoming).and_then(|filed| {
            self.name(filed, &incoming)?;
            Ok(filed)
        });
        if filed.is_err() {
            // What cannot be removed is written over by the next one.
            self.files.remove(&incoming).ok();
        }
        filed
    }

    /// A place for bytes that come in slowly. Others may be filed meanwhile.
    ///
    /// # Errors
    ///
    /// As the file system says.
    pub(crate) fn incoming(self: &Arc<Self>) -> Result<Incoming, BlobError> {
        let nth = self.coming.fetch_add(1, Ordering::Relaxed);
        let path = self.folder.join(format!("incoming{}-{nth}", self.mark));
        let file = self.files.create(&path).map_err(refused("create", &path))?;
        let (blobs, files) = (Arc::clone(self), Arc::clone(&self.files));
        Ok(Incoming { blobs, files, path, file, hasher: Sha256::new(), bytes: 0 })
    }

    /// Removes what was coming in when the program ended; of what others may be writing only what
    /// is far too old for that.
    pub(crate) fn clear_incoming(&self) {
        // What cannot be removed costs nothing but its room.
        for name in names(&self.folder).unwrap_or_default() {
            let path = self.folder.join(&name);
            if name.starts_with(COMING) && (self.mark.is_empty() || is_old(&path)) {
                self.files.remove(&path).ok();
            }
        }
    }

    fn take_in(&self, source: &mut dyn Read, incoming: &Path) -> Result<Filed, BlobError> {
        let mut file = self.files.create(incoming).map_err(refused("create", incoming))?;
        let mut hasher = Sha256::new();
        let bytes = pieces(source, &mut |piece| {
            hasher.update(piece);
            self.files.write(&mut file, piece).map_err(refused("write", incoming))
        })?;
        self.files.sync(&file).map_err(refused("write to disk", incoming))?;
        Ok(Filed { hash: BlobHash(hasher.finalize().into()), bytes })
    }

    /// Gives what lies complete at `incoming` the name of its hash.
    pub(crate) fn name(&self, filed: Filed, incoming: &Path) -> Result<(), BlobError> {
        let path = self.path(filed.hash);
        let folder = path.parent().unwrap_or(&self.folder);
        match self.check(filed.hash) {
            Ok(_) => self.files.remove(incoming).map_err(refused("remove", incoming))?,
            Err(BlobError::Missing { .. }) => {
                self.files.create_folder(folder).map_err(refused("create", folder))?;
                let above = &self.folder;
                self.files.sync_folder(above).map_err(refused("write to disk", above))?;
                self.files.rename(incoming, &path).map_err(refused("name", &path))?;
            }
            Err(other) => return Err(other),
        }
        // Also for a blob that was there: an earlier run may have ended before this step.
        self.files.sync_folder(folder).map_err(refused("write to disk", folder))
    }

    /// Holds a blob against its hash and gives its length.
    ///
    /// # Errors
    ///
    /// [`BlobError::Missing`], [`BlobError::Damaged`], or as the file system says.
    pub fn check(&self, hash: BlobHash) -> Result<Filed, BlobError> {
        let mut hasher = Sha256::new();
        let bytes = pieces(&mut self.open(hash)?, &mut |piece| {
            hasher.update(piece);
            Ok(())
        })?;
        let found = BlobHash(hasher.finalize().into());
        if found == hash {
            Ok(Filed { hash, bytes })
        } else {
            Err(BlobError::Damaged { hash, found })
        }
    }

    /// The bytes of a blob, held against its hash.
    ///
    /// # Errors
    ///
    /// [`BlobError::Missing`], [`BlobError::Damaged`], or as the file system says.
    pub fn read(&self, hash: BlobHash) -> Result<Vec<u8>, BlobError> {
        let mut bytes = Vec::new();
        pieces(&mut self.open(hash)?, &mut |piece| {
            bytes.extend_from_slice(piece);
            Ok(())
        })?;
        let found = BlobHash::of(&bytes);
        if found == hash { Ok(bytes) } else { Err(BlobError::Damaged { hash, found }) }
    }

    /// Whether a file lies under this hash; its contents are not looked at.
    #[must_use]
    pub fn holds(&self, hash: BlobHash) -> bool {
        self.path(hash).is_file()
    }

    /// The hashes of all blobs, in order. Files with other names are passed over.
    ///
    /// # Errors
    ///
    /// As the file system says.
    pub fn list(&self) -> Result<Vec<BlobHash>, BlobError> {
        let mut hashes = Vec::new();
        for folder in names(&self.folder)? {
            let folder = self.folder.join(folder);
            if folder.is_dir() {
                hashes.extend(names(&folder)?.iter().filter_map(|name| BlobHash::from_hex(name)));
            }
        }
        hashes.sort_unstable();
        Ok(hashes)
    }

    pub(crate) fn open(&self, hash: BlobHash) -> Result<File, BlobError> {
        let path = self.path(hash);
        match File::open(&path) {
            Ok(file) => Ok(file),
            Err(cause) if cause.kind() == ErrorKind::NotFound => Err(BlobError::Missing { hash }),
            Err(cause) => Err(refused("open", &path)(cause)),
        }
    }
}

/// Whether nobody has written a file for so long that nobody will.
fn is_old(path: &Path) -> bool {
    let written = path.metadata().and_then(|file| file.modified());
    written.ok().and_then(|at| at.elapsed().ok()).is_some_and(|age| age > COMES_WITHIN)
}

fn names(folder: &Path) -> Result<Vec<String>, BlobError> {
    let entries = fs::read_dir(folder).map_err(refused("list", folder))?;
    let names: io::Result<Vec<_>> = entries.map(|entry| Ok(entry?.file_name())).collect();
    let names = names.map_err(refused("list", folder))?;
    Ok(names.into_iter().filter_map(|name| name.into_string().ok()).collect())
}

/// Hands over all of `source`, a piece at a time, and counts its bytes.
fn pieces(
    source: &mut dyn Read,
    take: &mut dyn FnMut(&[u8]) -> Result<(), BlobError>,
) -> Result<u64, BlobError> {
    let mut buffer = vec![0; CHUNK_BYTES];
    let mut bytes = 0;
    loop {
        let length = match source.read(&mut buffer) {
            Ok(0) => return Ok(bytes),
            Ok(length) => length,
            Err(cause) if cause.kind() == ErrorKind::Interrupted => continue,
            Err(cause) => return Err(BlobError::Source(cause)),
        };
        take(buffer.get(..length).unwrap_or_default())?;
        bytes += length as u64;
    }
}
