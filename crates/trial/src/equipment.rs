//! Equipment with its calibrations, and lots of gas, tissue and board.

use crate::evidence::Evidence;
use crate::finding::words;
use crate::number::{EquipmentNumber, LotNumber};
use jiff::civil::Date;

words! {
    /// What a piece of equipment is.
    EquipmentKind {
        /// The burner.
        Burner = "burner",
        /// The copper block.
        CopperBlock = "copper-block",
        /// The thermocouple.
        Thermocouple = "thermocouple",
        /// The timing device.
        Timer = "timer",
        /// The logger.
        Logger = "logger",
        /// The gauge of flame height and distance.
        Gauge = "gauge",
        /// The chamber.
        Chamber = "chamber",
        /// The climate chamber or its instrument.
        Climate = "climate",
        /// A ruler or caliper.
        Ruler = "ruler",
        /// A camera.
        Camera = "camera",
        /// Anything else.
        Other = "other",
    }
}

words! {
    /// Whether a piece of equipment must be in calibration.
    CalibrationNeed {
        /// It must.
        Needed = "needed",
        /// It need not: it is checked in use.
        NotNeeded = "not-needed",
    }
}

/// A piece of equipment.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Equipment {
    /// The laboratory's own mark.
    pub number: EquipmentNumber,
    /// What it is.
    pub kind: EquipmentKind,
    /// Maker's type and serial number, in words.
    pub description: String,
    /// Whether it must be in calibration.
    pub calibration: CalibrationNeed,
}

/// A calibration.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Calibration {
    /// Of what.
    pub equipment: EquipmentNumber,
    /// The certificate's number.
    pub certificate: String,
    /// Who calibrated.
    pub by: String,
    /// On which day.
    pub on: Date,
    /// The last day it holds.
    pub due: Date,
    /// What the certificate says, in words.
    pub result: String,
    /// The certificate itself.
    pub evidence: Option<Evidence>,
}

words! {
    /// What a lot is of.
    LotKind {
        /// Gas.
        Gas = "gas",
        /// Wrapping tissue.
        Tissue = "tissue",
        /// Board.
        Board = "board",
    }
}

/// A lot of gas, tissue or board.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Lot {
    /// The laboratory's own mark.
    pub number: LotNumber,
    /// What it is of.
    pub kind: LotKind,
    /// What it is, such as "butane, 95 %".
    pub description: String,
}
