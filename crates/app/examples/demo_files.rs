//! Makes the files of the demo: what two loggers and a camera of a made-up laboratory would have
//! left behind. Nothing in them was measured.
//!
//! ```text
//! cargo run -p cinderbook --example demo_files -- crates/app/src/demo/files
//! ```
//!
//! The same program makes the same bytes, and a test of the demo holds the files to that.
#![expect(clippy::disallowed_methods, clippy::print_stderr, reason = "a program that writes files")]

#[path = "demo_files/photo.rs"]
mod photo;
#[path = "demo_files/determination.rs"]
mod determination;

use std::path::PathBuf;
use std::process::ExitCode;

fn main() -> ExitCode {
    let Some(folder) = std::env::args_os().nth(1).map(PathBuf::from) else {
        eprintln!("usage: demo_files FOLDER");
        return ExitCode::from(2);
    };
    for (name, bytes) in determination::all().into_iter().chain(photo::all()) {
        if let Err(error) = std::fs::write(folder.join(name), bytes) {
            eprintln!("{name}: {error}");
            return ExitCode::from(3);
        }
    }
    ExitCode::SUCCESS
}
