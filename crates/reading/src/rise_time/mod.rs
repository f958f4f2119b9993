//! The time a block took to climb through a window of temperature, and how sure that is.

use std::fmt;

use metrology::uncertainty::{Budget, Inputs};
use metrology::{Duration, Measurement, Ratio, TemperatureDifference};
use thiserror::Error;

use crate::crossing::Crossing;
use crate::fault::{Circumstances, Fault, FaultKind};
use crate::rules::Rules;
use crate::trace::{Trace, Window};

mod scan;
mod uncertainty;
mod whole;

pub use whole::{
    Beginnings, Halving, Improvement, NAMES, Stated, WholeBudget, WholeBudgetError, whole_budget,
};

/// Reads the time the trace took to climb through `window`.
///
/// Each end of the window is placed by a straight line fitted to the readings within half a
/// second of the crossing, temperature over time; where a slow logger has fewer than three there,
/// by the line between the two readings around the limit ([`Crossing::method`] says which). The
/// rise time is the later instant less the earlier one. Readings of a spike are left out. What
/// comes after the top was reached is ignored, unless the trace climbs through the top again.
/// Reaching a limit exactly is reaching it. No limit is judged here.
///
/// # Uncertainty
///
/// From the readings alone: their scatter about a smooth curve around each limit, which holds
/// the rounding of their digits, the bend that a straight line leaves out, and the digits
/// where they do not average out. From `sensor`: its error at the bottom and at the top, which
/// partly cancel as far as they are correlated (GUM 5.2.2), the clock's rate, and the step of the
/// time stamps. A sensor that lags behind the block is not covered, and neither is a logger that
/// cuts digits off instead of rounding.
///
/// # Errors
///
/// All the reasons why the trace has no single rise time, and the faults that void it.
///
/// # Examples
///
/// ```
/// use metrology::{Duration, Temperature};
/// use reading::{Circumstances, Point, SensorUncertainty, Trace, Window, rise_time};
///
/// // A steady climb of 10 K each second, read five times a second.
/// let points = (0..=400).map(|number| f64::from(number) / 5.0).map(|second| Point {
///     at: Duration::from_seconds(second),
///     temperature: Temperature::from_celsius(20.0 + 10.0 * second),
/// });
/// let window =
///     Window::new(Temperature::from_celsius(100.0), Temperature::from_celsius(700.0))?;
/// let known = Circumstances::default();
/// let read = rise_time(&Trace::new(points)?, window, SensorUncertainty::NONE, &known)?;
/// assert_eq!(format!("{:.2}", read.value.value), "60.00 s");
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
pub fn rise_time(
    trace: &Trace,
    window: Window,
    sensor: SensorUncertainty,
    circumstances: &Circumstances,
) -> Result<RiseTime, RiseTimeError> {
    let rules = Rules::built_in();
    let seen = scan::scan(trace, window, circumstances, rules)?;
    let findings = seen.findings(trace, window);
    if !findings.is_empty() {
        return Err(RiseTimeError { findings, faults: seen.faults });
    }
    seen.place(trace, window, sensor, rules)
}

/// What is known of the sensor and the clock: standard uncertainties.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct SensorUncertainty {
    /// Of the temperature shown when the block passes the bottom.
    pub at_bottom: TemperatureDifference,
    /// Of the temperature shown when it passes the top.
    pub at_top: TemperatureDifference,
    /// The correlation of these two, from -1 to 1. One thermocouple serves both.
    pub correlation: Ratio,
    /// Of the clock's rate, relative.
    pub clock_rate: Ratio,
    /// The step of the time stamps, such as 0.1 s for times with one decimal.
    pub time_step: Duration,
}

impl SensorUncertainty {
    /// A sensor and a clock without error: the uncertainty of the readings alone.
    pub const NONE: Self = Self {
        at_bottom: TemperatureDifference::ZERO,
        at_top: TemperatureDifference::ZERO,
        correlation: Ratio::ZERO,
        clock_rate: Ratio::ZERO,
        time_step: Duration::ZERO,
    };
}

/// A rise time, and what it was read from.
#[derive(Clone, Debug, PartialEq)]
pub struct RiseTime {
    /// The time with its standard uncertainty.
    pub value: Measurement<Duration>,
    /// The climb through the bottom.
    pub start: Crossing,
    /// The climb through the top.
    pub end: Crossing,
    /// What the value depends on, in the order that [`RiseTime::model_seconds`] takes.
    pub inputs: Inputs,
    /// What the uncertainty is made of, line by line, in seconds.
    pub budget: Budget,
    /// The faults found that do not void it.
    pub faults: Vec<Fault>,
    /// The readings, counted from 0, that were kept and not used.
    pub points_not_used: Vec<usize>,
    /// How many readings a second there were from bottom to top.
    pub readings_per_second: f64,
}

impl RiseTime {
    /// The rise time in seconds for other values of its inputs: what a Monte Carlo propagation
    /// asks for.
    #[must_use]
    pub fn model_seconds(&self, inputs: &[f64]) -> f64 {
        uncertainty::rise_seconds(&self.start, &self.end, inputs)
    }
}

/// Why a trace has no single rise time: every reason found, one at least.
#[derive(Clone, Debug, PartialEq, Error)]
#[error("{}", told(.findings))]
pub struct RiseTimeError {
    /// The reasons.
    pub findings: Vec<RiseTimeFinding>,
    /// The faults of the sensor, those that void the trace and those that do not.
    pub faults: Vec<Fault>,
}

/// One reason why a trace has no single rise time.
#[derive(Clone, Debug, PartialEq)]
pub struct RiseTimeFinding {
    /// Which reason.
    pub kind: RiseTimeFindingKind,
    /// The facts, as a sentence.
    pub text: String,
}

/// The reasons that are known.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum RiseTimeFindingKind {
    /// A fault of the sensor voids the trace.
    Fault(FaultKind),
    /// The part asked for holds fewer than two readings.
    EmptyPart,
    /// The trace never reaches the top.
    NeverReaches,
    /// It is above the bottom from its first reading on.
    StartsInside,
    /// It climbs through a limit more than once.
    ClimbsMoreThanOnce,
    /// The uncertainty given for the sensor cannot be one.
    SensorUncertainty,
    /// Too few readings lie around a limit to place the crossing with an uncertainty.
    TooFewReadings,
}

impl RiseTimeFindingKind {
    /// Its stable name.
    #[must_use]
    pub const fn name(self) -> &'static str {
        match self {
            Self::Fault(kind) => kind.name(),
            Self::EmptyPart => "empty-part",
            Self::NeverReaches => "never-reaches",
            Self::StartsInside => "starts-inside",
            Self::ClimbsMoreThanOnce => "climbs-more-than-once",
            Self::SensorUncertainty => "sensor-uncertainty",
            Self::TooFewReadings => "too-few-readings",
        }
    }

    /// The way out, in the imperative.
    #[must_use]
    pub const fn hint(self) -> &'static str {
        match self {
            Self::Fault(kind) => kind.hint(),
            Self::EmptyPart => "Choose a part that lies within the trace.",
            Self::NeverReaches => "Record for longer, or check the gas flow and the burner.",
            Self::StartsInside => "Start the recording before the flame is put to the block.",
            Self::ClimbsMoreThanOnce => "Choose the part of the trace that holds one climb.",
            Self::SensorUncertainty => "Give standard uncertainties, and a correlation of -1 to 1.",
            Self::TooFewReadings => "Record with more readings a second.",
        }
    }
}

impl RiseTimeFinding {
    /// The way out, in the imperative.
    #[must_use]
    pub const fn hint(&self) -> &'static str {
        self.kind.hint()
    }
}

impl RiseTimeError {
    /// The way out of the first finding.
    #[must_use]
    pub fn hint(&self) -> Option<&'static str> {
        self.findings.first().map(RiseTimeFinding::hint)
    }

    fn of(kind: RiseTimeFindingKind, text: String) -> Self {
        Self { findings: vec![RiseTimeFinding { kind, text }], faults: Vec::new() }
    }
}

impl fmt::Display for RiseTimeFinding {
    fn fmt(&self, out: &mut fmt::Formatter<'_>) -> fmt::Result {
        out.write_str(&self.text)
    }
}

fn told(findings: &[RiseTimeFinding]) -> String {
    let texts: Vec<&str> = findings.iter().map(|finding| finding.text.as_str()).collect();
    texts.join(" ")
}
