//! Records that were tampered with at random, by someone careless and by someone careful: all are
//! found, by what stands in the record, by its signed heads, or by a head that left the house.
//!
//! `CINDERBOOK_TAMPERINGS=10000` makes so many; CI makes a few hundred.

use std::env;
use std::fs;
use std::iter;
use std::path::Path;

use ledger::bundle::{line, read_line};
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

/// Fills in numbers, links and hashes anew, as a careful forger would.
fn rechained(entries: &mut [Stored]) {
    for place in 0..entries.len() {
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
                rechained(&mut entries);
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
