//! A report as the record has it: by its hashes.

use crate::evidence::EvidenceHash;
use crate::finding::words;
use crate::number::{EntryNumber, PlanNumber, ReportNumber};

/// An issued report.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct IssuedReport {
    /// Its number.
    pub number: ReportNumber,
    /// On which plan.
    pub plan: PlanNumber,
    /// The report it takes the place of.
    pub supersedes: Option<ReportNumber>,
    /// Hash of its content as data.
    pub content: EvidenceHash,
    /// Hash of the PDF.
    pub pdf: EvidenceHash,
    /// The head of the record that it carries: number and hash of the last entry before it.
    pub head: (EntryNumber, EvidenceHash),
    /// The language it is written in.
    pub language: Language,
}

words! {
    /// The language of a report.
    Language {
        /// English: that of every report that does not say otherwise.
        English = "en",
        /// German.
        German = "de",
    }
}
