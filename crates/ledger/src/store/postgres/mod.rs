//! Entries in a PostgreSQL database, which several programs write in.
//!
//! What we assume of the database: that a commit is on its disk when it is acknowledged, which the
//! settings say that are read back at each new line; that a unique constraint and a foreign key
//! hold; that a row can be locked. Nothing is assumed of isolation levels (`schema`).
//!
//! A lost answer is no failure. The same entry is offered again: it stands there once, by its
//! number and its hash, and if it stands there it was kept.

#![expect(clippy::disallowed_methods, reason = "a copy is a file")]

mod address;
mod tls;
mod line;
mod schema;
mod notes;
mod signed;

use std::cell::RefCell;
use std::fs;
use std::path::{Path, PathBuf};
use std::time::Duration;

use tokio_postgres::error::SqlState;
use tokio_postgres::types::ToSql;
use tokio_postgres::{Error, Row};

use super::{Sqlite, Store, StoreError};
use crate::chain::{At, Entry, Stored};
use crate::hash::{BlobHash, EntryHash};
use line::{Line, Trouble};

pub use address::Address;
pub use notes::Notes;

/// So long a lost line is tried again.
const PATIENCE: Duration = Duration::from_secs(20);

/// How many entries are copied at a time.
const BATCH: usize = 100;

/// A record in a PostgreSQL database.
pub struct Postgres {
    line: RefCell<Line>,
}

/// Where a book on a database keeps what is no entry.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Places {
    /// The folder of each machine's own files.
    pub files: PathBuf,
    /// Where the evidence lies, for all programs alike: a folder, or `s3://…`.
    pub evidence: String,
}

impl Postgres {
    /// Makes the tables as their owner, for `role` to add entries to.
    ///
    /// # Errors
    ///
    /// [`StoreError::Guarded`] if a record is there already, or `role` is the owner or none;
    /// otherwise as the database says.
    pub fn create(address: &Address, places: &Places, role: &str) -> Result<Self, StoreError> {
        let mut line = Line::to(address.clone(), PATIENCE)?;
        if role == address.role() {
            let why = format!("`{role}` makes the tables and could change them; name another role");
            return Err(StoreError::Guarded { why });
        }
        let files = places.files.to_str().ok_or_else(|| StoreError::Address {
            why: "the folder for files is not UTF-8".to_owned(),
        })?;
        match line.say(&schema::making((files, &places.evidence), role)) {
            Ok(()) => {}
            Err(refused) => {
                let made = Self { line: RefCell::new(line) };
                // One that was made, and never opened by its first entry, is taken up.
                return match (made.last(), made.places()) {
                    (Ok(None), Ok(found)) if found == *places => Ok(made),
                    (Ok(_), Ok(_)) => {
                        let why = "there is a record here already".to_owned();
                        Err(StoreError::Guarded { why })
                    }
                    _ => Err(refused),
                };
            }
        }
        Ok(Self { line: RefCell::new(line) })
    }

    /// Opens a record to read and to add to, as a role that can do no more than that.
    ///
    /// # Errors
    ///
    /// [`StoreError::Setting`], [`StoreError::Altered`], [`StoreError::MayChange`]; otherwise as
    /// the database says.
    pub fn open(address: &Address) -> Result<Self, StoreError> {
        let store = Self::open_read_only(address)?;
        let may_change: bool = store
            .line
            .borrow_mut()
            .ask(async |there| there.client.query_one(schema::MAY_CHANGE, &[]).await?.try_get(0))?;
        if may_change {
            return Err(StoreError::MayChange { role: address.role().to_owned() });
        }
        Ok(store)
    }

    /// Opens a record to read it.
    ///
    /// # Errors
    ///
    /// As [`Postgres::open`], but for the role.
    pub fn open_read_only(address: &Address) -> Result<Self, StoreError> {
        let store = Self { line: RefCell::new(Line::to(address.clone(), PATIENCE)?) };
        store.places()?;
        Ok(store)
    }

    /// Where what is no entry is kept.
    ///
    /// # Errors
    ///
    /// As the database says.
    pub fn places(&self) -> Result<Places, StoreError> {
        let (files, evidence): (String, String) = self.line.borrow_mut().ask(async |there| {
            let question = "SELECT files, evidence FROM cinderbook.book";
            let row = there.client.query_one(question, &[]).await?;
            Ok((row.try_get(0)?, row.try_get(1)?))
        })?;
        Ok(Places { files: files.into(), evidence })
    }

    /// Whether signed heads lie in the database: not of a book in the first form of its tables, where
    /// each machine has its own.
    ///
    /// # Errors
    ///
    /// As the database says.
    pub fn has_signed(&self) -> Result<bool, StoreError> {
        self.line.borrow_mut().ask(async |there| {
            let question = "SELECT form > 1 FROM cinderbook.book";
            there.client.query_one(question, &[]).await?.try_get(0)
        })
    }

    /// The head as the guard noted it beside the entries: it finds out a cut end.
    ///
    /// # Errors
    ///
    /// As the database says.
    pub fn noted(&self) -> Result<Option<(u64, EntryHash)>, StoreError> {
        let (number, hash): (i64, Option<Vec<u8>>) = self.line.borrow_mut().ask(async |there| {
            let question = "SELECT number, hash FROM cinderbook.head";
            let row = there.client.query_one(question, &[]).await?;
            Ok((row.try_get(0)?, row.try_get(1)?))
        })?;
        let Some(hash) = hash else { return Ok(None) };
        let damaged = || StoreError::Damaged { what: "the noted head is none".to_owned() };
        let number = u64::try_from(number).map_err(|_| damaged())?;
        Ok(Some((number, EntryHash(hash.try_into().map_err(|_| damaged())?))))
    }

    /// A word that no other program has, for the names of files that it is writing.
    ///
    /// # Errors
    ///
    /// As the database says.
    pub fn mark(&self) -> Result<String, StoreError> {
        self.line.borrow_mut().ask(async |there| {
            there.client.query_one("SELECT gen_random_uuid()::text", &[]).await?.try_get(0)
        })
    }

    /// Offers an entry once.
    fn offer(&self, stored: &Stored) -> Result<(), Trouble> {
        let number = of_number(stored.entry.number);
        let Stored { entry, hash } = stored;
        let evidence: Vec<u8> = entry.evidence.iter().flat_map(|blob| blob.0).collect();
        let (form, at) = (i64::from(entry.form), entry.at.microseconds());
        let previous = entry.previous.map(|previous| previous.0.to_vec());
        let hash = hash.0.to_vec();
        let asked = self.line.borrow_mut().once(&async |there: &line::Connected| {
            let values: [&(dyn ToSql + Sync); 9] = [
                &number,
                &previous,
                &at,
                &entry.who,
                &entry.kind,
                &form,
                &entry.body,
                &evidence,
                &hash,
            ];
            there.client.execute(&there.append, &values).await
        });
        asked.map(|_| ())
    }

    /// Whether this very entry stands in its place; `None` where nothing does.
    fn stands(&self, stored: &Stored) -> Result<Option<bool>, StoreError> {
        let there = self.after(stored.entry.number.saturating_sub(1), 1)?;
        let there = there.first().filter(|there| there.entry.number == stored.entry.number);
        Ok(there.map(|there| there == stored))
    }
}

impl Store for Postgres {
    fn append(&mut self, stored: &Stored) -> Result<(), StoreError> {
        let patience = self.line.borrow().patience();
        // Whether an earlier offer may have been kept, its answer lost.
        let mut unknown = false;
        loop {
            match self.offer(stored) {
                Ok(()) => return Ok(()),
                Err(Trouble::Refused(error)) if is_overtaken(&error) => {
                    return match self.stands(stored) {
                        Ok(Some(true)) if unknown => Ok(()),
                        Ok(Some(_)) => Err(StoreError::Overtaken),
                        Ok(None) => Err(error.into()),
                        Err(why) if unknown => Err(StoreError::Unsure { why: why.to_string() }),
                        Err(why) => Err(why),
                    };
                }
                Err(Trouble::NotAsked(_)) if patience.is_left() => {}
                Err(Trouble::Unknown(_)) if patience.is_left() => unknown = true,
                Err(Trouble::Unknown(why)) => return Err(StoreError::Unsure { why }),
                Err(trouble) if unknown => {
                    let why = StoreError::from(trouble).to_string();
                    return Err(StoreError::Unsure { why });
                }
                Err(trouble) => return Err(trouble.into()),
            }
        }
    }

    fn last(&self) -> Result<Option<Stored>, StoreError> {
        let row = self
            .line
            .borrow_mut()
            .ask(async |there| there.client.query_opt(&there.last, &[]).await)?;
        row.as_ref().map(read_row).transpose()
    }

    fn after(&self, number: u64, most: usize) -> Result<Vec<Stored>, StoreError> {
        let (number, most) = (of_number(number), i64::try_from(most).unwrap_or(i64::MAX));
        let rows = self
            .line
            .borrow_mut()
            .ask(async |there| there.client.query(&there.after, &[&number, &most]).await)?;
        rows.iter().map(read_row).collect()
    }

    /// A copy is a file as any folder holds one: the entries are the same bytes in both.
    fn copy_to(&self, path: &Path) -> Result<(), StoreError> {
        let last = self.last()?.map_or(0, |last| last.entry.number);
        let filling = path.with_extension("filling");
        let mut copy = Sqlite::create(&filling)?;
        let mut reached = 0;
        while reached < last {
            let batch = self.after(reached, BATCH)?;
            for stored in batch.iter().filter(|stored| stored.entry.number <= last) {
                copy.append(stored)?;
            }
            let end = batch.last().map(|stored| stored.entry.number);
            let missing =
                || StoreError::Damaged { what: format!("no entry stands after {reached}") };
            reached = end.ok_or_else(missing)?;
        }
        copy.copy_to(path)?;
        drop(copy);
        for end in ["filling", "filling-wal", "filling-shm"] {
            // What cannot be removed costs nothing but its room.
            fs::remove_file(path.with_extension(end)).ok();
        }
        Ok(())
    }
}

fn of_number(number: u64) -> i64 {
    i64::try_from(number).unwrap_or(i64::MAX)
}

/// Whether another entry stands where this one was to stand: by the guard, or by the constraints
/// below it.
fn is_overtaken(error: &Error) -> bool {
    let constraints = [SqlState::UNIQUE_VIOLATION, SqlState::FOREIGN_KEY_VIOLATION];
    error.code().is_some_and(|code| code.code() == schema::OVERTAKEN || constraints.contains(code))
}

/// One row as an entry; refuses values that were never written.
fn read_row(row: &Row) -> Result<Stored, StoreError> {
    let number: i64 = row.try_get(0)?;
    let damaged = |what: &str| StoreError::Damaged { what: format!("entry {number} has {what}") };
    let hash = |bytes: Vec<u8>| {
        bytes.try_into().map(EntryHash).map_err(|_| damaged("a hash of another length"))
    };
    let previous: Option<Vec<u8>> = row.try_get(1)?;
    let evidence: Vec<u8> = row.try_get(7)?;
    let (hashes, rest) = evidence.as_chunks::<32>();
    if !rest.is_empty() {
        return Err(damaged("a list of evidence that ends within a hash"));
    }
    let form: i64 = row.try_get(5)?;
    let entry = Entry {
        number: u64::try_from(number).map_err(|_| damaged("a number below zero"))?,
        previous: previous.map(hash).transpose()?,
        at: At::from_microseconds(row.try_get(2)?)
            .ok_or_else(|| damaged("a time outside the calendar"))?,
        who: row.try_get(3)?,
        kind: row.try_get(4)?,
        form: u32::try_from(form).map_err(|_| damaged("a form that is no number"))?,
        body: row.try_get(6)?,
        evidence: hashes.iter().copied().map(BlobHash).collect(),
    };
    Ok(Stored { entry, hash: hash(row.try_get(8)?)? })
}

impl From<Error> for StoreError {
    fn from(error: Error) -> Self {
        let Some(said) = error.as_db_error() else {
            return Self::Database { why: address::cause(&error) };
        };
        let why = said.message().to_owned();
        let code = said.code();
        if code.code() == schema::OVERTAKEN {
            return Self::Overtaken;
        }
        if *code == SqlState::DISK_FULL {
            return Self::DiskFull;
        }
        if *code == SqlState::READ_ONLY_SQL_TRANSACTION {
            return Self::ReadOnly;
        }
        if [SqlState::DATA_CORRUPTED, SqlState::INDEX_CORRUPTED].contains(code) {
            return Self::Damaged { what: why };
        }
        if code.code() == schema::GUARDED {
            return Self::Guarded { why };
        }
        Self::Database { why }
    }
}
