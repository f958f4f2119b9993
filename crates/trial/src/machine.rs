//! The program and the machine it runs on: faults that were met, and that it was held against
//! published and hand-calculated values.

use crate::evidence::{Evidence, EvidenceHash};

/// A fault of the disk, the machine or the program, and what was done about it.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct FaultMet {
    /// What was met.
    pub what: String,
    /// What was lost by it; "nothing" where nothing was.
    pub lost: String,
    /// What was done.
    pub done: String,
}

/// The program held against its reference cases on one machine.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Validation {
    /// The version of the program.
    pub version: String,
    /// The SHA-256 of the program's file.
    pub program: EvidenceHash,
    /// The machine, in words.
    pub machine: String,
    /// How many cases there were.
    pub cases: u32,
    /// How many of them lay outside their tolerance.
    pub off: u32,
    /// The sheet: each case with what was expected and what came.
    pub sheet: Evidence,
}
