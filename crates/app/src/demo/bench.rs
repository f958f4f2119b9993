//! What the made-up laboratory works with.

use jiff::civil::{Date, date};
use metrology::{DegreesOfFreedom, Mass, Measurement};
use trial::fact::{
    Authorisation, Calibration, CalibrationNeed, Equipment, EquipmentKind, Fact, Lot, LotKind,
    Weighing,
};

/// People and what they may do. The first is the engineer, the second the technician.
pub(super) const PEOPLE: [(&str, &[Authorisation]); 3] = [
    ("Odalys Fenn", &[Authorisation::Test, Authorisation::Review, Authorisation::Issue]),
    ("Bram Tessaly", &[Authorisation::Test]),
    ("Quill Marrow", &[Authorisation::Review, Authorisation::Issue]),
];

/// The copper block.
const BLOCK: &str = "CB-2";

const NEEDED: CalibrationNeed = CalibrationNeed::Needed;
const NOT_NEEDED: CalibrationNeed = CalibrationNeed::NotNeeded;

const PIECES: [(&str, EquipmentKind, &str, CalibrationNeed); 8] = [
    ("NB-1", EquipmentKind::Burner, "needle burner, bore 0.5 mm", NOT_NEEDED),
    (BLOCK, EquipmentKind::CopperBlock, "copper block, weighed 0.581 g, polished", NEEDED),
    ("TC-4", EquipmentKind::Thermocouple, "type K, class 1, sheathed, 0.5 mm", NEEDED),
    ("LG-1", EquipmentKind::Logger, "logger, ten readings a second", NEEDED),
    ("SW-3", EquipmentKind::Timer, "stop-watch, 0.01 s", NEEDED),
    ("FG-1", EquipmentKind::Gauge, "gauge for a flame of 12 mm", NEEDED),
    ("CH-1", EquipmentKind::Chamber, "draught-free chamber, dark, 0.9 m³", NOT_NEEDED),
    ("CL-1", EquipmentKind::Climate, "room thermometer and hygrometer", NEEDED),
];

/// The numbers of all equipment.
pub(super) fn numbers() -> Vec<String> {
    PIECES.iter().map(|(number, ..)| (*number).to_owned()).collect()
}

/// Registers people, equipment with its calibrations, and lots.
pub(super) fn facts() -> Vec<Fact> {
    let people = PEOPLE.iter().map(|(person, may)| Fact::PersonAdmitted {
        person: (*person).into(),
        authorisations: may.to_vec(),
    });
    people.chain(equipped(date(2026, 1, 12), date(2027, 1, 12))).collect()
}

/// Registers equipment with its calibrations, lots, and what the block weighs.
pub(super) fn equipped(calibrated: Date, due: Date) -> impl Iterator<Item = Fact> {
    let pieces = PIECES.iter().map(|(number, kind, description, calibration)| {
        Fact::EquipmentRegistered(Equipment {
            number: (*number).into(),
            kind: *kind,
            description: (*description).to_owned(),
            calibration: *calibration,
        })
    });
    let needed = PIECES.iter().filter(|(.., need)| *need == NEEDED);
    let calibrations = needed.map(move |(number, ..)| calibration(number, calibrated, due));
    let lots = [
        ("G-26-07", LotKind::Gas, "butane, 95 % or purer, cartridge"),
        ("T-26-02", LotKind::Tissue, "wrapping tissue, 21 g/m²"),
        ("B-26-01", LotKind::Board, "white pinewood board, 10 mm"),
    ];
    let lots = lots.map(|(number, kind, description)| {
        Fact::LotOpened(Lot { number: number.into(), kind, description: description.to_owned() })
    });
    let weighed = Fact::BlockWeighed(Weighing {
        block: BLOCK.into(),
        mass: Measurement {
            value: Mass::from_grams(0.581),
            uncertainty: Mass::from_grams(0.001),
            degrees_of_freedom: DegreesOfFreedom::Infinite,
        },
        area: None,
    });
    pieces.chain(calibrations).chain(lots).chain([weighed])
}

fn calibration(number: &str, on: Date, due: Date) -> Fact {
    Fact::CalibrationRecorded(Calibration {
        equipment: number.into(),
        certificate: format!("MADE-UP-{number}"),
        by: "Hearthmere calibration room (made up)".to_owned(),
        on,
        due,
        result: "within its tolerance".to_owned(),
        evidence: None,
    })
}
