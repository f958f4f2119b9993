//! Programs that read a PDF independently of the room that made it.

use std::path::{Path, PathBuf};
use std::process::Command;

/// A file of the tests, written anew. Each test names its own.
pub(crate) fn written(name: &str, bytes: &[u8]) -> PathBuf {
    let path = Path::new(env!("CARGO_TARGET_TMPDIR")).join(name);
    std::fs::write(&path, bytes).unwrap();
    path
}

/// What `program` says, when it is content.
pub(crate) fn run(program: &str, arguments: &[&str]) -> String {
    let output = Command::new(program).args(arguments).output().unwrap_or_else(|error| {
        panic!("{program} cannot be run ({error}); .ci/prepare installs poppler-utils and qpdf")
    });
    let (said, complained) =
        (String::from_utf8_lossy(&output.stdout), String::from_utf8_lossy(&output.stderr));
    assert!(output.status.success(), "{program} {arguments:?}: {said}{complained}");
    said.into_owned()
}

/// A file of the house, such as what `.ci/prepare` puts under `.venv`.
pub(crate) fn house(path: &str) -> String {
    let house = Path::new(env!("CARGO_MANIFEST_DIR")).ancestors().nth(2).unwrap();
    house.join(path).to_str().unwrap().to_owned()
}

/// The words of a PDF, page by page, in the order they stand.
pub(crate) fn pages(pdf: &Path) -> Vec<String> {
    let text = run("pdftotext", &["-layout", pdf.to_str().unwrap(), "-"]);
    let mut pages: Vec<String> = text.split('\u{c}').map(str::to_owned).collect();
    assert_eq!(pages.pop().as_deref(), Some(""), "each page ends with a form feed");
    pages
}

/// `text` with every run of white space as one space, to look for sentences across lines.
pub(crate) fn flowing(text: &str) -> String {
    text.split_whitespace().collect::<Vec<_>>().join(" ")
}

/// The words of a PDF in reading order, as one line.
pub(crate) fn words(pdf: &Path) -> String {
    flowing(&run("pdftotext", &[pdf.to_str().unwrap(), "-"]))
}

/// Left and right edge of each word, in points, with the word.
pub(crate) fn edges(pdf: &Path) -> Vec<(f64, f64, String)> {
    let boxes = run("pdftotext", &["-bbox", pdf.to_str().unwrap(), "-"]);
    let words = boxes.lines().filter_map(|line| {
        let word = line.trim().strip_prefix("<word ")?;
        Some((field(word, "xMin")?, field(word, "xMax")?, word.to_owned()))
    });
    words.collect()
}

fn field(word: &str, name: &str) -> Option<f64> {
    let rest = word.split_once(&format!("{name}=\""))?.1;
    rest.split_once('"')?.0.parse().ok()
}
