//! What is asked of any store: one suite, run on SQLite and on stores that fail.

use std::fs;
use std::path::{Path, PathBuf};

use ledger::chain::{At, Entry, Stored};
use ledger::hash::BlobHash;
use ledger::store::{Sqlite, Store, StoreError};

use crate::failing::{Failing, FailingStore, Loses};

/// The entry after `before`, saying something of its own.
pub(crate) fn next(before: Option<&Stored>) -> Stored {
    let number = before.map_or(1, |before| before.entry.number + 1);
    Stored::new(Entry {
        number,
        previous: before.map(|before| before.hash),
        at: At::from_microseconds(1_795_598_078_000_000 + i64::try_from(number).unwrap()).unwrap(),
        who: "Ana Ruiz".to_owned(),
        kind: "run-recorded".to_owned(),
        form: 1,
        body: format!("{{\"specimen\":{number}}}").into_bytes(),
        evidence: (0..number % 3).map(|n| BlobHash::of(&n.to_be_bytes())).collect(),
    })
}

/// Adds entries until there are `count`.
pub(crate) fn fill(store: &mut dyn Store, count: u64) -> Vec<Stored> {
    let mut last = store.last().unwrap();
    let mut added = Vec::new();
    while last.as_ref().map_or(0, |last| last.entry.number) < count {
        let stored = next(last.as_ref());
        store.append(&stored).unwrap();
        added.push(stored.clone());
        last = Some(stored);
    }
    added
}

/// The suite. `reopen` closes the store and opens it again.
pub(crate) fn suite<S: Store>(store: S, reopen: impl Fn(S) -> S) {
    let mut store = store;
    assert_eq!(store.last(), Ok(None));
    assert_eq!(store.after(0, 10), Ok(Vec::new()));
    let added = fill(&mut store, 7);
    assert_eq!(store.last().unwrap().as_ref(), added.last());
    assert_eq!(store.after(0, 100).unwrap(), added);
    assert_eq!(store.after(2, 3).unwrap(), added[2..5]);
    assert_eq!(store.after(7, 3), Ok(Vec::new()));
    assert_eq!(store.after(u64::MAX, 3), Ok(Vec::new()));

    let follows_an_older_one = next(added.get(4));
    assert!(store.append(&follows_an_older_one).is_err(), "a number that is taken");
    let mut leaves_a_gap = next(added.last()).entry;
    leaves_a_gap.number += 1;
    assert!(store.append(&Stored::new(leaves_a_gap)).is_err(), "a number too high");
    let mut of_another_chain = next(added.last()).entry;
    of_another_chain.previous = added.first().map(|first| first.hash);
    assert!(store.append(&Stored::new(of_another_chain)).is_err(), "another one before it");

    let mut store = reopen(store);
    assert_eq!(store.after(0, 100).unwrap(), added);
    store.append(&next(added.last())).unwrap();
    assert_eq!(store.last().unwrap().unwrap().entry.number, 8);
}

fn in_folder() -> (tempfile::TempDir, PathBuf) {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("record.sqlite");
    (folder, path)
}

#[test]
fn sqlite_keeps_what_is_asked_of_a_store() {
    let (_folder, path) = in_folder();
    suite(Sqlite::create(&path).unwrap(), |store| {
        drop(store);
        Sqlite::open(&path).unwrap()
    });
}

#[test]
fn a_store_that_never_fails_passes_the_same_suite() {
    let (_folder, path) = in_folder();
    let wrapped = |store| FailingStore { store, failing: Failing::never(), loses: Loses::TheEntry };
    suite(wrapped(Sqlite::create(&path).unwrap()), |store| {
        drop(store);
        wrapped(Sqlite::open(&path).unwrap())
    });
}

#[test]
fn a_copy_made_while_the_record_is_open_is_whole() {
    let (folder, path) = in_folder();
    let mut store = Sqlite::create(&path).unwrap();
    let added = fill(&mut store, 50);
    let copy = folder.path().join("copy.sqlite");
    store.copy_to(&copy).unwrap();
    fill(&mut store, 60);
    assert_eq!(Sqlite::open(&copy).unwrap().after(0, 100).unwrap(), added);
}

/// The guards of the file refuse what the program never does.
#[test]
fn entries_cannot_be_changed_or_removed_by_mistake() {
    let (_folder, path) = in_folder();
    let mut store = Sqlite::create(&path).unwrap();
    let added = fill(&mut store, 3);
    let other = rusqlite::Connection::open(&path).unwrap();
    for statement in [
        "UPDATE entry SET who = 'X' WHERE number = 2",
        "UPDATE entry SET number = 9 WHERE number = 3",
        "DELETE FROM entry WHERE number = 3",
        "DELETE FROM entry",
        "INSERT INTO entry SELECT 5, previous, at, who, kind, form, body, evidence, hash FROM entry WHERE number = 3",
        "INSERT OR REPLACE INTO entry SELECT number, previous, at, 'X', kind, form, body, evidence, hash FROM entry WHERE number = 3",
        "REPLACE INTO entry SELECT number, previous, at, 'X', kind, form, body, evidence, hash FROM entry WHERE number = 1",
        "INSERT INTO entry SELECT number + 1, previous, at, who, kind, form, body, evidence, hash FROM entry WHERE number = 3",
    ] {
        let refused = other.execute(statement, []).unwrap_err().to_string();
        assert!(refused.contains("an entry "), "{statement}: {refused}");
    }
    assert_eq!(store.after(0, 10).unwrap(), added);
}

/// Opens a file that `change` has been at, and says what the store makes of it.
fn opened_after(change: &str) -> StoreError {
    let (_folder, path) = in_folder();
    fill(&mut Sqlite::create(&path).unwrap(), 3);
    let other = rusqlite::Connection::open(&path).unwrap();
    other.execute_batch(change).unwrap();
    drop(other);
    Sqlite::open(&path).err().unwrap()
}

#[test]
fn a_record_of_tomorrow_is_refused_with_words() {
    let refused = opened_after("PRAGMA user_version = 2");
    assert_eq!(refused.to_string(), "the record is in form 2; this program knows forms up to 1");
    assert!(refused.hint().unwrap().starts_with("Use the version"));
}

#[test]
fn a_record_whose_guards_were_taken_away_is_refused() {
    for (change, words) in [
        ("DROP TRIGGER entry_is_never_changed", "`entry_is_never_changed` is not as it was made"),
        ("CREATE TABLE other (a)", "5 tables and guards are there, 4 belong"),
        ("ALTER TABLE entry ADD COLUMN note TEXT", "`entry` is not as it was made"),
    ] {
        let refused = opened_after(change).to_string();
        assert_eq!(refused, format!("the record's tables were changed from outside: {words}"));
    }
}

#[test]
fn another_file_is_not_taken_for_a_record() {
    let (_folder, path) = in_folder();
    for content in ["", "hello", &"time;temperature\n".repeat(1000)] {
        fs::write(&path, content).unwrap();
        let refused = Sqlite::open(&path).err().unwrap();
        if content.is_empty() {
            assert_eq!(refused, StoreError::Unfinished);
        } else {
            assert!(matches!(refused, StoreError::NotARecord { .. }), "{refused}");
        }
    }
    fs::remove_file(&path).unwrap();
    let other = rusqlite::Connection::open(&path).unwrap();
    other.execute_batch("CREATE TABLE song (title)").unwrap();
    let refused = Sqlite::create(&path).err().unwrap().to_string();
    assert_eq!(refused, "the file is not a record: it is a database of some other program");
}

/// A copy of the file at `path` and of its journal as they are halfway through `change`, which is
/// what a program leaves that is stopped there.
fn stopped_within(path: &Path, change: &str) -> (tempfile::TempDir, PathBuf) {
    let (folder, left) = in_folder();
    let other = rusqlite::Connection::open(path).unwrap();
    // Without syncs, the journal counts from its first byte on.
    other.execute_batch("PRAGMA journal_mode = DELETE; PRAGMA synchronous = OFF").unwrap();
    other.execute_batch(&format!("BEGIN IMMEDIATE; {change}")).unwrap();
    for end in ["", "-journal"] {
        let name = |path: &Path| format!("{}{end}", path.display());
        fs::copy(name(path), name(&left)).unwrap();
    }
    (folder, left)
}

#[test]
fn a_file_left_half_made_is_unfinished_and_can_be_made_again() {
    let (_folder, path) = in_folder();
    let (_other, left) = stopped_within(&path, "CREATE TABLE entry (number INTEGER)");
    assert_eq!(Sqlite::open_read_only(&left).err(), Some(StoreError::Unfinished));
    let (_other, left) = stopped_within(&path, "CREATE TABLE entry (number INTEGER)");
    fill(&mut Sqlite::create(&left).unwrap(), 3);
}

#[test]
fn a_record_left_within_a_change_of_its_ways_is_read_as_it_was() {
    let (_folder, path) = in_folder();
    let added = fill(&mut Sqlite::create(&path).unwrap(), 3);
    let (_other, left) = stopped_within(&path, "PRAGMA user_version = 2");
    assert_eq!(Sqlite::open_read_only(&left).unwrap().after(0, 100).unwrap(), added);
}

#[test]
fn a_second_record_is_not_made_over_the_first() {
    let (_folder, path) = in_folder();
    fill(&mut Sqlite::create(&path).unwrap(), 3);
    let refused = Sqlite::create(&path).err().unwrap();
    assert_eq!(refused.to_string(), "the record refuses this: there is a record here already");
    assert_eq!(Sqlite::open(&path).unwrap().last().unwrap().unwrap().entry.number, 3);
}

/// A file that may not grow is what SQLite sees of a full disk.
#[test]
fn a_full_disk_is_named_and_loses_nothing() {
    let (_folder, path) = in_folder();
    let mut store = Sqlite::create(&path).unwrap();
    store.limit_pages(12).unwrap();
    let (acknowledged, refused) = until_refused(&mut store);
    assert_eq!(refused, StoreError::DiskFull);
    assert!(acknowledged.len() > 10);
    drop(store);
    holds(&path, &acknowledged);
}

/// A real file system of one megabyte, filled to its end.
#[cfg(target_os = "linux")]
#[test]
fn a_full_file_system_is_named_and_loses_nothing() {
    let small = crate::mounts::Mounted::tmpfs("size=1m");
    let path = small.path().join("record.sqlite");
    let mut store = Sqlite::create(&path).unwrap();
    let (acknowledged, refused) = until_refused(&mut store);
    assert_eq!(refused, StoreError::DiskFull);
    assert!(acknowledged.len() > 10);
    drop(store);
    holds(&path, &acknowledged);
}

/// Adds entries of 1 kB until the store refuses one.
fn until_refused(store: &mut Sqlite) -> (Vec<Stored>, StoreError) {
    let mut acknowledged: Vec<Stored> = Vec::new();
    loop {
        let mut entry = next(acknowledged.last()).entry;
        entry.body = vec![b'x'; 1000];
        let stored = Stored::new(entry);
        match store.append(&stored) {
            Ok(()) => acknowledged.push(stored),
            Err(refused) => return (acknowledged, refused),
        }
    }
}

/// Read by another connection, as after a restart.
fn holds(path: &Path, acknowledged: &[Stored]) {
    let read = Sqlite::open_read_only(path).unwrap().after(0, 1_000_000).unwrap();
    assert!(read.len() >= acknowledged.len(), "{} of {}", read.len(), acknowledged.len());
    assert_eq!(read[..acknowledged.len()], *acknowledged);
    for stored in read {
        stored.check().unwrap();
    }
}

/// A file system that was made read-only: refused for writing, read all the same.
#[cfg(target_os = "linux")]
#[test]
fn a_read_only_file_system_is_named_and_can_be_read() {
    let disk = crate::mounts::Mounted::tmpfs("size=4m");
    let path = disk.path().join("record.sqlite");
    let added = fill(&mut Sqlite::create(&path).unwrap(), 20);
    disk.make_read_only();
    assert_eq!(Sqlite::open(&path).err(), Some(StoreError::ReadOnly));
    assert_eq!(Sqlite::open_read_only(&path).unwrap().after(0, 100).unwrap(), added);
}

/// Fails at the first write, then at the second, and so on until nothing fails. What was
/// acknowledged is there; what was not may be, and the last entry tells.
#[test]
fn whichever_write_fails_nothing_acknowledged_is_lost() {
    for loses in [Loses::TheEntry, Loses::TheAnswer] {
        for n in 1.. {
            let (_folder, path) = in_folder();
            let failing = Failing::at(n);
            let store = Sqlite::create(&path).unwrap();
            let mut store = FailingStore { store, failing: failing.clone(), loses };
            let mut acknowledged: Vec<Stored> = Vec::new();
            while acknowledged.len() < 6 {
                let stored = next(acknowledged.last());
                if store.append(&stored).is_err() {
                    break;
                }
                acknowledged.push(stored);
            }
            drop(store);
            holds(&path, &acknowledged);
            fill(&mut Sqlite::open(&path).unwrap(), 6);
            if !failing.reached() {
                assert_eq!(n, 7, "each of six writes has failed once");
                break;
            }
        }
    }
}
