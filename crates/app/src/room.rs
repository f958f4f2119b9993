//! Room on the disk of the book: said early, and kept for what cannot be repeated.
//!
//! Presses come before films, and an open specimen before anything new. Numbers of ours; decision
//! 34 says why.

use std::path::Path;

use ledger::room;

use crate::problem::Problem;

/// With less than this it is said on the first page and by `check`: 2 GiB.
const NOTED: u64 = 2 << 30;

/// With less than this no further specimen is begun and no film is taken in: 500 MiB.
const NEEDED: u64 = 500 << 20;

/// So much is set aside for the presses of a specimen that is open: 64 MiB.
const RESERVE: u64 = 64 << 20;

/// The same in words.
pub(crate) const SET_ASIDE: &str = "64 MiB that were set aside";

/// The way out.
pub(crate) const FREE_SOME: &str =
    "Free some space on the disk of the book; films and old backups take most.";

/// What there is to say of the room on the disk; nothing while there is enough, or where the system
/// does not tell.
pub(crate) fn words(book: &Path) -> Option<String> {
    let left = room::left(book)?;
    if left >= NOTED {
        return None;
    }
    let mib = left >> 20;
    Some(if left < NEEDED {
        format!("The disk of the book has {mib} MiB left: no further specimen is begun.")
    } else {
        format!("The disk of the book has {mib} MiB left.")
    })
}

/// Whether there is room to begin something new.
///
/// # Errors
///
/// [`Problem`] with what is left and what is needed.
pub(crate) fn enough(book: &Path, what: &str) -> Result<(), Problem> {
    match room::left(book) {
        Some(left) if left < NEEDED => {
            let (left, needed) = (left >> 20, NEEDED >> 20);
            Err(Problem::surroundings(format!(
                "the disk of the book has {left} MiB left; {what} needs {needed} MiB"
            ))
            .hint(FREE_SOME))
        }
        Some(_) | None => Ok(()),
    }
}

/// Sets room aside for presses, where there is enough of it and the disk does so. Whether it is.
pub(crate) fn set_aside(book: &Path) -> bool {
    room::left(book).is_some_and(|left| left >= NEEDED + RESERVE)
        && room::set_aside(book, RESERVE).is_ok()
}
