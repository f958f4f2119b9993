//! The chain: what an entry is, how it is hashed, and how one entry follows another.
//!
//! This file knows bytes and hashes only.
//!
//! # The hashed form, version 1
//!
//! An entry's hash is the SHA-256 of its *header*, a short text that a person can read and that
//! `sha256sum` can check. Each line ends with one line feed (0x0a):
//!
//! ```text
//! cinderbook entry 1
//! number 12
//! previous 9f2c01…             the hash of entry 11; 64 zeros for entry 1
//! at 2026-11-25T09:14:38.123456Z
//! who 8 Ana Ruiz               the length in bytes, then the bytes
//! kind 12 run-recorded         the length in bytes, then the bytes
//! form 1                       the version of the body's form
//! body 345 41aa7c…             the length of the body in bytes, then its SHA-256
//! evidence 2                   how many hashes follow, one a line
//! 0b14d5…
//! c77f30…
//! ```
//!
//! - Texts that a person chose carry their length in front, so no content can pass for structure.
//! - Times are UTC with exactly six decimals; numbers are decimal without leading zeros; hashes
//!   are 64 lower-case hexadecimal digits. One entry therefore has one header, and
//!   [`Entry::read`] refuses every other spelling.
//! - The body is held by its hash, so that a body can be withheld from someone (another
//!   customer's work) and the chain can be checked all the same.
//! - A later version changes the first line.

use std::fmt;

use jiff::Timestamp;
use thiserror::Error;

use crate::hash::{BlobHash, EntryHash, TreeHash};
use crate::tree;

/// What the first line of every header says.
const FIRST_LINE: &str = "cinderbook entry 1";

/// The longest body that an entry may have, in bytes. What is longer is evidence, not a body.
pub const BODY_BYTES_MAX: usize = 4 << 20;

/// The longest name and the longest kind that an entry may have, in bytes.
pub const TEXT_BYTES_MAX: usize = 1024;

/// The most evidence files that one entry may name.
pub const EVIDENCE_MAX: usize = 10_000;

/// The instant of an entry: whole microseconds, UTC, in the years 1970 to 9998.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub struct At(i64);

impl At {
    /// The last microsecond of the year 9998; the calendar in use ends within the next year.
    const LAST: i64 = 253_370_764_799_999_999;

    /// The instant this many microseconds after the beginning of 1970, UTC; `None` if it lies
    /// outside the years 1970 to 9998.
    #[must_use]
    pub fn from_microseconds(microseconds: i64) -> Option<Self> {
        (0..=Self::LAST).contains(&microseconds).then_some(Self(microseconds))
    }

    /// Microseconds since the beginning of 1970, UTC.
    #[must_use]
    pub fn microseconds(self) -> i64 {
        self.0
    }

    fn read(text: &str) -> Option<Self> {
        let instant: Timestamp = text.parse().ok()?;
        Self::from_microseconds(instant.as_microsecond())
    }
}

impl fmt::Display for At {
    fn fmt(&self, out: &mut fmt::Formatter<'_>) -> fmt::Result {
        let instant = Timestamp::from_microsecond(self.0).map_err(|_| fmt::Error)?;
        write!(out, "{instant:.6}")
    }
}

/// One link of the chain.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Entry {
    /// Its place, from 1 on without a gap.
    pub number: u64,
    /// The hash of the entry before it; `None` for the first.
    pub previous: Option<EntryHash>,
    /// When it was written.
    pub at: At,
    /// Who wrote it.
    pub who: String,
    /// What sort of thing it says.
    pub kind: String,
    /// The version of its body's form.
    pub form: u32,
    /// What it says.
    pub body: Vec<u8>,
    /// The evidence files it rests on, in the order in which the body names them.
    pub evidence: Vec<BlobHash>,
}

impl Entry {
    /// The header: the text that is hashed.
    #[must_use]
    pub fn header(&self) -> String {
        let previous = self.previous.unwrap_or(EntryHash([0; 32]));
        let mut header = format!(
            "{FIRST_LINE}\nnumber {}\nprevious {previous}\nat {}\nwho {} {}\nkind {} {}\n\
             form {}\nbody {} {}\nevidence {}\n",
            self.number,
            self.at,
            self.who.len(),
            self.who,
            self.kind.len(),
            self.kind,
            self.form,
            self.body.len(),
            BlobHash::of(&self.body),
            self.evidence.len(),
        );
        for blob in &self.evidence {
            header.push_str(&format!("{blob}\n"));
        }
        header
    }

    /// The hash of the entry.
    #[must_use]
    pub fn hash(&self) -> EntryHash {
        EntryHash::of(self.header().as_bytes())
    }

    /// Reads an entry from its header and its body.
    ///
    /// # Errors
    ///
    /// - [`EntryError::Header`] if the header is not in the hashed form, to the byte.
    /// - [`EntryError::Body`] if the body is not the one the header names.
    pub fn read(header: &str, body: Vec<u8>) -> Result<Self, EntryError> {
        let mut rest = Header(header);
        let entry = rest.entry(body)?;
        let read = entry.header();
        if read == header {
            return Ok(entry);
        }
        // The parts were understood; the spelling or the body's hash differs.
        let names =
            |text: &str| text.lines().find(|line| line.starts_with("body ")).map(String::from);
        match (names(header), names(&read)) {
            (Some(named), Some(found)) if named != found => Err(EntryError::Body { named, found }),
            _ => Err(EntryError::Header { at: "spelling" }),
        }
    }

    /// Holds the entry against the one before it.
    ///
    /// # Errors
    ///
    /// [`LinkError`] says in which way it does not follow.
    pub fn follows(&self, before: Option<&Stored>) -> Result<(), LinkError> {
        let number = before.map_or(1, |before| before.entry.number.saturating_add(1));
        if self.number != number {
            return Err(LinkError::Number { expected: number, found: self.number });
        }
        if self.previous != before.map(|before| before.hash) {
            return Err(LinkError::Previous { number });
        }
        match before {
            Some(before) if self.at < before.entry.at => {
                Err(LinkError::Earlier { number, at: self.at, before: before.entry.at })
            }
            _ => Ok(()),
        }
    }

    /// Refuses what is longer than an entry may be.
    ///
    /// # Errors
    ///
    /// [`EntryError::TooLong`] names the part.
    pub fn check_lengths(&self) -> Result<(), EntryError> {
        let parts = [
            ("name", self.who.len(), TEXT_BYTES_MAX),
            ("kind", self.kind.len(), TEXT_BYTES_MAX),
            ("body", self.body.len(), BODY_BYTES_MAX),
            ("list of evidence files", self.evidence.len(), EVIDENCE_MAX),
        ];
        match parts.into_iter().find(|(_, length, most)| length > most) {
            Some((part, length, most)) => Err(EntryError::TooLong { part, length, most }),
            None => Ok(()),
        }
    }
}

/// An entry together with the hash it was filed under.
///
/// The two need not agree: that is what [`Stored::check`] finds out.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Stored {
    /// The entry.
    pub entry: Entry,
    /// The hash it was filed under.
    pub hash: EntryHash,
}

impl Stored {
    /// The entry, filed under its own hash.
    #[must_use]
    pub fn new(entry: Entry) -> Self {
        let hash = entry.hash();
        Self { entry, hash }
    }

    /// Its leaf in the tree over the entries ([`crate::tree`]).
    #[must_use]
    pub fn leaf(&self) -> TreeHash {
        tree::leaf(self.entry.header().as_bytes())
    }

    /// Holds the contents against the hash.
    ///
    /// # Errors
    ///
    /// [`LinkError::Changed`] if the contents hash to something else.
    pub fn check(&self) -> Result<(), LinkError> {
        let found = self.entry.hash();
        if found == self.hash {
            return Ok(());
        }
        Err(LinkError::Changed { number: self.entry.number, found, filed: self.hash })
    }
}

/// The last entry of a record: whoever knows it can tell whether anything before it was changed.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Head {
    /// The number of the last entry.
    pub number: u64,
    /// Its hash.
    pub hash: EntryHash,
}

impl fmt::Display for Head {
    fn fmt(&self, out: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(out, "{} {}", self.number, self.hash)
    }
}

impl Head {
    /// Reads the form that `Display` writes: the number, a space, the hash.
    #[must_use]
    pub fn read(text: &str) -> Option<Self> {
        let (number, hash) = text.trim().split_once(' ')?;
        Some(Self { number: decimal(number)?, hash: EntryHash::from_hex(hash)? })
    }
}

/// Why bytes are not an entry.
#[derive(Clone, Debug, PartialEq, Eq, Error)]
pub enum EntryError {
    /// The header is not in the hashed form.
    #[error("the header is not in the form `{FIRST_LINE}`: it goes wrong at its {at}")]
    Header {
        /// The part that could not be read.
        at: &'static str,
    },
    /// The body is another one.
    #[error("the header names `{named}`, and what is there is `{found}`")]
    Body {
        /// The line of the header.
        named: String,
        /// What that line would be for the body found.
        found: String,
    },
    /// A part is too long.
    #[error("the {part} of the entry is {length} long; an entry takes {most}")]
    TooLong {
        /// Which part.
        part: &'static str,
        /// Its length.
        length: usize,
        /// The limit.
        most: usize,
    },
}

/// Why an entry does not stand where it is.
#[derive(Clone, Debug, PartialEq, Eq, Error)]
pub enum LinkError {
    /// Its contents were changed after it was filed.
    #[error(
        "entry {number} hashes to {}, but was filed under {}",
        crate::hash::short(found),
        crate::hash::short(filed)
    )]
    Changed {
        /// Which entry.
        number: u64,
        /// What its contents hash to now.
        found: EntryHash,
        /// The hash it was filed under.
        filed: EntryHash,
    },
    /// A number is missing, or comes twice.
    #[error("entry {expected} should stand here, and entry {found} does")]
    Number {
        /// The number due.
        expected: u64,
        /// The number there.
        found: u64,
    },
    /// It follows some other entry.
    #[error("entry {number} does not name the hash of the entry before it")]
    Previous {
        /// Which entry.
        number: u64,
    },
    /// Its time lies before that of the entry before it.
    #[error("entry {number} is dated {at}, earlier than the entry before it ({before})")]
    Earlier {
        /// Which entry.
        number: u64,
        /// Its time.
        at: At,
        /// The time of the entry before it.
        before: At,
    },
}

/// What is left of a header while it is read.
struct Header<'a>(&'a str);

impl<'a> Header<'a> {
    fn entry(&mut self, body: Vec<u8>) -> Result<Entry, EntryError> {
        let wrong = |at| EntryError::Header { at };
        self.line(FIRST_LINE).ok_or(wrong("first line"))?;
        let number = self.line("number ").and_then(decimal).ok_or(wrong("number"))?;
        let previous =
            self.line("previous ").and_then(EntryHash::from_hex).ok_or(wrong("previous hash"))?;
        let at = self.line("at ").and_then(At::read).ok_or(wrong("time"))?;
        let who = self.text("who ").ok_or(wrong("name"))?.to_owned();
        let kind = self.text("kind ").ok_or(wrong("kind"))?.to_owned();
        let form = self.line("form ").and_then(decimal).ok_or(wrong("form"))?;
        self.line("body ").ok_or(wrong("body"))?;
        let count: usize = self.line("evidence ").and_then(decimal).ok_or(wrong("evidence"))?;
        let hashes = (0..count).map_while(|_| self.line("").and_then(BlobHash::from_hex));
        let evidence: Vec<_> = hashes.collect();
        if evidence.len() != count || !self.0.is_empty() {
            return Err(wrong("evidence"));
        }
        let previous = Some(previous).filter(|hash| hash.0 != [0; 32]);
        Ok(Entry { number, previous, at, who, kind, form, body, evidence })
    }

    /// The rest of the next line after `begin`.
    fn line(&mut self, begin: &str) -> Option<&'a str> {
        let (line, rest) = self.0.split_once('\n')?;
        self.0 = rest;
        line.strip_prefix(begin)
    }

    /// A text with its length in front.
    fn text(&mut self, begin: &str) -> Option<&'a str> {
        let (length, rest) = self.0.strip_prefix(begin)?.split_once(' ')?;
        let (text, rest) = rest.split_at_checked(decimal(length)?)?;
        self.0 = rest.strip_prefix('\n')?;
        Some(text)
    }
}

pub(crate) fn decimal<N: TryFrom<u64>>(text: &str) -> Option<N> {
    let plain = !text.is_empty() && text.bytes().all(|digit| digit.is_ascii_digit());
    let number: u64 = plain.then(|| text.parse().ok())??;
    N::try_from(number).ok()
}

#[cfg(test)]
mod tests {
    use super::*;

    fn entry() -> Entry {
        Entry {
            number: 12,
            previous: Some(EntryHash::of(b"entry 11")),
            at: At::from_microseconds(1_795_598_078_123_456).unwrap(),
            who: "Ana\nRuiz".to_owned(),
            kind: "run-recorded".to_owned(),
            form: 1,
            body: b"{}".to_vec(),
            evidence: vec![BlobHash::of(b"photo"), BlobHash::of(b"trace")],
        }
    }

    #[test]
    fn a_header_reads_as_the_page_above_says() {
        let expected = "cinderbook entry 1\n\
            number 12\n\
            previous 4317f9b54bac5be4c83f0b4ea0d2f1ee9eedf11e3d7ab1d3a4c6a2ab3b4d2d6f\n\
            at 2026-11-25T09:14:38.123456Z\n\
            who 8 Ana\nRuiz\n\
            kind 12 run-recorded\n\
            form 1\n\
            body 2 44136fa355b3678a1146ad16f7e8649e94fb4fc21fe77e8310c060f61caaff8a\n\
            evidence 2\n";
        let header = entry().header();
        let without_hashes = |text: &str| {
            text.lines()
                .filter(|line| !line.starts_with("previous"))
                .take(9)
                .map(String::from)
                .collect::<Vec<_>>()
        };
        assert_eq!(without_hashes(&header), without_hashes(expected));
        assert_eq!(header.lines().count(), 12);
    }

    #[test]
    fn what_is_written_reads_back() {
        let entry = entry();
        assert_eq!(Entry::read(&entry.header(), entry.body.clone()), Ok(entry));
    }

    #[test]
    fn every_changed_byte_of_a_header_is_noticed() {
        let (entry, header) = (entry(), entry().header());
        for place in 0..header.len() {
            for bit in 0..8 {
                let mut bytes = header.clone().into_bytes();
                bytes[place] ^= 1 << bit;
                if let Ok(text) = String::from_utf8(bytes)
                    && let Ok(read) = Entry::read(&text, entry.body.clone())
                {
                    assert_ne!(read, entry);
                    assert_eq!(read.header(), text);
                }
            }
        }
    }

    #[test]
    fn another_body_is_named() {
        let refused = Entry::read(&entry().header(), b"{ }".to_vec()).unwrap_err();
        assert!(refused.to_string().starts_with("the header names `body 2 44136fa"), "{refused}");
    }

    #[test]
    fn the_clock_may_stand_still_but_not_step_back() {
        let first = Stored::new(Entry { number: 1, previous: None, ..entry() });
        let second = Entry { number: 2, previous: Some(first.hash), ..entry() };
        assert_eq!(second.follows(Some(&first)), Ok(()));
        let earlier = At(second.at.0 - 1);
        let refused = Entry { at: earlier, ..second }.follows(Some(&first)).unwrap_err();
        assert!(matches!(refused, LinkError::Earlier { number: 2, .. }), "{refused}");
    }

    #[test]
    fn an_entry_follows_the_one_whose_number_and_hash_it_names() {
        let first = Stored::new(Entry { number: 1, previous: None, ..entry() });
        let second = |number, previous| Entry { number, previous, ..entry() };
        let other = second(2, Some(EntryHash::of(b"another")));
        assert_eq!(other.follows(Some(&first)), Err(LinkError::Previous { number: 2 }));
        let skipping = second(3, Some(first.hash)).follows(Some(&first));
        assert_eq!(skipping, Err(LinkError::Number { expected: 2, found: 3 }));
        let before_all = second(1, Some(first.hash)).follows(None);
        assert_eq!(before_all, Err(LinkError::Previous { number: 1 }));
    }

    #[test]
    fn what_is_longer_than_an_entry_may_be_is_named() {
        let most = || "x".repeat(TEXT_BYTES_MAX);
        let longest = Entry { who: most(), kind: most(), ..entry() };
        assert_eq!(longest.check_lengths(), Ok(()));
        let refused = |entry: Entry| entry.check_lengths().unwrap_err().to_string();
        let long = || format!("{}x", most());
        assert!(refused(Entry { who: long(), ..entry() }).contains("name"));
        assert!(refused(Entry { kind: long(), ..entry() }).contains("kind"));
        assert!(
            refused(Entry { body: vec![b' '; BODY_BYTES_MAX + 1], ..entry() }).contains("body")
        );
        let evidence = vec![BlobHash::of(b"photo"); EVIDENCE_MAX + 1];
        assert!(refused(Entry { evidence, ..entry() }).contains("evidence"));
    }

    #[test]
    fn times_outside_the_calendar_are_not_times() {
        assert_eq!(At::from_microseconds(-1), None);
        let last = At::from_microseconds(At::LAST).unwrap();
        assert_eq!(last.to_string(), "9998-12-31T23:59:59.999999Z");
        assert_eq!(At::from_microseconds(At::LAST + 1), None);
    }
}
