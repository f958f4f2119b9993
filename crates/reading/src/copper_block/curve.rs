//! The block's equation solved in time, so that its temperature can be asked for at any moment.

use metrology::{Duration, Temperature};

use super::copper::Piece;
use super::solver::{Equation, Solver, Step};
use super::{CopperBlock, Heat, Surroundings};

/// The course of a block's temperature from a start on.
///
/// Solved by a method of fifth order whose steps follow their error; between steps by its
/// interpolation of fourth order.
#[derive(Clone, Debug, PartialEq)]
pub struct Curve {
    start_kelvin: f64,
    steps: Vec<Step<1>>,
}

/// The error of a step in kelvin: far below what any reading shows, and a course of a heating
/// still takes fewer than two hundred steps.
const TOLERANCE: f64 = 1e-9;

/// The most steps that are kept. A block at rest is solved in long ones.
const MOST: usize = 100_000;

struct Course<'a> {
    block: &'a CopperBlock,
    heat: Heat,
    surroundings: Surroundings,
}

impl Equation<1> for Course<'_> {
    fn slope(&self, piece: &Piece, &[kelvin]: &[f64; 1]) -> [f64; 1] {
        let watt = self.block.net_watt(self.heat, self.surroundings, kelvin);
        [watt / (self.block.mass.grams() * piece.capacity(kelvin).0)]
    }
}

impl Curve {
    pub(super) fn new(
        block: &CopperBlock,
        heat: Heat,
        surroundings: Surroundings,
        (start, lasting): (Temperature, Duration),
    ) -> Self {
        let course = Course { block, heat, surroundings };
        let start_kelvin = start.kelvin();
        let mut solver = Solver::new(&course, block.copper.pieces(), [start_kelvin], TOLERANCE);
        let steps = std::iter::from_fn(|| solver.next(lasting.seconds())).take(MOST).collect();
        Self { start_kelvin, steps }
    }

    /// The temperature at a time after the start, or nothing outside of what was solved.
    #[must_use]
    pub fn at(&self, time: Duration) -> Option<Temperature> {
        let seconds = time.seconds();
        if !(seconds >= 0.0 && seconds <= self.lasts().seconds()) {
            return None;
        }
        let after = self.steps.partition_point(|step| step.from <= seconds);
        let kelvin = match self.steps.get(after.saturating_sub(1)) {
            Some(step) => step.kelvin_at(seconds),
            None => self.start_kelvin,
        };
        Some(Temperature::from_kelvin(kelvin))
    }

    /// How long the course was solved for.
    #[must_use]
    pub fn lasts(&self) -> Duration {
        Duration::from_seconds(self.steps.last().map_or(0.0, Step::to))
    }

    /// The first time at which the temperature is `limit`, or nothing when it never is.
    #[must_use]
    pub fn reaches(&self, limit: Temperature) -> Option<Duration> {
        let limit = limit.kelvin();
        let passes = |step: &&Step<1>| {
            let ends = [step.from, step.to()].map(|time| step.kelvin_at(time) - limit);
            ends[0] * ends[1] <= 0.0
        };
        self.steps.iter().find(passes).map(|step| Duration::from_seconds(step.reaches(limit)))
    }
}
