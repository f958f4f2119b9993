//! Files that are broken, mislabelled or meant to harm: a clear sentence, and nothing imported.

use std::io::{self, Read};

use bolero::check;
use metrology::ThermocoupleType;
use reading::import::{
    ChannelChoice, DateOrder, Delimiter, ImportError, ImportOptions, Limits, MissingCodes,
    TemperatureUnit, Wire, import,
};

fn refused(file: impl AsRef<[u8]>, told: &str) -> ImportError {
    refused_with(file, &ImportOptions::default(), told)
}

fn refused_with(file: impl AsRef<[u8]>, options: &ImportOptions, told: &str) -> ImportError {
    let error = match import(file.as_ref(), options) {
        Ok(imported) => panic!("taken for: {}", imported.taken_for),
        Err(error) => error,
    };
    let text = error.to_string();
    assert!(text.contains(told), "`{told}` is not in: {text}");
    error
}

fn taken(file: &str) -> String {
    import(file.as_bytes(), &ImportOptions::default()).unwrap().taken_for.to_string()
}

#[test]
fn files_of_other_kinds_are_named() {
    refused("", "the file is empty");
    refused(b"\x89PNG\r\n\x1a\n....", "a PNG picture");
    refused(b"%PDF-1.7\n", "a PDF document");
    refused(b"\0\0\0\x18ftypmp42", "an MP4 film");
    let workbook = refused(b"PK\x03\x04......[Content_Types].xml", "an office workbook");
    assert!(workbook.hint().unwrap().contains("CSV"));
    let zip = refused(b"PK\x03\x04......logger.csv", "a zip archive");
    assert!(zip.hint().unwrap().contains("Unpack it first"));
    let gzip = refused(b"\x1f\x8b\x08\0\0\0", "a gzip archive");
    assert!(gzip.hint().unwrap().contains("Unpack it first"));
    refused(b"\x01\x02\x00\x03\x04", "NUL byte");
    refused("\n\n \n", "no table");
    refused("a letter to the laboratory\nwith best regards\n", "no table");
    refused("{\"readings\": [1, 2, 3]}\n", "no table");
}

#[test]
fn a_nul_byte_far_inside_names_its_row() {
    let mut file = b"Time (s),T (C)\n".to_vec();
    for second in 0..60_000 {
        file.extend_from_slice(format!("{second},{}\n", second % 7).as_bytes());
    }
    file.extend_from_slice(b"60000,\x007\n");
    refused(&file, "row 60002 holds a NUL byte");
}

#[test]
fn two_readings_are_asked_and_never_guessed() {
    let error = refused("1,234\n2,345\n3,456\n", "`1,234` can be read in two ways");
    assert_eq!(error.hint().unwrap(), "Decide with the option `delimiter`.");
    refused("T (C)\n20,5\n-1,6\n", "no column is named as the time; there is 1 `T` in °C");
    refused("Time (s);T (C)\n1,5;1,234\n", "no table");
    refused("clock;T (C)\n09:00:00;1,234\n09:00:01;2,345\n", "`1,234` in column 2 `T` in °C");
    refused("0,25,1,26,5\n", "no table");
    refused("Time,T\n0,25,26,1\n1,25,27,2\n", "can be read in two ways");
    refused("1,20.5\n2,20.6\n3,20.7\n", "the first column has no name and counts 1, 2, 3");
    refused("T (C)\n20.5\n20.6\n", "no column is named as the time");
    refused("Time (s),T\n0,293.1\n1,294.0\n", "has no unit and begins with 293.1");
    refused("Time (s),T1 (C),T2 (C)\n0,1,2\n1,2,3\n", "2 columns hold temperatures");
    refused("Time (s),T (C)\n0,20\n1,-200\n2,21\n", "-200 °C stands in 1 row (first in row 3)");
    let dates = "Date;Clock;T (C)\n10/03/2004;18:00:00;20\n11/03/2004;18:00:00;21\n";
    refused(dates, "`10/03/2004` can be read in two ways, and the times differ");
    let options =
        ImportOptions { date_order: Some(DateOrder::MonthFirst), ..ImportOptions::default() };
    let month_first = import(dates.as_bytes(), &options).unwrap();
    assert_eq!(month_first.trace.point(1).at.seconds().to_bits(), (31.0_f64 * 86_400.0).to_bits());
    refused("Time (s),T (mV)\n0,0.8\n1,0.9\n", "mV");
}

#[test]
fn one_date_needs_no_question() {
    let text = taken("Date;Clock;T (C)\n10/03/2004;18:00:00;20\n10/03/2004;18:00:01;21\n");
    assert!(text.contains("0 s being `10/03/2004 18:00:00`"), "{text}");
}

#[test]
fn bad_rows_are_named_and_the_first_20_shown() {
    let mut file = "Time (s),T (C)\n".to_owned();
    for second in 0..100 {
        let value = if second % 3 == 2 { "warm".to_owned() } else { second.to_string() };
        file.push_str(&format!("{second},{value}\n"));
    }
    let error = refused(&file, "33 rows cannot be read (the first 20 follow)");
    let text = error.to_string();
    assert!(text.contains("\n  row 4, column 2 `T` in °C: `warm` is no number"), "{text}");
    assert_eq!(text.lines().count(), 21);
    refused("Time (s),T (C)\n0,20\n1,21\n2\n3,22\n", "row 4: it has 1 cells, and the table has 2");
    refused("Time (s),T (C)\n0,20\n1,21\n2,21,5\n3,22\n", "row 4: it has 3 cells");
    refused("Time (s),T (C)\n0,20\n1,21\n2,\"21\n3,22\n", "a quote is opened and not closed");
    refused("Time (s),T (C)\n0,2x0\n1,21\n2,22\n3,22\n", "row 2, column 2 `T` in °C: `2x0`");
}

#[test]
fn time_that_stands_or_runs_backwards_is_named() {
    refused("Time (s),T (C)\n0,20\n1,21\n1,22\n2,23\n", "row 4: the time 1 s stands twice");
    refused("Time (s),T (C)\n0,20\n\n2,21\n1,22\n", "row 5: the time goes from 2 s back to 1 s");
    let text = taken("Time (s),T (C)\n0,20\n1,21\n1,21\n2,23\n");
    assert!(text.contains("1 row written twice and counted once"), "{text}");
    let autumn = "stamp,T (C)\n2004-10-31 02:59:59,20\n2004-10-31 02:00:00,21\n\
                  2004-10-31 02:00:01,22\n";
    let error = refused(autumn, "row 3: the time goes");
    assert!(error.hint().unwrap().contains("doubled hour of autumn"));
    let text = taken("clock,T (C)\n23:59:59,20\n00:00:00,21\n00:00:01,22\n");
    assert!(text.contains("the clock passes midnight once"), "{text}");
}

#[test]
fn words_for_nothing_are_counted_and_told() {
    let text = taken("Time (s),T (C)\n0,20\n1,NaN\n2,OL\n3,\n4,1e30\n5,21\nTime (s),T (C)\n6,22\n");
    for told in ["2 rows without a value", "2 rows with an open circuit", "1 row of names"] {
        assert!(text.contains(told), "{text}");
    }
    let options = ImportOptions {
        missing_codes: MissingCodes::Stated(vec![9999.0]),
        ..ImportOptions::default()
    };
    let file = "Time (s),T (C)\n0,20\n1,9999\n2,21\n";
    assert_eq!(import(file.as_bytes(), &options).unwrap().taken_for.counts.code, 1);
    refused("Time (s),T (C)\n0,20\n1,-400\n2,21\n", "-400 °C lies below absolute zero");
}

#[test]
fn limits_hold() {
    let rows: String = (0..50).map(|second| format!("{second},20\n")).collect();
    let file = format!("Time (s),T (C)\n{rows}");
    let with = |limits| ImportOptions { limits, ..ImportOptions::default() };
    let own = Limits::own_disk();
    refused_with(&file, &with(Limits { bytes: 100, ..own }), "more than 100 bytes");
    refused_with(&file, &with(Limits { rows: 20, ..own }), "more than 20 rows");
    let wide = format!("{}\n", vec!["1"; 300].join(",")).repeat(3);
    refused_with(wide, &with(own), "more than 256 columns");
    let long = format!("{file}50,{}20\n51,21\n", " ".repeat(70_000) + &"0".repeat(70_000));
    refused_with(long, &with(own), "row 52 has a cell of more than 64000 bytes");
}

#[test]
fn options_decide() {
    let with = |options: ImportOptions, file: &str| import(file.as_bytes(), &options).unwrap();
    let none = ImportOptions::default;
    let counted =
        with(ImportOptions { rate_per_second: Some(10.0), ..none() }, "T (C)\n20.5\n20.6\n20.7\n");
    assert_eq!(counted.trace.point(2).at.seconds().to_bits(), 0.2_f64.to_bits());
    let single = with(
        ImportOptions {
            rate_per_second: Some(1.0),
            delimiter: Some(Delimiter::Nothing),
            decimal: Some(reading::import::Decimal::Comma),
            ..none()
        },
        "1,234\n2,345\n",
    );
    assert_eq!(single.trace.point(1).temperature.celsius().to_bits(), 2.345_f64.to_bits());
    let kelvin = with(
        ImportOptions { unit: Some(TemperatureUnit::Kelvin), ..none() },
        "Time (s),T\n0,293.15\n1,373.15\n",
    );
    assert_eq!(kelvin.trace.point(1).temperature.celsius().to_bits(), 100.0_f64.to_bits());
    let skipped = with(
        ImportOptions { skip_rows: 2, channel: Some(ChannelChoice::Number(2)), ..none() },
        "1,2\n3,4\nTime (min),T (F)\n0,32\n1,212\n",
    );
    let last = skipped.trace.point(1);
    assert_eq!((last.at.seconds(), last.temperature.celsius()), (60.0, 100.0));
}

/// NIST SRD 60, table of type K: 29.129 mV at 700 °C, 0.798 mV at 20 °C, junction at 0 °C.
#[test]
fn nist_type_k_millivolts_become_a_temperature() {
    let file = "Time (s),T (mV)\n0,0.798\n1,29.129\n";
    let wire =
        Wire { letter: ThermocoupleType::K, junction: metrology::Temperature::from_celsius(0.0) };
    let options = ImportOptions { wire: Some(wire), ..ImportOptions::default() };
    let imported = import(file.as_bytes(), &options).unwrap();
    let celsius: Vec<f64> = imported.trace.points().map(|it| it.temperature.celsius()).collect();
    assert!((celsius[0] - 20.0).abs() < 0.02 && (celsius[1] - 700.0).abs() < 0.02, "{celsius:?}");
    let told = imported.taken_for.to_string();
    assert!(told.contains("in mV of a type K thermocouple with its junction at 0 °C"), "{told}");
    refused_with("Time (s),T (V)\n0,0.8\n1,0.9\n", &options, "row 2: 0.8 V is no reading of the");
    refused("Time (s),T (mV)\n0,0.8\n1,0.9\n", "no column holds a temperature");
}

/// A file that never ends.
struct Endless(u64);

impl Read for Endless {
    fn read(&mut self, into: &mut [u8]) -> io::Result<usize> {
        let row = format!("{},20\n", self.0);
        let head: &[u8] = if self.0 == 0 { b"Time (s),T (C)\n" } else { row.as_bytes() };
        self.0 += 1;
        let count = head.len().min(into.len());
        into[..count].copy_from_slice(&head[..count]);
        Ok(count)
    }
}

#[test]
fn a_file_without_end_meets_the_limit_of_bytes() {
    let limits = Limits { bytes: 300_000, ..Limits::upload() };
    let options = ImportOptions { limits, ..ImportOptions::default() };
    let error = import(Endless(0), &options).unwrap_err();
    assert!(error.to_string().contains("more than 300000 bytes"), "{error}");
}

/// The first part of a real file, so that fuzzing begins with something that is nearly right.
const REAL: [&[u8]; 4] = [
    include_bytes!("../../../open-data/dialects/lvm_with_comments.lvm"),
    include_bytes!("../../../open-data/dialects/lvm_short.lvm"),
    include_bytes!("../../../open-data/traces/Plate_TC_25_exp.csv"),
    b"Date;Clock;T (C)\r\n10/03/2004;18.00.00;\"20,5\"\r\n10/03/2004;18.00.01;21\r\n",
];

/// Changes a real file at some places: each edit is a place, what to do there, and a byte.
fn mutated(which: u8, edits: &[(u16, u8, u8)]) -> Vec<u8> {
    let mut file = REAL[usize::from(which) % REAL.len()].to_vec();
    for (place, deed, byte) in edits {
        let place = usize::from(*place) % file.len().max(1);
        match deed % 4 {
            0 if !file.is_empty() => file[place] = *byte,
            1 => file.insert(place.min(file.len()), *byte),
            2 => file.truncate(place.max(1)),
            _ => drop(file.drain(place..(place + 7).min(file.len()))),
        }
    }
    file
}

/// A message says what and where; it is never empty and never longer than a page.
fn sane(file: &[u8], options: &ImportOptions) {
    match import(file, options) {
        Ok(imported) => {
            assert!(imported.trace.len() <= file.len());
            assert!(!imported.taken_for.to_string().is_empty());
        }
        Err(error) => {
            let text = error.to_string();
            assert!(!text.is_empty() && text.len() < 200_000, "{text}");
            drop(error.hint());
        }
    }
}

#[test]
fn fuzz_random_bytes_never_panic() {
    check!().for_each(|file: &[u8]| sane(file, &ImportOptions::default()));
}

#[test]
fn fuzz_changed_real_files_never_panic() {
    check!().with_type::<(u8, Vec<(u16, u8, u8)>, bool)>().for_each(|(which, edits, rate)| {
        let options = ImportOptions {
            rate_per_second: rate.then_some(10.0),
            channel: rate.then_some(ChannelChoice::Number(2)),
            ..ImportOptions::default()
        };
        sane(&mutated(*which, edits), &options);
    });
}
