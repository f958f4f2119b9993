//! A reference function: a polynomial a range, evaluated by Horner's rule and solved for a root.

use std::ops::RangeInclusive;

use libm::exp;
use serde::Deserialize;

/// One piece of a reference function.
#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct Range {
    bottom_celsius: f64,
    top_celsius: f64,
    coefficients_millivolts: Vec<f64>,
    /// a0, a1, a2 of a0·exp(a1·(t - a2)²): type K above 0 °C.
    bell: Option<[f64; 3]>,
}

/// A reference function at one temperature.
#[derive(Clone, Copy, Debug)]
pub(super) struct Value {
    pub(super) millivolts: f64,
    pub(super) millivolts_per_kelvin: f64,
}

/// A reference function over all its ranges, with what finds its roots quickly.
#[derive(Debug)]
pub(super) struct ReferenceFunction {
    ranges: Vec<Range>,
    voltages: RangeInclusive<f64>,
    /// Rising points of the function, from the first temperature that no other shares a
    /// voltage with to the top.
    nodes: Vec<Node>,
}

#[derive(Clone, Copy, Debug)]
struct Node {
    celsius: f64,
    millivolts: f64,
}

impl Range {
    fn at(&self, celsius: f64) -> Value {
        let (mut value, mut slope) = (0.0, 0.0);
        for coefficient in self.coefficients_millivolts.iter().rev() {
            slope = slope * celsius + value;
            value = value * celsius + coefficient;
        }
        if let Some([height, width, centre]) = self.bell {
            let off = celsius - centre;
            let bell = height * exp(width * off * off);
            value += bell;
            slope += 2.0 * width * off * bell;
        }
        Value { millivolts: value, millivolts_per_kelvin: slope }
    }
}

impl ReferenceFunction {
    /// How far the nodes lie apart. A straight line between two of them is within some
    /// hundredths of a kelvin, so that two or three steps end a search.
    const NODES_APART_CELSIUS: f64 = 4.0;

    /// The function of `ranges`.
    ///
    /// # Errors
    ///
    /// When there are none, or they do not follow one another.
    pub(super) fn new(ranges: Vec<Range>) -> Result<Self, &'static str> {
        if ranges.is_empty() || ranges.iter().any(|range| range.bottom_celsius >= range.top_celsius)
        {
            return Err("a range has no inside, or there is none");
        }
        if ranges.windows(2).any(|pair| pair[0].top_celsius < pair[1].bottom_celsius) {
            return Err("two ranges leave a gap");
        }
        let mut function = Self { ranges, voltages: 0.0..=0.0, nodes: Vec::new() };
        let (bottom, top) = (function.bottom(), function.top());
        let lowest = function.lowest_celsius();
        function.voltages = function.at(lowest).millivolts..=function.at(top).millivolts;

        let foot = function.at(bottom).millivolts;
        let first = bisected(lowest, top, |celsius| function.at(celsius).millivolts < foot);
        let mut celsius = first;
        while celsius < top {
            let millivolts = function.at(celsius).millivolts;
            function.nodes.push(Node { celsius, millivolts });
            celsius += Self::NODES_APART_CELSIUS;
        }
        function.nodes.push(Node { celsius: top, millivolts: function.at(top).millivolts });
        if function.nodes.windows(2).any(|pair| pair[0].millivolts >= pair[1].millivolts) {
            return Err("the voltage falls where it must rise");
        }
        Ok(function)
    }

    pub(super) fn bottom(&self) -> f64 {
        self.ranges[0].bottom_celsius
    }

    pub(super) fn top(&self) -> f64 {
        self.ranges[self.ranges.len() - 1].top_celsius
    }

    /// All voltages that the function takes.
    pub(super) const fn voltages(&self) -> &RangeInclusive<f64> {
        &self.voltages
    }

    /// The temperature above which a voltage means one temperature.
    pub(super) fn unique_above(&self) -> f64 {
        self.nodes[0].celsius
    }

    /// The function at `celsius`. Where two ranges meet, the lower one holds.
    pub(super) fn at(&self, celsius: f64) -> Value {
        let last = &self.ranges[self.ranges.len() - 1];
        self.ranges.iter().find(|range| celsius <= range.top_celsius).unwrap_or(last).at(celsius)
    }

    /// The one temperature that gives `millivolts`, or none if two do.
    ///
    /// Newton's method from a straight line between two nodes, kept between them by bisection.
    pub(super) fn root(&self, millivolts: f64) -> Option<f64> {
        let (first, last) = (self.nodes[0], self.nodes[self.nodes.len() - 1]);
        let has_foot = first.celsius > self.bottom();
        if millivolts < first.millivolts || (has_foot && millivolts <= first.millivolts) {
            return None;
        }
        let above = self.nodes.partition_point(|node| node.millivolts <= millivolts);
        let right = *self.nodes.get(above).unwrap_or(&last);
        let left = self.nodes[above.min(self.nodes.len() - 1) - 1];
        let share = (millivolts - left.millivolts) / (right.millivolts - left.millivolts);
        let (mut low, mut high) = (left.celsius, right.celsius);
        let mut celsius = low + share * (high - low);
        // Each turn halves the bracket at worst: this many bring it to the last digit.
        for _ in 0..f64::MANTISSA_DIGITS {
            let Value { millivolts: here, millivolts_per_kelvin: slope } = self.at(celsius);
            if here < millivolts {
                low = celsius;
            } else {
                high = celsius;
            }
            let newton = celsius - (here - millivolts) / slope;
            let next =
                if (low..=high).contains(&newton) { newton } else { low + 0.5 * (high - low) };
            let step = (next - celsius).abs();
            celsius = next;
            // The steps shrink by squares: after one of a microkelvin nothing is left to gain.
            if step < 1e-6 {
                break;
            }
        }
        Some(celsius)
    }

    /// Where the voltage is lowest: at the bottom, but for a function that falls first.
    fn lowest_celsius(&self) -> f64 {
        let top = self.ranges[0].top_celsius;
        bisected(self.bottom(), top, |celsius| self.at(celsius).millivolts_per_kelvin < 0.0)
    }
}

/// The first place from `low` to `high` where `below` no longer holds.
fn bisected(mut low: f64, mut high: f64, below: impl Fn(f64) -> bool) -> f64 {
    if !below(low) {
        return low;
    }
    loop {
        let middle = low + 0.5 * (high - low);
        if middle <= low || middle >= high {
            return high;
        }
        if below(middle) {
            low = middle;
        } else {
            high = middle;
        }
    }
}
