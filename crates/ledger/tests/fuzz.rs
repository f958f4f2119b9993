//! Arbitrary bytes for the readers of entries and bundles: never a panic, and whatever is read is
//! written with the same bytes.
//!
//! For longer than a moment, and led by the branches that are reached: `tests/fuzz`.

use ledger::bundle::{line, read_line};
use ledger::chain::Entry;
use ledger::entry;
use ledger::hash::TreeHash;
use ledger::note::{Note, SecretKey, TreeHead};

use crate::formats::{ADDED_V1, ENTRIES_V1};

/// Kinds and bodies that were really written.
fn written() -> Vec<(String, Vec<u8>)> {
    let read = |line: &str| read_line(line.as_bytes()).unwrap().entry;
    let lines = ENTRIES_V1.split_inclusive('\n').chain(ADDED_V1.split_inclusive('\n'));
    lines.map(read).map(|read| (read.kind, read.body)).collect()
}

/// Changes `bytes` as the numbers say: a byte replaced, taken away, put in, or a piece doubled.
fn changed(mut bytes: Vec<u8>, changes: &[(u8, u16, u8)]) -> Vec<u8> {
    for (deed, place, value) in changes.iter().take(4) {
        let place = usize::from(*place) % (bytes.len() + 1);
        match deed % 4 {
            0 => bytes.insert(place, *value),
            1 if place < bytes.len() => bytes[place] = *value,
            2 if place < bytes.len() => drop(bytes.remove(place)),
            _ => {
                let end = (place + usize::from(*value)).min(bytes.len());
                let piece = bytes[place..end].to_vec();
                bytes.splice(place..place, piece);
            }
        }
    }
    bytes
}

fn check_body(kind: &str, body: &[u8]) {
    if let Ok(fact) = entry::read(kind, 1, body) {
        let again = entry::write(&fact);
        assert_eq!((again.kind.as_str(), again.body.as_slice()), (kind, body));
    }
}

#[test]
fn fuzz_bodies_of_arbitrary_bytes() {
    let kinds = entry::catalogue();
    bolero::check!().with_type::<(u8, Vec<u8>)>().for_each(|(kind, body)| {
        check_body(kinds[usize::from(*kind) % kinds.len()].0, body);
    });
}

#[test]
fn fuzz_bodies_that_were_written_and_changed() {
    let written = written();
    bolero::check!().with_type::<(u8, Vec<(u8, u16, u8)>)>().for_each(|(which, changes)| {
        let (kind, body) = &written[usize::from(*which) % written.len()];
        check_body(kind, &changed(body.clone(), changes));
    });
}

#[test]
fn fuzz_lines_of_a_bundle() {
    let lines: Vec<&str> = ENTRIES_V1.split_inclusive('\n').collect();
    bolero::check!().with_type::<(u8, Vec<(u8, u16, u8)>)>().for_each(|(which, changes)| {
        let bytes = lines[usize::from(*which) % lines.len()].as_bytes().to_vec();
        let bytes = changed(bytes, changes);
        if let Ok(stored) = read_line(&bytes) {
            assert_eq!(line(&stored).unwrap(), bytes);
        }
    });
}

#[test]
fn fuzz_headers() {
    let headers: Vec<(String, Vec<u8>)> = ENTRIES_V1
        .split_inclusive('\n')
        .map(|line| read_line(line.as_bytes()).unwrap().entry)
        .map(|entry| (entry.header(), entry.body))
        .collect();
    bolero::check!().with_type::<(u8, Vec<(u8, u16, u8)>)>().for_each(|(which, changes)| {
        let (header, body) = &headers[usize::from(*which) % headers.len()];
        let bytes = changed(header.clone().into_bytes(), changes);
        if let Ok(text) = String::from_utf8(bytes)
            && let Ok(entry) = Entry::read(&text, body.clone())
        {
            assert_eq!(entry.header(), text);
        }
    });
}

/// A signed head that was changed is not believed, but with the text that was signed.
#[test]
fn fuzz_signed_heads() {
    let key = SecretKey::of("made-up", &[7; 32]).unwrap();
    let written = key.sign_head(TreeHead { size: 41, root: TreeHash::of(b"made up") });
    let signed = Note::read(&written).unwrap();
    bolero::check!().with_type::<Vec<(u8, u16, u8)>>().for_each(|changes| {
        let bytes = changed(written.clone().into_bytes(), changes);
        let Ok(note) = Note::read(&String::from_utf8_lossy(&bytes)) else { return };
        if note.check(key.public()).is_ok() {
            assert_eq!(note.text(), signed.text());
        }
        if let Ok((book, head)) = note.head() {
            assert!(note.text().starts_with(&format!("{book}\n{}\n", head.size)));
        }
    });
}
