//! Who signed, and what was corrected.

use serde::{Deserialize, Serialize};

/// A signature on the results or on the whole.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct Signature {
    /// What was signed, such as `specimen 1 of plan P-1`.
    pub what: String,
    /// What the signature means: `Tested by`, `Reviewed by`, `Approved by`.
    pub meaning: String,
    /// Who signed.
    pub name: String,
    /// When, in UTC.
    pub at: String,
    /// By what the program knew the person: `password` or `name`.
    pub identified: String,
    /// Whether it covers what this report says.
    pub covers: Covers,
    /// The SHA-256 of the content it was given for, in hexadecimal.
    pub content_sha256: String,
    /// The entry of the record.
    pub entry: u64,
}

/// Whether a signature covers what stands in the record.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Covers {
    /// It does.
    ThisRecord,
    /// Something was changed after it.
    NoLonger,
}

/// A value that was corrected after it was recorded; both are kept.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct Amended {
    /// The specimen.
    pub specimen: u32,
    /// Which value.
    pub what: String,
    /// What stood there.
    pub was: String,
    /// What holds.
    pub holds: String,
    /// Who corrected it.
    pub by: String,
    /// When, in UTC.
    pub at: String,
    /// Why.
    pub reason: String,
    /// The entry of the record.
    pub entry: u64,
}
