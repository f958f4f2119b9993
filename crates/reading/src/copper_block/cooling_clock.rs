//! When the block will be cold enough for the next determination, from how it begins to cool.

use metrology::{
    DegreesOfFreedom, Duration, HeatTransferCoefficient, Measurement, Ratio, Temperature,
};
use thiserror::Error;

use super::CopperBlock;
use super::beforehand::Beforehand;
use super::fit::least_squares::{EMISSIVITY, Known, LOSS, PEAK, Problem, Solution};
use super::fit::{Body, InAir, first_guess, heating_and_cooling};
use super::linear::Matrix;
use super::phases::Phases;
use super::solver::Solver;
use crate::fit::Reading;
use crate::trace::Trace;

/// What is known of the block's cooling before it is seen to cool.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct CoolingKnown {
    /// The heat given to the air.
    pub loss: Measurement<HeatTransferCoefficient>,
    /// The emissivity of the surface.
    pub emissivity: Measurement<Ratio>,
    /// How far the course of a real body is off the model's, as a standard uncertainty relative to
    /// the time still to come.
    pub model: Ratio,
}

impl CoolingKnown {
    /// Of any body in still air.
    #[must_use]
    pub fn any() -> Self {
        let Beforehand { loss, emissivity, model_any, .. } = Beforehand::built_in();
        Self { loss: *loss, emissivity: *emissivity, model: *model_any }
    }

    /// Of a block that was seen to cool before.
    #[must_use]
    pub fn of_own_bench(
        loss: Measurement<HeatTransferCoefficient>,
        emissivity: Measurement<Ratio>,
    ) -> Self {
        Self { loss, emissivity, model: Beforehand::built_in().model_own_bench }
    }
}

/// When the block will be below a temperature.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct CoolingTime {
    /// The temperature.
    pub below: Temperature,
    /// How long after the flame was taken away.
    pub after: Measurement<Duration>,
    /// How many seconds of cooling this was foretold from.
    pub seen: Duration,
}

/// Why the cooling cannot be foretold.
#[derive(Clone, Copy, Debug, PartialEq, Error)]
pub enum CoolingError {
    /// Too little was seen.
    #[error("the cooling has not been read {needed} times yet")]
    TooFew {
        /// How many it takes.
        needed: usize,
    },
    /// The room is not colder.
    #[error("the room is at {room:.1}: the block will not get below {below:.1} in it")]
    RoomTooWarm {
        /// The room.
        room: Temperature,
        /// What was asked for.
        below: Temperature,
    },
    /// It cools in no way that a block does.
    #[error("the readings do not fall as those of a cooling block do")]
    NoCooling,
}

impl CoolingError {
    /// The way out, in the imperative.
    #[must_use]
    pub const fn hint(self) -> &'static str {
        match self {
            Self::TooFew { .. } => "Wait some seconds.",
            Self::RoomTooWarm { .. } => "Cool the room, or correct its temperature.",
            Self::NoCooling => "See that the flame is off the block.",
        }
    }
}

/// Readings that it takes.
const FEWEST: usize = 4;

/// It is not foretold further than this, in seconds.
const FURTHEST: f64 = 7200.0;

/// Foretells when the block is below a temperature, from the heating and from the cooling so far;
/// the trace ends now.
///
/// # Uncertainty
///
/// A loss below that of natural convection and an emissivity above 1 are held at these bounds.
///
/// From the scatter of the readings, from what is known beforehand, from the temperature of the
/// room, with which it goes (near the end a block cools the more slowly the nearer the room is), and
/// from the model, in which the loss to the air is the same at all temperatures.
///
/// # Errors
///
/// When too little is seen, the room is too warm, or nothing cools.
pub fn cooling_time(
    block: &CopperBlock,
    room: Measurement<Temperature>,
    (trace, phases): (&Trace, &Phases),
    known: CoolingKnown,
    below: Temperature,
) -> Result<CoolingTime, CoolingError> {
    if room.value >= below {
        return Err(CoolingError::RoomTooWarm { room: room.value, below });
    }
    let away = phases.flame_away.seconds();
    let readings = heating_and_cooling(trace, phases);
    let [_, cooling] = &readings;
    let (Some(first), Some(last)) = (cooling.first(), cooling.last()) else {
        return Err(CoolingError::TooFew { needed: FEWEST });
    };
    let foretold = |room: f64| foretell(block, room, &readings, known, below);
    let (after, variance) = foretold(room.value.kelvin()).ok_or(CoolingError::NoCooling)?;
    let unsure = room.uncertainty.kelvin();
    let warmer = if unsure > 0.0 { foretold(room.value.kelvin() + unsure) } else { None };
    let by_room = warmer.map_or(0.0, |(warmer, _)| warmer - after);
    let by_model = known.model.fraction() * (first.0 + after - last.0).max(0.0);
    let variance = variance + by_room * by_room + by_model * by_model;
    Ok(CoolingTime {
        below,
        after: Measurement {
            value: Duration::from_seconds(first.0 + after - away),
            uncertainty: Duration::from_seconds(variance.sqrt()),
            degrees_of_freedom: DegreesOfFreedom::Infinite,
        },
        seen: Duration::from_seconds(last.0 - away),
    })
}

/// Seconds after the first reading, and their variance.
fn foretell(
    block: &CopperBlock,
    room: f64,
    [heating, cooling]: &[Vec<Reading>; 2],
    known: CoolingKnown,
    below: Temperature,
) -> Option<(f64, f64)> {
    let body = Body::new(block, room);
    let known = [
        Known {
            place: LOSS,
            value: known.loss.value.watt_per_square_metre_kelvin(),
            uncertainty: known.loss.uncertainty.watt_per_square_metre_kelvin(),
        },
        Known {
            place: EMISSIVITY,
            value: known.emissivity.value.fraction(),
            uncertainty: known.emissivity.uncertainty.fraction(),
        },
    ];
    let problem = Problem { body, heating, cooling, known: &known };
    let free = problem.solve(first_guess(&body, heating, cooling))?;
    let (mut at, mut variance) = reached(&body, &free, below)?;
    let (mut held, mut solution) = (known, free);
    // The emissivity first: on a hot body radiation tells the more.
    for n in [1, 0] {
        let Some(bound) = beyond(&solution, &known[n]) else { continue };
        held[n] = bound;
        solution = Problem { body, heating, cooling, known: &held }.solve(solution.values)?;
        // What the readings leave open does not get smaller by knowing a bound.
        let by_bounded;
        (at, by_bounded) = reached(&body, &solution, below)?;
        variance = variance.max(by_bounded);
    }
    Some((at, variance))
}

/// How firmly a bound is held, in the units of loss and emissivity.
const FIRMLY: (f64, f64) = (1e-2, 1e-3);

/// The bound at which a loss or an emissivity is held that cannot be; nothing where it can.
fn beyond(solution: &Solution, known: &Known) -> Option<Known> {
    let (place, found) = (known.place, solution.values[known.place]);
    let bounds = Beforehand::built_in();
    let (value, uncertainty) = if place == LOSS {
        let least = bounds.least_loss.watt_per_square_metre_kelvin();
        (found.max(least.min(known.value)), FIRMLY.0)
    } else {
        (found.clamp(0.0, bounds.most_emissivity.fraction()), FIRMLY.1)
    };
    ((value - found).abs() > 0.0).then_some(Known { place, value, uncertainty })
}

/// When a solved course is below a temperature, in seconds after the first reading of the cooling,
/// and the variance of that.
fn reached(body: &Body<'_>, solution: &Solution, below: Temperature) -> Option<(f64, f64)> {
    let Solution { values, covariance, .. } = solution;
    let body = *body;
    let in_air = InAir { body, loss: values[LOSS], emissivity: values[EMISSIVITY] };
    let state = [values[PEAK], 0.0, 0.0, 1.0];
    let mut solver = Solver::new(&in_air, body.pieces(), state, 1e-5);
    while let Some(step) = solver.next(FURTHEST) {
        if step.kelvin_at(step.to()) > below.kelvin() {
            continue;
        }
        let at = step.reaches(below.kelvin());
        let state = step.at(at);
        let fall =
            (step.kelvin_at(at) - step.kelvin_at(at - 1e-3 * step.width)) / (1e-3 * step.width);
        let by: [f64; 3] = std::array::from_fn(|n| -state[n + 1] / fall);
        return Some((at, variance(covariance, &by)));
    }
    None
}

fn variance(covariance: &Matrix<6>, by: &[f64; 3]) -> f64 {
    let places = [LOSS, EMISSIVITY, PEAK];
    let mut variance = 0.0;
    for (row, by_row) in places.iter().zip(by) {
        for (column, by_column) in places.iter().zip(by) {
            variance += by_row * covariance[*row][*column] * by_column;
        }
    }
    variance
}
