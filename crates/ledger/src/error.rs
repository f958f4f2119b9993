//! What can go wrong with a book, and the way out.

use std::io;
use std::path::{Path, PathBuf};

use thiserror::Error;
use trial::history::HistoryError;
use trial::moment::Moment;
use trial::rules::RulesError;

use crate::blob::BlobError;
use crate::chain::{EntryError, Head, LinkError};
use crate::files;
use crate::hash::{EntryHash, short};
use crate::note::TreeHead;
use crate::store::StoreError;

/// Why a book cannot do what it is asked.
#[derive(Debug, Error)]
pub enum LedgerError {
    /// There is no record in the folder.
    #[error("`{}` is not a book: it holds no record", folder.display())]
    NotABook {
        /// The folder.
        folder: PathBuf,
    },
    /// The folder for a new book is taken.
    #[error("`{}` is not empty", folder.display())]
    NotFree {
        /// The folder.
        folder: PathBuf,
    },
    /// Another program writes in the book.
    #[error("the book `{}` is in use by {}", folder.display(), holder(*by))]
    InUse {
        /// The folder.
        folder: PathBuf,
        /// The other program's process number, where it can be told.
        by: Option<u32>,
    },
    /// The folder lies on another machine, where locks and syncs cannot be relied on.
    #[error("`{}` lies on a network drive ({kind}), where an entry could be lost after it was acknowledged", folder.display())]
    NetworkDrive {
        /// The folder.
        folder: PathBuf,
        /// The kind of file system.
        kind: String,
    },
    /// The book was opened to read only.
    #[error("the book was opened to read only")]
    ReadOnly,
    /// A write failed earlier.
    #[error("the book takes no further entry since a write failed: {why}")]
    Stopped {
        /// What had failed.
        why: String,
    },
    /// The store refuses.
    #[error(transparent)]
    Store(#[from] StoreError),
    /// The evidence refuses.
    #[error(transparent)]
    Evidence(#[from] BlobError),
    /// An entry does not stand where it is, or would not.
    #[error(transparent)]
    Link(#[from] LinkError),
    /// An entry cannot be one.
    #[error(transparent)]
    Entry(#[from] EntryError),
    /// A fact cannot be written down.
    #[error("the entry `{kind}` cannot be written: {why}")]
    CannotWrite {
        /// The kind of the entry.
        kind: String,
        /// What is wrong with it.
        why: String,
    },
    /// An entry says nothing that is known here.
    #[error("entry {number} cannot be read: {why}")]
    Unreadable {
        /// Which entry.
        number: u64,
        /// What is wrong with it.
        why: String,
    },
    /// A moment that no entry can have.
    #[error("{at} lies outside the years 1970 to 9998")]
    OutsideCalendar {
        /// The moment.
        at: Moment,
    },
    /// Entries at the end are gone.
    #[error("the record ends at entry {}, but entry {} was seen before with the hash {}",
        last.unwrap_or(0), seen.number, short(&seen.hash))]
    CutShort {
        /// The head that was seen.
        seen: Head,
        /// The last entry that is there.
        last: Option<u64>,
    },
    /// Another entry stands where one was seen before.
    #[error("entry {} has the hash {}, but was seen before with the hash {}",
        seen.number, short(found), short(&seen.hash))]
    OtherHead {
        /// The head that was seen.
        seen: Head,
        /// The hash that is there.
        found: EntryHash,
    },
    /// The entries tell what no test can have been.
    #[error("the entries tell what no test can have been")]
    History(#[source] Box<HistoryError>),
    /// The rules that a plan used cannot be read.
    #[error("the rules that a plan used cannot be read")]
    Rules(#[source] Box<RulesError>),
    /// There is no bundle in the folder.
    #[error("`{}` is not a bundle: it holds no entries.jsonl", folder.display())]
    NotABundle {
        /// The folder.
        folder: PathBuf,
    },
    /// A file that should hold a head does not.
    #[error("`{}` does not hold a number and a hash", path.display())]
    NotAHead {
        /// The file.
        path: PathBuf,
    },
    /// A file that should hold the book's key does not.
    #[error("`{}` does not hold a key", path.display())]
    NotAKey {
        /// The file.
        path: PathBuf,
    },
    /// A head was signed before that this record does not continue.
    #[error("a head of {} entries was signed before, and this record of {} does not continue it",
        signed.size, now.size)]
    Forked {
        /// The head that was signed.
        signed: TreeHead,
        /// The head of this record.
        now: TreeHead,
    },
    /// No signed head covers what is asked for.
    #[error("no head was signed yet that covers entry {number}")]
    Unsigned {
        /// The entry.
        number: u64,
    },
    /// The file system refuses.
    #[error("cannot {deed} `{}`", path.display())]
    Refused {
        /// What was tried.
        deed: &'static str,
        /// On which file or folder.
        path: PathBuf,
        /// What the file system says.
        #[source]
        cause: io::Error,
    },
}

/// On whose side the cause lies: it decides a program's exit code.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Side {
    /// The record or its evidence does not check.
    Record,
    /// The book was asked for what it does not do.
    Use,
    /// The disk, the folder or another program.
    Surroundings,
}

impl LedgerError {
    pub(crate) fn refused(
        deed: &'static str,
        path: &Path,
    ) -> impl FnOnce(io::Error) -> Self + use<> {
        let path = path.to_owned();
        move |cause| Self::Refused { deed, path, cause }
    }

    /// The way out, where there is one.
    #[must_use]
    pub fn hint(&self) -> Option<&'static str> {
        match self {
            Self::NotABook { .. } => Some("Name the folder of a book, or make one with `new`."),
            Self::NotFree { .. } => Some("Name an empty folder, or one that is not there yet."),
            Self::InUse { .. } => Some("Close the other program, or open the book to read only."),
            Self::NetworkDrive { .. } => {
                Some("Keep the book on a local disk, and backups on the network.")
            }
            Self::ReadOnly => Some("Open the book to write in it."),
            Self::Stopped { .. } => Some("Open the book anew and look at its last entry."),
            Self::Store(cause) => cause.hint(),
            Self::Evidence(cause) => cause.hint(),
            Self::Link(LinkError::Earlier { .. }) => {
                Some("Set this machine's clock, then do it again; nothing was written.")
            }
            Self::Link(_)
            | Self::CutShort { .. }
            | Self::OtherHead { .. }
            | Self::Forked { .. } => Some(
                "Nothing was changed. Run `verify` on it, and restore a backup into another folder.",
            ),
            Self::Entry(EntryError::TooLong { .. }) => Some("File long contents as evidence."),
            Self::Entry(_) | Self::CannotWrite { .. } => None,
            Self::Unreadable { .. } => {
                Some("Use the version of this program that wrote it, or a later one.")
            }
            Self::OutsideCalendar { .. } => Some("Set this machine's clock."),
            Self::NotAHead { .. } => Some(
                "Put the file back from a backup, or take it away and give the head of a report.",
            ),
            Self::NotAKey { .. } => {
                Some("Put the file back from a copy, or begin a new key with `key renew --lost`.")
            }
            Self::Unsigned { .. } => Some("Sign one with `record head`."),
            Self::History(cause) => Some(cause.hint()),
            Self::Rules(cause) => Some(cause.hint()),
            Self::NotABundle { .. } => Some("Name the folder of a bundle, made with `export`."),
            Self::Refused { cause, .. } => files::hint(cause),
        }
    }

    /// On whose side the cause lies.
    #[must_use]
    pub fn side(&self) -> Side {
        match self {
            Self::NotABook { .. }
            | Self::NotFree { .. }
            | Self::ReadOnly
            | Self::NotABundle { .. }
            | Self::NotAHead { .. }
            | Self::NotAKey { .. }
            | Self::Unsigned { .. }
            | Self::CannotWrite { .. }
            | Self::Entry(EntryError::TooLong { .. })
            | Self::Evidence(BlobError::Missing { .. })
            | Self::Store(
                StoreError::NotARecord { .. }
                | StoreError::Unfinished
                | StoreError::Newer { .. }
                | StoreError::Address { .. }
                | StoreError::NoBook
                | StoreError::MayChange { .. },
            ) => Side::Use,
            Self::InUse { .. }
            | Self::NetworkDrive { .. }
            | Self::Stopped { .. }
            | Self::OutsideCalendar { .. }
            | Self::Refused { .. }
            | Self::Evidence(BlobError::Source(_) | BlobError::Refused { .. })
            | Self::Link(LinkError::Earlier { .. })
            | Self::Store(
                StoreError::Setting { .. }
                | StoreError::DiskFull
                | StoreError::ReadOnly
                | StoreError::Busy
                | StoreError::Guarded { .. }
                | StoreError::Overtaken
                | StoreError::Away { .. }
                | StoreError::Untrusted { .. }
                | StoreError::Unsure { .. }
                | StoreError::Database { .. }
                | StoreError::Failed { .. },
            ) => Side::Surroundings,
            Self::Evidence(BlobError::Damaged { .. })
            | Self::Link(_)
            | Self::Entry(_)
            | Self::Unreadable { .. }
            | Self::History(_)
            | Self::Rules(_)
            | Self::CutShort { .. }
            | Self::OtherHead { .. }
            | Self::Forked { .. }
            | Self::Store(StoreError::Altered { .. } | StoreError::Damaged { .. }) => Side::Record,
        }
    }
}

fn holder(by: Option<u32>) -> String {
    by.map_or("another program".to_owned(), |process| format!("process {process}"))
}
