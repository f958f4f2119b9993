//! The facts so far, and which stage they have reached.

use crate::confirmation::{Confirmed, Determination};
use crate::fact::{
    Authorisation, BookKind, Calibration, Conditioning, Equipment, Fact, IssuedReport, Laboratory,
    Lot, LotKind, Recorded,
};
use crate::finding::{Finding, Stage};
use crate::moment::Moment;
use crate::number::{
    ConfirmationNumber, DeterminationNumber, EntryNumber, EquipmentNumber, PersonName, PlanNumber,
    ReportNumber, SpecimenNumber,
};
use crate::plan::Plan;
use crate::readiness::Ready;
use crate::rules::{Key, Library, RulesId};
use crate::run::Run;
use crate::verdict::{Verdict, VerdictStanding, judge};
use jiff::civil::Date;
use std::collections::{BTreeMap, BTreeSet};
use thiserror::Error;

mod replay;

/// The facts of a book, replayed in their order.
#[derive(Clone, Debug, Default)]
pub struct History {
    entries: Vec<Recorded>,
    laboratory: Option<(Laboratory, BookKind)>,
    people: BTreeMap<PersonName, Vec<Authorisation>>,
    equipment: BTreeMap<EquipmentNumber, Equipment>,
    calibrations: Vec<Calibration>,
    withdrawn: BTreeMap<EquipmentNumber, String>,
    lots: Vec<(Moment, Lot)>,
    plans: BTreeMap<PlanNumber, PlanSoFar>,
    determinations: Vec<Determination>,
    confirmations: Vec<RecordedConfirmation>,
    reports: Vec<(Moment, PersonName, IssuedReport)>,
    verified: Vec<Verified>,
    corrections: BTreeMap<EntryNumber, Vec<Correction>>,
    refusals: Vec<Refusal>,
}

/// What is known of one plan.
#[derive(Clone, Debug)]
struct PlanSoFar {
    plan: Plan,
    specimens: Vec<SpecimenNumber>,
    cautions: Vec<(Moment, PersonName)>,
    conditionings: Vec<Conditioning>,
    ready: Option<Moment>,
    runs: Vec<RecordedRun>,
    spoilt: BTreeMap<SpecimenNumber, String>,
    verdicts: Vec<RecordedVerdict>,
}

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
        if matches!(self.problem, HistoryProblem::Rules { .. }) {
            "Give the rules file that the plan used."
        } else {
            "Nothing was changed; restore a copy of the book and verify it."
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
}

impl History {
    /// Replays recorded facts. Nothing is judged anew here: only the order is checked, and stages
    /// are taken as recorded.
    ///
    /// # Errors
    ///
    /// [`HistoryError`] at the first fact that cannot follow those before it.
    pub fn replay(
        library: &Library,
        entries: impl IntoIterator<Item = Recorded>,
    ) -> Result<Self, HistoryError> {
        let mut history = Self::default();
        for entry in entries {
            history.follow(library, entry)?;
        }
        Ok(history)
    }

    /// Lets one more fact follow. If it cannot, nothing has changed.
    ///
    /// # Errors
    ///
    /// [`HistoryError`] if the fact cannot follow those before it.
    pub fn follow(&mut self, library: &Library, next: Recorded) -> Result<(), HistoryError> {
        let (entry, kind) = (next.entry, next.fact.kind());
        replay::follow(self, library, next).map_err(|problem| HistoryError { entry, kind, problem })
    }

    /// All entries in order.
    #[must_use]
    pub fn entries(&self) -> &[Recorded] {
        &self.entries
    }

    /// The laboratory.
    #[must_use]
    pub fn laboratory(&self) -> Option<&Laboratory> {
        self.laboratory.as_ref().map(|(laboratory, _)| laboratory)
    }

    /// Whether everything in this book is made up.
    #[must_use]
    pub fn made_up(&self) -> bool {
        self.laboratory.as_ref().is_some_and(|(_, kind)| *kind == BookKind::MadeUp)
    }

    /// The people, by name.
    #[must_use]
    pub const fn people(&self) -> &BTreeMap<PersonName, Vec<Authorisation>> {
        &self.people
    }

    /// What a person may do; none if the person is not known.
    #[must_use]
    pub fn authorisations(&self, person: &PersonName) -> Option<&[Authorisation]> {
        self.people.get(person).map(Vec::as_slice)
    }

    /// All equipment, by number.
    #[must_use]
    pub const fn all_equipment(&self) -> &BTreeMap<EquipmentNumber, Equipment> {
        &self.equipment
    }

    /// A piece of equipment.
    #[must_use]
    pub fn equipment(&self, number: &EquipmentNumber) -> Option<&Equipment> {
        self.equipment.get(number)
    }

    /// Why a piece of equipment is out of service, if it is.
    #[must_use]
    pub fn withdrawn(&self, number: &EquipmentNumber) -> Option<&str> {
        self.withdrawn.get(number).map(String::as_str)
    }

    /// The last calibration on or before a day.
    #[must_use]
    pub fn calibration(&self, number: &EquipmentNumber, day: Date) -> Option<&Calibration> {
        let own = self.calibrations.iter().filter(|it| it.equipment == *number && it.on <= day);
        own.max_by_key(|calibration| calibration.on)
    }

    /// The lot of this kind that is in use, and since when.
    #[must_use]
    pub fn lot(&self, kind: LotKind) -> Option<(Moment, &Lot)> {
        let last = self.lots.iter().rfind(|(_, lot)| lot.kind == kind)?;
        Some((last.0, &last.1))
    }

    /// All lots in the order of opening.
    #[must_use]
    pub fn lots(&self) -> &[(Moment, Lot)] {
        &self.lots
    }

    /// The numbers of all plans.
    pub fn plans(&self) -> impl Iterator<Item = PlanNumber> + '_ {
        self.plans.keys().copied()
    }

    /// A plan.
    #[must_use]
    pub fn plan(&self, number: PlanNumber) -> Option<&Plan> {
        self.plans.get(&number).map(|so_far| &so_far.plan)
    }

    /// The specimens of a plan, later ones included.
    #[must_use]
    pub fn specimens(&self, plan: PlanNumber) -> Vec<SpecimenNumber> {
        self.plans.get(&plan).map(|so_far| so_far.specimens.clone()).unwrap_or_default()
    }

    /// The specimens of a plan that were in the flame or spoilt.
    #[must_use]
    pub fn used_specimens(&self, plan: PlanNumber) -> Vec<SpecimenNumber> {
        let Some(so_far) = self.plans.get(&plan) else { return Vec::new() };
        let runs = so_far.runs.iter().map(|recorded| recorded.run.specimen());
        let used: BTreeSet<SpecimenNumber> = runs.chain(so_far.spoilt.keys().copied()).collect();
        used.into_iter().collect()
    }

    /// Whether someone acknowledged the cautions for a plan.
    #[must_use]
    pub fn cautions_acknowledged(&self, plan: PlanNumber) -> bool {
        self.plans.get(&plan).is_some_and(|so_far| !so_far.cautions.is_empty())
    }

    /// The storages of a plan's specimens and layer.
    #[must_use]
    pub fn conditionings(&self, plan: PlanNumber) -> Vec<&Conditioning> {
        self.plans.get(&plan).map(|it| it.conditionings.iter().collect()).unwrap_or_default()
    }

    /// The last readiness of a plan.
    ///
    /// It knows the specimens that were used or added since.
    #[must_use]
    pub fn ready(&self, plan: PlanNumber) -> Option<Ready> {
        let so_far = self.plans.get(&plan)?;
        Some(Ready::restored(self, &so_far.plan, so_far.ready?))
    }

    /// Whether a plan was found ready.
    pub(crate) fn is_ready(&self, plan: PlanNumber) -> bool {
        self.plans.get(&plan).is_some_and(|so_far| so_far.ready.is_some())
    }

    /// All determinations in order, void ones included.
    #[must_use]
    pub fn determinations(&self) -> &[Determination] {
        &self.determinations
    }

    /// The determinations since the last confirmation: those that a next one is made of.
    #[must_use]
    pub fn open_determinations(&self) -> Vec<Determination> {
        let taken: usize = self.confirmations.iter().map(|it| it.determinations.len()).sum();
        self.determinations[taken.min(self.determinations.len())..].to_vec()
    }

    /// The last confirmation.
    #[must_use]
    pub fn last_confirmation(&self) -> Option<&RecordedConfirmation> {
        self.confirmations.last()
    }

    /// A confirmation.
    #[must_use]
    pub fn confirmation(&self, number: ConfirmationNumber) -> Option<&RecordedConfirmation> {
        self.confirmations.iter().find(|recorded| recorded.number == number)
    }

    /// Why a confirmation no longer holds by the method, if so: the gas was changed since.
    #[must_use]
    pub fn lapsed_since(&self, confirmation: &RecordedConfirmation) -> Option<String> {
        let first = usize::try_from(confirmation.entry.0).unwrap_or(usize::MAX);
        let since = self.entries.get(first..).unwrap_or_default();
        since.iter().find_map(|entry| lapse(confirmation, entry))
    }

    /// A confirmation as the stage it is, for the plan it was made under or another one.
    #[must_use]
    pub fn confirmed(&self, plan: PlanNumber, number: ConfirmationNumber) -> Option<Confirmed> {
        Some(Confirmed::restored(self.ready(plan)?, self.confirmation(number)?))
    }

    /// The runs of a plan in the order of recording, corrected ones as corrected.
    #[must_use]
    pub fn runs(&self, plan: PlanNumber) -> &[RecordedRun] {
        self.plans.get(&plan).map(|so_far| so_far.runs.as_slice()).unwrap_or_default()
    }

    /// The specimens of a plan that were spoilt, and why.
    #[must_use]
    pub fn spoilt(&self, plan: PlanNumber) -> Vec<(SpecimenNumber, &str)> {
        let Some(so_far) = self.plans.get(&plan) else { return Vec::new() };
        so_far.spoilt.iter().map(|(specimen, reason)| (*specimen, reason.as_str())).collect()
    }

    /// Judges a plan's runs now.
    #[must_use]
    pub fn judge(&self, plan: PlanNumber) -> Option<Verdict> {
        let so_far = self.plans.get(&plan)?;
        let runs: Vec<Run> = so_far.runs.iter().map(|recorded| recorded.run.clone()).collect();
        Some(judge(&so_far.plan, &runs))
    }

    /// The last verdict on a plan as recorded.
    #[must_use]
    pub fn verdict(&self, plan: PlanNumber) -> Option<&RecordedVerdict> {
        self.plans.get(&plan)?.verdicts.last()
    }

    /// The reports in the order of issue.
    #[must_use]
    pub fn reports(&self) -> &[(Moment, PersonName, IssuedReport)] {
        &self.reports
    }

    /// A report.
    #[must_use]
    pub fn report(&self, number: ReportNumber) -> Option<&(Moment, PersonName, IssuedReport)> {
        self.reports.iter().find(|(_, _, report)| report.number == number)
    }

    /// The last verification of a number with this value; one of another value does not count.
    #[must_use]
    pub fn verified(&self, rules: &RulesId, key: &Key, text: &str) -> Option<&Verified> {
        let same = |it: &&Verified| it.rules == *rules && it.key == *key && it.text == text;
        self.verified.iter().rfind(same)
    }

    /// The corrections of an entry.
    #[must_use]
    pub fn corrections(&self, entry: EntryNumber) -> &[Correction] {
        self.corrections.get(&entry).map(Vec::as_slice).unwrap_or_default()
    }

    /// The refusals in order.
    #[must_use]
    pub fn refusals(&self) -> &[Refusal] {
        &self.refusals
    }
}

/// Why this entry ends a confirmation, if it does.
fn lapse(confirmation: &RecordedConfirmation, later: &Recorded) -> Option<String> {
    if let Fact::LotOpened(lot) = &later.fact
        && lot.kind == LotKind::Gas
    {
        return Some(format!("gas lot {} was opened at {}", lot.number, later.at));
    }
    if let Fact::DeterminationVoided { number, reason } = &later.fact
        && confirmation.counted.contains(number)
    {
        return Some(format!("{number} was found void at {}: {reason}", later.at));
    }
    None
}
