//! What people and programs say of equipment and lots, to the facts that are kept.

use jiff::civil::Date;
use trial::fact::{
    Calibration, CalibrationNeed, Equipment, EquipmentKind, Evidence, Fact, Lot, LotKind,
};
use trial::history::History;
use trial::number::{EquipmentNumber, LotNumber};

use super::fields::{Typed, Wrong};

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
