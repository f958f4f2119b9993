//! Records written by released versions, kept for ever: they read back the same, and what they
//! say is written with the same bytes.

use std::collections::BTreeSet;
use std::fs;
use std::path::{Path, PathBuf};

use ledger::bundle::read_line;
use ledger::{Book, entry, verify, verify_bundle};

use crate::copies::contents;
use crate::story::{admitted, minute};

/// The entries of version 1, one a line.
pub(crate) const ENTRIES_V1: &str = include_str!("formats/v1/bundle/entries.jsonl");

/// Entries of kinds that came to version 1 later, one a line.
pub(crate) const ADDED_V1: &str = include_str!("formats/v1/added.jsonl");

fn v1(name: &str) -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/formats/v1").join(name)
}

/// A copy to work on: the kept one is never written to.
fn copy_of_book_v1(to: &Path) {
    for (name, bytes) in contents(&v1("book")) {
        let path = to.join(name);
        fs::create_dir_all(path.parent().unwrap()).unwrap();
        fs::write(path, bytes).unwrap();
    }
}

#[test]
fn a_book_of_version_1_opens_verifies_and_takes_entries() {
    let place = tempfile::tempdir().unwrap();
    let folder = place.path().join("book");
    copy_of_book_v1(&folder);
    let verification = verify(&folder, None).unwrap();
    assert!(verification.is_sound(), "{:?}", verification.faults);
    assert_eq!(verification.verdicts, 2);
    let mut book = Book::open(&folder).unwrap();
    assert!(book.history().unwrap().made_up());
    book.append(minute(1000), &"Ana Ruiz".into(), &admitted(1)).unwrap();
    drop(book);
    assert!(verify(&folder, verification.head).unwrap().is_sound());
}

#[test]
fn a_book_of_version_1_is_exported_with_the_same_bytes() {
    let place = tempfile::tempdir().unwrap();
    let (folder, bundle) = (place.path().join("book"), place.path().join("bundle"));
    copy_of_book_v1(&folder);
    Book::open_read_only(&folder).unwrap().export(&bundle).unwrap();
    let text = |files: Vec<(String, Vec<u8>)>| -> Vec<(String, String)> {
        files.into_iter().map(|(name, bytes)| (name, String::from_utf8(bytes).unwrap())).collect()
    };
    assert_eq!(text(contents(&bundle)), text(contents(&v1("bundle"))));
    assert!(verify_bundle(&v1("bundle"), None).unwrap().is_sound());
}

#[test]
fn every_kind_of_entry_of_version_1_is_written_with_the_same_bytes() {
    let mut kinds = BTreeSet::new();
    for line in ENTRIES_V1.split_inclusive('\n').chain(ADDED_V1.split_inclusive('\n')) {
        let stored = read_line(line.as_bytes()).unwrap();
        let read = stored.entry;
        let fact = entry::read(&read.kind, read.form, &read.body).unwrap();
        assert_eq!(fact.kind(), read.kind);
        let written = entry::write(&fact);
        assert_eq!((written.kind, written.form), (read.kind.clone(), 1));
        assert_eq!(String::from_utf8(written.body).unwrap(), String::from_utf8(read.body).unwrap());
        kinds.insert(read.kind);
    }
    let catalogue: BTreeSet<String> =
        entry::catalogue().into_iter().map(|(kind, _)| kind.to_owned()).collect();
    assert_eq!(kinds, catalogue, "each kind has a line that is kept");
}

/// Found by arbitrary changes of what was written: `07.11 s` and `.3 mm` were read.
#[test]
fn another_spelling_of_a_quantity_or_a_date_is_refused() {
    let conditioned = |from: &str, lowest: &str| {
        format!(
            "{{\"from\":\"{from}\",\"humidity\":{{\"from\":\"0.48 1\",\"to\":\"0.5 1\"}},\"plan\":1,\
             \"temperature\":{{\"from\":\"{lowest}\",\"to\":\"23.9 °C\"}},\
             \"until\":\"2026-03-02T07:30:00Z\",\"what\":\"layer\"}}"
        )
    };
    let read = |body: String| entry::read("conditioning-recorded", 1, body.as_bytes());
    let (morning, lowest) = ("2026-02-27T06:00:00Z", "22.4 °C");
    assert!(read(conditioned(morning, lowest)).is_ok());
    for other in ["022.4 °C", "22.40 °C", "+22.4 °C", "2.24e1 °C"] {
        let refused = read(conditioned(morning, other)).unwrap_err();
        assert_eq!(refused.to_string(), "it is not spelled as it is written here", "{other}");
    }
    for other in ["2026-02-27T06:00:00.0Z", "2026-02-27T07:00:00+01:00", "2026-02-27 06:00:00Z"] {
        assert!(read(conditioned(other, lowest)).is_err(), "{other}");
    }
}

#[test]
fn an_entry_of_tomorrow_is_refused_with_words() {
    let refused = entry::read("book-opened", 2, b"{}").unwrap_err();
    assert_eq!(refused.to_string(), "it is written in form 2; this program knows forms up to 1");
}

#[test]
fn the_page_of_entries_is_up_to_date() {
    let page = Path::new(env!("CARGO_MANIFEST_DIR")).join("../../docs/manual/entries.md");
    let kept = fs::read_to_string(&page).unwrap();
    assert_eq!(
        kept,
        entry::manual_page(),
        "run `cargo run -p ledger --example write_entries_page`"
    );
}
