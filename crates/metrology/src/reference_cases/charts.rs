//! Control charts: the worked examples of a handbook, and tables of run lengths.

use super::{Group, ReferenceCase};
use crate::control_chart::{
    BaseLine, CusumRule, EwmaRule, Side, cusum, cusum_run_length, ewma, ewma_run_length,
    individuals_run_length,
};
use crate::quantity::{Duration, Ratio};

/// Of an average moving range to sigma: what tables print in place of 2/√π.
const ROUNDED_DIVISOR: &str = "the source divides the mean moving range by 1.128, and this by \
    2/√π = 1.12838; the tolerance allows for that";

pub(super) fn cases() -> Vec<ReferenceCase> {
    let mut cases = individuals();
    cases.extend(weighted());
    cases.extend(sums());
    cases.extend(piston_rings());
    cases.extend(run_lengths());
    cases
}

/// A quantity to chart; the examples are of lengths and viscosities, and the charts do not mind.
fn series(values: &[f64]) -> Vec<Duration> {
    values.iter().copied().map(Duration::from_seconds).collect()
}

fn base(centre: f64, sigma: f64) -> BaseLine<Duration> {
    BaseLine { centre: Duration::from_seconds(centre), sigma: Duration::from_seconds(sigma) }
}

fn individuals() -> Vec<ReferenceCase> {
    let handbook = Group {
        source: "NIST/SEMATECH e-Handbook 6.3.2.2 (from memory; arithmetic done again)",
        unit: "1",
    };
    let viscosity = Group { source: "R package qcc 2.7, viscosity (data from memory)", unit: "1" };
    let flow = [49.6, 47.6, 49.9, 51.3, 47.8, 51.2, 52.6, 52.4, 53.6, 52.1];
    let batches = [
        33.75, 33.05, 34.00, 33.81, 33.46, 34.02, 33.68, 33.27, 33.49, 33.20, 33.62, 33.00, 33.54,
        33.12, 33.84,
    ];
    let mut cases = limits_of(&handbook, &flow, (50.81, 45.8159, 55.8041), (5e-3, 2e-3));
    let theirs = (33.523_333_3, 32.244_837_9, 34.801_828_8);
    cases.extend(limits_of(&viscosity, &batches, theirs, (5e-8, 5e-4)));
    cases
}

fn limits_of(
    group: &Group,
    values: &[f64],
    (centre, low, high): (f64, f64, f64),
    (digit, rounded): (f64, f64),
) -> Vec<ReferenceCase> {
    let found = BaseLine::of(&series(values)).unwrap_or_else(|| base(f64::NAN, f64::NAN));
    let limits = found.limits(3.0);
    let by_divisor = |case| ReferenceCase { remark: Some(ROUNDED_DIVISOR), ..case };
    vec![
        group.case("single values, centre", found.centre.seconds(), centre, digit),
        by_divisor(group.case("single values, lower limit", limits.low.seconds(), low, rounded)),
        by_divisor(group.case("single values, upper limit", limits.high.seconds(), high, rounded)),
    ]
}

fn weighted() -> Vec<ReferenceCase> {
    let handbook = Group {
        source: "NIST/SEMATECH e-Handbook 6.3.2.4, as quoted by the tests of an open package",
        unit: "1",
    };
    let exact = Group { source: "R package qcc 2.7, ewma (computed there)", unit: "1" };
    let values = [
        52.0, 47.0, 53.0, 49.3, 50.1, 47.0, 51.0, 50.1, 51.2, 50.5, 49.6, 47.6, 49.9, 51.3, 47.8,
        51.2, 52.6, 52.4, 53.6, 52.1,
    ];
    let theirs = [
        50.60, 49.52, 50.56, 50.18, 50.16, 49.21, 49.75, 49.85, 50.26, 50.33, 50.11, 49.36, 49.52,
        50.05, 49.38, 49.92, 50.73, 51.23, 51.94, 51.99,
    ];
    let rule = EwmaRule { weight: Ratio::from_fraction(0.3), width_sigma: 3.0 };
    let found = ewma(&series(&values), &base(50.0, 2.0539), rule);
    let mut cases: Vec<ReferenceCase> = found
        .iter()
        .zip(theirs)
        .enumerate()
        .map(|(place, (ours, theirs))| {
            let name = format!("weighted mean after {} values", place + 1);
            // The handbook's own rounding is cut here and there.
            handbook.case(&name, ours.value.seconds(), theirs, 1e-2)
        })
        .collect();
    if let (Some(first), Some(last)) = (found.first(), found.last()) {
        let (first, last) = (first.limits, last.limits);
        cases.push(handbook.case("settled upper limit", last.high.seconds(), 52.5884, 2e-3));
        cases.push(handbook.case("settled lower limit", last.low.seconds(), 47.4115, 2e-3));
        cases.push(exact.case("first upper limit", first.high.seconds(), 51.848_51, 5e-6));
        cases.push(exact.case("first lower limit", first.low.seconds(), 48.151_49, 5e-6));
    }
    cases
}

fn sums() -> Vec<ReferenceCase> {
    let handbook = Group {
        source: "NIST/SEMATECH e-Handbook 6.3.2.3 (from memory; arithmetic done again)",
        unit: "1",
    };
    let values = [
        324.925, 324.675, 324.725, 324.350, 325.350, 325.225, 324.125, 324.525, 325.225, 324.600,
        324.625, 325.150, 328.325, 327.250, 327.825, 328.500, 326.675, 327.775, 326.875, 328.350,
    ];
    let theirs = [
        0.0, 0.0, 0.0, 0.0, 0.0325, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0, 3.0075, 4.9400, 7.4475,
        10.6300, 11.9875, 14.4450, 16.0025, 19.0350,
    ];
    let rule = CusumRule { allowance_sigma: 0.3175, decision_sigma: 4.1959 };
    let found = cusum(&series(&values), &base(325.0, 1.0), rule);
    let mut cases: Vec<ReferenceCase> = found
        .iter()
        .zip(theirs)
        .enumerate()
        .map(|(place, (ours, theirs))| {
            let name = format!("upper sum after {} values", place + 1);
            handbook.case(&name, ours.above_sigma, theirs, 5e-5)
        })
        .collect();
    let first = found.iter().position(|sums| sums.signal(rule) == Some(Side::Above));
    cases.push(handbook.case("first signal, place in the series", place(first), 14.0, 0.0));
    cases
}

/// A place counted from 1; not a number where there is none.
fn place(index: Option<usize>) -> f64 {
    index.map_or(f64::NAN, |index| crate::statistics::as_f64(index + 1))
}

/// The means of forty subgroups of five; the first twenty-five are the base line.
fn piston_rings() -> Vec<ReferenceCase> {
    let rings =
        Group { source: "R package qcc 2.7, piston rings (subgroup means from memory)", unit: "1" };
    let tenths_of_micrometres = [
        102, 6, 80, 30, 34, -44, 0, -32, 42, -20, -58, 14, -16, -98, 60, -34, 8, 74, -18, 92, -2,
        16, 24, 52, -18, 86, 22, -78, 36, -26, 72, 56, -22, 112, 126, 40, 166, 196, 234, 128,
    ];
    let means = tenths_of_micrometres.map(|it| Duration::from_seconds(74.0 + f64::from(it) * 1e-4));
    let centre = crate::statistics::mean(&means[..25]).map_or(f64::NAN, Duration::seconds);
    let base = base(centre, 0.009_785_038_69 / 5_f64.sqrt());
    let limits = base.limits(3.0);
    let mut cases = vec![
        rings.case("subgroup means, centre", centre, 74.001_176, 5e-7),
        rings.case("subgroup means, lower limit", limits.low.seconds(), 73.988_048, 5e-7),
        rings.case("subgroup means, upper limit", limits.high.seconds(), 74.014_304, 5e-7),
    ];
    let weighted = EwmaRule { weight: Ratio::from_fraction(0.2), width_sigma: 3.0 };
    let summed = CusumRule { allowance_sigma: 0.5, decision_sigma: 5.0 };
    let means_out = means.iter().map(|it| limits.left_by(*it).is_some()).collect::<Vec<_>>();
    let smoothed = ewma(&means, &base, weighted);
    let mean_out = smoothed.iter().map(|it| it.limits.left_by(it.value).is_some()).collect();
    let sums = cusum(&means, &base, summed);
    let sum_out = sums.iter().map(|it| it.signal(summed).is_some()).collect();
    for (chart, out, first, last) in [
        ("subgroup means", means_out, 37.0, 39.0),
        ("weighted mean", mean_out, 37.0, 40.0),
        ("sums", sum_out, 37.0, 40.0),
    ] {
        let (begins, ends) = (out.iter().position(|it| *it), out.iter().rposition(|it| *it));
        cases.push(rings.case(&format!("{chart}: first signal"), place(begins), first, 0.0));
        cases.push(rings.case(&format!("{chart}: last signal"), place(ends), last, 0.0));
    }
    cases
}

const SHIFTS: [f64; 10] = [0.0, 0.25, 0.5, 0.75, 1.0, 1.5, 2.0, 2.5, 3.0, 4.0];

fn run_lengths() -> Vec<ReferenceCase> {
    let spc = Group { source: "R package spc 0.6.7, xcusum.arl and xewma.arl", unit: "values" };
    let closed = Group { source: "in closed form: 1/(2Φ(−3))", unit: "values" };
    let single = individuals_run_length(3.0, 0.0);
    let mut cases = vec![closed.case("single values, three sigma", single, 370.398, 5e-4)];
    for (decision_sigma, theirs) in [
        (4.0, [167.68, 74.22, 26.63, 13.29, 8.383, 4.747, 3.343, 2.620, 2.194, 1.708]),
        (5.0, [465.44, 139.49, 38.00, 17.05, 10.376, 5.747, 4.009, 3.114, 2.573, 2.013]),
    ] {
        let rule = CusumRule { allowance_sigma: 0.5, decision_sigma };
        for (shift, theirs) in SHIFTS.into_iter().zip(theirs) {
            let name = format!("sums, limit {decision_sigma}, shift {shift}");
            let half = if shift < 1.0 { 5e-3 } else { 5e-4 };
            cases.push(spc.case(&name, cusum_run_length(rule, shift), theirs, half));
        }
    }
    for (weight, width_sigma, theirs) in [
        (0.1, 2.814, [499.58, 106.32, 31.30, 15.85, 10.33, 6.08, 4.36, 3.44, 2.87, 2.19]),
        (0.2, 2.962, [499.74, 150.22, 41.76, 18.15, 10.54, 5.50, 3.74, 2.88, 2.38, 1.86]),
        (0.4, 3.054, [499.95, 223.73, 71.20, 28.42, 14.26, 5.87, 3.52, 2.54, 2.02, 1.44]),
    ] {
        let rule = EwmaRule { weight: Ratio::from_fraction(weight), width_sigma };
        for (shift, theirs) in SHIFTS.into_iter().zip(theirs) {
            let name =
                format!("weighted mean, weight {weight}, limit {width_sigma}, shift {shift}");
            cases.push(spc.case(&name, ewma_run_length(rule, shift), theirs, 5e-3));
        }
    }
    cases.extend(more_digits(&spc));
    cases
}

/// Two of the lengths as the package prints them in full.
fn more_digits(spc: &Group) -> Vec<ReferenceCase> {
    let sums = CusumRule { allowance_sigma: 0.5, decision_sigma: 4.0 };
    let weighted = EwmaRule { weight: Ratio::from_fraction(0.1), width_sigma: 2.814 };
    vec![
        spc.case("sums, limit 4, in full", cusum_run_length(sums, 0.0), 167.683_79, 5e-6),
        spc.case("weighted mean 0.1, in full", ewma_run_length(weighted, 0.0), 499.579_55, 5e-6),
    ]
}
