//! Where a trace climbs through a limit, and how surely that is known.

use metrology::{DegreesOfFreedom, Duration, Temperature, TemperatureDifference};

use crate::fit::{self, Line, Reading, Scatter};
use crate::rules::Rules;
use crate::trace::{Point, Trace};

/// One climb of a trace through a limit.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Crossing {
    /// The limit climbed through.
    pub limit: Temperature,
    /// When.
    pub at: Duration,
    /// How steeply.
    pub slope_kelvin_per_second: f64,
    /// How the time was found.
    pub method: CrossingMethod,
    /// Through how many readings.
    pub readings: usize,
    /// The standard deviation of one reading about a smooth curve around the limit.
    pub scatter: TemperatureDifference,
    /// How well that deviation is known.
    pub scatter_degrees_of_freedom: DegreesOfFreedom,
    /// The step of the readings' last digit; zero when they have six decimals or more.
    pub resolution: TemperatureDifference,
    /// Standard uncertainty of the time from the scatter of the readings, their digits included.
    pub from_scatter: Duration,
    /// Standard uncertainty of the time from the bend that the straight line leaves out.
    pub from_bend: Duration,
    /// Standard uncertainty of the time from the last digit, where the readings used run through
    /// so few digits that its rounding does not average out; else zero.
    pub from_digits: Duration,
}

/// How the time of a crossing was found.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum CrossingMethod {
    /// A straight line fitted to the readings within the rule's half-width of the crossing.
    LineThroughNear,
    /// A straight line between the reading before and the one after: too few lie near.
    BetweenTwo,
}

/// One climb as it is met in the order of time, before it is placed.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Climb {
    /// The reading used before the first that is not below the limit.
    pub(crate) before: usize,
    /// The first reading that is not below the limit.
    pub(crate) first: usize,
    /// The last reading below it before the climb was sure.
    pub(crate) last_below: usize,
}

/// Watches a trace go by for climbs through one limit.
#[derive(Debug)]
pub(crate) struct ClimbWatch {
    limit: Temperature,
    fall: TemperatureDifference,
    state: State,
    before: usize,
    /// How many climbs there were.
    pub(crate) count: usize,
    /// The first of them.
    pub(crate) climbs: Vec<Climb>,
    /// Whether the first reading was not below the limit.
    pub(crate) started_above: bool,
}

#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum State {
    Unknown,
    Below,
    /// Reached, and not yet further above than a dip may be.
    Unsettled,
    Above,
}

impl ClimbWatch {
    /// The most climbs that are told one by one.
    pub(crate) const TOLD: usize = 4;

    pub(crate) const fn new(limit: Temperature, fall: TemperatureDifference) -> Self {
        let climbs = Vec::new();
        Self {
            limit,
            fall,
            state: State::Unknown,
            before: 0,
            count: 0,
            climbs,
            started_above: false,
        }
    }

    /// Whether the trace is below the limit now, by more than a dip of one crossing.
    pub(crate) fn is_below(&self) -> bool {
        self.state == State::Below
    }

    pub(crate) fn see(&mut self, index: usize, point: Point) {
        let value = point.temperature;
        match self.state {
            State::Unknown => {
                self.started_above = value >= self.limit;
                self.state = if self.started_above { State::Above } else { State::Below };
            }
            State::Below if value >= self.limit => {
                self.count += 1;
                if self.climbs.len() < Self::TOLD {
                    let before = self.before;
                    self.climbs.push(Climb { before, first: index, last_below: before });
                }
                self.state = self.above(value);
            }
            State::Unsettled | State::Above if value < self.limit - self.fall => {
                self.state = State::Below;
            }
            State::Unsettled => {
                if value < self.limit
                    && self.count == self.climbs.len()
                    && let Some(climb) = self.climbs.last_mut()
                {
                    climb.last_below = index;
                }
                self.state = self.above(value);
            }
            State::Below | State::Above => {}
        }
        self.before = index;
    }

    fn above(&self, value: Temperature) -> State {
        if value >= self.limit + self.fall { State::Above } else { State::Unsettled }
    }
}

/// The readings that may be used: a stretch of a trace without those that a fault took out.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Used<'a> {
    pub(crate) trace: &'a Trace,
    /// The first index of the stretch, and the one after its last.
    pub(crate) start: usize,
    pub(crate) end: usize,
    /// In rising order.
    pub(crate) left_out: &'a [usize],
}

impl<'a> Used<'a> {
    fn is_used(&self, index: usize) -> bool {
        self.left_out.binary_search(&index).is_err()
    }

    fn reading(&self, index: usize) -> Reading {
        let point = self.trace.point(index);
        (point.at.seconds(), point.temperature.celsius())
    }

    /// The indices within `half` seconds of `at`, up to the end of the climb, and how many of
    /// their readings may be used.
    fn readings_within(self, at: f64, half: f64, end: usize) -> (Around, usize) {
        // A hair more than the half-width, so that a decimal time on its edge is not lost.
        let before = |seconds| self.trace.count_before(Duration::from_seconds(seconds));
        let start = before(at - half - 1e-9).clamp(self.start, end);
        let end = before(at + half + 1e-9).clamp(start, end);
        (Around { start, end }, self.readings(start, end).count())
    }

    /// The readings of some indices that may be used.
    pub(crate) fn readings(
        self,
        start: usize,
        end: usize,
    ) -> impl Iterator<Item = Reading> + Clone + 'a {
        (start..end).filter(move |index| self.is_used(*index)).map(move |index| self.reading(index))
    }
}

/// A stretch of readings around a climb: the first index, and the one after the last.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
struct Around {
    start: usize,
    end: usize,
}

/// On which side of a limit the inside of the window lies, in time.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Inside {
    /// After it: the limit is the bottom.
    After,
    /// Before it: the limit is the top.
    Before,
}

/// Places `climb` in time, or nothing where fewer than four readings are near.
pub(crate) fn place(
    used: Used<'_>,
    climb: Climb,
    (limit, inside): (Temperature, Inside),
    rules: &Rules,
) -> Option<Crossing> {
    let level = limit.celsius();
    let end = climb_end(used, climb, level, rules);
    let first = used.reading(climb.first).0;
    let at = first.midpoint(used.reading(climb.last_below).0);
    let mut half = rules.crossing_half_width.seconds();
    let mut found = None;
    for _ in 0..WIDENINGS {
        let (around, count) = used.readings_within(at, half, end);
        let line = if count >= rules.crossing_fewest_readings {
            line_through_near(used, (at, half), (level, end))
        } else {
            None
        };
        // Where no line climbs through near readings, the two around the limit do by themselves.
        let line = line.or_else(|| found.is_none().then(|| between_two(used, climb, level))?);
        if let Some(placed) = line {
            let near = neighbourhood(used, climb, (level, end), &placed, rules);
            let wide = widened(used, near, inside, rules);
            let scatter = fit::scatter(used.readings(wide.start, wide.end))?;
            let digits = digit_step(used.readings(wide.start, wide.end));
            found = Some(crossing(limit, &placed, scatter, digits));
            let slope_uncertainty = scatter.deviation / placed.spread.sqrt();
            if slope_uncertainty <= rules.crossing_slope_uncertainty * placed.slope
                || placed.run > 2.0 * rules.neighbourhood.kelvin()
            {
                break;
            }
        }
        if around.start == used.start && around.end == end {
            break;
        }
        half *= 2.0;
    }
    found
}

/// A line that meets the limit, and where.
#[derive(Clone, Copy, Debug)]
struct Placed {
    at: f64,
    slope: f64,
    method: CrossingMethod,
    readings: usize,
    /// Where they are.
    around: Around,
    /// The sum of the squared distances of the readings' times from their mean.
    spread: f64,
    /// The variance of the line at the crossing, for readings of variance 1.
    variance: f64,
    /// Half the mean square distance of the line's readings: what a bend of 1 K/s² shifts it by.
    bend: f64,
    /// What the temperature runs through along the readings used.
    run: f64,
}

/// The most readings that a climb is followed for beyond a limit.
const CLIMB_MOST: usize = 100_000;

/// Where the climb after the limit ends: at its hottest reading before the trace leaves the
/// neighbourhood. What comes after a flame was taken away is not to bend the fit.
fn climb_end(used: Used<'_>, climb: Climb, level: f64, rules: &Rules) -> usize {
    let reach = rules.neighbourhood.kelvin();
    let most = climb.last_below.max(climb.first) + CLIMB_MOST;
    let (mut highest, mut hottest) = (f64::NEG_INFINITY, climb.first);
    for index in (climb.first..used.end.min(most)).filter(|index| used.is_used(*index)) {
        let value = used.reading(index).1;
        if value > highest {
            (highest, hottest) = (value, index);
        }
        if value > level + reach || value < level - reach {
            break;
        }
    }
    hottest + 1
}

/// Doublings of half a second that reach over half a day.
const WIDENINGS: usize = 17;

/// The line within `half` seconds of where it meets the limit itself, from `at` on: which readings
/// those are depends on where that is, and a few rounds settle both.
fn line_through_near(
    used: Used<'_>,
    (mut at, half): (f64, f64),
    (level, end): (f64, usize),
) -> Option<Placed> {
    let mut found: Option<(Line, Around)> = None;
    for _ in 0..8 {
        let (around, _) = used.readings_within(at, half, end);
        if found.is_some_and(|(_, before)| before == around) {
            break;
        }
        let line = fit::line(used.readings(around.start, around.end))?;
        at = line.middle + (level - line.level) / line.slope;
        if line.slope <= 0.0 || !at.is_finite() {
            return None;
        }
        found = Some((line, around));
    }
    let (line, around) = found?;
    let length = used.reading(around.end - 1).0 - used.reading(around.start).0;
    // A line that meets the limit far outside of its own readings says nothing about it.
    ((at - line.middle).abs() <= length).then(|| Placed {
        at,
        slope: line.slope,
        method: CrossingMethod::LineThroughNear,
        readings: line.count,
        around,
        spread: line.spread,
        variance: line.variance(at),
        bend: 0.5 * line.spread * line.variance(at),
        run: line.slope * length,
    })
}

fn between_two(used: Used<'_>, climb: Climb, level: f64) -> Option<Placed> {
    let (before, after) = (used.reading(climb.before), used.reading(climb.first));
    let (step, rise) = (after.0 - before.0, after.1 - before.1);
    let part = (level - before.1) / rise;
    (rise > 0.0).then(|| Placed {
        at: before.0 + part * step,
        slope: rise / step,
        method: CrossingMethod::BetweenTwo,
        readings: 2,
        around: Around { start: climb.before, end: climb.first + 1 },
        spread: step * step / 2.0,
        variance: part * part + (1.0 - part) * (1.0 - part),
        // The largest distance of an arc from its chord is its bend times step² ÷ 8.
        bend: step * step / 8.0,
        run: rise,
    })
}

/// The readings around the climb from which their scatter is taken.
fn neighbourhood(
    used: Used<'_>,
    climb: Climb,
    (level, end): (f64, usize),
    placed: &Placed,
    rules: &Rules,
) -> Around {
    let reach = rules.neighbourhood.kelvin();
    // Before a flame is put to it a block may rest within reach; that is no part of the climb.
    let longest = 2.0 * reach / placed.slope;
    let near = |index: &usize| {
        let (at, value) = used.reading(*index);
        !used.is_used(*index) || value >= level - reach && placed.at - at <= longest
    };
    let most = rules.neighbourhood_most_readings;
    let earliest = placed.around.start.min(climb.first.saturating_sub(most));
    let start = (used.start.max(earliest)..climb.first)
        .rev()
        .take_while(near)
        .last()
        .unwrap_or(climb.first);
    Around { start, end: end.min(placed.around.end.max(climb.first + most)) }
}

/// The neighbourhood of a slow logger has few readings: the nearest inside the window are taken
/// too, as far as the trace climbs there, since the heating is smooth on that side and begins or
/// ends on the other. Only where that leaves too few to fit, one side gives what the other lacks.
fn widened(used: Used<'_>, near: Around, inside: Inside, rules: &Rules) -> Around {
    let Around { mut start, mut end } = near;
    let fewest = rules.neighbourhood_fewest_readings;
    let count = |start, end| used.readings(start, end).count();
    let climbs = |end: usize| end < used.end && used.reading(end).1 > used.reading(end - 1).1;
    if inside == Inside::After {
        while count(start, end) < fewest && climbs(end) {
            end += 1;
        }
    } else {
        while count(start, end) < fewest && start > used.start {
            start -= 1;
        }
    }
    while count(start, end) < FEWEST_TO_FIT && start > used.start {
        start -= 1;
    }
    while count(start, end) < FEWEST_TO_FIT && end < used.end {
        end += 1;
    }
    Around { start, end }
}

/// A parabola has three numbers; what a fourth reading is off by tells of scatter.
const FEWEST_TO_FIT: usize = 4;

/// The step of the last decimal that the readings have, in kelvin; zero for six decimals or more.
fn digit_step(readings: impl Iterator<Item = Reading>) -> f64 {
    let mut per_kelvin = 1.0;
    for (_, value) in readings {
        // A value that went through single precision is still a decimal to this much of a step.
        while (value * per_kelvin - (value * per_kelvin).round()).abs() > 1e-3 {
            per_kelvin *= 10.0;
            if per_kelvin > 1e5 {
                return 0.0;
            }
        }
    }
    1.0 / per_kelvin
}

/// How often a line must run through the last digit before its rounding averages out.
const DIGITS_THAT_AVERAGE: f64 = 3.0;

fn crossing(limit: Temperature, placed: &Placed, scatter: Scatter, digits: f64) -> Crossing {
    let rounding = digits / 12.0_f64.sqrt();
    let deviation = scatter.deviation.max(rounding);
    let seconds = |kelvin: f64| Duration::from_seconds(kelvin / placed.slope);
    let averages = placed.run >= DIGITS_THAT_AVERAGE * digits;
    #[expect(clippy::cast_precision_loss, reason = "a count of readings is far below 2^53")]
    let degrees_of_freedom = scatter.degrees_of_freedom as f64;
    Crossing {
        limit,
        at: Duration::from_seconds(placed.at),
        slope_kelvin_per_second: placed.slope,
        method: placed.method,
        readings: placed.readings,
        scatter: TemperatureDifference::from_kelvin(deviation),
        scatter_degrees_of_freedom: DegreesOfFreedom::Of(degrees_of_freedom),
        resolution: TemperatureDifference::from_kelvin(digits),
        from_scatter: seconds(deviation * placed.variance.sqrt()),
        from_bend: seconds(scatter.curvature.abs() * placed.bend / 3.0_f64.sqrt()),
        from_digits: seconds(if averages { 0.0 } else { rounding }),
    }
}
