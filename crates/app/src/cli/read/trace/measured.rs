//! What one file came to.

use metrology::uncertainty::{
    Expanded, FractionalDegrees, MonteCarloError, Outcome, Trials, expand, monte_carlo, validate,
};
use metrology::{Duration, Ratio, ToleranceClass};
use reading::import::{Imported, TakenFor};
use reading::{
    Circumstances, Effect, Fault, RiseTime, RiseTimeError, RiseTimeFindingKind, Trace, Window,
    rise_time,
};
use serde::Serialize;

use super::ReadTrace;
use super::judged::{Asked, Judged, judge};
use crate::problem::{Exit, Problem};

/// The probability that an expanded uncertainty covers the truth with.
const COVERAGE_PERCENT: f64 = 95.0;

/// All that is said of one file.
pub(super) struct Measured {
    pub(super) name: String,
    pub(super) taken_for: TakenFor,
    pub(super) window: Window,
    pub(super) trace: Trace,
    pub(super) read: Result<Value, RiseTimeError>,
    pub(super) sensor: Sensor,
    pub(super) judged: Judged,
    pub(super) findings: Vec<Finding>,
}

/// A rise time and its expanded uncertainty.
pub(super) struct Value {
    pub(super) rise: RiseTime,
    pub(super) expanded: Expanded<Duration>,
}

/// Whether the thermocouple is in the uncertainty.
pub(super) enum Sensor {
    /// Its class was stated.
    Counted {
        /// The class.
        class: ToleranceClass,
        /// Where its tolerance comes from.
        origin: String,
    },
    /// Nothing was stated; with class 1 the expanded uncertainty would be this.
    LeftOut(Option<Duration>),
}

/// Something worth knowing, or why there is no value.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub(super) struct Finding {
    /// Its stable name.
    pub(super) kind: &'static str,
    /// The facts, as a sentence.
    pub(super) text: String,
    /// The way out, in the imperative.
    pub(super) hint: &'static str,
    /// Whether it stands in the way of a value.
    pub(super) prevents_a_value: bool,
}

impl Measured {
    /// Reads the rise time of an imported file and judges it.
    pub(super) fn of(
        name: String,
        Imported { trace, taken_for }: Imported,
        asked: Asked,
        command: &ReadTrace,
    ) -> Result<Self, Problem> {
        let window = command.window.window(asked.window)?;
        let resting_at = command.sensor.resting_at();
        let known = Circumstances { resting_at, ..command.window.circumstances() };
        let read = |sensor| match rise_time(&trace, window, sensor, &known) {
            Ok(rise) => value(rise).map(Ok),
            Err(error) => Ok(Err(error)),
        };
        let class = command.sensor.class();
        let (value, sensor) = match class {
            Some(class) => {
                let origin = command.sensor.kind().tolerance_origin(class);
                let origin = origin
                    .map_err(|error| Problem::used_wrongly(error.to_string()).hint(error.hint()))?;
                let uncertainty = command.sensor.uncertainty(class, window)?;
                (read(uncertainty)?, Sensor::Counted { class, origin })
            }
            None => {
                let value = read(command.sensor.clock())?;
                let one = command.sensor.uncertainty(ToleranceClass::One, window).ok();
                let with_one = match one.filter(|_| value.is_ok()) {
                    Some(uncertainty) => read(uncertainty)?.ok(),
                    None => None,
                };
                (value, Sensor::LeftOut(with_one.map(|value| value.expanded.uncertainty)))
            }
        };
        let findings = match &value {
            Ok(value) => of_faults(&value.rise.faults),
            Err(error) => of_error(error),
        };
        let judged = judge(value.as_ref().ok(), window, asked, command.window.guard_band)?;
        Ok(Self { name, taken_for, window, trace, read: value, sensor, judged, findings })
    }

    /// How the command ends.
    pub(super) fn exit(&self) -> Exit {
        match &self.read {
            Err(error) if error.findings.iter().all(|it| is_used_wrongly(it.kind)) => {
                Exit::UsedWrongly
            }
            Err(_) => Exit::Finding,
            Ok(_) if self.judged.does_not_meet() => Exit::Finding,
            Ok(_) => Exit::Good,
        }
    }

    /// The trace with its window and crossings.
    pub(super) fn picture(&self) -> report::chart::Chart {
        let rise = self.read.as_ref().ok().map(|value| &value.rise);
        let told: Vec<&str> = self.findings.iter().map(|finding| finding.text.as_str()).collect();
        let view = report::chart::TraceView {
            name: &self.name,
            trace: &self.trace,
            window: self.window,
            rise,
            not_used: rise.map_or(&[], |rise| &rise.points_not_used),
            told: &told.join(". "),
        };
        report::chart::trace(&view, report::chart::Look::Screen)
    }
}

/// Trials that a budget is held against, and the seed they are drawn with.
const TRIALS: usize = 1_000_000;
const SEED: u64 = 101;

/// What the trials came to.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub(super) struct ByTrials {
    pub(super) trials: usize,
    pub(super) seed: u64,
    pub(super) low_s: f64,
    pub(super) high_s: f64,
    /// Whether the first-order interval agrees with theirs to two digits of the uncertainty.
    pub(super) validated: bool,
}

impl Value {
    /// The interval by Monte Carlo, which the first-order one is held against (JCGM 101, 8).
    pub(super) fn by_trials(&self) -> Result<ByTrials, MonteCarloError> {
        let coverage = Ratio::from_percent(COVERAGE_PERCENT);
        let trials = Trials { number: TRIALS, seed: SEED, coverage };
        let model = |inputs: &[f64]| self.rise.model_seconds(inputs);
        let whole = monte_carlo(&self.rise.inputs, model, trials)?.symmetric;
        let held = validate(&self.rise.budget, self.expanded.coverage_factor, whole, 2);
        Ok(ByTrials {
            trials: TRIALS,
            seed: SEED,
            low_s: whole.low,
            high_s: whole.high,
            validated: held.outcome == Outcome::Validated,
        })
    }
}

fn value(rise: RiseTime) -> Result<Value, Problem> {
    let probability = Ratio::from_percent(COVERAGE_PERCENT);
    let expanded = expand(&rise.value, probability, FractionalDegrees::Truncated);
    // Fewer than one degree of freedom covers nothing.
    let expanded = expanded.map_err(|error| {
        Problem::used_wrongly("the uncertainty of this rise time cannot be expanded")
            .because(&error)
            .hint("Record with more readings a second.")
    })?;
    Ok(Value { rise, expanded })
}

fn of_faults(faults: &[Fault]) -> Vec<Finding> {
    let found = faults.iter().filter(|fault| fault.effect != Effect::Void);
    found
        .map(|fault| Finding {
            kind: fault.kind.name(),
            text: fault.text.clone(),
            hint: fault.kind.hint(),
            prevents_a_value: false,
        })
        .collect()
}

fn of_error(error: &RiseTimeError) -> Vec<Finding> {
    let mut findings: Vec<Finding> = error
        .findings
        .iter()
        .map(|finding| Finding {
            kind: finding.kind.name(),
            text: finding.text.clone(),
            hint: finding.hint(),
            prevents_a_value: true,
        })
        .collect();
    findings.extend(of_faults(&error.faults));
    findings
}

/// Whether a reason lies in how the command was used, not in the trace.
fn is_used_wrongly(kind: RiseTimeFindingKind) -> bool {
    matches!(kind, RiseTimeFindingKind::EmptyPart | RiseTimeFindingKind::SensorUncertainty)
}
