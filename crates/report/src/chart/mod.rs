//! Pictures drawn by hand as SVG: the curves of a confirmation, the times of specimens, a trace.
//!
//! Each picture says in words what it shows, is told apart without colour, and has the same
//! bytes everywhere. On paper it is ink on white; on a screen it follows the reader's theme.

mod axes;
mod block;
mod decimate;
mod drawing;
mod flame;
mod strip;
mod trace;
mod control;

pub use block::{BlockView, block};
pub use control::{flame_chart, mark_letter};
pub use drawing::{Chart, Look};
pub use flame::{confirmation, determinations};
pub use strip::strip;
pub use trace::{TraceView, trace};
