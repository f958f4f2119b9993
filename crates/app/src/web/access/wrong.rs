//! Sign-ins are counted by name and by address: after a few the next has to wait.

use std::collections::BTreeMap;
use std::net::{IpAddr, Ipv6Addr};

use jiff::{SignedDuration, Timestamp};

use crate::problem::Problem;

/// R52: so many wrong sign-ins for one name …
const FREE: usize = 5;

/// … within so long are answered at once.
const WITHIN: SignedDuration = SignedDuration::from_mins(15);

/// The first wait; each further one is twice as long.
const FIRST_WAIT: SignedDuration = SignedDuration::from_secs(30);

/// R52: so many sign-ins from one address, right or wrong …
const FROM_ONE_ADDRESS: usize = 20;

/// … within so long.
const A_MINUTE: SignedDuration = SignedDuration::from_mins(1);

/// Names, and addresses, that are remembered at most.
const AT_MOST: usize = 1000;

/// The sign-ins of the last while.
#[derive(Debug, Default)]
pub(super) struct Wrong {
    /// Wrong ones, by name.
    names: BTreeMap<String, Vec<Timestamp>>,
    /// First codes of a second factor, by name.
    codes: BTreeMap<String, Vec<Timestamp>>,
    /// All, by address.
    addresses: BTreeMap<IpAddr, Vec<Timestamp>>,
}

impl Wrong {
    /// Takes a turn for this name from this address. It counts as wrong until [`Wrong::forget`],
    /// so that tries made at one time are all counted.
    pub(super) fn take_turn(
        &mut self,
        name: &str,
        from: IpAddr,
        now: Timestamp,
    ) -> Result<(), Problem> {
        let from = turns(&mut self.addresses, network(from), (A_MINUTE, now));
        if let (true, Some(first)) = (from.len() >= FROM_ONE_ADDRESS, from.first()) {
            let wait = A_MINUTE - now.duration_since(*first);
            return Err(Problem::used_wrongly(format!(
                "{} sign-ins from this address within 1 min; the next is taken in {} s",
                from.len(),
                wait.as_secs().max(1)
            ))
            .hint("Wait, then sign in once."));
        }
        from.push(now);
        self.take_turn_of(name, now)
    }

    /// Takes a turn for this name alone: of one who is in already.
    pub(super) fn take_turn_of(&mut self, name: &str, now: Timestamp) -> Result<(), Problem> {
        let turns = turns(&mut self.names, key(name), (WITHIN, now));
        if let Some(wait) = wait(turns, now) {
            return Err(Problem::used_wrongly(format!(
                "{} wrong sign-ins for this name within 15 min; the next is taken in {} s",
                turns.len(),
                wait.as_secs().max(1)
            ))
            .hint("Wait, or ask for a link at Set up to choose a new password."));
        }
        turns.push(now);
        Ok(())
    }

    /// Takes a turn for a first code of this person's second factor.
    pub(super) fn try_code(&mut self, name: &str, now: Timestamp) -> Result<(), Problem> {
        let turns = turns(&mut self.codes, key(name), (WITHIN, now));
        if let Some(wait) = wait(turns, now) {
            let text = format!("the next code is taken in {} s", wait.as_secs().max(1));
            return Err(Problem::used_wrongly(text).hint("Wait, then type the code of then."));
        }
        turns.push(now);
        Ok(())
    }

    /// The turn was right: there was nothing wrong with this name.
    pub(super) fn forget(&mut self, name: &str) {
        self.names.remove(&key(name));
    }
}

/// The turns of `one` that are not too old, of a map that does not grow without end.
fn turns<K: Ord + Clone>(
    all: &mut BTreeMap<K, Vec<Timestamp>>,
    one: K,
    (within, now): (SignedDuration, Timestamp),
) -> &mut Vec<Timestamp> {
    let lately = |at: &Timestamp| now.duration_since(*at) < within;
    if all.len() >= AT_MOST {
        all.retain(|_, turns| turns.iter().any(lately));
        while all.len() >= AT_MOST {
            all.pop_first();
        }
    }
    let turns = all.entry(one).or_default();
    turns.retain(lately);
    turns
}

/// How long until the next is taken; none if it is taken now.
fn wait(turns: &[Timestamp], now: Timestamp) -> Option<SignedDuration> {
    let (last, over) = (turns.last()?, turns.len().checked_sub(FREE)?);
    let factor = 1_i32.checked_shl(u32::try_from(over).ok()?).unwrap_or(i32::MAX);
    let wait = FIRST_WAIT.checked_mul(factor).unwrap_or(WITHIN).min(WITHIN);
    let left = wait - now.duration_since(*last);
    left.is_positive().then_some(left)
}

fn key(name: &str) -> String {
    name.trim().to_lowercase().chars().take(100).collect()
}

/// What one machine cannot change: of an IPv6 address the first 64 bits (RFC 4291, 2.5.4).
fn network(address: IpAddr) -> IpAddr {
    match address.to_canonical() {
        IpAddr::V4(_) => address.to_canonical(),
        IpAddr::V6(address) => {
            let [a, b, c, d, ..] = address.segments();
            Ipv6Addr::new(a, b, c, d, 0, 0, 0, 0).into()
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn here() -> IpAddr {
        "10.0.0.7".parse().unwrap()
    }

    #[test]
    fn the_sixth_wrong_sign_in_waits_and_each_wait_is_longer() {
        let start: Timestamp = "2026-11-25T12:00:00Z".parse().unwrap();
        let after = |seconds| start + SignedDuration::from_secs(seconds);
        let mut wrong = Wrong::default();
        let mut turn = |name: &str, seconds| wrong.take_turn(name, here(), after(seconds));
        for second in 0..5 {
            assert!(turn("Ana Ruiz", second).is_ok());
        }
        let said = turn(" ana ruiz", 10).unwrap_err();
        assert_eq!(
            said.text,
            "5 wrong sign-ins for this name within 15 min; the next is taken in 24 s"
        );
        assert!(turn("Bo Lind", 10).is_ok());
        assert!(turn("Ana Ruiz", 34).is_ok());
        assert!(turn("Ana Ruiz", 93).is_err());
        assert!(turn("Ana Ruiz", 94).is_ok());
        wrong.forget("Ana Ruiz");
        assert!(wrong.take_turn("Ana Ruiz", here(), after(95)).is_ok());
    }

    #[test]
    fn from_one_address_twenty_sign_ins_a_minute_are_taken() {
        let start: Timestamp = "2026-11-25T12:00:00Z".parse().unwrap();
        let after = |seconds| start + SignedDuration::from_secs(seconds);
        let mut wrong = Wrong::default();
        for second in 0..20 {
            assert!(wrong.take_turn(&format!("name {second}"), here(), after(second)).is_ok());
        }
        let said = wrong.take_turn("Ana Ruiz", here(), after(20)).unwrap_err();
        assert_eq!(
            said.text,
            "20 sign-ins from this address within 1 min; the next is taken in 40 s"
        );
        assert!(wrong.take_turn("Ana Ruiz", "10.0.0.8".parse().unwrap(), after(20)).is_ok());
        assert!(wrong.take_turn("Ana Ruiz", here(), after(60)).is_ok());
        assert!(wrong.take_turn("Ana Ruiz", here(), after(60)).is_err());
        // Within one network a machine takes whichever IPv6 address it likes.
        let of = |last: u16| IpAddr::from(Ipv6Addr::new(0xfd00, 0, 0, 7, 1, 2, 3, last));
        assert_eq!(network(of(1)), network(of(2)));
    }

    #[test]
    fn names_that_nobody_has_fill_no_memory() {
        let now: Timestamp = "2026-11-25T12:00:00Z".parse().unwrap();
        let mut wrong = Wrong::default();
        for number in 0..5000_u16 {
            let from = IpAddr::from([10, 1, number.to_be_bytes()[0], number.to_be_bytes()[1]]);
            assert!(wrong.take_turn(&format!("name {number}"), from, now).is_ok());
        }
        assert!(wrong.names.len() <= AT_MOST && wrong.addresses.len() <= AT_MOST);
    }
}
