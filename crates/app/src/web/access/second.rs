//! The second factor: a code of six digits that changes every 30 s (RFC 6238), made by an
//! authenticator that shares a secret with the book.

use jiff::Timestamp;
use ring::hmac;
use serde::{Deserialize, Serialize};
use trial::number::PersonName;
use utoipa::ToSchema;

use super::Access;
use super::kept::Kept;
use crate::problem::Problem;

/// RFC 6238, 4.1: the step.
const STEP_SECONDS: i64 = 30;

/// What authenticators show.
const DIGITS: u32 = 6;

/// RFC 4226, 4, asks for 128 bits at least and would rather have 160.
const SECRET_BYTES: usize = 20;

/// RFC 6238, 5.2: one step earlier and one later, for a clock that is off.
const STEPS_OFF: i64 = 1;

/// What an account keeps of its second factor. The secret cannot be hashed: codes are made of it.
#[derive(Clone, Serialize, Deserialize)]
pub(super) struct Second {
    /// As hexadecimal digits.
    secret: String,
    /// The step of the last code that was taken: no code is taken twice.
    last_step: i64,
    /// Since when it is asked for; none until the first code was right.
    since: Option<Timestamp>,
}

/// Whether a second factor is asked for.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Deserialize, ToSchema)]
#[serde(rename_all = "kebab-case")]
pub(in crate::web) enum SecondFactor {
    /// Of engineers, quality managers and administrators.
    Asked,
    /// Of nobody; who has one gives it still.
    NotAsked,
}

/// How a person's second factor stands.
pub(in crate::web) struct SecondStands {
    /// Since when they have one.
    pub(in crate::web) since: Option<Timestamp>,
    /// The secret as an authenticator takes it, as long as they have none.
    pub(in crate::web) secret: Option<String>,
}

impl Second {
    fn new() -> Result<Self, Problem> {
        let mut bytes = [0; SECRET_BYTES];
        getrandom::fill(&mut bytes).map_err(|error| {
            Problem::surroundings("this machine gives no random numbers").because(&error)
        })?;
        Ok(Self { secret: hex::encode(bytes), last_step: i64::MIN, since: None })
    }

    /// Takes a code; whether it is right now, and was not taken before.
    fn take(&mut self, typed: &str, now: Timestamp) -> bool {
        let Ok(secret) = hex::decode(&self.secret) else { return false };
        let typed: String = typed.chars().filter(|c| !c.is_whitespace()).collect();
        let here = now.as_second().div_euclid(STEP_SECONDS);
        let mut steps = here - STEPS_OFF..=here + STEPS_OFF;
        let found = steps.find(|step| {
            let code = code(hmac::HMAC_SHA1_FOR_LEGACY_USE_ONLY, &secret, *step, DIGITS);
            *step > self.last_step && code == typed
        });
        if let Some(step) = found {
            self.last_step = step;
        }
        found.is_some()
    }
}

/// The code of a step (RFC 4226, 5.3, with the counter of RFC 6238, 4.2).
fn code(algorithm: hmac::Algorithm, secret: &[u8], step: i64, digits: u32) -> String {
    let tag = hmac::sign(&hmac::Key::new(algorithm, secret), &step.to_be_bytes());
    let tag = tag.as_ref();
    let offset = usize::from(tag.last().copied().unwrap_or_default() & 0x0f);
    let four = tag.get(offset..offset + 4).and_then(|it| <[u8; 4]>::try_from(it).ok());
    let number = u32::from_be_bytes(four.unwrap_or_default()) & 0x7fff_ffff;
    let width = usize::try_from(digits).unwrap_or_default();
    format!("{:0width$}", number % 10_u32.saturating_pow(digits))
}

/// RFC 4648, 6, without padding: how authenticators take a secret.
fn base32(bytes: &[u8]) -> String {
    const LETTERS: &[u8; 32] = b"ABCDEFGHIJKLMNOPQRSTUVWXYZ234567";
    let bits = bytes.iter().flat_map(|byte| (0..8).rev().map(move |bit| byte >> bit & 1));
    let bits: Vec<u8> = bits.collect();
    let letter = |five: &[u8]| {
        let number = five.iter().fold(0, |number, bit| number << 1 | usize::from(*bit));
        char::from(LETTERS[(number << (5 - five.len())) % LETTERS.len()])
    };
    bits.chunks(5).map(letter).collect()
}

impl Access {
    /// Whether engineers, quality managers and administrators are asked for a second factor.
    pub(in crate::web) fn asks_second(&self) -> bool {
        self.desk().kept.asks_second
    }

    /// Whether anybody has a second factor.
    pub(in crate::web) fn any_second(&self) -> bool {
        self.desk().kept.accounts.values().any(|account| since(&account.second).is_some())
    }

    /// Asks for a second factor from now on, or no longer.
    ///
    /// # Errors
    ///
    /// [`Problem`] where it cannot be kept.
    pub(in crate::web) fn ask_second(&self, second: SecondFactor) -> Result<(), Problem> {
        self.desk().kept.change(|kept| kept.asks_second = second == SecondFactor::Asked)
    }

    /// Whether a person has a second factor.
    pub(in crate::web) fn has_second(&self, person: &PersonName) -> bool {
        let desk = self.desk();
        desk.kept.accounts.get(&person.0).is_some_and(|it| since(&it.second).is_some())
    }

    /// How a person's second factor stands; without one a secret is made for it, once.
    ///
    /// # Errors
    ///
    /// [`Problem`] where there is no such account, or it cannot be kept.
    pub(in crate::web) fn second(&self, person: &PersonName) -> Result<SecondStands, Problem> {
        let mut desk = self.desk();
        let account = desk.kept.accounts.get(&person.0).ok_or_else(|| no_account(person))?;
        let second = match &account.second {
            Some(second) => second.clone(),
            None => {
                let second = Second::new()?;
                let made = Some(second.clone());
                desk.kept.change(|kept| {
                    if let Some(account) = kept.accounts.get_mut(&person.0) {
                        account.second = made;
                    }
                })?;
                second
            }
        };
        let secret = hex::decode(&second.secret).unwrap_or_default();
        let secret = second.since.is_none().then(|| base32(&secret));
        Ok(SecondStands { since: second.since, secret })
    }

    /// Takes the first code of a person's authenticator: from now on they are asked for one. Their
    /// other sessions end.
    ///
    /// # Errors
    ///
    /// [`Problem`] where the code is not right, too many were tried, or it cannot be kept.
    pub(in crate::web) fn begin_second(
        &self,
        person: &PersonName,
        (typed, word): (&str, &str),
        now: Timestamp,
    ) -> Result<(), Problem> {
        let mut desk = self.desk();
        desk.wrong.try_code(&person.0, now)?;
        let account = desk.kept.accounts.get(&person.0).ok_or_else(|| no_account(person))?;
        let second = account.second.clone().filter(|second| second.since.is_none());
        let mut second = second.ok_or_else(|| {
            Problem::conflict(format!("{person} has a second factor"))
                .hint("Ask who looks after people to take it off first.")
        })?;
        if !second.take(typed, now) {
            return Err(not_right());
        }
        second.since = Some(now);
        let shown = super::secret::hash(word);
        desk.kept.change(|kept| {
            kept.sessions.retain(|it| it.person != person.0 || it.hash == shown);
            keep(kept, person, Some(second));
        })
    }

    /// Takes a code at the sign-in of one who has a second factor; nothing is asked of another.
    ///
    /// # Errors
    ///
    /// [`Problem`] where none was typed or it is not right, and where it cannot be kept.
    pub(super) fn take_second(
        &self,
        person: &PersonName,
        typed: &str,
        now: Timestamp,
    ) -> Result<(), Problem> {
        let mut desk = self.desk();
        let account = desk.kept.accounts.get(&person.0);
        let second = account.and_then(|account| account.second.clone());
        let Some(mut second) = second.filter(|second| second.since.is_some()) else {
            return Ok(());
        };
        if typed.trim().is_empty() {
            return Err(Problem::used_wrongly("the code of your second factor is asked for too")
                .hint("Type the six digits that your authenticator shows now."));
        }
        if !second.take(typed, now) {
            return Err(not_right());
        }
        desk.kept.change(|kept| keep(kept, person, Some(second)))
    }

    /// Lets go of a person's second factor.
    ///
    /// # Errors
    ///
    /// [`Problem`] where they have none, or it cannot be kept.
    pub(in crate::web) fn forget_second(&self, person: &PersonName) -> Result<(), Problem> {
        if !self.has_second(person) {
            return Err(Problem::used_wrongly(format!("{person} has no second factor"))
                .hint("Nothing is to be done."));
        }
        self.desk().kept.change(|kept| keep(kept, person, None))
    }
}

fn keep(kept: &mut Kept, person: &PersonName, second: Option<Second>) {
    if let Some(account) = kept.accounts.get_mut(&person.0) {
        account.second = second;
    }
}

fn since(second: &Option<Second>) -> Option<Timestamp> {
    second.as_ref().and_then(|second| second.since)
}

fn not_right() -> Problem {
    Problem::used_wrongly("the code is not the one of now, or was used")
        .hint("Wait for the next one, and check the clock of the device that shows it.")
}

fn no_account(person: &PersonName) -> Problem {
    Problem::used_wrongly(format!("{person} has no password")).hint("Ask for a link at Set up.")
}

#[cfg(test)]
mod tests {
    use super::*;

    /// RFC 6238, appendix B: time, and the codes by HMAC-SHA-1, -256 and -512.
    const VECTORS: [(i64, [&str; 3]); 6] = [
        (59, ["94287082", "46119246", "90693936"]),
        (1_111_111_109, ["07081804", "68084774", "25091201"]),
        (1_111_111_111, ["14050471", "67062674", "99943326"]),
        (1_234_567_890, ["89005924", "91819424", "93441116"]),
        (2_000_000_000, ["69279037", "90698825", "38618901"]),
        (20_000_000_000, ["65353130", "77737706", "47863826"]),
    ];

    #[test]
    fn rfc_6238_appendix_b() {
        let algorithms = [
            (hmac::HMAC_SHA1_FOR_LEGACY_USE_ONLY, 20),
            (hmac::HMAC_SHA256, 32),
            (hmac::HMAC_SHA512, 64),
        ];
        for (time, codes) in VECTORS {
            for ((algorithm, long), expected) in algorithms.into_iter().zip(codes) {
                let secret: Vec<u8> = b"1234567890".iter().copied().cycle().take(long).collect();
                assert_eq!(code(algorithm, &secret, time / STEP_SECONDS, 8), expected, "{time}");
            }
        }
    }

    /// RFC 4226, appendix D: the codes of the counts 0 to 9.
    #[test]
    fn rfc_4226_appendix_d() {
        let codes = [
            "755224", "287082", "359152", "969429", "338314", "254676", "287922", "162583",
            "399871", "520489",
        ];
        for (count, expected) in (0..).zip(codes) {
            let secret = b"12345678901234567890";
            assert_eq!(code(hmac::HMAC_SHA1_FOR_LEGACY_USE_ONLY, secret, count, 6), expected);
        }
    }

    /// RFC 4648, 10, without the padding.
    #[test]
    fn rfc_4648_section_10() {
        let check = |bytes: &str, text: &str| assert_eq!(base32(bytes.as_bytes()), text);
        check("", "");
        check("f", "MY");
        check("fo", "MZXQ");
        check("foo", "MZXW6");
        check("foob", "MZXW6YQ");
        check("fooba", "MZXW6YTB");
        check("foobar", "MZXW6YTBOI");
    }

    #[test]
    fn a_code_is_taken_once_and_within_one_step() {
        let secret = hex::encode(b"12345678901234567890");
        let mut second = Second { secret, last_step: i64::MIN, since: None };
        let at = |seconds| Timestamp::from_second(seconds).unwrap();
        // Of the step 1: 287082.
        assert!(!second.take("287082", at(90)), "two steps later");
        assert!(second.take("287 082", at(89)));
        assert!(!second.take("287082", at(59)), "it was used");
        assert!(!second.take("755224", at(29)), "an earlier one than the last");
        assert!(second.take("359152", at(59)), "the next one");
        assert!(!second.take("", at(59)));
    }
}
