//! One pass over a trace: its climbs, its faults, its hottest reading.

use std::ops::Range;

use metrology::{Duration, Temperature};

use super::uncertainty::{inputs, sensitivities};
use super::{RiseTime, RiseTimeError, RiseTimeFinding, RiseTimeFindingKind, SensorUncertainty};
use crate::crossing::{self, ClimbWatch, Crossing, Inside, Used};
use crate::fault::{self, Circumstances, Effect, Fault, FaultKind, FaultWatch, SpikeWatch};
use crate::rules::Rules;
use crate::trace::{Point, Trace, Window};

/// What one pass over a trace has shown.
#[derive(Debug)]
pub(super) struct Seen {
    range: Range<usize>,
    first: Point,
    highest: Point,
    bottom: ClimbWatch,
    top: ClimbWatch,
    left_out: Vec<usize>,
    pub(super) faults: Vec<Fault>,
}

/// Goes over the part of `trace` that was asked for, once.
pub(super) fn scan(
    trace: &Trace,
    window: Window,
    known: &Circumstances,
    rules: &Rules,
) -> Result<Seen, RiseTimeError> {
    let range = part(trace, known)?;
    let first = trace.point(range.start);
    let mut highest = None::<Point>;
    let mut bottom = ClimbWatch::new(window.bottom(), rules.second_climb_fall);
    let mut top = ClimbWatch::new(window.top(), rules.second_climb_fall);
    let mut spikes = SpikeWatch::new(trace, rules, range.start, range.end);
    let mut faults = FaultWatch::new(trace, rules, window, *known, range.start);
    // Faults are sought as far as the last reading that the crossing of the top may use.
    let mut watched = Watched { until: None, last: range.start, left_out: 0, spikes: 0 };
    for (index, point) in range.clone().zip(trace.points_in(range.clone())) {
        let spike = spikes.is_spike(index, point);
        let watching = watched.until.is_none_or(|until| point.at <= until);
        if watching {
            faults.see_raw(index, point);
            watched.last = index;
            (watched.left_out, watched.spikes) = (spikes.found.len(), spikes.count);
        }
        if spike {
            continue;
        }
        if highest.is_none_or(|highest| point.temperature > highest.temperature) {
            highest = Some(point);
        }
        let reached_before = top.count > 0;
        top.see(index, point);
        if top.count == 1 && watched.until.is_none() {
            watched.until = Some(point.at + rules.crossing_half_width);
        }
        if watching {
            faults.see_used(point);
        }
        // What comes after the top was reached is no part of the climb; a slow logger may climb
        // through both limits from one reading to the next.
        if top.count == 0 {
            climb(&mut bottom, &mut faults, index, point);
        } else if !reached_before {
            bottom.see(index, point);
        }
    }
    let usual_step = usual_step(trace, range.start..watched.last + 1);
    let mut faults = faults.finish(watched.last, usual_step);
    let mut left_out = spikes.found;
    left_out.truncate(watched.left_out);
    // Where the top was never reached, the wire may have opened after the last reading.
    let end = known.part.map_or(Duration::from_seconds(f64::INFINITY), |part| part.1);
    let until = watched.until.map_or(end, |_| trace.point(watched.last).at);
    let from = known.part.map_or(Duration::from_seconds(f64::NEG_INFINITY), |part| part.0);
    if let Some(open) = fault::said_open(trace.missing(), from, until) {
        faults.retain(|fault| fault.kind != FaultKind::OpenCircuit);
        faults.push(open);
    }
    if watched.spikes > 0 {
        faults.push(fault::of_spikes(trace, left_out.clone(), watched.spikes, rules));
    }
    let highest = highest.unwrap_or(first);
    Ok(Seen { range, first, highest, bottom, top, left_out, faults })
}

/// How far faults are sought, and what was found as far.
#[derive(Clone, Copy, Debug)]
struct Watched {
    until: Option<Duration>,
    last: usize,
    left_out: usize,
    spikes: usize,
}

/// Sees a reading on the way to the top.
fn climb(bottom: &mut ClimbWatch, faults: &mut FaultWatch<'_>, index: usize, point: Point) {
    let before = bottom.count;
    bottom.see(index, point);
    if bottom.count > before {
        faults.enter(point);
    } else if bottom.is_below() {
        faults.leave();
        faults.see_below(point);
    } else {
        faults.see_inside(point);
    }
}

/// The indices of the readings in the part asked for.
fn part(trace: &Trace, known: &Circumstances) -> Result<Range<usize>, RiseTimeError> {
    let Some((from, to)) = known.part else { return Ok(0..trace.len()) };
    let start = trace.count_before(from);
    let mut end = trace.count_before(to);
    if end < trace.len() && trace.point(end).at <= to {
        end += 1;
    }
    if end >= start + 2 {
        return Ok(start..end);
    }
    let (first, last) = (trace.point(0).at, trace.point(trace.len() - 1).at);
    let found = end.saturating_sub(start);
    Err(RiseTimeError::of(
        RiseTimeFindingKind::EmptyPart,
        format!(
            "The part from {from:.2} to {to:.2} holds {found} readings; the trace runs from \
             {first:.2} to {last:.2}."
        ),
    ))
}

/// The median of the steps between readings, from at most a thousand of them spread evenly.
fn usual_step(trace: &Trace, range: Range<usize>) -> Duration {
    const MOST: usize = 1000;
    let every = (range.len() / MOST).max(1);
    let mut steps: Vec<f64> = (range.start..range.end.saturating_sub(1))
        .step_by(every)
        .map(|index| (trace.point(index + 1).at - trace.point(index).at).seconds())
        .collect();
    steps.sort_by(f64::total_cmp);
    Duration::from_seconds(steps.get(steps.len() / 2).copied().unwrap_or(0.0))
}

impl Seen {
    /// All the reasons why there is no single rise time.
    pub(super) fn findings(&self, trace: &Trace, window: Window) -> Vec<RiseTimeFinding> {
        let mut findings: Vec<RiseTimeFinding> = self
            .faults
            .iter()
            .filter(|fault| fault.effect == Effect::Void)
            .map(|fault| RiseTimeFinding {
                kind: RiseTimeFindingKind::Fault(fault.kind),
                text: fault.text.clone(),
            })
            .collect();
        let mut add = |kind, text| findings.push(RiseTimeFinding { kind, text });
        if self.bottom.started_above && self.bottom.count == 0 {
            let (value, at, limit) = (self.first.temperature, self.first.at, window.bottom());
            add(
                RiseTimeFindingKind::StartsInside,
                format!("The trace starts at {value:.1} at {at:.2}, not below {limit:.1}."),
            );
        }
        if self.highest.temperature < window.top() {
            let (value, at, limit) = (self.highest.temperature, self.highest.at, window.top());
            add(
                RiseTimeFindingKind::NeverReaches,
                format!("The trace peaks at {value:.1} at {at:.2} and never reaches {limit:.1}."),
            );
        }
        for (watch, limit) in [(&self.bottom, window.bottom()), (&self.top, window.top())] {
            if watch.count > 1 {
                let text = climbs(trace, watch, limit);
                add(RiseTimeFindingKind::ClimbsMoreThanOnce, text);
            }
        }
        findings
    }

    /// Places both crossings and puts the rise time together.
    pub(super) fn place(
        self,
        trace: &Trace,
        window: Window,
        sensor: SensorUncertainty,
        rules: &Rules,
    ) -> Result<RiseTime, RiseTimeError> {
        let (start, end) = (self.range.start, self.range.end);
        let used = Used { trace, start, end, left_out: &self.left_out };
        let place = |watch: &ClimbWatch, limit: Temperature, inside| {
            let climb = watch.climbs.first();
            climb
                .and_then(|climb| crossing::place(used, *climb, (limit, inside), rules))
                .ok_or(limit)
        };
        let start = place(&self.bottom, window.bottom(), Inside::After);
        let end = place(&self.top, window.top(), Inside::Before);
        let (start, end) = match (start, end) {
            (Ok(start), Ok(end)) if start.at < end.at => (start, end),
            (Ok(_), Ok(_)) => return Err(too_few(&[window.bottom(), window.top()], self.faults)),
            (start, end) => {
                let limits: Vec<Temperature> =
                    [start.err(), end.err()].into_iter().flatten().collect();
                return Err(too_few(&limits, self.faults));
            }
        };
        let cannot = |why: String| {
            let text = format!("The uncertainty of the sensor cannot be used: {why}.");
            RiseTimeError::of(RiseTimeFindingKind::SensorUncertainty, text)
        };
        let inputs = inputs(&start, &end, sensor).map_err(|error| cannot(error.to_string()))?;
        let seconds = (end.at - start.at).seconds();
        let budget = inputs
            .budget_of_sensitivities(seconds, &sensitivities(&start, &end))
            .map_err(|error| cannot(error.to_string()))?;
        let value = budget.measurement();
        let count = trace.count_before(end.at) - trace.count_before(start.at);
        #[expect(clippy::cast_precision_loss, reason = "a count of readings is far below 2^53")]
        let readings_per_second = count as f64 / seconds;
        let mut faults = self.faults;
        faults.extend(noise([&start, &end], readings_per_second, rules));
        let points_not_used = self.left_out;
        Ok(RiseTime {
            value,
            start,
            end,
            inputs,
            budget,
            faults,
            points_not_used,
            readings_per_second,
        })
    }
}

/// How often and where the trace climbs through `limit`.
fn climbs(trace: &Trace, watch: &ClimbWatch, limit: Temperature) -> String {
    let told: Vec<String> =
        watch.climbs.iter().map(|climb| format!("{:.2}", trace.point(climb.first).at)).collect();
    let more = watch.count - told.len();
    let more = if more > 0 { format!(" and {more} times more") } else { String::new() };
    let count = watch.count;
    format!("The trace climbs through {limit:.1} {count} times: at {}{more}.", told.join(", "))
}

fn too_few(limits: &[Temperature], faults: Vec<Fault>) -> RiseTimeError {
    let findings = limits
        .iter()
        .map(|limit| RiseTimeFinding {
            kind: RiseTimeFindingKind::TooFewReadings,
            text: format!("Too few readings lie around {limit:.1} to place the climb through it."),
        })
        .collect();
    RiseTimeError { findings, faults }
}

/// A note on noisy readings, where the crossing was fitted through them.
fn noise(crossings: [&Crossing; 2], readings_per_second: f64, rules: &Rules) -> Option<Fault> {
    #[expect(clippy::cast_precision_loss, reason = "a number of readings in a rule is small")]
    let fewest = rules.crossing_fewest_readings as f64;
    if readings_per_second * 2.0 * rules.crossing_half_width.seconds() < fewest {
        return None;
    }
    let worst = crossings.into_iter().find(|crossing| crossing.scatter > rules.noise)?;
    let text = format!(
        "The readings around {:.1} scatter by {:.1} about a smooth curve; more than {:.1} is noise.",
        worst.limit, worst.scatter, rules.noise
    );
    Some(Fault { kind: FaultKind::Noise, at: worst.at, text, effect: Effect::Note })
}
