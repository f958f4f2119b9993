//! The demo: a made-up test, told by the same steps that the commands take.
//!
//! The story has its own calendar, so that it gives the same bytes on every machine. All of it
//! is made up: laboratory, people, part, loggers' files (made by `examples/demo_files.rs`), results.
#![expect(clippy::disallowed_methods, reason = "lays out the files of the story")]

mod bench;
mod morning;
mod story;

use std::fs;
use std::path::{Path, PathBuf};

use ledger::files::{Disk, create_folders};

use crate::output::Output;
use crate::problem::Problem;

pub(crate) use morning::{LABORATORY, found};

/// What the demo has to say at its end.
pub(crate) struct Told {
    /// What was done and where it lies.
    pub(crate) lines: Vec<String>,
    /// A logger's file to try.
    pub(crate) one_file: PathBuf,
}

/// The files of the story, as two loggers and a camera would have left them.
const FILES: [(&str, &[u8]); 7] = [
    ("determination-1.csv", include_bytes!("files/determination-1.csv")),
    ("determination-2.csv", include_bytes!("files/determination-2.csv")),
    ("determination-3.csv", include_bytes!("files/determination-3.csv")),
    ("determination-4.txt", include_bytes!("files/determination-4.txt")),
    ("specimen-1-after.png", include_bytes!("files/specimen-1-after.png")),
    ("specimen-2-after.png", include_bytes!("files/specimen-2-after.png")),
    ("specimen-3-after.png", include_bytes!("files/specimen-3-after.png")),
];

/// Plays the story into `folder`.
pub(crate) fn play(folder: &Path, output: &Output) -> Result<Told, Problem> {
    let files = folder.join("files");
    lay_out(&files).map_err(|error| {
        Problem::surroundings(format!("cannot write to `{}`", files.display()))
            .because(&error)
            .hint("Name a folder that may be written to: `cinderbook demo FOLDER`.")
    })?;
    story::play(folder, &files, output)
}

fn lay_out(files: &Path) -> std::io::Result<()> {
    create_folders(&Disk, files)?;
    FILES.iter().try_for_each(|(name, bytes)| fs::write(files.join(name), bytes))
}
