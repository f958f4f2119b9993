//! What came of a check of the record, as data, and what is held against it: a head, a key.
#![expect(clippy::disallowed_methods, reason = "a key may stand in a file")]

use ledger::note::PublicKey;
use ledger::{Head, Verification};
use serde::{Deserialize, Serialize};
use trial::moment::Moment;
use trial::number::ReportNumber;
use utoipa::ToSchema;

use crate::problem::Problem;

/// What came of a check.
#[derive(Clone, Debug, Default, Serialize, Deserialize, ToSchema)]
#[serde(default)]
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
    /// How many entries there are, and the hash of the tree over them, as reports print them.
    pub(crate) tree: String,
    /// How many signed heads were held against the entries.
    pub(crate) signed_heads: usize,
    /// The key that signs now.
    pub(crate) key: Option<String>,
    /// The entries by which a key began without the signature of the one before it.
    pub(crate) keys_lost: Vec<u64>,
    /// When a head was last seen outside, in words.
    pub(crate) last_head_outside: String,
    /// What is wrong.
    pub(crate) faults: Vec<String>,
}

impl Checked {
    /// What a verification found, at the moment `now`.
    pub(crate) fn of(found: &Verification, now: Moment) -> Self {
        Self {
            sound: found.is_sound(),
            entries: found.entries,
            evidence: found.evidence,
            verdicts_reached_again: found.verdicts,
            head: found.head.map(|head| head.to_string()),
            tree: found.tree.to_string(),
            signed_heads: found.signed,
            key: found.key.as_ref().map(ToString::to_string),
            keys_lost: found.keys_lost.clone(),
            last_head_outside: outside(found.outside, now),
            faults: found.faults.iter().map(ToString::to_string).collect(),
        }
    }
}

/// When a head was last seen outside the house, in words: on the last report.
pub(crate) fn outside(last: Option<(ReportNumber, Moment)>, now: Moment) -> String {
    let Some((report, at)) = last else { return "never".to_owned() };
    let days = (now.day() - at.day()).get_days();
    let when = match days {
        ..=0 => "today".to_owned(),
        1 => "yesterday".to_owned(),
        days => format!("{days} days ago"),
    };
    format!("{when}, on report {report}")
}

/// A key as `key show` writes it, or a file that holds one.
///
/// # Errors
///
/// [`Problem`] where `text` is neither.
pub(crate) fn key(text: &str) -> Result<PublicKey, Problem> {
    let held = std::fs::read_to_string(text).unwrap_or_default();
    PublicKey::read(text).or_else(|| PublicKey::read(&held)).ok_or_else(|| {
        Problem::used_wrongly(format!("`{text}` is neither a key nor a file that holds one")).hint(
            "Write the key as `key show` of the laboratory does: name, `+`, number, `+`, key.",
        )
    })
}

/// A head as a report prints it.
///
/// # Errors
///
/// [`Problem`] where `text` is none.
pub(crate) fn head(text: &str) -> Result<Head, Problem> {
    Head::read(text).ok_or_else(|| {
        Problem::used_wrongly(format!("`{text}` is not a head"))
            .hint("Write the number of entries, a blank, and the hash, as a report prints them.")
    })
}
