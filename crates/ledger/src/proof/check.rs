//! Checking the bundle of a report, from its files alone.

#![expect(clippy::disallowed_methods, reason = "the ledger keeps files")]

use std::collections::BTreeMap;
use std::fs::{self, File};
use std::io::{self, BufRead as _, BufReader, Read as _};
use std::path::Path;
use std::sync::Arc;

use thiserror::Error;
use trial::fact::{Fact, IssuedReport, Recorded};
use trial::number::ReportNumber;

use super::taken::Taken;
use super::{FORM, LINE_BYTES_MAX, PROOF, PUBLIC, SIGNED};
use crate::blob::{BlobError, Blobs};
use crate::chain::{Entry, Head, Stored};
use crate::error::LedgerError;
use crate::files::Disk;
use crate::hash::{BlobHash, TreeHash};
use crate::key::BookKeys;
use crate::note::{Note, PublicKey, TreeHead, origin};
use crate::place::EVIDENCE;
use crate::tree::{continues, includes};
use crate::verify::Seen;
use crate::walk::recorded;

/// What came out of checking the bundle of a report.
#[derive(Debug)]
pub struct Proven {
    /// The report, and the entry that issued it, where the bundle names one.
    pub report: Option<(Recorded, IssuedReport)>,
    /// The signed head.
    pub head: Option<TreeHead>,
    /// The head that the report prints.
    pub printed: Option<TreeHead>,
    /// The key that has signed.
    pub key: Option<PublicKey>,
    /// The entries, in their order.
    pub entries: Vec<Recorded>,
    /// How many evidence files were held against their hashes.
    pub evidence: usize,
    /// The entries by which a key began without the signature of the one before it.
    pub keys_lost: Vec<u64>,
    /// What is wrong.
    pub faults: Vec<ProofFault>,
}

/// One thing that is wrong with the bundle of a report.
#[derive(Debug, Error)]
pub enum ProofFault {
    /// A line is not in the form.
    #[error("line {line} of `{PROOF}` was changed: {why}")]
    Line {
        /// Which, from 1 on.
        line: usize,
        /// What is wrong with it.
        why: String,
    },
    /// An entry is not the one that stands in the record.
    #[error(
        "entry {number} ({kind}) does not stand in the record as it is here: its time, its signer, \
         what it says or its proof was changed"
    )]
    Entry {
        /// Which.
        number: u64,
        /// Its kind.
        kind: String,
    },
    /// What an entry says is not what its header names, or says nothing known.
    #[error("entry {number} ({kind}) was changed: {why}")]
    Body {
        /// Which.
        number: u64,
        /// Its kind.
        kind: String,
        /// What is wrong with it.
        why: String,
    },
    /// An evidence file is missing or damaged.
    #[error("a file of entry {number} ({kind}) was changed: {cause}")]
    Evidence {
        /// The first entry that names it.
        number: u64,
        /// The entry's kind.
        kind: String,
        /// What is wrong with it.
        cause: BlobError,
    },
    /// The signed head is not to be believed.
    #[error("the signed head was changed, or is another's: {0}")]
    Head(String),
    /// The head that the report prints is not one that the signed head continues.
    #[error("the record that was signed does not continue the head that the report prints: {0}")]
    Printed(String),
    /// Something that a bundle must hold is not there.
    #[error("the bundle does not hold {0}")]
    Missing(String),
    /// A head that was seen elsewhere is another one.
    #[error("the head {seen} was seen, and this bundle speaks of {here}")]
    Seen {
        /// The head that was seen.
        seen: String,
        /// The heads here.
        here: String,
    },
}

/// Whether a folder holds the bundle of a report.
#[must_use]
pub fn is_proof(folder: &Path) -> bool {
    folder.join(PROOF).is_file()
}

/// Checks the bundle of a report where it lies: every entry against the signed head, that against
/// the book's key, every evidence file, and the head that the report prints; and what was seen
/// elsewhere.
///
/// # Errors
///
/// [`LedgerError::Refused`] as the disk says. Faults of the bundle are not errors: they are in
/// [`Proven`].
pub fn verify_proof(folder: &Path, seen: &Seen) -> Result<Proven, LedgerError> {
    let mut check = Check::default();
    check.head(folder)?;
    check.lines(folder)?;
    check.keys(folder, seen.key.as_ref())?;
    check.evidence(&Blobs::new(folder.join(EVIDENCE), Arc::new(Disk)));
    check.report();
    check.seen(&seen.heads);
    let Check { head, printed, key, entries, named, keys, mut faults, issued, .. } = check;
    faults.sort_by_key(|(place, _)| *place);
    Ok(Proven {
        report: issued,
        head,
        printed,
        key,
        entries,
        evidence: named.len(),
        keys_lost: keys.lost().collect(),
        faults: faults.into_iter().map(|(_, fault)| fault).collect(),
    })
}

/// In which order faults are told: first what was changed, then what follows from it.
#[derive(Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
enum Place {
    Line,
    Head,
    Printed,
    Entry,
    File,
    Rest,
}

/// What has been seen of a bundle so far.
#[derive(Default)]
struct Check {
    note: Option<Note>,
    head: Option<TreeHead>,
    name: Option<String>,
    report: Option<ReportNumber>,
    printed: Option<TreeHead>,
    keys: BookKeys,
    key: Option<PublicKey>,
    entries: Vec<Recorded>,
    hashes: BTreeMap<u64, [u8; 32]>,
    named: BTreeMap<BlobHash, (u64, String)>,
    issued: Option<(Recorded, IssuedReport)>,
    faults: Vec<(Place, ProofFault)>,
}

impl Check {
    fn fault(&mut self, place: Place, fault: ProofFault) {
        self.faults.push((place, fault));
    }

    fn head(&mut self, folder: &Path) -> Result<(), LedgerError> {
        let Some(text) = text(&folder.join(SIGNED))? else {
            self.fault(Place::Head, ProofFault::Missing(format!("`{SIGNED}`")));
            return Ok(());
        };
        match Note::read(&text).and_then(|note| {
            let (name, head) = note.head()?;
            Ok((name.to_owned(), head, note))
        }) {
            Ok((name, head, note)) => {
                (self.name, self.head, self.note) = (Some(name), Some(head), Some(note));
            }
            Err(why) => self.fault(Place::Head, ProofFault::Head(why.to_string())),
        }
        Ok(())
    }

    fn lines(&mut self, folder: &Path) -> Result<(), LedgerError> {
        let path = folder.join(PROOF);
        let refused = |deed| LedgerError::refused(deed, &path);
        let mut reader = BufReader::new(File::open(&path).map_err(refused("open"))?);
        for number in 1.. {
            let mut line = Vec::new();
            let mut limited = (&mut reader).take(LINE_BYTES_MAX);
            if limited.read_until(b'\n', &mut line).map_err(refused("read"))? == 0 {
                break;
            }
            let taken = match number {
                1 => self.first(&line),
                _ => self.entry(&line),
            };
            if let Err(why) = taken {
                self.fault(Place::Line, ProofFault::Line { line: number, why });
            }
        }
        Ok(())
    }

    fn first(&mut self, line: &[u8]) -> Result<(), String> {
        let mut fields = Taken::of(line, ["consistency", "form", "printed", "report"])?;
        if fields.text("form")? != FORM {
            return Err("it is of another form".to_owned());
        }
        let report = u32::try_from(fields.number("report")?).map_err(|why| why.to_string())?;
        let consistency = fields.hashes("consistency")?;
        let mut printed = Taken::within(fields.take("printed")?, ["root", "size"])?;
        let root = TreeHash::from_hex(&printed.text("root")?).ok_or("a hash is none")?;
        let printed = TreeHead { size: printed.number("size")?, root };
        (self.report, self.printed) = (Some(ReportNumber(report)), Some(printed));
        if let Some(head) = self.head
            && !continues((printed.size, printed.root), &consistency, (head.size, head.root))
        {
            let why = format!("{} entries against {}", printed.size, head.size);
            self.fault(Place::Printed, ProofFault::Printed(why));
        }
        Ok(())
    }

    fn entry(&mut self, line: &[u8]) -> Result<(), String> {
        let mut fields = Taken::of(line, ["body", "header", "inclusion"])?;
        let (header, body) = (fields.text("header")?, fields.text("body")?);
        let proof = fields.hashes("inclusion")?;
        let (number, kind) = spoken(&header);
        let entry = match Entry::read(&header, body.into_bytes()) {
            Ok(entry) => entry,
            Err(why) => {
                let why = why.to_string();
                self.fault(Place::Entry, ProofFault::Body { number, kind, why });
                return Ok(());
            }
        };
        let stored = Stored::new(entry);
        if let Some(head) = self.head
            && !includes((stored.leaf(), number.wrapping_sub(1)), &proof, (head.size, head.root))
        {
            self.fault(Place::Entry, ProofFault::Entry { number, kind: kind.clone() });
        }
        for blob in &stored.entry.evidence {
            self.named.entry(*blob).or_insert((number, kind.clone()));
        }
        if number == 1 {
            self.keys = BookKeys::of(origin(&stored.hash));
        }
        self.hashes.insert(number, stored.hash.0);
        match recorded(&stored) {
            Ok(fact) => self.fact(fact),
            Err(why) => {
                let why = why.to_string();
                self.fault(Place::Entry, ProofFault::Body { number, kind, why });
            }
        }
        Ok(())
    }

    fn fact(&mut self, recorded: Recorded) {
        let (number, kind) = (recorded.entry.0, recorded.fact.kind().to_owned());
        if self.entries.last().is_some_and(|before| before.entry >= recorded.entry) {
            let why = "it stands out of order".to_owned();
            self.fault(Place::Entry, ProofFault::Body { number, kind: kind.clone(), why });
        }
        if let Fact::KeyBegun(key) = &recorded.fact
            && let Err(why) = self.keys.follow(number, key)
        {
            self.fault(Place::Entry, ProofFault::Body { number, kind, why });
        } else if let Fact::ReportIssued(issued) = &recorded.fact
            && Some(issued.number) == self.report
        {
            self.issued = Some((recorded.clone(), issued.clone()));
        }
        self.entries.push(recorded);
    }

    /// Holds the signed head against the keys that the entries tell of.
    fn keys(&mut self, folder: &Path, believed: Option<&PublicKey>) -> Result<(), LedgerError> {
        let Some(note) = self.note.take() else { return Ok(()) };
        let public = text(&folder.join(PUBLIC))?.unwrap_or_default();
        // A head that fits the key beside it is whole: then the entries are told first.
        let whole = PublicKey::read(&public).is_some_and(|key| note.check(&key).is_ok());
        let place = if whole { Place::Rest } else { Place::Head };
        if self.name.as_deref() != Some(self.keys.name()) {
            self.fault(place, ProofFault::Head("it is of another book".to_owned()));
        }
        match self.keys.signer(&note, believed).cloned() {
            Err(why) => self.fault(place, ProofFault::Head(why)),
            Ok(signer) => {
                if public != format!("{signer}\n") {
                    let why = format!("`{PUBLIC}` is not the key {signer} that has signed it");
                    self.fault(place, ProofFault::Head(why));
                }
                self.key = Some(signer);
            }
        }
        Ok(())
    }

    fn evidence(&mut self, blobs: &Blobs) {
        for (hash, (number, kind)) in self.named.clone() {
            if let Err(cause) = blobs.check(hash) {
                self.fault(Place::File, ProofFault::Evidence { number, kind, cause });
            }
        }
    }

    /// The report must be there, and print the head that the bundle names.
    fn report(&mut self) {
        let (Some(report), Some(printed)) = (self.report, self.printed) else { return };
        match &self.issued {
            None => {
                let what = format!("the entry that issued report {report}");
                self.fault(Place::Rest, ProofFault::Missing(what));
            }
            Some((_, issued)) if issued.head.0.0 != printed.size => {
                let why = format!("it prints {} entries, not {}", issued.head.0, printed.size);
                self.fault(Place::Rest, ProofFault::Printed(why));
            }
            Some(_) => {}
        }
    }

    fn seen(&mut self, heads: &[Head]) {
        let here: Vec<TreeHead> = self.printed.into_iter().chain(self.head).collect();
        for seen in heads {
            let is = |head: &TreeHead| head.size == seen.number && head.root.0 == seen.hash.0;
            if here.iter().any(is) || self.hashes.get(&seen.number) == Some(&seen.hash.0) {
                continue;
            }
            let here: Vec<String> = here.iter().map(ToString::to_string).collect();
            let (seen, here) = (seen.to_string(), here.join(" and "));
            self.fault(Place::Rest, ProofFault::Seen { seen, here });
        }
    }
}

/// The number and the kind that a header names, as far as they can be made out.
fn spoken(header: &str) -> (u64, String) {
    let line = |begin: &str| header.lines().find_map(|line| line.strip_prefix(begin));
    let number = line("number ").and_then(|number| number.parse().ok()).unwrap_or_default();
    let kind = line("kind ").and_then(|kind| Some(kind.split_once(' ')?.1.to_owned()));
    (number, kind.unwrap_or_default())
}

/// A text file; `None` if it is not there.
fn text(path: &Path) -> Result<Option<String>, LedgerError> {
    match fs::read(path) {
        Ok(bytes) => Ok(Some(String::from_utf8_lossy(&bytes).into_owned())),
        Err(cause) if cause.kind() == io::ErrorKind::NotFound => Ok(None),
        Err(cause) => Err(LedgerError::refused("read", path)(cause)),
    }
}
