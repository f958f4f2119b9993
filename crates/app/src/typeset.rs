//! Pages that are set within a time, or refused with the reason (R75).

use std::sync::atomic::{AtomicBool, Ordering};
use std::sync::mpsc::{self, RecvTimeoutError};
use std::thread;
use std::time::Duration;

use crate::problem::Problem;

/// So long the pages of an answer may take.
pub(crate) const ANSWERED: Duration = Duration::from_secs(20);

/// Whether one that took too long is still at work: it cannot be stopped, and a second one beside it
/// would take the machine from the bench.
static OVERDUE: AtomicBool = AtomicBool::new(false);

/// Does `work` within `limit`, or waits for its end where there is none.
///
/// # Errors
///
/// [`Problem`] where it took longer, or an earlier one that did is still at work.
pub(crate) fn within<T: Send + 'static>(
    limit: Option<Duration>,
    work: impl FnOnce() -> T + Send + 'static,
) -> Result<T, Problem> {
    within_one(limit, &OVERDUE, work)
}

fn within_one<T: Send + 'static>(
    limit: Option<Duration>,
    overdue: &'static AtomicBool,
    work: impl FnOnce() -> T + Send + 'static,
) -> Result<T, Problem> {
    let Some(limit) = limit else { return Ok(work()) };
    if overdue.load(Ordering::SeqCst) {
        return Err(Problem::surroundings(
            "pages that took too long are still being set, and cannot be stopped",
        )
        .hint("Ask again later, or start the program anew."));
    }
    let (done, waiting) = mpsc::channel();
    thread::spawn(move || {
        if done.send(work()).is_err() {
            overdue.store(false, Ordering::SeqCst);
        }
    });
    waiting.recv_timeout(limit).map_err(|why| match why {
        RecvTimeoutError::Timeout => {
            overdue.store(true, Ordering::SeqCst);
            let seconds = limit.as_secs();
            Problem::surroundings(format!("the pages took longer than {seconds} s to be set"))
                .hint("Nothing was issued. Set them with `cinderbook report`, which waits.")
        }
        RecvTimeoutError::Disconnected => {
            Problem::surroundings("the pages were not set: this is a bug of ours")
        }
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_takes_too_long_is_refused_and_a_second_one_waits_for_its_end() {
        static OWN: AtomicBool = AtomicBool::new(false);
        let short = Some(Duration::from_millis(1));
        assert_eq!(within_one(None, &OWN, || 7), Ok(7));
        let (go, gate) = mpsc::channel::<()>();
        let refused = within_one(short, &OWN, move || gate.recv().is_ok()).unwrap_err();
        assert!(refused.text.starts_with("the pages took longer than"), "{}", refused.text);
        let refused = within_one(short, &OWN, || ()).unwrap_err();
        assert!(refused.text.starts_with("pages that took too long"), "{}", refused.text);
        drop(go);
        while OWN.load(Ordering::SeqCst) {
            thread::yield_now();
        }
        assert_eq!(within_one(Some(ANSWERED), &OWN, || 8), Ok(8));
    }

    #[test]
    fn a_panic_while_pages_are_set_is_ours() {
        static OWN: AtomicBool = AtomicBool::new(false);
        let refused = within_one(Some(ANSWERED), &OWN, || panic!("made to")).map(|()| 0);
        assert!(refused.unwrap_err().text.contains("a bug of ours"));
    }
}
