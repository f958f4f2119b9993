//! What a source of readings is, and what it tells.

use metrology::{Duration, Temperature};
use reading::MissingCause;

use crate::trouble::Trouble;

/// Where readings come from.
pub trait Source: Send {
    /// The names of its channels. A [`Reading`] names its channel by the place in this list.
    fn channels(&self) -> Vec<String>;

    /// Whether it waits for whoever takes its events.
    fn pace(&self) -> Pace;

    /// The next event, or nothing when the source has come to its end. An instrument has no end:
    /// when it goes, that is trouble, and it may return.
    fn next(&mut self) -> impl Future<Output = Option<Event>> + Send;
}

/// Whether a source waits.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Pace {
    /// It waits until its event is taken: a file, the practice bench.
    Waits,
    /// It goes on, taken or not: an instrument.
    GoesOn,
}

/// What a source tells.
#[derive(Clone, Debug, PartialEq)]
pub enum Event {
    /// Readings that came together.
    Readings(Batch),
    /// Something is wrong; readings may go on.
    Trouble {
        /// When it was found.
        at: Duration,
        /// What is wrong.
        trouble: Trouble,
    },
    /// Readings come again after silence or a cut, or a wire is whole again.
    Returned {
        /// When.
        at: Duration,
        /// The channel that has returned; all of them when not given.
        channel: Option<usize>,
        /// How long it had been away.
        after: Duration,
    },
}

/// Readings that came together, and what they were read from.
#[derive(Clone, Debug, PartialEq)]
pub struct Batch {
    /// When they came.
    pub at: Duration,
    /// The readings. None, when what came was kept and is not used.
    pub readings: Vec<Reading>,
    /// The line or the registers as they came; what is no text in them is written `\x1F`.
    pub raw: String,
}

/// One reading of one channel.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Reading {
    /// The place of its channel in the list, counted from 0.
    pub channel: usize,
    /// When it was taken.
    pub at: Duration,
    /// What was shown.
    pub value: Value,
}

/// What an instrument shows.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Value {
    /// A temperature.
    Temperature(Temperature),
    /// Something else in its place.
    Missing(MissingCause),
}

impl Event {
    /// When it was told.
    #[must_use]
    pub const fn at(&self) -> Duration {
        match self {
            Self::Readings(batch) => batch.at,
            Self::Trouble { at, .. } | Self::Returned { at, .. } => *at,
        }
    }
}
