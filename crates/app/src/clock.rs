//! The only reader of the clock.
#![expect(clippy::disallowed_methods, reason = "the one place where the time of day is read")]

use std::time::Instant;

use acquisition::Clock;
use jiff::Timestamp;
use jiff::civil::Date;
use jiff::tz::TimeZone;
use metrology::Duration;
use trial::clocks::clocks;

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

/// Whether the clock is held still: then it is nobody's, and no device is held against it.
pub(crate) fn is_held() -> bool {
    std::env::var_os(FIXED).is_some()
}

/// The day before which no clock of this program's machine is right: that of the newest rules, or
/// of the commit that a release was built from. A clock that is held still may show one before that.
pub(crate) fn not_before() -> Date {
    let built = option_env!("SOURCE_DATE_EPOCH").filter(|_| !is_held());
    let second = built.and_then(|second| Timestamp::from_second(second.parse().ok()?).ok());
    let day = second.map(|second| TimeZone::UTC.to_datetime(second).date());
    day.map_or(clocks().not_before, |day| day.max(clocks().not_before))
}

/// A clock that never runs backwards, from now on; the times of readings are its own.
pub(crate) fn running() -> Clock {
    let begun = Instant::now();
    Clock::new(move || Duration::from_seconds(begun.elapsed().as_secs_f64()))
}
