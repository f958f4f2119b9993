//! The tests of this room that stand outside it, in one binary.
#![cfg(test)]

mod independent;
mod python;
mod reference;
mod thermocouples;
