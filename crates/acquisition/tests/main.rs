//! Tests of the room from outside, one module a kind of source.
#![cfg(test)]

mod made;
mod cable;
mod settings;
mod reader;
mod practice;
mod replay;
mod tcp_lines;
mod serial_lines;
mod modbus;
mod endurance;
