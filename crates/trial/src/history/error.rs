//! Why a fact cannot follow those before it.

use crate::bench::{DeviceId, PressLogError};
use crate::moment::Moment;
use crate::number::{EntryNumber, PersonName, PlanNumber, SpecimenNumber};
use thiserror::Error;

/// An order of facts that no test can have.
#[derive(Clone, Debug, PartialEq, Eq, Error)]
#[error("entry {entry} ({kind}): {problem}")]
pub struct HistoryError {
    /// The entry that cannot follow.
    pub entry: EntryNumber,
    /// Its kind.
    pub kind: &'static str,
    /// Why it cannot.
    pub problem: HistoryProblem,
}

impl HistoryError {
    /// The way out.
    #[must_use]
    pub const fn hint(&self) -> &'static str {
        match &self.problem {
            HistoryProblem::Rules { .. } => "Give the rules file that the plan used.",
            HistoryProblem::Presses(why) => why.hint(),
            HistoryProblem::Gap { .. } => "Send from the press after the last one kept.",
            HistoryProblem::OtherTimekeeper { .. } => {
                "Watch it, or take over the specimen and say why."
            }
            HistoryProblem::Number { .. }
            | HistoryProblem::Time { .. }
            | HistoryProblem::Opening
            | HistoryProblem::Unknown { .. }
            | HistoryProblem::Twice { .. }
            | HistoryProblem::Skipped { .. }
            | HistoryProblem::Uncorrectable { .. } => {
                "Nothing was changed; restore a copy of the book and verify it."
            }
        }
    }
}

/// Why a fact cannot follow those before it.
#[derive(Clone, Debug, PartialEq, Eq, Error)]
pub enum HistoryProblem {
    /// Not the number after the last.
    #[error("its number does not follow {last}")]
    Number {
        /// The last entry.
        last: u64,
    },
    /// Recorded before the entry before it.
    #[error("it is of {at}, before the entry before it, {before}")]
    Time {
        /// When it was recorded.
        at: Moment,
        /// The entry before it.
        before: Moment,
    },
    /// The book was not opened, or opened twice.
    #[error("a book is opened once, by its first entry")]
    Opening,
    /// It speaks of something that is not in the record.
    #[error("{what} is not in the record before it")]
    Unknown {
        /// What.
        what: String,
    },
    /// It makes something that is there.
    #[error("{what} is in the record already")]
    Twice {
        /// What.
        what: String,
    },
    /// It skips a stage.
    #[error("{missing} comes first")]
    Skipped {
        /// What is missing.
        missing: String,
    },
    /// A fact of this kind is not corrected, or not by one of another kind.
    #[error("entry {corrected} cannot be corrected so: {why}")]
    Uncorrectable {
        /// The entry to be corrected.
        corrected: EntryNumber,
        /// Why not.
        why: &'static str,
    },
    /// The rules of a plan are not at hand or cannot be resolved.
    #[error("the rules of plan {plan} cannot be used: {why}")]
    Rules {
        /// Which plan.
        plan: PlanNumber,
        /// Why.
        why: String,
    },
    /// The presses themselves cannot be kept.
    #[error(transparent)]
    Presses(#[from] PressLogError),
    /// Presses that do not follow the last one kept, or none at all.
    #[error("the presses do not go on from press {kept_to} of their sitting")]
    Gap {
        /// The last press kept.
        kept_to: u32,
    },
    /// Another sitting keeps the time of this specimen.
    #[error("specimen {specimen} is timed by {who} on device {device} since {since}")]
    OtherTimekeeper {
        /// Which specimen.
        specimen: SpecimenNumber,
        /// By whom.
        who: PersonName,
        /// On which device.
        device: DeviceId,
        /// Since when.
        since: Moment,
    },
}

/// Whether a fact can follow.
pub(super) type Followed = Result<(), HistoryProblem>;

pub(super) fn once(there: bool, what: impl FnOnce() -> String) -> Followed {
    if there { Err(HistoryProblem::Twice { what: what() }) } else { Ok(()) }
}

pub(super) fn skipped(missing: &str) -> Followed {
    Err(HistoryProblem::Skipped { missing: missing.to_owned() })
}
