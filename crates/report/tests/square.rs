//! The head of the record as a square, read from the printed page by another program.

use report::content::Content;
use report::pdf::{Attachments, render};

use crate::sample;
use crate::tools::{house, run, words, written};

/// What a telephone reads on all pages, and the pages' words.
fn read(name: &str, content: &Content, shown: &Attachments) -> (String, String) {
    let pdf = written(name, &render(content, shown).unwrap());
    let path = pdf.to_str().unwrap();
    let pages = run("pdfinfo", &[path]);
    let last = pages.lines().find_map(|line| line.strip_prefix("Pages:")).unwrap().trim();
    let page = path.replace(".pdf", "");
    run("pdftoppm", &["-gray", "-r", "150", "-f", "1", "-l", last, path, &page]);
    let (python, script) = (house(".venv/bin/python"), house("tests/python/squares.py"));
    let one = |number: usize| {
        let digits = last.len();
        let page = format!("{page}-{number:0digits$}.pgm");
        run(&python, &[&script, &page])
    };
    let said = (1..=last.parse().unwrap()).map(one).collect();
    (said, words(&pdf))
}

#[test]
fn a_telephone_reads_the_head_as_it_is_printed() {
    let (mut content, shown) = sample::report();
    let root = "5e7c".repeat(16);
    content.record.head_root = Some(root.clone());
    let entries = content.record.head_entry;
    let (said, words) = read("square.pdf", &content, &shown);
    // "QRCode" or "QR Code", as its version has it.
    let said = said.trim().replace(' ', "");
    assert_eq!(said, format!("QRCode{entries}{root}"));
    assert!(words.contains(&format!("{entries} entries")), "{words}");
}

#[test]
fn a_report_from_before_there_were_trees_prints_none() {
    let (content, shown) = sample::report();
    assert_eq!(content.record.head_root, None);
    assert_eq!(read("no-square.pdf", &content, &shown).0, "");
}
