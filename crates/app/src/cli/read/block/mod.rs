//! `read block`: one logger file of a heating and its cooling, to flame, air and block. No book.

mod json;
mod options;
mod shown;

pub(crate) use options::BudgetOptions;
pub(crate) use shown::{not_diagnosed, of_block, of_diagnosis};

use std::path::{Path, PathBuf};

use clap::Args;
use metrology::{Area, DegreesOfFreedom, Length, Mass, Measurement, Temperature};
use reading::copper_block::{BaseLine, CopperBlock, Determination, FlowSensitivity};
use reading::import::{Imported, import};
use reading::rise_time::{Beginnings, Stated};
use reading::{Circumstances, Window, rise_time};
use trial::method::Asked;

use super::trace::{FileOptions, SensorOptions, not_taken};
use crate::form::written::Written;
use crate::input;
use crate::output::{Form, Output};
use crate::problem::{Exit, Problem};
use crate::rules;
use crate::step::block::{Against, BlockSheet, DiagnosisSheet, block_of, determination};
use crate::step::budget::{BudgetSheet, Read as From, budget};

/// Reads flame, air and block from one determination, and why its flame does not confirm
///
/// Examples:
///   cinderbook read block logger.csv
///   cinderbook read block logger.csv --channel "TC 2" --mass "0.581 g" --picture block.svg
///   cinderbook read block logger.csv --base good-01.csv good-02.csv good-03.csv …
///   cinderbook read block logger.csv --class 1 --budget
///
/// The file holds one heating and, at best, a minute or two of its cooling. What is told: how much
/// heat the flame brings, how hot it is as the block sees it, the loss to the air, the polish of the
/// block; and what the readings do not tell apart. Held against accepted determinations (`--base`,
/// twelve at least) it says which cause is how probable, what speaks for it, and which way to turn
/// the flow. Needs no book, and writes nothing but the picture.
///
/// Exit code 1: nothing can be told, or something is the matter; 2: a file cannot be taken.
#[derive(Args, Debug)]
#[command(verbatim_doc_comment)]
pub(crate) struct ReadBlock {
    /// The logger's file; `-` reads standard input
    file: PathBuf,
    /// Accepted determinations of the same bench, files like this one
    #[arg(long, value_name = "FILE", num_args = 1..)]
    base: Vec<PathBuf>,
    /// Show what the uncertainty of the rise time is made of, block and sensor included
    #[arg(long)]
    budget: bool,
    /// Draw readings, fitted course and what is left over into this file
    #[arg(long, value_name = "FILE.svg")]
    picture: Option<PathBuf>,
    #[command(flatten)]
    block: BlockOptions,
    #[command(flatten)]
    in_file: FileOptions,
    #[command(flatten)]
    sensor: SensorOptions,
    #[command(flatten)]
    certificate: BudgetOptions,
}

/// What block, room and flame are.
#[derive(Args, Debug)]
#[command(next_help_heading = "What block, room and flame are")]
struct BlockOptions {
    /// The block's mass as weighed, such as "0.581 g" [default: the method's]
    #[arg(long)]
    mass: Option<Written<Mass>>,
    /// The standard uncertainty of that mass
    #[arg(long, default_value = "0.001 g")]
    mass_uncertainty: Written<Mass>,
    /// The surface of the block, such as "89.8 mm²" [default: a cylinder of the method's block]
    #[arg(long)]
    area: Option<Written<Area>>,
    /// The room's temperature, such as "22.5 °C" [default: 23 °C]
    #[arg(long)]
    room: Option<Written<Temperature>>,
    /// The flame's height now, such as "12 mm" [default: the method's]
    #[arg(long)]
    height: Option<Written<Length>>,
    /// The method: its window, its start and its band
    #[arg(long, value_name = "STANDARD/EDITION", default_value = "iec-60695-11-5/2016")]
    method: String,
}

/// All that is said of one file.
struct Found {
    name: String,
    block: CopperBlock,
    imported: Imported,
    read: Determination,
    sheet: BlockSheet,
    diagnosis: Option<Result<DiagnosisSheet, Problem>>,
    budget: Option<BudgetSheet>,
}

impl ReadBlock {
    /// Runs the command.
    pub(crate) fn run(&self, output: &mut Output) -> Result<Exit, Problem> {
        let (_, asked) = rules::method(&self.block.method)?;
        let found = self.found(&asked, output)?;
        if let Some(path) = &self.picture {
            output.file(path, found.picture().svg.as_bytes())?;
        }
        match output.form() {
            Form::Json => output.json(&json::Sheet::of(&found)),
            Form::Text => shown::show(&found, output),
        }
        self.next(&found, output);
        Ok(found.exit())
    }

    fn found(&self, asked: &Asked, output: &Output) -> Result<Found, Problem> {
        let (name, imported) = self.imported(&self.file, output)?;
        let block = self.block.block();
        let read = determination(&block, self.block.room(), &imported.trace)?;
        let sheet = BlockSheet::of(&read, &imported.trace, self.block.told());
        let diagnosis = if self.base.is_empty() {
            None
        } else {
            Some(self.diagnosis(asked, (&block, &read), output)?)
        };
        let budget = if self.budget {
            Some(self.budget_of(asked, (&block, &read), &imported)?)
        } else {
            None
        };
        Ok(Found { name, block, imported, read, sheet, diagnosis, budget })
    }

    fn imported(&self, path: &Path, output: &Output) -> Result<(String, Imported), Problem> {
        let options = self.in_file.import(&self.sensor)?;
        let (name, file) = input::open(path)?;
        let imported = output.during(&format!("reading {name}"), || import(file, &options));
        imported.map(|imported| (name.clone(), imported)).map_err(|error| not_taken(&name, &error))
    }

    /// The determination held against the accepted ones.
    fn diagnosis(
        &self,
        asked: &Asked,
        (block, read): (&CopperBlock, &Determination),
        output: &Output,
    ) -> Result<Result<DiagnosisSheet, Problem>, Problem> {
        let mut accepted = Vec::new();
        for path in &self.base {
            let (name, imported) = self.imported(path, output)?;
            let one = determination(block, self.block.room(), &imported.trace);
            accepted.push(one.map_err(|problem| Problem {
                text: format!("`{name}` cannot be part of a base line: {}", problem.text),
                ..problem
            })?);
        }
        let refused = |error: reading::copper_block::DiagnosisError| {
            Problem::conflict(error.to_string()).hint(error.hint())
        };
        let base = match BaseLine::of(&accepted) {
            Ok(base) => base,
            Err(error) => return Ok(Err(refused(error))),
        };
        let against = Against {
            base: &base,
            warmest: crate::step::confirm::warmest(&asked.confirmation),
            sensitivity: FlowSensitivity::usual(),
            height: self.block.height.map_or(asked.flame_height.value.target, |height| height.0),
        };
        Ok(DiagnosisSheet::of(block, read, &against).map_err(refused))
    }

    fn budget_of(
        &self,
        asked: &Asked,
        (block, read): (&CopperBlock, &Determination),
        imported: &Imported,
    ) -> Result<BudgetSheet, Problem> {
        let confirmation = &asked.confirmation;
        let window = Window::new(confirmation.bottom.value.target, confirmation.top.value.target);
        let window = window.map_err(|error| {
            Problem::surroundings(format!("the rules of `{}` are unsound", self.block.method))
                .because(&error)
        })?;
        let (sensor, thermocouple_taken) = self.certificate.sensor(&self.sensor, window)?;
        let rise = rise_time(&imported.trace, window, sensor, &Circumstances::default());
        let rise = rise.map_err(|error| {
            let problem = Problem::conflict(format!("there is no rise time: {error}"));
            error.hint().map_or_else(|| problem.clone(), |hint| problem.clone().hint(hint))
        })?;
        let band = confirmation.rise_time.value;
        budget(&From {
            rise: &rise,
            determination: read,
            block,
            stated: Stated {
                junction: self.certificate.junction(),
                ..self.block.stated(&self.sensor)
            },
            thermocouple_taken,
            band: metrology::decision::Limit::Between { low: band.low, high: band.high },
        })
    }

    /// Names the next sensible command.
    fn next(&self, found: &Found, output: &Output) {
        if let Some(path) = &self.picture {
            output.word(&format!("The picture is in {}.", path.display()));
        }
        if found.sheet.cooling_missing.is_some() {
            output.word("Next: record the cooling for a minute or two after the flame is away.");
        } else if self.base.is_empty() {
            output.word("Next: `--base FILE…` holds it against accepted determinations.");
        } else if !self.budget {
            output.word("Next: `--budget` shows what the rise time's uncertainty is made of.");
        }
    }
}

impl BlockOptions {
    fn block(&self) -> CopperBlock {
        block_of(self.mass.map(|mass| mass.0), self.area.map(|area| area.0))
    }

    fn room(&self) -> Temperature {
        self.room.map_or(Beginnings::built_in().room, |room| room.0)
    }

    /// Which block was taken, and from where.
    fn told(&self) -> String {
        let block = self.block();
        let from = |stated: bool| if stated { "stated" } else { "taken, nothing was stated" };
        format!(
            "{} ({}), {} ({}), in a room of {} ({})",
            block.mass,
            from(self.mass.is_some()),
            block.area,
            from(self.area.is_some()),
            self.room(),
            from(self.room.is_some())
        )
    }

    fn stated(&self, sensor: &SensorOptions) -> Stated {
        let degrees_of_freedom = DegreesOfFreedom::Infinite;
        Stated {
            mass: self.mass.map(|mass| Measurement {
                value: mass.0,
                uncertainty: self.mass_uncertainty.0,
                degrees_of_freedom,
            }),
            room: self.room.map(|room| Beginnings::built_in().room_of(Some(room.0))),
            junction: None,
            thermocouple: Some(sensor.kind()),
        }
    }
}

impl Found {
    /// How the command ends.
    fn exit(&self) -> Exit {
        match &self.diagnosis {
            Some(Ok(diagnosis)) if diagnosis.finding != "nothing" => Exit::Finding,
            Some(Err(_)) => Exit::Finding,
            Some(Ok(_)) | None => Exit::Good,
        }
    }

    fn picture(&self) -> report::chart::Chart {
        let course = self.read.fit.course(&self.imported.trace);
        let view = report::chart::BlockView {
            name: &self.name,
            trace: &self.imported.trace,
            course: &course,
            residuals: &self.read.fit.residuals.points,
            flame_away: self.read.fit.phases.flame_away,
            told: &self.told(),
        };
        report::chart::block(&view, report::chart::Look::Screen)
    }

    /// What the picture shows, in words.
    fn told(&self) -> String {
        let sheet = &self.sheet;
        let flame = match (&sheet.gain, &sheet.flame) {
            (Some(gain), Some(flame)) => {
                format!("Gain {}, flame {}, ", gain.text, flame.text)
            }
            _ => String::new(),
        };
        format!(
            "A block of {}. {flame}loss {}, emissivity {}. {}",
            self.block.mass, sheet.loss.text, sheet.emissivity.text, sheet.residuals
        )
    }
}
