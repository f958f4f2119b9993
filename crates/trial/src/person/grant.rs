//! An authorisation: for what, by which method, from when until when.

use crate::fact::Authorisation;
use crate::rules::RulesId;
use jiff::civil::Date;
use std::fmt;
use thiserror::Error;

/// What a person is authorised for.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub struct Grant {
    /// For what.
    pub act: Authorisation,
    /// By which method, such as `iec-60695-11-5/2016`, or `iec-60695-11-5` for all its editions; by
    /// every method where none is named.
    pub method: Option<RulesId>,
    /// The first day it holds, if one is given.
    pub from: Option<Date>,
    /// The last day it holds, if one is given.
    pub until: Option<Date>,
}

/// A text that is no authorisation.
#[derive(Clone, Debug, PartialEq, Eq, Error)]
pub enum GrantError {
    /// It begins with no act.
    #[error("`{found}` begins with nothing one is authorised for")]
    Act {
        /// What stood there.
        found: String,
    },
    /// A word that has no place there, or nothing follows it.
    #[error("`{found}` has something else at `{at}`")]
    Word {
        /// The whole.
        found: String,
        /// Where.
        at: String,
    },
    /// A date that is none.
    #[error("`{found}` is no date")]
    Date {
        /// What stood there.
        found: String,
    },
    /// It ends before it begins.
    #[error("it holds from {from}, and until {until} before that")]
    Backwards {
        /// Its first day.
        from: Date,
        /// Its last day.
        until: Date,
    },
}

impl GrantError {
    /// The way out.
    #[must_use]
    pub const fn hint(&self) -> &'static str {
        match self {
            Self::Act { .. } | Self::Word { .. } => {
                "Write test, review or issue, and where they are limited: by METHOD, from DATE, until \
                 DATE."
            }
            Self::Date { .. } => "Write a date such as 2026-11-25.",
            Self::Backwards { .. } => "Give a last day that is not before the first.",
        }
    }
}

impl Grant {
    /// By every method, without an end.
    #[must_use]
    pub const fn of_every_method(act: Authorisation) -> Self {
        Self { act, method: None, from: None, until: None }
    }

    /// Reads an authorisation as it is written.
    ///
    /// # Errors
    ///
    /// [`GrantError`] at what cannot be read.
    ///
    /// ```
    /// use trial::person::Grant;
    /// let text = "review by iec-60695-11-5/2016 from 2026-01-01 until 2027-12-31";
    /// assert_eq!(Grant::parse(text)?.to_string(), text);
    /// # Ok::<(), trial::person::GrantError>(())
    /// ```
    pub fn parse(text: &str) -> Result<Self, GrantError> {
        let mut words = text.split_whitespace();
        let first = words.next().unwrap_or_default();
        let act = Authorisation::of_word(first)
            .ok_or_else(|| GrantError::Act { found: text.trim().to_owned() })?;
        let mut grant = Self::of_every_method(act);
        while let Some(word) = words.next() {
            let elsewhere =
                || GrantError::Word { found: text.trim().to_owned(), at: word.to_owned() };
            let value = words.next().ok_or_else(elsewhere)?;
            let twice = match word {
                "by" => grant.method.replace(RulesId::from(value)).is_some(),
                "from" => grant.from.replace(date(value)?).is_some(),
                "until" => grant.until.replace(date(value)?).is_some(),
                _ => true,
            };
            if twice {
                return Err(elsewhere());
            }
        }
        if let (Some(from), Some(until)) = (grant.from, grant.until)
            && until < from
        {
            return Err(GrantError::Backwards { from, until });
        }
        Ok(grant)
    }

    /// Whether it is for this act by this method, on whichever day.
    #[must_use]
    pub fn is_for(&self, act: Authorisation, method: &RulesId) -> bool {
        let by = self.method.as_ref().is_none_or(|named| {
            let edition = method.0.strip_prefix(&named.0);
            edition.is_some_and(|rest| rest.is_empty() || rest.starts_with('/'))
        });
        self.act == act && by
    }

    /// Whether it holds on a day.
    #[must_use]
    pub fn holds_on(&self, day: Date) -> bool {
        self.from.is_none_or(|from| from <= day) && self.until.is_none_or(|until| day <= until)
    }
}

fn date(text: &str) -> Result<Date, GrantError> {
    text.parse().map_err(|_| GrantError::Date { found: text.to_owned() })
}

impl fmt::Display for Grant {
    fn fmt(&self, out: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(out, "{}", self.act)?;
        if let Some(method) = &self.method {
            write!(out, " by {method}")?;
        }
        if let Some(from) = self.from {
            write!(out, " from {from}")?;
        }
        match self.until {
            Some(until) => write!(out, " until {until}"),
            None => Ok(()),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn an_authorisation_is_written_as_it_is_read() {
        let check = |text: &str| assert_eq!(Grant::parse(text).unwrap().to_string(), text);
        check("test");
        check("issue by iec-60695-11-5");
        check("test from 2026-01-01");
        check("review by iec-60695-11-5/2016 from 2026-01-01 until 2026-01-01");
    }

    #[test]
    fn what_is_no_authorisation_is_refused_with_what_is_wrong() {
        let check =
            |text: &str, said: &str| assert_eq!(Grant::parse(text).unwrap_err().to_string(), said);
        check("", "`` begins with nothing one is authorised for");
        check("burn", "`burn` begins with nothing one is authorised for");
        check("test by", "`test by` has something else at `by`");
        check("test by a by b", "`test by a by b` has something else at `by`");
        check("test at noon", "`test at noon` has something else at `at`");
        check("test from soon", "`soon` is no date");
        let backwards = "test from 2026-02-01 until 2026-01-31";
        check(backwards, "it holds from 2026-02-01, and until 2026-01-31 before that");
    }

    #[test]
    fn it_is_for_the_edition_named_or_for_all_of_them() {
        let check = |text: &str, method: &str, is: bool| {
            let grant = Grant::parse(text).unwrap();
            assert_eq!(grant.is_for(Authorisation::Test, &method.into()), is, "{text}: {method}");
        };
        check("test", "iec-60695-11-5/2016", true);
        check("test by iec-60695-11-5", "iec-60695-11-5/2016", true);
        check("test by iec-60695-11-5/2016", "iec-60695-11-5/2016", true);
        check("test by iec-60695-11-5/2004", "iec-60695-11-5/2016", false);
        check("test by iec-60695-11-5", "iec-60695-11-50/2016", false);
        check("review", "iec-60695-11-5/2016", false);
    }

    #[test]
    fn its_first_and_its_last_day_count() {
        let grant = Grant::parse("test from 2026-01-02 until 2026-01-03").unwrap();
        let days = ["2026-01-01", "2026-01-02", "2026-01-03", "2026-01-04"];
        let holds = days.map(|day| grant.holds_on(day.parse().unwrap()));
        assert_eq!(holds, [false, true, true, false]);
    }
}
