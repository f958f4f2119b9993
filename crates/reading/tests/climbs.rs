//! Traces that have no single rise time, traces that just have one, and what may not matter.

use std::fs::File;
use std::path::PathBuf;

use metrology::Duration;
use proptest::prelude::*;
use reading::import::{ChannelChoice, ImportOptions, MissingCodes, import};
use reading::{
    Circumstances, CrossingMethod, Point, RiseTime, RiseTimeError, SensorUncertainty, Trace,
    rise_time,
};

use crate::made::{Logger, point, settings, trace, window};

fn read(trace: &Trace) -> Result<RiseTime, RiseTimeError> {
    rise_time(trace, window(), SensorUncertainty::NONE, &Circumstances::default())
}

fn seconds(found: &RiseTime) -> f64 {
    found.value.value.seconds()
}

/// A climb of 25 K a second from 20 °C up to `highest`, ten readings a second, then a fall to 20 °C.
fn up_and_down(from: f64, highest: f64) -> Vec<Point> {
    let up = (highest - 20.0) / 25.0;
    (0..)
        .map(|number| f64::from(number) / 10.0)
        .map(|at| (at, if at <= up { 20.0 + 25.0 * at } else { highest - 25.0 * (at - up) }))
        .take_while(|(_, celsius)| *celsius >= 20.0)
        .map(|(at, celsius)| point(from + at, celsius))
        .collect()
}

fn refused(points: &[Point]) -> Vec<String> {
    let error = read(&trace(points)).unwrap_err();
    let tell =
        |finding: &reading::RiseTimeFinding| format!("{}: {}", finding.kind.name(), finding.text);
    error.findings.iter().map(tell).collect()
}

#[test]
fn heating_and_cooling_in_one_file_is_one_rise() {
    let found = read(&trace(&up_and_down(0.0, 750.0))).unwrap();
    assert!((seconds(&found) - 24.0).abs() < 1e-9, "{found:?}");
    assert_eq!(found.start.method, CrossingMethod::LineThroughNear);
    assert!((found.readings_per_second - 10.0).abs() < 0.1);
}

#[test]
fn two_determinations_in_one_file_are_told_and_each_can_be_chosen() {
    let points: Vec<Point> =
        up_and_down(0.0, 750.0).into_iter().chain(up_and_down(100.0, 720.0)).collect();
    let told = "climbs-more-than-once: The trace climbs through 700.0 °C 2 times: at 27.20 s, \
                127.20 s.";
    assert_eq!(refused(&points), [told]);
    for (from, to) in [(0.0, 90.0), (90.0, 200.0)] {
        let part = Some((Duration::from_seconds(from), Duration::from_seconds(to)));
        let known = Circumstances { part, ..Circumstances::default() };
        let found = rise_time(&trace(&points), window(), SensorUncertainty::NONE, &known).unwrap();
        assert!((seconds(&found) - 24.0).abs() < 1e-9);
    }
    let part = Some((Duration::from_seconds(500.0), Duration::from_seconds(600.0)));
    let known = Circumstances { part, ..Circumstances::default() };
    let error = rise_time(&trace(&points), window(), SensorUncertainty::NONE, &known).unwrap_err();
    assert_eq!(error.findings[0].kind.name(), "empty-part");
}

#[test]
fn a_first_try_that_did_not_reach_the_top_is_a_second_climb_through_the_bottom() {
    let points: Vec<Point> =
        up_and_down(0.0, 400.0).into_iter().chain(up_and_down(100.0, 720.0)).collect();
    let told = "climbs-more-than-once: The trace climbs through 100.0 °C 2 times: at 3.20 s, \
                103.20 s.";
    assert_eq!(refused(&points), [told]);
}

#[test]
fn a_trace_that_starts_inside_or_never_reaches_is_told_with_its_numbers() {
    let late: Vec<Point> =
        up_and_down(0.0, 750.0).into_iter().filter(|found| found.at.seconds() > 5.0).collect();
    let told = "starts-inside: The trace starts at 147.5 °C at 5.10 s, not below 100.0 °C.";
    assert_eq!(refused(&late), [told]);
    let told = "never-reaches: The trace peaks at 699.9 °C at 27.20 s and never reaches 700.0 °C.";
    let mut low = up_and_down(0.0, 750.0);
    low.retain(|found| found.at.seconds() < 27.25);
    low.last_mut().unwrap().temperature = point(0.0, 699.9).temperature;
    assert_eq!(refused(&low), [told]);
}

#[test]
fn a_recording_that_begins_while_the_block_cools_is_one_rise() {
    let cooling = (0..200).map(|number| {
        let at = f64::from(number) / 10.0;
        point(at - 20.0, 300.0 - 13.9 * at)
    });
    let points: Vec<Point> = cooling.chain(up_and_down(0.0, 750.0)).collect();
    assert!((seconds(&read(&trace(&points)).unwrap()) - 24.0).abs() < 1e-9);
}

#[test]
fn reaching_the_top_exactly_is_reaching_it() {
    let mut points = up_and_down(0.0, 700.0);
    let found = read(&trace(&points)).unwrap();
    assert!((seconds(&found) - 24.0).abs() < 1e-9, "{found:?}");
    // A recording that stops there is one as well.
    points.retain(|found| found.at.seconds() < 27.25);
    assert!((seconds(&read(&trace(&points)).unwrap()) - 24.0).abs() < 1e-9);
}

/// Slow and noisy: the readings pass 100 °C several times within a few seconds, by 2 K or so.
#[test]
fn jitter_about_a_limit_is_one_climb() {
    let jitter = [0.0, 1.9, -2.2, 1.4, -1.6, 2.5, -2.4, 0.3];
    let points: Vec<Point> = (0..6000)
        .map(|number| f64::from(number) / 5.0)
        .zip(jitter.iter().cycle())
        .map(|(at, jitter)| point(at, 20.0 + at + jitter))
        .collect();
    let found = read(&trace(&points)).unwrap();
    assert!((seconds(&found) - 600.0).abs() < 3.0 * found.value.uncertainty.seconds());
    assert!(found.value.uncertainty > Duration::from_seconds(0.1));
}

#[test]
fn too_few_readings_are_told() {
    let points = [point(0.0, 20.0), point(10.0, 400.0), point(20.0, 800.0)];
    let told = |limit: &str| {
        format!(
            "too-few-readings: Too few readings lie around {limit} °C to place the climb through \
             it."
        )
    };
    assert_eq!(refused(&points), [told("100.0"), told("700.0")]);
}

#[expect(clippy::disallowed_methods, reason = "tests read files")]
fn channel(file: &str, name: &str) -> Trace {
    let path = PathBuf::from(env!("CARGO_MANIFEST_DIR")).join("../../open-data/traces").join(file);
    let options = ImportOptions {
        channel: Some(ChannelChoice::from(name)),
        missing_codes: MissingCodes::Stated(Vec::new()),
        ..ImportOptions::default()
    };
    let unit = Some(reading::import::TemperatureUnit::Celsius);
    let time_unit = Some(reading::import::TimeUnit::Seconds);
    let options = ImportOptions { unit, time_unit, ..options };
    import(File::open(path).unwrap(), &options).unwrap().trace
}

/// By eye: the highest value of the file is 481.6 °C, first at 1065 s.
#[test]
fn the_plate_never_reaches_700_degrees() {
    let made = channel("Plate_TC_25_exp.csv", "Temp");
    let error = read(&made).unwrap_err();
    assert_eq!(error.findings.len(), 1, "{error}");
    let told = "The trace peaks at 481.6 °C at 1065.00 s and never reaches 700.0 °C.";
    assert_eq!(error.findings[0].text, told);
}

/// By eye: at 561 s the column reads 700 exactly for the first time. Readings are a second apart.
#[test]
fn carolfire_touches_700_degrees_on_a_reading() {
    let made = channel("CAROLFIRE_PT_64.csv", "Cable 1");
    let found = read(&made).unwrap();
    assert!((found.end.at.seconds() - 561.0).abs() < 0.5, "{:?}", found.end);
    assert!(found.end.from_scatter < Duration::from_seconds(0.5), "{:?}", found.end);
    assert!(found.faults.is_empty(), "{:?}", found.faults);
}

/// By eye: QT1 goes 43, 325, 597, 643 in steps of 10 s and reaches 700 °C much later after
/// falls of more than 20 K: no rise time, and neither an open wire nor a spike nor a gap.
#[test]
fn slow_steps_are_no_faults() {
    let error = read(&channel("SP_AST_Test_2_exp.csv", "C41-QT1")).unwrap_err();
    let kinds: Vec<&str> = error.findings.iter().map(|finding| finding.kind.name()).collect();
    assert_eq!(kinds, ["not-monotonic"], "{error}");
    let found = read(&channel("SP_AST_Test_2_exp.csv", "C21-PT1")).unwrap();
    assert_eq!(found.start.method, CrossingMethod::BetweenTwo);
    assert!(found.faults.is_empty(), "{:?}", found.faults);
}

/// By an independent count over the file: 700 °C is reached at 110, 640 and 1150 s with falls
/// of more than 10 K below it in between.
#[test]
fn delco_passes_700_degrees_three_times() {
    let error = read(&channel("DelCo_Trainers_Test_6.csv", "TC_A2_1")).unwrap_err();
    let told = "The trace climbs through 700.0 °C 3 times: at 110.00 s, 640.00 s, 1150.00 s.";
    assert_eq!(error.findings.last().unwrap().text, told);
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(64))]

    /// Another zero of the clock moves both crossings alike.
    #[test]
    fn another_zero_of_time_changes_nothing(seed in 0_u64..1000, shift in -1e5_f64..1e5) {
        let points = Logger::at(10.0).read(&settings()[2].curve(), seed);
        let moved: Vec<Point> = points
            .iter()
            .map(|found| point(found.at.seconds() + shift, found.temperature.celsius()))
            .collect();
        let (one, other) = (read(&trace(&points)).unwrap(), read(&trace(&moved)).unwrap());
        prop_assert!((seconds(&one) - seconds(&other)).abs() < 1e-7);
        prop_assert!((other.start.at.seconds() - one.start.at.seconds() - shift).abs() < 1e-7);
    }

    /// A climb at another pace takes as much longer, where a line fits at either pace.
    #[test]
    fn a_straight_climb_takes_the_window_over_its_slope(
        slope in 8.0_f64..60.0,
        phase in 0.0_f64..0.2,
        rate in 5.0_f64..50.0,
    ) {
        let points: Vec<Point> = (0..)
            .map(|number| phase + f64::from(number) / rate)
            .map(|at| point(at, 20.0 + slope * at))
            .take_while(|found| found.temperature.celsius() < 800.0)
            .collect();
        let found = read(&trace(&points)).unwrap();
        prop_assert!((seconds(&found) - 600.0 / slope).abs() < 1e-9);
    }

    /// Readings long before and long after the climb change no bit.
    #[test]
    fn readings_far_away_change_nothing(seed in 0_u64..1000, more in 1_usize..200) {
        let points = Logger::at(10.0).read(&settings()[0].curve(), seed);
        let first = points[0].at.seconds();
        let before = (1..=more).rev().map(|number| point(first - number as f64 / 10.0, 23.0));
        let last = points[points.len() - 1].at.seconds();
        let after = (1..=more).map(|number| {
            let at = number as f64 / 10.0;
            point(last + at, 760.0 - 3.0 * at)
        });
        let longer: Vec<Point> = before.chain(points.iter().copied()).chain(after).collect();
        let (one, other) = (read(&trace(&points)).unwrap(), read(&trace(&longer)).unwrap());
        prop_assert_eq!(one.value, other.value);
        prop_assert_eq!((one.start, one.end), (other.start, other.end));
    }

    /// Nothing that a trace can hold makes the reading panic, or give a number that is none.
    #[test]
    fn any_trace_gives_a_rise_or_its_reasons(
        values in prop::collection::vec(-300.0_f64..1500.0, 2..80),
        step in 0.01_f64..20.0,
        round in any::<bool>(),
    ) {
        let points: Vec<Point> = values
            .iter()
            .enumerate()
            .map(|(number, value)| {
                point(number as f64 * step, if round { (value / 100.0).round() * 100.0 } else { *value })
            })
            .collect();
        match read(&trace(&points)) {
            Ok(found) => prop_assert!(
                seconds(&found) > 0.0 && found.value.uncertainty.seconds().is_finite()
            ),
            Err(error) => prop_assert!(!error.findings.is_empty()),
        }
    }
}
