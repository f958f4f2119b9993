//! How long checks and copies of a record take. Each prints one line of JSON with `seconds`.
//!
//! - `record_speed verify BOOK`: every entry, every evidence file, every verdict
//! - `record_speed copies BOOK FOLDER`: a backup, put back as a book, both below FOLDER
//! - `record_speed scrub FOLDER GIGABYTES`: so much evidence read again; it is made below FOLDER
//! - `record_speed photographs BOOK KILOBYTES`: times nothing; gives each specimen that was tested a
//!   photograph of its own

#![expect(clippy::disallowed_methods, reason = "a benchmark reads the clock")]
#![expect(clippy::print_stdout, reason = "a benchmark prints its figures")]

use std::collections::BTreeMap;
use std::error::Error;
use std::io::{self, Read};
use std::path::Path;
use std::time::Instant;

use ledger::hash::BlobHash;
use ledger::scrub::scrub;
use ledger::{Book, restore, verify};
use trial::fact::{EvidenceKind, Fact};

/// Evidence for the scrub is filed as films of so many bytes.
const FILM_BYTES: u64 = 64 << 20;

fn main() -> Result<(), Box<dyn Error>> {
    let arguments: Vec<String> = std::env::args().skip(1).collect();
    let words: Vec<&str> = arguments.iter().map(String::as_str).collect();
    match words.as_slice() {
        ["verify", book] => checked(Path::new(book)),
        ["copies", book, folder] => copied(Path::new(book), Path::new(folder)),
        ["scrub", folder, gigabytes] => scrubbed(Path::new(folder), gigabytes.parse()?),
        ["photographs", book, kilobytes] => photographed(Path::new(book), kilobytes.parse()?),
        _ => {
            Err("usage: record_speed verify|copies|scrub|photographs …; its head says more".into())
        }
    }
}

fn checked(book: &Path) -> Result<(), Box<dyn Error>> {
    let began = Instant::now();
    let found = verify(book, None)?;
    let seconds = began.elapsed().as_secs_f64();
    if !found.is_sound() {
        return Err(format!("{:?}", found.faults).into());
    }
    let (entries, evidence, verdicts) = (found.entries, found.evidence, found.verdicts);
    println!(
        "{{\"seconds\":{seconds},\"entries\":{entries},\"evidence\":{evidence},\"verdicts\":{verdicts}}}"
    );
    Ok(())
}

fn copied(book: &Path, folder: &Path) -> Result<(), Box<dyn Error>> {
    let (copy, again) = (folder.join("copy"), folder.join("again"));
    let began = Instant::now();
    let copied = Book::open_read_only(book)?.back_up(&copy)?;
    let backup = began.elapsed().as_secs_f64();
    if restore(&copy, &again)? != copied {
        return Err("what was put back is not what was copied".into());
    }
    let (seconds, evidence) = (began.elapsed().as_secs_f64(), copied.evidence);
    println!("{{\"seconds\":{seconds},\"backup\":{backup},\"evidence\":{evidence}}}");
    Ok(())
}

fn scrubbed(folder: &Path, gigabytes: u64) -> Result<(), Box<dyn Error>> {
    let book = Book::create(&folder.join("films"))?;
    let mut named = BTreeMap::new();
    for nth in 1..=gigabytes * 1_000_000_000 / FILM_BYTES {
        let film = book.file_evidence("film", EvidenceKind::Film, &mut noise(nth, FILM_BYTES))?;
        named.insert(BlobHash(film.hash.0), nth);
    }
    let began = Instant::now();
    let read = scrub(&book.evidence_files(), &named, &mut |_| true);
    let seconds = began.elapsed().as_secs_f64();
    if !read.whole || !read.faults.is_empty() {
        return Err(format!("{:?}", read.faults).into());
    }
    println!("{{\"seconds\":{seconds},\"bytes\":{}}}", read.bytes);
    Ok(())
}

fn photographed(folder: &Path, kilobytes: u64) -> Result<(), Box<dyn Error>> {
    let mut book = Book::open(folder)?;
    let history = book.history()?;
    let Some(last) = history.entries().last() else { return Err("this book is empty".into()) };
    for (nth, recorded) in (1..).zip(history.entries()) {
        let Fact::RunRecorded { plan, observed, .. } = &recorded.fact else { continue };
        let (kind, mut bytes) = (EvidenceKind::Photo, noise(nth, kilobytes * 1000));
        let photo = book.file_evidence("before.jpg", kind, &mut bytes)?;
        let fact = Fact::SpecimenPhotographed { plan: *plan, specimen: observed.specimen, photo };
        book.append(last.at, &recorded.who, &fact)?;
    }
    Ok(())
}

/// Made-up bytes, others for each number.
fn noise(number: u64, bytes: u64) -> impl Read {
    io::Cursor::new(number.to_le_bytes()).chain(io::repeat(0x2e)).take(bytes)
}
