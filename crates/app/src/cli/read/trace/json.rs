//! What one file came to, as JSON. The keys are stable; `docs/manual/read-trace.md` lists them.

use reading::import::ImportError;
use serde::Serialize;

use super::judged::{Verdict, cited};
use super::measured::{ByTrials, Finding, Measured, Sensor, Value};
use super::shown::rounded;
use crate::problem::Problem;

/// The whole object.
#[derive(Serialize)]
pub(super) struct Sheet<'a> {
    file: &'a str,
    taken_for: String,
    window: Window,
    rise_time: Option<RiseTime>,
    verdict: Verdict,
    judged: Judged<'a>,
    findings: &'a [Finding],
    thermocouple: Thermocouple<'a>,
    highest: Highest,
    readings: usize,
    #[serde(skip_serializing_if = "Option::is_none")]
    budget: Option<Vec<Line<'a>>>,
    budget_by_trials: Option<ByTrials>,
}

#[derive(Serialize)]
struct Window {
    from_celsius: f64,
    to_celsius: f64,
}

#[derive(Serialize)]
struct RiseTime {
    value_s: f64,
    uncertainty_s: f64,
    expanded_s: f64,
    coverage_factor: f64,
    coverage_probability: f64,
    degrees_of_freedom: Option<f64>,
    start_s: f64,
    end_s: f64,
    readings_per_second: f64,
    text: String,
}

#[derive(Serialize)]
struct Judged<'a> {
    method: String,
    clause: String,
    standing: String,
    from_s: f64,
    to_s: f64,
    rule: Option<String>,
    probability_in_band: Option<f64>,
    why_not: Option<&'a str>,
}

#[derive(Serialize)]
struct Thermocouple<'a> {
    counted: bool,
    class: Option<u8>,
    origin: Option<&'a str>,
    expanded_with_class_1_s: Option<f64>,
}

#[derive(Serialize)]
struct Highest {
    celsius: f64,
    at_s: f64,
}

#[derive(Serialize)]
struct Line<'a> {
    name: &'a str,
    standard_uncertainty: f64,
    unit: &'a str,
    sensitivity: f64,
    contribution_s: f64,
    share: f64,
}

impl<'a> Sheet<'a> {
    /// The object for a file that was read.
    pub(super) fn of(measured: &'a Measured, budget: bool) -> Self {
        let highest = measured.trace.highest();
        let value = measured.read.as_ref().ok();
        Self {
            file: &measured.name,
            taken_for: measured.taken_for.to_string(),
            window: Window {
                from_celsius: measured.window.bottom().celsius(),
                to_celsius: measured.window.top().celsius(),
            },
            rise_time: value.map(RiseTime::of),
            verdict: measured.judged.verdict,
            judged: Judged::of(measured),
            findings: &measured.findings,
            thermocouple: Thermocouple::of(&measured.sensor),
            highest: Highest { celsius: highest.temperature.celsius(), at_s: highest.at.seconds() },
            readings: measured.trace.len(),
            budget: value.filter(|_| budget).map(lines),
            budget_by_trials: value.filter(|_| budget).and_then(|value| value.by_trials().ok()),
        }
    }
}

impl RiseTime {
    fn of(value: &Value) -> Self {
        let measured = &value.rise.value;
        Self {
            value_s: measured.value.seconds(),
            uncertainty_s: measured.uncertainty.seconds(),
            expanded_s: value.expanded.uncertainty.seconds(),
            coverage_factor: value.expanded.coverage_factor,
            coverage_probability: value.expanded.probability.fraction(),
            degrees_of_freedom: match measured.degrees_of_freedom {
                metrology::DegreesOfFreedom::Of(number) => Some(number),
                metrology::DegreesOfFreedom::Infinite => None,
            },
            start_s: value.rise.start.at.seconds(),
            end_s: value.rise.end.at.seconds(),
            readings_per_second: value.rise.readings_per_second,
            text: rounded(value),
        }
    }
}

impl<'a> Judged<'a> {
    fn of(measured: &'a Measured) -> Self {
        let judged = &measured.judged;
        let band = &judged.asked.confirmation.rise_time;
        let decision = judged.decision.as_ref();
        Self {
            method: cited(&judged.asked.method),
            clause: band.clause.to_string(),
            standing: band.standing.to_string(),
            from_s: band.value.low.seconds(),
            to_s: band.value.high.seconds(),
            rule: decision.map(|_| judged.rule()),
            probability_in_band: decision.map(|d| d.probability_of_conformity.fraction()),
            why_not: judged.why_not.as_deref(),
        }
    }
}

impl<'a> Thermocouple<'a> {
    fn of(sensor: &'a Sensor) -> Self {
        match sensor {
            Sensor::Counted { class, origin } => Self {
                counted: true,
                class: Some(class.number()),
                origin: Some(origin),
                expanded_with_class_1_s: None,
            },
            Sensor::LeftOut(with_one) => Self {
                counted: false,
                class: None,
                origin: None,
                expanded_with_class_1_s: with_one.map(metrology::Duration::seconds),
            },
        }
    }
}

fn lines(value: &Value) -> Vec<Line<'_>> {
    let lines = value.rise.budget.lines.iter();
    lines
        .map(|line| Line {
            name: &line.input.name,
            standard_uncertainty: line.input.standard_uncertainty,
            unit: &line.input.uncertainty_unit,
            sensitivity: line.sensitivity,
            contribution_s: line.contribution,
            share: line.share,
        })
        .collect()
}

/// The object for a file that was not taken: the same keys, and why.
#[derive(Serialize)]
pub(super) struct NotTaken<'a> {
    error: &'a Problem,
    rise_time: Option<RiseTime>,
    verdict: Verdict,
    findings: [NotTakenFinding<'a>; 1],
}

#[derive(Serialize)]
struct NotTakenFinding<'a> {
    kind: &'static str,
    text: &'a str,
    hint: Option<&'a str>,
    prevents_a_value: bool,
}

impl<'a> NotTaken<'a> {
    /// The object for `problem`, which came of `error`.
    pub(super) fn of(problem: &'a Problem, error: &ImportError) -> Self {
        let finding = NotTakenFinding {
            kind: kind(error),
            text: &problem.text,
            hint: problem.hint.as_deref(),
            prevents_a_value: true,
        };
        Self { error: problem, rise_time: None, verdict: Verdict::NotJudged, findings: [finding] }
    }
}

/// The stable name of why a file was not taken.
fn kind(error: &ImportError) -> &'static str {
    match error {
        ImportError::Read(_) => "cannot-be-read",
        ImportError::Empty => "empty-file",
        ImportError::OtherKind { .. } | ImportError::NotText { .. } => "other-kind-of-file",
        ImportError::TooLarge { .. } | ImportError::CellTooLong { .. } => "too-large",
        ImportError::NoTable { .. } | ImportError::NotATrace { .. } => "no-trace",
        ImportError::Ask(_) => "two-readings-possible",
        ImportError::NoTemperature { .. } => "no-temperature",
        ImportError::NoSuchColumn { .. } => "no-such-column",
        ImportError::WrongColumn { .. } => "wrong-column",
        ImportError::Option(_) => "option",
        ImportError::BadRows(_) => "bad-rows",
        ImportError::Backwards { .. } => "time-backwards",
        ImportError::Doubled { .. } => "time-doubled",
        ImportError::TooCold { .. } => "below-absolute-zero",
        ImportError::NoSuchEmf { .. } => "no-such-emf",
        ImportError::Trace(_) => "too-few-readings",
    }
}
