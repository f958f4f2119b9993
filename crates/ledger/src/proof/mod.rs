//! The bundle of one report: what it rests on, with the proof that it stands in the record, and
//! nothing of anybody else's work.
//!
//! - `proof.jsonl`: the first line names the report, the head that it prints, and the proof that
//!   the signed head continues that one: `{"consistency":[…],"form":…,"printed":{…},"report":…}`.
//!   Each further line is one entry with its proof: `{"body":…,"header":…,"inclusion":[…]}`.
//! - `signed-head`: the head of the record when the report had been issued, or later, signed.
//! - `public-key`: the key that has signed it. Who doubts it gets it from the laboratory again.
//! - `evidence/ab/abcdef…`: the files that these entries rest on, each under its SHA-256.
//! - `SHA256SUMS`, `README.txt`: for people.
//!
//! A bundle shows that these entries stand in the record, unchanged, at these places. It does not
//! show that the record says nothing else: for that there is the bundle of the whole.

mod check;
mod taken;

use std::collections::BTreeSet;
use std::path::Path;
use std::sync::Arc;

use sha2::{Digest, Sha256};
use trial::number::ReportNumber;

use crate::backup::{Copied, copy};
use crate::blob::Blobs;
use crate::book::Book;
use crate::chain::{BODY_BYTES_MAX, Stored};
use crate::entry::Json;
use crate::error::LedgerError;
use crate::files::Disk;
use crate::fresh::Fresh;
use crate::hash::{BlobHash, TreeHash};
use crate::heads::KeptHead;
use crate::note::{Note, PublicKey, TreeHead};
use crate::place::EVIDENCE;
use crate::tree::Tree;

pub use check::{ProofFault, Proven, is_proof, verify_proof};

const PROOF: &str = "proof.jsonl";
const SIGNED: &str = "signed-head";
const PUBLIC: &str = "public-key";

/// The form of the first line.
const FORM: &str = "cinderbook proof 1";

/// The longest line that is read.
const LINE_BYTES_MAX: u64 = 6 * BODY_BYTES_MAX as u64 + (1 << 20);

/// What a bundle is to show.
pub struct Wanted<'a> {
    /// The report.
    pub report: ReportNumber,
    /// The entries that it rests on, itself included.
    pub entries: &'a BTreeSet<u64>,
    /// How many entries the record had when it was composed.
    pub printed: u64,
    /// The signed head to prove them by.
    pub signed: &'a KeptHead,
    /// The key that has signed it.
    pub key: &'a PublicKey,
}

/// One file of a bundle.
#[derive(Debug)]
pub enum Part {
    /// A text.
    Text(Vec<u8>),
    /// A file of evidence, as it lies in the book.
    Evidence(BlobHash),
}

impl Book {
    /// Writes the bundle of one report into a folder that is empty or not there yet.
    ///
    /// # Errors
    ///
    /// [`LedgerError::NotFree`] if something is at `to`; [`LedgerError::Unsigned`] if the signed
    /// head does not reach as far; a fault of the record; or as the disk says. Nothing is then
    /// left at `to`.
    pub fn export_proof(&self, wanted: &Wanted<'_>, to: &Path) -> Result<Copied, LedgerError> {
        let parts = self.proof_parts(wanted)?;
        let fresh = Fresh::begin(&Disk, to)?;
        let blobs = Blobs::in_the_making(fresh.folder(EVIDENCE)?, Arc::new(Disk));
        let mut evidence = 0;
        for (name, part) in parts {
            match part {
                Part::Text(bytes) => fresh.file(&name, |write| write(&bytes))?,
                Part::Evidence(hash) => {
                    copy(self.blobs(), &blobs, hash)?;
                    evidence += 1;
                }
            }
        }
        blobs.settle()?;
        fresh.finish()?;
        Ok(Copied { head: self.head(), evidence })
    }

    /// The files of the bundle of one report, each with its name, in their order.
    ///
    /// # Errors
    ///
    /// [`LedgerError::Unsigned`] if the signed head does not reach as far, or a fault of the record.
    pub fn proof_parts(&self, wanted: &Wanted<'_>) -> Result<Vec<(String, Part)>, LedgerError> {
        let (tree, stored) = self.proven(wanted)?;
        let texts = [
            (PROOF, lines(wanted, &tree, &stored)?),
            (SIGNED, wanted.signed.note.as_bytes().to_owned()),
            (PUBLIC, format!("{}\n", wanted.key).into_bytes()),
            ("README.txt", readme(wanted, &stored).into_bytes()),
        ];
        let (mut sums, mut parts) = (String::new(), Vec::new());
        for (name, bytes) in texts {
            sums.push_str(&format!("{}  {name}\n", hex::encode(Sha256::digest(&bytes))));
            parts.push((name.to_owned(), Part::Text(bytes)));
        }
        let named: BTreeSet<BlobHash> =
            stored.iter().flat_map(|stored| &stored.entry.evidence).copied().collect();
        for hash in named {
            let sum = hash.to_string();
            let name = format!("{EVIDENCE}/{}/{sum}", sum.get(..2).unwrap_or(""));
            sums.push_str(&format!("{sum}  {name}\n"));
            parts.push((name, Part::Evidence(hash)));
        }
        parts.push(("SHA256SUMS".to_owned(), Part::Text(sums.into_bytes())));
        Ok(parts)
    }

    /// The tree up to the signed head, and the entries that are asked for.
    fn proven(&self, wanted: &Wanted<'_>) -> Result<(Tree, Vec<Stored>), LedgerError> {
        let last = wanted.entries.last().copied().unwrap_or_default().max(wanted.printed);
        if last > wanted.signed.size {
            return Err(LedgerError::Unsigned { number: last });
        }
        let (mut tree, mut stored) = (Tree::default(), Vec::new());
        for entry in self.chain().take(usize::try_from(wanted.signed.size).unwrap_or(usize::MAX)) {
            let entry = entry?;
            tree.push(entry.leaf());
            if wanted.entries.contains(&entry.entry.number) {
                stored.push(entry);
            }
        }
        let signed = Note::read(&wanted.signed.note).ok();
        let signed = signed.and_then(|note| note.head().ok().map(|(_, head)| head));
        let size = tree.size();
        let now = TreeHead { size, root: tree.root(size).unwrap_or(TreeHash::of(b"")) };
        match signed {
            Some(signed) if signed == now => Ok((tree, stored)),
            Some(signed) => Err(LedgerError::Forked { signed, now }),
            None => Err(LedgerError::Unsigned { number: last }),
        }
    }
}

/// The lines of `proof.jsonl`.
fn lines(wanted: &Wanted<'_>, tree: &Tree, stored: &[Stored]) -> Result<Vec<u8>, LedgerError> {
    let (size, printed) = (wanted.signed.size, wanted.printed);
    let missing = || LedgerError::Unsigned { number: printed };
    let root = tree.root(printed).ok_or_else(missing)?;
    let consistency = tree.consistency(printed, size).ok_or_else(missing)?;
    let printed =
        object([("root", Json::Text(root.to_string())), ("size", Json::Number(printed.into()))]);
    let first = object([
        ("consistency", hashes(&consistency)),
        ("form", Json::Text(FORM.to_owned())),
        ("printed", printed),
        ("report", Json::Number(wanted.report.0.into())),
    ]);
    let mut lines = first.to_bytes();
    lines.push(b'\n');
    for stored in stored {
        let number = stored.entry.number;
        let unreadable = |why: String| LedgerError::Unreadable { number, why };
        let body = String::from_utf8(stored.entry.body.clone())
            .map_err(|why| unreadable(why.to_string()))?;
        let proof = tree.inclusion(number.saturating_sub(1), size).ok_or_else(missing)?;
        let line = object([
            ("body", Json::Text(body)),
            ("header", Json::Text(stored.entry.header())),
            ("inclusion", hashes(&proof)),
        ]);
        lines.extend(line.to_bytes());
        lines.push(b'\n');
    }
    Ok(lines)
}

fn object<const N: usize>(fields: [(&str, Json); N]) -> Json {
    Json::Object(fields.into_iter().map(|(name, value)| (name.to_owned(), value)).collect())
}

fn hashes(hashes: &[TreeHash]) -> Json {
    Json::List(hashes.iter().map(|hash| Json::Text(hash.to_string())).collect())
}

fn readme(wanted: &Wanted<'_>, stored: &[Stored]) -> String {
    let Wanted { report, signed, key, printed, .. } = wanted;
    let count = stored.len();
    let size = signed.size;
    format!(
        "\
This folder shows what report {report} rests on: {count} entries of a laboratory's record, each as it
stands there, with the files they name.

Head that the report prints: of {printed} entries
Signed head of the record:   of {size} entries
Signed with the key:         {key}

To check it with the program:

    cinderbook verify FOLDER
    cinderbook verify FOLDER --key KEY --head \"SIZE HASH\"

KEY is the laboratory's, got from it in another way than this folder; SIZE and HASH stand in the
report as it was printed.

To check it without the program:

1. An evidence file lies under its own SHA-256; `sha256sum --check SHA256SUMS` holds all files
   against their sums.
2. Each line of proof.jsonl but the first is one entry. Its header is a short text: who, when,
   the SHA-256 of the body, the hashes of the files. The header is a leaf of a tree by RFC 6962
   with SHA-256 (entry 12 is leaf 11), and `inclusion` is the proof of RFC 9162, 2.1.3, that it is
   in the tree of the signed head.
3. `signed-head` and `public-key` are in the forms that C2SP gives for the signed head of a log and
   for its key (signed-note, Ed25519). The entry `key-begun` names the same key.
4. `consistency` on the first line is the proof of RFC 9162, 2.1.4, that the tree of the signed
   head begins with the one whose head the report prints.

It shows that these entries stand in the record unchanged. It does not show that the record says
nothing else: ask for the bundle of the whole record for that.
"
    )
}
