//! `confirm`: is the flame right?

use std::path::PathBuf;

use clap::{Args, Subcommand};
use metrology::{DegreesOfFreedom, Duration, Length, Measurement, Temperature};
use trial::fact::Fact;
use trial::number::{DeterminationNumber, PersonName, PlanNumber};

use super::Global;
use super::base_line::ShowBaseLine;
use super::why::{BudgetOf, Why};
use crate::book::OpenBook;
use crate::form::written::Written;
use crate::output::Output;
use crate::problem::{Exit, Problem};
use crate::step::confirm::{Heating, determination, flame, typed};

/// Confirms the flame with the copper block
///
/// Examples:
///   cinderbook confirm files 1 first.csv second.csv third.csv -- --channel Block --class 1
///   cinderbook confirm files 1 fourth.csv --height "12 mm" --room "21.5 °C"
///   cinderbook confirm typed 1 --rise "23.4 s" --uncertainty "0.3 s" --start "31 °C" --second "Name"
///   cinderbook confirm void 2 --reason "the block touched the clamp"
///
/// What follows `--` is stated about the files, as for `read trace`. A trace without a rise time
/// is kept as a void determination. Once enough determinations count, they are held against the
/// band.
#[derive(Args, Debug)]
#[command(verbatim_doc_comment)]
pub(crate) struct Confirm {
    #[command(subcommand)]
    what: What,
}

#[derive(Subcommand, Debug)]
enum What {
    /// Reads loggers' files, one determination each
    Files {
        /// The plan
        plan: u32,
        /// The files, in the order they were made
        #[arg(required = true)]
        files: Vec<PathBuf>,
        /// The visible height of the flame by the gauge, such as "12 mm"
        #[arg(long)]
        height: Option<Written<Length>>,
        /// The room's temperature, read beside the block, such as "22.5 °C"
        #[arg(long)]
        room: Option<Written<Temperature>>,
        /// Options as for `read trace`
        #[arg(last = true, allow_hyphen_values = true)]
        read_as: Vec<String>,
    },
    /// Takes a rise time from a stop-watch, checked by a second person
    Typed {
        /// The plan
        plan: u32,
        /// The rise time, such as "23.4 s"
        #[arg(long)]
        rise: Written<Duration>,
        /// Its standard uncertainty, such as "0.3 s"
        #[arg(long)]
        uncertainty: Written<Duration>,
        /// How warm the block was at the start, such as "31 °C"
        #[arg(long)]
        start: Written<Temperature>,
        /// Who checked it
        #[arg(long)]
        second: Option<String>,
        /// The visible height of the flame by the gauge, such as "12 mm"
        #[arg(long)]
        height: Option<Written<Length>>,
    },
    BaseLine(ShowBaseLine),
    Why(Why),
    Budget(BudgetOf),
    /// Voids a determination; it stays visible
    Void {
        /// The determination
        determination: u32,
        /// Why
        #[arg(long)]
        reason: String,
    },
}

impl Confirm {
    /// Runs the command.
    pub(crate) fn run(&self, global: &Global, output: &mut Output) -> Result<Exit, Problem> {
        match &self.what {
            What::BaseLine(command) => command.run(global, output),
            What::Why(command) => command.run(global, output),
            What::Budget(command) => command.run(global, output),
            What::Files { .. } | What::Typed { .. } | What::Void { .. } => self.act(global, output),
        }
    }

    fn act(&self, global: &Global, output: &mut Output) -> Result<Exit, Problem> {
        let mut book = OpenBook::open(global)?;
        let plan = match &self.what {
            What::Files { plan, files, height, room, read_as } => {
                let plan = PlanNumber(*plan);
                let height = height.map(|Written(height)| height);
                let room = room.map(|Written(room)| format!("--room={}", room.celsius()));
                let read_as: Vec<String> = read_as.iter().cloned().chain(room).collect();
                let heating = Heating { plan, read_as: &read_as, flame_height: height };
                for file in files {
                    let (name, bytes) = crate::input::evidence(file)?;
                    determination(&mut book, &heating, (&name, &bytes), output)?;
                }
                plan
            }
            What::Typed { plan, rise, uncertainty, start, second, height } => {
                let plan = PlanNumber(*plan);
                let height = height.map(|Written(height)| height);
                let heating = Heating { plan, read_as: &[], flame_height: height };
                let rise = Measurement {
                    value: rise.0,
                    uncertainty: uncertainty.0,
                    degrees_of_freedom: DegreesOfFreedom::Infinite,
                };
                let second = second.clone().map(PersonName);
                typed(&mut book, &heating, (rise, start.0), second, output)?;
                plan
            }
            What::BaseLine(_) | What::Why(_) | What::Budget(_) => return Ok(Exit::Good),
            What::Void { determination, reason } => {
                let number = DeterminationNumber(*determination);
                let reason = reason.clone();
                book.keep(&Fact::DeterminationVoided { number, reason }, output)?;
                output.word("Next: make another determination, then `confirm files`.");
                return Ok(Exit::Good);
            }
        };
        if let Some(number) = flame(&mut book, plan, output)? {
            output.value(&format!("{number}: the flame is confirmed"));
            output.word(&format!("Next: `cinderbook run new {} FILE` for each specimen.", plan.0));
        } else {
            output.word("Next: let the block cool, and make the next determination.");
        }
        Ok(Exit::Good)
    }
}
