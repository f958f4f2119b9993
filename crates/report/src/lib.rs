//! The issued document: what it says as data, and the same thing as PDF, JSON and CSV.
//!
//! [`content`] gathers everything a report says. The other modules show it and add no fact, so
//! one entry of the record always gives the same bytes. Nothing here reads a clock or a file.

mod words;
pub mod content;
pub mod pdf;
pub mod chart;
pub mod json;
pub mod csv;
