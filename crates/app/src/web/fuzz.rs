//! Arbitrary bytes for each reader of what comes from outside: never a panic, and what is read holds.
//!
//! Each begins with the inputs that are kept in `tests/corpus`, as they are and with some bytes
//! changed, and goes on with bytes of any kind. For longer than a moment, and led by the branches that
//! are reached: `tests/fuzz`; what was found is kept there.
#![expect(clippy::disallowed_methods, reason = "the inputs that are kept lie in files")]

use std::io::Cursor;
use std::path::Path;

use acquisition::SourceSettings;
use bolero::check;
use rustls::pki_types::pem::PemObject as _;
use rustls::pki_types::{CertificateDer, PrivateKeyDer};
use trial::number::PlanNumber;

use super::certificate::Certificate;
use super::{film, kind, picture};
use crate::form::{self, number};
use crate::photo::without_place;

/// Changes to an input: what to do, where, and a byte.
pub(super) type Changes = Vec<(u8, u16, u8)>;

/// The inputs that are kept for a reader.
pub(super) fn corpus(reader: &str) -> Vec<Vec<u8>> {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/corpus").join(reader);
    let mut names: Vec<_> =
        std::fs::read_dir(folder).unwrap().map(|entry| entry.unwrap().path()).collect();
    names.sort();
    assert!(!names.is_empty(), "no input is kept for {reader}");
    names.iter().map(|path| std::fs::read(path).unwrap()).collect()
}

/// One of the inputs with a byte replaced, taken away or put in, a piece doubled, or its end cut.
pub(super) fn changed(inputs: &[Vec<u8>], which: u8, changes: &Changes) -> Vec<u8> {
    let mut bytes = inputs[usize::from(which) % inputs.len()].clone();
    for (deed, place, value) in changes.iter().take(6) {
        let place = usize::from(*place) % (bytes.len() + 1);
        match deed % 5 {
            0 => bytes.insert(place, *value),
            1 if place < bytes.len() => bytes[place] = *value,
            2 if place < bytes.len() => drop(bytes.remove(place)),
            3 => bytes.truncate(place),
            _ => {
                let end = (place + usize::from(*value)).min(bytes.len());
                let piece = bytes[place..end].to_vec();
                bytes.splice(place..place, piece);
            }
        }
    }
    bytes
}

/// Three tests of one reader: its inputs as they are, changed, and bytes of any kind.
macro_rules! fuzz {
    ($reader:ident, $check:expr) => {
        mod $reader {
            use super::*;

            #[test]
            fn fuzz_inputs_that_are_kept() {
                corpus(stringify!($reader)).iter().for_each(|bytes| $check(bytes));
            }

            #[test]
            fn fuzz_inputs_that_were_changed() {
                let inputs = corpus(stringify!($reader));
                check!().with_type::<(u8, Changes)>().for_each(|(which, changes)| {
                    $check(&changed(&inputs, *which, changes));
                });
            }

            #[test]
            fn fuzz_any_bytes() {
                check!().for_each(|bytes: &[u8]| $check(bytes));
            }
        }
    };
}

fuzz!(pictures, |bytes: &[u8]| {
    for name in ["a.jpg", "a.png", "a.webp"] {
        assert!(
            picture::fit(name, bytes).is_err_and(|why| !why.is_empty())
                || picture::head(bytes).is_some()
        );
    }
    let shown = without_place(bytes.to_vec());
    assert!(shown.len() <= bytes.len() + 36, "a copy does not grow");
    assert_eq!(picture::head(&shown).map(|it| it.kind), picture::head(bytes).map(|it| it.kind));
    assert_eq!(without_place(shown.clone()), shown);
});

fuzz!(films, |bytes: &[u8]| {
    let Some(kind) = film::kind(bytes) else { return };
    let seen = film::look(Cursor::new(bytes), kind).unwrap();
    let told = [seen.seconds, seen.frame_seconds, seen.sound_begins_seconds];
    assert!(told.into_iter().flatten().all(|it| it.is_finite() && it >= 0.0), "{seen:?}");
});

fuzz!(kinds, |bytes: &[u8]| {
    for name in ["a.pdf", "a.csv", "a.mp4", "a"] {
        for sent in [None, Some("image/png"), Some("video/mp4"), Some("text/csv")] {
            let told = kind::named_as(name, bytes).and_then(|()| kind::sent_as(name, sent, bytes));
            assert!(told.err().is_none_or(|why| why.len() < 200));
        }
    }
});

fuzz!(certificates, |bytes: &[u8]| {
    drop(Certificate::read(bytes));
    for one in CertificateDer::pem_slice_iter(bytes).flatten() {
        drop(Certificate::read(&one));
    }
    drop(PrivateKeyDer::from_pem_slice(bytes));
});

fuzz!(numbers, |bytes: &[u8]| {
    let Ok(text) = str::from_utf8(bytes) else { return };
    let kinds =
        [number::SECONDS, number::CELSIUS, number::PERCENT, number::MILLIMETRES, number::GRAMS];
    for kind in kinds {
        match number::read(text, &kind) {
            Ok(read) => {
                let millionths = read.millionths;
                assert!((kind.least * 1_000_000..=kind.most * 1_000_000).contains(&millionths));
                // What we write reads as what it was, with all the decimals that are kept.
                let written = read.to_string();
                let decimals = written.split_once('.').map_or(0, |(_, part)| part.len());
                let zeros = if decimals == 0 { 0 } else { 6 - decimals };
                let written = format!("{written}{} {}", "0".repeat(zeros), kind.unit);
                let again = number::read(&written, &kind).map(|again| again.millionths);
                assert_eq!(again, Ok(millionths), "{text}");
            }
            Err(fault) => assert!(!fault.words("How long", text, &kind).is_empty()),
        }
    }
});

fuzz!(plans, |bytes: &[u8]| {
    let Ok(text) = str::from_utf8(bytes) else { return };
    match form::of_text::<form::plan::PlanForm>(text, "plan.toml", "plan template") {
        Ok(plan) => drop(plan.draft(PlanNumber(1))),
        Err(problem) => assert!(problem.text.starts_with("plan.toml:"), "{}", problem.text),
    }
});

fuzz!(runs, |bytes: &[u8]| {
    let Ok(text) = str::from_utf8(bytes) else { return };
    match form::of_text::<form::run::RunForm>(text, "run.toml", "run template") {
        Ok(run) => drop(run),
        Err(problem) => assert!(problem.text.starts_with("run.toml:"), "{}", problem.text),
    }
});

fuzz!(settings, |bytes: &[u8]| {
    let Ok(text) = str::from_utf8(bytes) else { return };
    if let Err(error) = SourceSettings::from_toml(text) {
        assert!(!error.to_string().is_empty());
    }
});
