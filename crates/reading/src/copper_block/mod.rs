//! The copper block in a flame: how its temperature runs, from the heat it takes and loses.
//!
//! ```text
//! m·cp(T)·dT/dt = gain·(T_flame − T) − ε·σ·A·(T⁴ − T_room⁴) − loss·A·(T − T_room)
//! ```
//!
//! One temperature stands for the whole block: copper conducts so well that none of its parts
//! differs by more than about a thousandth of the rise. [`CopperBlock::validity`] says it in numbers.

use metrology::{Area, Duration, HeatTransferCoefficient, Mass, Ratio, Temperature};

mod copper;
mod solver;
mod curve;
mod linear;
mod phases;
mod fit;
mod seating;
mod beforehand;
mod cooling_clock;
mod earlier;
mod diagnosis;

pub use cooling_clock::{CoolingError, CoolingKnown, CoolingTime, cooling_time};
pub use copper::{Copper, CopperError};
pub use curve::Curve;
pub use diagnosis::{
    Adjustment, BaseLine, Cause, Determination, DeterminationError, Diagnosis, DiagnosisError,
    Finding, FlowSensitivity, Suspected, diagnose,
};
pub use earlier::EarlierCoolings;
pub use fit::{BlockFit, FitError, FittedFlame, NotToldApart, Parameter, Residual, Residuals, fit};
pub use phases::{Phases, PhasesError, Rest};
pub use seating::Seating;

/// A copper block.
#[derive(Clone, Debug, PartialEq)]
pub struct CopperBlock {
    /// Its mass, as drilled.
    pub mass: Mass,
    /// The surface that radiates and gives heat to the air.
    pub area: Area,
    /// The emissivity of that surface: near 0 polished, near 1 oxidised.
    pub emissivity: Emissivity,
    /// What it is made of.
    pub copper: Copper,
}

/// The emissivity of a surface, on a straight line over temperature.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Emissivity {
    /// At the temperature `at`.
    pub value: Ratio,
    /// Where it has that value.
    pub at: Temperature,
    /// How much of `value` is added with each kelvin above `at`: 0.001 is a tenth in 100 K.
    pub relative_change_per_kelvin: f64,
}

impl Emissivity {
    /// The same at all temperatures.
    #[must_use]
    pub const fn constant(value: Ratio) -> Self {
        let at = Temperature::from_celsius(0.0);
        Self { value, at, relative_change_per_kelvin: 0.0 }
    }

    /// At a temperature, as a part of `value`.
    pub(super) const fn shape(&self, kelvin: f64) -> f64 {
        1.0 + self.relative_change_per_kelvin * (kelvin - self.at.kelvin())
    }
}

/// What heats the block.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Heat {
    /// A flame.
    Flame(Flame),
    /// The same power at all temperatures, for comparison.
    Power {
        /// The power, in watt.
        watt: f64,
    },
    /// Nothing: the block cools.
    None,
}

/// A flame around the block.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Flame {
    /// The heat that a difference of 1 K brings into the block, in W/K.
    pub gain_watt_per_kelvin: f64,
    /// The temperature of its gases.
    pub temperature: Temperature,
}

/// What the block loses heat to.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Surroundings {
    /// The temperature of air and walls.
    pub temperature: Temperature,
    /// The heat given to the air, in W/(m² K).
    pub loss_watt_per_square_metre_kelvin: f64,
}

impl CopperBlock {
    /// The rate at which the temperature changes, in kelvin per second.
    #[must_use]
    pub fn slope_kelvin_per_second(
        &self,
        heat: Heat,
        surroundings: Surroundings,
        temperature: Temperature,
    ) -> f64 {
        let kelvin = temperature.kelvin();
        let watt = self.net_watt(heat, surroundings, kelvin);
        watt / (self.mass.grams() * self.copper.capacity(kelvin))
    }

    /// The heat that stays in the block at a temperature, in watt.
    fn net_watt(&self, heat: Heat, surroundings: Surroundings, kelvin: f64) -> f64 {
        let area = self.area.square_millimetres() * 1e-6;
        let room = surroundings.temperature.kelvin();
        let gained = match heat {
            Heat::Flame(flame) => {
                flame.gain_watt_per_kelvin * (flame.temperature.kelvin() - kelvin)
            }
            Heat::Power { watt } => watt,
            Heat::None => 0.0,
        };
        let fourth = |kelvin: f64| kelvin * kelvin * kelvin * kelvin;
        let radiated = self.emissivity.value.fraction()
            * self.emissivity.shape(kelvin)
            * self.copper.stefan_boltzmann()
            * area
            * (fourth(kelvin) - fourth(room));
        let given = surroundings.loss_watt_per_square_metre_kelvin * area * (kelvin - room);
        gained - radiated - given
    }

    /// Whether one temperature may stand for the whole block, at a temperature of its surface and
    /// a heat transfer from flame and air: the Biot number, that is how much more of a fall in
    /// temperature the way to the surface needs than the way through it.
    ///
    /// The length in it is volume by area, the conductivity the least of copper up to 700 °C.
    #[must_use]
    pub fn validity(&self, transfer: HeatTransferCoefficient, hottest: Temperature) -> Validity {
        let kelvin = hottest.kelvin();
        let radiated = 4.0
            * self.emissivity.value.fraction()
            * self.emissivity.shape(kelvin)
            * self.copper.stefan_boltzmann()
            * (kelvin * kelvin * kelvin);
        let watt_per_square_millimetre_kelvin =
            (transfer.watt_per_square_metre_kelvin() + radiated) * 1e-6;
        let length = self.mass.grams() / self.copper.density() / self.area.square_millimetres();
        let biot = watt_per_square_millimetre_kelvin * length / self.copper.conductivity();
        let limit = self.copper.biot_limit();
        Validity {
            biot: Ratio::from_fraction(biot),
            limit: Ratio::from_fraction(limit),
            holds: biot < limit,
        }
    }

    /// The time from one temperature to another, or nothing when the block does not get there.
    ///
    /// By quadrature of m·cp(T)/P(T) over temperature, between the rows of copper's table, where
    /// the integrand is smooth: it shares nothing with [`heating`] but the equation.
    #[must_use]
    pub fn time_between(
        &self,
        heat: Heat,
        surroundings: Surroundings,
        (from, to): (Temperature, Temperature),
    ) -> Option<Duration> {
        let (from, to) = (from.kelvin(), to.kelvin());
        let (low, high) = if from < to { (from, to) } else { (to, from) };
        let mut ends: Vec<f64> = self.copper.kinks(low, high).collect();
        ends.insert(0, low);
        ends.push(high);
        let mut seconds = 0.0;
        for pair in ends.windows(2) {
            let width = (pair[1] - pair[0]) / 2.0 / f64::from(PIECES);
            for piece in 0..PIECES {
                let middle = pair[0] + width * f64::from(2 * piece + 1);
                for (place, weight) in GAUSS {
                    let kelvin = middle + width * place;
                    let watt = self.net_watt(heat, surroundings, kelvin);
                    // The power must drive the block the way that is asked for, all the way.
                    if watt * (to - from) <= 0.0 {
                        return None;
                    }
                    let joule_per_kelvin = self.mass.grams() * self.copper.capacity(kelvin);
                    seconds += weight * width * joule_per_kelvin / watt.abs();
                }
            }
        }
        Some(Duration::from_seconds(seconds))
    }
}

/// Whether a block may be taken as having one temperature.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Validity {
    /// The Biot number.
    pub biot: Ratio,
    /// What it must stay below.
    pub limit: Ratio,
    /// Whether it does.
    pub holds: bool,
}

/// Pieces that each interval between two rows of the table is cut into for quadrature.
const PIECES: u32 = 16;

/// Places and weights of Gauss and Legendre's quadrature with four points on −1 to 1:
/// √(3/7 ∓ 2/7·√(6/5)) and (18 ± √30)/36.
const GAUSS: [(f64, f64); 4] = [
    (-0.861_136_311_594_052_6, 0.347_854_845_137_453_85),
    (-0.339_981_043_584_856_26, 0.652_145_154_862_546_1),
    (0.339_981_043_584_856_26, 0.652_145_154_862_546_1),
    (0.861_136_311_594_052_6, 0.347_854_845_137_453_85),
];

/// The course of the block's temperature with `heat` from `start` on, for `lasting`.
///
/// It ends early where copper's table ends: just below melting, or at its coldest row.
///
/// # Examples
///
/// ```
/// use metrology::{Area, Duration, Mass, Ratio, Temperature};
/// use reading::copper_block::{
///     Copper, CopperBlock, Emissivity, Flame, Heat, Surroundings, heating,
/// };
///
/// let block = CopperBlock {
///     mass: Mass::from_grams(0.58),
///     area: Area::from_square_millimetres(55.0),
///     emissivity: Emissivity::constant(Ratio::from_fraction(0.8)),
///     copper: Copper::built_in(),
/// };
/// let flame = Flame {
///     gain_watt_per_kelvin: 8e-3,
///     temperature: Temperature::from_celsius(1500.0),
/// };
/// let room = Temperature::from_celsius(23.0);
/// let surroundings =
///     Surroundings { temperature: room, loss_watt_per_square_metre_kelvin: 0.0 };
/// let lasting = Duration::from_seconds(30.0);
/// let curve = heating(&block, Heat::Flame(flame), surroundings, (room, lasting));
/// let hot = curve.at(Duration::from_seconds(20.0)).unwrap();
/// assert!(hot > Temperature::from_celsius(600.0));
/// ```
#[must_use]
pub fn heating(
    block: &CopperBlock,
    heat: Heat,
    surroundings: Surroundings,
    (start, lasting): (Temperature, Duration),
) -> Curve {
    Curve::new(block, heat, surroundings, (start, lasting))
}

/// The course of the block's temperature with no heat from `start` on, for `lasting`.
#[must_use]
pub fn cooling(
    block: &CopperBlock,
    surroundings: Surroundings,
    (start, lasting): (Temperature, Duration),
) -> Curve {
    Curve::new(block, Heat::None, surroundings, (start, lasting))
}
