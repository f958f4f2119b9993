//! `completions`: what a shell needs to complete a command line.

use clap::{Args, CommandFactory as _};
use clap_complete::Shell;

use crate::output::Output;
use crate::problem::{Exit, Problem};

/// Writes the completions for a shell
///
/// Examples:
///   cinderbook completions bash > ~/.local/share/bash-completion/completions/cinderbook
///   cinderbook completions fish > ~/.config/fish/completions/cinderbook.fish
#[derive(Args, Debug)]
#[command(verbatim_doc_comment)]
pub(crate) struct Completions {
    /// The shell
    #[arg(value_name = "SHELL")]
    shell: Shell,
}

impl Completions {
    /// Runs the command.
    pub(crate) fn run(&self, output: &mut Output) -> Result<Exit, Problem> {
        let mut script = Vec::new();
        clap_complete::generate(self.shell, &mut super::Cli::command(), "cinderbook", &mut script);
        output.value(&String::from_utf8_lossy(&script));
        Ok(Exit::Good)
    }
}
