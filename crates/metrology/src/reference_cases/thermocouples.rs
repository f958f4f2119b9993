//! Single values of the thermocouple tables; the tests hold all 12 026 of them.

use super::{Group, ReferenceCase};
use crate::quantity::{Temperature, Voltage};
use crate::thermocouple::ThermocoupleType;

pub(super) fn cases() -> Vec<ReferenceCase> {
    let table = Group { source: "NIST SRD 60, table of type K", unit: "mV" };
    let packages = Group { source: "thermocouple-its90 1.0.2 and another package", unit: "mV" };
    let mut cases = Vec::new();
    for (celsius, theirs) in [
        (-200.0, -5.891),
        (-100.0, -3.554),
        (0.0, 0.0),
        (100.0, 4.096),
        (690.0, 28.710),
        (700.0, 29.129),
        (705.0, 29.338),
    ] {
        cases.push(emf(&table, ThermocoupleType::K, celsius, theirs));
    }
    for (kind, at_100, at_300) in [
        (ThermocoupleType::B, 0.0332, 0.4306),
        (ThermocoupleType::E, 6.3189, 21.0362),
        (ThermocoupleType::J, 5.2689, 16.3272),
        (ThermocoupleType::N, 2.7741, 9.3412),
        (ThermocoupleType::R, 0.6474, 2.4006),
        (ThermocoupleType::S, 0.6459, 2.3230),
        (ThermocoupleType::T, 4.2785, 14.8619),
    ] {
        for (celsius, theirs) in [(100.0, at_100), (300.0, at_300)] {
            let case = emf(&packages, kind, celsius, theirs);
            cases.push(ReferenceCase { tolerance: 0.000_05, ..case });
        }
    }
    let seebeck = ThermocoupleType::K
        .sensitivity_microvolts_per_kelvin(Temperature::from_celsius(700.0))
        .unwrap_or(f64::NAN);
    let inverse = ThermocoupleType::K.temperature(Voltage::from_millivolts(29.129));
    cases.push(ReferenceCase {
        unit: "µV/K",
        ..packages.case("type K at 700 °C: sensitivity", seebeck, 41.8980, 0.000_05)
    });
    cases.push(ReferenceCase {
        unit: "°C",
        ..packages.case(
            "type K at 29.129 mV",
            inverse.map_or(f64::NAN, Temperature::celsius),
            700.000_62,
            0.001,
        )
    });
    cases
}

fn emf(group: &Group, kind: ThermocoupleType, celsius: f64, theirs: f64) -> ReferenceCase {
    let ours = kind.emf(Temperature::from_celsius(celsius));
    let name = format!("type {} at {celsius} °C", kind.letter());
    // Half a unit of the table's last digit, which the reference function itself may reach.
    group.case(&name, ours.map_or(f64::NAN, Voltage::millivolts), theirs, 0.000_5)
}
