//! A short story of a book, told below one folder: `short_story FOLDER` makes a book, files evidence,
//! adds entries, copies the book, restores the copy and writes the record out. It says what is kept
//! as soon as it is, and ends at the first error with its words and exit code 3. All made up.

#![expect(clippy::print_stdout, clippy::print_stderr, reason = "an example says what it did")]

use std::error::Error;
use std::path::Path;
use std::process::ExitCode;

use ledger::{Book, LedgerError, restore};
use trial::fact::{
    BookKind, Calibration, CalibrationNeed, Equipment, EquipmentKind, EvidenceKind, Fact,
    Laboratory,
};
use trial::moment::Moment;

/// Calibrations that are recorded, each with a certificate of its own.
const CALIBRATIONS: u64 = 4;

fn main() -> ExitCode {
    let Some(folder) = std::env::args().nth(1) else {
        eprintln!("usage: short_story FOLDER");
        return ExitCode::from(2);
    };
    match told(Path::new(&folder)) {
        Ok(()) => ExitCode::SUCCESS,
        Err(error) => {
            eprintln!("error: {error}");
            let mut cause = error.source();
            while let Some(below) = cause {
                eprintln!("  cause: {below}");
                cause = below.source();
            }
            ExitCode::from(3)
        }
    }
}

fn told(folder: &Path) -> Result<(), LedgerError> {
    let place = folder.join("book");
    let mut book = Book::create(&place)?;
    said(&mut book, &opened())?;
    said(&mut book, &thermocouple())?;
    for number in 1..=CALIBRATIONS {
        let certificate = format!("certificate {number}, {}", "made up ".repeat(200));
        let (name, kind) = ("certificate.txt", EvidenceKind::Certificate);
        let evidence = if number % 2 == 0 {
            book.file_evidence(name, kind, &mut certificate.as_bytes())?
        } else {
            let mut incoming = book.incoming()?;
            for piece in certificate.as_bytes().chunks(700) {
                incoming.write(piece)?;
            }
            incoming.file(name, kind)?
        };
        said(&mut book, &calibrated(number, evidence))?;
    }
    book.back_up(&folder.join("copy"))?;
    println!("copy");
    book.export(&folder.join("bundle"))?;
    println!("bundle");
    drop(book);
    restore(&folder.join("copy"), &folder.join("again"))?;
    println!("again");
    // A book that was closed is opened and goes on.
    let mut book = Book::open(&place)?;
    let certificate = &mut &b"one more certificate, made up"[..];
    let evidence = book.file_evidence("more.txt", EvidenceKind::Certificate, certificate)?;
    said(&mut book, &calibrated(CALIBRATIONS + 1, evidence))
}

/// Adds an entry and says that it is kept.
fn said(book: &mut Book, fact: &Fact) -> Result<(), LedgerError> {
    let number = book.head().map_or(1, |head| head.number + 1);
    let at = i64::try_from(number).unwrap_or(i64::MAX);
    let at = Moment::from_unix_microseconds(1_772_438_400_000_000 + at)
        .unwrap_or_else(|_| unreachable!("the moment lies in 2026"));
    book.append(at, &"Ana Ruiz".into(), fact)?;
    if let Some(head) = book.head() {
        println!("kept {head}");
    }
    Ok(())
}

fn opened() -> Fact {
    let laboratory = Laboratory {
        name: "Invented Fire Laboratory".to_owned(),
        address: "1 Example Road, Nowhere".to_owned(),
        place: "ground floor".to_owned(),
    };
    Fact::BookOpened { laboratory, kind: BookKind::MadeUp }
}

fn thermocouple() -> Fact {
    Fact::EquipmentRegistered(Equipment {
        number: "TC-07".into(),
        kind: EquipmentKind::Thermocouple,
        description: "invented".to_owned(),
        calibration: CalibrationNeed::Needed,
    })
}

fn calibrated(number: u64, evidence: trial::fact::Evidence) -> Fact {
    Fact::CalibrationRecorded(Calibration {
        equipment: "TC-07".into(),
        certificate: format!("K-{number}"),
        by: "Invented Calibrations".to_owned(),
        on: jiff::civil::date(2025, 11, 3),
        due: jiff::civil::date(2026, 11, 2),
        result: "made up".to_owned(),
        evidence: Some(evidence),
    })
}
