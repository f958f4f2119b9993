//! The append-only record: entries chained by hash, evidence filed under its hash.
//!
//! An entry is acknowledged only when it is on the disk. Nothing is updated and nothing is
//! deleted; a correction is an entry of its own. Whoever holds the number and hash of one entry
//! can tell whether anything before it was changed.

pub mod hash;
pub mod chain;
pub mod files;
pub mod blob;
pub mod store;
