//! Accounts, and the one-use links with which a person chooses a password.

use jiff::{SignedDuration, Timestamp};
use serde::{Deserialize, Serialize};
use trial::number::PersonName;

use super::Access;
use super::kept::Kept;
use super::second::Second;
use super::secret::{self, Secret};
use crate::problem::Problem;

/// R55: a link can be used for so long.
const LINK_HOLDS: SignedDuration = SignedDuration::from_mins(15);

/// A used link is remembered for so long, to say that it was used.
const LINK_REMEMBERED: SignedDuration = SignedDuration::from_hours(24);

/// What a person comes in with.
#[derive(Clone, Serialize, Deserialize)]
pub(super) struct Account {
    /// Of the password an Argon2id hash (PHC string).
    pub(super) password: String,
    /// When it was chosen.
    pub(super) chosen: Timestamp,
    /// The second factor, where there is one.
    #[serde(default)]
    pub(super) second: Option<Second>,
}

/// A link to choose a password with.
#[derive(Clone, Serialize, Deserialize)]
pub(super) struct Link {
    hash: String,
    /// For whom; nobody yet in a book without accounts.
    person: Option<String>,
    made: Timestamp,
    used: bool,
}

impl Link {
    /// Whether anybody could still ask for it.
    pub(super) fn worth_keeping(&self, now: Timestamp) -> bool {
        now.duration_since(self.made) < LINK_REMEMBERED
    }
}

/// What a link is good for.
pub(in crate::web) enum LinkState {
    /// For this person to choose a password.
    For(PersonName),
    /// For the first person of the book.
    ForTheFirst,
}

impl Access {
    /// Whether nobody can come in yet.
    pub(in crate::web) fn nobody(&self) -> bool {
        self.desk().kept.accounts.is_empty()
    }

    /// The people who can come in.
    pub(in crate::web) fn people(&self) -> Vec<PersonName> {
        let people = |kept: &Kept| kept.accounts.keys().map(|it| PersonName(it.clone())).collect();
        people(&self.desk().kept)
    }

    /// A link with which `person` chooses a password; without one, the first person of the book.
    /// Earlier links for the same end with it.
    ///
    /// # Errors
    ///
    /// [`Problem`] where it cannot be kept.
    pub(in crate::web) fn link(
        &self,
        person: Option<&PersonName>,
        now: Timestamp,
    ) -> Result<Secret, Problem> {
        let secret = Secret::new()?;
        let person = person.map(|person| person.0.clone());
        let hash = secret.hash();
        self.desk().kept.change(|kept| {
            kept.tidy(now);
            kept.links.retain(|link| link.used || link.person != person);
            kept.links.push(Link { hash, person, made: now, used: false });
        })?;
        Ok(secret)
    }

    /// What the link with this word is good for.
    ///
    /// # Errors
    ///
    /// [`Problem`] where it was used, is over, or was never given out.
    pub(in crate::web) fn look_at_link(
        &self,
        word: &str,
        now: Timestamp,
    ) -> Result<LinkState, Problem> {
        let desk = self.desk();
        let link = open_link(&desk.kept, word, now)?;
        Ok(link
            .person
            .as_ref()
            .map_or(LinkState::ForTheFirst, |person| LinkState::For(PersonName(person.clone()))))
    }

    /// Uses a link up: from now on `person` comes in with the password of which `hash` is kept.
    /// Their sessions end.
    ///
    /// # Errors
    ///
    /// As [`Access::look_at_link`], and where it cannot be kept.
    pub(in crate::web) fn use_link(
        &self,
        word: &str,
        person: &PersonName,
        (hash, now): (String, Timestamp),
    ) -> Result<(), Problem> {
        let mut desk = self.desk();
        let shown = secret::hash(word);
        desk.kept.try_change(|kept| {
            // Another program may have let someone in by it meanwhile.
            open_link(kept, word, now)?;
            for link in &mut kept.links {
                // The first person has come: no further link for one is good.
                link.used |= link.hash == shown || link.person.is_none();
            }
            kept.sessions.retain(|session| session.person != person.0);
            // A forgotten password takes no second factor off.
            let second = kept.accounts.remove(&person.0).and_then(|account| account.second);
            let account = Account { password: hash, chosen: now, second };
            kept.accounts.insert(person.0.clone(), account);
            Ok(())
        })?;
        desk.wrong.forget(&person.0);
        Ok(())
    }

    /// Lets go of a person's password, links, sessions and passes. The record is not touched.
    ///
    /// # Errors
    ///
    /// [`Problem`] where it cannot be written.
    pub(in crate::web) fn close(&self, person: &PersonName) -> Result<(), Problem> {
        self.desk().kept.change(|kept| {
            kept.accounts.remove(&person.0);
            kept.links.retain(|link| link.person.as_deref() != Some(person.0.as_str()));
            kept.sessions.retain(|session| session.person != person.0);
            kept.passes.retain(|pass| pass.person != person.0);
        })
    }
}

fn open_link<'a>(kept: &'a Kept, word: &str, now: Timestamp) -> Result<&'a Link, Problem> {
    let shown = secret::hash(word);
    let hint = "Ask for a new one at Set up, or start `serve` anew with `--link NAME`.";
    let link = kept.links.iter().find(|link| link.hash == shown).ok_or_else(|| {
        Problem::used_wrongly("this link is not known here, or was replaced").hint(hint)
    })?;
    if link.used {
        return Err(Problem::used_wrongly("this link has been used").hint(hint));
    }
    if now.duration_since(link.made) >= LINK_HOLDS {
        return Err(Problem::used_wrongly("this link is older than 15 min").hint(hint));
    }
    Ok(link)
}
