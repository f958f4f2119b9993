//! What a signal is: readings of one thermocouple in the order of time.

use std::ops::Range;

use metrology::{Duration, Temperature};
use thiserror::Error;

use crate::packed::Packed;

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
/// They are kept packed (4 bytes a reading of an ordinary logger instead of 16), so there is no
/// slice of them: take [`Trace::points`] in turn, or [`Trace::point`] by its index.
#[derive(Clone, Debug, PartialEq)]
pub struct Trace {
    blocks: Vec<Block>,
    length: usize,
    missing: Vec<Missing>,
}

/// Readings on their way to become a [`Trace`].
///
/// ```
/// use metrology::{Duration, Temperature};
/// use reading::{Point, Recording};
/// let mut recording = Recording::new();
/// for (second, celsius) in [(0.0, 23.9), (5.0, 36.6)] {
///     let at = Duration::from_seconds(second);
///     recording.push(Point { at, temperature: Temperature::from_celsius(celsius) })?;
/// }
/// assert_eq!(recording.finish()?.len(), 2);
/// # Ok::<(), reading::TraceError>(())
/// ```
#[derive(Clone, Debug)]
pub struct Recording {
    blocks: Vec<Block>,
    open_at: Vec<f64>,
    open_temperature: Vec<f64>,
    before: f64,
    missing: Vec<Missing>,
}

/// Readings that lie together; all blocks of a trace but its last hold [`BLOCK`] of them.
#[derive(Clone, Debug, PartialEq)]
struct Block {
    at: Packed,
    temperature: Packed,
}

const BLOCK: usize = 1024;

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
    pub fn new(points: impl IntoIterator<Item = Point>) -> Result<Self, TraceError> {
        Self::with_missing(points, Vec::new())
    }

    /// The trace of `points`, and the places where the logger gave no value.
    ///
    /// # Errors
    ///
    /// As [`Trace::new`].
    pub fn with_missing(
        points: impl IntoIterator<Item = Point>,
        missing: Vec<Missing>,
    ) -> Result<Self, TraceError> {
        let mut recording = Recording { missing, ..Recording::new() };
        for point in points {
            recording.push(point)?;
        }
        recording.finish()
    }

    /// The readings, in the order of time.
    pub fn points(&self) -> impl ExactSizeIterator<Item = Point> + Clone {
        self.points_in(0..self.length)
    }

    /// The readings whose index lies in `range`, as far as there are any.
    pub fn points_in(&self, range: Range<usize>) -> impl ExactSizeIterator<Item = Point> + Clone {
        let rest = range.start..range.end.min(self.length);
        Points { blocks: &self.blocks, rest, unpacked: Vec::new().into_iter() }
    }

    /// The reading at `index`, counted from 0.
    ///
    /// # Panics
    ///
    /// When `index` is not below [`Trace::len`].
    #[must_use]
    pub fn point(&self, index: usize) -> Point {
        let block = &self.blocks[index / BLOCK];
        Point {
            at: Duration::from_seconds(block.at.at(index % BLOCK)),
            temperature: Temperature::from_celsius(block.temperature.at(index % BLOCK)),
        }
    }

    /// How many readings lie before `at`: the index of the first that does not.
    #[must_use]
    pub fn count_before(&self, at: Duration) -> usize {
        let (mut low, mut high) = (0, self.length);
        while low < high {
            let middle = low.midpoint(high);
            if self.point(middle).at < at { low = middle + 1 } else { high = middle }
        }
        low
    }

    /// How many readings there are; two at least.
    #[must_use]
    #[expect(clippy::len_without_is_empty, reason = "a trace has two readings at least")]
    pub const fn len(&self) -> usize {
        self.length
    }

    /// Where the logger gave no value.
    #[must_use]
    pub fn missing(&self) -> &[Missing] {
        &self.missing
    }

    /// The hottest reading, the first of several that are equal.
    #[must_use]
    pub fn highest(&self) -> Point {
        let mut highest = self.point(0);
        for point in self.points() {
            if point.temperature > highest.temperature {
                highest = point;
            }
        }
        highest
    }
}

/// Readings in turn; those of a block are unpacked together.
#[derive(Clone, Debug)]
struct Points<'trace> {
    blocks: &'trace [Block],
    /// Those still packed.
    rest: Range<usize>,
    unpacked: std::vec::IntoIter<Point>,
}

impl Points<'_> {
    #[cold]
    fn unpack(&mut self) -> Option<Point> {
        if self.rest.is_empty() {
            return None;
        }
        let block = &self.blocks[self.rest.start / BLOCK];
        let start = self.rest.start % BLOCK;
        let end = BLOCK.min(start + self.rest.len());
        self.rest.start += end - start;
        let both =
            block.at.values(start..end).into_iter().zip(block.temperature.values(start..end));
        let points = both.map(|(seconds, celsius)| Point {
            at: Duration::from_seconds(seconds),
            temperature: Temperature::from_celsius(celsius),
        });
        self.unpacked = points.collect::<Vec<_>>().into_iter();
        self.unpacked.next()
    }
}

impl Iterator for Points<'_> {
    type Item = Point;

    #[inline]
    fn next(&mut self) -> Option<Point> {
        self.unpacked.next().or_else(|| self.unpack())
    }

    fn size_hint(&self) -> (usize, Option<usize>) {
        let count = self.unpacked.len() + self.rest.len();
        (count, Some(count))
    }
}

impl ExactSizeIterator for Points<'_> {}

impl Default for Recording {
    fn default() -> Self {
        Self::new()
    }
}

impl Recording {
    /// No reading yet.
    #[must_use]
    pub const fn new() -> Self {
        Self {
            blocks: Vec::new(),
            open_at: Vec::new(),
            open_temperature: Vec::new(),
            before: f64::NEG_INFINITY,
            missing: Vec::new(),
        }
    }

    /// Adds the next reading.
    ///
    /// # Errors
    ///
    /// When it is not finite, or not later than the one before.
    #[inline]
    pub fn push(&mut self, point: Point) -> Result<(), TraceError> {
        let (at, celsius) = (point.at.seconds(), point.temperature.celsius());
        if !at.is_finite() || !celsius.is_finite() {
            return Err(TraceError::NotFinite { number: self.len() + 1 });
        }
        if at <= self.before {
            return Err(TraceError::NotLater { number: self.len() + 1, at: point.at });
        }
        self.before = at;
        self.open_at.push(at);
        self.open_temperature.push(celsius);
        if self.open_at.len() == BLOCK {
            self.close_block();
        }
        Ok(())
    }

    /// Notes a place where the logger gave no value.
    pub fn note_missing(&mut self, missing: Missing) {
        self.missing.push(missing);
    }

    /// How many readings there are so far.
    #[must_use]
    pub fn len(&self) -> usize {
        self.blocks.len() * BLOCK + self.open_at.len()
    }

    /// Whether there is none yet.
    #[must_use]
    pub fn is_empty(&self) -> bool {
        self.len() == 0
    }

    /// The trace of the readings added.
    ///
    /// # Errors
    ///
    /// When there are fewer than two.
    pub fn finish(mut self) -> Result<Trace, TraceError> {
        let length = self.len();
        if length < 2 {
            return Err(TraceError::TooFew { found: length });
        }
        self.close_block();
        Ok(Trace { blocks: self.blocks, length, missing: self.missing })
    }

    fn close_block(&mut self) {
        if !self.open_at.is_empty() {
            let at = Packed::new(&self.open_at);
            let temperature = Packed::new(&self.open_temperature);
            self.blocks.push(Block { at, temperature });
            self.open_at.clear();
            self.open_temperature.clear();
        }
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

#[cfg(test)]
mod tests {
    use super::*;

    fn point(second: f64, celsius: f64) -> Point {
        Point {
            at: Duration::from_seconds(second),
            temperature: Temperature::from_celsius(celsius),
        }
    }

    #[test]
    fn readings_of_several_blocks_come_back_in_order() {
        let given: Vec<Point> = (0..3000_u32)
            .map(|number| point(f64::from(number) / 100.0, 20.0 + f64::from(number % 77) / 8.0))
            .collect();
        let trace = Trace::new(given.clone()).unwrap();
        assert_eq!(trace.len(), 3000);
        assert_eq!(trace.points().collect::<Vec<_>>(), given);
        assert_eq!(trace.point(2047), given[2047]);
        assert_eq!(trace.points_in(1020..1030).collect::<Vec<_>>(), given[1020..1030]);
        assert_eq!(trace.highest(), given[76]);
    }

    #[test]
    fn a_time_between_readings_finds_the_later_one() {
        let trace = Trace::new([point(-1.0, 20.0), point(0.0, 21.0), point(1.0, 22.0)]).unwrap();
        let count = |second| trace.count_before(Duration::from_seconds(second));
        assert_eq!([count(-2.0), count(-1.0), count(0.5), count(1.0), count(3.0)], [0, 0, 2, 2, 3]);
    }

    #[test]
    fn what_is_no_trace_is_refused() {
        let check = |points: &[Point], error| {
            assert_eq!(Trace::new(points.iter().copied()).unwrap_err(), error);
        };
        check(&[point(0.0, 1.0)], TraceError::TooFew { found: 1 });
        check(&[point(0.0, f64::NAN)], TraceError::NotFinite { number: 1 });
        let at = Duration::from_seconds(1.0);
        check(&[point(1.0, 2.0), point(1.0, 3.0)], TraceError::NotLater { number: 2, at });
    }
}
