//! The commands: what may be typed, and who answers.

mod about;
mod care;
mod chart;
mod around;
mod base_line;
mod check;
mod completions;
mod confirm;
mod copies;
mod demo;
mod equipment;
pub(crate) mod judge;
mod key;
mod manual;
mod new;
mod people;
mod plan;
pub(crate) mod read;
mod ready;
mod record;
pub(crate) mod report;
mod review;
mod run;
mod selfcheck;
mod serve;
mod sign;
mod standards;
mod usage;
mod verify;
mod why;

use std::ffi::OsString;
use std::path::PathBuf;

use clap::{Args, Parser, Subcommand};
use serde::Serialize;

use crate::output::{Chatter, Colour, Form, Output};
use crate::problem::{Exit, Problem};

/// Carries a fire-hazard laboratory through the needle-flame test, from plan to report
///
/// Examples:
///   cinderbook demo                         walk a made-up test from plan to report
///   cinderbook read trace logger.csv        measure one logger file; needs no book
///   cinderbook check                        see whether this machine is ready
///
/// Values go to standard output, words to standard error. Exit codes: 0 good; 1 a finding
/// (does not check, does not meet, no value); 2 used wrongly; 3 a fault of the surroundings.
#[derive(Parser, Debug)]
#[command(
    name = "cinderbook",
    version,
    verbatim_doc_comment,
    after_help = "Start with `cinderbook read trace logger.csv`, or with `cinderbook check`.",
    disable_help_subcommand = true,
    subcommand_required = true,
    arg_required_else_help = true
)]
pub(crate) struct Cli {
    #[command(flatten)]
    global: Global,
    #[command(subcommand)]
    command: Command,
}

/// What every command takes.
#[derive(Args, Debug)]
pub(crate) struct Global {
    /// The folder that holds the book, or its database, `postgres://ROLE@HOST/DATABASE`
    #[arg(
        long,
        global = true,
        env = "CINDERBOOK_BOOK",
        value_name = "BOOK",
        hide_env_values = true
    )]
    pub(crate) book: Option<PathBuf>,
    /// Who does this: a person admitted to the book
    #[arg(long = "as", global = true, env = "CINDERBOOK_PERSON", value_name = "NAME")]
    pub(crate) person: Option<String>,
    /// Write values as one JSON object
    #[arg(long, global = true)]
    pub(crate) json: bool,
    /// Write words without colour, as with `NO_COLOR=1`
    #[arg(long, global = true)]
    pub(crate) no_color: bool,
    /// Say errors only: no notes, no progress
    #[arg(long, short, global = true)]
    pub(crate) quiet: bool,
}

impl Global {
    pub(crate) fn door(&self) -> Output {
        Output::new(
            if self.quiet { Chatter::ErrorsOnly } else { Chatter::Full },
            if self.json { Form::Json } else { Form::Text },
            if self.no_color { Colour::Never } else { Colour::WhereSeen },
        )
    }
}

#[derive(Subcommand, Debug)]
enum Command {
    Demo(demo::Demo),
    New(new::New),
    Read(Box<read::Read>),
    Plan(plan::Plan),
    Ready(ready::Ready),
    Confirm(Box<confirm::Confirm>),
    Run(run::Run),
    Judge(judge::Judge),
    Review(review::Review),
    Sign(sign::Sign),
    Report(report::Report),
    Record(record::Record),
    Key(key::Key),
    Export(copies::Export),
    Verify(verify::Verify),
    Backup(copies::Backup),
    Restore(copies::Restore),
    Equipment(Box<equipment::Equipment>),
    Chart(chart::Chart),
    Care(care::Care),
    People(people::People),
    Serve(serve::Serve),
    Around(around::Around),
    Check(check::Check),
    Standards(standards::Standards),
    Selfcheck(selfcheck::Selfcheck),
    About(about::About),
    Completions(completions::Completions),
    #[command(hide = true)]
    Manual(manual::Manual),
}

/// Runs the command that `arguments` ask for, and says how it ended.
pub(crate) fn run(arguments: impl Iterator<Item = OsString>) -> Exit {
    let arguments: Vec<OsString> = arguments.collect();
    let cli = match Cli::try_parse_from(&arguments) {
        Ok(cli) => cli,
        Err(error) => return usage::answer(&error, &arguments),
    };
    let mut output = cli.global.door();
    let done = match &cli.command {
        Command::Demo(command) => command.run(&mut output),
        Command::New(command) => command.run(&output),
        Command::Read(command) => command.run(&mut output),
        Command::Plan(command) => command.run(&cli.global, &mut output),
        Command::Ready(command) => command.run(&cli.global, &mut output),
        Command::Confirm(command) => command.run(&cli.global, &mut output),
        Command::Run(command) => command.run(&cli.global, &mut output),
        Command::Judge(command) => command.run(&cli.global, &mut output),
        Command::Review(command) => command.run(&cli.global, &mut output),
        Command::Sign(command) => command.run(&cli.global, &mut output),
        Command::Report(command) => command.run(&cli.global, &mut output),
        Command::Record(command) => command.run(&cli.global, &mut output),
        Command::Key(command) => command.run(&cli.global, &mut output),
        Command::Export(command) => command.run(&cli.global, &mut output),
        Command::Verify(command) => command.run(&mut output),
        Command::Backup(command) => command.run(&cli.global, &mut output),
        Command::Restore(command) => command.run(&mut output),
        Command::Equipment(command) => command.run(&cli.global, &mut output),
        Command::Chart(command) => command.run(&cli.global, &mut output),
        Command::Care(command) => command.run(&cli.global, &mut output),
        Command::People(command) => command.run(&cli.global, &mut output),
        Command::Around(command) => command.run(&mut output),
        Command::Serve(command) => command.run(&cli.global),
        Command::Check(command) => command.run(&cli.global, &mut output),
        Command::Standards(command) => command.run(&cli.global, &mut output),
        Command::Selfcheck(command) => command.run(&cli.global, &mut output),
        Command::About(command) => command.run(&mut output),
        Command::Completions(command) => command.run(&mut output),
        Command::Manual(command) => command.run(&mut output),
    };
    let exit = match done {
        Ok(exit) => exit,
        Err(problem) => tell(&mut output, &problem),
    };
    output.end(exit)
}

/// What stands on standard output in place of a value.
#[derive(Serialize)]
struct Refused<'a> {
    error: &'a Problem,
}

/// Says a problem in words, and as a JSON object where values are JSON.
fn tell(output: &mut Output, problem: &Problem) -> Exit {
    if output.form() == Form::Json {
        output.json(&Refused { error: problem });
    }
    output.problem(problem)
}
