//! What the record knows of a bench besides its tests: base lines, coolings, the weight of blocks.

use super::History;
use super::error::{Followed, once, skipped};
use super::replay::known;
use crate::base_line::BaseLine;
use crate::fact::{Cooling, EquipmentKind, Fact, Recorded, Weighing};
use crate::moment::Moment;
use crate::number::{
    BaseLineNumber, ConfirmationNumber, DeterminationNumber, EntryNumber, EquipmentNumber,
    PersonName,
};
use std::collections::BTreeMap;

/// A base line as recorded.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct RecordedBaseLine {
    /// Which entry.
    pub entry: EntryNumber,
    /// When it was frozen.
    pub at: Moment,
    /// By whom.
    pub who: PersonName,
    /// What it rests on.
    pub base_line: BaseLine,
}

#[derive(Clone, Debug, Default)]
pub(super) struct BenchKnown {
    base_lines: Vec<RecordedBaseLine>,
    coolings: BTreeMap<DeterminationNumber, Cooling>,
    weighings: BTreeMap<EquipmentNumber, Weighing>,
}

impl History {
    /// All base lines in the order of freezing.
    #[must_use]
    pub fn base_lines(&self) -> &[RecordedBaseLine] {
        &self.bench_known.base_lines
    }

    /// The base line that holds: the last one frozen.
    #[must_use]
    pub fn base_line(&self) -> Option<&RecordedBaseLine> {
        self.bench_known.base_lines.last()
    }

    /// The base line with this number.
    #[must_use]
    pub fn base_line_of(&self, number: BaseLineNumber) -> Option<&RecordedBaseLine> {
        self.bench_known.base_lines.iter().find(|it| it.base_line.number == number)
    }

    /// The recorded cooling after a heating, where there is one of its own.
    #[must_use]
    pub fn cooling(&self, number: DeterminationNumber) -> Option<&Cooling> {
        self.bench_known.coolings.get(&number)
    }

    /// What a block weighed last.
    #[must_use]
    pub fn weighing(&self, block: &EquipmentNumber) -> Option<&Weighing> {
        self.bench_known.weighings.get(block)
    }
}

/// Lets one of these facts follow.
pub(super) fn follow(history: &mut History, next: &Recorded) -> Followed {
    if let Fact::BaseLineFrozen(base_line) = &next.fact {
        return frozen(history, next, base_line);
    }
    if let Fact::CoolingKept(cooling) = &next.fact {
        let number = cooling.determination;
        known(history.determination(number).is_some(), || format!("determination {number}"))?;
        let there = history.bench_known.coolings.contains_key(&number);
        once(there, || format!("a cooling of {number}"))?;
        history.bench_known.coolings.insert(number, cooling.clone());
    } else if let Fact::BlockWeighed(weighing) = &next.fact {
        let block = &weighing.block;
        let kind = history.equipment(block).map(|piece| piece.kind);
        known(kind == Some(EquipmentKind::CopperBlock), || format!("copper block {block}"))?;
        history.bench_known.weighings.insert(block.clone(), weighing.clone());
        history.upkeep.weighed(next, weighing);
    }
    Ok(())
}

fn frozen(history: &mut History, next: &Recorded, base_line: &BaseLine) -> Followed {
    let number = base_line.number;
    once(history.base_line_of(number).is_some(), || format!("base line {number}"))?;
    if base_line.confirmations.is_empty() {
        return skipped("a confirmation");
    }
    let mut counted: Vec<DeterminationNumber> = Vec::new();
    for confirmation in &base_line.confirmations {
        let found: Option<&ConfirmationNumber> =
            history.confirmation(*confirmation).map(|it| &it.number);
        known(found.is_some(), || format!("confirmation {confirmation}"))?;
        let of_it = history.confirmation(*confirmation).map(|it| it.counted.as_slice());
        counted.extend(of_it.unwrap_or_default());
    }
    for determination in &base_line.determinations {
        known(counted.contains(determination), || {
            format!("{determination}, counted by one of its confirmations,")
        })?;
    }
    let base_line = base_line.clone();
    let (entry, at, who) = (next.entry, next.at, next.who.clone());
    history.bench_known.base_lines.push(RecordedBaseLine { entry, at, who, base_line });
    Ok(())
}
