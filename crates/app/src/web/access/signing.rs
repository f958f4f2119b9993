//! What is kept of people who sign: in which sittings both parts were given, and which specimens a reviewer
//! opened.

use std::collections::BTreeMap;

use serde::{Deserialize, Serialize};
use trial::number::{EntryNumber, PersonName, PlanNumber, SpecimenNumber};

use super::Access;
use super::secret;
use crate::problem::Problem;

/// So many opened specimens are kept at most, the last ones.
const OPENED_AT_MOST: usize = 2_000;

/// A specimen that a reviewer opened.
#[derive(Clone, Serialize, Deserialize)]
pub(super) struct Opened {
    person: String,
    plan: u32,
    specimen: u32,
    /// The entry that it had then come to.
    upto: u64,
}

impl Access {
    /// Whether both parts are asked: nothing was signed yet in the session of this word (21 CFR 11.200).
    pub(in crate::web) fn asks_both(&self, word: &str) -> bool {
        let shown = secret::hash(word);
        let desk = self.desk();
        !desk.kept.sessions.iter().any(|session| session.hash == shown && session.signed)
    }

    /// Both parts were given in this session.
    ///
    /// # Errors
    ///
    /// [`Problem`] where it cannot be kept.
    pub(in crate::web) fn gave_both(&self, word: &str) -> Result<(), Problem> {
        if !self.asks_both(word) {
            return Ok(());
        }
        let shown = secret::hash(word);
        self.desk().kept.change(|kept| {
            for session in kept.sessions.iter_mut().filter(|session| session.hash == shown) {
                session.signed = true;
            }
        })
    }

    /// A reviewer opened a specimen, which had then come to this entry.
    ///
    /// # Errors
    ///
    /// [`Problem`] where it cannot be kept.
    pub(in crate::web) fn open_specimen(
        &self,
        person: &PersonName,
        (plan, specimen): (PlanNumber, SpecimenNumber),
        upto: EntryNumber,
    ) -> Result<(), Problem> {
        let opened =
            Opened { person: person.0.clone(), plan: plan.0, specimen: specimen.0, upto: upto.0 };
        self.desk().kept.change(|kept| {
            kept.opened
                .retain(|it| (&it.person, it.plan, it.specimen) != (&person.0, plan.0, specimen.0));
            let over = (kept.opened.len() + 1).saturating_sub(OPENED_AT_MOST);
            kept.opened.drain(..over);
            kept.opened.push(opened);
        })
    }

    /// The specimens of a plan that a reviewer opened, each with the entry it had come to.
    pub(in crate::web) fn opened(
        &self,
        person: &PersonName,
        plan: PlanNumber,
    ) -> BTreeMap<SpecimenNumber, EntryNumber> {
        let desk = self.desk();
        let own = desk.kept.opened.iter().filter(|it| it.person == person.0 && it.plan == plan.0);
        own.map(|it| (SpecimenNumber(it.specimen), EntryNumber(it.upto))).collect()
    }
}
