//! The append-only record: entries chained by hash, evidence filed under its hash.
//!
//! An entry is acknowledged only when it is on the disk. Nothing is updated and nothing is
//! deleted; a correction is an entry of its own. Whoever holds the number and hash of one entry
//! can tell whether anything before it was changed.

pub mod hash;
pub mod tree;
pub mod chain;
pub mod note;
pub mod key;
pub mod files;
pub mod room;
pub mod blob;
pub mod incoming;
mod remote;
pub mod store;
pub mod entry;
pub mod error;
mod place;
mod walk;
mod ahead;
pub mod book;
mod replay;
pub mod signed;
pub mod verify;
mod fresh;
pub mod heads;
pub mod backup;
pub mod bundle;
pub mod proof;
pub mod scrub;

pub use backup::{Copied, restore, restore_on_database};
pub use book::{Book, Making};
pub use bundle::{verify_bundle, verify_bundle_by};
pub use chain::Head;
pub use error::{LedgerError, Side};
pub use incoming::Incoming;
pub use replay::library;
pub use store::postgres::{Address, Notes, Places};
pub use verify::{Fault, Seen, Verification, verify, verify_by};
