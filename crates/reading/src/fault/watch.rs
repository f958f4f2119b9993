//! Faults that show as the readings go by: an open wire, a stuck value, a gap, a fall, no rise.

use metrology::{Duration, Temperature};

use super::{Circumstances, Effect, Fault, FaultKind, jump, void};
use crate::rules::Rules;
use crate::trace::{Point, Trace, Window};

/// Watches raw readings go by, spikes included, up to the moment the top was reached.
#[derive(Debug)]
pub(crate) struct FaultWatch<'a> {
    trace: &'a Trace,
    rules: &'a Rules,
    window: Window,
    known: Circumstances,
    first: Option<Point>,
    before: Option<Point>,
    equal: Equal,
    /// The warmest reading, spikes left out.
    highest: Temperature,
    /// The reading from which a rise is judged: the first one with the flame on.
    base: Option<Point>,
    /// The coldest reading before the climb: where the heating started.
    coldest: Option<Point>,
    risen: bool,
    tail: usize,
    fallen: Option<Point>,
    inside: Option<Point>,
    fall: Option<(Point, Point)>,
    gap: Option<(Point, Point)>,
    found: Vec<Fault>,
}

/// A run of equal readings.
#[derive(Clone, Copy, Debug, Default)]
struct Equal {
    start: usize,
    count: usize,
}

impl<'a> FaultWatch<'a> {
    pub(crate) fn new(
        trace: &'a Trace,
        rules: &'a Rules,
        window: Window,
        known: Circumstances,
        start: usize,
    ) -> Self {
        Self {
            trace,
            rules,
            window,
            known,
            first: None,
            before: None,
            equal: Equal { start, count: 0 },
            highest: Temperature::from_celsius(f64::NEG_INFINITY),
            base: None,
            coldest: None,
            risen: false,
            tail: start,
            fallen: None,
            inside: None,
            fall: None,
            gap: None,
            found: Vec::new(),
        }
    }

    /// Sees the reading at `index`, of a spike or not.
    pub(crate) fn see_raw(&mut self, index: usize, point: Point) {
        if let Some(before) = self.before {
            if let Some(fault) = jump(before, point, self.rules) {
                self.add(fault);
            }
            self.see_step(before, point);
            if before.temperature != point.temperature {
                self.end_of_equal(index - 1, Some(point));
                self.equal = Equal { start: index, count: 0 };
            }
        }
        self.equal.count += 1;
        self.first = self.first.or(Some(point));
        self.before = Some(point);
    }

    /// Sees the reading at `index`, that is of no spike.
    pub(crate) fn see_used(&mut self, point: Point) {
        if point.temperature > self.highest {
            self.highest = point.temperature;
        }
        if self.base.is_none() && self.known.flame_on.is_none_or(|on| point.at >= on) {
            self.base = Some(point);
            self.tail = self.trace.count_before(point.at);
        }
        if let Some(base) = self.base.filter(|_| !self.risen) {
            self.risen = point.temperature - base.temperature >= self.rules.no_rise_change;
            self.see_fall(base, point);
        }
    }

    /// Sees a reading below the window, before the climb into it.
    pub(crate) fn see_below(&mut self, point: Point) {
        if self.coldest.is_none_or(|coldest| point.temperature < coldest.temperature) {
            self.coldest = Some(point);
        }
        // The climb is still to come: a gap before, in the cooling say, is none of it.
        if point.temperature < self.window.bottom() - self.rules.neighbourhood {
            self.gap = None;
        }
    }

    /// The trace has just climbed into the window.
    pub(crate) fn enter(&mut self, point: Point) {
        self.inside = Some(point);
        self.fall = None;
    }

    /// The trace has left the window downwards: that is no fall inside it.
    pub(crate) fn leave(&mut self) {
        self.inside = None;
        self.fall = None;
    }

    /// Sees a reading between the climbs through bottom and top.
    pub(crate) fn see_inside(&mut self, point: Point) {
        let Some(highest) = self.inside else { return };
        if point.temperature > highest.temperature {
            self.inside = Some(point);
        }
        let fall = highest.temperature - point.temperature;
        let deepest = self.fall.is_none_or(|(high, low)| fall > high.temperature - low.temperature);
        if fall > self.rules.not_monotonic_fall && deepest {
            self.fall = Some((highest, point));
        }
    }

    /// The faults found, `last` being the index of the last reading seen.
    pub(crate) fn finish(mut self, last: usize, usual_step: Duration) -> Vec<Fault> {
        self.end_of_equal(last, None);
        self.judge_gap(usual_step);
        self.judge_start();
        self.judge_rise();
        if let Some((high, low)) = self.fall {
            let text = format!(
                "The reading falls inside the window, from {:.1} at {:.2} to {:.1} at {:.2}.",
                high.temperature, high.at, low.temperature, low.at
            );
            self.add(void(FaultKind::NotMonotonic, low.at, text));
        }
        self.found
    }

    /// Adds a fault, unless one of its kind was seen earlier.
    fn add(&mut self, fault: Fault) {
        if self.found.iter().all(|known| known.kind != fault.kind) {
            self.found.push(fault);
        }
    }

    /// Within the rule's time a reading lies below an earlier one by more than the rule's fall.
    fn see_fall(&mut self, base: Point, point: Point) {
        while point.at - self.trace.point(self.tail).at > self.rules.reversed_time {
            self.tail += 1;
        }
        let mut from = self.trace.point(self.tail);
        if self.known.flame_on.is_some() {
            if point.at - base.at > self.rules.reversed_time {
                return;
            }
            from = base;
        }
        if self.fallen.is_none() && from.temperature - point.temperature > self.rules.reversed_fall
        {
            self.fallen = Some(point);
        }
    }

    fn judge_rise(&mut self) {
        let (Some(first), Some(base), Some(last)) = (self.first, self.base, self.before) else {
            return;
        };
        let time = self.rules.no_rise_time;
        // With the moment of the flame only the time after it counts, else the whole trace.
        let until = if self.known.flame_on.is_some() { base.at + time } else { last.at };
        let from = self.trace.count_before(base.at);
        let mut judged = self.trace.points_in(from..self.trace.count_before(until) + 1);
        if judged.len() < self.rules.stuck_fewest_readings || last.at - base.at < time {
            return;
        }
        let rise = |point: Point| point.temperature - base.temperature;
        let risen = if self.known.flame_on.is_some() {
            judged.any(|point| rise(point) >= self.rules.no_rise_change)
        } else {
            self.risen || first.temperature >= self.window.bottom()
        };
        if risen {
            return;
        }
        if let Some(fallen) = self.fallen {
            let text = format!(
                "The reading falls, from {:.1} to {:.1} at {:.2}: plus and minus are swapped.",
                base.temperature, fallen.temperature, fallen.at
            );
            self.add(void(FaultKind::Reversed, fallen.at, text));
        } else {
            let text = format!(
                "No rise: from {:.1} at {:.2} the reading climbs by less than {:.0}: the \
                 thermocouple is shorted, or the flame is not on the block.",
                base.temperature, base.at, self.rules.no_rise_change
            );
            self.add(void(FaultKind::NoRise, base.at, text));
        }
    }

    fn judge_start(&mut self) {
        let Some(first) = self.first else { return };
        if let Some(rest) = self.known.resting_at {
            let apart = first.temperature - rest;
            if apart.abs() > self.rules.resting_difference {
                let text = format!(
                    "The block at rest reads {:.1} and the terminals {:.1}, {:.1} apart: another \
                     thermocouple type is set or wired.",
                    first.temperature,
                    rest,
                    apart.abs()
                );
                self.add(void(FaultKind::WrongType, first.at, text));
            }
        }
        let start = self.coldest.unwrap_or(first);
        if let Some(limit) = self.known.start_limit.filter(|limit| start.temperature > *limit) {
            let text = format!(
                "The block starts at {:.1}; it must not be above {limit:.1}.",
                start.temperature
            );
            self.add(void(FaultKind::StartedWarm, start.at, text));
        }
    }

    fn see_step(&mut self, before: Point, point: Point) {
        let step = point.at - before.at;
        if step <= self.rules.gap_time || !self.touches_a_limit(before, point) {
            return;
        }
        if self.gap.is_none_or(|(from, to)| step > to.at - from.at) {
            self.gap = Some((before, point));
        }
    }

    /// Whether what lies between two readings comes near the bottom or the top.
    fn touches_a_limit(&self, before: Point, point: Point) -> bool {
        let reach = self.rules.neighbourhood;
        let (one, other) = (before.temperature, point.temperature);
        let (low, high) = if one < other { (one, other) } else { (other, one) };
        [self.window.bottom(), self.window.top()]
            .iter()
            .any(|limit| low <= *limit + reach && high >= *limit - reach)
    }

    fn judge_gap(&mut self, usual_step: Duration) {
        let Some((from, to)) = self.gap else { return };
        let gap = to.at - from.at;
        if gap > usual_step * self.rules.gap_steps {
            let text = format!(
                "There is no reading for {:.2} from {:.2} on, between {:.1} and {:.1}; near a \
                 limit one is needed every {:.2}.",
                gap,
                from.at,
                from.temperature,
                to.temperature,
                longer(self.rules.gap_time, usual_step)
            );
            self.add(void(FaultKind::Gap, from.at, text));
        }
    }

    /// A run of equal readings has ended with the one at `last`, and `next` is another.
    fn end_of_equal(&mut self, last: usize, next: Option<Point>) {
        let Equal { start, count } = self.equal;
        if count < self.rules.stuck_fewest_readings {
            return;
        }
        let (from, to) = (self.trace.point(start), self.trace.point(last));
        // A hair less than the time, for decimal times that are no binary ones.
        if to.at - from.at < self.rules.stuck_time - Duration::from_seconds(1e-9) {
            return;
        }
        let slope = |one: Point, other: Point| {
            (other.temperature - one.temperature).kelvin() / (other.at - one.at).seconds()
        };
        let second = Duration::from_seconds(1.0);
        let earlier = self.trace.count_before(from.at - second).min(start.saturating_sub(1));
        if earlier >= start {
            return;
        }
        let due = self.rules.stuck_slope_kelvin_per_second;
        let climbed = slope(self.trace.point(earlier), from) > due;
        let caught_up = next.is_none_or(|next| slope(from, next) > due);
        if climbed && caught_up {
            let text = format!(
                "The reading is stuck: it stands at {} for {:.2} from {:.2} on.",
                from.temperature,
                to.at - from.at,
                from.at
            );
            self.add(void(FaultKind::Stuck, from.at, text));
        }
    }
}

fn longer(one: Duration, other: Duration) -> Duration {
    if one < other { other } else { one }
}

/// The fault that spikes make: some are left out, too many void the trace.
pub(crate) fn of_spikes(trace: &Trace, found: Vec<usize>, count: usize, rules: &Rules) -> Fault {
    let at = found.first().map_or(Duration::ZERO, |first| trace.point(*first).at);
    let told = if count == 1 { "1 spike".to_owned() } else { format!("{count} spikes") };
    let (text, effect) = if count > rules.spikes_most {
        let most = rules.spikes_most;
        (format!("There are {told}, the first at {at:.2}; at most {most} may be."), Effect::Void)
    } else {
        let text = format!("There is {told} at {at:.2}; the reading is kept and not used.");
        let text = if found.len() == 1 {
            text
        } else {
            format!("There are {told}, the first at {at:.2}; the readings are kept and not used.")
        };
        (text, Effect::PointsNotUsed(found))
    };
    Fault { kind: FaultKind::Spike, at, text, effect }
}
