//! The tests of this room that stand outside it, in one binary.
#![cfg(test)]

mod made;
mod coverage;
mod copper;
mod faults;
mod climbs;
mod independent;
#[path = "../../metrology/tests/python.rs"]
mod python;
mod dialects;
mod dialect_property;
mod hostile;
