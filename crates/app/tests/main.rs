//! The tests of the program as a whole, and of the house.
#![cfg(test)]

mod docs;
mod house;
mod made_up;
mod rubbish;
mod tidy;
mod tidy_map;
mod transcripts;
