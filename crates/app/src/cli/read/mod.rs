//! `read`: measure one file, with no book.

mod trace;

use clap::{Args, Subcommand};

use crate::output::Output;
use crate::problem::{Exit, Problem};

/// Measures one file, with no book
#[derive(Args, Debug)]
pub(crate) struct Read {
    #[command(subcommand)]
    what: What,
}

#[derive(Subcommand, Debug)]
enum What {
    Trace(trace::ReadTrace),
}

impl Read {
    /// Runs the command.
    pub(crate) fn run(&self, output: &mut Output) -> Result<Exit, Problem> {
        match &self.what {
            What::Trace(command) => command.run(output),
        }
    }
}
