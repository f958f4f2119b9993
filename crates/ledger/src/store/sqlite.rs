//! Entries in one SQLite file.
//!
//! What we assume of the disk: that a file is on it once a sync has returned, and that what was
//! synced stays. What we assume of SQLite: that a commit in write-ahead mode with
//! `synchronous = FULL` has synced before it returns. The settings are read back, and the file is
//! not opened for writing if one of them does not hold.
//!
//! Guards in the file itself refuse to change or remove an entry, to leave a gap, and to follow
//! any entry but the last. They guard against mistakes; whoever owns the file can drop them,
//! which is what the chain is for.

#![expect(clippy::disallowed_methods, reason = "the ledger keeps files")]

use std::fs::OpenOptions;
use std::io::{self, ErrorKind};
use std::path::Path;
use std::time::Duration;

use rusqlite::config::DbConfig;
use rusqlite::{Connection, ErrorCode, OpenFlags, Row, TransactionBehavior, params};

use super::{Store, StoreError};
use crate::chain::{At, Entry, Stored};
use crate::hash::{BlobHash, EntryHash};

/// Marks the file as ours in SQLite's header.
const APPLICATION_ID: i64 = 0x4369_426b; // "CiBk"

/// The form of the tables.
const SCHEMA_VERSION: i64 = 1;

/// Tables and guards, by name.
const SCHEMA: [(&str, &str); 4] = [
    (
        "entry",
        "CREATE TABLE entry (
    number INTEGER PRIMARY KEY CHECK (number > 0),
    previous BLOB CHECK (length(previous) = 32),
    at INTEGER NOT NULL,
    who TEXT NOT NULL,
    kind TEXT NOT NULL,
    form INTEGER NOT NULL,
    body BLOB NOT NULL,
    evidence BLOB NOT NULL CHECK (length(evidence) % 32 = 0),
    hash BLOB NOT NULL CHECK (length(hash) = 32)
) STRICT",
    ),
    (
        "entry_follows_the_last",
        "CREATE TRIGGER entry_follows_the_last BEFORE INSERT ON entry
WHEN NEW.number IS NOT (SELECT coalesce(max(number), 0) + 1 FROM entry)
    OR NEW.previous IS NOT (SELECT hash FROM entry WHERE number = NEW.number - 1)
BEGIN
    SELECT RAISE(ABORT, 'an entry follows the last one');
END",
    ),
    (
        "entry_is_never_changed",
        "CREATE TRIGGER entry_is_never_changed BEFORE UPDATE ON entry
BEGIN
    SELECT RAISE(ABORT, 'an entry is never changed');
END",
    ),
    (
        "entry_is_never_removed",
        "CREATE TRIGGER entry_is_never_removed BEFORE DELETE ON entry
BEGIN
    SELECT RAISE(ABORT, 'an entry is never removed');
END",
    ),
];

/// Settings that safety rests on: the name, the value to set, the value read back.
const SETTINGS: [(&str, &str, &str); 4] = [
    ("journal_mode", "WAL", "wal"),
    ("synchronous", "FULL", "2"),
    ("foreign_keys", "ON", "1"),
    ("trusted_schema", "OFF", "0"),
];

/// How long to wait for a backup or a reader that holds the file.
const BUSY_TIMEOUT: Duration = Duration::from_secs(5);

const COLUMNS: &str = "number, previous, at, who, kind, form, body, evidence, hash";

/// A record in a SQLite file.
pub struct Sqlite {
    connection: Connection,
}

impl Sqlite {
    /// Makes a new record, or finishes one that was begun and holds nothing.
    ///
    /// # Errors
    ///
    /// [`StoreError::Guarded`] if a record is there already, [`StoreError::NotARecord`] if the
    /// file is something else; otherwise as the disk says.
    pub fn create(path: &Path) -> Result<Self, StoreError> {
        let flags = OpenFlags::SQLITE_OPEN_READ_WRITE | OpenFlags::SQLITE_OPEN_CREATE;
        let mut connection = Connection::open_with_flags(path, flags)?;
        match check_form(&connection) {
            Err(StoreError::Unfinished) => {}
            Err(other) => return Err(other),
            Ok(()) => {
                return Err(StoreError::Guarded {
                    why: "there is a record here already".to_owned(),
                });
            }
        }
        settle(&connection)?;
        let transaction = connection.transaction_with_behavior(TransactionBehavior::Immediate)?;
        for (_, statement) in SCHEMA {
            transaction.execute_batch(statement)?;
        }
        transaction.pragma_update(None, "application_id", APPLICATION_ID)?;
        transaction.pragma_update(None, "user_version", SCHEMA_VERSION)?;
        transaction.commit()?;
        check_form(&connection)?;
        Ok(Self { connection })
    }

    /// Opens a record to read and to add to.
    ///
    /// # Errors
    ///
    /// Any [`StoreError`]: the file is not a record, is damaged, or is from a later version; a
    /// setting does not hold; the disk refuses.
    pub fn open(path: &Path) -> Result<Self, StoreError> {
        // SQLite would open a file that cannot be written to, and say so only later.
        OpenOptions::new().read(true).write(true).open(path)?;
        let flags = OpenFlags::SQLITE_OPEN_READ_WRITE;
        let connection = Connection::open_with_flags(path, flags)?;
        check_form(&connection)?;
        settle(&connection)?;
        check_whole(&connection)?;
        Ok(Self { connection })
    }

    /// Opens a record to read only; no entry can be added.
    ///
    /// Also where the folder cannot be written to, as on a disk that is kept as it was found:
    /// then only if the last program to write has closed the file in order. Where it can, a step
    /// that a stopped program left half done is taken back.
    ///
    /// The pages of the file are not looked through ([`Sqlite::check_pages`] does): what can still
    /// be read of a damaged file is read, and each entry is held against its hash by whoever reads.
    ///
    /// # Errors
    ///
    /// As [`Sqlite::open`].
    pub fn open_read_only(path: &Path) -> Result<Self, StoreError> {
        OpenOptions::new().read(true).open(path)?;
        let flags = OpenFlags::SQLITE_OPEN_READ_ONLY;
        let connection = Connection::open_with_flags(path, flags)?;
        connection.busy_timeout(BUSY_TIMEOUT)?;
        let connection = match check_form(&connection) {
            // A program was stopped while it made the file: SQLite takes that half step back, for
            // which it must write.
            Err(StoreError::ReadOnly) => {
                let flags = OpenFlags::SQLITE_OPEN_READ_WRITE;
                check_form(&Connection::open_with_flags(path, flags)?)?;
                check_form(&connection)?;
                connection
            }
            Err(StoreError::Failed { .. }) if is_closed_in_order(path) => {
                let flags = flags | OpenFlags::SQLITE_OPEN_URI;
                let connection = Connection::open_with_flags(never_changing(path), flags)?;
                check_form(&connection)?;
                connection
            }
            Err(other) => return Err(other),
            Ok(()) => connection,
        };
        Ok(Self { connection })
    }

    /// Has the database look at each page of the file.
    ///
    /// # Errors
    ///
    /// [`StoreError::Damaged`] with the first thing that is wrong.
    pub fn check_pages(&self) -> Result<(), StoreError> {
        check_whole(&self.connection)
    }

    /// Lets the file grow to this many pages at most, as a full disk would.
    ///
    /// # Errors
    ///
    /// As the database says.
    pub fn limit_pages(&self, pages: u32) -> Result<(), StoreError> {
        let set: i64 =
            self.connection
                .query_row(&format!("PRAGMA max_page_count = {pages}"), [], |row| row.get(0))?;
        if set == i64::from(pages) {
            return Ok(());
        }
        Err(StoreError::Setting {
            setting: "max_page_count",
            found: set.to_string(),
            wanted: "the number asked for, at least the present size",
        })
    }
}

/// Whether nothing waits in a write-ahead file beside the record.
fn is_closed_in_order(path: &Path) -> bool {
    let mut waiting = path.as_os_str().to_owned();
    waiting.push("-wal");
    Path::new(&waiting).metadata().map_or(true, |file| file.len() == 0)
}

/// The file's name in the form that tells SQLite that nobody changes it meanwhile.
fn never_changing(path: &Path) -> String {
    let plain = path.to_string_lossy().replace('\\', "/");
    let escaped = plain.replace('%', "%25").replace('?', "%3f").replace('#', "%23");
    let root = if cfg!(windows) { "/" } else { "" };
    format!("file:{root}{escaped}?immutable=1")
}

/// Is this file a record, in a form known here, with its tables and guards as they were made?
fn check_form(connection: &Connection) -> Result<(), StoreError> {
    let number = |name| connection.pragma_query_value(None, name, |row| row.get::<_, i64>(0));
    let (application, version) = (number("application_id")?, number("user_version")?);
    let mut statement =
        connection.prepare("SELECT name, coalesce(sql, '') FROM sqlite_schema ORDER BY name")?;
    let found: Vec<(String, String)> =
        statement.query_map([], |row| Ok((row.get(0)?, row.get(1)?)))?.collect::<Result<_, _>>()?;
    if application == 0 && version == 0 && found.is_empty() {
        return Err(StoreError::Unfinished);
    }
    if application != APPLICATION_ID {
        let why = "it is a database of some other program".to_owned();
        return Err(StoreError::NotARecord { why });
    }
    if version > SCHEMA_VERSION {
        return Err(StoreError::Newer { found: version, known: SCHEMA_VERSION });
    }
    if version != SCHEMA_VERSION {
        return Err(StoreError::Damaged { what: format!("form {version} never existed") });
    }
    let same = |((name, sql), (wanted, wanted_sql)): (&(String, String), &(&str, &str))| {
        name == wanted && sql == wanted_sql
    };
    if let Some(((_, _), (name, _))) = found.iter().zip(&SCHEMA).find(|pair| !same(*pair)) {
        return Err(StoreError::Altered { what: format!("`{name}` is not as it was made") });
    }
    if found.len() != SCHEMA.len() {
        let what = format!("{} tables and guards are there, {} belong", found.len(), SCHEMA.len());
        return Err(StoreError::Altered { what });
    }
    Ok(())
}

/// Sets what safety rests on, and reads it back.
fn settle(connection: &Connection) -> Result<(), StoreError> {
    connection.busy_timeout(BUSY_TIMEOUT)?;
    connection.set_db_config(DbConfig::SQLITE_DBCONFIG_DEFENSIVE, true)?;
    for (setting, value, wanted) in SETTINGS {
        connection.execute_batch(&format!("PRAGMA {setting} = {value}"))?;
        let found: String = connection.pragma_query_value(None, setting, |row| {
            row.get::<_, i64>(0).map(|number| number.to_string()).or_else(|_| row.get(0))
        })?;
        if found != wanted {
            return Err(StoreError::Setting { setting, found, wanted });
        }
    }
    Ok(())
}

/// Has SQLite look at each page.
fn check_whole(connection: &Connection) -> Result<(), StoreError> {
    let what: String = connection.query_row("PRAGMA integrity_check(1)", [], |row| row.get(0))?;
    if what == "ok" { Ok(()) } else { Err(StoreError::Damaged { what: what.replace('\n', " ") }) }
}

impl Store for Sqlite {
    fn append(&mut self, stored: &Stored) -> Result<(), StoreError> {
        let Stored { entry, hash } = stored;
        let number = i64::try_from(entry.number)
            .map_err(|_| StoreError::Guarded { why: "the record has no number left".to_owned() })?;
        let evidence: Vec<u8> = entry.evidence.iter().flat_map(|blob| blob.0).collect();
        let transaction =
            self.connection.transaction_with_behavior(TransactionBehavior::Immediate)?;
        transaction
            .prepare_cached("INSERT INTO entry VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7, ?8, ?9)")?
            .execute(params![
                number,
                entry.previous.map(|hash| hash.0),
                entry.at.microseconds(),
                entry.who,
                entry.kind,
                entry.form,
                entry.body,
                evidence,
                hash.0,
            ])?;
        let back = transaction
            .prepare_cached(&format!("SELECT {COLUMNS} FROM entry WHERE number = ?1"))?
            .query_and_then([number], read_row)?
            .next()
            .transpose()?;
        if back.as_ref() != Some(stored) {
            let what = format!("entry {number} does not read back as it was written");
            return Err(StoreError::Damaged { what });
        }
        transaction.commit()?;
        Ok(())
    }

    fn last(&self) -> Result<Option<Stored>, StoreError> {
        let mut statement = self
            .connection
            .prepare_cached(&format!("SELECT {COLUMNS} FROM entry ORDER BY number DESC LIMIT 1"))?;
        statement.query_and_then([], read_row)?.next().transpose()
    }

    fn after(&self, number: u64, most: usize) -> Result<Vec<Stored>, StoreError> {
        let number = i64::try_from(number).unwrap_or(i64::MAX);
        let most = i64::try_from(most).unwrap_or(i64::MAX);
        let mut statement = self.connection.prepare_cached(&format!(
            "SELECT {COLUMNS} FROM entry WHERE number > ?1 ORDER BY number LIMIT ?2"
        ))?;
        statement.query_and_then([number, most], read_row)?.collect()
    }

    fn copy_to(&self, path: &Path) -> Result<(), StoreError> {
        let mut copy = Connection::open(path)?;
        let backup = rusqlite::backup::Backup::new(&self.connection, &mut copy)?;
        backup.run_to_completion(1000, Duration::ZERO, None)?;
        drop(backup);
        // A copy is one file, whole without a write-ahead file beside it.
        copy.execute_batch("PRAGMA journal_mode = DELETE")?;
        check_form(&copy)?;
        check_whole(&copy)
    }
}

/// One row as an entry; refuses values that were never written.
fn read_row(row: &Row<'_>) -> Result<Stored, StoreError> {
    let number: i64 = row.get(0)?;
    let damaged = |what: &str| StoreError::Damaged { what: format!("entry {number} has {what}") };
    let previous: Option<[u8; 32]> = row.get(1)?;
    let evidence: Vec<u8> = row.get(7)?;
    let (hashes, rest) = evidence.as_chunks::<32>();
    if !rest.is_empty() {
        return Err(damaged("a list of evidence that ends within a hash"));
    }
    let entry = Entry {
        number: u64::try_from(number).map_err(|_| damaged("a number below zero"))?,
        previous: previous.map(EntryHash),
        at: At::from_microseconds(row.get(2)?)
            .ok_or_else(|| damaged("a time outside the calendar"))?,
        who: row.get(3)?,
        kind: row.get(4)?,
        form: row.get(5)?,
        body: row.get(6)?,
        evidence: hashes.iter().copied().map(BlobHash).collect(),
    };
    Ok(Stored { entry, hash: EntryHash(row.get(8)?) })
}

impl From<rusqlite::Error> for StoreError {
    fn from(cause: rusqlite::Error) -> Self {
        let why = cause.to_string();
        let Some(code) = cause.sqlite_error_code() else {
            // A value of another type or range than was ever written.
            return Self::Damaged { what: why };
        };
        if code == ErrorCode::NotADatabase {
            return Self::NotARecord {
                why: "it is not a database, or its beginning is damaged".to_owned(),
            };
        }
        if code == ErrorCode::DiskFull {
            return Self::DiskFull;
        }
        if code == ErrorCode::DatabaseCorrupt {
            return Self::Damaged { what: why };
        }
        if matches!(code, ErrorCode::ReadOnly | ErrorCode::PermissionDenied) {
            return Self::ReadOnly;
        }
        if matches!(code, ErrorCode::DatabaseBusy | ErrorCode::DatabaseLocked) {
            return Self::Busy;
        }
        if code == ErrorCode::ConstraintViolation {
            return Self::Guarded { why };
        }
        Self::Failed { why }
    }
}

impl From<io::Error> for StoreError {
    fn from(cause: io::Error) -> Self {
        let kind = cause.kind();
        if matches!(kind, ErrorKind::ReadOnlyFilesystem | ErrorKind::PermissionDenied) {
            return Self::ReadOnly;
        }
        if matches!(kind, ErrorKind::StorageFull | ErrorKind::QuotaExceeded) {
            return Self::DiskFull;
        }
        Self::Failed { why: cause.to_string() }
    }
}
