//! Room on the disk of a book: how much is left of it, and a reserve that is given back when there
//! is none.

#![expect(clippy::disallowed_methods, reason = "the ledger keeps files")]

use std::fs::{self, File};
use std::io;
use std::path::Path;

/// The name of the file in a book that holds room on the disk and no bytes.
pub(crate) const RESERVE: &str = "reserve";

/// How many bytes a program without special rights may still write where this folder lies; `None`
/// where the system does not say.
#[must_use]
pub fn left(folder: &Path) -> Option<u64> {
    #[cfg(unix)]
    {
        let room = rustix::fs::statvfs(folder).ok()?;
        room.f_bavail.checked_mul(room.f_frsize)
    }
    #[cfg(not(unix))]
    {
        let _ = folder;
        None
    }
}

/// Sets so much room aside in a book's folder, for nothing but [`release`] to give it back. What is
/// set aside already stays.
///
/// # Errors
///
/// As the disk says; [`io::ErrorKind::Unsupported`] where it sets no room aside.
pub fn set_aside(folder: &Path, bytes: u64) -> io::Result<()> {
    let file = File::create(folder.join(RESERVE))?;
    #[cfg(target_os = "linux")]
    {
        // Beyond the file's end: it stays without bytes, and a copy of the folder as small as it is.
        let keep = rustix::fs::FallocateFlags::KEEP_SIZE;
        rustix::fs::fallocate(&file, keep, 0, bytes).map_err(io::Error::from)
    }
    #[cfg(not(target_os = "linux"))]
    {
        let _ = (file, bytes);
        Err(io::ErrorKind::Unsupported.into())
    }
}

/// Gives the room back that was set aside. Whether there was any.
#[must_use]
pub fn release(folder: &Path) -> bool {
    fs::remove_file(folder.join(RESERVE)).is_ok()
}
