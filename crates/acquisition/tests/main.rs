//! Tests of the room from outside, one module a kind of source.
#![cfg(test)]

mod made;
mod settings;
mod reader;
mod practice;
mod replay;
mod tcp_lines;
mod endurance;
