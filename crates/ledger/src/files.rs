//! The few things that are done to files, so that a test can make the n-th of them fail.

#![expect(clippy::disallowed_methods, reason = "the ledger keeps files")]

use std::fs::{self, File, OpenOptions};
use std::io::{self, ErrorKind, Write};
use std::path::Path;

/// What is done to files when something is kept.
pub trait Files: Send + Sync {
    /// Opens a file to be written from its beginning.
    ///
    /// # Errors
    ///
    /// As the file system says.
    fn create(&self, path: &Path) -> io::Result<File>;

    /// Writes all `bytes`.
    ///
    /// # Errors
    ///
    /// As the file system says.
    fn write(&self, file: &mut File, bytes: &[u8]) -> io::Result<()>;

    /// Waits until the file is on the disk.
    ///
    /// # Errors
    ///
    /// As the file system says; the file's contents are then unknown.
    fn sync(&self, file: &File) -> io::Result<()>;

    /// Gives a file its final name, in place of what had it.
    ///
    /// # Errors
    ///
    /// As the file system says.
    fn rename(&self, from: &Path, to: &Path) -> io::Result<()>;

    /// Makes a folder; one that is there already is good too.
    ///
    /// # Errors
    ///
    /// As the file system says.
    fn create_folder(&self, path: &Path) -> io::Result<()>;

    /// Waits until the names in a folder are on the disk.
    ///
    /// # Errors
    ///
    /// As the file system says.
    fn sync_folder(&self, path: &Path) -> io::Result<()>;

    /// Removes a file.
    ///
    /// # Errors
    ///
    /// As the file system says.
    fn remove(&self, path: &Path) -> io::Result<()>;
}

/// The files of this machine.
#[derive(Clone, Copy, Debug, Default)]
pub struct Disk;

impl Files for Disk {
    fn create(&self, path: &Path) -> io::Result<File> {
        OpenOptions::new().write(true).create(true).truncate(true).open(path)
    }

    fn write(&self, file: &mut File, bytes: &[u8]) -> io::Result<()> {
        file.write_all(bytes)
    }

    fn sync(&self, file: &File) -> io::Result<()> {
        file.sync_all()
    }

    fn rename(&self, from: &Path, to: &Path) -> io::Result<()> {
        fs::rename(from, to)
    }

    fn create_folder(&self, path: &Path) -> io::Result<()> {
        match fs::create_dir(path) {
            Err(cause) if cause.kind() == ErrorKind::AlreadyExists && path.is_dir() => Ok(()),
            done => done,
        }
    }

    fn sync_folder(&self, path: &Path) -> io::Result<()> {
        // Windows has no such call; there a rename is on the disk when it returns.
        if cfg!(unix) { File::open(path)?.sync_all() } else { Ok(()) }
    }

    fn remove(&self, path: &Path) -> io::Result<()> {
        fs::remove_file(path)
    }
}

/// Makes a folder, and those above it that are missing. When this returns the names of those that
/// were made are on the disk.
///
/// # Errors
///
/// As the file system says.
pub fn create_folders(files: &dyn Files, path: &Path) -> io::Result<()> {
    if path.is_dir() {
        return Ok(());
    }
    let above = above(path);
    create_folders(files, above)?;
    files.create_folder(path)?;
    files.sync_folder(above)
}

/// The folder that a name stands in.
pub(crate) fn above(path: &Path) -> &Path {
    let above = path.parent().filter(|above| !above.as_os_str().is_empty());
    above.unwrap_or(Path::new("."))
}

/// Writes a whole file so that it is either there or not, whatever happens meanwhile: a temporary
/// name, sync, rename, sync of the folder.
///
/// # Errors
///
/// As the file system says; then what stood there before still stands.
pub fn put(files: &dyn Files, path: &Path, bytes: &[u8]) -> io::Result<()> {
    let mut temporary = path.as_os_str().to_owned();
    temporary.push(".incoming");
    let temporary = Path::new(&temporary);
    let written = || {
        let mut file = files.create(temporary)?;
        files.write(&mut file, bytes)?;
        files.sync(&file)?;
        drop(file);
        files.rename(temporary, path)
    };
    if let Err(cause) = written() {
        files.remove(temporary).ok();
        return Err(cause);
    }
    files.sync_folder(above(path))
}

/// What a person can do about a file system's refusal.
#[must_use]
pub fn hint(cause: &io::Error) -> Option<&'static str> {
    let kind = cause.kind();
    if matches!(kind, ErrorKind::StorageFull | ErrorKind::QuotaExceeded) {
        return Some(
            "Free some space on this disk, then do it again; what was kept before is safe.",
        );
    }
    if kind == ErrorKind::ReadOnlyFilesystem {
        return Some("Copy the book to a disk that can be written to, or open it to read only.");
    }
    if kind == ErrorKind::PermissionDenied {
        return Some("Ask for the right to write in this folder, or open the book to read only.");
    }
    None
}
