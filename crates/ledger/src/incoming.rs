//! Evidence that comes in slowly: it is written and hashed piece by piece, while the book goes on.

use std::fs::File;
use std::path::PathBuf;
use std::sync::Arc;

use sha2::{Digest, Sha256};
use trial::fact::{Evidence, EvidenceHash, EvidenceKind};

use crate::blob::{Blobs, Filed, refused};
use crate::error::LedgerError;
use crate::files::Files;
use crate::hash::BlobHash;

/// Bytes on their way to become evidence. What is given up leaves nothing behind.
pub struct Incoming {
    pub(crate) blobs: Arc<Blobs>,
    pub(crate) files: Arc<dyn Files>,
    pub(crate) path: PathBuf,
    pub(crate) file: File,
    pub(crate) hasher: Sha256,
    pub(crate) bytes: u64,
}

impl Incoming {
    /// Takes the next piece.
    ///
    /// # Errors
    ///
    /// As the disk says.
    pub fn write(&mut self, piece: &[u8]) -> Result<(), LedgerError> {
        self.hasher.update(piece);
        self.bytes += piece.len() as u64;
        let written = self.files.write(&mut self.file, piece);
        Ok(written.map_err(refused("write", &self.path))?)
    }

    /// How many bytes came so far.
    #[must_use]
    pub const fn bytes(&self) -> u64 {
        self.bytes
    }

    /// Files what came as evidence. When this returns it is on the disk.
    ///
    /// # Errors
    ///
    /// As [`crate::Book::file_evidence`].
    pub fn file(self, name: &str, kind: EvidenceKind) -> Result<Evidence, LedgerError> {
        let hash = BlobHash(self.hasher.clone().finalize().into());
        let filed = Filed { hash, bytes: self.bytes };
        self.blobs.sync(&self.file, &self.path)?;
        self.blobs.name(filed, &self.path)?;
        let (name, hash) = (name.to_owned(), EvidenceHash(hash.0));
        Ok(Evidence { name, hash, bytes: self.bytes, kind })
    }
}

impl Drop for Incoming {
    /// What was filed has its own name by now; what was not goes.
    fn drop(&mut self) {
        self.files.remove(&self.path).ok();
    }
}
