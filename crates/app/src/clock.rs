//! The only reader of the clock.
#![expect(clippy::disallowed_methods, reason = "the one place where the time of day is read")]

use std::time::Instant;

use acquisition::Clock;
use jiff::Timestamp;
use metrology::Duration;

use crate::problem::Problem;

/// The variable that holds the clock still, so that a demonstration gives the same bytes twice. After
/// an `@` it names a file that holds the instant, so that a test can move the clock.
const FIXED: &str = "CINDERBOOK_CLOCK";

/// The instant now: the machine's, or the one that `CINDERBOOK_CLOCK` holds.
///
/// # Errors
///
/// When `CINDERBOOK_CLOCK` holds no instant.
pub(crate) fn now() -> Result<Timestamp, Problem> {
    let Some(fixed) = std::env::var_os(FIXED) else { return Ok(Timestamp::now()) };
    let mut fixed = fixed.to_string_lossy().into_owned();
    if let Some(file) = fixed.strip_prefix('@') {
        // What cannot be read holds no instant, and is named so below.
        fixed = std::fs::read_to_string(file).unwrap_or(fixed);
    }
    fixed.trim().parse().map_err(|error: jiff::Error| {
        Problem::used_wrongly(format!("{FIXED} is set to `{fixed}`, which is no instant"))
            .because(&error)
            .hint("Write one such as 2026-03-02T08:30:00Z, or unset it.")
    })
}

/// A clock that never runs backwards, from now on; the times of readings are its own.
pub(crate) fn running() -> Clock {
    let begun = Instant::now();
    Clock::new(move || Duration::from_seconds(begun.elapsed().as_secs_f64()))
}
