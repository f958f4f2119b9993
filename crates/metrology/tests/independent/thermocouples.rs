//! Thermocouples against the package thermocouple-its90.

use metrology::ThermocoupleType::{self, B};
use metrology::{Temperature, ThermocoupleError, Voltage};
use serde::Deserialize;

use crate::python;

/// One line of what the package says.
#[derive(Deserialize)]
struct Line {
    r#type: String,
    temperature: f64,
    emf: f64,
    seebeck: f64,
    back: Option<f64>,
}

// thermocouple-its90 1.0.2 on a grid of 0.73 K. Two programs that evaluate one polynomial of
// degree 14 in another order differ in the last digits only.
#[test]
fn thermocouple_its90_agrees_everywhere() {
    let printed = python::run("thermocouples.py", "");
    let mut refused = 0;
    for line in printed.lines() {
        let Line { r#type, temperature, emf, seebeck, back } = serde_json::from_str(line).unwrap();
        let kind: ThermocoupleType = r#type.parse().unwrap();
        let at = Temperature::from_celsius(temperature);
        let ours = kind.emf(at).unwrap().millivolts();
        assert!((ours - emf).abs() < 1e-9, "{line}: {ours}");
        let ours = kind.sensitivity_microvolts_per_kelvin(at).unwrap();
        assert!((ours - seebeck).abs() < 1e-8, "{line}: {ours}");
        match (kind.temperature(Voltage::from_millivolts(emf)), back) {
            (Ok(ours), Some(back)) => {
                assert!((ours.celsius() - back).abs() < 1e-5, "{line}: {ours}");
            }
            (Err(ThermocoupleError::TwoTemperatures { .. }), None) => refused += 1,
            // The package inverts type B only where NIST prints an inverse, above 250 °C.
            (Ok(ours), None) => {
                assert!(kind == B && (ours.celsius() - temperature).abs() < 1e-5, "{line}: {ours}");
            }
            (ours, _) => panic!("{line}: {ours:?}"),
        }
    }
    assert_eq!(printed.lines().count(), 16_467);
    // The foot of type B, 0 °C to 42.13 °C.
    assert_eq!(refused, 58);
}
