//! Wrong sign-ins are counted by name, and after a few the next has to wait, ever longer.

use std::collections::BTreeMap;

use jiff::{SignedDuration, Timestamp};

use crate::problem::Problem;

/// R52: so many wrong sign-ins for one name …
const FREE: usize = 5;

/// … within so long are answered at once.
const WITHIN: SignedDuration = SignedDuration::from_mins(15);

/// The first wait; each further one is twice as long.
const FIRST_WAIT: SignedDuration = SignedDuration::from_secs(30);

/// Names that are remembered at most.
const NAMES_AT_MOST: usize = 1000;

/// The wrong sign-ins of the last quarter of an hour.
#[derive(Debug, Default)]
pub(super) struct Wrong(BTreeMap<String, Vec<Timestamp>>);

impl Wrong {
    /// Takes a turn for this name. It counts as wrong until [`Wrong::forget`], so that tries made
    /// at one time are all counted.
    pub(super) fn take_turn(&mut self, name: &str, now: Timestamp) -> Result<(), Problem> {
        self.make_room(now);
        let turns = self.0.entry(key(name)).or_default();
        turns.retain(|at| now.duration_since(*at) < WITHIN);
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

    /// The turn was right: there was nothing wrong with this name.
    pub(super) fn forget(&mut self, name: &str) {
        self.0.remove(&key(name));
    }

    fn make_room(&mut self, now: Timestamp) {
        if self.0.len() >= NAMES_AT_MOST {
            let lately = |turns: &mut Vec<Timestamp>| {
                turns.iter().any(|at| now.duration_since(*at) < WITHIN)
            };
            self.0.retain(|_, turns| lately(turns));
            while self.0.len() >= NAMES_AT_MOST {
                self.0.pop_first();
            }
        }
    }
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

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_sixth_wrong_sign_in_waits_and_each_wait_is_longer() {
        let start: Timestamp = "2026-11-25T12:00:00Z".parse().unwrap();
        let after = |seconds| start + SignedDuration::from_secs(seconds);
        let mut wrong = Wrong::default();
        for second in 0..5 {
            assert!(wrong.take_turn("Ana Ruiz", after(second)).is_ok());
        }
        let said = wrong.take_turn(" ana ruiz", after(10)).unwrap_err();
        assert_eq!(
            said.text,
            "5 wrong sign-ins for this name within 15 min; the next is taken in 24 s"
        );
        assert!(wrong.take_turn("Bo Lind", after(10)).is_ok());
        assert!(wrong.take_turn("Ana Ruiz", after(34)).is_ok());
        assert!(wrong.take_turn("Ana Ruiz", after(93)).is_err());
        assert!(wrong.take_turn("Ana Ruiz", after(94)).is_ok());
        wrong.forget("Ana Ruiz");
        assert!(wrong.take_turn("Ana Ruiz", after(95)).is_ok());
    }

    #[test]
    fn names_that_nobody_has_fill_no_memory() {
        let now: Timestamp = "2026-11-25T12:00:00Z".parse().unwrap();
        let mut wrong = Wrong::default();
        for number in 0..5000 {
            assert!(wrong.take_turn(&format!("name {number}"), now).is_ok());
        }
        assert!(wrong.0.len() <= NAMES_AT_MOST);
    }
}
