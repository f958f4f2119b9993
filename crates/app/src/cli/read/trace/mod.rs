//! `read trace`: one logger file to a rise time, held against the method's band. No book.

mod options;
mod judged;
mod measured;
mod shown;
mod json;

use std::path::PathBuf;

use clap::Args;
use reading::import::{ImportError, import};

use crate::input;
use crate::output::{Form, Output};
use crate::problem::{Exit, Problem};

use measured::Measured;
use options::WindowOptions;
pub(crate) use options::{AirOptions, FileOptions, SensorOptions};

/// Reads the rise time of the copper block from a logger's file
///
/// Examples:
///   cinderbook read trace logger.csv
///   cinderbook read trace logger.csv --channel "TC 2" --class 1 --budget
///   cinderbook read trace raw.csv --unit mV --type K --junction 23.4
///   cinderbook read trace logger.csv --picture trace.svg
///   zcat logger.csv.gz | cinderbook read trace - --json
///
/// Prints the rise time with its expanded uncertainty, how it stands against the band of the
/// method, and what the file was taken for. Needs no book, and writes nothing but the picture.
///
/// Where a file can be read in two ways, it is not guessed: the error names the option that
/// decides. Exit code 1: no value, or it does not meet; 2: the file cannot be taken.
#[derive(Args, Debug)]
#[command(verbatim_doc_comment)]
pub(crate) struct ReadTrace {
    /// The logger's file; `-` reads standard input
    file: PathBuf,
    #[command(flatten)]
    window: WindowOptions,
    #[command(flatten)]
    in_file: FileOptions,
    #[command(flatten)]
    sensor: SensorOptions,
    /// Show what the uncertainty is made of
    #[arg(long)]
    budget: bool,
    /// Draw the trace, with the window and the crossings, into this file
    #[arg(long, value_name = "FILE.svg")]
    picture: Option<PathBuf>,
}

impl ReadTrace {
    /// Runs the command.
    pub(crate) fn run(&self, output: &mut Output) -> Result<Exit, Problem> {
        let asked = judged::asked(&self.window)?;
        let options = self.in_file.import(&self.sensor)?;
        let (name, file) = input::open(&self.file)?;
        let imported = output.during(&format!("reading {name}"), || import(file, &options));
        let imported = match imported {
            Ok(imported) => imported,
            Err(error) => {
                let problem = not_taken(&name, &error);
                if output.form() == Form::Json {
                    output.json(&json::NotTaken::of(&problem, &error));
                }
                return Ok(output.problem(&problem));
            }
        };
        let measured = Measured::of(name, imported, asked, self)?;
        if let Some(path) = &self.picture {
            output.file(path, measured.picture().svg.as_bytes())?;
        }
        match output.form() {
            Form::Json => output.json(&json::Sheet::of(&measured, self.budget)),
            Form::Text => shown::show(&measured, self.budget, output),
        }
        self.next(&measured, output);
        Ok(measured.exit())
    }

    /// Names the next sensible command.
    fn next(&self, measured: &Measured, output: &Output) {
        if let Some(path) = &self.picture {
            output.word(&format!("The picture is in {}.", path.display()));
        }
        if measured.read.is_ok() && !self.budget {
            output.word("Next: `--budget` shows what the uncertainty is made of.");
        } else if measured.read.is_err() && self.picture.is_none() {
            output.word("Next: `--picture trace.svg` draws the trace.");
        }
    }
}

/// Why the file was not taken, with options spelt as they are typed.
pub(crate) fn not_taken(name: &str, error: &ImportError) -> Problem {
    let text =
        format!("cannot read a trace from `{name}`: {}", options::as_typed(&error.to_string()));
    let problem = if matches!(error, ImportError::Read(_)) {
        Problem::surroundings(text)
    } else {
        Problem::used_wrongly(text)
    };
    let problem = match std::error::Error::source(error) {
        Some(below) => problem.because(below),
        None => problem,
    };
    match error.hint() {
        Some(hint) => problem.hint(options::as_typed(&hint)),
        None => problem,
    }
}
