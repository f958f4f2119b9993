//! How long a chamber is purged before its door is opened.

use metrology::{Duration, Ratio};

use super::{AroundError, Guide, within};

/// A chamber and its extraction.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Chamber {
    /// Its volume, in cubic metres.
    pub cubic_metres: f64,
    /// What the extraction takes out, in cubic metres an hour. Measured, not as printed on a fan.
    pub cubic_metres_each_hour: f64,
    /// The allowance for air that does not mix: 1 where all of it does.
    pub mixing: f64,
}

impl Guide {
    /// How long until no more than `left` of what was in the air is still there.
    ///
    /// # Errors
    ///
    /// [`AroundError::Outside`] where a figure of the chamber is none, or `left` is nothing or all.
    ///
    /// # Source
    ///
    /// Dilution ventilation, t = K · V ÷ Q · ln(1 ÷ left); CDC-MMWR-1994, table S3-1, has the
    /// same with K = 1.
    pub fn purge(&self, chamber: Chamber, left: Ratio) -> Result<Duration, AroundError> {
        let Chamber { cubic_metres, cubic_metres_each_hour, mixing } = chamber;
        let volume = within(("the chamber's volume", "m³"), cubic_metres, (0.01, 1000.0))?;
        let flow = within(("the extraction", "m³/h"), cubic_metres_each_hour, (0.1, 1_000_000.0))?;
        let mixing =
            within(("the allowance for mixing", "times"), mixing, (1.0, self.mixing_most.value))?;
        let left = within(("what may be left", "%"), left.percent(), (1e-6, 99.0))?;
        let hours = mixing * volume / flow * libm::log(100.0 / left);
        Ok(Duration::from_seconds(hours * 3600.0))
    }
}
