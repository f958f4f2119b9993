//! One book, several machines: each has a folder of its own, and all have the same key and the same
//! signed heads.

use std::fs;
use std::path::PathBuf;
use std::thread;

use ledger::key::{Earlier, begun};
use ledger::note::SecretKey;
use ledger::{Book, Seen, restore_on_database, verify, verify_bundle, verify_by};
use trial::fact::Fact;

use super::server::{BENCH, OWNER};
use super::{Made, made};
use crate::copies::by_python;
use crate::story::{admitted, key, minute, opened, tell_into};

impl Made {
    /// The folder of one machine.
    fn folder(&self, machine: &str) -> PathBuf {
        self.files.path().join(machine)
    }

    /// The book as one machine opens it. A machine finds its folder by the name that the database
    /// keeps; here all stand on one, so the name is another each time.
    fn machine(&self, name: &str) -> Book {
        let folder = self.folder(name).display().to_string();
        self.server.say(&self.database, &format!("UPDATE cinderbook.book SET files = '{folder}'"));
        Book::open(&self.bench()).unwrap()
    }

    /// Does what only one who may do everything can, past all guards.
    fn force(&self, statements: &str) {
        let tables = ["entry", "signed"];
        let stand =
            |how: &str| tables.map(|it| format!("ALTER TABLE cinderbook.{it} {how};")).concat();
        let always = "ALTER TABLE cinderbook.entry ENABLE ALWAYS TRIGGER entry_follows_the_last;
             ALTER TABLE cinderbook.entry ENABLE ALWAYS TRIGGER entry_is_kept;
             ALTER TABLE cinderbook.signed ENABLE ALWAYS TRIGGER signed_is_kept;";
        let (down, up) = (stand("DISABLE TRIGGER ALL"), stand("ENABLE TRIGGER ALL"));
        self.server.say(&self.database, &format!("{down} {statements}; {up} {always}"));
    }

    fn faults(&self) -> Vec<String> {
        let found = verify(&self.bench(), None).unwrap();
        found.faults.iter().map(ToString::to_string).collect()
    }
}

fn say(book: &mut Book, fact: &Fact) {
    let next = book.head().map_or(1, |head| head.number + 1);
    book.append(minute(next), &"Ana Ruiz".into(), fact).unwrap();
}

fn other(book: &Book, seed: u8) -> SecretKey {
    SecretKey::of(&book.origin().unwrap().unwrap(), &[seed; 32]).unwrap()
}

#[test]
fn a_machine_without_the_first_ones_folder_signs_and_shows_what_the_first_one_signed() {
    let made = made();
    drop(tell_into(made.book()).unwrap());
    let one = made.machine("one");
    let secret = one.keep_key(key(&one)).unwrap();
    assert!(made.folder("one").join("key").is_file(), "to keep a copy of");
    let first = one.sign_head(&secret).unwrap();
    drop(one);
    fs::remove_dir_all(made.folder("one")).unwrap();

    let mut two = made.machine("two");
    let there = two.key(Some(secret.public())).unwrap().unwrap();
    assert_eq!(there.to_text(), secret.to_text());
    assert_eq!(two.signed_heads().unwrap(), std::slice::from_ref(&first));
    say(&mut two, &admitted(1));
    let later = two.sign_head(&there).unwrap();
    let both = [first, later];
    assert_eq!(made.machine("three").signed_heads().unwrap(), both);
    assert!(!made.folder("two").join("heads").exists());

    // What each of them exports is the same, and both verifiers believe it by the key alone.
    let place = tempfile::tempdir().unwrap();
    let bundle = place.path().join("bundle");
    two.export(&bundle).unwrap();
    assert_eq!(fs::read_dir(bundle.join("heads")).unwrap().count(), 2);
    let head = two.head().unwrap().to_string();
    assert_eq!(by_python(&bundle), Ok(head));
    assert!(verify_bundle(&bundle, two.head()).unwrap().is_sound());
    let seen = Seen { heads: Vec::new(), key: Some(secret.public().clone()) };
    let found = verify_by(&made.bench(), &seen).unwrap();
    assert!(found.is_sound(), "{:?}", found.faults);
    assert_eq!(found.signed, 2);

    // A copy takes the heads along, and so does what is put back on another database: not the key.
    let copy = place.path().join("copy");
    two.back_up(&copy).unwrap();
    let back = Made::on(made.server.clone());
    restore_on_database(&copy, &back.owner(), &back.making()).unwrap();
    let put_back = back.machine("four");
    assert_eq!(put_back.signed_heads().unwrap(), both);
    assert!(put_back.key(Some(secret.public())).unwrap().is_none());
    // Its file, put into one machine's folder, is the key of all of them.
    fs::write(back.folder("four").join("key"), secret.to_text()).unwrap();
    assert!(put_back.key(Some(secret.public())).unwrap().is_some());
    assert!(back.machine("five").key(Some(secret.public())).unwrap().is_some());
}

#[test]
fn entries_cut_from_the_end_are_found_by_the_head_that_another_machine_signed() {
    let made = made();
    let mut told = tell_into(made.book()).unwrap();
    say(&mut told, &admitted(1));
    drop(told);
    let one = made.machine("one");
    let secret = one.keep_key(key(&one)).unwrap();
    let size = one.sign_head(&secret).unwrap().size;
    drop(one);
    let last = size - 1;
    made.force(&format!(
        "DELETE FROM cinderbook.entry WHERE number > {last};
         UPDATE cinderbook.head SET (number, hash) =
            (SELECT number, hash FROM cinderbook.entry WHERE number = {last})"
    ));
    let mut two = made.machine("two");
    let told = format!(
        "the signed head of {size} entries does not check: the record ends at entry {last}"
    );
    assert_eq!(made.faults(), [told]);
    let refused = two.sign_head(&secret).unwrap_err().to_string();
    assert!(refused.ends_with("does not continue it"), "{refused}");
    // As long again, with another entry in the place of the one that was cut.
    say(&mut two, &admitted(2));
    let told = "does not check: the entries are not those that were signed";
    assert!(made.faults()[0].ends_with(told), "{:?}", made.faults());
    say(&mut two, &admitted(3));
    let refused = two.sign_head(&secret).unwrap_err().to_string();
    assert!(refused.ends_with("does not continue it"), "{refused}");
}

#[test]
fn a_machine_that_has_not_read_what_others_wrote_signs_what_it_has_read() {
    let made = made();
    drop(tell_into(made.book()).unwrap());
    let (behind, mut ahead) = (made.machine("one"), made.machine("two"));
    let secret = behind.keep_key(key(&behind)).unwrap();
    say(&mut ahead, &admitted(1));
    let later = ahead.sign_head(&secret).unwrap();
    let earlier = behind.sign_head(&secret).unwrap();
    assert_eq!(earlier.size + 1, later.size);
    assert_eq!(behind.signed_sizes().unwrap(), [earlier.size, later.size]);
    assert_eq!(made.faults(), Vec::<String>::new());
}

#[test]
fn a_signed_head_is_never_changed_or_removed_and_is_of_an_entry_that_is_there() {
    let made = made();
    drop(tell_into(made.book()).unwrap());
    let one = made.machine("one");
    let size = one.sign_head(&key(&one)).unwrap().size;
    for statement in [
        "UPDATE cinderbook.signed SET note = ''",
        "DELETE FROM cinderbook.signed",
        "TRUNCATE cinderbook.signed",
        "SET session_replication_role = replica; DELETE FROM cinderbook.signed",
    ] {
        for role in [BENCH, OWNER, "lab_super"] {
            let refused = made.server.say_as(role, &made.database, statement).unwrap_err();
            let ours = refused.contains("a signed head is never");
            assert!(ours || role != "lab_super" && refused.contains("permission"), "{refused}");
        }
    }
    let beyond = format!("INSERT INTO cinderbook.signed VALUES ({}, '')", size + 1);
    let refused = made.server.say_as(BENCH, &made.database, &beyond).unwrap_err();
    assert!(refused.contains("signed_entry"), "{refused}");
    made.server.say(&made.database, "DROP TRIGGER signed_is_kept ON cinderbook.signed");
    let refused = Book::open(&made.bench()).err().unwrap().to_string();
    assert!(refused.ends_with("`signed_is_kept` is not as it was made"), "{refused}");
}

#[test]
fn machines_that_begin_or_renew_a_key_at_the_same_time_come_to_one() {
    let made = made();
    made.book().append(minute(1), &"Ana Ruiz".into(), &opened()).unwrap();
    let books: Vec<Book> = (0..8).map(|nth| made.machine(&format!("machine {nth}"))).collect();
    let kept: Vec<SecretKey> = thread::scope(|scope| {
        let keeping: Vec<_> = (1_u8..)
            .zip(books)
            .map(|(seed, book)| scope.spawn(move || book.keep_key(other(&book, seed)).unwrap()))
            .collect();
        keeping.into_iter().map(|it| it.join().unwrap()).collect()
    });
    let first = kept[0].clone();
    assert!(kept.iter().all(|key| key.to_text() == first.to_text()));

    let mut one = made.machine("one");
    say(&mut one, &Fact::KeyBegun(Box::new(begun(&first, None, ""))));
    // Two are about to take its place; the record names the one, and the other never signs.
    let (second, third) = (other(&one, 21), other(&one, 22));
    let two = made.machine("two");
    one.keep_next_key(&second).unwrap();
    two.keep_next_key(&third).unwrap();
    let fact = begun(&second, Some(Earlier::AtHand(&first)), "yearly");
    say(&mut one, &Fact::KeyBegun(Box::new(fact)));
    // The machine that renewed it ends here; another one signs with it.
    fs::remove_dir_all(made.folder("one")).unwrap();
    let signs = two.key(Some(second.public())).unwrap().unwrap();
    assert_eq!(signs.to_text(), second.to_text());
    let note = two.notes().unwrap().unwrap().newer("key", 0).unwrap().unwrap().bytes.unwrap();
    let text = String::from_utf8(note).unwrap();
    assert!(!text.contains(&first.to_text()), "it never signs again");
    let mut two = made.machine("two");
    two.sign_head(&signs).unwrap();
    say(&mut two, &admitted(2));
    assert_eq!(made.faults(), Vec::<String>::new());
}

/// A book of before: its tables have no signed heads, and each machine's lie in its own folder.
#[test]
fn a_book_in_the_first_form_of_its_tables_keeps_key_and_heads_in_each_folder() {
    let made = made();
    drop(tell_into(made.book()).unwrap());
    made.server.say(
        &made.database,
        "DROP TABLE cinderbook.signed; DROP FUNCTION cinderbook.signed_is_kept;
         UPDATE cinderbook.book SET form = 1",
    );
    let one = made.machine("one");
    let secret = one.keep_key(key(&one)).unwrap();
    let signed = one.sign_head(&secret).unwrap();
    assert_eq!(one.signed_heads().unwrap(), std::slice::from_ref(&signed));
    assert!(made.folder("one").join("heads").is_dir());
    assert_eq!(verify(&made.bench(), None).unwrap().signed, 1);
    let two = made.machine("two");
    assert!(two.key(Some(secret.public())).unwrap().is_none());
    assert_eq!(two.signed_heads().unwrap(), []);
    assert_eq!(made.faults(), Vec::<String>::new());
    // Copied and put back, it is in the form of now.
    let copy = made.files.path().join("copy");
    made.machine("one").back_up(&copy).unwrap();
    let back = Made::on(made.server.clone());
    restore_on_database(&copy, &back.owner(), &back.making()).unwrap();
    assert_eq!(back.machine("three").signed_heads().unwrap(), [signed]);
}
