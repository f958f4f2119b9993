//! Where entries are kept. A store adds at its end and reads; it has no way to change an entry.

pub mod sqlite;
pub mod postgres;

use std::path::Path;

use thiserror::Error;

use crate::chain::Stored;

pub use postgres::Postgres;
pub use sqlite::Sqlite;

/// What the ledger asks of a store.
///
/// A store keeps what it is given and gives it back; it knows nothing of what an entry says. The
/// chain is checked by whoever reads, so a store need not be trusted.
pub trait Store: Send {
    /// Adds an entry after the last one. When this returns the entry is on the disk.
    ///
    /// # Errors
    ///
    /// After any error but [`StoreError::Overtaken`] it is unknown whether the entry was kept. The
    /// store must then be opened anew and its last entry read.
    fn append(&mut self, stored: &Stored) -> Result<(), StoreError>;

    /// The last entry.
    ///
    /// # Errors
    ///
    /// [`StoreError::Damaged`] if what is there cannot be an entry.
    fn last(&self) -> Result<Option<Stored>, StoreError>;

    /// At most `most` entries with numbers above `number`, in order.
    ///
    /// # Errors
    ///
    /// [`StoreError::Damaged`] if what is there cannot be an entry.
    fn after(&self, number: u64, most: usize) -> Result<Vec<Stored>, StoreError>;

    /// Writes a copy as it is at this moment to a new file.
    ///
    /// # Errors
    ///
    /// [`StoreError::Failed`] and its like, as the disk says.
    fn copy_to(&self, path: &Path) -> Result<(), StoreError>;
}

/// Why a store cannot do what it is asked.
#[derive(Clone, Debug, PartialEq, Eq, Error)]
pub enum StoreError {
    /// The file is there and is something else.
    #[error("the file is not a record: {why}")]
    NotARecord {
        /// What it is instead.
        why: String,
    },
    /// The file was begun and holds nothing yet.
    #[error("the record was begun and never finished")]
    Unfinished,
    /// A later version of this program wrote it.
    #[error("the record is in form {found}; this program knows forms up to {known}")]
    Newer {
        /// The form of the file.
        found: i64,
        /// The last form known here.
        known: i64,
    },
    /// Its tables or its guards were changed.
    #[error("the record's tables were changed from outside: {what}")]
    Altered {
        /// Which part.
        what: String,
    },
    /// The database does not keep a setting that safety rests on.
    #[error("the database keeps {setting} = {found}; the record needs {wanted}")]
    Setting {
        /// Which setting.
        setting: &'static str,
        /// What it says.
        found: String,
        /// What it should say.
        wanted: &'static str,
    },
    /// The file is damaged.
    #[error("the record's file is damaged: {what}")]
    Damaged {
        /// What is wrong with it.
        what: String,
    },
    /// There is no space left.
    #[error("the disk is full")]
    DiskFull,
    /// It may not be written to.
    #[error("the record may not be written to here")]
    ReadOnly,
    /// Another program holds it.
    #[error("another program holds the record's file")]
    Busy,
    /// The database keeps to its guards.
    #[error("the record refuses this: {why}")]
    Guarded {
        /// What the guard says.
        why: String,
    },
    /// Another program has added an entry meanwhile; this one was not kept.
    #[error("another program has added an entry meanwhile")]
    Overtaken,
    /// The address of a database, or of a store of evidence, cannot be used.
    #[error("an address cannot be used: {why}")]
    Address {
        /// What is wrong with it.
        why: String,
    },
    /// There is no record in the database.
    #[error("the database holds no book")]
    NoBook,
    /// The role could do more than add entries.
    #[error("the role `{role}` could change the record")]
    MayChange {
        /// Which role.
        role: String,
    },
    /// The database cannot be reached.
    #[error("the database cannot be reached: {why}")]
    Away {
        /// What became of the line.
        why: String,
    },
    /// The database answers, and its way is not enciphered or it is certified by somebody else.
    #[error("the database is not to be trusted: {why}")]
    Untrusted {
        /// What is wrong with it.
        why: String,
    },
    /// The database went away while an entry was added.
    #[error("it is not known whether the entry was kept, for the database went away: {why}")]
    Unsure {
        /// What became of the line.
        why: String,
    },
    /// The database says no.
    #[error("the database refuses: {why}")]
    Database {
        /// What it says.
        why: String,
    },
    /// Anything else that can go wrong between a program and a disk.
    #[error("the record's file cannot be used: {why}")]
    Failed {
        /// What the system says.
        why: String,
    },
}

impl StoreError {
    /// The way out, where there is one.
    #[must_use]
    pub fn hint(&self) -> Option<&'static str> {
        match self {
            Self::NotARecord { .. } => Some(
                "Name the folder of a book; if this was one, `restore` a backup into a new folder.",
            ),
            Self::Unfinished => Some("Make the book again with `new`."),
            Self::Newer { .. } => {
                Some("Use the version of this program that wrote it, or a later one.")
            }
            Self::Altered { .. } => {
                Some("Restore a backup and hold it against this file with `verify`.")
            }
            Self::Damaged { .. } => Some(
                "Nothing was changed. `restore` a backup into a new folder, or open this one to read \
                 only with `record list`: each entry is held against its hash.",
            ),
            Self::DiskFull => Some(
                "Free some space on this disk, then do it again; what was kept before is safe.",
            ),
            Self::ReadOnly => {
                Some("Ask for the right to write in this folder, or open it to read only.")
            }
            Self::Busy => Some("Close the other program."),
            Self::Setting {
                setting: "journal_mode" | "synchronous" | "max_page_count", ..
            } => Some("Put the book on a local disk."),
            Self::Setting { .. } => {
                Some("Set it so in the database's configuration, and reload it.")
            }
            Self::Overtaken => Some("Do it again."),
            Self::Address { .. } => Some(
                "Write `postgres://ROLE@HOST/DATABASE`; the manual's page PostgreSQL says more.",
            ),
            Self::NoBook => Some("Make one with `new`, as the role that is to own its tables."),
            Self::MayChange { .. } => {
                Some("Open the book as the role that `new` was told with `--role`.")
            }
            Self::Away { .. } => {
                Some("See that the database runs and the network holds; nothing was kept.")
            }
            Self::Untrusted { .. } => Some(
                "Look at the address, its `sslrootcert` and the database's certificate; nothing was told \
                 to it.",
            ),
            Self::Unsure { .. } => Some("Look whether it is there before you do it again."),
            Self::Guarded { .. } | Self::Database { .. } | Self::Failed { .. } => None,
        }
    }
}
