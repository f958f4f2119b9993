//! Rise times of loggers' files that anyone can work out on paper, beside what is read from them here
//! and now: 600 K divided by the slope.

use std::fmt::Write as _;

use metrology::reference_cases::ReferenceCase;
use metrology::{Temperature, ThermocoupleType};

use crate::import::{ImportOptions, Wire, import};
use crate::{Circumstances, SensorUncertainty, Window, rise_time};

/// Readings a second in these files.
const RATE: u32 = 10;

/// How a file writes what it holds.
struct Written {
    head: &'static str,
    cells: &'static str,
    decimal: &'static str,
    /// Units of its time in a second.
    time: f64,
    /// What it writes for a temperature in °C.
    value: fn(f64) -> f64,
}

/// The cases: one file each.
pub(crate) fn cases() -> Vec<ReferenceCase> {
    let plain = || Written {
        head: "Time (s);Block (C)",
        cells: ";",
        decimal: ".",
        time: 1.0,
        value: |celsius| celsius,
    };
    let fahrenheit =
        Written { head: "Time (s);Block (F)", value: |celsius| celsius * 1.8 + 32.0, ..plain() };
    let kelvin =
        Written { head: "Time (s);Block (K)", value: |celsius| celsius + 273.15, ..plain() };
    let comma = Written { decimal: ",", ..plain() };
    let minutes = Written { head: "Time (min),Block (C)", cells: ",", time: 1.0 / 60.0, ..plain() };
    let tabs = Written { head: "Time (ms)\tBlock (C)", cells: "\t", time: 1000.0, ..plain() };
    let steady = |slope: f64| move |second: f64| 20.0 + slope * second;
    // 20 K/s up to 400 °C, which is reached after 19 s; 30 K/s from there on.
    let bent = |second: f64| 20.0 + 20.0 * second + 10.0 * (second - 19.0).max(0.0);
    let at_rest = |second: f64| 20.0 + 25.0 * (second - 30.0).max(0.0);
    vec![
        case("25 K/s", &plain(), steady(25.0), 24.0),
        case("24 K/s", &plain(), steady(24.0), 25.0),
        case("30 K/s", &plain(), steady(30.0), 20.0),
        case("600 K in 23.5 s", &plain(), steady(600.0 / 23.5), 23.5),
        case("600 K in 22.5 s", &plain(), steady(600.0 / 22.5), 22.5),
        case("600 K in 24.5 s", &plain(), steady(600.0 / 24.5), 24.5),
        case("20 K/s to 400 °C, then 30 K/s", &plain(), bent, 25.0),
        case("25 K/s after 30 s at rest", &plain(), at_rest, 24.0),
        case("25 K/s in °F", &fahrenheit, steady(25.0), 24.0),
        case("25 K/s in K", &kelvin, steady(25.0), 24.0),
        case("25 K/s with decimal commas", &comma, steady(25.0), 24.0),
        case("25 K/s with minutes", &minutes, steady(25.0), 24.0),
        case("25 K/s with milliseconds", &tabs, steady(25.0), 24.0),
    ]
}

fn case(
    name: &str,
    written: &Written,
    celsius_at: impl Fn(f64) -> f64,
    theirs: f64,
) -> ReferenceCase {
    ReferenceCase {
        name: format!("file of a logger: {name}"),
        source: "by hand: 600 K divided by the slope",
        unit: "s",
        ours: read(written, celsius_at).unwrap_or(f64::NAN),
        theirs,
        // The file has six decimals.
        tolerance: 1e-6,
        remark: None,
    }
}

/// Writes the file and reads it; `None` if no value comes of it.
fn read(written: &Written, celsius_at: impl Fn(f64) -> f64) -> Option<f64> {
    let mut file = format!("{}\n", written.head);
    for number in 0..100 * RATE {
        let second = f64::from(number) / f64::from(RATE);
        let celsius = celsius_at(second);
        if celsius > 730.0 {
            break;
        }
        let cells = [second * written.time, (written.value)(celsius)];
        let cells = cells.map(|cell| format!("{cell:.9}").replace('.', written.decimal));
        writeln!(file, "{}", cells.join(written.cells)).ok()?;
    }
    let imported = import(file.as_bytes(), &ImportOptions::default()).ok()?;
    let celsius = Temperature::from_celsius;
    let window = Window::new(celsius(100.0), celsius(700.0)).ok()?;
    let known = Circumstances::default();
    let found = rise_time(&imported.trace, window, SensorUncertainty::NONE, &known).ok()?;
    Some(found.value.value.seconds())
}

/// Millivolts of a type K thermocouple whose terminals are at 0 °C, as temperatures: the table of
/// NIST SRD 60 read backwards, through a file.
pub(crate) fn millivolts() -> Vec<ReferenceCase> {
    let table = [(4.096, 100.0), (16.397, 400.0), (20.644, 500.0), (29.129, 700.0)];
    let read = |millivolt: f64| {
        let file = format!("Time (s),Block (mV)\n0,0.798\n1,{millivolt}\n");
        let junction = Temperature::from_celsius(0.0);
        let wire = Some(Wire { letter: ThermocoupleType::K, junction });
        let imported = import(file.as_bytes(), &ImportOptions { wire, ..ImportOptions::default() });
        let trace = imported.ok()?.trace;
        trace.points().last().map(|point| point.temperature.celsius())
    };
    let case = |(millivolt, theirs): (f64, f64)| ReferenceCase {
        name: format!("file of a logger: {millivolt} mV of type K"),
        source: "NIST SRD 60, table of type K, read backwards",
        unit: "°C",
        ours: read(millivolt).unwrap_or(f64::NAN),
        theirs,
        // Half a unit of the table's last digit, by 41 µV/K at least.
        tolerance: 0.0005 / 0.039,
        remark: None,
    };
    table.map(case).to_vec()
}
