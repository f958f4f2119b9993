//! When something was: a moment on the calendar, and an instant on one device's own clock.

use metrology::Duration;
use std::fmt;

/// An instant in UTC, kept to the microsecond. It is a value: this room never asks for the time.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub struct Moment(jiff::Timestamp);

/// A text or number that is no moment.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
#[error("`{found}` is no moment: {why}")]
pub struct MomentError {
    /// What stood there.
    pub found: String,
    /// What is wrong with it.
    pub why: String,
}

impl MomentError {
    /// The way out.
    #[must_use]
    pub const fn hint(&self) -> &'static str {
        "Write date and time in UTC, such as 2026-03-02T09:15:00Z."
    }
}

impl Moment {
    /// The moment `microseconds` after 1970-01-01T00:00:00Z.
    ///
    /// # Errors
    ///
    /// [`MomentError`] outside the years −9999 to 9999.
    ///
    /// ```
    /// let moment = trial::moment::Moment::from_unix_microseconds(1_000_000)?;
    /// assert_eq!(moment.to_string(), "1970-01-01T00:00:01Z");
    /// # Ok::<(), trial::moment::MomentError>(())
    /// ```
    pub fn from_unix_microseconds(microseconds: i64) -> Result<Self, MomentError> {
        jiff::Timestamp::from_microsecond(microseconds)
            .map(Self)
            .map_err(|why| MomentError { found: microseconds.to_string(), why: why.to_string() })
    }

    /// Whole microseconds since 1970-01-01T00:00:00Z.
    #[must_use]
    pub fn unix_microseconds(self) -> i64 {
        self.0.as_microsecond()
    }

    /// Reads a moment with its offset, such as `2026-03-02T09:15:00Z`; less than a microsecond is
    /// cut off.
    ///
    /// # Errors
    ///
    /// [`MomentError`] if the text is no date and time with an offset.
    pub fn parse(text: &str) -> Result<Self, MomentError> {
        let refuse = |why: jiff::Error| MomentError { found: text.into(), why: why.to_string() };
        let timestamp: jiff::Timestamp = text.trim().parse().map_err(refuse)?;
        Self::from_unix_microseconds(timestamp.as_microsecond())
    }

    /// The time from `earlier` to this moment, exact to the microsecond.
    #[must_use]
    pub fn since(self, earlier: Self) -> Duration {
        Duration::from_microseconds(self.unix_microseconds() - earlier.unix_microseconds())
    }

    /// The day in UTC.
    #[must_use]
    pub fn day(self) -> jiff::civil::Date {
        jiff::tz::TimeZone::UTC.to_datetime(self.0).date()
    }
}

impl fmt::Display for Moment {
    fn fmt(&self, out: &mut fmt::Formatter<'_>) -> fmt::Result {
        self.0.fmt(out)
    }
}

/// An instant in whole microseconds on one device's clock, since "flame on specimen" in a run and
/// since the sitting began in a press.
///
/// Whole numbers, so that 42.3 s less 12.3 s is 30 s and not a hair off it: a verdict at the
/// limit must not hang on the last bit of a subtraction.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub struct Elapsed(i64);

impl Elapsed {
    /// The first "flame on specimen" of a run.
    pub const ZERO: Self = Self(0);

    /// This many microseconds after it.
    #[must_use]
    pub const fn from_microseconds(microseconds: i64) -> Self {
        Self(microseconds)
    }

    /// Whole microseconds.
    #[must_use]
    pub const fn microseconds(self) -> i64 {
        self.0
    }

    /// The time from `earlier` to this instant, exact.
    ///
    /// ```
    /// use trial::moment::Elapsed;
    /// let removed = Elapsed::from_microseconds(12_300_000);
    /// let out = Elapsed::from_microseconds(42_300_000);
    /// assert_eq!(out.since(removed).seconds(), 30.0);
    /// ```
    #[must_use]
    pub const fn since(self, earlier: Self) -> Duration {
        Duration::from_microseconds(self.0.saturating_sub(earlier.0))
    }
}

impl fmt::Display for Elapsed {
    /// In seconds, with as many decimals as it has.
    fn fmt(&self, out: &mut fmt::Formatter<'_>) -> fmt::Result {
        let sign = if self.0 < 0 { "-" } else { "" };
        let (whole, part) = (self.0.unsigned_abs() / 1_000_000, self.0.unsigned_abs() % 1_000_000);
        let decimals = format!("{part:06}");
        let decimals = decimals.trim_end_matches('0');
        let point = if decimals.is_empty() { ".0" } else { "." };
        write!(out, "{sign}{whole}{point}{decimals} s")
    }
}

/// An age for the eye, in whole minutes rounded up, so that one past its limit never reads as the
/// limit; from two days on in whole days.
pub(crate) fn age_shown(age: Duration) -> String {
    let minutes = age.seconds() / 60.0;
    let days = (minutes / (24.0 * 60.0)).floor();
    if days >= 2.0 {
        return format!("{days:.0} days");
    }
    let minutes = minutes.ceil();
    let hours = (minutes / 60.0).floor();
    match (hours, minutes - 60.0 * hours) {
        (hours, minutes) if hours < 1.0 => format!("{minutes:.0} min"),
        (hours, minutes) if minutes < 1.0 => format!("{hours:.0} h"),
        (hours, minutes) => format!("{hours:.0} h {minutes:.0} min"),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_has_elapsed_is_shown_with_as_many_decimals_as_it_has() {
        for (microseconds, shown) in [
            (0, "0.0 s"),
            (1, "0.000001 s"),
            (30_000_000, "30.0 s"),
            (12_345_600, "12.3456 s"),
            (-1_500_000, "-1.5 s"),
        ] {
            assert_eq!(Elapsed::from_microseconds(microseconds).to_string(), shown);
        }
    }

    #[test]
    fn what_is_no_moment_is_told_with_one_that_is() {
        let hint = Moment::parse("yesterday").unwrap_err().hint();
        let example = hint.rsplit(' ').next().unwrap().trim_end_matches('.');
        assert!(Moment::parse(example).is_ok(), "{hint}");
    }

    #[test]
    fn an_age_past_its_limit_never_reads_as_the_limit() {
        let shown = [
            (59.0 * 60.0, "59 min"),
            (3600.0, "1 h"),
            (90.0 * 60.0, "1 h 30 min"),
            (4.0 * 3600.0, "4 h"),
            (4.0 * 3600.0 + 1e-6, "4 h 1 min"),
            (47.5 * 3600.0, "47 h 30 min"),
            (6402.23 * 3600.0, "266 days"),
        ];
        for (seconds, words) in shown {
            assert_eq!(age_shown(Duration::from_seconds(seconds)), words);
        }
    }
}
