//! Many files as one to download, a piece at a time: a tar in the form ustar, of which nothing depends
//! on the day or the machine.

use std::fs::File;
use std::io::{Error, Read as _, Result};
use std::sync::Arc;
use std::vec::IntoIter;

use axum::body::{Body, Bytes};
use axum::http::header;
use axum::response::{IntoResponse as _, Response};
use futures_util::stream;
use ledger::blob::Blobs;
use ledger::hash::BlobHash;
use ledger::proof::Part;
use sha2::{Digest as _, Sha256};

use super::download::disposition;

/// What such a file is.
pub(super) const KIND: &str = "application/x-tar";

/// All of it comes in blocks of so many bytes.
const BLOCK: usize = 512;

/// So much of a file of evidence is read at once.
const PIECE_BYTES: usize = 64 << 10;

/// What is packed: everything lies in one folder.
pub(super) struct Packed {
    /// The folder, and the name of the whole without its ending.
    pub(super) folder: String,
    /// The time that each file is given, in seconds of Unix.
    pub(super) at: u64,
    /// The files.
    pub(super) parts: Vec<(String, Part)>,
    /// Where evidence is read.
    pub(super) blobs: Arc<Blobs>,
}

impl Packed {
    /// The whole as an attachment. A file of evidence that is not what its hash says ends it before
    /// its end, so that nobody takes it for whole.
    pub(super) fn answer(self) -> Response {
        let name = format!("{}.tar", self.folder);
        let Self { folder, at, parts, blobs } = self;
        let tar = Tar { folder, at, left: parts.into_iter(), blobs, open: None, ended: false };
        let body = Body::from_stream(stream::unfold(Some(tar), next));
        let about = [
            (header::CONTENT_TYPE, KIND.to_owned()),
            (header::CONTENT_DISPOSITION, disposition(&name)),
        ];
        (about, body).into_response()
    }
}

/// The next piece, and what is left then.
async fn next(tar: Option<Tar>) -> Option<(Result<Bytes>, Option<Tar>)> {
    let mut tar = tar?;
    let read = tokio::task::spawn_blocking(move || (tar.next(), tar)).await;
    match read {
        Ok((None, _)) => None,
        Ok((Some(Ok(piece)), tar)) => Some((Ok(Bytes::from(piece)), Some(tar))),
        Ok((Some(Err(error)), _)) => Some((Err(error), None)),
        Err(error) => Some((Err(Error::other(error)), None)),
    }
}

/// A tar on its way out.
struct Tar {
    folder: String,
    at: u64,
    left: IntoIter<(String, Part)>,
    blobs: Arc<Blobs>,
    open: Option<Open>,
    ended: bool,
}

/// The file of evidence that is being read.
struct Open {
    file: File,
    hash: BlobHash,
    hasher: Sha256,
    bytes: usize,
}

impl Iterator for Tar {
    type Item = Result<Vec<u8>>;

    fn next(&mut self) -> Option<Result<Vec<u8>>> {
        if let Some(open) = self.open.take() {
            return Some(self.evidence(open));
        }
        match self.left.next() {
            Some((name, part)) => Some(self.begun(&name, part)),
            None if self.ended => None,
            None => {
                self.ended = true;
                Some(Ok(vec![0; 2 * BLOCK]))
            }
        }
    }
}

impl Tar {
    /// A header, and all of a text behind it.
    fn begun(&mut self, name: &str, part: Part) -> Result<Vec<u8>> {
        let name = format!("{}/{name}", self.folder);
        match part {
            Part::Text(text) => {
                let mut piece = header(&name, text.len() as u64, self.at)?;
                piece.extend(&text);
                piece.extend(filling(text.len()));
                Ok(piece)
            }
            Part::Evidence(hash) => {
                let file = self.blobs.open(hash).map_err(Error::other)?;
                let header = header(&name, file.metadata()?.len(), self.at)?;
                self.open = Some(Open { file, hash, hasher: Sha256::new(), bytes: 0 });
                Ok(header)
            }
        }
    }

    /// The next piece of a file of evidence; at its end what fills its last block.
    fn evidence(&mut self, mut open: Open) -> Result<Vec<u8>> {
        let mut piece = Vec::with_capacity(PIECE_BYTES);
        (&mut open.file).take(PIECE_BYTES as u64).read_to_end(&mut piece)?;
        if piece.is_empty() {
            let found = BlobHash(open.hasher.finalize().into());
            let damaged = || Error::other(format!("evidence {} is damaged", open.hash));
            return if found == open.hash { Ok(filling(open.bytes)) } else { Err(damaged()) };
        }
        open.hasher.update(&piece);
        open.bytes += piece.len();
        self.open = Some(open);
        Ok(piece)
    }
}

/// What fills the last block after so many bytes.
fn filling(bytes: usize) -> Vec<u8> {
    vec![0; bytes.next_multiple_of(BLOCK) - bytes]
}

/// The header of a plain file that everyone may read.
fn header(name: &str, bytes: u64, at: u64) -> Result<Vec<u8>> {
    let mut header = tar::Header::new_ustar();
    header.set_path(name)?;
    header.set_entry_type(tar::EntryType::Regular);
    header.set_mode(0o644);
    header.set_uid(0);
    header.set_gid(0);
    header.set_size(bytes);
    header.set_mtime(at);
    header.set_cksum();
    Ok(header.as_bytes().to_vec())
}
