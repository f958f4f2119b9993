//! Pieces of films that are recorded at the bench: on the disk of the book's folder until the whole
//! film is evidence. They may come twice and in any order.
#![expect(clippy::disallowed_methods, reason = "pieces wait in files")]

use std::collections::BTreeMap;
use std::fs;
use std::io::{Error, ErrorKind, Result};
use std::path::{Path, PathBuf};
use std::sync::atomic::{AtomicU64, Ordering};
use std::sync::{Mutex, PoisonError};

use sha2::{Digest as _, Sha256};

/// The folder of all pieces in a book.
const FOLDER: &str = "films-coming";

/// The pieces of the films that come in, as they were found on the disk or came since.
static COMING: Mutex<BTreeMap<PathBuf, BTreeMap<u32, There>>> = Mutex::new(BTreeMap::new());

/// So many films are remembered at most; then their folders are listed again.
const FILMS_MOST: usize = 16;

/// Counts the files that are being written.
static WRITTEN: AtomicU64 = AtomicU64::new(0);

/// The pieces of one film.
#[derive(Clone, Debug)]
pub(super) struct Pieces(PathBuf);

/// A piece that is there.
#[derive(Clone, Debug)]
struct There {
    sha256: String,
    bytes: u64,
}

/// What became of a piece.
#[derive(Debug, PartialEq, Eq)]
pub(super) enum Came {
    /// It is kept, or was before.
    Kept,
    /// Another one is there under its number.
    Differs,
    /// All together are too large.
    TooLarge,
}

impl Pieces {
    /// Those of a film in this book; its name has no letters that lead elsewhere.
    pub(super) fn of(book: &Path, film: &str) -> Self {
        Self(book.join(FOLDER).join(film))
    }

    /// Those that are there, by number.
    fn there(&self) -> Result<BTreeMap<u32, There>> {
        let entries = match fs::read_dir(&self.0) {
            Ok(entries) => entries,
            Err(error) if error.kind() == ErrorKind::NotFound => return Ok(BTreeMap::new()),
            Err(error) => return Err(error),
        };
        let mut there = BTreeMap::new();
        for entry in entries {
            let entry = entry?;
            let name = entry.file_name().into_string().unwrap_or_default();
            if let Some((number, sha256)) = name.split_once('.')
                && let Ok(number) = number.parse()
            {
                let bytes = entry.metadata()?.len();
                there.insert(number, There { sha256: sha256.to_owned(), bytes });
            }
        }
        Ok(there)
    }

    fn path(&self, number: u32, sha256: &str) -> PathBuf {
        self.0.join(format!("{number}.{sha256}"))
    }

    /// Keeps a piece; `sha256` is its hash.
    ///
    /// # Errors
    ///
    /// As the disk says.
    pub(super) fn keep(
        &self,
        (number, sha256): (u32, &str),
        bytes: &[u8],
        most: u64,
    ) -> Result<Came> {
        let mut coming = COMING.lock().unwrap_or_else(PoisonError::into_inner);
        if !coming.contains_key(&self.0) {
            if coming.len() >= FILMS_MOST {
                coming.clear();
            }
            coming.insert(self.0.clone(), self.there()?);
        }
        let there = coming.entry(self.0.clone()).or_default();
        match there.get(&number) {
            Some(known) if known.sha256 == sha256 => return Ok(Came::Kept),
            Some(_) => return Ok(Came::Differs),
            None => {}
        }
        let all: u64 = there.values().map(|piece| piece.bytes).sum();
        if all + bytes.len() as u64 > most {
            return Ok(Came::TooLarge);
        }
        fs::create_dir_all(&self.0)?;
        let file = self.0.join(format!("coming-{}", WRITTEN.fetch_add(1, Ordering::Relaxed)));
        fs::write(&file, bytes)?;
        fs::rename(&file, self.path(number, sha256))?;
        let piece = There { sha256: sha256.to_owned(), bytes: bytes.len() as u64 };
        there.insert(number, piece);
        Ok(Came::Kept)
    }

    /// The numbers up to `pieces` of those that are not there.
    ///
    /// # Errors
    ///
    /// As the disk says.
    pub(super) fn missing(&self, pieces: u32) -> Result<Vec<u32>> {
        let there = self.there()?;
        let missing: Vec<u32> = (1..=pieces).filter(|number| !there.contains_key(number)).collect();
        if !missing.is_empty() {
            // What is remembered may be more than what is there.
            self.let_go();
        }
        Ok(missing)
    }

    /// The bytes of a piece; none where what lies there is not what came: it goes then.
    ///
    /// # Errors
    ///
    /// As the disk says.
    pub(super) fn piece(&self, number: u32) -> Result<Option<Vec<u8>>> {
        let there = self.there()?;
        let piece = there.get(&number).ok_or_else(|| Error::from(ErrorKind::NotFound))?;
        let path = self.path(number, &piece.sha256);
        let bytes = fs::read(&path)?;
        if hash(&bytes) == piece.sha256 {
            return Ok(Some(bytes));
        }
        fs::remove_file(&path)?;
        self.let_go();
        Ok(None)
    }

    /// Its folder is listed again the next time.
    fn let_go(&self) {
        COMING.lock().unwrap_or_else(PoisonError::into_inner).remove(&self.0);
    }

    /// The film is evidence: its pieces go. Those that cannot go cost nothing but their room.
    pub(super) fn forget(&self) {
        self.let_go();
        fs::remove_dir_all(&self.0).ok();
    }
}

/// Gives up all films of a book that are coming in: each device keeps its pieces until the whole film
/// is evidence, and sends them again. Whether there were any.
pub(crate) fn drop_all(book: &Path) -> bool {
    COMING.lock().unwrap_or_else(PoisonError::into_inner).clear();
    fs::remove_dir_all(book.join(FOLDER)).is_ok()
}

/// The SHA-256 of some bytes in hexadecimal digits.
pub(super) fn hash(bytes: &[u8]) -> String {
    hex::encode(Sha256::digest(bytes))
}
