//! The upkeep of bench and flame: what was done about calls of the flame chart, acts of care and their
//! intervals, what an engineer let through, the lists of new benches, the program's last validation.

use super::error::Followed;
use super::replay::known;
use super::{History, RecordedConfirmation};
use crate::care::{Care, CareInterval, CareTask, DueItem, DueLet};
use crate::commissioning::Commissioning;
use crate::confirmation::Determination;
use crate::fact::{Fact, Recorded, Weighing};
use crate::machine::Validation;
use crate::moment::Moment;
use crate::number::{ConfirmationNumber, DeterminationNumber, EntryNumber, PersonName, PlanNumber};
use std::collections::BTreeMap;

/// What was done about a call of the flame chart.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct FlameAnswer {
    /// Which entry.
    pub entry: EntryNumber,
    /// When.
    pub at: Moment,
    /// By whom.
    pub who: PersonName,
    /// The confirmation at which the chart called.
    pub confirmation: ConfirmationNumber,
    /// What was done.
    pub done: String,
}

/// An act of care as recorded.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct RecordedCare {
    /// When.
    pub at: Moment,
    /// By whom.
    pub who: PersonName,
    /// What was done.
    pub care: Care,
}

/// What an engineer let through, as recorded.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct RecordedLet {
    /// When.
    pub at: Moment,
    /// By whom.
    pub who: PersonName,
    /// What, and why.
    pub due: DueLet,
}

/// The list of a new bench as recorded.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct RecordedCommissioning {
    /// Which entry.
    pub entry: EntryNumber,
    /// When.
    pub at: Moment,
    /// By whom.
    pub who: PersonName,
    /// What was found.
    pub list: Commissioning,
}

/// A validation of the program as recorded.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct RecordedValidation {
    /// Which entry.
    pub entry: EntryNumber,
    /// When.
    pub at: Moment,
    /// By whom.
    pub who: PersonName,
    /// What came of it.
    pub validation: Validation,
}

/// What is known of the upkeep.
#[derive(Clone, Debug, Default)]
pub(super) struct Upkeep {
    answers: Vec<FlameAnswer>,
    care: Vec<RecordedCare>,
    intervals: BTreeMap<CareTask, CareInterval>,
    lets: Vec<RecordedLet>,
    commissionings: Vec<RecordedCommissioning>,
    validation: Option<RecordedValidation>,
    /// When specimens were in the flame, in order.
    runs: Vec<Moment>,
}

impl Upkeep {
    /// Takes up a fact of the upkeep.
    pub(super) fn follow(&mut self, next: &Recorded) {
        let (entry, at, who) = (next.entry, next.at, next.who.clone());
        if let Fact::FlameCallAnswered { confirmation, done } = &next.fact {
            let (confirmation, done) = (*confirmation, done.clone());
            self.answers.push(FlameAnswer { entry, at, who, confirmation, done });
        } else if let Fact::CareDone(care) = &next.fact {
            self.care.push(RecordedCare { at, who, care: care.clone() });
        } else if let Fact::CareIntervalSet(interval) = &next.fact {
            self.intervals.insert(interval.task, interval.clone());
        } else if let Fact::DueLetThrough(due) = &next.fact {
            self.lets.push(RecordedLet { at, who, due: due.clone() });
        } else if let Fact::BenchCommissioned(list) = &next.fact {
            let list = list.clone();
            self.commissionings.push(RecordedCommissioning { entry, at, who, list });
        } else if let Fact::ProgramValidated(validation) = &next.fact {
            let validation = validation.clone();
            self.validation = Some(RecordedValidation { entry, at, who, validation });
        }
    }

    /// A block was weighed: that is an act of care too.
    pub(super) fn weighed(&mut self, next: &Recorded, weighing: &Weighing) {
        let (task, equipment) = (CareTask::BlockWeighed, Some(weighing.block.clone()));
        let care = Care { task, equipment, note: weighing.mass.value.to_string() };
        self.care.push(RecordedCare { at: next.at, who: next.who.clone(), care });
    }

    /// A specimen was in the flame.
    pub(super) fn ran(&mut self, at: Moment) {
        self.runs.push(at);
    }
}

/// Lets one of these facts follow.
pub(super) fn follow(history: &mut History, next: &Recorded) -> Followed {
    if let Fact::FlameCallAnswered { confirmation, .. } = &next.fact {
        let there = history.confirmation(*confirmation).is_some();
        known(there, || format!("confirmation {confirmation}"))?;
    } else if let Fact::CareDone(care) = &next.fact
        && let Some(number) = &care.equipment
    {
        known(history.equipment.contains_key(number), || format!("equipment {number}"))?;
    } else if let Fact::DueLetThrough(due) = &next.fact {
        known(history.plans.contains_key(&due.plan), || format!("plan {}", due.plan))?;
    }
    history.upkeep.follow(next);
    Ok(())
}

impl History {
    /// What was done about calls of the flame chart, in order.
    #[must_use]
    pub fn flame_answers(&self) -> &[FlameAnswer] {
        &self.upkeep.answers
    }

    /// The acts of care, in order.
    #[must_use]
    pub fn care(&self) -> &[RecordedCare] {
        &self.upkeep.care
    }

    /// When an act of care was done last, and by whom; of a lot, when it was opened.
    #[must_use]
    pub fn care_last(&self, task: CareTask) -> Option<(Moment, PersonName)> {
        if let Some(kind) = task.lot() {
            let (opened, _) = self.lot(kind)?;
            let first = self.entries.partition_point(|entry| entry.at < opened);
            let of_kind =
                |it: &&Recorded| matches!(&it.fact, Fact::LotOpened(lot) if lot.kind == kind);
            let entry = self.entries.get(first..)?.iter().find(of_kind)?;
            return Some((opened, entry.who.clone()));
        }
        let last = self.upkeep.care.iter().rfind(|it| it.care.task == task)?;
        Some((last.at, last.who.clone()))
    }

    /// The interval that the laboratory set for an act of care.
    #[must_use]
    pub fn care_interval(&self, task: CareTask) -> Option<&CareInterval> {
        self.upkeep.intervals.get(&task)
    }

    /// How many specimens were in the flame after a moment; all without one.
    #[must_use]
    pub fn specimens_since(&self, after: Option<Moment>) -> usize {
        let runs = &self.upkeep.runs;
        let before = after.map_or(0, |after| runs.partition_point(|at| *at <= after));
        runs.len() - before
    }

    /// Whether an engineer let this through for a plan.
    #[must_use]
    pub fn let_through(&self, plan: PlanNumber, item: &DueItem) -> bool {
        self.lets(plan).any(|it| it.due.item == *item)
    }

    /// What an engineer let through for a plan.
    pub fn lets(&self, plan: PlanNumber) -> impl Iterator<Item = &RecordedLet> {
        self.upkeep.lets.iter().filter(move |it| it.due.plan == plan)
    }

    /// The lists of new benches, in order.
    #[must_use]
    pub fn commissionings(&self) -> &[RecordedCommissioning] {
        &self.upkeep.commissionings
    }

    /// The last validation of the program.
    #[must_use]
    pub fn validation(&self) -> Option<&RecordedValidation> {
        self.upkeep.validation.as_ref()
    }

    /// All confirmations in order.
    #[must_use]
    pub fn confirmations(&self) -> &[RecordedConfirmation] {
        &self.confirmations
    }

    /// A determination as the record has it now: it may have been found void since it was taken.
    #[must_use]
    pub fn determination(&self, number: DeterminationNumber) -> Option<&Determination> {
        self.determinations.get(*self.determinations_by_number.get(&number)?)
    }
}
