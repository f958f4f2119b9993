//! What the history knows of an entry, beside what the entry says.

use crate::confirmation::Determination;
use crate::fact::Fact;
use crate::finding::{Finding, Stage};
use crate::moment::Moment;
use crate::number::{ConfirmationNumber, DeterminationNumber, EntryNumber, PersonName, PlanNumber};
use crate::rules::{Key, RulesId};
use crate::run::Run;
use crate::verdict::VerdictStanding;

/// A confirmation as recorded.
#[derive(Clone, Debug, PartialEq)]
pub struct RecordedConfirmation {
    /// Its number.
    pub number: ConfirmationNumber,
    /// Under which plan.
    pub plan: PlanNumber,
    /// Which entry.
    pub entry: EntryNumber,
    /// When it was recorded.
    pub at: Moment,
    /// By whom.
    pub who: PersonName,
    /// Those that decided.
    pub counted: Vec<DeterminationNumber>,
    /// All determinations since the confirmation before, void ones included.
    pub determinations: Vec<Determination>,
}

/// A run as recorded.
#[derive(Clone, Debug, PartialEq)]
pub struct RecordedRun {
    /// Which entry.
    pub entry: EntryNumber,
    /// When it was recorded.
    pub at: Moment,
    /// By whom.
    pub who: PersonName,
    /// Under which confirmation.
    pub confirmation: ConfirmationNumber,
    /// The run.
    pub run: Run,
}

/// A verdict as recorded.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct RecordedVerdict {
    /// Which entry.
    pub entry: EntryNumber,
    /// When it was recorded.
    pub at: Moment,
    /// By whom.
    pub who: PersonName,
    /// How it stands.
    pub standing: VerdictStanding,
    /// Its exact account.
    pub account: String,
}

/// That a laboratory verified a number against its own copy.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Verified {
    /// In which file.
    pub rules: RulesId,
    /// Which number.
    pub key: Key,
    /// The value found right.
    pub text: String,
    /// Which copy.
    pub copy: String,
    /// By whom.
    pub who: PersonName,
    /// When.
    pub at: Moment,
}

/// A correction of an entry.
#[derive(Clone, Debug, PartialEq)]
pub struct Correction {
    /// The entry that corrects.
    pub by: EntryNumber,
    /// When.
    pub at: Moment,
    /// By whom.
    pub who: PersonName,
    /// Why.
    pub reason: String,
    /// What holds instead.
    pub fact: Option<Fact>,
}

/// That a stage said no.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Refusal {
    /// Which entry.
    pub entry: EntryNumber,
    /// When.
    pub at: Moment,
    /// Which stage.
    pub stage: Stage,
    /// Of which plan.
    pub plan: PlanNumber,
    /// All its findings.
    pub findings: Vec<Finding>,
}
