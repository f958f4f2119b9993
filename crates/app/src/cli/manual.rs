//! `manual`: the command reference of the manual, made from the commands themselves.

use std::fmt::Write as _;

use clap::{Args, Command, CommandFactory as _};

use crate::output::Output;
use crate::problem::{Exit, Problem};

/// Writes the command reference of the manual
#[derive(Args, Debug)]
pub(crate) struct Manual {}

impl Manual {
    /// Runs the command.
    pub(crate) fn run(&self, output: &mut Output) -> Result<Exit, Problem> {
        let Self {} = self;
        output.value(&reference());
        Ok(Exit::Good)
    }
}

/// The page `docs/manual/commands.md`.
fn reference() -> String {
    let mut page = "# Commands\n\nMade from the program by `cinderbook manual`; a test holds the \
                    two together. What every command takes stands once, under `cinderbook`.\n"
        .to_owned();
    let mut root = super::Cli::command().term_width(96);
    root.build();
    write_section(&mut page, &root, true);
    page
}

fn write_section(page: &mut String, command: &Command, root: bool) {
    let name = command.get_bin_name().unwrap_or(command.get_name()).to_owned();
    let mut shown = command.clone();
    if !root {
        // Said once, at the root.
        for global in ["book", "json", "no_color", "quiet"] {
            if shown.get_arguments().any(|argument| argument.get_id() == global) {
                shown = shown.mut_arg(global, |argument| argument.hide(true));
            }
        }
    }
    let help = shown.render_long_help().to_string();
    let help: Vec<&str> = help.lines().map(str::trim_end).collect();
    let _ = write!(page, "\n## `{name}`\n\n```text\n{}\n```\n", help.join("\n").trim_end());
    for below in command.get_subcommands().filter(|below| !below.is_hide_set()) {
        write_section(page, below, false);
    }
}
