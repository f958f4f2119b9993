//! From raw signal to measured value: a logger's file to a trace, a trace to a rise time.
//!
//! This room is pure: it is handed bytes and gives back values. It judges no limit.

pub mod import;
mod cell;
mod packed;
pub mod trace;
mod rules;
mod rule_file;
mod fit;
pub mod crossing;
pub mod fault;
pub mod rise_time;
pub mod copper_block;
pub mod reference_cases;
mod by_hand;

pub use cell::cell;
pub use crossing::{Crossing, CrossingMethod};
pub use fault::{Circumstances, Effect, Fault, FaultKind};
pub use rise_time::{
    RiseTime, RiseTimeError, RiseTimeFinding, RiseTimeFindingKind, SensorUncertainty, rise_time,
};
pub use rules::{Rules, RulesError};
pub use trace::{Missing, MissingCause, Point, Recording, Trace, TraceError, Window, WindowError};
