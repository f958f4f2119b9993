//! The tests of the report.
#![cfg(test)]
#![expect(clippy::disallowed_methods, reason = "tests read their golden files and write pages")]

mod aloud;
mod german;
mod golden;
mod pages;
mod record;
mod sample;
mod square;
mod tools;
mod trace;
