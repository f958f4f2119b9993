//! Blobs: bytes filed under their hash, in `ab/abcdef…` by its first two digits.
//!
//! This file knows bytes and hashes only. A blob never changes, so filing the same bytes again
//! does nothing. The name appears only after the bytes are on the disk: temporary name, sync,
//! rename, sync of the folder.

#![expect(clippy::disallowed_methods, reason = "the ledger keeps files")]

use std::fs::{self, File};
use std::io::{self, ErrorKind, Read};
use std::path::{Path, PathBuf};
use std::sync::atomic::{AtomicU64, Ordering};
use std::sync::{Arc, OnceLock};
use std::time::Duration;

use sha2::{Digest, Sha256};
use thiserror::Error;

use crate::files::{self, Files};
use crate::hash::{BlobHash, short};
use crate::incoming::Incoming;
use crate::remote::Remote;

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
    /// Why a sync failed, once one did: what is on the disk is unknown from then on.
    unsynced: OnceLock<String>,
    /// Where the blobs lie, if not in the folder: that then holds copies of some.
    remote: Option<Remote>,
    /// Whether the folder counts for nothing yet.
    in_the_making: bool,
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
        let unsynced = OnceLock::new();
        let (coming, mark) = (AtomicU64::new(1), String::new());
        Self { folder, files, coming, mark, unsynced, remote: None, in_the_making: false }
    }

    /// The blobs of a folder that is in the making and counts for nothing yet: the names of what is
    /// filed are on the disk after [`Blobs::settle`], all at once instead of each by itself.
    pub(crate) fn in_the_making(folder: PathBuf, files: Arc<dyn Files>) -> Self {
        Self { in_the_making: true, ..Self::new(folder, files) }
    }

    /// Waits until the names of all that was filed are on the disk.
    pub(crate) fn settle(&self) -> Result<(), BlobError> {
        for folder in names(&self.folder)? {
            self.sync_folder(&self.folder.join(folder))?;
        }
        self.sync_folder(&self.folder)
    }

    /// The same, in a folder that other programs file in too; no other has this mark.
    #[must_use]
    pub(crate) fn shared(self, mark: &str) -> Self {
        Self { mark: format!("-{mark}"), ..self }
    }

    /// Why a sync failed, once one did. A second one may say that all is well although what the first
    /// one was for is lost: nothing more is to be filed until the folder is opened anew.
    pub(crate) fn unsynced(&self) -> Option<&str> {
        self.unsynced.get().map(String::as_str)
    }

    /// Waits until a file is on the disk.
    pub(crate) fn sync(&self, file: &File, path: &Path) -> Result<(), BlobError> {
        self.noted(self.files.sync(file).map_err(refused("write to disk", path)))
    }

    /// Waits until the names in a folder are on the disk.
    fn sync_folder(&self, folder: &Path) -> Result<(), BlobError> {
        self.noted(self.files.sync_folder(folder).map_err(refused("write to disk", folder)))
    }

    /// Remembers a sync that failed.
    fn noted(&self, synced: Result<(), BlobError>) -> Result<(), BlobError> {
        if let Err(BlobError::Refused { path, cause, .. }) = &synced {
            self.unsynced.get_or_init(|| {
                format!("`{}` could not be written to disk: {cause}", path.display())
            });
        }
        synced
    }

    /// The same, where the blobs lie in a store elsewhere, which has whatever the folder has.
    #[must_use]
    pub(crate) fn elsewhere(self, remote: Remote) -> Self {
        Self { remote: Some(remote), ..self }
    }

    /// Where the blob of this hash lies, or would; of one that lies elsewhere, its copy.
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
        let path = self.coming_path();
        let file = self.files.create(&path).map_err(refused("create", &path))?;
        let (blobs, files) = (Arc::clone(self), Arc::clone(&self.files));
        Ok(Incoming { blobs, files, path, file, hasher: Sha256::new(), bytes: 0 })
    }

    fn coming_path(&self) -> PathBuf {
        let nth = self.coming.fetch_add(1, Ordering::Relaxed);
        self.folder.join(format!("incoming{}-{nth}", self.mark))
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
        self.sync(&file, incoming)?;
        Ok(Filed { hash: BlobHash(hasher.finalize().into()), bytes })
    }

    /// Gives what lies complete at `incoming` the name of its hash, elsewhere first.
    pub(crate) fn name(&self, filed: Filed, incoming: &Path) -> Result<(), BlobError> {
        if let Some(remote) = &self.remote {
            let refused = refused("put elsewhere", incoming);
            remote.keep(filed, incoming).map_err(refused)?;
        }
        self.name_here(filed, incoming)
    }

    fn name_here(&self, filed: Filed, incoming: &Path) -> Result<(), BlobError> {
        let path = self.path(filed.hash);
        let folder = path.parent().unwrap_or(&self.folder);
        match self.open_here(filed.hash).and_then(|mut file| checked(&mut file, filed.hash)) {
            // The same bytes lie there, and perhaps not on the disk: a run may have ended before
            // its sync, or with one that failed. What was synced just now takes their place.
            Ok(_) => {}
            Err(BlobError::Missing { .. }) => {
                self.files.create_folder(folder).map_err(refused("create", folder))?;
                if !self.in_the_making {
                    self.sync_folder(&self.folder)?;
                }
            }
            Err(other) => return Err(other),
        }
        self.files.rename(incoming, &path).map_err(refused("name", &path))?;
        if self.in_the_making { Ok(()) } else { self.sync_folder(folder) }
    }

    /// Holds a blob against its hash and gives its length; one that lies elsewhere, as it lies there.
    ///
    /// # Errors
    ///
    /// [`BlobError::Missing`], [`BlobError::Damaged`], or as the file system says.
    pub fn check(&self, hash: BlobHash) -> Result<Filed, BlobError> {
        match &self.remote {
            None => checked(&mut self.open_here(hash)?, hash),
            Some(remote) => checked(&mut self.from(remote, hash)?, hash),
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
        let elsewhere = |remote: &Remote| remote.bytes(hash).is_ok_and(|bytes| bytes.is_some());
        self.path(hash).is_file() || self.remote.as_ref().is_some_and(elsewhere)
    }

    /// The hashes of all blobs, in order. Files with other names are passed over.
    ///
    /// # Errors
    ///
    /// As the file system says.
    pub fn list(&self) -> Result<Vec<BlobHash>, BlobError> {
        if let Some(remote) = &self.remote {
            return remote.list().map_err(refused("list elsewhere", &self.folder));
        }
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

    /// Opens a blob, to be read piece by piece: it is not held against its hash. One that lies
    /// elsewhere is fetched first.
    ///
    /// # Errors
    ///
    /// [`BlobError::Missing`], or as the file system says.
    pub fn open(&self, hash: BlobHash) -> Result<File, BlobError> {
        let opened = self.open_here(hash);
        let (Err(BlobError::Missing { .. }), Some(remote)) = (&opened, &self.remote) else {
            return opened;
        };
        let incoming = self.coming_path();
        let filed = self.take_in(&mut self.from(remote, hash)?, &incoming);
        let named = filed.and_then(|filed| match filed.hash {
            found if found == hash => self.name_here(filed, &incoming),
            found => Err(BlobError::Damaged { hash, found }),
        });
        if named.is_err() {
            self.files.remove(&incoming).ok();
        }
        named?;
        self.open_here(hash)
    }

    /// A blob as it lies elsewhere.
    fn from(&self, remote: &Remote, hash: BlobHash) -> Result<impl Read + use<>, BlobError> {
        let there = remote.get(hash).map_err(refused("fetch", &self.path(hash)))?;
        there.ok_or(BlobError::Missing { hash })
    }

    fn open_here(&self, hash: BlobHash) -> Result<File, BlobError> {
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

/// Holds what comes against its hash and gives its length.
fn checked(source: &mut dyn Read, hash: BlobHash) -> Result<Filed, BlobError> {
    let mut hasher = Sha256::new();
    let bytes = pieces(source, &mut |piece| {
        hasher.update(piece);
        Ok(())
    })?;
    let found = BlobHash(hasher.finalize().into());
    if found == hash { Ok(Filed { hash, bytes }) } else { Err(BlobError::Damaged { hash, found }) }
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
