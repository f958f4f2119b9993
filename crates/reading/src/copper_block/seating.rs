//! How the sensor sits in the block: what its readings do when the flame is moved.
//!
//! Far from those moments a sensor that lags is only late, and the fit does not see it. Where the
//! flame comes or goes the block's course has a corner: a sensor that lags rounds it off, one
//! that the flame reaches shows a step there.

use metrology::{DegreesOfFreedom, Duration, Measurement, Temperature};

use super::CopperBlock;
use super::copper::Piece;
use super::fit::{BlockFit, Body, InAir, InFlame};
use super::solver::{Equation, Solver, Step};
use crate::fit::Reading;
use crate::trace::Trace;

/// How late the sensor is where the flame comes and where it goes.
///
/// A positive time is a lag. A negative one is a step: the sensor shows at once what the block
/// reaches only after that time, or has left that time before.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Seating {
    /// Where the flame comes; nothing without a block at rest before it.
    pub flame_comes: Option<Measurement<Duration>>,
    /// Where the flame goes; nothing without a heating and a cooling.
    pub flame_goes: Option<Measurement<Duration>>,
}

/// The readings this long before and after a corner tell of it, in seconds.
const BEFORE: f64 = 3.0;
const AFTER: f64 = 3.0;

/// The course is needed this far beyond the fitted readings, in seconds.
const REACH: f64 = 8.0;

/// A step is no slower than this, in seconds.
const AT_ONCE: f64 = 0.03;

/// Lags that are looked at, in seconds, and how closely.
const LAGS: (f64, f64) = (-1.2, 2.0);
const CLOSELY: f64 = 0.1;

impl Seating {
    /// From the readings around the two moments.
    #[must_use]
    pub fn of(block: &CopperBlock, room: Temperature, trace: &Trace, fit: &BlockFit) -> Self {
        let numbers = &fit.numbers;
        let body = Body::new(block, room.kelvin());
        let [gain, flame, loss, emissivity, start, peak] = numbers.values;
        let scatter = fit.residuals.scatter.kelvin().max(0.02);
        let heating = fit.flame.map(|_| {
            let in_flame = InFlame { body, gain, flame, loss, emissivity };
            let state = [start, 0.0, 0.0, 0.0, 0.0, 1.0];
            Branch::of(&in_flame, body.pieces(), numbers.heating_from, state)
        });
        let cooling = numbers.cooled.then(|| {
            let in_air = InAir { body, loss, emissivity };
            Branch::of(&in_air, body.pieces(), numbers.cooling_from, [peak, 0.0, 0.0, 1.0])
        });
        let around = |moment: Duration| -> Vec<Reading> {
            let reach = moment.seconds() - BEFORE..=moment.seconds() + AFTER;
            trace
                .points()
                .map(|point| (point.at.seconds(), point.temperature.kelvin()))
                .filter(|(at, _)| reach.contains(at))
                .collect()
        };
        let phases = &fit.phases;
        let flame_comes = phases.rest.zip(heating.as_ref()).and_then(|(rest, heating)| {
            let readings = around(phases.flame_on);
            let still = phases.flame_on.seconds() - 0.5;
            let at_rest = readings.iter().filter(|(at, _)| *at < still).map(|reading| reading.1);
            let level = mean_near(at_rest, rest.temperature.kelvin(), scatter);
            Corner::new(&|_| level, &|at| heating.at(at), &readings, scatter).lag()
        });
        let both = heating.as_ref().zip(cooling.as_ref());
        let flame_goes = both.and_then(|(heating, cooling)| {
            let readings = around(phases.flame_away);
            Corner::new(&|at| heating.at(at), &|at| cooling.at(at), &readings, scatter).lag()
        });
        Self { flame_comes, flame_goes }
    }
}

/// The mean of what lies within three scatters; the middle where nothing does.
fn mean_near(kelvins: impl Iterator<Item = f64>, middle: f64, scatter: f64) -> f64 {
    let (mut sum, mut count) = (0.0, 0.0);
    for kelvin in kelvins.filter(|kelvin| (kelvin - middle).abs() < 3.0 * scatter + 1.0) {
        sum += kelvin - middle;
        count += 1.0;
    }
    if count > 0.0 { middle + sum / count } else { middle }
}

/// A course run both ways from the first fitted reading.
struct Branch<const N: usize> {
    from: f64,
    on: Vec<Step<N>>,
    back: Vec<Step<N>>,
}

/// The same course, the time turned round.
struct Back<'a, E>(&'a E);

impl<const N: usize, E: Equation<N>> Equation<N> for Back<'_, E> {
    fn slope(&self, piece: &Piece, state: &[f64; N]) -> [f64; N] {
        self.0.slope(piece, state).map(|slope| -slope)
    }
}

impl<const N: usize> Branch<N> {
    fn of(equation: &impl Equation<N>, pieces: &[Piece], from: f64, state: [f64; N]) -> Self {
        const LONGEST: f64 = 200.0;
        const TOLERANCE: f64 = 1e-4;
        let mut solver = Solver::new(equation, pieces, state, TOLERANCE);
        let on = std::iter::from_fn(|| solver.next(LONGEST)).collect();
        let back = Back(equation);
        let mut solver = Solver::new(&back, pieces, state, TOLERANCE);
        let back = std::iter::from_fn(|| solver.next(REACH)).collect();
        Self { from, on, back }
    }

    /// In kelvin; beyond what was solved, where the nearest step leads to.
    fn at(&self, at: f64) -> f64 {
        let since = at - self.from;
        let (steps, since) = if since < 0.0 { (&self.back, -since) } else { (&self.on, since) };
        let after = steps.partition_point(|step| step.from <= since);
        steps.get(after.saturating_sub(1)).map_or(f64::NAN, |step| step.kelvin_at(since))
    }
}

/// Two courses, and the readings where the block goes over from one to the other.
struct Corner<'a> {
    before: &'a dyn Fn(f64) -> f64,
    after: &'a dyn Fn(f64) -> f64,
    readings: Vec<Seen>,
    scatter: f64,
}

/// A reading, and where the two courses are then, in kelvin.
struct Seen {
    at: f64,
    kelvin: f64,
    before: f64,
    after: f64,
}

impl<'a> Corner<'a> {
    fn new(
        before: &'a dyn Fn(f64) -> f64,
        after: &'a dyn Fn(f64) -> f64,
        readings: &[Reading],
        scatter: f64,
    ) -> Self {
        let seen = |(at, kelvin): &Reading| Seen {
            at: *at,
            kelvin: *kelvin,
            before: before(*at),
            after: after(*at),
        };
        Self { before, after, readings: readings.iter().map(seen).collect(), scatter }
    }

    /// The lag that fits best, and how sure that is: where the squares grow by one.
    fn lag(&self) -> Option<Measurement<Duration>> {
        let meeting = self.meeting()?;
        let squares = |lag: f64| self.squares(meeting, lag);
        let number = ((LAGS.1 - LAGS.0) / CLOSELY).round();
        let (mut best, mut least) = (0.0, f64::INFINITY);
        let mut n = 0.0;
        while n <= number {
            let lag = LAGS.0 + CLOSELY * n;
            let found = squares(lag);
            if found < least {
                (best, least) = (lag, found);
            }
            n += 1.0;
        }
        let mut width = CLOSELY / 2.0;
        while width > 1e-3 {
            for tried in [best - width, best + width] {
                let found = squares(tried);
                if found < least {
                    (best, least) = (tried, found);
                }
            }
            width /= 2.0;
        }
        let side = |direction: f64| {
            let mut width = 0.01;
            while width < 2.0 && squares(best + direction * width) < least + 1.0 {
                width *= 1.3;
            }
            width
        };
        let uncertainty = side(1.0).midpoint(side(-1.0));
        least.is_finite().then(|| Measurement {
            value: Duration::from_seconds(best),
            uncertainty: Duration::from_seconds(uncertainty),
            degrees_of_freedom: DegreesOfFreedom::Infinite,
        })
    }

    /// When the two courses meet.
    fn meeting(&self) -> Option<f64> {
        let (mut low, mut high) = (self.readings.first()?.at, self.readings.last()?.at);
        let apart = |at: f64| (self.after)(at) - (self.before)(at);
        let side = apart(low);
        if side * apart(high) >= 0.0 {
            return None;
        }
        for _ in 0..40 {
            let middle = low.midpoint(high);
            if apart(middle) * side > 0.0 { low = middle } else { high = middle }
        }
        Some(high)
    }

    /// The squares of what a sensor leaves over that lags by this, in units of the scatter; wild
    /// readings count less.
    fn squares(&self, meeting: f64, lag: f64) -> f64 {
        let moment = meeting - lag;
        let gap = (self.before)(moment) - (self.after)(moment);
        let constant = lag.max(AT_ONCE);
        let residual = |seen: &Seen| {
            let expected = if seen.at < moment {
                seen.before
            } else {
                seen.after + gap * libm::exp((moment - seen.at) / constant)
            };
            let off = ((seen.kelvin - expected) / self.scatter).abs();
            if off > 4.0 { 4.0 * (2.0 * off - 4.0) } else { off * off }
        };
        self.readings.iter().map(residual).sum()
    }
}
