//! What people and programs say of equipment and lots, to the facts that are kept.

use jiff::civil::Date;
use metrology::{Area, DegreesOfFreedom, Mass, Measurement};
use trial::fact::{
    Calibration, CalibrationNeed, Equipment, EquipmentKind, Evidence, Fact, Lot, LotKind, Weighing,
};
use trial::history::History;
use trial::number::{EquipmentNumber, LotNumber};

use super::fields::{Typed, Wrong};
use super::number::{self, GRAMS, Kind, SQUARE_MILLIMETRES};

/// A fact, or all that is wrong with what was typed.
type Read = Result<Fact, Vec<Wrong>>;

/// A piece to register: `mark`, `kind`, `description`, `calibration`.
pub(crate) fn registered(typed: &Typed, history: &History) -> Read {
    let mark =
        mark(typed).and_then(|mark| match history.equipment(&EquipmentNumber(mark.into())) {
            None => Ok(EquipmentNumber(mark.to_owned())),
            Some(there) => Err(Wrong::new(
                "mark",
                format!("{mark} is registered already: {}. Give another mark.", there.description),
            )),
        });
    let kind = chosen(typed, ("kind", "Choose what it is."), EquipmentKind::of_word);
    let description = typed.needed("description", "Say what it is: maker, type, serial number.");
    let ask = "Choose whether it must be in calibration.";
    let calibration = chosen(typed, ("calibration", ask), CalibrationNeed::of_word);
    match (mark, kind, description, calibration) {
        (Ok(number), Ok(kind), Ok(description), Ok(calibration)) => {
            let description = description.to_owned();
            Ok(Fact::EquipmentRegistered(Equipment { number, kind, description, calibration }))
        }
        (mark, kind, description, calibration) => {
            Err(all([mark.err(), kind.err(), description.err(), calibration.err()]))
        }
    }
}

/// A calibration of a piece: `piece`, `certificate`, `by`, `on`, `due`, `result`.
pub(crate) fn calibrated(typed: &Typed, history: &History, file: Option<Evidence>) -> Read {
    let equipment = piece(typed, history);
    let certificate = typed.needed("certificate", "Give the certificate's number.");
    let by = typed.needed("by", "Say who calibrated.");
    let on = day(typed, "on", "Give the day of the calibration");
    let due = day(typed, "due", "Give the last day that it holds").and_then(|due| match &on {
        Ok(on) if due < *on => {
            Err(Wrong::new("due", format!("{due} is before the calibration, {on}.")))
        }
        _ => Ok(due),
    });
    let result = typed.needed("result", "Say what the certificate says.");
    match (equipment, certificate, by, on, due, result) {
        (Ok(equipment), Ok(certificate), Ok(by), Ok(on), Ok(due), Ok(result)) => {
            Ok(Fact::CalibrationRecorded(Calibration {
                equipment,
                certificate: certificate.to_owned(),
                by: by.to_owned(),
                on,
                due,
                result: result.to_owned(),
                evidence: file,
            }))
        }
        (equipment, certificate, by, on, due, result) => Err(all([
            equipment.err(),
            certificate.err(),
            by.err(),
            on.err(),
            due.err(),
            result.err(),
        ])),
    }
}

/// A piece to take out of service: `piece`, `reason`.
pub(crate) fn withdrawn(typed: &Typed, history: &History) -> Read {
    let equipment = piece(typed, history).and_then(|piece| match history.withdrawn(&piece) {
        None => Ok(piece),
        Some(why) => Err(Wrong::new("piece", format!("{piece} is out of service already: {why}."))),
    });
    match (equipment, typed.needed("reason", "Say why it is taken out of service.")) {
        (Ok(equipment), Ok(reason)) => {
            Ok(Fact::EquipmentWithdrawn { equipment, reason: reason.to_owned() })
        }
        (equipment, reason) => Err(all([equipment.err(), reason.err()])),
    }
}

/// What a copper block weighs: `piece`, `mass`, `uncertainty`, `area`.
pub(crate) fn weighed(typed: &Typed, history: &History) -> Read {
    let block = piece(typed, history).and_then(|block| {
        let kind = history.equipment(&block).map(|it| it.kind);
        if kind == Some(EquipmentKind::CopperBlock) {
            Ok(block)
        } else {
            Err(Wrong::new("piece", format!("{block} is no copper block. Choose one.")))
        }
    });
    let mass = above_zero(typed, ("mass", "The mass"), &GRAMS);
    let uncertainty = above_zero(typed, ("uncertainty", "The uncertainty"), &GRAMS);
    let area = match typed.text("area") {
        "" => Ok(None),
        _ => above_zero(typed, ("area", "The surface"), &SQUARE_MILLIMETRES).map(Some),
    };
    match (block, mass, uncertainty, area) {
        (Ok(block), Ok(mass), Ok(uncertainty), Ok(area)) => Ok(Fact::BlockWeighed(Weighing {
            block,
            mass: Measurement {
                value: Mass::from_grams(mass),
                uncertainty: Mass::from_grams(uncertainty),
                degrees_of_freedom: DegreesOfFreedom::Infinite,
            },
            area: area.map(Area::from_square_millimetres),
        })),
        (block, mass, uncertainty, area) => {
            Err(all([block.err(), mass.err(), uncertainty.err(), area.err()]))
        }
    }
}

/// A number of the form that is more than zero.
fn above_zero(typed: &Typed, (field, what): (&str, &str), kind: &Kind) -> Result<f64, Wrong> {
    let text = typed.text(field);
    let read = number::read(text, kind);
    let read = read.map_err(|fault| Wrong::new(field, fault.words(what, text, kind)))?.value();
    if read > 0.0 {
        Ok(read)
    } else {
        Err(Wrong::new(field, format!("{what} is more than 0 {}.", kind.unit)))
    }
}

/// A lot to open: `mark`, `kind`, `description`.
pub(crate) fn opened(typed: &Typed, history: &History) -> Read {
    let mark = mark(typed).and_then(|mark| {
        if history.lots().iter().any(|(_, lot)| lot.number.0 == mark) {
            Err(Wrong::new("mark", format!("Lot {mark} was opened already. Give another mark.")))
        } else {
            Ok(LotNumber(mark.to_owned()))
        }
    });
    let kind = chosen(typed, ("kind", "Choose what the lot is of."), LotKind::of_word);
    let description = typed.needed("description", "Say what it is, such as butane, 95 %.");
    match (mark, kind, description) {
        (Ok(number), Ok(kind), Ok(description)) => {
            Ok(Fact::LotOpened(Lot { number, kind, description: description.to_owned() }))
        }
        (mark, kind, description) => Err(all([mark.err(), kind.err(), description.err()])),
    }
}

fn all<const N: usize>(wrong: [Option<Wrong>; N]) -> Vec<Wrong> {
    wrong.into_iter().flatten().collect()
}

fn mark(typed: &Typed) -> Result<&str, Wrong> {
    typed.needed("mark", "Give the mark on its label.")
}

fn piece(typed: &Typed, history: &History) -> Result<EquipmentNumber, Wrong> {
    let mark = typed.needed("piece", "Choose the piece.")?;
    let number = EquipmentNumber(mark.to_owned());
    if history.equipment(&number).is_some() {
        Ok(number)
    } else {
        Err(Wrong::new("piece", format!("{mark} is not registered. Choose one that is.")))
    }
}

fn chosen<W>(
    typed: &Typed,
    (field, ask): (&str, &str),
    of_word: fn(&str) -> Option<W>,
) -> Result<W, Wrong> {
    of_word(typed.text(field)).ok_or_else(|| Wrong::new(field, ask))
}

fn day(typed: &Typed, field: &str, ask: &str) -> Result<Date, Wrong> {
    let text = typed.needed(field, &format!("{ask}, such as 2026-11-25."))?;
    text.parse()
        .map_err(|_| Wrong::new(field, format!("`{text}` is no day. {ask}, such as 2026-11-25.")))
}
