//! The files beside the record that hold all that sources told, whether it was used or not.

use std::fs::File;
use std::io::{BufWriter, ErrorKind};
use std::path::Path;

use ledger::files::{Disk, create_folders};
use trial::moment::Moment;

use crate::problem::Problem;

/// The folder in a book's folder.
pub(in crate::web) const FOLDER: &str = "recordings";

/// Begins a recording in the book's folder; its name tells when it was begun.
///
/// # Errors
///
/// As the disk says.
pub(super) fn begin(book: &Path, at: Moment) -> Result<(String, BufWriter<File>), Problem> {
    let folder = book.join(FOLDER);
    let cannot = |error: &std::io::Error| {
        Problem::surroundings(format!("cannot write into `{}`", folder.display()))
            .because(error)
            .hint("Check that the book's folder may be written to and has room.")
    };
    create_folders(&Disk, &folder).map_err(|error| cannot(&error))?;
    let moment = at.to_string().replace(':', "-");
    for nth in 1..1000 {
        let name = format!("{moment}-{nth}.csv");
        match File::create_new(folder.join(&name)) {
            Ok(file) => return Ok((format!("{FOLDER}/{name}"), BufWriter::new(file))),
            Err(error) if error.kind() == ErrorKind::AlreadyExists => {}
            Err(error) => return Err(cannot(&error)),
        }
    }
    Err(Problem::surroundings("a thousand recordings began at one moment")
        .hint("Set this machine's clock."))
}
