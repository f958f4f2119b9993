//! Golden files: the JSON and CSV as text, the PDF as a checksum with its pages to look at.

use std::path::Path;

use report::csv::Reader;
use report::pdf::render;

use crate::sample;
use crate::tools::{run, written};

/// Holds `found` against the file `name`; where they differ, says where the new text lies.
fn check(name: &str, found: &str) {
    let golden = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/golden").join(name);
    let expected = std::fs::read_to_string(&golden).unwrap_or_default();
    if found != expected {
        let new = written(name, found.as_bytes());
        let line = found.lines().zip(expected.lines()).position(|(new, old)| new != old);
        panic!(
            "{name} has moved from line {}; the new text is {}: compare, then copy it to {}",
            line.unwrap_or(0) + 1,
            new.display(),
            golden.display()
        );
    }
}

#[test]
fn the_json_stays_as_it_is() {
    check("report.json", &report::json::write(&sample::report().0).unwrap());
}

#[test]
fn the_csv_stays_as_it_is() {
    let (content, _) = sample::report();
    check("report.csv", &report::csv::write(&content, Reader::Program));
    check("report-spreadsheet.csv", &report::csv::write(&content, Reader::Spreadsheet));
}

#[test]
fn the_pictures_stay_as_they_are() {
    let (content, attachments) = sample::report();
    let language = content.in_language();
    let curves =
        report::chart::confirmation(&content.confirmations[0], &attachments.curves, language)
            .unwrap();
    check("curves.svg", &curves.svg);
    check(
        "determinations.svg",
        &report::chart::determinations(&content.confirmations[0], language).unwrap().svg,
    );
    check("strip.svg", &report::chart::strip(&content.specimens, language).svg);
}

#[test]
fn the_pages_stay_as_they_are() {
    let (content, attachments) = sample::report();
    let pdf = render(&content, &attachments).unwrap();
    let found = format!("{} bytes, CRC-32 {:08x}\n", pdf.len(), sample::crc(&pdf));
    let golden = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/golden/report.pdf.txt");
    if std::fs::read_to_string(golden).unwrap_or_default() != found {
        let file = written("moved.pdf", &pdf);
        let stem = file.with_extension("");
        run("pdftoppm", &["-r", "80", "-png", file.to_str().unwrap(), stem.to_str().unwrap()]);
        check("report.pdf.txt", &found);
    }
}
