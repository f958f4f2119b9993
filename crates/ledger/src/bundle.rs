//! A record as plain files, for someone who has neither this program nor our trust.
//!
//! - `entries.jsonl`: one entry a line, `{"body":…,"hash":…,"header":…,"number":…}`, all texts.
//!   The hash is the SHA-256 of the header; the header names the hash of the body and the hash of
//!   the entry before it.
//! - `evidence/ab/abcdef…`: the evidence files, each under its SHA-256.
//! - `head`: number and hash of the last entry.
//! - `heads/SIZE`: the signed heads, where there are some ([`crate::note`]).
//! - `SHA256SUMS`: for `sha256sum --check`.
//! - `README.txt`: how to check all this by hand.

#![expect(clippy::disallowed_methods, reason = "the ledger keeps files")]

use std::collections::BTreeSet;
use std::fs::File;
use std::io::{self, BufRead, BufReader, Read};
use std::path::Path;
use std::sync::Arc;

use sha2::{Digest, Sha256};
use thiserror::Error;

use crate::backup::{Copied, copy};
use crate::blob::Blobs;
use crate::book::Book;
use crate::chain::{BODY_BYTES_MAX, Entry, EntryError, Head, Stored};
use crate::entry::{Json, JsonError};
use crate::error::LedgerError;
use crate::files::{Disk, Files};
use crate::fresh::Fresh;
use crate::hash::EntryHash;
use crate::heads::HEADS;
use crate::place::{EVIDENCE, HEAD};
use crate::verify::{Held, Seen, Verification, examine};

const ENTRIES: &str = "entries.jsonl";

/// The longest line that is read: a body in which each byte is escaped, and its header.
const LINE_BYTES_MAX: u64 = 6 * BODY_BYTES_MAX as u64 + (1 << 20);

impl Book {
    /// Writes the whole record as plain files into a folder that is empty or not there yet.
    ///
    /// # Errors
    ///
    /// [`LedgerError::NotFree`] if something is at `to`; a fault of the record; or as the disk
    /// says. Nothing is then left at `to`.
    pub fn export(&self, to: &Path) -> Result<Copied, LedgerError> {
        self.export_with(to, Arc::new(Disk))
    }

    /// As [`Book::export`], on files of the caller's.
    ///
    /// # Errors
    ///
    /// As [`Book::export`].
    pub fn export_with(&self, to: &Path, files: Arc<dyn Files>) -> Result<Copied, LedgerError> {
        let fresh = Fresh::begin(files.as_ref(), to)?;
        let evidence = Blobs::in_the_making(fresh.folder(EVIDENCE)?, Arc::clone(&files));
        let mut head = None;
        let mut named = BTreeSet::new();
        let mut sum = Sha256::new();
        fresh.file(ENTRIES, |write| {
            for stored in self.chain() {
                let stored = stored?;
                let line = line(&stored)?;
                sum.update(&line);
                write(&line)?;
                head = Some(Head { number: stored.entry.number, hash: stored.hash });
                named.extend(stored.entry.evidence);
            }
            Ok(())
        })?;
        let mut sums = format!("{}  {ENTRIES}\n", hex::encode(sum.finalize()));
        for hash in &named {
            copy(self.blobs(), &evidence, *hash)?;
            let name = hash.to_string();
            sums.push_str(&format!("{name}  {EVIDENCE}/{}/{name}\n", name.get(..2).unwrap_or("")));
        }
        evidence.settle()?;
        sums.push_str(&self.copy_heads(&fresh, head)?);
        let head_text = head.map_or(String::new(), |head| format!("{head}\n"));
        sums.push_str(&format!("{}  {HEAD}\n", hex::encode(Sha256::digest(&head_text))));
        let readme = readme(head, named.len());
        sums.push_str(&format!("{}  README.txt\n", hex::encode(Sha256::digest(&readme))));
        for (name, text) in [(HEAD, head_text), ("README.txt", readme), ("SHA256SUMS", sums)] {
            fresh.file(name, |write| write(text.as_bytes()))?;
        }
        fresh.finish()?;
        Ok(Copied { head, evidence: named.len() })
    }

    /// Copies the signed heads of no more entries than `head`; gives their lines of `SHA256SUMS`.
    pub(crate) fn copy_heads(
        &self,
        fresh: &Fresh<'_>,
        head: Option<Head>,
    ) -> Result<String, LedgerError> {
        let mut heads = self.signed_heads()?;
        heads.retain(|kept| head.is_some_and(|head| kept.size <= head.number));
        let mut sums = String::new();
        if !heads.is_empty() {
            fresh.folder(HEADS)?;
        }
        for head in heads {
            let name = format!("{HEADS}/{}", head.size);
            fresh.file(&name, |write| write(head.note.as_bytes()))?;
            sums.push_str(&format!("{}  {name}\n", hex::encode(Sha256::digest(&head.note))));
        }
        Ok(sums)
    }
}

/// Checks a bundle where it lies: every entry, every evidence file, every verdict, and the head
/// that it names; and a head that was seen elsewhere, such as one printed on a report.
///
/// # Errors
///
/// [`LedgerError::NotABundle`], or as the disk says. Faults of the bundle are not errors: they are
/// in the [`Verification`].
pub fn verify_bundle(folder: &Path, seen: Option<Head>) -> Result<Verification, LedgerError> {
    verify_bundle_by(folder, &Seen { heads: seen.into_iter().collect(), key: None })
}

/// As [`verify_bundle`], by all that is known from elsewhere.
///
/// # Errors
///
/// As [`verify_bundle`].
pub fn verify_bundle_by(folder: &Path, seen: &Seen) -> Result<Verification, LedgerError> {
    let path = folder.join(ENTRIES);
    let file = match File::open(&path) {
        Ok(file) => file,
        Err(cause) if cause.kind() == io::ErrorKind::NotFound => {
            return Err(LedgerError::NotABundle { folder: folder.to_owned() });
        }
        Err(cause) => return Err(LedgerError::refused("open", &path)(cause)),
    };
    let evidence = Blobs::new(folder.join(EVIDENCE), Arc::new(Disk));
    examine(Lines::of(BufReader::new(file)), &evidence, &Held::of(folder, seen)?)
}

/// Why a line is not an entry.
#[derive(Debug, Error)]
pub enum LineError {
    /// It is not canonical JSON.
    #[error(transparent)]
    Json(#[from] JsonError),
    /// It is not an object of number, hash, header and body.
    #[error("it does not hold exactly a number, a hash, a header and a body")]
    Shape,
    /// Its header and its body are not an entry.
    #[error(transparent)]
    Entry(#[from] EntryError),
    /// Its number is not that of its header.
    #[error("it is numbered {found}, but its header says {header}")]
    Number {
        /// The number of the line.
        found: i128,
        /// The number of the header.
        header: u64,
    },
    /// It does not end, or is far too long.
    #[error("it does not end within {LINE_BYTES_MAX} bytes")]
    Length,
    /// It cannot be read from the disk.
    #[error("it cannot be read: {0}")]
    Disk(#[from] io::Error),
}

/// An entry as one line of `entries.jsonl`, its line feed included.
///
/// # Errors
///
/// [`LedgerError::Unreadable`] if the body is not text, which no fact ever writes.
pub fn line(stored: &Stored) -> Result<Vec<u8>, LedgerError> {
    let entry = &stored.entry;
    let body = String::from_utf8(entry.body.clone())
        .map_err(|why| LedgerError::Unreadable { number: entry.number, why: why.to_string() })?;
    let fields = [
        ("body", Json::Text(body)),
        ("hash", Json::Text(stored.hash.to_string())),
        ("header", Json::Text(entry.header())),
        ("number", Json::Number(entry.number.into())),
    ];
    let fields = fields.map(|(name, value)| (name.to_owned(), value));
    let mut line = Json::Object(fields.into_iter().collect()).to_bytes();
    line.push(b'\n');
    Ok(line)
}

/// Reads what [`line`] wrote; every other spelling is refused.
///
/// # Errors
///
/// [`LineError`].
pub fn read_line(line: &[u8]) -> Result<Stored, LineError> {
    let line = line.strip_suffix(b"\n").ok_or(LineError::Length)?;
    let Json::Object(mut fields) = Json::from_bytes(line)? else { return Err(LineError::Shape) };
    let mut take = |name| fields.remove(name).ok_or(LineError::Shape);
    let parts = (take("body")?, take("hash")?, take("header")?, take("number")?);
    let (Json::Text(body), Json::Text(hash), Json::Text(header), Json::Number(number)) = parts
    else {
        return Err(LineError::Shape);
    };
    let hash = EntryHash::from_hex(&hash).filter(|_| fields.is_empty()).ok_or(LineError::Shape)?;
    let entry = Entry::read(&header, body.into_bytes())?;
    if number != i128::from(entry.number) {
        return Err(LineError::Number { found: number, header: entry.number });
    }
    Ok(Stored { entry, hash })
}

/// The lines of a bundle, one in memory at a time. Ends after the first that is not an entry.
struct Lines<R> {
    reader: R,
    broken: bool,
}

impl<R: BufRead> Lines<R> {
    fn of(reader: R) -> Self {
        Self { reader, broken: false }
    }
}

impl<R: BufRead> Iterator for Lines<R> {
    type Item = Result<Stored, LineError>;

    fn next(&mut self) -> Option<Self::Item> {
        if self.broken {
            return None;
        }
        let mut line = Vec::new();
        let read = self.reader.by_ref().take(LINE_BYTES_MAX).read_until(b'\n', &mut line);
        let stored = match read {
            Ok(0) => return None,
            Ok(_) => read_line(&line),
            Err(cause) => Err(cause.into()),
        };
        self.broken = stored.is_err();
        Some(stored)
    }
}

fn readme(head: Option<Head>, evidence: usize) -> String {
    let head = head.map_or("none: the record is empty".to_owned(), |head| {
        format!("entry {} with the hash {}", head.number, head.hash)
    });
    format!(
        "\
This folder is the record of a laboratory as plain files.

Head of the record: {head}
Evidence files:     {evidence}

To check it with the program:

    cinderbook verify FOLDER

To check it without the program:

1. The files are whole if `sha256sum --check SHA256SUMS` says so for each.
2. An evidence file lies under its own SHA-256.
3. Each line of entries.jsonl is one entry: its number, its header, its body, and its hash, which
   is the SHA-256 of the header. The header is a short text: `previous` is the hash of the entry
   before it, `body` is the length and the SHA-256 of the body, `evidence` the hashes of the
   files it rests on. For entry 12, with jq:

    sed -n 12p entries.jsonl | jq -j .header | sha256sum    (must be its hash)
    sed -n 12p entries.jsonl | jq -j .body   | sha256sum    (must stand in its header)
    sed -n 11p entries.jsonl | jq -r .hash                  (must be its `previous`)

4. Whoever has the disk can rewrite a record from some entry on. What cannot be rewritten is a head
   that left the building: compare the head printed on a report with the hash of that entry here.
"
    )
}
