//! How the test flame was confirmed.

use super::{Standing, Value};
use serde::{Deserialize, Serialize};

/// The confirmation of the test flame by the time a copper block takes to heat.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Flame {
    /// The number of the confirmation in the record.
    pub number: String,
    /// Where the timing begins.
    pub window_bottom: Value,
    /// Where it ends.
    pub window_top: Value,
    /// The rise times accepted.
    pub accepted: Accepted,
    /// Where the method says so.
    pub clause: String,
    /// What was found.
    pub standing: Standing,
    /// That, in one sentence.
    pub words: String,
    /// Every determination, the void ones too.
    pub determinations: Vec<Determination>,
}

/// A band of rise times.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Accepted {
    /// The shortest.
    pub from: Value,
    /// The longest.
    pub to: Value,
}

/// One heating of the block.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Determination {
    /// Its number in the record.
    pub number: u32,
    /// When, in UTC.
    pub at: String,
    /// How hot the block was before the flame reached it.
    pub start: Value,
    /// The rise time, or nothing where none could be read.
    pub rise: Option<Value>,
    /// Where the trace passed the bottom of the window, on the trace's own clock.
    pub bottom: Option<Crossing>,
    /// Where it passed the top.
    pub top: Option<Crossing>,
    /// Where the value comes from.
    pub source: String,
    /// The SHA-256 of the file it was read from, in hexadecimal.
    pub sha256: Option<String>,
    /// Whether it is one of those that decided.
    pub counts: bool,
    /// Why it is void, where it is.
    pub void: Option<String>,
}

/// Where a trace passed a temperature.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Crossing {
    /// When, in seconds on the trace's own clock.
    pub at_s: f64,
    /// The temperature passed, in degrees Celsius.
    pub temperature_celsius: f64,
}
