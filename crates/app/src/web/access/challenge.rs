//! Challenges: what an enrolled device signs to show that it is there now. One is good once, for two
//! minutes, for the browser and the address that asked for it.

use std::collections::BTreeMap;
use std::sync::{Mutex, PoisonError};

use jiff::Timestamp;
use ring::hmac;

use super::secret::Secret;
use crate::problem::Problem;

/// A challenge is good for so long.
pub(in crate::web) const HOLDS_SECONDS: i64 = 120;

/// The way out where one no longer is.
pub(super) const STALE: &str = "Open the page again, and do it once more.";

/// What challenges are made with: nothing is kept of one that was given out. They end with the program.
pub(super) struct Challenges {
    key: hmac::Key,
    /// Those that were used, and till when they would have been good.
    used: Mutex<BTreeMap<String, i64>>,
}

impl Challenges {
    /// None was given out yet.
    ///
    /// # Errors
    ///
    /// [`Problem`] where this machine gives no random numbers.
    pub(super) fn new() -> Result<Self, Problem> {
        let secret = Secret::new()?;
        let key = hmac::Key::new(hmac::HMAC_SHA256, secret.word().as_bytes());
        Ok(Self { key, used: Mutex::default() })
    }

    /// A challenge for a browser at this address, and the word that it must show with it.
    pub(super) fn make(&self, origin: &str, now: Timestamp) -> Result<(Secret, String), Problem> {
        let word = Secret::new()?;
        let until = now.as_second() + HOLDS_SECONDS;
        let tag = hmac::sign(&self.key, said(until, (origin, word.word())).as_bytes());
        Ok((word, format!("{until}.{}", hex::encode(tag))))
    }

    /// Whether a challenge is good for who shows this word at this address.
    pub(super) fn look(
        &self,
        challenge: &str,
        by: (&str, &str),
        now: Timestamp,
    ) -> Result<(), Problem> {
        let parts = challenge.split_once('.');
        let parts =
            parts.and_then(|(until, tag)| Some((until.parse().ok()?, hex::decode(tag).ok()?)));
        let own = |(until, tag): &(i64, Vec<u8>)| {
            hmac::verify(&self.key, said(*until, by).as_bytes(), tag).is_ok()
        };
        match parts.filter(own) {
            None => Err(Problem::used_wrongly("this device signed what was not asked of it here")
                .hint(STALE)),
            Some((until, _)) if until <= now.as_second() => {
                Err(Problem::used_wrongly("this device signed what was asked more than 2 min ago")
                    .hint(STALE))
            }
            Some(_) => Ok(()),
        }
    }

    /// Uses a good one up.
    pub(super) fn use_up(&self, challenge: &str, now: Timestamp) -> Result<(), Problem> {
        let mut used = self.used.lock().unwrap_or_else(PoisonError::into_inner);
        used.retain(|_, until| *until > now.as_second());
        let until = now.as_second() + HOLDS_SECONDS;
        match used.insert(challenge.to_owned(), until) {
            None => Ok(()),
            Some(_) => {
                Err(Problem::used_wrongly("what this device signed was shown before").hint(STALE))
            }
        }
    }
}

fn said(until: i64, (origin, word): (&str, &str)) -> String {
    format!("{until}\n{origin}\n{word}")
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_challenge_is_good_once_for_two_minutes_for_who_asked_where_it_was_asked() {
        let at = |second: i64| Timestamp::from_second(1_700_000_000 + second).unwrap();
        let challenges = Challenges::new().unwrap();
        let (word, challenge) = challenges.make("https://10.0.0.7:4160", at(0)).unwrap();
        let check = |challenge: &str, (origin, word): (&str, &str), second, said: Option<&str>| {
            let refused = challenges.look(challenge, (origin, word), at(second)).err();
            assert_eq!(refused.map(|it| it.text).as_deref(), said, "{challenge} {origin} {second}");
        };
        let here = ("https://10.0.0.7:4160", word.word());
        let strange = Some("this device signed what was not asked of it here");
        check(&challenge, here, 119, None);
        check(&challenge, here, 120, Some("this device signed what was asked more than 2 min ago"));
        check(&challenge, ("https://10.0.0.8:4160", word.word()), 1, strange);
        check(&challenge, (here.0, "another word"), 1, strange);
        let longer = challenge.replacen("1700000120", "1700000999", 1);
        assert_ne!(longer, challenge);
        for made_up in [longer.as_str(), "1700000999.00", ".", "", "x.y"] {
            check(made_up, here, 1, strange);
        }
        // One that another program, or this one before its end, gave out.
        assert!(Challenges::new().unwrap().look(&challenge, here, at(1)).is_err());
        assert!(challenges.use_up(&challenge, at(2)).is_ok());
        assert_eq!(
            challenges.use_up(&challenge, at(3)).unwrap_err().text,
            "what this device signed was shown before"
        );
    }
}
