//! Appends to a book until it is killed, and prints the number of each acknowledged entry.

use std::error::Error;
use std::io::Write;
use std::path::Path;

use ledger::Book;
use trial::fact::{Calibration, EvidenceKind, Fact};
use trial::moment::Moment;

fn main() -> Result<(), Box<dyn Error>> {
    let folder = std::env::args().nth(1).ok_or("name the folder of a book")?;
    let folder = Path::new(&folder);
    let mut book = Book::open(folder).or_else(|_| Book::create(folder))?;
    let mut out = std::io::stdout().lock();
    loop {
        let number = book.head().map_or(1, |head| head.number + 1);
        let certificate = format!("certificate {number}");
        let evidence = book.file_evidence(
            "certificate.txt",
            EvidenceKind::Certificate,
            &mut certificate.as_bytes(),
        )?;
        let fact = Fact::CalibrationRecorded(Calibration {
            equipment: "TC-07".into(),
            certificate,
            by: "Invented Calibrations".to_owned(),
            on: jiff::civil::date(2025, 11, 3),
            due: jiff::civil::date(2026, 11, 2),
            result: "made up".to_owned(),
            evidence: Some(evidence),
        });
        let at = Moment::from_unix_microseconds(1_772_438_400_000_000 + i64::try_from(number)?)?;
        book.append(at, &"Ana Ruiz".into(), &fact)?;
        writeln!(out, "{number}")?;
        out.flush()?;
    }
}
