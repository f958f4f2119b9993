//! `read`: measure one file or one instrument, with no book.

mod trace;
mod block;
mod live;

pub(crate) use block::{BudgetOptions, not_diagnosed, of_block, of_diagnosis};
pub(crate) use trace::SensorOptions;
pub(crate) use trace::not_taken;
use trace::{AirOptions, FileOptions};

use clap::{Args, Parser, Subcommand};
use metrology::Temperature;
use reading::import::ImportOptions;
use reading::{SensorUncertainty, Window};

use crate::output::Output;
use crate::problem::{Exit, Problem};

/// Measures one file, or shows one instrument, with no book
#[derive(Args, Debug)]
pub(crate) struct Read {
    #[command(subcommand)]
    what: What,
}

#[derive(Subcommand, Debug)]
enum What {
    Trace(Box<trace::ReadTrace>),
    Block(Box<block::ReadBlock>),
    Live(live::ReadLive),
}

impl Read {
    /// Runs the command.
    pub(crate) fn run(&self, output: &mut Output) -> Result<Exit, Problem> {
        match &self.what {
            What::Trace(command) => command.run(output),
            What::Block(command) => command.run(output),
            What::Live(command) => command.run(output),
        }
    }
}

/// What is stated about a logger's file and its sensor, as words that are kept in the record and
/// can be read again.
#[derive(Parser, Debug)]
#[command(no_binary_name = true, disable_help_flag = true)]
pub(crate) struct Stated {
    #[command(flatten)]
    file: FileOptions,
    #[command(flatten)]
    sensor: SensorOptions,
    #[command(flatten)]
    air: AirOptions,
}

impl Stated {
    /// Reads the words, such as `--channel=Block` and `--class=1`.
    pub(crate) fn of(words: &[String]) -> Result<Self, Problem> {
        Self::try_parse_from(words).map_err(|error| {
            let told = error.to_string();
            let told = told.lines().next().unwrap_or_default().trim_start_matches("error: ");
            Problem::used_wrongly(format!("cannot use what is stated about the file: {told}"))
                .hint("Write options as `read trace` takes them; `read trace --help` lists them.")
        })
    }

    /// What the importer is told.
    pub(crate) fn import(&self) -> Result<ImportOptions, Problem> {
        self.file.import(&self.sensor)
    }

    /// The temperature of the terminals, at which the block rested at the start.
    pub(crate) fn resting_at(&self) -> Option<Temperature> {
        self.sensor.resting_at()
    }

    /// The room's temperature, where it was read beside the block.
    pub(crate) fn room(&self) -> Option<Temperature> {
        self.air.room()
    }

    /// What is stated of the sensor.
    pub(crate) const fn sensor_options(&self) -> &SensorOptions {
        &self.sensor
    }

    /// The uncertainty in `window` of what is stated: the thermocouple's class, the clock's step.
    pub(crate) fn sensor(&self, window: Window) -> Result<SensorUncertainty, Problem> {
        match self.sensor.class() {
            Some(class) => self.sensor.uncertainty(class, window),
            None => Ok(self.sensor.clock()),
        }
    }
}
