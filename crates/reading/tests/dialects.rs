//! Real files of others, and what each must be taken for. Answers were taken by eye from the
//! files themselves; `open-data/README.md` tells where they come from.

use std::fs::File;
use std::path::PathBuf;

use reading::import::{
    ChannelChoice, ChosenBy, DateOrder, Decimal, Delimiter, Encoding, ImportError, ImportOptions,
    Imported, LineEnd, MissingCodes, Origin, TemperatureUnit, TimeTaken, import,
};

#[expect(clippy::disallowed_methods, reason = "tests read files")]
fn open(file: &str) -> File {
    File::open(PathBuf::from(env!("CARGO_MANIFEST_DIR")).join("../../open-data").join(file))
        .unwrap()
}

fn channel(name: &str) -> ImportOptions {
    ImportOptions { channel: Some(ChannelChoice::from(name)), ..ImportOptions::default() }
}

/// Number of readings, first and last time, first and last value, highest value.
struct Expected {
    length: usize,
    at: (f64, f64),
    celsius: (f64, f64),
    highest: f64,
}

fn check(file: &str, options: &ImportOptions, expected: &Expected) -> Imported {
    let imported = import(open(file), options).unwrap_or_else(|error| panic!("{file}: {error}"));
    let trace = &imported.trace;
    let (first, last) = (trace.point(0), trace.point(trace.len() - 1));
    let found = [
        first.at.seconds(),
        last.at.seconds(),
        first.temperature.celsius(),
        last.temperature.celsius(),
        trace.highest().temperature.celsius(),
    ];
    let wanted =
        [expected.at.0, expected.at.1, expected.celsius.0, expected.celsius.1, expected.highest];
    assert_eq!(trace.len(), expected.length, "{file}");
    assert_eq!(found.map(f64::to_bits), wanted.map(f64::to_bits), "{file}: {found:?}");
    imported
}

fn refused(file: &str, options: &ImportOptions, told: &str) {
    let error = import(open(file), options).expect_err(file);
    let text = error.to_string();
    assert!(text.contains(told), "{file}: {text}");
    assert!(error.hint().is_some(), "{file}: {text}");
}

#[test]
fn plate_has_one_column_beside_the_time() {
    let expected =
        Expected { length: 403, at: (0.0, 2010.0), celsius: (23.9, 40.9), highest: 481.6 };
    let imported = check("traces/Plate_TC_25_exp.csv", &ImportOptions::default(), &expected);
    let taken = imported.taken_for;
    assert_eq!((taken.encoding, taken.line_end), (Encoding::Utf8, LineEnd::Lf));
    assert_eq!((taken.delimiter, taken.names_row, taken.first_row), (Delimiter::Comma, Some(1), 2));
    assert_eq!(taken.channel.unit_from, Origin::Assumed);
    assert_eq!((taken.channel.number, taken.channel.by), (2, ChosenBy::Name));
}

#[test]
fn carolfire_has_two_channels_and_a_negative_start() {
    let file = "traces/CAROLFIRE_PT_64.csv";
    refused(file, &ImportOptions::default(), "2 `Shroud`, or 3 `Cable 1`");
    let cable =
        Expected { length: 962, at: (-104.0, 857.0), celsius: (26.2, 275.0), highest: 719.4 };
    check(file, &channel("Cable 1"), &cable);
    check(file, &channel("3"), &cable);
    refused(file, &channel("Cable 2"), "there is no column `Cable 2`");
    refused(file, &channel("Time"), "it holds the time");
}

#[test]
fn sp_ast_has_59_channels_and_uneven_steps() {
    let file = "traces/SP_AST_Test_2_exp.csv";
    refused(file, &ImportOptions::default(), "columns are named like temperatures");
    let imported = import(open(file), &channel("C42-QT2")).unwrap();
    assert_eq!(imported.taken_for.columns, 60);
    let second = imported.trace.point(1);
    assert_eq!((second.at.seconds(), second.temperature.celsius()), (10.8, 27.0));
}

#[test]
fn delco_has_a_row_of_units_and_mixed_quantities() {
    let file = "traces/DelCo_Trainers_Test_6.csv";
    refused(file, &ImportOptions::default(), "59 columns hold temperatures: 37 `TC_A10_1` in °C");
    refused(file, &channel("HF_A1"), "its unit is one of another quantity");
    let imported = import(open(file), &channel("TC_A10_1")).unwrap();
    let taken = &imported.taken_for;
    assert_eq!((taken.names_row, taken.units_row, taken.first_row), (Some(1), Some(2), 3));
    assert_eq!(taken.counts.rows, 171);
    assert_eq!(imported.trace.point(0).temperature.celsius().to_bits(), 57.6_f64.to_bits());
    let TimeTaken::Number { unit_from, .. } = &taken.time else { panic!("{:?}", taken.time) };
    assert_eq!(*unit_from, Origin::Stated);
}

#[test]
fn header_blocks_without_temperatures_are_told_so() {
    refused(
        "dialects/lvm_short.lvm",
        &ImportOptions::default(),
        "no column holds a temperature; the file has 2 `Excitation (Trigger)` in Newtons, \
         3 `Response (Trigger)` in m/s^2",
    );
}

#[test]
fn header_blocks_state_the_step_of_time() {
    let options =
        ImportOptions { unit: Some(TemperatureUnit::Celsius), ..channel("Excitation (Trigger)") };
    let expected = Expected {
        length: 10,
        at: (0.0, 9.0 * 3.906_25e-5),
        celsius: (0.914_018, 0.680_572),
        highest: 1.046_658,
    };
    let imported = check("dialects/lvm_short.lvm", &options, &expected);
    assert_eq!(imported.taken_for.header_blocks, 2);
    assert_eq!(imported.taken_for.channel.decimal, Decimal::Comma);
    assert_eq!(imported.taken_for.time, TimeTaken::Stepped { step_seconds: 3.906_25e-5 });
}

#[test]
fn a_column_of_comments_is_left_alone() {
    let expected = Expected {
        length: 9,
        at: (0.0, 9.723_275),
        celsius: (5.479_238, 5.407_475),
        highest: 5.619_287,
    };
    let imported = check("dialects/lvm_with_comments.lvm", &ImportOptions::default(), &expected);
    let taken = imported.taken_for;
    assert_eq!(taken.encoding, Encoding::Latin1);
    assert_eq!(taken.channel.name, "Temperatura");
    assert_eq!((taken.channel.unit, taken.channel.by), (TemperatureUnit::Celsius, ChosenBy::Unit));
}

#[test]
fn air_quality_has_dates_decimal_commas_and_a_code() {
    let file = "dialects/AirQualityUCI_semicolon_decimalcomma.csv";
    refused(file, &ImportOptions::default(), "-200 °C stands in 366 rows (first in row 526)");
    let options = ImportOptions {
        missing_codes: MissingCodes::Stated(vec![-200.0]),
        ..ImportOptions::default()
    };
    // From 2004-03-10 18:00 to 2005-04-04 14:00 are 389 days and 20 hours.
    let expected = Expected {
        length: 9357 - 366,
        at: (0.0, (389.0 * 24.0 + 20.0) * 3600.0),
        celsius: (13.6, 28.5),
        highest: 44.6,
    };
    let taken = check(file, &options, &expected).taken_for;
    assert_eq!((taken.delimiter, taken.line_end), (Delimiter::Semicolon, LineEnd::CrLf));
    assert_eq!((taken.channel.name.as_str(), taken.channel.number), ("T", 13));
    assert_eq!(taken.channel.decimal, Decimal::Comma);
    assert_eq!(taken.counts.code, 366);
    let TimeTaken::Clock { first, date_order, .. } = &taken.time else {
        panic!("{:?}", taken.time)
    };
    assert_eq!((first.as_str(), *date_order), ("10/03/2004 18.00.00", Some(DateOrder::DayFirst)));
}

#[test]
fn tables_that_are_no_trace_are_told_so() {
    let none = ImportOptions::default();
    let told = "this table is no logger's trace";
    refused("dialects/messytables_mixedGLB.csv", &none, told);
    refused("dialects/messytables_utf-16le_encoded.csv", &none, told);
    refused("dialects/messytables_utf-16le_encoded.csv", &none, "2 `Organisation_name`");
    for letter in ["b", "e", "j", "k", "n", "r", "s", "t"] {
        let error = import(open(&format!("tables/type_{letter}.tab")), &none).unwrap_err();
        assert!(!matches!(error, ImportError::Trace(_)), "{error}");
    }
}

#[test]
fn smoke_alarms_has_gases_that_are_no_temperatures() {
    let file = "dialects/NIST_Smoke_Alarms_SDC07.csv";
    let error = import(open(file), &ImportOptions::default()).unwrap_err();
    let ImportError::Ask(question) = &error else { panic!("{error}") };
    assert_eq!(question.choices.len(), 45);
    assert!(question.choices.iter().all(|choice| choice.contains("`TC")), "{question}");
    let expected = Expected { length: 120, at: (1.0, 239.0), celsius: (25.4, 89.9), highest: 89.9 };
    check(file, &channel("TCA_1"), &expected);
}

#[test]
fn remarks_between_rows_are_passed_over_even_above_the_first() {
    let file = "time (s),Block (°C),raw\n# 0.1 s, not used: 9,296\n0.2,23.5,a\n\
                # 0.3 s, silence: none came\n0.4,24.5,\"b,c\"\n0.6,25.5,\n";
    let imported = import(file.as_bytes(), &ImportOptions::default()).unwrap();
    let celsius: Vec<f64> = imported.trace.points().map(|it| it.temperature.celsius()).collect();
    assert_eq!(celsius, [23.5, 24.5, 25.5]);
    assert_eq!(
        (imported.taken_for.channel.name.as_str(), imported.taken_for.counts.comments),
        ("Block", 1)
    );
}
