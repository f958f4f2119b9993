//! The tests of this room that stand outside it, in one binary.
#![cfg(test)]

mod made;
mod determination;
mod coverage;
mod copper;
mod faults;
mod climbs;
mod independent;
mod block_fit;
mod block_cooling;
mod block_diagnosis;
mod whole_budget;
#[path = "../../metrology/tests/python.rs"]
mod python;
mod dialects;
mod dialect_property;
mod hostile;
