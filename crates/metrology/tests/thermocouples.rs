//! What thermocouples must do whatever the value: there and back, and refusals by name.

use metrology::ThermocoupleType::{self, B, J, K};
use metrology::{Temperature, ThermocoupleError, ToleranceClass, Voltage};
use proptest::prelude::*;

fn any_type() -> impl Strategy<Value = ThermocoupleType> {
    proptest::sample::select(ThermocoupleType::ALL.to_vec())
}

/// A temperature at `share` of the range of `kind`, of type B from above its foot.
fn within(kind: ThermocoupleType, share: f64) -> Temperature {
    let bottom = if kind == B { 42.2 } else { kind.range().start().celsius() };
    let top = kind.range().end().celsius();
    Temperature::from_celsius((bottom + share * (top - bottom)).min(top))
}

proptest! {
    #[test]
    fn a_temperature_comes_back(kind in any_type(), share in 0.0..=1.0) {
        let there = within(kind, share);
        let back = kind.temperature(kind.emf(there).unwrap()).unwrap();
        prop_assert!((back - there).abs().kelvin() < 1e-6, "{kind}: {there} became {back}");
    }

    #[test]
    fn the_sensitivity_is_the_slope(kind in any_type(), share in 0.01..=0.99) {
        let at = within(kind, share);
        let apart = metrology::TemperatureDifference::from_kelvin(0.01);
        let rise = kind.emf(at + apart).unwrap() - kind.emf(at - apart).unwrap();
        let slope = rise.millivolts() / 0.02 * 1000.0;
        let ours = kind.sensitivity_microvolts_per_kelvin(at).unwrap();
        // Ranges meet with slightly different slopes.
        prop_assert!((ours - slope).abs() < 2e-3, "{kind} at {at}: {ours}, {slope}");
    }

    #[test]
    fn a_junction_is_made_good(kind in any_type(), share in 0.2..=1.0, junction in 0.0..50.0) {
        let (hot, junction) = (within(kind, share), Temperature::from_celsius(junction));
        let reading = kind.emf(hot).unwrap() - kind.emf(junction).unwrap();
        let back = kind.compensated(reading, junction).unwrap();
        prop_assert!((back - hot).abs().kelvin() < 1e-6, "{kind}: {hot} became {back}");
    }

    #[test]
    fn any_number_has_an_answer_or_a_refusal(kind in any_type(), bits in any::<u64>()) {
        let value = f64::from_bits(bits);
        if let Ok(found) = kind.temperature(Voltage::from_millivolts(value)) {
            prop_assert!(kind.range().contains(&found));
        }
        if let Ok(found) = kind.emf(Temperature::from_celsius(value)) {
            prop_assert!(found.millivolts().is_finite());
        }
    }
}

fn check(refused: Result<impl std::fmt::Debug, ThermocoupleError>, text: &str) {
    let refused = refused.unwrap_err();
    assert_eq!(refused.to_string(), text);
    assert!(refused.hint().ends_with('.'));
}

#[test]
fn what_is_out_of_range_is_refused_by_name() {
    check(
        K.emf(Temperature::from_celsius(1372.5)),
        "1372.5 °C is outside the range of a type K thermocouple, -270 °C to 1372 °C",
    );
    check(
        K.emf(Temperature::from_celsius(f64::NAN)),
        "NaN °C is outside the range of a type K thermocouple, -270 °C to 1372 °C",
    );
    check(
        K.temperature(Voltage::from_millivolts(60.0)),
        "60.0000 mV is outside what a type K thermocouple gives, -6.4577 mV to 54.8864 mV",
    );
    check(
        J.tolerance(ToleranceClass::Three, Temperature::from_celsius(0.0)),
        "there is no tolerance class 3 for a type J thermocouple",
    );
    check(
        K.tolerance(ToleranceClass::One, Temperature::from_celsius(1000.5)),
        "tolerance class 1 of type K holds from -40 °C to 1000 °C, not at 1000.5 °C",
    );
    check("C".parse::<ThermocoupleType>(), "`C` is not the letter of a thermocouple");
    check("4".parse::<ToleranceClass>(), "`4` is not a tolerance class");
}

#[test]
fn the_foot_of_type_b_is_refused_by_name() {
    let text = |emf: f64| {
        format!("a type B thermocouple gives {emf:.4} mV at two temperatures below 42.1 °C")
    };
    for emf in [-0.0025, -0.001, 0.0] {
        check(B.temperature(Voltage::from_millivolts(emf)), &text(emf));
    }
    check(
        B.temperature(Voltage::from_millivolts(-0.003)),
        "-0.0030 mV is outside what a type B thermocouple gives, -0.0026 mV to 13.8203 mV",
    );
    let above = B.temperature(Voltage::from_millivolts(0.001)).unwrap();
    assert!((45.0..46.5).contains(&above.celsius()), "{above}");
}

#[test]
fn a_letter_is_read_in_either_case() {
    for kind in ThermocoupleType::ALL {
        assert_eq!(kind.letter().to_lowercase().parse(), Ok(kind));
        assert_eq!(kind.to_string().parse(), Ok(kind));
    }
}

#[test]
fn every_source_of_the_file_stands_in_the_references() {
    let file = include_str!("../../../standards/thermocouples/iec-60584-1/2013.toml");
    let references = include_str!("../../../REFERENCES.md");
    let keys: Vec<&str> = references
        .lines()
        .filter_map(|line| line.strip_prefix("| ")?.split(" | ").next())
        .flat_map(|cell| cell.split(", "))
        .collect();
    let mut sources = file.split("source = \"").skip(1).map(|rest| rest.split('"').next().unwrap());
    assert_eq!(sources.clone().count(), 10);
    assert!(sources.all(|source| keys.contains(&source)), "{keys:?}");
}
