//! Instruments as streams of readings: lines of text, Modbus, a file played again, the practice
//! bench.
//!
//! Every [`Source`] tells [`Event`]s. [`open`] runs it at its own pace: each event goes first into
//! a recording, then to whoever watches. What was read is in the recording, whether or not
//! anybody looked at it in time. Nothing here ever writes to an instrument but the questions that
//! Modbus asks for readings.

pub mod source;
mod trouble;
mod clock;
mod watch;
mod pace;
pub mod recording;
pub mod live;
pub mod settings;
pub mod port;
pub mod lines;
pub mod modbus;
pub mod replay;
pub mod practice;
mod open;

pub use clock::Clock;
pub use live::{Live, LiveError, start};
pub use open::{OpenError, Opened, open};
pub use recording::{Kept, Recorder};
pub use settings::{SettingsError, SourceSettings};
pub use source::{Batch, Event, Pace, Reading, Source, Value};
pub use trouble::Trouble;
