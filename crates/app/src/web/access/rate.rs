//! How many requests of one session are answered (R52).

use std::collections::BTreeMap;

/// So many a second in the long run …
const A_SECOND: f64 = 50.0;

/// … and so many at a time: what a minute of them comes to.
const AT_A_TIME: f64 = 60.0 * A_SECOND;

/// Sessions that are remembered at most.
const AT_MOST: usize = 1000;

/// What each session has left.
#[derive(Debug, Default)]
pub(super) struct Rates(BTreeMap<String, Left>);

#[derive(Clone, Copy, Debug)]
struct Left {
    requests: f64,
    at_s: f64,
}

impl Rates {
    /// Takes a request of this session at an instant in seconds; whether it is answered.
    pub(super) fn take(&mut self, session: &str, now_s: f64) -> bool {
        if self.0.len() >= AT_MOST && !self.0.contains_key(session) {
            // Whoever has all left again need not be remembered.
            self.0.retain(|_, left| left.now(now_s) < AT_A_TIME);
            while self.0.len() >= AT_MOST {
                self.0.pop_first();
            }
        }
        let fresh = Left { requests: AT_A_TIME, at_s: now_s };
        let left = self.0.entry(session.to_owned()).or_insert(fresh);
        let requests = left.now(now_s);
        let taken = requests >= 1.0;
        *left = Left { requests: if taken { requests - 1.0 } else { requests }, at_s: now_s };
        taken
    }
}

impl Left {
    fn now(self, now_s: f64) -> f64 {
        let come = (now_s - self.at_s).max(0.0) * A_SECOND;
        (self.requests + come).min(AT_A_TIME)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn after_a_minutes_worth_at_once_fifty_a_second_are_answered() {
        let mut rates = Rates::default();
        let mut taken =
            |requests: u32, now_s| (0..requests).filter(|_| rates.take("one", now_s)).count();
        assert_eq!(taken(4000, 0.0), 3000);
        assert_eq!(taken(100, 1.0), 50);
        assert_eq!(taken(100, 1.0), 0);
        assert_eq!(taken(4000, 1000.0), 3000);
        assert!(rates.take("another", 1000.0));
    }

    #[test]
    fn sessions_fill_no_memory() {
        let mut rates = Rates::default();
        for number in 0..5000 {
            assert!(rates.take(&format!("session {number}"), 0.0));
        }
        assert!(rates.0.len() <= AT_MOST);
    }
}
