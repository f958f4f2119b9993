//! What a determination tells of flame, air and block: the block's equation fitted to its heating
//! and its cooling together.

use metrology::{
    Count, DegreesOfFreedom, Duration, HeatTransferCoefficient, Measurement, Quantity, Ratio,
    Temperature, TemperatureDifference, ThermalConductance,
};
use thiserror::Error;

use super::beforehand::Beforehand;
use super::phases::Phases;
use super::{CopperBlock, Validity};
use crate::fit::Reading;
use crate::trace::{Point, Trace};

mod equation;
mod first_guess;
pub(super) mod least_squares;
mod statement;

pub(super) use equation::{Body, InAir, InFlame};
pub(super) use first_guess::first_guess;
pub use statement::NotToldApart;

use least_squares::{COUNT, EMISSIVITY, FLAME, GAIN, Known, LOSS, Problem, Solution, real};

/// What is fitted. The temperatures at the first reading of the heating and of the cooling are
/// fitted beside it, so that no moment of the flame needs to be known.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Parameter {
    /// The heat that a difference of 1 K brings from the flame into the block.
    Gain,
    /// The temperature of the flame, as the block sees it.
    FlameTemperature,
    /// The heat that the block gives to the air.
    Loss,
    /// The emissivity of its surface.
    Emissivity,
}

impl Parameter {
    /// All of them, in the order of the covariance.
    pub const ALL: [Self; 4] = [Self::Gain, Self::FlameTemperature, Self::Loss, Self::Emissivity];

    /// Its name in a sentence.
    #[must_use]
    pub const fn name(self) -> &'static str {
        match self {
            Self::Gain => "gain",
            Self::FlameTemperature => "flame temperature",
            Self::Loss => "loss to the air",
            Self::Emissivity => "emissivity",
        }
    }

    const fn place(self) -> usize {
        match self {
            Self::Gain => GAIN,
            Self::FlameTemperature => FLAME,
            Self::Loss => LOSS,
            Self::Emissivity => EMISSIVITY,
        }
    }
}

/// What a determination tells.
///
/// The uncertainties are those of the readings. Mass and area of the block and the temperature of
/// the room are taken as they are given: gain, loss and emissivity go with the mass one to one.
#[derive(Clone, Debug, PartialEq)]
pub struct BlockFit {
    /// What was read where.
    pub phases: Phases,
    /// What the flame gives; nothing where no heating was fitted.
    pub flame: Option<FittedFlame>,
    /// The heat given to the air.
    pub loss: Measurement<HeatTransferCoefficient>,
    /// The emissivity of the surface, where [`super::Emissivity::at`] is.
    pub emissivity: Measurement<Ratio>,
    /// What the readings leave over.
    pub residuals: Residuals,
    /// What the readings do not tell apart.
    pub not_told_apart: Vec<NotToldApart>,
    /// Whether the block may be taken as having one temperature.
    pub validity: Validity,
    pub(super) numbers: Numbers,
}

/// The fit as numbers, for what is made of it.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Numbers {
    pub(super) values: [f64; COUNT],
    pub(super) covariance: [[f64; COUNT]; COUNT],
    /// The first readings' times.
    pub(super) heating_from: f64,
    pub(super) cooling_from: f64,
    /// Whether a cooling was fitted.
    pub(super) cooled: bool,
}

/// What the flame gives to the block.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct FittedFlame {
    /// The heat that a difference of 1 K brings into the block.
    pub gain: Measurement<ThermalConductance>,
    /// The temperature of the flame, as the block sees it.
    pub temperature: Measurement<Temperature>,
}

/// What the readings leave over when the fit is taken off.
#[derive(Clone, Debug, PartialEq)]
pub struct Residuals {
    /// Each reading less the fit, in the order of time.
    pub points: Vec<Residual>,
    /// The scatter of a reading.
    pub scatter: TemperatureDifference,
    /// Readings so far off that they counted less.
    pub wild: Count,
    /// How much more the means over two seconds scatter than independent readings would let them:
    /// 1 if nothing but noise is left. The uncertainties are widened by its root where it is more
    /// than chance.
    pub wander: Ratio,
}

/// What one reading leaves over.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Residual {
    /// When.
    pub at: Duration,
    /// The reading less the fit.
    pub difference: TemperatureDifference,
}

/// Why a determination cannot be fitted.
#[derive(Clone, Copy, Debug, PartialEq, Error)]
pub enum FitError {
    /// The block's record cannot be of a block.
    #[error("a block of {mass} and {area} cannot be; both must be more than 0")]
    Block {
        /// Its mass.
        mass: metrology::Mass,
        /// Its surface.
        area: metrology::Area,
    },
    /// Too few readings.
    #[error("the trace has {found} readings of heating and cooling to fit; {needed} are needed")]
    TooFew {
        /// How many there are.
        found: usize,
        /// How many it takes.
        needed: usize,
    },
    /// No block and no flame give such a trace.
    #[error("no gain, flame, loss and emissivity give a trace like this one")]
    NoFit,
}

impl FitError {
    /// The way out, in the imperative.
    #[must_use]
    pub const fn hint(self) -> &'static str {
        match self {
            Self::Block { .. } => "Correct the block's mass and area in its record.",
            Self::TooFew { .. } => "Record the whole heating, and a minute or two of the cooling.",
            Self::NoFit => "Look at the trace: it may hold no steady flame, or another sensor's.",
        }
    }
}

/// The sensor follows the block steadily this long after the flame was moved, in seconds.
const AFTER: f64 = 1.5;

/// The hottest reading may come this late, or the flame have been moved this early, in seconds.
const BEFORE: f64 = 0.7;

/// Readings of a phase that make it worth fitting.
const FEWEST: usize = 4;

/// More readings of a phase than this are taken together in groups: they tell no more.
const MOST: usize = 6000;

/// Fits the block's equation to a determination.
///
/// Robust least squares (Huber) by Levenberg and Marquardt, with exact derivatives. Readings near
/// the moments when the flame was moved are left out, where a sensor lags. Without a cooling the
/// heating alone is fitted, with the loss to still air; of a cooling alone come loss and
/// emissivity; [`BlockFit::not_told_apart`] says what is
/// lost by it.
///
/// # Errors
///
/// When the block cannot be one, readings are too few, or no flame gives such a trace.
pub fn fit(
    block: &CopperBlock,
    room: Temperature,
    trace: &Trace,
    phases: &Phases,
) -> Result<BlockFit, FitError> {
    let (mass, area) = (block.mass, block.area);
    if !(mass.grams() > 0.0 && area.square_millimetres() > 0.0) {
        return Err(FitError::Block { mass, area });
    }
    let [heating, cooling] = heating_and_cooling(trace, phases);
    let found = heating.len() + cooling.len();
    let needed = 2 * FEWEST;
    if found < needed {
        return Err(FitError::TooFew { found, needed });
    }
    let body = Body::new(block, room.kelvin());
    // In a heating alone the loss to the air goes into gain and flame temperature altogether.
    let air = Beforehand::built_in().still_air;
    let still_air = [Known {
        place: LOSS,
        value: air.value.watt_per_square_metre_kelvin(),
        uncertainty: air.uncertainty.watt_per_square_metre_kelvin(),
    }];
    let known = if cooling.is_empty() { &still_air[..] } else { &[] };
    let problem = Problem { body, heating: &heating, cooling: &cooling, known };
    let start = first_guess(&body, &heating, &cooling);
    let solution = problem.solve(start).ok_or(FitError::NoFit)?;
    Ok(told(block, *phases, &problem, solution))
}

/// The readings of heating and of cooling that a fit may use.
pub(super) fn heating_and_cooling(trace: &Trace, phases: &Phases) -> [Vec<Reading>; 2] {
    let usual = (phases.end - phases.flame_on).seconds() / real(trace.len());
    let after = AFTER.max(1.5 * usual);
    let last_of_heating = phases.flame_away.seconds() - BEFORE.max(1.5 * usual);
    [
        readings(trace, phases.flame_on.seconds() + after, last_of_heating),
        readings(trace, phases.flame_away.seconds() + after, phases.end.seconds()),
    ]
}

/// The readings of a phase; none where there are too few.
fn readings(trace: &Trace, from: f64, to: f64) -> Vec<Reading> {
    let readings: Vec<Reading> = trace
        .points()
        .map(|point| (point.at.seconds(), point.temperature.celsius()))
        .filter(|(at, _)| (from..=to).contains(at))
        .collect();
    if readings.len() < FEWEST {
        return Vec::new();
    }
    let together = readings.len().div_ceil(MOST);
    let mean = |group: &[Reading]| {
        let sum = |part: fn(&Reading) -> f64| group.iter().map(part).sum::<f64>();
        (sum(|reading| reading.0) / real(group.len()), sum(|reading| reading.1) / real(group.len()))
    };
    readings.chunks(together).map(mean).collect()
}

fn told(
    block: &CopperBlock,
    phases: Phases,
    problem: &Problem<'_>,
    solution: Solution,
) -> BlockFit {
    let Solution { values, mut covariance, scatter, residuals } = solution;
    let heated = !problem.heating.is_empty();
    let (of_heating, of_cooling) = residuals.split_at(problem.heating.len());
    let wander =
        statement::wander([(problem.heating, of_heating), (problem.cooling, of_cooling)], scatter);
    if wander.significant {
        covariance = covariance.map(|row| row.map(|entry| entry * wander.ratio));
    }
    let points = problem.heating.iter().chain(problem.cooling).zip(&residuals);
    let points = points.map(|((at, _), difference)| Residual {
        at: Duration::from_seconds(*at),
        difference: TemperatureDifference::from_kelvin(*difference),
    });
    let wild = residuals.iter().filter(|size| size.abs() > least_squares::WILD * scatter).count();
    let free = DegreesOfFreedom::Of(real(residuals.len()) - if heated { 6.0 } else { 3.0 });
    let deviation = |place: usize| covariance[place][place].sqrt();
    let flame = heated.then(|| FittedFlame {
        gain: measured(values[GAIN], deviation(GAIN), free),
        temperature: Measurement {
            value: Temperature::from_kelvin(values[FLAME]),
            uncertainty: TemperatureDifference::from_kelvin(deviation(FLAME)),
            degrees_of_freedom: free,
        },
    });
    let emissivity = Ratio::from_fraction(values[EMISSIVITY]);
    let seen = CopperBlock {
        emissivity: super::Emissivity { value: emissivity, ..block.emissivity },
        ..block.clone()
    };
    let area = block.area.square_millimetres() * 1e-6;
    let by_flame = if heated { values[GAIN] / area } else { 0.0 };
    let transfer =
        HeatTransferCoefficient::from_watt_per_square_metre_kelvin(by_flame + values[LOSS]);
    let hottest = problem.cooling.first().or(problem.heating.last());
    let hottest = Temperature::from_celsius(hottest.map_or(0.0, |reading| reading.1));
    BlockFit {
        phases,
        flame,
        loss: measured(values[LOSS], deviation(LOSS), free),
        emissivity: measured(values[EMISSIVITY], deviation(EMISSIVITY), free),
        not_told_apart: statement::not_told_apart(&values, &covariance, problem),
        residuals: Residuals {
            points: points.collect(),
            scatter: TemperatureDifference::from_kelvin(scatter),
            wild: Count::of(wild as u64),
            wander: Ratio::from_fraction(wander.ratio),
        },
        validity: seen.validity(transfer, hottest),
        numbers: Numbers {
            values,
            covariance,
            heating_from: problem.heating.first().map_or(0.0, |reading| reading.0),
            cooling_from: problem.cooling.first().map_or(0.0, |reading| reading.0),
            cooled: !problem.cooling.is_empty(),
        },
    }
}

fn measured<Q: Quantity>(value: f64, uncertainty: f64, free: DegreesOfFreedom) -> Measurement<Q> {
    Measurement {
        value: Q::of_unit(value),
        uncertainty: Q::Difference::of_unit(uncertainty),
        degrees_of_freedom: free,
    }
}

impl BlockFit {
    /// The covariance of two parameters, each in W/K, K, W/(m² K) or 1.
    #[must_use]
    pub const fn covariance(&self, first: Parameter, second: Parameter) -> f64 {
        self.numbers.covariance[first.place()][second.place()]
    }

    /// Whether a cooling was fitted.
    #[must_use]
    pub const fn has_cooling(&self) -> bool {
        self.numbers.cooled
    }

    /// The fitted course at each residual, from the trace that was fitted.
    #[must_use]
    pub fn course(&self, trace: &Trace) -> Vec<Point> {
        let points = self.residuals.points.iter();
        points
            .map(|residual| {
                let after = trace.count_before(residual.at).clamp(1, trace.len() - 1);
                let (before, next) = (trace.point(after - 1), trace.point(after));
                let step = (next.at - before.at).seconds();
                let part = (residual.at - before.at).seconds() / step;
                let change = (next.temperature - before.temperature).kelvin() * part;
                let read = before.temperature + TemperatureDifference::from_kelvin(change);
                Point { at: residual.at, temperature: read - residual.difference }
            })
            .collect()
    }

    /// The correlation of two parameters.
    #[must_use]
    pub fn correlation(&self, first: Parameter, second: Parameter) -> Ratio {
        let covariance = &self.numbers.covariance;
        let size = (covariance[first.place()][first.place()]
            * covariance[second.place()][second.place()])
        .sqrt();
        Ratio::from_fraction(self.covariance(first, second) / size)
    }
}
