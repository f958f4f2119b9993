//! A book on a PostgreSQL database: the suite of any store, its guards, its settings, its roles, its
//! copies; several programs that write, and a database that goes away.

mod proxy;
pub(crate) mod server;
mod same;
mod machines;
mod tls;
mod order;
mod writers;

use std::path::Path;
use std::sync::Arc;

use ledger::store::{Postgres, Store, StoreError};
use ledger::{
    Address, Book, LedgerError, Making, Places, restore, restore_on_database, verify, verify_bundle,
};
use trial::fact::EvidenceKind;

use crate::copies::contents;
use crate::store::{fill, next, suite};
use crate::story::{admitted, minute, opened, tell, tell_into};
use proxy::Proxy;
use server::{BENCH, OWNER, Server};

/// A database in which a book was made, and the folder of its files.
pub(crate) struct Made {
    pub(crate) server: Arc<Server>,
    pub(crate) database: String,
    pub(crate) files: tempfile::TempDir,
}

impl Made {
    pub(crate) fn on(server: Arc<Server>) -> Self {
        let (database, files) = (server.database(), tempfile::tempdir().unwrap());
        Self { server, database, files }
    }

    fn places(&self) -> Places {
        let files = self.files.path().join("files");
        Places { evidence: files.join("evidence").display().to_string(), files }
    }

    pub(crate) fn making(&self) -> Making {
        Making { places: self.places(), role: BENCH.to_owned() }
    }

    pub(crate) fn owner(&self) -> std::path::PathBuf {
        self.server.address(OWNER, &self.database)
    }

    pub(crate) fn bench(&self) -> std::path::PathBuf {
        self.server.address(BENCH, &self.database)
    }

    /// A book, as its owner made it.
    pub(crate) fn book(&self) -> Book {
        Book::create_on_database(&self.owner(), &self.making()).unwrap()
    }

    /// A store alone, as its owner made it.
    fn store(&self) -> Postgres {
        Postgres::create(&address(&self.owner()), &self.places(), BENCH).unwrap()
    }

    /// The store as the other role opens it.
    fn opened(&self) -> Postgres {
        Postgres::open(&address(&self.bench())).unwrap()
    }
}

fn made() -> Made {
    Made::on(Server::shared())
}

fn address(text: &Path) -> Address {
    Address::read(text).unwrap()
}

#[test]
fn postgres_keeps_what_is_asked_of_a_store() {
    let made = made();
    suite(made.store(), |store| {
        drop(store);
        made.opened()
    });
}

#[test]
fn a_story_told_to_both_stores_is_the_same_to_the_byte_and_goes_from_one_to_the_other() {
    let (made, place) = (made(), tempfile::tempdir().unwrap());
    let path = |name: &str| place.path().join(name);
    let told = tell_into(made.book()).unwrap();
    let head = told.head();
    drop(told);
    let book = Book::open(&made.bench()).unwrap();
    assert_eq!(book.head(), head);
    book.export(&path("bundle")).unwrap();
    tell(&path("folder")).export(&path("other")).unwrap();
    assert_eq!(contents(&path("bundle")), contents(&path("other")));
    assert!(verify_bundle(&path("bundle"), head).unwrap().is_sound());
    let verified = verify(&made.bench(), head).unwrap();
    assert!(verified.is_sound(), "{:?}", verified.faults);
    assert_eq!((verified.evidence, verified.unnamed), (10, 0));

    // Backed up into a folder, which is a book like any other; and back onto another database.
    let copied = book.back_up(&path("copy")).unwrap();
    assert_eq!((copied.head, copied.evidence), (head, 10));
    assert!(verify(&path("copy"), head).unwrap().is_sound());
    assert_eq!(std::fs::read_dir(path("copy")).unwrap().count(), 3, "record, evidence, head");
    assert_eq!(restore(&path("copy"), &path("again")).unwrap(), copied);
    let other = Made::on(Arc::clone(&made.server));
    let restored = restore_on_database(&path("copy"), &other.owner(), &other.making()).unwrap();
    assert_eq!(restored, copied);
    let back = Book::open(&other.bench()).unwrap();
    back.export(&path("back")).unwrap();
    assert_eq!(contents(&path("back")), contents(&path("bundle")));
    // Nothing is ever overwritten.
    let refused = restore_on_database(&path("copy"), &other.owner(), &other.making()).unwrap_err();
    assert_eq!(refused.to_string(), "the record refuses this: there is a record here already");
}

/// Each statement is tried as the role that adds entries, as the owner, and as the one who may do
/// everything.
#[test]
fn nobody_changes_an_entry_by_mistake_and_the_bench_cannot_at_all() {
    let made = made();
    fill(&mut made.store(), 3);
    let row = "previous, at, who, kind, form, body, evidence, hash FROM cinderbook.entry";
    let into = "INSERT INTO cinderbook.entry
        (number, previous, at, who, kind, form, body, evidence, hash)";
    for statement in [
        "UPDATE cinderbook.entry SET who = 'X' WHERE number = 2".to_owned(),
        "DELETE FROM cinderbook.entry".to_owned(),
        "TRUNCATE cinderbook.entry".to_owned(),
        "TRUNCATE cinderbook.entry CASCADE".to_owned(),
        "SET session_replication_role = replica; DELETE FROM cinderbook.entry".to_owned(),
        format!("{into} SELECT 5, {row} WHERE number = 3"),
        format!("{into} SELECT number + 1, {row} WHERE number = 3"),
        format!("{into} SELECT number, {row} WHERE number = 3"),
    ] {
        for role in [BENCH, OWNER, "lab_super"] {
            let refused = made.server.say_as(role, &made.database, &statement).unwrap_err();
            let ours =
                refused.contains("an entry ") || refused.contains("referenced in a foreign key");
            assert!(ours || role != "lab_super" && refused.contains("permission"), "{refused}");
        }
    }
    for statement in [
        "UPDATE cinderbook.head SET number = 2",
        "DELETE FROM cinderbook.head",
        "ALTER TABLE cinderbook.entry DISABLE TRIGGER ALL",
        "DROP TRIGGER entry_is_kept ON cinderbook.entry",
        "DROP TABLE cinderbook.entry",
        "CREATE TABLE cinderbook.other (a int)",
        "DELETE FROM cinderbook.note",
    ] {
        let refused = made.server.say_as(BENCH, &made.database, statement).unwrap_err();
        assert!(refused.contains("permission") || refused.contains("owner"), "{refused}");
    }
    assert_eq!(made.opened().after(0, 10).unwrap().len(), 3);
}

/// Without the guard, and as the one who may do everything, the constraints alone refuse.
#[test]
fn the_constraints_alone_refuse_a_gap_a_fork_and_a_double() {
    let made = made();
    fill(&mut made.store(), 3);
    made.server
        .say(&made.database, "ALTER TABLE cinderbook.entry DISABLE TRIGGER entry_follows_the_last");
    let add = |number: &str, previous: &str, hash: &str| {
        made.server.try_say(
            &made.database,
            &format!(
                "INSERT INTO cinderbook.entry
                    (number, previous, at, who, kind, form, body, evidence, hash)
                    VALUES ({number}, {previous}, 0, '', '', 1, '', '', sha256('{hash}'))"
            ),
        )
    };
    let hash_of =
        |number: u64| format!("(SELECT hash FROM cinderbook.entry WHERE number = {number})");
    for (number, previous, constraint) in [
        ("5", hash_of(3), "entry_follows"),
        ("4", hash_of(2), "entry_"),
        ("4", "sha256('other')".to_owned(), "entry_follows"),
        ("4", "NULL".to_owned(), "entry_follows"),
        ("3", hash_of(2), "entry_"),
        ("1", "NULL".to_owned(), "entry_number"),
        ("0", "NULL".to_owned(), "entry_"),
        ("-1", hash_of(3), "entry_"),
    ] {
        let refused = add(number, &previous, number).unwrap_err();
        assert!(refused.contains(constraint) && refused.contains("constraint"), "{refused}");
    }
    add("4", &hash_of(3), "4").unwrap();
}

#[test]
fn guards_that_were_taken_away_and_a_form_of_tomorrow_are_refused_with_words() {
    for (change, words) in [
        ("DROP TRIGGER entry_is_kept ON cinderbook.entry", "`entry_is_kept` is not as it was made"),
        (
            "ALTER TABLE cinderbook.entry DISABLE TRIGGER entry_follows_the_last",
            "`entry_follows_the_last` is not as it was made",
        ),
        (
            "ALTER TABLE cinderbook.entry DROP CONSTRAINT entry_follows",
            "`entry_follows` is not as it was made",
        ),
        (
            "CREATE OR REPLACE FUNCTION cinderbook.entry_is_kept() RETURNS trigger
                LANGUAGE plpgsql AS 'BEGIN RETURN NULL; END'",
            "`entry_is_kept` is not as it was made",
        ),
    ] {
        let made = made();
        drop(made.store());
        made.server.say(&made.database, change);
        let refused = Postgres::open(&address(&made.bench())).err().unwrap().to_string();
        let expected = format!("the record's tables were changed from outside: {words}");
        assert_eq!(refused, expected);
    }
    let made = made();
    drop(made.store());
    made.server.say(&made.database, "UPDATE cinderbook.book SET form = 3");
    let refused = Postgres::open(&address(&made.bench())).err().unwrap();
    assert_eq!(refused, StoreError::Newer { found: 3, known: 2 });
}

#[test]
fn a_role_that_could_change_the_record_is_refused_and_so_is_a_database_without_a_book() {
    let made = made();
    assert_eq!(Postgres::open(&address(&made.bench())).err(), Some(StoreError::NoBook));
    let refused = Postgres::create(&address(&made.owner()), &made.places(), OWNER).err().unwrap();
    assert!(refused.to_string().ends_with("name another role"), "{refused}");
    let refused = Postgres::create(&address(&made.owner()), &made.places(), "nobody").err();
    assert!(refused.unwrap().to_string().contains("\"nobody\" does not exist"));
    drop(made.store());
    for role in [OWNER, "lab_super"] {
        let at = made.server.address(role, &made.database);
        let refused = Postgres::open(&address(&at)).err();
        assert_eq!(refused, Some(StoreError::MayChange { role: role.to_owned() }));
        assert!(Postgres::open_read_only(&address(&at)).is_ok(), "to read is harmless");
    }
    made.server.say(&made.database, &format!("GRANT DELETE ON cinderbook.entry TO {BENCH}"));
    let refused = Postgres::open(&address(&made.bench())).err().unwrap();
    assert!(refused.hint().unwrap().contains("--role"), "{refused}");
}

#[test]
fn a_database_that_does_not_wait_for_its_disk_is_refused_also_when_it_stops_waiting_later() {
    let server = Arc::new(Server::start(&[]));
    let made = Made::on(Arc::clone(&server));
    let mut store = made.store();
    let added = fill(&mut store, 2);
    for setting in ["fsync", "full_page_writes", "synchronous_commit"] {
        let set = |how: &str| {
            server.say("postgres", &format!("ALTER SYSTEM {how}"));
            server.say("postgres", "SELECT pg_reload_conf()");
        };
        set(&format!("SET {setting} = off"));
        let refused = loop {
            // The server takes a moment to read its settings again.
            match Postgres::open(&address(&made.bench())) {
                Ok(_) => std::thread::sleep(std::time::Duration::from_millis(20)),
                Err(refused) => break refused,
            }
        };
        let words = format!("the database keeps {setting} = off; the record needs on");
        assert_eq!(refused.to_string(), words);
        if setting != "synchronous_commit" {
            let refused = store.append(&next(added.last())).unwrap_err();
            assert!(matches!(refused, StoreError::Guarded { .. }), "{refused}");
        }
        set(&format!("RESET {setting}"));
        while Postgres::open(&address(&made.bench())).is_err() {}
    }
    store.append(&next(added.last())).unwrap();
}

#[test]
fn entries_cut_from_the_end_are_found_by_the_head_beside_them() {
    let made = made();
    drop(tell_into(made.book()).unwrap());
    let head = Book::open(&made.bench()).unwrap().head().unwrap();
    made.server.say(
        &made.database,
        "ALTER TABLE cinderbook.entry DISABLE TRIGGER entry_is_kept;
         DELETE FROM cinderbook.entry WHERE number > 20;
         ALTER TABLE cinderbook.entry ENABLE ALWAYS TRIGGER entry_is_kept",
    );
    let refused = Book::open(&made.bench()).err().unwrap();
    assert!(matches!(refused, LedgerError::CutShort { seen, .. } if seen == head), "{refused}");
    assert!(!verify(&made.bench(), None).unwrap().is_sound());
}

#[test]
fn two_programs_write_in_turn_and_see_what_the_other_wrote() {
    let made = made();
    let who = "Ana Ruiz".into();
    made.book().append(minute(1), &who, &opened()).unwrap();
    let (mut one, mut other) =
        (Book::open(&made.bench()).unwrap(), Book::open(&made.bench()).unwrap());
    one.append(minute(2), &who, &admitted(2)).unwrap();
    let refused = other.append(minute(3), &who, &admitted(3)).unwrap_err();
    assert!(matches!(refused, LedgerError::Store(StoreError::Overtaken)), "{refused}");
    let added = other.catch_up().unwrap();
    assert_eq!(added.iter().map(|it| it.entry.0).collect::<Vec<_>>(), [2]);
    other.append(minute(3), &who, &admitted(3)).unwrap();
    assert_eq!(one.catch_up().unwrap().len(), 1);
    assert_eq!(one.head(), other.head());
    // Evidence that one files the other reads; what it is still writing is let alone.
    let mut coming = one.incoming().unwrap();
    coming.write(b"a fi").unwrap();
    let third = Book::open(&made.bench()).unwrap();
    coming.write(b"lm").unwrap();
    let film = coming.file("film", EvidenceKind::Film).unwrap();
    assert_eq!(third.evidence(film.hash).unwrap(), b"a film");
    // Each has a place of its own on this machine, and a free one is taken again.
    one.take_place().unwrap();
    other.take_place().unwrap();
    assert!(one.own_folder().ends_with("serve-1") && other.own_folder().ends_with("serve-2"));
    drop(one);
    let mut again = Book::open(&made.bench()).unwrap();
    again.take_place().unwrap();
    assert!(again.own_folder().ends_with("serve-1"));
}

#[test]
fn a_note_is_changed_by_one_program_at_a_time() {
    let made = made();
    drop(made.book());
    let add = || {
        let notes = Book::open(&made.bench()).unwrap().notes().unwrap().unwrap();
        for _ in 0..10 {
            let change = |before: Option<&[u8]>| {
                let before: u64 =
                    before.map_or(0, |it| str::from_utf8(it).unwrap().parse().unwrap());
                Ok::<_, StoreError>((before + 1).to_string().into_bytes())
            };
            notes.change("count", change).unwrap();
        }
    };
    std::thread::scope(|scope| (0..8).for_each(|_| drop(scope.spawn(add))));
    let notes = Book::open(&made.bench()).unwrap().notes().unwrap().unwrap();
    let note = notes.newer("count", 0).unwrap().unwrap();
    assert_eq!((note.bytes.as_deref(), note.version), (Some(&b"80"[..]), 80));
    assert_eq!(notes.newer("count", 80).unwrap(), None);
}

/// R16: the answer to each entry is lost after the database gave it. Each entry stands once.
#[test]
fn an_answer_that_is_lost_is_no_failure_and_no_second_entry() {
    let asked = std::env::var("CINDERBOOK_LOST_ANSWERS");
    let count: u64 = asked.map_or(40, |text| text.parse().unwrap());
    let made = made();
    drop(made.store());
    let proxy = Proxy::to(made.server.port);
    let mut store = Postgres::open(&address(&proxy.address(BENCH, &made.database))).unwrap();
    proxy.lose_answers(true);
    let added = fill(&mut store, count);
    proxy.lose_answers(false);
    assert!(proxy.lost() >= count, "{} answers of {count} were lost", proxy.lost());
    let kept = made.opened().after(0, usize::MAX).unwrap();
    assert_eq!(kept, added);
}
