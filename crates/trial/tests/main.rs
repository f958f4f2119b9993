//! The tests of the room: cases as data, refusals, replay, rules files, properties.
#![cfg(test)]

mod around;
mod base_line;
mod bench;
mod cases;
mod changed;
mod counted;
mod films;
mod history;
mod limits;
mod presses;
mod properties;
mod refusals;
mod rules_files;
mod signatures;
mod signed;
mod sittings;
mod told;
