//! A book from the outside: made, opened, written in, refused.

use std::fs;
use std::sync::Arc;

use ledger::files::Disk;
use ledger::store::{Sqlite, StoreError};
use ledger::{Book, Head, LedgerError, Side, verify};
use trial::fact::{EvidenceHash, EvidenceKind, Fact};
use trial::number::{EntryNumber, EquipmentNumber, PersonName};

use crate::failing::{Failing, FailingFiles, FailingStore, Loses};
use crate::story::{admitted, minute, opened, tell, tell_into};

fn who() -> PersonName {
    "Ana Ruiz".into()
}

/// The words of an error and whether it is the record's, the user's or the world's.
fn told(refused: &LedgerError) -> (String, Side) {
    assert!(refused.hint().is_none_or(|hint| hint.ends_with('.')), "{refused}");
    (refused.to_string(), refused.side())
}

#[test]
fn a_book_tells_what_it_was_told() {
    let folder = tempfile::tempdir().unwrap();
    let book = tell(folder.path());
    let head = book.head().unwrap();
    let history = book.history().unwrap();
    assert!(history.made_up());
    drop(book);
    let book = Book::open(folder.path()).unwrap();
    assert_eq!(book.head(), Some(head));
    let entries: Vec<_> = book.entries().map(Result::unwrap).collect();
    assert_eq!(entries, history.entries());
    assert_eq!(entries.last().unwrap().entry, EntryNumber(head.number));
    let verification = verify(folder.path(), Some(head)).unwrap();
    assert!(verification.is_sound(), "{:?}", verification.faults);
    assert_eq!((verification.entries, verification.verdicts), (head.number, 2));
    assert_eq!((verification.evidence, verification.unnamed), (10, 0));
}

#[test]
fn one_program_writes_at_a_time_and_others_may_read() {
    let folder = tempfile::tempdir().unwrap();
    let mut book = Book::create(folder.path()).unwrap();
    book.append(minute(1), &who(), &opened()).unwrap();
    let (words, side) = told(&Book::open(folder.path()).err().unwrap());
    let process = std::process::id();
    let place = folder.path().display();
    assert_eq!(words, format!("the book `{place}` is in use by process {process}"));
    assert_eq!(side, Side::Surroundings);
    let mut reader = Book::open_read_only(folder.path()).unwrap();
    assert_eq!(reader.head(), book.head());
    let refused = reader.append(minute(2), &who(), &admitted(2)).unwrap_err();
    assert_eq!(told(&refused), ("the book was opened to read only".to_owned(), Side::Use));
    drop(book);
    assert!(Book::open(folder.path()).is_ok());
}

#[test]
fn a_folder_that_is_no_book_is_named() {
    let folder = tempfile::tempdir().unwrap();
    let place = folder.path().display().to_string();
    let not_a_book = format!("`{place}` is not a book: it holds no record");
    assert_eq!(told(&Book::open(folder.path()).err().unwrap()), (not_a_book, Side::Use));
    fs::write(folder.path().join("letter.txt"), "hello").unwrap();
    let taken = format!("`{place}` is not empty");
    assert_eq!(told(&Book::create(folder.path()).err().unwrap()), (taken.clone(), Side::Use));
    fs::remove_file(folder.path().join("letter.txt")).unwrap();
    drop(tell(folder.path()));
    assert_eq!(told(&Book::create(folder.path()).err().unwrap()), (taken, Side::Use));
    assert!(Book::open(folder.path()).is_ok(), "it was left alone");
}

#[test]
fn a_book_that_was_begun_and_never_finished_can_be_made_again() {
    let folder = tempfile::tempdir().unwrap();
    fs::create_dir(folder.path().join("evidence")).unwrap();
    fs::write(folder.path().join("record.sqlite"), "").unwrap();
    let (words, side) = told(&Book::open(folder.path()).err().unwrap());
    assert_eq!((words.as_str(), side), ("the record was begun and never finished", Side::Use));
    drop(tell(folder.path()));
}

#[test]
fn a_clock_that_stepped_back_is_refused_and_nothing_is_written() {
    let folder = tempfile::tempdir().unwrap();
    let mut book = Book::create(folder.path()).unwrap();
    book.append(minute(5), &who(), &opened()).unwrap();
    let refused = book.append(minute(4), &who(), &admitted(1)).unwrap_err();
    assert_eq!(
        refused.to_string(),
        "entry 2 is dated 2026-03-02T08:04:00.123456Z, earlier than the entry before it \
         (2026-03-02T08:05:00.123456Z)"
    );
    assert!(refused.hint().unwrap().starts_with("Set this machine's clock"));
    book.append(minute(5), &who(), &admitted(1)).unwrap();
    assert_eq!(book.head().unwrap().number, 2);
}

#[test]
fn evidence_comes_before_the_entry_that_names_it() {
    let folder = tempfile::tempdir().unwrap();
    let mut book = tell(folder.path());
    let mut report = book.history().unwrap().reports()[0].2.clone();
    report.pdf = EvidenceHash([7; 32]);
    let number = book.head().unwrap().number;
    let refused = book.append(minute(99), &who(), &Fact::ReportIssued(report)).unwrap_err();
    let words = "evidence 070707070707… is not on file".to_owned();
    assert_eq!(told(&refused), (words, Side::Use));
    assert_eq!(book.head().unwrap().number, number);
    let evidence = book.file_evidence("a.csv", EvidenceKind::Trace, &mut &b"1;2"[..]).unwrap();
    assert_eq!(book.evidence(evidence.hash).unwrap(), b"1;2");
    assert_eq!((evidence.bytes, evidence.name.as_str()), (3, "a.csv"));
    drop(book);
    let verification = verify(folder.path(), None).unwrap();
    assert_eq!((verification.evidence, verification.unnamed), (10, 1), "filed, and not named yet");
}

#[test]
fn what_cannot_be_read_back_is_not_written() {
    let folder = tempfile::tempdir().unwrap();
    let mut book = tell(folder.path());
    let mut observed =
        book.history().unwrap().runs(trial::number::PlanNumber(1))[0].run.observed().clone();
    observed.clock_offset = metrology::Duration::from_seconds(f64::NAN);
    let fact = Fact::RunRecorded {
        plan: trial::number::PlanNumber(1),
        confirmation: trial::number::ConfirmationNumber(1),
        observed: Box::new(observed),
    };
    let (words, side) = told(&book.append(minute(99), &who(), &fact).unwrap_err());
    assert_eq!(
        words,
        "the entry `run-recorded` cannot be written: `observed.clock_offset` is \"NaN s\"; \
         a number in s was expected"
    );
    assert_eq!(side, Side::Use);
    let long = Fact::EquipmentWithdrawn {
        equipment: EquipmentNumber::from("B-1"),
        reason: "x".repeat(5 << 20),
    };
    let (words, _) = told(&book.append(minute(99), &who(), &long).unwrap_err());
    assert!(words.starts_with("the body of the entry is 52429"), "{words}");
}

/// After a failed write the book takes nothing more until it is opened anew.
#[test]
fn a_book_whose_write_failed_stops() {
    for (loses, kept) in [(Loses::TheEntry, 2), (Loses::TheAnswer, 3)] {
        let folder = tempfile::tempdir().unwrap();
        drop(Book::create(folder.path()).unwrap());
        let store = Sqlite::open(&folder.path().join("record.sqlite")).unwrap();
        let store = FailingStore { store, failing: Failing::at(3), loses };
        let mut book = Book::on(folder.path(), Box::new(store), Arc::new(Disk)).unwrap();
        book.append(minute(1), &who(), &opened()).unwrap();
        book.append(minute(2), &who(), &admitted(2)).unwrap();
        let refused = book.append(minute(3), &who(), &admitted(3)).unwrap_err();
        assert!(matches!(refused, LedgerError::Store(StoreError::Failed { .. })), "{refused}");
        let (words, side) = told(&book.append(minute(4), &who(), &admitted(3)).unwrap_err());
        let stopped = "the book takes no further entry since a write failed: \
                       the record's file cannot be used: made to fail";
        assert_eq!((words.as_str(), side), (stopped, Side::Surroundings));
        assert!(book.file_evidence("a", EvidenceKind::Other, &mut &b"a"[..]).is_err());
        drop(book);
        let mut book = Book::open(folder.path()).unwrap();
        assert_eq!(book.head().unwrap().number, kept);
        book.append(minute(5), &who(), &admitted(9)).unwrap();
    }
}

/// Each deed on files and each write to the store fails once, in a whole story: never a panic,
/// nothing acknowledged is lost, and the book verifies.
#[test]
fn whichever_deed_of_a_story_fails_the_book_stays_sound() {
    for n in 1.. {
        let folder = tempfile::tempdir().unwrap();
        drop(Book::create(folder.path()).unwrap());
        let failing = Failing::at(n);
        let store = FailingStore {
            store: Sqlite::open(&folder.path().join("record.sqlite")).unwrap(),
            failing: failing.clone(),
            loses: if n % 2 == 0 { Loses::TheEntry } else { Loses::TheAnswer },
        };
        let files = Arc::new(FailingFiles(failing.clone()));
        let told = tell_into(Book::on(folder.path(), Box::new(store), files).unwrap());
        assert!(told.is_ok() || failing.reached(), "{:?}", told.err());
        let ended = told.is_ok();
        drop(told);
        let verification = verify(folder.path(), None).unwrap();
        assert!(verification.is_sound(), "deed {n}: {:?}", verification.faults);
        if ended {
            assert!(n > 60, "only {n} deeds were seen");
            return;
        }
    }
}

#[test]
fn entries_cut_off_at_the_end_are_noticed_by_the_head_seen_last() {
    let folder = tempfile::tempdir().unwrap();
    let head = tell(folder.path()).head().unwrap();
    let record = rusqlite::Connection::open(folder.path().join("record.sqlite")).unwrap();
    let guard = "entry_is_never_removed";
    let sql: String = record
        .query_row("SELECT sql FROM sqlite_schema WHERE name = ?1", [guard], |row| row.get(0))
        .unwrap();
    record
        .execute_batch(&format!("DROP TRIGGER {guard}; DELETE FROM entry WHERE number > 20; {sql}"))
        .unwrap();
    drop(record);
    let (words, side) = told(&Book::open(folder.path()).err().unwrap());
    let seen = format!("the record ends at entry 20, but entry {} was seen before", head.number);
    assert!(words.starts_with(&seen), "{words}");
    assert_eq!(side, Side::Record);
    assert!(Book::open_read_only(folder.path()).is_ok());
    let faults = verify(folder.path(), None).unwrap().faults;
    assert!(faults[0].to_string().starts_with("the ledger is broken at its end"), "{faults:?}");
}

#[test]
fn a_head_is_read_as_it_is_written() {
    let folder = tempfile::tempdir().unwrap();
    let head = tell(folder.path()).head().unwrap();
    assert_eq!(Head::read(&head.to_string()), Some(head));
    assert_eq!(fs::read_to_string(folder.path().join("head")).unwrap(), format!("{head}\n"));
    for other in ["", "12", "12 abc", "x 12", &format!("+{head}"), &format!("{head}0")] {
        assert_eq!(Head::read(other), None, "{other}");
    }
}

/// A full file system under a whole book: named, and nothing acknowledged is lost.
#[cfg(target_os = "linux")]
#[test]
fn a_full_disk_under_a_book_is_named() {
    let disk = crate::mounts::Mounted::tmpfs("size=1m");
    let mut book = Book::create(disk.path()).unwrap();
    book.append(minute(1), &who(), &opened()).unwrap();
    let refused = book
        .file_evidence("large", EvidenceKind::Film, &mut vec![1; 3 << 20].as_slice())
        .unwrap_err();
    assert!(refused.hint().unwrap().starts_with("Free some space"), "{refused}");
    assert_eq!(refused.side(), Side::Surroundings);
    assert_eq!(fs::read_dir(disk.path().join("evidence")).unwrap().count(), 0);
    let mut acknowledged = 1;
    let refused = loop {
        let fact = Fact::EquipmentWithdrawn { equipment: "B-1".into(), reason: "x".repeat(4000) };
        match book.append(minute(acknowledged + 1), &who(), &fact) {
            Ok(_) => acknowledged += 1,
            Err(refused) => break refused,
        }
    };
    assert!(matches!(refused, LedgerError::Store(StoreError::DiskFull)), "{refused}");
    assert!(acknowledged > 20);
    drop(book);
    let verified = Book::open_read_only(disk.path()).unwrap().chain().filter(Result::is_ok).count();
    assert!(u64::try_from(verified).unwrap() >= acknowledged, "{verified} of {acknowledged}");
}

#[cfg(target_os = "linux")]
#[test]
fn a_read_only_folder_is_named_and_can_be_read() {
    let disk = crate::mounts::Mounted::tmpfs("size=4m");
    let head = tell(disk.path()).head();
    disk.make_read_only();
    let (words, side) = told(&Book::open(disk.path()).err().unwrap());
    assert_eq!(words, format!("cannot write in `{}`", disk.path().display()));
    assert_eq!(side, Side::Surroundings);
    assert_eq!(Book::open_read_only(disk.path()).unwrap().head(), head);
    assert!(verify(disk.path(), head).unwrap().is_sound());
    let place = disk.path().join("new");
    let (words, _) = told(&Book::create(&place).err().unwrap());
    assert_eq!(words, format!("cannot create `{}`", place.display()));
}

#[test]
fn evidence_that_comes_in_slowly_does_not_hold_the_book() {
    let folder = tempfile::tempdir().unwrap();
    let mut book = Book::create(folder.path()).unwrap();
    book.append(minute(1), &who(), &opened()).unwrap();
    let evidence = |folder: &std::path::Path| {
        let names = fs::read_dir(folder.join("evidence")).unwrap();
        names.map(|it| it.unwrap().file_name().into_string().unwrap()).collect::<Vec<_>>()
    };
    let (mut one, mut other) = (book.incoming().unwrap(), book.incoming().unwrap());
    one.write(b"a").unwrap();
    other.write(b"something else").unwrap();
    let filed = book.file_evidence("c", EvidenceKind::Other, &mut &b"meanwhile"[..]).unwrap();
    book.append(minute(2), &who(), &admitted(2)).unwrap();
    one.write(b"bc").unwrap();
    assert_eq!((one.bytes(), other.bytes()), (3, 14));
    let film = one.file("film", EvidenceKind::Film).unwrap();
    assert_eq!((film.bytes, book.evidence(film.hash).unwrap()), (3, b"abc".to_vec()));
    drop(other);
    assert_eq!(evidence(folder.path()).len(), 2, "what was given up leaves nothing");
    let again = book.incoming().unwrap().file("empty", EvidenceKind::Film).unwrap();
    assert_eq!(again.bytes, 0);
    let mut same = book.incoming().unwrap();
    same.write(b"meanwhile").unwrap();
    assert_eq!(same.file("c", EvidenceKind::Other).unwrap(), filed);
    // What came in when the program was ended goes when the book is opened next.
    std::mem::forget(book.incoming().unwrap());
    assert!(evidence(folder.path()).iter().any(|name| name.starts_with("incoming-")));
    drop(book);
    let book = Book::open(folder.path()).unwrap();
    assert!(!evidence(folder.path()).iter().any(|name| name.starts_with("incoming-")));
    assert_eq!(book.evidence(film.hash).unwrap(), b"abc");
}
