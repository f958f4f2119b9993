//! What of a specimen was corrected since it was first recorded.

use super::History;
use crate::fact::Fact;
use crate::moment::Moment;
use crate::number::{EntryNumber, PersonName, PlanNumber, SpecimenNumber};
use crate::run::{Change, changes};

/// One correction of what was seen of a specimen.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Amendment {
    /// The specimen.
    pub specimen: SpecimenNumber,
    /// The entry that corrects.
    pub entry: EntryNumber,
    /// When.
    pub at: Moment,
    /// By whom.
    pub who: PersonName,
    /// Why.
    pub reason: String,
    /// What stood there, and what holds instead.
    pub changes: Vec<Change>,
}

impl History {
    /// The corrections of what was seen of a specimen, in order; each against the one before it.
    #[must_use]
    pub fn amendments(&self, plan: PlanNumber, specimen: SpecimenNumber) -> Vec<Amendment> {
        let run = self.runs(plan).iter().find(|it| it.run.specimen() == specimen);
        let Some(first) = run.and_then(|run| self.entry(run.entry)) else { return Vec::new() };
        let mut before = &first.fact;
        let mut amendments = Vec::new();
        for correction in self.corrections(first.entry) {
            let Some(fact) = &correction.fact else { continue };
            let mut changed = Vec::new();
            if let Fact::RunRecorded { observed: was, .. } = before
                && let Fact::RunRecorded { observed: is, .. } = fact
            {
                changed = changes(was, is);
            }
            before = fact;
            amendments.push(Amendment {
                specimen,
                entry: correction.by,
                at: correction.at,
                who: correction.who.clone(),
                reason: correction.reason.clone(),
                changes: changed,
            });
        }
        amendments
    }

    /// The corrections of all specimens of a plan, in the order of the record.
    #[must_use]
    pub fn amendments_of(&self, plan: PlanNumber) -> Vec<Amendment> {
        let specimens = self.specimens(plan).into_iter();
        let mut all: Vec<_> = specimens.flat_map(|it| self.amendments(plan, it)).collect();
        all.sort_unstable_by_key(|it| it.entry);
        all
    }
}
