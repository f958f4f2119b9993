//! Films in the record: kept once, laid beside the presses by what was seen in them or by a clock.

use crate::bench::{Book, NOW, PLAN, draft, hours, library, method_alone, moment, prepared};
use metrology::{Duration, Ratio};
use trial::bench::{Act, DeviceId, Input, Press, SittingId};
use trial::fact::{Evidence, EvidenceHash, EvidenceKind, Fact};
use trial::film::{FilmRecorded, TonesHeard};
use trial::history::History;
use trial::moment::{Elapsed, Moment};
use trial::number::{EntryNumber, SpecimenNumber};

const SPECIMEN: SpecimenNumber = SpecimenNumber(2);
const DEVICE: DeviceId = DeviceId([0xd; 16]);

fn kept(specimen: SpecimenNumber, byte: u8, recorded: Option<FilmRecorded>) -> Fact {
    let (hash, name) = (EvidenceHash([byte; 32]), format!("film-{byte}.webm"));
    let film = Evidence { name, hash, bytes: 9, kind: EvidenceKind::Film };
    Fact::FilmKept { plan: PLAN, specimen, film, recorded }
}

fn placed(byte: u8, removed: i64) -> Fact {
    let (plan, specimen, film) = (PLAN, SPECIMEN, EvidenceHash([byte; 32]));
    Fact::FilmPlaced { plan, specimen, film, removed: seconds(removed) }
}

fn seconds(seconds: i64) -> Elapsed {
    Elapsed::from_microseconds(seconds * 1_000_000)
}

/// Flame on after `on` seconds of a sitting that was opened `opened` seconds after the day began.
fn flame_on(sitting: u8, opened: i64, on: i64) -> Fact {
    let wall = moment(NOW).unix_microseconds() + (opened + on) * 1_000_000;
    let press = Press {
        sequence: 1,
        at: seconds(on),
        wall: Moment::from_unix_microseconds(wall).unwrap(),
        act: Act::FlameOn,
        input: Input::Switch,
        note: None,
    };
    let (plan, specimen, sitting) = (PLAN, SPECIMEN, SittingId([sitting; 16]));
    Fact::PressesKept { plan, specimen, device: DEVICE, sitting, presses: vec![press] }
}

fn book() -> Book {
    prepared(&draft(method_alone("30 s")))
}

fn refused(history: &History, fact: Fact) -> String {
    let book = Book { entries: history.entries().to_vec() }.at(hours(2), fact);
    let next = book.entries.last().unwrap().clone();
    history.clone().follow(&library(), next).unwrap_err().to_string()
}

#[test]
fn a_film_is_kept_once_and_what_was_said_last_of_its_place_holds() {
    let book = book()
        .add(kept(SPECIMEN, 1, None))
        .add(kept(SPECIMEN, 2, None))
        .add(placed(2, 31))
        .at(hours(1), placed(2, 30));
    let history = book.history();
    let [one, other] = history.films(PLAN, SPECIMEN) else { panic!("two films") };
    assert_eq!((one.placed.as_ref(), other.film.name.as_str()), (None, "film-2.webm"));
    let place = other.placed.as_ref().unwrap();
    assert_eq!((place.at, place.removed), (hours(1), seconds(30)));
    // Removed 12 s after the first flame, and 30 s into the film: it begins 18 s before.
    assert_eq!(place.begins(seconds(12)), seconds(-18));
    assert_eq!(history.films(PLAN, SpecimenNumber(1)), []);
    let twice = refused(&history, kept(SPECIMEN, 2, None));
    assert!(twice.contains("film film-2.webm is in the record already"), "{twice}");
    let unknown = refused(&history, placed(3, 1));
    assert!(unknown.contains("of specimen 2 is not in the record"), "{unknown}");
    let elsewhere = refused(&history, kept(SpecimenNumber(99), 4, None));
    assert!(elsewhere.contains("specimen 99 is not in the record"), "{elsewhere}");
}

fn heard(byte: u8, removed: i64, tones: u32) -> Fact {
    let (plan, specimen, film) = (PLAN, SPECIMEN, EvidenceHash([byte; 32]));
    let half = Ratio::from_percent(50.0);
    let apart = Some(Duration::from_seconds(0.01)).filter(|_| tones > 1);
    let tones = TonesHeard { tones, of: 2, likeness: half, best: half, second: half, apart };
    Fact::FilmHeard { plan, specimen, film, removed: seconds(removed), tones }
}

#[test]
fn what_a_film_proposed_stands_beside_what_was_taken() {
    let proposed = book().add(kept(SPECIMEN, 1, None)).add(heard(1, 31, 1)).add(heard(1, 30, 2));
    let history = proposed.history();
    let [film] = history.films(PLAN, SPECIMEN) else { panic!("one film") };
    let last = film.heard.as_ref().unwrap();
    assert_eq!((last.removed, last.tones.tones, film.placed.as_ref()), (seconds(30), 2, None));
    assert_eq!(last.begins(seconds(12)), seconds(-18));
    let taken = proposed.add(placed(1, 29)).history();
    let [film] = taken.films(PLAN, SPECIMEN) else { panic!("one film") };
    assert_eq!(film.placed.as_ref().unwrap().begins(seconds(12)), seconds(-17));
    assert_eq!(film.heard.as_ref().unwrap().begins(seconds(12)), seconds(-18));
    let unknown = refused(&taken, heard(3, 1, 1));
    assert!(unknown.contains("of specimen 2 is not in the record"), "{unknown}");
}

#[test]
fn photographs_of_before_the_flame_are_kept_once_each() {
    let photo = |byte: u8| {
        let (hash, name) = (EvidenceHash([byte; 32]), format!("IMG_{byte}.jpg"));
        let photo = Evidence { name, hash, bytes: 9, kind: EvidenceKind::Photo };
        Fact::SpecimenPhotographed { plan: PLAN, specimen: SPECIMEN, photo }
    };
    let history = book().add(photo(1)).add(photo(2)).history();
    let names: Vec<&str> =
        history.photos_before(PLAN, SPECIMEN).iter().map(|it| it.name.as_str()).collect();
    assert_eq!(names, ["IMG_1.jpg", "IMG_2.jpg"]);
    assert!(history.photos_before(PLAN, SpecimenNumber(1)).is_empty());
    let twice = refused(&history, photo(2));
    assert!(twice.contains("photograph IMG_2.jpg is in the record already"), "{twice}");
}

#[test]
fn a_film_that_was_kept_by_mistake_is_withdrawn() {
    let book = book().add(kept(SPECIMEN, 1, None));
    let entry = EntryNumber(u64::try_from(book.entries.len()).unwrap());
    let reason = "of another specimen".to_owned();
    let history = book.add(Fact::Corrected { entry, reason, by: None }).history();
    assert_eq!(history.films(PLAN, SPECIMEN), []);
}

#[test]
fn a_film_recorded_at_the_bench_lies_by_the_clock_of_its_sitting() {
    let recorded = FilmRecorded {
        device: DEVICE,
        sitting: SittingId([2; 16]),
        began: seconds(4),
        within: Duration::from_seconds(0.1),
    };
    let of = (PLAN, SPECIMEN);
    let begins = |book: &Book, sitting: u8| {
        book.history().from_first_flame(of, (SittingId([sitting; 16]), recorded.began))
    };
    let book = book().add(kept(SPECIMEN, 1, Some(recorded.clone())));
    assert_eq!(begins(&book, 2), None, "no flame yet");
    let alone = book.clone().add(flame_on(2, 0, 10));
    assert_eq!(begins(&alone, 2), Some(seconds(-6)));
    assert_eq!(begins(&alone, 7), None, "another sitting was pressed in");
    // Sitting 2 was opened 100 s after sitting 1, and goes on with what it had begun.
    let taken = Fact::TimekeeperTaken {
        plan: PLAN,
        specimen: SPECIMEN,
        device: DEVICE,
        sitting: SittingId([2; 16]),
        reason: "dark".to_owned(),
    };
    let both = book.add(flame_on(1, 0, 10)).add(taken).add(flame_on(2, 100, 5));
    assert_eq!(begins(&both, 2), Some(seconds(94)));
}
