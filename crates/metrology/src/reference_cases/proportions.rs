//! What so many of so many show: the bounds of Clopper and Pearson.

use super::{Group, ReferenceCase};
use crate::quantity::{Count, Ratio};
use crate::statistics::{proportion_at_least, proportion_interval};

pub(super) fn cases() -> Vec<ReferenceCase> {
    let handbook = Group {
        source: "NIST/SEMATECH e-Handbook 7.2.4.1 (from memory; arithmetic done again)",
        unit: "1",
    };
    let binomial_test = Group { source: "R 4.2.2, binom.test", unit: "1" };
    let closed = Group { source: "in closed form: 0.05^(1/n)", unit: "1" };
    let scipy = Group { source: "scipy 1.17.1, beta.ppf", unit: "1" };
    let mut cases = two_sided(&scipy, (4, 20), 90.0, (0.071_353_884_3, 0.401_028_117_3), 5e-11);
    let printed = two_sided(&handbook, (4, 20), 90.0, (0.071_354, 0.401_029), 1e-6);
    cases.extend(printed.into_iter().map(|case| ReferenceCase {
        remark: Some(
            "the handbook's upper end, as remembered, is one unit of its last digit above what \
             all packages give; the tolerance is that unit",
        ),
        ..case
    }));
    for (seen, theirs) in [
        ((4, 20), (0.057_333_997, 0.436_614_003)),
        ((9, 10), (0.554_983_883, 0.997_471_421)),
        ((10, 10), (0.691_502_892, 1.0)),
        ((0, 5), (0.0, 0.521_823_750)),
        ((5, 5), (0.478_176_250, 1.0)),
    ] {
        cases.extend(two_sided(&binomial_test, seen, 95.0, theirs, 5e-10));
    }
    for (number, theirs) in [
        (3, 0.368_403),
        (5, 0.549_280),
        (10, 0.741_134),
        (20, 0.860_892),
        (22, 0.872_695),
        (29, 0.901_855),
        (59, 0.950_492),
    ] {
        let all = Count::of(number);
        let ours = proportion_at_least(all, all, Ratio::from_percent(95.0));
        let ours = ours.map_or(f64::NAN, Ratio::fraction);
        let name = format!("{number} of {number}, at least, 95 %");
        cases.push(closed.case(&name, ours, theirs, 5e-7));
    }
    cases
}

fn two_sided(
    group: &Group,
    (successes, trials): (u64, u64),
    percent: f64,
    (low, high): (f64, f64),
    tolerance: f64,
) -> Vec<ReferenceCase> {
    let found =
        proportion_interval(Count::of(successes), Count::of(trials), Ratio::from_percent(percent));
    let name = |end: &str| format!("{successes} of {trials}, {percent} %, {end} end");
    let ours = |end: fn(&crate::statistics::ProportionInterval) -> Ratio| {
        found.as_ref().map_or(f64::NAN, |interval| end(interval).fraction())
    };
    vec![
        group.case(&name("lower"), ours(|interval| interval.low), low, tolerance),
        group.case(&name("upper"), ours(|interval| interval.high), high, tolerance),
    ]
}
