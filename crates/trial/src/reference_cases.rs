//! Times that anyone can work out from presses on paper, beside what they come to here and now.

use metrology::reference_cases::ReferenceCase;

use crate::bench::{Act, Input, Press, State, Timing, stand};
use crate::moment::{Elapsed, Moment};
use crate::run::Ending;

/// Acts, each at so many thousandths of a second.
type Train = &'static [(Act, i64)];

/// A name, the applications, the presses, which time is meant, what it is by hand.
type Row = (&'static str, usize, Train, fn(&Timing) -> Option<i64>, f64);

const ONE: Train = &[
    (Act::FlameOn, 0),
    (Act::FlameRemoved, 30_000),
    (Act::FlamesOut, 41_200),
    (Act::GlowOut, 46_750),
];
const NONE: Train = &[
    (Act::FlameOn, 5_000),
    (Act::FlameRemoved, 15_000),
    (Act::NoFlame, 16_000),
    (Act::NoGlow, 17_000),
];
const WRONG: Train = &[
    (Act::FlameOn, 0),
    (Act::FlameRemoved, 10_000),
    (Act::FlamesOut, 14_000),
    (Act::LastPressWrong, 15_000),
    (Act::FlamesOut, 19_500),
    (Act::NoGlow, 21_000),
];
const BOUNCED: Train = &[
    (Act::FlameOn, 0),
    (Act::FlameOn, 100),
    (Act::FlameRemoved, 10_000),
    (Act::FlameRemoved, 10_150),
    (Act::FlamesOut, 40_000),
    (Act::NoGlow, 42_000),
];
const AGAIN: Train = &[
    (Act::FlameOn, 0),
    (Act::FlameRemoved, 10_000),
    (Act::FlamesOut, 15_000),
    (Act::BurningAgain, 18_000),
    (Act::FlamesOut, 25_000),
    (Act::GlowOut, 29_000),
];
const TWO: Train = &[
    (Act::FlameOn, 0),
    (Act::FlameRemoved, 15_000),
    (Act::FlameOn, 30_000),
    (Act::FlameRemoved, 44_900),
    (Act::FlamesOut, 50_000),
    (Act::NoGlow, 52_000),
];
const BY_HAND: Train = &[
    (Act::FlameOn, 0),
    (Act::FlameRemoved, 10_000),
    (Act::PutOutByHand, 75_300),
    (Act::NoGlow, 77_000),
];

const ROWS: &[Row] = &[
    ("flame on the specimen", 1, ONE, |it| applied(it, 0), 30.0),
    ("flames after removal", 1, ONE, |it| after_removal(it, it.flames), 11.2),
    ("glow after removal", 1, ONE, |it| after_removal(it, it.glow), 16.75),
    ("flame on from a later press on", 1, NONE, |it| applied(it, 0), 10.0),
    ("a press taken back", 1, WRONG, |it| after_removal(it, it.flames), 9.5),
    ("a switch that bounces, flame on", 1, BOUNCED, |it| applied(it, 0), 10.0),
    ("a switch that bounces, flames", 1, BOUNCED, |it| after_removal(it, it.flames), 30.0),
    ("flames again out of the glow", 1, AGAIN, |it| after_removal(it, it.flames), 15.0),
    ("glow after flames that came again", 1, AGAIN, |it| after_removal(it, it.glow), 19.0),
    ("first of two applications", 2, TWO, |it| applied(it, 0), 15.0),
    ("second of two applications", 2, TWO, |it| applied(it, 1), 14.9),
    ("pause between two applications", 2, TWO, pause, 15.0),
    ("flames after the second", 2, TWO, |it| after_removal(it, it.flames), 5.1),
    ("put out by hand", 1, BY_HAND, |it| after_removal(it, it.flames), 65.3),
];

/// The cases of this room, computed now.
#[must_use]
pub fn reference_cases() -> Vec<ReferenceCase> {
    ROWS.iter()
        .map(|&(name, applications, train, time, theirs)| ReferenceCase {
            name: format!("presses: {name}"),
            source: "by hand: one instant less another",
            unit: "s",
            ours: timing(applications, train).as_ref().and_then(time).map_or(f64::NAN, seconds),
            theirs,
            // Half of the microsecond in which presses are kept.
            tolerance: 5e-7,
            remark: None,
        })
        .collect()
}

#[expect(clippy::cast_precision_loss, reason = "far below 2^53 microseconds")]
fn seconds(microseconds: i64) -> f64 {
    microseconds as f64 / 1e6
}

/// What presses come to; `None` as long as something is open.
fn timing(applications: usize, train: Train) -> Option<Timing> {
    let presses = (1..).zip(train).map(|(sequence, (act, thousandths))| {
        let wall =
            Moment::from_unix_microseconds(1_772_438_400_000_000 + thousandths * 1000).ok()?;
        let (at, input) = (Elapsed::from_microseconds(thousandths * 1000), Input::Switch);
        Some(Press { sequence, at, wall, act: *act, input, note: None })
    });
    let standing = stand(applications, &presses.collect::<Option<Vec<_>>>()?);
    if standing.state == State::Finished { standing.timing() } else { None }
}

fn applied(timing: &Timing, nth: usize) -> Option<i64> {
    let application = timing.applications.get(nth)?;
    Some(application.removed.microseconds() - application.on.microseconds())
}

fn pause(timing: &Timing) -> Option<i64> {
    let (first, second) = (timing.applications.first()?, timing.applications.get(1)?);
    Some(second.on.microseconds() - first.removed.microseconds())
}

fn after_removal(timing: &Timing, ending: Ending) -> Option<i64> {
    let removed = timing.applications.last()?.removed.microseconds();
    match ending {
        Ending::None => None,
        Ending::Out(at) | Ending::PutOutByHand(at) => Some(at.microseconds() - removed),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_case_agrees() {
        for case in reference_cases() {
            assert!(case.agrees(), "{}: {}, {}", case.name, case.ours, case.theirs);
        }
    }
}
