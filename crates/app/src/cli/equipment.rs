//! `equipment`: what is tested with, its calibrations, and the lots of gas, tissue and board.

use std::path::PathBuf;

use clap::{Args, Subcommand};
use jiff::civil::Date;
use metrology::{Area, DegreesOfFreedom, Mass, Measurement};
use trial::fact::{
    Calibration, CalibrationNeed, Equipment as Piece, EquipmentKind, EvidenceKind, Fact, Lot,
    LotKind, Weighing,
};
use trial::number::{EquipmentNumber, LotNumber};

use super::Global;
use crate::book::OpenBook;
use crate::form::run::word;
use crate::form::written::Written;
use crate::output::Output;
use crate::problem::{Exit, Problem};

/// Registers equipment, its calibrations, and lots of gas, tissue and board
#[derive(Args, Debug)]
pub(crate) struct Equipment {
    #[command(subcommand)]
    what: What,
}

#[derive(Subcommand, Debug)]
enum What {
    /// Lists the equipment, and till when its calibration holds
    List,
    /// Registers a piece
    Add {
        /// Its number, as on its label
        number: String,
        /// burner, copper-block, thermocouple, timer, logger, gauge, chamber, climate, ruler,
        /// camera or other
        #[arg(long)]
        kind: String,
        /// Maker, type, serial number, place
        #[arg(long)]
        description: String,
        /// It needs no calibration
        #[arg(long)]
        no_calibration: bool,
    },
    /// Records a calibration
    Calibrated {
        /// The piece
        number: String,
        /// The certificate's number
        #[arg(long)]
        certificate: String,
        /// Who calibrated
        #[arg(long)]
        by: String,
        /// The day, such as 2026-01-15
        #[arg(long)]
        on: Date,
        /// The day it falls due
        #[arg(long)]
        due: Date,
        /// What was found
        #[arg(long)]
        result: String,
        /// The certificate's file, to be kept
        #[arg(long)]
        file: Option<PathBuf>,
    },
    /// Records what a copper block weighs
    Weighed {
        /// The block
        number: String,
        /// Its mass as drilled, such as "0.581 g"
        #[arg(long)]
        mass: Written<Mass>,
        /// The standard uncertainty of that, such as "0.5 mg"
        #[arg(long)]
        uncertainty: Written<Mass>,
        /// Its surface, such as "89.8 mm²"
        #[arg(long)]
        area: Option<Written<Area>>,
    },
    /// Takes a piece out of service
    Withdraw {
        /// The piece
        number: String,
        /// Why
        #[arg(long)]
        reason: String,
    },
    /// Opens a lot; a new lot of gas ends the confirmation of the flame
    Lot {
        /// Its number
        number: String,
        /// gas, tissue or board
        #[arg(long)]
        kind: String,
        /// What it is
        #[arg(long)]
        description: String,
    },
}

impl Equipment {
    /// Runs the command.
    pub(crate) fn run(&self, global: &Global, output: &mut Output) -> Result<Exit, Problem> {
        let mut book = OpenBook::open(global)?;
        let Some(fact) = self.fact(&book)? else {
            list(&book, output);
            return Ok(Exit::Good);
        };
        book.keep(&fact, output)?;
        output.word("Next: `equipment list` shows what is due; `plan new FILE` draws up a plan.");
        Ok(Exit::Good)
    }

    fn fact(&self, book: &OpenBook) -> Result<Option<Fact>, Problem> {
        Ok(Some(match &self.what {
            What::List => return Ok(None),
            What::Add { number, kind, description, no_calibration } => {
                Fact::EquipmentRegistered(Piece {
                    number: EquipmentNumber(number.clone()),
                    kind: word(
                        "kind of equipment",
                        kind,
                        EquipmentKind::of_word,
                        EquipmentKind::ALL,
                    )?,
                    description: description.clone(),
                    calibration: if *no_calibration {
                        CalibrationNeed::NotNeeded
                    } else {
                        CalibrationNeed::Needed
                    },
                })
            }
            What::Calibrated { number, certificate, by, on, due, result, file } => {
                let kind = EvidenceKind::Certificate;
                Fact::CalibrationRecorded(Calibration {
                    equipment: EquipmentNumber(number.clone()),
                    certificate: certificate.clone(),
                    by: by.clone(),
                    on: *on,
                    due: *due,
                    result: result.clone(),
                    evidence: file.as_ref().map(|path| book.file(path, kind)).transpose()?,
                })
            }
            What::Weighed { number, mass, uncertainty, area } => Fact::BlockWeighed(Weighing {
                block: EquipmentNumber(number.clone()),
                mass: Measurement {
                    value: mass.0,
                    uncertainty: uncertainty.0,
                    degrees_of_freedom: DegreesOfFreedom::Infinite,
                },
                area: area.map(|area| area.0),
            }),
            What::Withdraw { number, reason } => Fact::EquipmentWithdrawn {
                equipment: EquipmentNumber(number.clone()),
                reason: reason.clone(),
            },
            What::Lot { number, kind, description } => Fact::LotOpened(Lot {
                number: LotNumber(number.clone()),
                kind: word("kind of lot", kind, LotKind::of_word, LotKind::ALL)?,
                description: description.clone(),
            }),
        }))
    }
}

fn list(book: &OpenBook, output: &mut Output) {
    let history = book.history();
    let today = book.now().map(trial::moment::Moment::day);
    for (number, piece) in history.all_equipment() {
        let calibration = today.as_ref().ok().and_then(|day| history.calibration(number, *day));
        let state = match (history.withdrawn(number), calibration, piece.calibration) {
            (Some(reason), _, _) => format!("withdrawn: {reason}"),
            (None, Some(calibration), _) => format!("calibrated, due {}", calibration.due),
            (None, None, CalibrationNeed::Needed) => "not calibrated".to_owned(),
            (None, None, CalibrationNeed::NotNeeded) => "needs no calibration".to_owned(),
        };
        output.value(&format!("{number}\t{}\t{}\t{state}", piece.kind, piece.description));
    }
    for (at, lot) in history.lots() {
        output
            .value(&format!("{}\t{} lot\t{}\topened {at}", lot.number, lot.kind, lot.description));
    }
}
