//! Times of a specimen that are doubtful, and who accepted them.

use super::History;
use super::error::Followed;
use super::replay::of_plan;
use super::sitting::Sittings;
use crate::bench::Doubt;
use crate::clocks::clocks;
use crate::fact::Recorded;
use crate::moment::Moment;
use crate::number::{EntryNumber, PersonName, PlanNumber, SpecimenNumber};
use metrology::Duration;

/// That someone accepted the doubtful times of a specimen.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct TimesAccepted {
    /// Which entry.
    pub entry: EntryNumber,
    /// When.
    pub at: Moment,
    /// Who.
    pub who: PersonName,
    /// Why.
    pub reason: String,
    /// What made them doubtful then.
    pub doubts: Vec<String>,
}

impl History {
    /// What makes the times of a specimen doubtful, as the device told it; nothing if nothing does.
    #[must_use]
    pub fn doubts(&self, plan: PlanNumber, specimen: SpecimenNumber) -> Vec<String> {
        let standing = self.standing(plan, specimen);
        let told = standing.iter().flat_map(|standing| &standing.doubts);
        let mut doubts: Vec<String> = told.filter_map(Doubt::of_durations).collect();
        let run = self.runs(plan).iter().find(|recorded| recorded.run.specimen() == specimen);
        let apart = run.map_or(Duration::ZERO, |recorded| recorded.run.observed().clock_offset);
        if apart > clocks().apart {
            doubts.push(format!("its times are of two clocks: ± {apart:.2}"));
        }
        let ahead = self.ahead(plan, specimen);
        if ahead > clocks().wrong {
            doubts
                .push(format!("its device's clock is ahead of the record's by {ahead:.0} or more"));
        }
        doubts
    }

    /// How far a device's clock was ahead of the record's at least, when presses that count were
    /// kept; 0 s where none was. How far one was behind, only the device can tell: presses may
    /// have been long on their way.
    fn ahead(&self, plan: PlanNumber, specimen: SpecimenNumber) -> Duration {
        let sittings = self.plans.get(&plan).and_then(|it| it.sittings.get(&specimen));
        sittings.map_or(Duration::ZERO, Sittings::ahead)
    }

    /// Who accepted the doubtful times of a specimen, all of them; none if nobody did.
    #[must_use]
    pub fn times_accepted(
        &self,
        plan: PlanNumber,
        specimen: SpecimenNumber,
    ) -> Option<&TimesAccepted> {
        let last = self.plans.get(&plan)?.accepted.get(&specimen)?;
        (last.doubts == self.doubts(plan, specimen)).then_some(last)
    }

    /// The specimens of a plan whose times are doubtful and accepted by nobody, with what makes
    /// them so. Those that were spoilt are not judged, and wait for nobody.
    #[must_use]
    pub fn times_to_accept(&self, plan: PlanNumber) -> Vec<(SpecimenNumber, Vec<String>)> {
        let runs = self.runs(plan).iter().map(|recorded| recorded.run.observed());
        let judged = runs.filter(|observed| observed.spoilt.is_none());
        let open = judged.map(|observed| observed.specimen).filter_map(|specimen| {
            let doubts = self.doubts(plan, specimen);
            let waits = !doubts.is_empty() && self.times_accepted(plan, specimen).is_none();
            waits.then_some((specimen, doubts))
        });
        open.collect()
    }
}

/// The times of a specimen were accepted as they were doubted at that moment.
pub(super) fn accepted(
    history: &mut History,
    (plan, specimen): (PlanNumber, SpecimenNumber),
    reason: &str,
    next: &Recorded,
) -> Followed {
    let (entry, at, who, reason) = (next.entry, next.at, next.who.clone(), reason.to_owned());
    let doubts = history.doubts(plan, specimen);
    let accepted = TimesAccepted { entry, at, who, reason, doubts };
    of_plan(history, plan, specimen)?.accepted.insert(specimen, accepted);
    Ok(())
}
