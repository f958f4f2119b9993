//! What someone can do to a record from outside, and that it is found out.

use std::fs;
use std::path::{Path, PathBuf};

use ledger::chain::{At, Entry, Stored};
use ledger::store::{Sqlite, Store};
use ledger::{Book, Fault, Head, Verification, verify};
use rusqlite::{Connection, params};
use trial::fact::{Fact, Lot, LotKind};

use crate::story::{admitted, minute, opened, tell};

/// A book of four entries, and its head.
fn small(folder: &Path) -> Head {
    let mut book = Book::create(folder).unwrap();
    let description = "butane, 95 %".to_owned();
    let lot = Fact::LotOpened(Lot { number: "G-3".into(), kind: LotKind::Gas, description });
    for (n, fact) in (1..).zip([opened(), admitted(2), lot, admitted(4)]) {
        book.append(minute(n), &"Ana Ruiz".into(), &fact).unwrap();
    }
    book.head().unwrap()
}

/// The file of a record with its guards taken off for the time of one change.
struct Unguarded {
    path: PathBuf,
    connection: Connection,
    guards: Vec<(String, String)>,
}

impl Unguarded {
    fn open(folder: &Path) -> Self {
        let path = folder.join("record.sqlite");
        let connection = Connection::open(&path).unwrap();
        connection
            .execute_batch("PRAGMA synchronous = OFF; PRAGMA ignore_check_constraints = ON")
            .unwrap();
        let guards = connection
            .prepare("SELECT name, sql FROM sqlite_schema WHERE type = 'trigger'")
            .unwrap()
            .query_map([], |row| Ok((row.get(0)?, row.get(1)?)))
            .unwrap()
            .map(Result::unwrap)
            .collect();
        Self { path, connection, guards }
    }

    /// Changes the file as nobody should, and puts the guards back as they were.
    fn change(&self, change: impl FnOnce(&Connection)) {
        self.connection.execute_batch("BEGIN").unwrap();
        for (name, _) in &self.guards {
            self.connection.execute_batch(&format!("DROP TRIGGER {name}")).unwrap();
        }
        change(&self.connection);
        for (_, sql) in &self.guards {
            self.connection.execute_batch(sql).unwrap();
        }
        self.connection.execute_batch("COMMIT").unwrap();
    }

    fn replace(&self, stored: &[Stored]) {
        self.change(|connection| {
            connection.execute("DELETE FROM entry", []).unwrap();
            for Stored { entry, hash } in stored {
                let evidence: Vec<u8> = entry.evidence.iter().flat_map(|blob| blob.0).collect();
                connection
                    .execute(
                        "INSERT INTO entry VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7, ?8, ?9)",
                        params![
                            i64::try_from(entry.number).unwrap(),
                            entry.previous.map(|hash| hash.0),
                            entry.at.microseconds(),
                            entry.who,
                            entry.kind,
                            entry.form,
                            entry.body,
                            evidence,
                            hash.0
                        ],
                    )
                    .unwrap();
            }
        });
    }
}

fn names(verification: &Verification, number: u64) -> bool {
    verification.faults.iter().any(|fault| fault.entry() == Some(number))
}

/// One bit of each byte of each column of each entry, in turn.
#[test]
fn every_changed_byte_is_named_with_its_entry() {
    let folder = tempfile::tempdir().unwrap();
    small(folder.path());
    let record = Unguarded::open(folder.path());
    let sound = Sqlite::open_read_only(&record.path).unwrap().after(0, 10).unwrap();
    let mut changes = 0;
    for number in 1..=4_i64 {
        for column in
            ["previous", "who", "kind", "body", "evidence", "hash", "number", "at", "form"]
        {
            let bytes: Vec<u8> = record
                .connection
                .query_row(&as_bytes(column), [number], |row| row.get(0))
                .unwrap_or_default();
            for place in 0..bytes.len() {
                let mut changed = bytes.clone();
                changed[place] ^= 1 << (place % 8);
                record.change(|connection| set(connection, number, column, changed));
                let verification = verify(folder.path(), None).unwrap();
                assert!(
                    names(&verification, u64::try_from(number).unwrap()),
                    "entry {number}, {column}, byte {place}: {:?}",
                    verification.faults
                );
                record.replace(&sound);
                changes += 1;
            }
        }
    }
    assert!(changes > 700, "only {changes} bytes");
    assert!(verify(folder.path(), None).unwrap().is_sound());
}

const WHOLE: [&str; 3] = ["number", "at", "form"];

fn as_bytes(column: &str) -> String {
    if WHOLE.contains(&column) {
        return format!("SELECT unhex(printf('%016X', {column})) FROM entry WHERE number = ?1");
    }
    format!("SELECT CAST({column} AS BLOB) FROM entry WHERE number = ?1")
}

fn set(connection: &Connection, number: i64, column: &str, changed: Vec<u8>) {
    let statement = |value: &str| format!("UPDATE entry SET {column} = {value} WHERE number = ?2");
    let done = if WHOLE.contains(&column) {
        let value = i64::from_be_bytes(changed.try_into().unwrap());
        connection.execute(&statement("?1"), params![value, number])
    } else if ["who", "kind"].contains(&column) {
        connection.execute(&statement("CAST(?1 AS TEXT)"), params![changed, number])
    } else {
        connection.execute(&statement("?1"), params![changed, number])
    };
    done.unwrap();
}

/// The entries of `sound` changed by `change`, put into the file, and the first fault found.
fn first_fault(change: impl FnOnce(&mut Vec<Stored>)) -> String {
    let folder = tempfile::tempdir().unwrap();
    small(folder.path());
    let record = Unguarded::open(folder.path());
    let mut stored = Sqlite::open_read_only(&record.path).unwrap().after(0, 10).unwrap();
    change(&mut stored);
    record.replace(&stored);
    let verification = verify(folder.path(), None).unwrap();
    verification.faults.first().map_or("none".to_owned(), Fault::to_string)
}

/// Fills in hashes and links anew from some entry on, as a careful forger would.
fn rechained(stored: &mut [Stored], from: usize) {
    for place in from..stored.len() {
        let previous = place.checked_sub(1).map(|before| stored[before].hash);
        let entry = Entry { previous, ..stored[place].entry.clone() };
        stored[place] = Stored::new(entry);
    }
}

#[test]
fn what_a_forger_does_to_whole_entries_is_named() {
    let broken = |words: &str| format!("the ledger is broken at {words}");
    let check = |change: fn(&mut Vec<Stored>), words: &str| {
        let found = first_fault(change);
        assert!(found.starts_with(&broken(words)), "{found}");
    };
    check(|stored| stored[1].entry.body = b"{}".to_vec(), "entry 2: its contents hash to ");
    check(
        |stored| {
            stored[1].entry.who = "Somebody Else".to_owned();
            stored[1] = Stored::new(stored[1].entry.clone());
        },
        "entry 2: its contents hash to ",
    );
    check(|stored| drop(stored.remove(1)), "entry 2: it is missing, and entry 3 comes instead");
    check(|stored| drop(stored.remove(0)), "entry 1: it is missing, and entry 2 comes instead");
    check(
        |stored| {
            let bodies = (stored[1].entry.body.clone(), stored[3].entry.body.clone());
            (stored[3].entry.body, stored[1].entry.body) = bodies;
        },
        "entry 2: its contents hash to ",
    );
    check(
        |stored| {
            stored.swap(1, 2);
            stored[1].entry.number = 2;
            stored[2].entry.number = 3;
        },
        "entry 2: its contents hash to ",
    );
    check(
        |stored| {
            stored[2].entry.at = At::from_microseconds(1).unwrap();
            rechained(stored, 2);
        },
        "entry 3: it is dated 1970-01-01T00:00:00.000001Z, earlier than the entry before it",
    );
    check(|stored| drop(stored.pop()), "its end: the record ends at entry 3, but entry 4 was seen");
    check(Vec::clear, "its end: the record ends at entry 0, but entry 4 was seen");
    check(
        |stored| {
            stored[1].entry.who = "Somebody Else".to_owned();
            rechained(stored, 1);
        },
        "its end: entry 4 has the hash ",
    );
}

/// A rewriting that leaves no trace inside is found by a head that someone outside has seen, and
/// only by that.
#[test]
fn a_head_that_left_the_building_finds_out_a_rewritten_record() {
    let folder = tempfile::tempdir().unwrap();
    let printed = small(folder.path());
    fs::remove_file(folder.path().join("head")).unwrap();
    let record = Unguarded::open(folder.path());
    let mut stored = Sqlite::open_read_only(&record.path).unwrap().after(0, 10).unwrap();
    stored[1].entry.who = "Somebody Else".to_owned();
    rechained(&mut stored, 1);
    record.replace(&stored);
    assert!(verify(folder.path(), None).unwrap().is_sound());
    let faults = verify(folder.path(), Some(printed)).unwrap().faults;
    assert!(matches!(faults[..], [Fault::End(_)]), "{faults:?}");
}

#[test]
fn a_changed_or_missing_evidence_file_is_named_with_its_entry() {
    let folder = tempfile::tempdir().unwrap();
    let book = tell(folder.path());
    let certificate = book.entries().find_map(|entry| match entry.unwrap() {
        recorded if matches!(recorded.fact, Fact::CalibrationRecorded(_)) => Some(recorded),
        _ => None,
    });
    let number = certificate.unwrap().entry.0;
    drop(book);
    let hash = ledger::hash::BlobHash::of(b"a certificate").to_string();
    let path = folder.path().join("evidence").join(&hash[..2]).join(&hash);
    let bytes = fs::read(&path).unwrap();
    for place in 0..bytes.len() {
        let mut changed = bytes.clone();
        changed[place] ^= 1 << (place % 8);
        fs::write(&path, changed).unwrap();
        let verification = verify(folder.path(), None).unwrap();
        assert!(names(&verification, number));
        assert_eq!(verification.sound_up_to(), number - 1);
    }
    fs::remove_file(&path).unwrap();
    let verification = verify(folder.path(), None).unwrap();
    let words = verification.faults[0].to_string();
    assert!(words.ends_with("… is not on file"), "{words}");
    let hint = verification.hint().unwrap();
    assert!(hint.contains(&format!("Entries 1 to {} are sound", number - 1)), "{hint}");
}

/// A verdict that was recorded otherwise than the facts before it give.
#[test]
fn a_verdict_that_comes_out_otherwise_is_shown() {
    let folder = tempfile::tempdir().unwrap();
    drop(tell(folder.path()));
    fs::remove_file(folder.path().join("head")).unwrap();
    let record = Unguarded::open(folder.path());
    let mut stored = Sqlite::open_read_only(&record.path).unwrap().after(0, 100).unwrap();
    let last = stored.iter().rposition(|stored| stored.entry.kind == "verdict-reached").unwrap();
    let body = String::from_utf8(stored[last].entry.body.clone()).unwrap();
    let (front, back) = body.split_once("verdict ").unwrap();
    stored[last].entry.body = format!("{front}verdict not {back}").into_bytes();
    rechained(&mut stored, last);
    record.replace(&stored);
    let faults = verify(folder.path(), None).unwrap().faults;
    let words = faults[0].to_string();
    let entry = last + 1;
    let begin = format!(
        "the verdict of entry {entry} comes out otherwise when judged again: recorded is `verdict not "
    );
    assert!(words.starts_with(&begin), "{words}");
}
