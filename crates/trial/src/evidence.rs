//! The files that are kept with the record.

use crate::finding::words;
use std::fmt;

/// The SHA-256 of an evidence file.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub struct EvidenceHash(pub [u8; 32]);

impl fmt::Display for EvidenceHash {
    fn fmt(&self, out: &mut fmt::Formatter<'_>) -> fmt::Result {
        self.0.iter().try_for_each(|byte| write!(out, "{byte:02x}"))
    }
}

words! {
    /// What an evidence file is.
    EvidenceKind {
        /// A logger's file.
        Trace = "trace",
        /// A photograph.
        Photo = "photo",
        /// A film.
        Film = "film",
        /// A certificate.
        Certificate = "certificate",
        /// A file of rules.
        Rules = "rules",
        /// A report.
        Report = "report",
        /// Anything else.
        Other = "other",
    }
}

/// A file kept with the record.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Evidence {
    /// Its name when it came.
    pub name: String,
    /// Its hash, under which it is filed.
    pub hash: EvidenceHash,
    /// Its size in bytes.
    pub bytes: u64,
    /// What it is.
    pub kind: EvidenceKind,
}
