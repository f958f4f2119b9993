//! Sessions: who is in, on which browser, since when, and when that ends by itself.

use jiff::{SignedDuration, Timestamp};
use serde::{Deserialize, Serialize};
use trial::number::PersonName;

use super::Access;
use super::device::{self, Device, Known};
use super::secret::{self, Secret};
use crate::problem::Problem;

/// R42: without any request for so long, a session ends.
const IDLE: SignedDuration = SignedDuration::from_mins(30);

/// R42: no session lasts longer.
const AT_MOST: SignedDuration = SignedDuration::from_hours(12);

/// The last request is noted on the disk when the note is this old.
const NOTED_EVERY: SignedDuration = SignedDuration::from_mins(1);

/// A session is remembered for so long after its last request.
pub(in crate::web) const REMEMBERED: SignedDuration = SignedDuration::from_hours(72);

/// One person on one browser.
#[derive(Clone, Serialize, Deserialize)]
pub(in crate::web) struct Session {
    pub(super) hash: String,
    /// Who.
    pub(in crate::web) person: String,
    /// Since when.
    pub(in crate::web) began: Timestamp,
    /// The last request, to the minute.
    pub(in crate::web) seen: Timestamp,
    /// What kind of device it is on.
    pub(in crate::web) device: String,
    /// The enrolled device that it is on.
    #[serde(default)]
    pub(in crate::web) enrolled: Option<String>,
    /// Whether something was signed in it, with both parts.
    #[serde(default)]
    pub(super) signed: bool,
}

/// How a session stands.
pub(in crate::web) enum Standing {
    /// It holds, for this person.
    Holds(PersonName),
    /// Its time is over.
    Over(PersonName),
    /// There is none.
    None,
}

impl Session {
    /// What it is called on pages: no secret.
    pub(in crate::web) fn name(&self) -> &str {
        self.hash.get(..12).unwrap_or(&self.hash)
    }

    /// Whether it is the one with this secret.
    pub(in crate::web) fn has(&self, word: &str) -> bool {
        self.hash == secret::hash(word)
    }

    pub(super) fn worth_keeping(&self, now: Timestamp) -> bool {
        now.duration_since(self.seen) < REMEMBERED
    }

    fn holds(&self, now: Timestamp) -> bool {
        now.duration_since(self.seen) < IDLE && now.duration_since(self.began) < AT_MOST
    }
}

/// What kind of device a browser says it runs on.
fn kind(agent: &str) -> &'static str {
    let says = |word| agent.contains(word);
    if !says("Mozilla") {
        "a program"
    } else if says("iPhone") || says("Android") && says("Mobile") {
        "a phone"
    } else if says("iPad") || says("Android") {
        "a tablet"
    } else {
        "a PC"
    }
}

impl Access {
    /// Begins a session, on the enrolled device that has shown itself. The secret goes to the browser alone.
    ///
    /// # Errors
    ///
    /// [`Problem`] where it cannot be kept.
    pub(in crate::web) fn begin(
        &self,
        person: &PersonName,
        (agent, known): (&str, Option<Known>),
        now: Timestamp,
    ) -> Result<Secret, Problem> {
        let secret = Secret::new()?;
        self.desk().kept.change(|kept| {
            kept.tidy(now);
            let enrolled = device::note(kept, known, now);
            kept.sessions.push(Session {
                hash: secret.hash(),
                person: person.0.clone(),
                began: now,
                seen: now,
                device: kind(agent).to_owned(),
                enrolled,
                signed: false,
            });
        })?;
        Ok(secret)
    }

    /// How the session of this secret stands.
    pub(in crate::web) fn standing(&self, word: &str, now: Timestamp) -> Standing {
        let shown = secret::hash(word);
        let desk = self.desk();
        let Some(session) = desk.kept.sessions.iter().find(|session| session.hash == shown) else {
            return Standing::None;
        };
        let person = PersonName(session.person.clone());
        if session.holds(now) { Standing::Holds(person) } else { Standing::Over(person) }
    }

    /// Whether the session of this secret is known: it holds, or its time is over.
    pub(in crate::web) fn knows(&self, word: &str) -> bool {
        let shown = secret::hash(word);
        self.desk().kept.sessions.iter().any(|session| session.hash == shown)
    }

    /// Notes a request of this session.
    ///
    /// # Errors
    ///
    /// [`Problem`] where it cannot be kept.
    pub(in crate::web) fn note(&self, word: &str, now: Timestamp) -> Result<(), Problem> {
        let shown = secret::hash(word);
        let mut desk = self.desk();
        let old = |session: &Session| {
            session.hash == shown && now.duration_since(session.seen) >= NOTED_EVERY
        };
        if !desk.kept.sessions.iter().any(old) {
            return Ok(());
        }
        desk.kept.change(|kept| {
            for session in kept.sessions.iter_mut().filter(|session| session.hash == shown) {
                session.seen = now;
                let on = |device: &&mut Device| session.enrolled.as_deref() == Some(&device.name);
                if let Some(device) = kept.devices.iter_mut().find(on) {
                    device.seen = Some(now);
                }
            }
        })
    }

    /// Ends the session of this secret.
    ///
    /// # Errors
    ///
    /// [`Problem`] where it cannot be kept.
    pub(in crate::web) fn sign_out(&self, word: &str) -> Result<(), Problem> {
        let shown = secret::hash(word);
        self.desk().kept.change(|kept| kept.sessions.retain(|session| session.hash != shown))
    }

    /// Ends a person's session of this name, or with none named all of them.
    ///
    /// # Errors
    ///
    /// [`Problem`] where it cannot be kept.
    pub(in crate::web) fn end(&self, person: &str, name: Option<&str>) -> Result<(), Problem> {
        self.desk().kept.change(|kept| {
            kept.sessions.retain(|session| {
                session.person != person || name.is_some_and(|name| session.name() != name)
            });
        })
    }

    /// The sessions that hold, the newest first.
    pub(in crate::web) fn sessions(&self, now: Timestamp) -> Vec<Session> {
        let desk = self.desk();
        let hold = desk.kept.sessions.iter().filter(|session| session.holds(now));
        let mut sessions: Vec<Session> = hold.cloned().collect();
        sessions.sort_by_key(|session| std::cmp::Reverse(session.began));
        sessions
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_browser_says_what_it_runs_on() {
        assert_eq!(kind("Mozilla/5.0 (Linux; Android 15; tablet) Chrome/140"), "a tablet");
        assert_eq!(kind("Mozilla/5.0 (Linux; Android 15) Chrome/140 Mobile"), "a phone");
        assert_eq!(kind("Mozilla/5.0 (X11; Linux x86_64) Chrome/140"), "a PC");
        assert_eq!(kind("ureq/3.0"), "a program");
    }

    #[test]
    fn a_session_ends_when_idle_and_after_half_a_day() {
        let began: Timestamp = "2026-11-25T08:00:00Z".parse().unwrap();
        let after = |minutes| began + SignedDuration::from_mins(minutes);
        let session = |seen| Session {
            hash: String::new(),
            person: String::new(),
            began,
            seen,
            device: String::new(),
            enrolled: None,
            signed: false,
        };
        assert!(session(began).holds(after(29)) && !session(began).holds(after(30)));
        assert!(session(after(700)).holds(after(719)) && !session(after(700)).holds(after(720)));
    }
}
