//! What the pages remember of people who sign: in which sittings both parts were given, and which
//! specimens a reviewer opened. It is forgotten when the program ends: then both parts are asked
//! again, and odd things are opened again.

use std::collections::{BTreeMap, BTreeSet};
use std::sync::{Mutex, MutexGuard, PoisonError};

use trial::number::{EntryNumber, PersonName, PlanNumber, SpecimenNumber};

/// So many sittings and specimens are remembered at most; then all are forgotten.
const AT_MOST: usize = 10_000;

/// A specimen of a plan, for one who reviews it.
type Seen = (PersonName, PlanNumber, SpecimenNumber);

/// What is remembered.
#[derive(Debug, Default)]
pub(super) struct Signing(Mutex<Remembered>);

#[derive(Debug, Default)]
struct Remembered {
    /// The sessions in which name and password were both given, by the hash of their secret.
    both: BTreeSet<String>,
    /// The specimens that were opened, and up to which entry they were seen.
    opened: BTreeMap<Seen, EntryNumber>,
}

impl Signing {
    /// Whether both parts are asked: nothing was signed yet in this session (21 CFR 11.200).
    pub(super) fn asks_both(&self, session: &str) -> bool {
        !self.remembered().both.contains(session)
    }

    /// Both parts were given in this session.
    pub(super) fn gave_both(&self, session: String) {
        let mut remembered = self.remembered();
        if remembered.both.len() >= AT_MOST {
            remembered.both.clear();
        }
        remembered.both.insert(session);
    }

    /// A reviewer opened a specimen, which had then come to this entry.
    pub(super) fn open(&self, seen: Seen, upto: EntryNumber) {
        let mut remembered = self.remembered();
        if remembered.opened.len() >= AT_MOST {
            remembered.opened.clear();
        }
        remembered.opened.insert(seen, upto);
    }

    /// The specimens of a plan that a reviewer opened, each with the entry it had come to.
    pub(super) fn opened(
        &self,
        person: &PersonName,
        plan: PlanNumber,
    ) -> BTreeMap<SpecimenNumber, EntryNumber> {
        let remembered = self.remembered();
        let own = remembered.opened.iter().filter(|((who, of, _), _)| who == person && *of == plan);
        own.map(|((.., specimen), upto)| (*specimen, *upto)).collect()
    }

    fn remembered(&self) -> MutexGuard<'_, Remembered> {
        self.0.lock().unwrap_or_else(PoisonError::into_inner)
    }
}
