//! The upkeep of bench and flame: what was done about calls of the flame chart.

use super::{History, RecordedConfirmation};
use crate::confirmation::Determination;
use crate::fact::{Fact, Recorded};
use crate::moment::Moment;
use crate::number::{ConfirmationNumber, DeterminationNumber, EntryNumber, PersonName};

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

/// What is known of the upkeep.
#[derive(Clone, Debug, Default)]
pub(super) struct Upkeep {
    answers: Vec<FlameAnswer>,
}

impl Upkeep {
    /// Takes up a fact of the upkeep.
    pub(super) fn follow(&mut self, next: &Recorded) {
        if let Fact::FlameCallAnswered { confirmation, done } = &next.fact {
            self.answers.push(FlameAnswer {
                entry: next.entry,
                at: next.at,
                who: next.who.clone(),
                confirmation: *confirmation,
                done: done.clone(),
            });
        }
    }
}

impl History {
    /// What was done about calls of the flame chart, in order.
    #[must_use]
    pub fn flame_answers(&self) -> &[FlameAnswer] {
        &self.upkeep.answers
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
