//! The tests of this room that stand outside it, in one binary.
#![cfg(test)]

mod control_charts;
mod independent;
mod inputs;
mod monte_carlo;
mod properties;
mod python;
mod reference;
mod thermocouples;
