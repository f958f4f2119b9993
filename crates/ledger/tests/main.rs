//! The tests of the ledger.
#![cfg(test)]
#![expect(clippy::disallowed_methods, reason = "the tests look at the files the ledger keeps")]

mod failing;
#[cfg(target_os = "linux")]
mod faults;
#[cfg(target_os = "linux")]
mod mounts;
mod story;
mod blobs;
mod store;
mod book;
mod tamper;
mod tree;
mod keys;
mod forged;
mod proof;
mod damage;
mod copies;
mod formats;
mod fuzz;
mod kill;
mod postgres;
