//! A folder that appears whole or not at all.

#![expect(clippy::disallowed_methods, reason = "the ledger keeps files")]

use std::ffi::OsString;
use std::fs;
use std::io::ErrorKind;
use std::path::{Path, PathBuf};

use crate::error::LedgerError;
use crate::files::{Files, above};

/// A folder in the making, under a temporary name beside its final one.
pub(crate) struct Fresh<'a> {
    files: &'a dyn Files,
    incoming: PathBuf,
    to: PathBuf,
    whole: bool,
}

impl<'a> Fresh<'a> {
    /// Begins a folder that is to appear at `to`, where nothing may be but an empty folder.
    pub(crate) fn begin(files: &'a dyn Files, to: &Path) -> Result<Self, LedgerError> {
        match fs::read_dir(to).map(|mut entries| entries.next().is_none()) {
            Ok(true) => {}
            Err(cause) if cause.kind() == ErrorKind::NotFound => {}
            Err(cause) if cause.kind() != ErrorKind::NotADirectory => {
                return Err(LedgerError::refused("list", to)(cause));
            }
            _ => return Err(LedgerError::NotFree { folder: to.to_owned() }),
        }
        let mut name = to.file_name().map_or_else(|| OsString::from("book"), OsString::from);
        name.push(".incoming");
        let incoming = to.with_file_name(name);
        if incoming.exists() {
            return Err(LedgerError::NotFree { folder: incoming });
        }
        let fresh = Self { files, incoming, to: to.to_owned(), whole: false };
        let refused = LedgerError::refused("create", &fresh.incoming);
        files.create_folder(&fresh.incoming).map_err(refused)?;
        Ok(fresh)
    }

    /// Where it is made.
    pub(crate) fn path(&self) -> &Path {
        &self.incoming
    }

    /// Makes a folder in it.
    pub(crate) fn folder(&self, name: &str) -> Result<PathBuf, LedgerError> {
        let path = self.incoming.join(name);
        self.files.create_folder(&path).map_err(LedgerError::refused("create", &path))?;
        Ok(path)
    }

    /// Makes a file in it: `write` is handed what takes the pieces.
    pub(crate) fn file(
        &self,
        name: &str,
        write: impl FnOnce(&mut dyn FnMut(&[u8]) -> Result<(), LedgerError>) -> Result<(), LedgerError>,
    ) -> Result<(), LedgerError> {
        let path = self.incoming.join(name);
        let refused = |deed| LedgerError::refused(deed, &path);
        let mut file = self.files.create(&path).map_err(refused("create"))?;
        write(&mut |piece| self.files.write(&mut file, piece).map_err(refused("write")))?;
        self.files.sync(&file).map_err(refused("write to disk"))
    }

    /// Gives it its final name.
    pub(crate) fn finish(mut self) -> Result<(), LedgerError> {
        let refused = |deed| LedgerError::refused(deed, &self.to);
        self.files.sync_folder(&self.incoming).map_err(refused("write to disk"))?;
        match fs::remove_dir(&self.to) {
            Err(cause) if cause.kind() != ErrorKind::NotFound => {
                return Err(refused("replace")(cause));
            }
            _ => {}
        }
        self.files.rename(&self.incoming, &self.to).map_err(refused("name"))?;
        self.whole = true;
        self.files.sync_folder(above(&self.to)).map_err(refused("write to disk"))
    }
}

impl Drop for Fresh<'_> {
    /// What was not finished is taken away, as far as the disk lets us.
    fn drop(&mut self) {
        if !self.whole {
            fs::remove_dir_all(&self.incoming).ok();
        }
    }
}
