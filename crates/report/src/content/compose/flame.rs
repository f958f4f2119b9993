//! The confirmations that a plan's specimens were tested under.

use metrology::uncertainty::{FractionalDegrees, coverage_factor};
use metrology::{DegreesOfFreedom, Duration, Measurement, Ratio};
use trial::confirmation::{Determination as Made, DeterminationSource};
use trial::history::{History, RecordedConfirmation};
use trial::plan::Plan;

use super::{COVERAGE_FACTOR, Issue, place, second, used};
use crate::content::{Accepted, Crossing, Determination, Flame, Standing, Value};
use crate::words::Words;

/// What k = 2 covers of a normal distribution: 95.45 % (GUM G.1.3).
const COVERED_PERCENT: f64 = 95.45;

/// Each confirmation that a run of the plan names, in order.
pub(super) fn confirmations(history: &History, plan: &Plan, asked: (&Issue, &Words)) -> Vec<Flame> {
    let numbers = used(history, plan.number());
    let recorded = numbers.iter().filter_map(|number| history.confirmation(*number));
    recorded.map(|confirmation| flame(plan, confirmation, asked)).collect()
}

fn flame(plan: &Plan, recorded: &RecordedConfirmation, (issue, words): (&Issue, &Words)) -> Flame {
    let asked = &plan.requirement().asked.confirmation;
    let confirmed = words.conditions.confirmed;
    Flame {
        number: recorded.number.to_string(),
        window_bottom: Value::exact(asked.bottom.value.target, 0),
        window_top: Value::exact(asked.top.value.target, 0),
        accepted: Accepted {
            from: Value::exact(asked.rise_time.value.low, 1),
            to: Value::exact(asked.rise_time.value.high, 1),
        },
        clause: place(plan, (&asked.rise_time.source, &asked.rise_time.clause), words),
        standing: Standing::Meets,
        words: confirmed(asked.rule.value, recorded.counted.len()),
        determinations: recorded
            .determinations
            .iter()
            .map(|made| determination(made, recorded, (issue, words)))
            .collect(),
    }
}

fn determination(
    made: &Made,
    recorded: &RecordedConfirmation,
    (issue, words): (&Issue, &Words),
) -> Determination {
    let again = issue.read_again.iter().find(|again| again.determination == made.number);
    let crossing = |found: &reading::Crossing| Crossing {
        at_s: found.at.seconds(),
        temperature_celsius: found.limit.celsius(),
    };
    let (source, sha256) = match &made.source {
        DeterminationSource::Trace { evidence, .. } => {
            (format!("{}, {}", evidence.name, made.thermocouple), Some(evidence.hash.to_string()))
        }
        DeterminationSource::Typed { by, seconded } => {
            let second = seconded.as_ref().map(|person| person.0.as_str());
            ((words.conditions.typed)(&by.0, second), None)
        }
    };
    let remarks =
        made.remarks.iter().map(|remark| (words.conditions.remark)(remark)).collect::<String>();
    Determination {
        number: made.number.0,
        at: second(made.at),
        start: Value::exact(made.start, 1),
        rise: made.rise_time.map(|rise| Value::measured(&rise, coverage(&rise), 2)),
        bottom: again.map(|again| crossing(&again.start)),
        top: again.map(|again| crossing(&again.end)),
        source: format!("{source}{}{remarks}", (words.conditions.block)(&made.block.0)),
        sha256,
        counts: recorded.counted.contains(&made.number),
        void: made.void.clone(),
    }
}

/// The factor for the probability that k = 2 has where the degrees of freedom are many; more
/// where they are few. Rounded to the hundredth that is printed, so that U is k times u as read.
fn coverage(rise: &Measurement<Duration>) -> f64 {
    let known = rise.degrees_of_freedom;
    if known == DegreesOfFreedom::Infinite {
        return COVERAGE_FACTOR;
    }
    let probability = Ratio::from_percent(COVERED_PERCENT);
    coverage_factor(probability, known, FractionalDegrees::Truncated)
        .map_or(COVERAGE_FACTOR, |factor| (factor * 100.0).round() / 100.0)
}
