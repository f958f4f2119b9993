//! Bytes from outside: a file named on the command line, or standard input.
#![expect(clippy::disallowed_methods, reason = "the command line is handed files to read")]

use std::fs::{self, File};
use std::io::{self, ErrorKind, Read};
use std::path::Path;

use crate::problem::Problem;

/// Opens `path`, or standard input when it is `-`, to be read as it comes; with the name it goes by.
///
/// # Errors
///
/// When it is not there, is no file, or may not be read.
pub(crate) fn open(path: &Path) -> Result<(String, Box<dyn Read + Send>), Problem> {
    if path.as_os_str() == "-" {
        return Ok(("standard input".to_owned(), Box::new(io::stdin())));
    }
    let name = path.display().to_string();
    let about = fs::metadata(path).map_err(|error| cannot_read(&name, &error))?;
    if about.is_dir() {
        return Err(Problem::used_wrongly(format!("`{name}` is a folder, not a file"))
            .hint("Name one file in it."));
    }
    let file = File::open(path).map_err(|error| cannot_read(&name, &error))?;
    Ok((name, Box::new(file)))
}

/// The most bytes of a form.
const FORM_BYTES: u64 = 1_000_000;

/// The most bytes of a file that is filed as evidence as a whole.
const EVIDENCE_BYTES: u64 = 100_000_000;

/// Reads a text of at most 1 MB, such as a form.
///
/// # Errors
///
/// As [`open`], and when it is longer, or is not UTF-8.
pub(crate) fn text(path: &Path) -> Result<String, Problem> {
    let (name, bytes) = whole(path, FORM_BYTES)?;
    let bytes = bytes.ok_or_else(|| {
        Problem::used_wrongly(format!("`{name}` is longer than 1 MB, so it is no form"))
            .hint("Name the form that was filled in.")
    })?;
    String::from_utf8(bytes).map_err(|_| {
        Problem::used_wrongly(format!("`{name}` is not UTF-8 text")).hint("Save it as UTF-8 text.")
    })
}

/// Reads a file of at most 100 MB that is to be kept, with the name it goes by.
///
/// # Errors
///
/// As [`open`], and when it is longer.
pub(crate) fn evidence(path: &Path) -> Result<(String, Vec<u8>), Problem> {
    let (name, bytes) = whole(path, EVIDENCE_BYTES)?;
    let bytes = bytes.ok_or_else(|| {
        Problem::used_wrongly(format!("`{name}` is longer than 100 MB"))
            .hint("Cut out the part that belongs to this test, and name that.")
    })?;
    Ok((name, bytes))
}

/// All bytes of a file; none where there are more than `limit`.
fn whole(path: &Path, limit: u64) -> Result<(String, Option<Vec<u8>>), Problem> {
    let (name, source) = open(path)?;
    let mut bytes = Vec::new();
    let read = source.take(limit + 1).read_to_end(&mut bytes);
    read.map_err(|error| cannot_read(&name, &error))?;
    let fits = bytes.len() as u64 <= limit;
    Ok((name, fits.then_some(bytes)))
}

fn cannot_read(name: &str, error: &io::Error) -> Problem {
    #[expect(clippy::wildcard_enum_match_arm, reason = "the kinds of I/O errors are an open list")]
    match error.kind() {
        ErrorKind::NotFound | ErrorKind::NotADirectory => {
            Problem::used_wrongly(format!("there is no file `{name}`"))
                .hint("Check the name and the folder; `-` reads standard input.")
        }
        ErrorKind::PermissionDenied => {
            Problem::surroundings(format!("`{name}` may not be read by this account"))
                .because(error)
                .hint("Ask its owner for the right to read it, or copy it.")
        }
        _ => Problem::surroundings(format!("cannot read `{name}`"))
            .because(error)
            .hint("Copy the file to this machine's own disk and read the copy."),
    }
}
