//! Spikes: single readings far off the straight line of those before them, and soon back.

use crate::fit::{self, Reading};
use crate::rules::Rules;
use crate::trace::{Point, Trace};

/// Tells of each reading in turn whether it is one of a spike.
#[derive(Debug)]
pub(crate) struct SpikeWatch<'a> {
    trace: &'a Trace,
    rules: &'a Rules,
    end: usize,
    /// From here on the readings belong to one line: a step or a bend before it is forgotten.
    line_from: usize,
    /// The last two readings that were no spike.
    last: [Option<Reading>; 2],
    /// Up to here the readings are known to be a spike.
    spike_until: usize,
    /// The readings of spikes so far, in rising order.
    pub(crate) found: Vec<usize>,
    /// How many spikes they make.
    pub(crate) count: usize,
}

impl<'a> SpikeWatch<'a> {
    pub(crate) const fn new(trace: &'a Trace, rules: &'a Rules, start: usize, end: usize) -> Self {
        Self {
            trace,
            rules,
            end,
            line_from: start,
            last: [None; 2],
            spike_until: start,
            found: Vec::new(),
            count: 0,
        }
    }

    /// Whether the reading at `index`, the next one, belongs to a spike.
    pub(crate) fn is_spike(&mut self, index: usize, point: Point) -> bool {
        let now = reading(point);
        if index >= self.spike_until && self.bends(now) {
            self.judge(index, now);
        }
        if index < self.spike_until {
            self.found.push(index);
            return true;
        }
        self.last = [self.last[1], Some(now)];
        false
    }

    /// Whether the reading leaves the line of the two before it by so much that a spike may begin.
    /// No spike can be missed by this, and nearly all readings end here.
    fn bends(&self, now: Reading) -> bool {
        let [Some(first), Some(second)] = self.last else { return false };
        let slope = (second.1 - first.1) / (second.0 - first.0);
        let expected = second.1 + slope * (now.0 - second.0);
        (now.1 - expected).abs() > 0.5 * self.rules.spike_deviation.kelvin()
    }

    fn judge(&mut self, index: usize, now: Reading) {
        let before = self.before(index, now.0);
        let Some(line) = fit::line(before.clone()) else { return };
        if line.count < self.rules.spike_line_fewest_readings {
            return;
        }
        let (least, scatter) = (self.rules.spike_deviation.kelvin(), line.scatter(before));
        let off = |(at, value): Reading| {
            let expected = scatter * (1.0 + line.variance(at)).sqrt();
            (value - line.at(at)).abs() > least.max(self.rules.spike_scatters * expected)
        };
        if !off(now) {
            return;
        }
        let last = self.end.min(index + self.rules.spike_longest + 1);
        let mut after = (index + 1)..last;
        match after.find(|next| !off(reading(self.trace.point(*next)))) {
            Some(back) => {
                self.spike_until = back;
                self.count += 1;
            }
            // It does not come back: the trace itself bends here.
            None => self.line_from = index,
        }
    }

    /// The readings of the line's length before `index` that were no spike.
    fn before(&self, index: usize, at: f64) -> impl Iterator<Item = Reading> + Clone + use<'_> {
        let from = at - self.rules.spike_line.seconds() - 1e-9;
        let start = (self.line_from..index)
            .rev()
            .take(self.rules.spike_line_most_readings)
            .take_while(|earlier| self.trace.point(*earlier).at.seconds() >= from)
            .last()
            .unwrap_or(index);
        (start..index)
            .filter(|earlier| self.found.binary_search(earlier).is_err())
            .map(|earlier| reading(self.trace.point(earlier)))
    }
}

fn reading(point: Point) -> Reading {
    (point.at.seconds(), point.temperature.celsius())
}
