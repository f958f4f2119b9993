//! What a signal is: readings of one thermocouple in the order of time.

use metrology::{Duration, Temperature};
use thiserror::Error;

/// One reading.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Point {
    /// When, on the trace's own clock.
    pub at: Duration,
    /// What the sensor showed.
    pub temperature: Temperature,
}

/// A place where the logger wrote a row and no usable value.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Missing {
    /// When.
    pub at: Duration,
    /// What stood there instead of a value.
    pub cause: MissingCause,
}

/// What stood in the place of a value.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum MissingCause {
    /// Nothing, or a word for nothing (`NaN`, `n/a`, `-`).
    Blank,
    /// A word or number by which the logger says that the wire is open (`OL`, `open`, full scale).
    OpenCircuit,
    /// A number that the file uses for a missing value.
    Code,
}

/// Readings of one sensor, each later than the one before, all of them finite.
///
/// Raw readings are always kept: a reading of a fault marks points, it never removes them here.
#[derive(Clone, Debug, PartialEq)]
pub struct Trace {
    points: Vec<Point>,
    missing: Vec<Missing>,
}

/// Why points do not make a trace.
#[derive(Debug, Clone, PartialEq, Error)]
pub enum TraceError {
    /// There is nothing to read.
    #[error("the trace has {found} readings; two are the least that make one")]
    TooFew {
        /// How many there were.
        found: usize,
    },
    /// A value is not a number.
    #[error("reading {number} is not finite")]
    NotFinite {
        /// The reading, counted from 1.
        number: usize,
    },
    /// Time stands still or runs backwards.
    #[error("reading {number} at {at:.3} is not later than the one before it")]
    NotLater {
        /// The reading, counted from 1.
        number: usize,
        /// Its time.
        at: Duration,
    },
}

impl Trace {
    /// The trace of `points`.
    ///
    /// # Errors
    ///
    /// When there are fewer than two points, one is not finite, or one is not later than the
    /// one before it.
    pub fn new(points: Vec<Point>) -> Result<Self, TraceError> {
        Self::with_missing(points, Vec::new())
    }

    /// The trace of `points`, and the places where the logger gave no value.
    ///
    /// # Errors
    ///
    /// As [`Trace::new`].
    pub fn with_missing(points: Vec<Point>, missing: Vec<Missing>) -> Result<Self, TraceError> {
        if points.len() < 2 {
            return Err(TraceError::TooFew { found: points.len() });
        }
        let mut before = f64::NEG_INFINITY;
        for (index, point) in points.iter().enumerate() {
            let (at, value) = (point.at.seconds(), point.temperature.celsius());
            if !at.is_finite() || !value.is_finite() {
                return Err(TraceError::NotFinite { number: index + 1 });
            }
            if at <= before {
                return Err(TraceError::NotLater { number: index + 1, at: point.at });
            }
            before = at;
        }
        Ok(Self { points, missing })
    }

    /// The readings, in the order of time.
    #[must_use]
    pub fn points(&self) -> &[Point] {
        &self.points
    }

    /// Where the logger gave no value.
    #[must_use]
    pub fn missing(&self) -> &[Missing] {
        &self.missing
    }

    /// The hottest reading, the first of several that are equal.
    #[must_use]
    pub fn highest(&self) -> Point {
        let mut highest = self.points[0];
        for point in &self.points {
            if point.temperature > highest.temperature {
                highest = *point;
            }
        }
        highest
    }
}

/// A window of temperature that a rise is timed through.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Window {
    bottom: Temperature,
    top: Temperature,
}

/// Why two temperatures do not make a window.
#[derive(Debug, Clone, Copy, PartialEq, Error)]
#[error("a window from {bottom} to {top} has no inside: the bottom must lie below the top")]
pub struct WindowError {
    /// The bottom asked for.
    pub bottom: Temperature,
    /// The top asked for.
    pub top: Temperature,
}

impl Window {
    /// The window from `bottom` to `top`.
    ///
    /// # Errors
    ///
    /// When the bottom does not lie below the top.
    pub fn new(bottom: Temperature, top: Temperature) -> Result<Self, WindowError> {
        if bottom < top { Ok(Self { bottom, top }) } else { Err(WindowError { bottom, top }) }
    }

    /// Where the timing begins.
    #[must_use]
    pub const fn bottom(&self) -> Temperature {
        self.bottom
    }

    /// Where it ends.
    #[must_use]
    pub const fn top(&self) -> Temperature {
        self.top
    }
}
