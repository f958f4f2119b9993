//! Records that were tampered with at random, by someone careless and by someone careful: all are
//! found, by what stands in the record, by its signed heads, or by a head that left the house.
//!
//! `CINDERBOOK_TAMPERINGS=10000` makes so many; CI makes a few hundred.

use std::env;
use std::fs;
use std::iter;
use std::path::Path;

use ledger::bundle::{LineError, line, read_line};
use ledger::chain::{At, Entry, Stored};
use ledger::{Head, verify_bundle};

use crate::damage::Shuffled;
use crate::story::{key, tell};

/// A record as plain files, and what is known of it outside.
struct Sound {
    entries: Vec<Stored>,
    lines: Vec<u8>,
    printed: Head,
}

/// So many are made.
pub(crate) fn wanted(variable: &str, few: usize) -> usize {
    env::var(variable).map_or(few, |count| count.parse().unwrap())
}

fn exported(place: &Path) -> Sound {
    let book = tell(&place.join("book"));
    book.sign_head(&key(&book)).unwrap();
    let root = book.tree_head().unwrap();
    book.export(&place.join("bundle")).unwrap();
    let lines = fs::read(place.join("bundle/entries.jsonl")).unwrap();
    let entries = book.chain().map(Result::unwrap).collect();
    let printed = Head { number: root.size, hash: ledger::hash::EntryHash(root.root.0) };
    Sound { entries, lines, printed }
}

/// Fills in numbers, links and hashes anew, as a careful forger would; from a place on.
fn rechained(entries: &mut [Stored], from: usize) {
    for place in from..entries.len() {
        let previous = place.checked_sub(1).map(|before| entries[before].hash);
        let number = place as u64 + 1;
        let entry = Entry { previous, number, ..entries[place].entry.clone() };
        entries[place] = Stored::new(entry);
    }
}

/// One tampering with whole entries; what it was.
fn tampered(entries: &mut Vec<Stored>, dice: &mut Shuffled) -> &'static str {
    let at = 1 + dice.below(entries.len() - 2);
    match dice.below(6) {
        0 => {
            entries.remove(at);
            "a row removed"
        }
        1 => {
            entries.truncate(at);
            "the tail cut"
        }
        2 => {
            let other = 1 + dice.below(entries.len() - 1);
            let other = if other == at { 0 } else { other };
            entries.swap(at, other);
            "two rows swapped"
        }
        3 => {
            let earlier = i64::try_from(dice.below(60_000_000)).unwrap();
            let moment = entries[at].entry.at.microseconds() - 1 - earlier;
            entries[at].entry.at = At::from_microseconds(moment).unwrap();
            "back-dated"
        }
        4 => {
            entries[at].entry.who.push('e');
            "another signer"
        }
        _ => {
            let body = &mut entries[at].entry.body;
            // A letter of several bytes would be no text any more, which nobody can write as a line.
            let mut places = iter::repeat_with(|| dice.below(body.len()));
            let place = places.find(|place| body[*place].is_ascii()).unwrap();
            body[place] = if body[place] == b'1' { b'2' } else { b'1' };
            "another value"
        }
    }
}

#[test]
fn every_tampering_at_random_is_found() {
    let place = tempfile::tempdir().unwrap();
    let sound = exported(place.path());
    let bundle = place.path().join("bundle");
    let path = |name: &str| bundle.join(name);
    let signed = path(&format!("heads/{}", sound.printed.number));
    let note = fs::read(&signed).unwrap();
    let head = fs::read(path("head")).unwrap();
    assert!(verify_bundle(&bundle, Some(sound.printed)).unwrap().is_sound());
    let mut dice = Shuffled(0x5eed);
    for n in 0..wanted("CINDERBOOK_TAMPERINGS", 300) {
        // Half of the forgers know the form and put every hash right; half of these put away the
        // signed heads too, and only the head on the report is left.
        let (careful, outside) = (dice.below(2) == 0, dice.below(2) == 0);
        let mut seen = None;
        let what = if dice.below(3) == 0 {
            let mut lines = sound.lines.clone();
            let at = dice.below(lines.len());
            lines[at] ^= 1 << dice.below(8);
            fs::write(path("entries.jsonl"), &lines).unwrap();
            "a bit"
        } else {
            let mut entries = sound.entries.clone();
            let what = tampered(&mut entries, &mut dice);
            if careful {
                rechained(&mut entries, 0);
                let last = entries.last().unwrap();
                fs::write(path("head"), format!("{} {}\n", last.entry.number, last.hash)).unwrap();
                if outside {
                    fs::remove_file(&signed).unwrap();
                    seen = Some(sound.printed);
                }
            }
            let lines: Vec<_> = entries.iter().map(|stored| line(stored).unwrap()).collect();
            fs::write(path("entries.jsonl"), lines.concat()).unwrap();
            what
        };
        let found = verify_bundle(&bundle, seen).unwrap();
        assert!(!found.is_sound(), "{n}: {what}, careful: {careful}, outside: {outside}");
        fs::write(&signed, &note).unwrap();
        fs::write(path("head"), &head).unwrap();
    }
    fs::write(path("entries.jsonl"), &sound.lines).unwrap();
    assert!(verify_bundle(&bundle, None).unwrap().is_sound());
    assert!(read_line(&line(&sound.entries[0]).unwrap()).is_ok());
}

#[test]
fn a_line_that_holds_anything_else_than_an_entry_is_refused() {
    let place = tempfile::tempdir().unwrap();
    let sound = exported(place.path());
    let whole = String::from_utf8(line(&sound.entries[0]).unwrap()).unwrap();
    let refused = |text: &str| read_line(text.as_bytes()).unwrap_err();
    assert!(matches!(refused("[]\n"), LineError::Shape));
    assert!(matches!(refused(whole.trim_end()), LineError::Length));
    for (from, to) in [
        ("\"number\":1", "\"number\":\"1\""),
        ("\"number\":1", "\"numbes\":1"),
        ("\"number\":1", "\"number\":1,\"s\":1"),
        ("{\"body\":\"", "{\"body\":7,\"c\":\""),
        ("\"hash\":\"", "\"hash\":\"g"),
    ] {
        assert!(whole.contains(from), "{from}: {whole}");
        assert!(matches!(refused(&whole.replacen(from, to, 1)), LineError::Shape), "{to}");
    }
    let other = whole.replacen("\"number\":1", "\"number\":2", 1);
    assert!(matches!(refused(&other), LineError::Number { found: 2, header: 1 }));
}

/// What was done to numbers, links and times by one who knows the form is named for what it is.
#[test]
fn what_does_not_follow_is_named_and_what_follows_at_once_is_sound() {
    let place = tempfile::tempdir().unwrap();
    let sound = exported(place.path());
    let bundle = place.path().join("bundle");
    fs::remove_file(bundle.join(format!("heads/{}", sound.printed.number))).unwrap();
    let check = |entries: &[Stored]| {
        let lines: Vec<_> = entries.iter().map(|stored| line(stored).unwrap()).collect();
        fs::write(bundle.join("entries.jsonl"), lines.concat()).unwrap();
        let last = entries.last().unwrap();
        let head = format!("{} {}\n", last.entry.number, last.hash);
        fs::write(bundle.join("head"), head).unwrap();
        verify_bundle(&bundle, None).unwrap()
    };
    let named = |entries: &[Stored], words: &str| {
        let faults: Vec<String> = check(entries).faults.iter().map(ToString::to_string).collect();
        assert!(faults.iter().any(|fault| fault.contains(words)), "{words}: {faults:?}");
    };
    let whole = check(&sound.entries);
    assert!(whole.is_sound() && whole.hint().is_none());
    assert_eq!(whole.entries, sound.entries.len() as u64);
    // Two entries of the same microsecond follow each other.
    let mut at_once = sound.entries.clone();
    let [.., before, last] = &mut at_once[..] else { panic!() };
    last.entry.at = before.entry.at;
    rechained(&mut at_once, 0);
    assert!(check(&at_once).is_sound(), "{:?}", check(&at_once).faults);
    let mut swapped = sound.entries.clone();
    swapped.swap(3, 4);
    named(&swapped, "entry 4: it is missing, and entry 5 comes instead");
    named(&swapped, "entry 6: entry 4 comes in its place");
    let mut loose = sound.entries.clone();
    loose[4] = Stored::new(Entry { previous: None, ..loose[4].entry.clone() });
    rechained(&mut loose, 5);
    named(&loose, "entry 5: it names no entry before it");
    let mut begun_before = sound.entries.clone();
    let previous = Some(begun_before[7].hash);
    begun_before[0] = Stored::new(Entry { previous, ..begun_before[0].entry.clone() });
    rechained(&mut begun_before, 1);
    named(&begun_before, "entry 1: it names an entry before it, and it is the first");
}
