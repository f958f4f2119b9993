//! Reading all evidence again, slowly: a disk that forgets is found out before the file is needed.

use std::collections::BTreeMap;
use std::io::{ErrorKind, Read};

use sha2::{Digest, Sha256};

use crate::blob::{BlobError, Blobs, refused};
use crate::hash::BlobHash;

/// How many bytes are read between two questions whether to go on.
const CHUNK_BYTES: usize = 256 << 10;

/// What came of reading evidence again.
#[derive(Debug, Default)]
pub struct Scrubbed {
    /// How many files were held against their hashes.
    pub files: usize,
    /// How many bytes they have.
    pub bytes: u64,
    /// The entry that names a file first, and what is wrong with the file.
    pub faults: Vec<(u64, BlobError)>,
    /// Whether all were read.
    pub whole: bool,
}

/// Holds evidence files against their hashes, each with the entry that names it first. `go_on` is
/// told how many bytes were just read; it takes its time, or ends the reading.
pub fn scrub(
    blobs: &Blobs,
    named: &BTreeMap<BlobHash, u64>,
    go_on: &mut dyn FnMut(usize) -> bool,
) -> Scrubbed {
    let mut scrubbed = Scrubbed::default();
    for (hash, entry) in named {
        match check(blobs, *hash, go_on) {
            Ok(None) => return scrubbed,
            Ok(Some(bytes)) => scrubbed.bytes += bytes,
            Err(cause) => scrubbed.faults.push((*entry, cause)),
        }
        scrubbed.files += 1;
    }
    Scrubbed { whole: true, ..scrubbed }
}

/// The length of a file that fits its hash; `None` if the reading was ended.
fn check(
    blobs: &Blobs,
    hash: BlobHash,
    go_on: &mut dyn FnMut(usize) -> bool,
) -> Result<Option<u64>, BlobError> {
    let (mut file, mut buffer) = (blobs.open(hash)?, vec![0; CHUNK_BYTES]);
    let (mut hasher, mut bytes) = (Sha256::new(), 0);
    loop {
        let length = match file.read(&mut buffer) {
            Ok(0) => break,
            Ok(length) => length,
            Err(cause) if cause.kind() == ErrorKind::Interrupted => continue,
            Err(cause) => return Err(refused("read", &blobs.path(hash))(cause)),
        };
        hasher.update(buffer.get(..length).unwrap_or_default());
        bytes += length as u64;
        if !go_on(length) {
            return Ok(None);
        }
    }
    let found = BlobHash(hasher.finalize().into());
    if found == hash { Ok(Some(bytes)) } else { Err(BlobError::Damaged { hash, found }) }
}
