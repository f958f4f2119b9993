//! The whole budget of a rise time: besides the readings, also the block, the seating of the
//! sensor, the reference junction and the room, with sensitivities from the fitted course.

use metrology::uncertainty::{
    Budget, Correlation, Input, Inputs, InputsError, MonteCarlo, MonteCarloError, TypeB,
    monte_carlo,
};
use metrology::uncertainty::{BudgetError, Trials};
use metrology::{
    DegreesOfFreedom, Duration, Mass, Measurement, Quantity, Ratio, Temperature,
    TemperatureDifference, ThermocoupleType,
};
use thiserror::Error;

use super::RiseTime;
use crate::copper_block::{CopperBlock, Determination};
use crate::trace::Window;

mod beginnings;
mod effects;

pub use beginnings::Beginnings;
use effects::{Effects, Fitted, neighbours};

/// What a laboratory states for the whole budget; what it does not is taken from [`Beginnings`].
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Stated {
    /// The block's mass as weighed.
    pub mass: Option<Measurement<Mass>>,
    /// The room's temperature as read beside the block.
    pub room: Option<Measurement<Temperature>>,
    /// How far the reference junction may be off: standard uncertainty.
    pub junction: Option<TemperatureDifference>,
    /// The thermocouple's letter; K if nothing is stated.
    pub thermocouple: Option<ThermocoupleType>,
}

/// The whole budget.
#[derive(Clone, Debug)]
pub struct WholeBudget {
    /// What was read, with the whole uncertainty.
    pub read: Measurement<Duration>,
    /// The same for the block that the method describes, by a sensor that does not lag.
    pub corrected: Measurement<Duration>,
    /// Line by line, in seconds, about the corrected value.
    pub budget: Budget,
    /// How closely neighbouring readings go along with each other.
    pub neighbours: Ratio,
    /// Lines that rest on what is taken where nothing was stated.
    pub taken: Vec<&'static str>,
    /// What would make it smaller, the most first.
    pub improvements: Vec<Improvement>,
    /// What of these, taken together, brings the uncertainty down the soonest.
    pub halving: Halving,
    inputs: Inputs,
    model: Model,
}

/// Something that makes the uncertainty smaller.
#[derive(Clone, Debug, PartialEq)]
pub struct Improvement {
    /// What to do, in the imperative.
    pub says: String,
    /// The standard uncertainty with it alone.
    pub uncertainty: Duration,
}

/// The fewest steps that halve the uncertainty.
#[derive(Clone, Debug, PartialEq)]
pub struct Halving {
    /// What to do, in this order.
    pub steps: Vec<String>,
    /// The standard uncertainty then.
    pub uncertainty: Duration,
    /// Whether that is half of what it is, or less.
    pub reached: bool,
}

/// Why there is no whole budget.
#[derive(Clone, Debug, PartialEq, Error)]
pub enum WholeBudgetError {
    /// The determination does not show what the flame does to the block.
    #[error("no course of the block was fitted that climbs through the window")]
    NoCourse,
    /// What is stated cannot be.
    #[error("what is stated of block, sensor or room cannot be used")]
    Stated(#[from] InputsError),
    /// The inputs cannot be combined.
    #[error("the lines of the budget cannot be combined")]
    Combined(#[from] BudgetError),
}

impl WholeBudgetError {
    /// The way out, in the imperative.
    #[must_use]
    pub const fn hint(&self) -> &'static str {
        match self {
            Self::NoCourse => "Record the whole heating, from the block at rest on.",
            Self::Stated(_) | Self::Combined(_) => "State standard uncertainties above zero.",
        }
    }
}

const BOTTOM: &str = "bottom climbed through, by the readings";
const TOP: &str = "top climbed through, by the readings";
const MASS: &str = "mass of the block";
const LAG: &str = "lag of the sensor";
const SEEN: &str = "flame that the sensor sees";
const JUNCTION: &str = "reference junction";
const ROOM: &str = "room";
const START: &str = "block at the start";
const CLOCK: &str = "rate of the clock";
const SENSOR: [&str; 2] = ["sensor at the bottom", "sensor at the top"];

/// All lines, in their order.
pub const NAMES: [&str; 17] = [
    BOTTOM,
    TOP,
    "bend left out at the bottom",
    "bend left out at the top",
    "last digit at the bottom",
    "last digit at the top",
    "time stamp at the bottom",
    "time stamp at the top",
    SENSOR[0],
    SENSOR[1],
    CLOCK,
    MASS,
    LAG,
    SEEN,
    JUNCTION,
    ROOM,
    START,
];

/// How many of them [`RiseTime::inputs`] has.
const READ: usize = 11;

/// The rise time of all inputs.
#[derive(Clone, Debug)]
struct Model {
    rise: RiseTime,
    effects: Effects,
    /// The method's mass in grams.
    mass: f64,
    /// What one kelvin at the junction moves the reading by at bottom and top, in kelvin.
    junction: [f64; 2],
    /// Room and start as they were, in °C.
    room: f64,
    start: f64,
}

impl Model {
    fn seconds(&self, inputs: &[f64]) -> f64 {
        let Some((read, [mass, lag, seen, junction, room, start])) = inputs.split_at_checked(READ)
        else {
            return f64::NAN;
        };
        let slope = [&self.rise.start, &self.rise.end].map(|it| it.slope_kelvin_per_second);
        let shift = self.junction[0] / slope[0] - self.junction[1] / slope[1];
        let seconds = self.rise.model_seconds(read) + junction * shift
            - self.effects.lag_seconds(*lag)
            - self.effects.seen_seconds(*seen);
        seconds * self.mass / mass
            + self.effects.room * (room - self.room)
            + self.effects.start * (start - self.start)
    }
}

/// Puts the whole budget of a rise time together.
///
/// The value is corrected for what is known: the block's mass where it was weighed, and the lag
/// that the determination shows. Mass acts on the time one to one; a constant lag nearly cancels,
/// since bottom and top are late alike. Room and start are not corrected for: the method takes any
/// within its limits. The flame's own change with the air is not in it.
///
/// # Errors
///
/// When no flame was fitted, or what is stated cannot be.
pub fn whole_budget(
    rise: &RiseTime,
    determination: &Determination,
    block: &CopperBlock,
    stated: &Stated,
) -> Result<WholeBudget, WholeBudgetError> {
    let window = Window::new(rise.start.limit, rise.end.limit);
    let window = window.map_err(|_| WholeBudgetError::NoCourse)?;
    let begin = Beginnings::built_in();
    let room = stated.room.map_or(begin.room, |room| room.value);
    let phases = &determination.fit.phases;
    let start = phases.rest.map_or(room, |rest| rest.temperature);
    let effects = Fitted::of(block, determination, (window, room, start))
        .and_then(|fitted| fitted.effects())
        .ok_or(WholeBudgetError::NoCourse)?;
    let neighbours = neighbours(&heating_residuals(determination));
    let (list, taken) = lines(rise, determination, stated, (start, neighbours));
    let r = rise.inputs.r(READ - 3, READ - 2);
    let inputs = Inputs::new(list, &[Correlation::between(SENSOR[0], SENSOR[1], r)])?;
    let kind = stated.thermocouple.unwrap_or(ThermocoupleType::K);
    let model = Model {
        rise: rise.clone(),
        effects,
        mass: begin.mass.grams(),
        junction: [window.bottom(), window.top()].map(|at| junction_part(kind, room, at)),
        room: room.celsius(),
        start: start.celsius(),
    };
    let budget = inputs.budget(|input| model.seconds(input))?;
    let corrected: Measurement<Duration> = budget.measurement();
    let read = Measurement { value: rise.value.value, ..corrected };
    let (improvements, halving) = improvements(&inputs, &budget)?;
    Ok(WholeBudget {
        read,
        corrected,
        budget,
        neighbours,
        taken,
        improvements,
        halving,
        inputs,
        model,
    })
}

impl WholeBudget {
    /// How closely the thermocouple's errors at bottom and top go together.
    #[must_use]
    pub fn sensor_correlation(&self) -> Ratio {
        Ratio::from_fraction(self.inputs.r(READ - 3, READ - 2))
    }

    /// The same by random trials (JCGM 101), in seconds about the corrected value.
    ///
    /// # Errors
    ///
    /// As [`monte_carlo`].
    pub fn by_trials(&self, trials: Trials) -> Result<MonteCarlo, MonteCarloError> {
        monte_carlo(&self.inputs, |inputs| self.model.seconds(inputs), trials)
    }
}

/// What the fit leaves over of the heating, in the order of time, in kelvin.
fn heating_residuals(determination: &Determination) -> Vec<f64> {
    let until = determination.fit.phases.flame_away;
    let points = determination.fit.residuals.points.iter();
    points.filter(|point| point.at < until).map(|point| point.difference.kelvin()).collect()
}

/// All inputs, and which of them rest on nothing stated.
fn lines(
    rise: &RiseTime,
    determination: &Determination,
    stated: &Stated,
    (start, neighbours): (Temperature, Ratio),
) -> (Vec<Input>, Vec<&'static str>) {
    let begin = Beginnings::built_in();
    let mut taken = Vec::new();
    let mut list = rise.inputs.list().to_vec();
    // A mean of readings that go along with their neighbours is known the less well.
    let r = neighbours.fraction();
    for input in &mut list[..2] {
        input.standard_uncertainty *= ((1.0 + r) / (1.0 - r)).sqrt();
    }
    if list[READ - 1].standard_uncertainty == 0.0 {
        taken.push(CLOCK);
        let half_width = begin.clock_rate_half_width;
        let rate = Ratio::from_fraction(1.0);
        list[READ - 1] = Input::known(CLOCK, rate, TypeB::Rectangular { half_width });
    }
    list.push(match stated.mass {
        Some(mass) => Input::measured(MASS, mass),
        None => {
            taken.push(MASS);
            let half_width = begin.mass_half_width;
            Input::known(MASS, begin.mass, TypeB::Rectangular { half_width })
        }
    });
    // A lag that the determination shows; a step of the readings is no lag.
    let lag = determination.seating.flame_comes.filter(|lag| lag.value >= Duration::ZERO);
    list.push(match lag {
        Some(lag) => Input::measured(LAG, lag),
        None => {
            taken.push(LAG);
            let half_width = begin.lag_half_width;
            Input::known(LAG, begin.lag, TypeB::Rectangular { half_width })
        }
    });
    taken.push(SEEN);
    let half_width = begin.flame_seen_half_width;
    list.push(Input::known(SEEN, Ratio::ZERO, TypeB::Rectangular { half_width }));
    list.push(match stated.junction {
        Some(uncertainty) => normal(JUNCTION, TemperatureDifference::ZERO, uncertainty),
        None => {
            taken.push(JUNCTION);
            let half_width = begin.junction_half_width;
            let none = TemperatureDifference::ZERO;
            Input::known(JUNCTION, none, TypeB::Rectangular { half_width })
        }
    });
    list.push(match stated.room {
        Some(room) => Input::measured(ROOM, room),
        None => {
            taken.push(ROOM);
            let half_width = begin.room_half_width;
            Input::known(ROOM, begin.room, TypeB::Rectangular { half_width })
        }
    });
    let half_width = begin.start_half_width;
    list.push(Input::known(START, start, TypeB::Rectangular { half_width }));
    (list, taken)
}

fn normal<Q: Quantity>(name: &str, value: Q, uncertainty: Q::Difference) -> Input {
    let degrees_of_freedom = DegreesOfFreedom::Infinite;
    Input::measured(name, Measurement { value, uncertainty, degrees_of_freedom })
}

/// What one kelvin at the reference junction moves the reading at a temperature by: the wire's
/// sensitivity there goes the other way. One for one where the wire has none.
fn junction_part(kind: ThermocoupleType, room: Temperature, at: Temperature) -> f64 {
    let sensitivity = |at| kind.sensitivity_microvolts_per_kelvin(at).ok();
    let parts = sensitivity(room).zip(sensitivity(at));
    parts.map_or(1.0, |(junction, there)| junction / there)
}

/// What each change makes of the uncertainty, and the fewest that halve it.
fn improvements(
    inputs: &Inputs,
    budget: &Budget,
) -> Result<(Vec<Improvement>, Halving), WholeBudgetError> {
    let changes = &Beginnings::built_in().improvements;
    let slopes: Vec<f64> = budget.lines.iter().map(|line| line.sensitivity).collect();
    let r = inputs.r(READ - 3, READ - 2);
    let with = |list: &[Input]| -> Result<f64, WholeBudgetError> {
        let correlation = Correlation::between(SENSOR[0], SENSOR[1], r);
        let inputs = Inputs::new(list.to_vec(), &[correlation])?;
        Ok(inputs.budget_of_sensitivities(budget.value, &slopes)?.standard_uncertainty)
    };
    let changed = |list: &[Input], change: &beginnings::Change| -> Vec<Input> {
        let mut list = list.to_vec();
        for (place, name) in change.lines.iter().enumerate() {
            for input in list.iter_mut().filter(|input| input.name == *name) {
                let now = input.standard_uncertainty;
                let best = change.standard.get(place).copied().unwrap_or(now);
                input.standard_uncertainty = now.min(best) * change.times.unwrap_or(1.0);
            }
        }
        list
    };
    let mut each = Vec::new();
    for change in changes {
        let uncertainty = with(&changed(inputs.list(), change))?;
        // What helps by less than a hundredth is no help.
        if uncertainty < 0.99 * budget.standard_uncertainty {
            let uncertainty = Duration::from_seconds(uncertainty);
            each.push(Improvement { says: change.says.clone(), uncertainty });
        }
    }
    each.sort_by(|one, other| one.uncertainty.seconds().total_cmp(&other.uncertainty.seconds()));
    let half = 0.5 * budget.standard_uncertainty;
    let (mut list, mut now, mut steps) =
        (inputs.list().to_vec(), budget.standard_uncertainty, Vec::new());
    let mut left: Vec<&beginnings::Change> = changes.iter().collect();
    while now > half {
        let mut best: Option<(usize, f64)> = None;
        for (place, change) in left.iter().enumerate() {
            let uncertainty = with(&changed(&list, change))?;
            if uncertainty < best.map_or(0.99 * now, |(_, least)| least) {
                best = Some((place, uncertainty));
            }
        }
        let Some((place, uncertainty)) = best else { break };
        let change = left.remove(place);
        list = changed(&list, change);
        now = uncertainty;
        steps.push(change.says.clone());
    }
    let reached = now <= half;
    Ok((each, Halving { steps, uncertainty: Duration::from_seconds(now), reached }))
}
