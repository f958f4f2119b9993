//! `demo`: a made-up test from plan to issued report.

use std::path::{Path, PathBuf};

use clap::Args;

use crate::demo;
use crate::output::Output;
use crate::problem::{Exit, Problem};

/// Walks a made-up laboratory's test from plan to issued report, on recorded files
///
/// Example:
///   cinderbook demo                         makes the folder cinderbook-demo
///
/// Everything in it is made up and marked so: laboratory, part, files and results.
#[derive(Args, Debug)]
#[command(verbatim_doc_comment)]
pub(crate) struct Demo {
    /// The folder to make [default: cinderbook-demo, or the next free name]
    folder: Option<PathBuf>,
}

impl Demo {
    /// Runs the command.
    pub(crate) fn run(&self, output: &mut Output) -> Result<Exit, Problem> {
        let folder = self.folder.clone().unwrap_or_else(next_free);
        let told = demo::play(&folder, output)?;
        for line in told.lines {
            output.value(&line);
        }
        let (shown, file) = (folder.display(), told.one_file.display().to_string());
        output.word(&format!("Next: open the report, then try\n  cinderbook read trace {file} --channel Block --class 1\n  cinderbook verify {shown}/book"));
        Ok(Exit::Good)
    }
}

/// `cinderbook-demo`, or with the first number that is free.
fn next_free() -> PathBuf {
    let mut names = (1..).map(|number: u32| match number {
        1 => "cinderbook-demo".to_owned(),
        _ => format!("cinderbook-demo-{number}"),
    });
    names.find(|name| !Path::new(name).exists()).unwrap_or_default().into()
}
