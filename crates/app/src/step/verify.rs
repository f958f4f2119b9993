//! What came of a check of the record, as data, and the head that is held against it.

use ledger::{Head, Verification};
use serde::Serialize;
use utoipa::ToSchema;

use crate::problem::Problem;

/// What came of a check.
#[derive(Clone, Debug, Default, Serialize, ToSchema)]
pub(crate) struct Checked {
    /// Whether nothing is wrong.
    pub(crate) sound: bool,
    /// How many entries were looked at.
    pub(crate) entries: u64,
    /// How many evidence files were held against their hashes.
    pub(crate) evidence: usize,
    /// How many verdicts were reached again.
    pub(crate) verdicts_reached_again: usize,
    /// Number and hash of the last entry.
    pub(crate) head: Option<String>,
    /// What is wrong.
    pub(crate) faults: Vec<String>,
}

impl Checked {
    /// What a verification found.
    pub(crate) fn of(found: &Verification) -> Self {
        Self {
            sound: found.is_sound(),
            entries: found.entries,
            evidence: found.evidence,
            verdicts_reached_again: found.verdicts,
            head: found.head.map(|head| head.to_string()),
            faults: found.faults.iter().map(ToString::to_string).collect(),
        }
    }
}

/// A head as a report prints it.
///
/// # Errors
///
/// [`Problem`] where `text` is none.
pub(crate) fn head(text: &str) -> Result<Head, Problem> {
    Head::read(text).ok_or_else(|| {
        Problem::used_wrongly(format!("`{text}` is not a head"))
            .hint("Write the entry's number, a blank, and its hash, as a report prints them.")
    })
}
