//! From raw signal to measured value: a logger's file to a trace, a trace to a rise time.
//!
//! This room is pure: it is handed bytes and gives back values. It judges no limit.

mod packed;
pub mod trace;

pub use trace::{Missing, MissingCause, Point, Recording, Trace, TraceError, Window, WindowError};
