//! The bench pass: whoever pressed "flame on specimen" in a sign-in goes on pressing from that browser
//! until the specimen is closed, also when the sign-in has ended meanwhile. It opens nothing else.

use jiff::{SignedDuration, Timestamp};
use serde::{Deserialize, Serialize};
use trial::number::PersonName;

use super::Access;
use super::secret;
use crate::problem::Problem;

/// A pass to a specimen that nobody closed ends by itself.
const AT_MOST: SignedDuration = SignedDuration::from_hours(12);

/// One browser at one specimen.
#[derive(Clone, Serialize, Deserialize)]
pub(super) struct Pass {
    /// Of the secret of the sign-in in which it was given.
    hash: String,
    pub(super) person: String,
    plan: u32,
    specimen: u32,
    began: Timestamp,
    /// The enrolled device that the sign-in was on.
    #[serde(default)]
    pub(super) enrolled: Option<String>,
}

impl Pass {
    pub(super) fn worth_keeping(&self, now: Timestamp) -> bool {
        now.duration_since(self.began) < AT_MOST
    }
}

impl Access {
    /// Gives the browser with this secret a pass to a specimen; once.
    ///
    /// # Errors
    ///
    /// [`Problem`] where it cannot be kept.
    pub(in crate::web) fn give_pass(
        &self,
        word: &str,
        (person, (plan, specimen)): (&PersonName, (u32, u32)),
        now: Timestamp,
    ) -> Result<(), Problem> {
        if self.pass(word, (plan, specimen), now).is_some() {
            return Ok(());
        }
        let (hash, person) = (secret::hash(word), person.0.clone());
        self.desk().kept.change(|kept| {
            kept.tidy(now);
            let session = kept.sessions.iter().find(|session| session.hash == hash);
            let enrolled = session.and_then(|session| session.enrolled.clone());
            kept.passes.push(Pass { hash, person, plan, specimen, began: now, enrolled });
        })
    }

    /// Whose pass the browser with this secret has to a specimen.
    pub(in crate::web) fn pass(
        &self,
        word: &str,
        (plan, specimen): (u32, u32),
        now: Timestamp,
    ) -> Option<PersonName> {
        let shown = secret::hash(word);
        let desk = self.desk();
        let mut passes = desk.kept.passes.iter().filter(|pass| pass.worth_keeping(now));
        let found = passes
            .find(|pass| pass.hash == shown && (pass.plan, pass.specimen) == (plan, specimen))?;
        Some(PersonName(found.person.clone()))
    }

    /// The specimens to which the browser with this secret has passes.
    pub(in crate::web) fn passes(&self, word: &str, now: Timestamp) -> Vec<(u32, u32)> {
        let shown = secret::hash(word);
        let desk = self.desk();
        let passes = desk.kept.passes.iter().filter(|pass| pass.worth_keeping(now));
        let own = passes.filter(|pass| pass.hash == shown);
        own.map(|pass| (pass.plan, pass.specimen)).collect()
    }
}
