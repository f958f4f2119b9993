//! Thermocouples against the tables of NIST SRD 60 and the tolerance classes of IEC 60584-1.

use std::collections::BTreeMap;

use metrology::ThermocoupleType::{self, B, E, J, K, N, R, S, T};
use metrology::{Temperature, ThermocoupleError, ToleranceClass, Voltage};

/// The printed millivolts of each whole degree. The files are Latin-1; all but the sign of the
/// degree is ASCII.
fn table(kind: ThermocoupleType) -> BTreeMap<i32, f64> {
    let bytes: &[u8] = match kind {
        B => include_bytes!("../../../../open-data/tables/type_b.tab"),
        E => include_bytes!("../../../../open-data/tables/type_e.tab"),
        J => include_bytes!("../../../../open-data/tables/type_j.tab"),
        K => include_bytes!("../../../../open-data/tables/type_k.tab"),
        N => include_bytes!("../../../../open-data/tables/type_n.tab"),
        R => include_bytes!("../../../../open-data/tables/type_r.tab"),
        S => include_bytes!("../../../../open-data/tables/type_s.tab"),
        T => include_bytes!("../../../../open-data/tables/type_t.tab"),
    };
    let text: String = bytes.iter().map(|byte| char::from(*byte)).collect();
    let mut printed = BTreeMap::new();
    let mut step = 0;
    for line in text.lines().take_while(|line| !line.starts_with('*')) {
        if line.trim_start().starts_with('°') {
            step = if line.contains("-1") { -1 } else { 1 };
        }
        let mut words = line.split_whitespace();
        let Some(row) = words.next().and_then(|word| word.parse::<i32>().ok()) else { continue };
        for (column, word) in (0..).zip(words) {
            let millivolts: f64 = word.parse().unwrap();
            // The last column of a row is printed again as the first of the next.
            let before = printed.insert(row + step * column, millivolts);
            assert!(before.is_none_or(|before| before.to_bits() == millivolts.to_bits()));
        }
    }
    printed
}

fn celsius(value: f64) -> Temperature {
    Temperature::from_celsius(value)
}

fn millivolts(value: f64) -> Voltage {
    Voltage::from_millivolts(value)
}

// NIST SRD 60, tables of all eight types: three decimals are printed, so half of the last.
#[test]
fn nist_srd_60_all_table_values() {
    let mut values = 0;
    for kind in ThermocoupleType::ALL {
        for (at, printed) in table(kind) {
            let ours = kind.emf(celsius(at.into())).unwrap().millivolts();
            let off = (ours - printed).abs();
            // A printed decimal is a hair off when it is read as a binary number.
            assert!(off <= 0.0005 + 1e-12, "type {kind} at {at} °C: {ours} against {printed}");
            values += 1;
        }
    }
    assert_eq!(values, 12_026);
}

// NIST SRD 60, the temperatures of the tables, there and back. 0.001 K would do; a root to the
// last digits is a thousand times closer even where the functions are flattest.
#[test]
fn nist_srd_60_back_from_every_table_temperature() {
    let mut worst = 0.0_f64;
    for kind in ThermocoupleType::ALL {
        for at in table(kind).into_keys() {
            let emf = kind.emf(celsius(at.into())).unwrap();
            let back = match kind.temperature(emf) {
                Ok(back) => back,
                Err(ThermocoupleError::TwoTemperatures { unique_above, .. }) => {
                    assert!(kind == B && celsius(at.into()) <= unique_above, "{kind} at {at} °C");
                    continue;
                }
                Err(refused) => panic!("{kind} at {at} °C: {refused}"),
            };
            worst = worst.max((back.celsius() - f64::from(at)).abs());
        }
    }
    assert!(worst < 1e-6, "{worst}");
}

// NIST SRD 60, approximate inverse of type K: good to 0.06 K over each of its ranges. Our root
// of each printed voltage lies within half of the last printed digit over the slope.
#[test]
fn nist_srd_60_type_k_from_printed_millivolts() {
    for (at, printed) in table(K) {
        let slope = K.sensitivity_microvolts_per_kelvin(celsius(at.into())).unwrap();
        let Ok(back) = K.temperature(millivolts(printed)) else {
            // The first printed value is rounded to below the lowest voltage.
            assert_eq!(at, -270);
            continue;
        };
        let off = (back.celsius() - f64::from(at)).abs();
        // The slope changes over half a digit only where it is small, near the bottom.
        let bound = 0.5 / slope * if at < -250 { 2.0 } else { 1.001 };
        assert!(off <= bound, "{at} °C: off by {off} K of {bound} K");
    }
}

// Six decimals of two independent programs (thermocouple-its90 1.0.2, thermocouples_reference
// 0.20) that agree with each other; half of the last digit.
#[test]
fn two_programs_type_k_six_decimals() {
    let values = [
        (25.0, 1.000_242),
        (100.0, 4.096_230),
        (200.0, 8.138_473),
        (300.0, 12.208_566),
        (400.0, 16.397_142),
        (500.0, 20.644_286),
        (600.0, 24.905_467),
        (700.0, 29.128_974),
        (800.0, 33.275_380),
        (1000.0, 41.275_606),
        (1300.0, 52.410_275),
    ];
    for (at, expected) in values {
        let ours = K.emf(celsius(at)).unwrap().millivolts();
        assert!((ours - expected).abs() <= 0.5e-6 + 1e-12, "{at} °C: {ours}, {expected}");
    }
    for (at, expected) in [(100.0, 41.3686), (700.0, 41.8980)] {
        let ours = K.sensitivity_microvolts_per_kelvin(celsius(at)).unwrap();
        assert!((ours - expected).abs() <= 0.5e-4, "{at} °C: {ours}, {expected}");
    }
}

// The same two programs, all types at 100 °C and 300 °C, four decimals.
#[test]
fn two_programs_all_types_four_decimals() {
    let values = [
        (B, 0.0332, 0.4306),
        (E, 6.3189, 21.0362),
        (J, 5.2689, 16.3272),
        (N, 2.7741, 9.3412),
        (R, 0.6474, 2.4006),
        (S, 0.6459, 2.3230),
        (T, 4.2785, 14.8619),
    ];
    for (kind, at_100, at_300) in values {
        for (at, expected) in [(100.0, at_100), (300.0, at_300)] {
            let ours = kind.emf(celsius(at)).unwrap().millivolts();
            assert!((ours - expected).abs() <= 0.5e-4, "{kind} at {at} °C: {ours}, {expected}");
        }
    }
}

// thermocouple-its90 1.0.2: a reading of 28.129 mV with the terminals at 25 °C.
#[test]
fn one_program_cold_junction_at_25() {
    let hot = K.compensated(millivolts(28.129), celsius(25.0)).unwrap();
    assert!((hot.celsius() - 700.006_41).abs() <= 0.5e-5, "{hot}");
}

// JIS C 1602-1995, the classes of IEC 60584-1 for type K, in ± °C; at 100 °C the fixed part
// holds, at 700 °C the share.
#[test]
fn jis_c_1602_type_k_classes_1_and_2() {
    let check = |class, at: f64, expected: f64| {
        let ours = K.tolerance(class, celsius(at)).unwrap().kelvin();
        assert!((ours - expected).abs() < 1e-12, "class {class} at {at} °C: {ours}");
    };
    check(ToleranceClass::One, 100.0, 1.5);
    check(ToleranceClass::One, 375.0, 1.5);
    check(ToleranceClass::One, 700.0, 2.8);
    check(ToleranceClass::One, 1000.0, 4.0);
    check(ToleranceClass::Two, -40.0, 2.5);
    check(ToleranceClass::Two, 700.0, 5.25);
    check(ToleranceClass::Two, 1200.0, 9.0);
    for class in [ToleranceClass::One, ToleranceClass::Two] {
        assert!(K.tolerance_origin(class).unwrap().contains("seen in JIS-C-1602"));
    }
}

// IEC 60584-1, the other classes: from memory, at least one value on each side of each knee.
#[test]
fn memory_iec_60584_1_other_classes() {
    let check = |kind: ThermocoupleType, class, at: f64, expected: f64| {
        let ours = kind.tolerance(class, celsius(at)).unwrap().kelvin();
        assert!((ours - expected).abs() < 1e-12, "{kind}, class {class} at {at} °C: {ours}");
        assert!(kind.tolerance_origin(class).unwrap().contains("from memory"));
    };
    check(S, ToleranceClass::One, 1100.0, 1.0);
    check(R, ToleranceClass::One, 1600.0, 2.5);
    check(S, ToleranceClass::Two, 500.0, 1.5);
    check(R, ToleranceClass::Two, 1600.0, 4.0);
    check(B, ToleranceClass::Two, 600.0, 1.5);
    check(B, ToleranceClass::Three, 600.0, 4.0);
    check(B, ToleranceClass::Three, 1700.0, 8.5);
    check(T, ToleranceClass::One, 100.0, 0.5);
    check(T, ToleranceClass::Two, 350.0, 2.625);
    check(T, ToleranceClass::Three, -200.0, 3.0);
    check(J, ToleranceClass::Two, 750.0, 5.625);
    check(E, ToleranceClass::One, 800.0, 3.2);
    check(N, ToleranceClass::Three, -200.0, 3.0);
    check(K, ToleranceClass::Three, 0.0, 2.5);
}
