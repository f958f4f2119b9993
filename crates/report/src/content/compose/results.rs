//! What was found on each specimen.

use metrology::Measurement;
use trial::history::{History, RecordedRun};
use trial::plan::Plan;
use trial::rules::Limit;
use trial::run::{Ending, Mark, MarkKind, TimedEnd};
use trial::verdict::{SpecimenStanding, Verdict, shown_beside};

use super::{COVERAGE_FACTOR, second};
use crate::content::{Application, Observation, Specimen, Stood, Value};
use crate::words::Words;

/// Every specimen that was in the flame, in the order of their numbers.
pub(super) fn specimens(
    history: &History,
    plan: &Plan,
    (verdict, words): (&Verdict, &Words),
) -> Vec<Specimen> {
    let spoilt = history.spoilt(plan.number());
    let mut specimens: Vec<Specimen> = history
        .runs(plan.number())
        .iter()
        .map(|recorded| {
            let number = recorded.run.specimen();
            let later = spoilt.iter().find(|(spoilt, _)| *spoilt == number);
            specimen(plan, recorded, (verdict, words), later.map(|(_, reason)| *reason))
        })
        .collect();
    specimens.sort_by_key(|specimen| specimen.number);
    specimens
}

fn specimen(
    plan: &Plan,
    recorded: &RecordedRun,
    (verdict, words): (&Verdict, &Words),
    spoilt: Option<&str>,
) -> Specimen {
    let (run, observed) = (&recorded.run, recorded.run.observed());
    let limit = plan.requirement().asked.criteria.duration_of_burning.as_ref();
    let judged = verdict.judged.iter().find(|judged| judged.specimen == run.specimen());
    let burning = run.duration_of_burning();
    let mut burnt = timed(&burning.time);
    if let Some(limit) = limit {
        let beside = shown_beside(burning.time.value, limit.value, 1);
        burnt.shown = beside.trim_end_matches(" s").to_owned();
    }
    if burning.end == TimedEnd::ByHand {
        burnt.shown = (words.results.over)(&burnt.shown);
    }
    let applied = run.durations_of_application().iter().copied();
    let applied = applied.fold(metrology::Duration::ZERO, |sum, one| sum + one);
    Specimen {
        number: run.specimen().0,
        at: second(observed.began),
        confirmation: recorded.confirmation.to_string(),
        applications: observed
            .applications
            .iter()
            .map(|application| Application {
                on_s: application.on.since(trial::moment::Elapsed::ZERO).seconds(),
                removed_s: application.removed.since(trial::moment::Elapsed::ZERO).seconds(),
            })
            .collect(),
        applied: Value::exact(applied, 1),
        afterflame: Some(timed(&run.afterflame().time)),
        afterglow: Some(timed(&run.afterglow().time)),
        burning: Some(burnt),
        burning_limit_s: limit.and_then(|limit| seconds(limit.value)),
        damaged: observed
            .damaged_length
            .as_ref()
            .map(|length| Value::measured(length, COVERAGE_FACTOR, 1)),
        layer: (words.results.layer)(observed.layer).to_owned(),
        stood: judged.map_or(Stood::NotJudged, |judged| match judged.standing {
            SpecimenStanding::Meets => Stood::Kept,
            SpecimenStanding::DoesNotMeet => Stood::NotKept,
            SpecimenStanding::Undecided => Stood::Undecided,
            SpecimenStanding::NotJudged => Stood::NotJudged,
        }),
        spoilt: observed.spoilt.clone().or_else(|| spoilt.map(str::to_owned)),
        observations: observations(recorded, words),
        observer: observed.observer.to_string(),
    }
}

/// A time with its uncertainty; a time of nothing was not timed and has none.
fn timed(time: &Measurement<metrology::Duration>) -> Value {
    if time.value > metrology::Duration::ZERO {
        Value::measured(time, COVERAGE_FACTOR, 1)
    } else {
        Value::exact(time.value, 1)
    }
}

const fn seconds(limit: Limit<metrology::Duration>) -> Option<f64> {
    match limit {
        Limit::AtMost(limit) | Limit::LessThan(limit) => Some(limit.seconds()),
        Limit::AtLeast(_) | Limit::MoreThan(_) | Limit::Between { .. } => None,
    }
}

/// What was marked, what was put out by hand, and the note, in the order of time.
fn observations(recorded: &RecordedRun, words: &Words) -> Vec<Observation> {
    let observed = recorded.run.observed();
    let at = |elapsed: trial::moment::Elapsed| {
        Value::exact(elapsed.since(trial::moment::Elapsed::ZERO), 1)
    };
    let mut seen: Vec<Observation> = observed
        .marks
        .iter()
        .map(|mark| Observation { at: at(mark.at), text: told(mark, words) })
        .collect();
    let endings = [observed.flames, observed.glow, observed.surroundings];
    for (text, ending) in words.results.put_out.into_iter().zip(endings) {
        if let Ending::PutOutByHand(when) = ending {
            seen.push(Observation { at: at(when), text: text.to_owned() });
        }
    }
    seen.sort_by(|before, after| before.at.value.total_cmp(&after.at.value));
    if !observed.note.trim().is_empty() {
        let end = seen.last().map_or_else(|| at(trial::moment::Elapsed::ZERO), |it| it.at.clone());
        seen.push(Observation { at: end, text: (words.results.note)(&observed.note) });
    }
    seen
}

fn told(mark: &Mark, words: &Words) -> String {
    let kind = (words.results.mark)(mark.kind);
    let own = mark.words.trim();
    match (mark.kind, own.is_empty()) {
        (MarkKind::Other, false) => own.to_owned(),
        (_, true) => kind.to_owned(),
        (_, false) => format!("{kind}: {own}"),
    }
}
