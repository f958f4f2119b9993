//! Corrections: everything is replayed with what holds instead of the corrected entry.

use super::error::Followed;
use super::replay::{known, take};
use super::{Correction, History, HistoryProblem};
use crate::fact::{Fact, LotKind, Recorded};
use crate::number::EntryNumber;
use crate::rules::Library;

/// Replays everything with what holds instead of the corrected entry. The corrected entry stays in
/// the list.
pub(super) fn correct(
    history: &mut History,
    library: &Library,
    corrected: EntryNumber,
    next: Recorded,
) -> Followed {
    let Fact::Corrected { reason, by, .. } = &next.fact else { return Ok(()) };
    let Some(original) = history.entry(corrected) else {
        return known(false, || format!("entry {corrected}"));
    };
    let refuse = |why| Err(HistoryProblem::Uncorrectable { corrected, why });
    if let Fact::PersonEntrusted(_) | Fact::PersonDisabled { .. } = original.fact {
        return refuse("what a person is entrusted with is changed by a new entry");
    }
    if let Fact::BookOpened { .. }
    | Fact::PlanDrawnUp { .. }
    | Fact::VerdictReached { .. }
    | Fact::ReportIssued(_)
    | Fact::KeyBegun(_)
    | Fact::PressesKept { .. }
    | Fact::TimekeeperTaken { .. }
    | Fact::StageRefused { .. }
    | Fact::Signed(_)
    | Fact::SentBack(_)
    | Fact::SigningRuled(_)
    | Fact::Corrected { .. } = original.fact
    {
        return refuse(
            "opening, plans, presses, verdicts, reports, keys, refusals, signatures and corrections stand",
        );
    }
    if by.as_ref().is_some_and(|fact| fact.kind() != original.fact.kind()) {
        return refuse("what holds instead is of another kind");
    }
    let correction = Correction {
        by: next.entry,
        at: next.at,
        who: next.who.clone(),
        reason: reason.clone(),
        fact: by.as_deref().cloned(),
    };
    let mut corrections = history.corrections.clone();
    corrections.entry(corrected).or_default().push(correction);
    let mut again = History { corrections, ..History::default() };
    for recorded in &history.entries {
        let holds = match again.corrections.get(&recorded.entry).and_then(|all| all.last()) {
            None => Some(recorded.fact.clone()),
            Some(correction) => correction.fact.clone(),
        };
        if let Some(fact) = holds
            && !matches!(fact, Fact::Corrected { .. })
        {
            take(&mut again, library, &Recorded { fact, ..recorded.clone() })?;
        }
        again.enter(recorded.clone());
    }
    again.enter(next);
    *history = again;
    Ok(())
}

impl History {
    /// Puts an entry into the list, whatever holds of it.
    pub(super) fn enter(&mut self, next: Recorded) {
        self.keep_open(&next.fact);
        self.note_made(&next);
        if let Fact::LotOpened(lot) = &next.fact
            && lot.kind == LotKind::Gas
        {
            self.gas_entries.push(next.entry);
        } else if let Fact::DeterminationVoided { number, .. } = &next.fact {
            self.void_entries.entry(*number).or_default().push(next.entry);
        }
        self.entries.push(next);
    }

    /// What happens to a plan or its specimens opens it, and its report closes it.
    fn keep_open(&mut self, fact: &Fact) {
        if let Fact::ReportIssued(report) = fact {
            self.open_plans.remove(&report.plan);
        } else if let Fact::PlanDrawnUp { draft, .. } = fact {
            self.open_plans.insert(draft.number);
        } else if let Fact::SpecimensAdded { plan, .. }
        | Fact::PressesKept { plan, .. }
        | Fact::TimekeeperTaken { plan, .. }
        | Fact::RunRecorded { plan, .. }
        | Fact::SpecimenSpoilt { plan, .. } = fact
        {
            self.open_plans.insert(*plan);
        }
    }
}
