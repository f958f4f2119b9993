//! `cinderbook`: the command line, and the wiring of the rooms.

mod book;
mod checked;
mod cli;
mod clock;
mod copied;
mod demo;
mod form;
mod input;
mod output;
mod password;
mod photo;
mod problem;
mod room;
mod rules;
mod step;
mod typeset;
mod web;
mod words;

use std::panic::{self, AssertUnwindSafe};
use std::process::ExitCode;

fn main() -> ExitCode {
    panic::set_hook(Box::new(output::own_a_bug));
    let outcome = panic::catch_unwind(AssertUnwindSafe(|| cli::run(std::env::args_os())));
    // A bug of ours has no exit code of its own: like a fault of the surroundings, it says
    // nothing about the input. The hook has spoken already.
    outcome.unwrap_or(problem::Exit::Surroundings).into()
}
