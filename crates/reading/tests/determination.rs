//! Made determinations: a block, a flame, a sensor and a logger, solved step by step by a method of
//! this file's own.

use metrology::{Area, Duration, Mass, Ratio, Temperature};
use rand::SeedableRng as _;
use rand_distr::{Distribution as _, StandardNormal};
use rand_pcg::Pcg64;
use reading::copper_block::{Copper, CopperBlock, Emissivity};
use reading::{Point, Trace};

/// What a determination is made of.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Determination {
    pub(crate) mass_grams: f64,
    pub(crate) area_square_millimetres: f64,
    pub(crate) emissivity: f64,
    pub(crate) gain_watt_per_kelvin: f64,
    pub(crate) flame_celsius: f64,
    pub(crate) loss_watt_per_square_metre_kelvin: f64,
    pub(crate) room_celsius: f64,
    pub(crate) start_celsius: f64,
    /// Seconds at rest, of bringing the flame in and out, and of cooling.
    pub(crate) rest_seconds: f64,
    pub(crate) swing_seconds: f64,
    pub(crate) cooling_seconds: f64,
    /// The block's temperature at which the flame is taken away.
    pub(crate) until_celsius: f64,
    /// How late the sensor is, and which part of the difference from flame to block it sees.
    pub(crate) lag_seconds: f64,
    pub(crate) flame_seen: f64,
    /// How the loss goes with the block's temperature.
    pub(crate) air: Air,
    /// How much the loss varies, relative, and how long a gust lasts.
    pub(crate) gusts: f64,
    pub(crate) gust_seconds: f64,
    pub(crate) noise_kelvin: f64,
    pub(crate) readings_per_second: f64,
}

impl Default for Determination {
    /// A good one.
    fn default() -> Self {
        Self {
            mass_grams: 0.58,
            area_square_millimetres: 90.0,
            emissivity: 0.3,
            gain_watt_per_kelvin: 7.1e-3,
            flame_celsius: 1500.0,
            loss_watt_per_square_metre_kelvin: 15.0,
            room_celsius: 23.0,
            start_celsius: 26.0,
            rest_seconds: 4.0,
            swing_seconds: 0.0,
            cooling_seconds: 120.0,
            until_celsius: 725.0,
            lag_seconds: 0.0,
            flame_seen: 0.0,
            air: Air::Alike,
            gusts: 0.0,
            gust_seconds: 4.0,
            noise_kelvin: 1.0,
            readings_per_second: 10.0,
        }
    }
}

/// How the heat given to the air goes with the block's temperature.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) enum Air {
    /// The loss is the same at all temperatures, as the program's model has it.
    Alike,
    /// Natural convection from a sphere of 5 mm, whose loss is the stated one at 725 °C.
    OfASphere,
}

/// The heat transfer by natural convection from a sphere of 5 mm, in W/(m² K).
///
/// Nu = 2 + 0.589·Ra^¼ ÷ (1 + (0.469 ÷ Pr)^(9/16))^(4/9), Churchill 1983, as heat-transfer textbooks
/// have it; air by powers of its film temperature, within 3 % of their tables (from memory).
fn of_a_sphere(kelvin: f64, room: f64) -> f64 {
    const METRES: f64 = 0.005;
    let film = 0.5 * (kelvin + room);
    let part = libm::pow(film / 300.0, 1.75);
    let (viscosity, diffusivity) = (1.58e-5 * part, 2.24e-5 * part);
    let conductivity = 0.0263 * libm::pow(film / 300.0, 0.85);
    let rise = (kelvin - room).max(0.0);
    let rayleigh = 9.81 / film * rise * METRES * METRES * METRES / (viscosity * diffusivity);
    let prandtl = viscosity / diffusivity;
    let below = libm::pow(1.0 + libm::pow(0.469 / prandtl, 9.0 / 16.0), 4.0 / 9.0);
    conductivity / METRES * (2.0 + 0.589 * libm::pow(rayleigh, 0.25) / below)
}

/// The step of the solution in seconds.
const STEP: f64 = 0.01;

/// Radiation, in W/(m² K⁴).
const STEFAN_BOLTZMANN: f64 = 5.670_374_419e-8;

impl Determination {
    /// The block as its record has it: with this mass.
    pub(crate) fn block(&self, recorded_grams: f64) -> CopperBlock {
        CopperBlock {
            mass: Mass::from_grams(recorded_grams),
            area: Area::from_square_millimetres(self.area_square_millimetres),
            emissivity: Emissivity::constant(Ratio::from_fraction(0.3)),
            copper: Copper::built_in(),
        }
    }

    pub(crate) fn room(&self) -> Temperature {
        Temperature::from_celsius(self.room_celsius)
    }

    /// The loss at a temperature, in W/(m² K).
    fn loss_at(&self, kelvin: f64, room: f64) -> f64 {
        let loss = self.loss_watt_per_square_metre_kelvin;
        match self.air {
            Air::Alike => loss,
            Air::OfASphere => loss * of_a_sphere(kelvin, room) / of_a_sphere(998.15, room),
        }
    }

    /// Seconds from the peak until the block is below a temperature, without gusts.
    pub(crate) fn cold_after(&self, celsius: f64) -> f64 {
        const WIDE: f64 = 0.05;
        let copper = Copper::built_in();
        let slope = |kelvin: f64| self.slope(&copper, kelvin, 0.0, 1.0);
        let mut kelvin = self.until_celsius + 273.15;
        for number in 0_u32..200_000 {
            let before = kelvin;
            let middle = kelvin + WIDE / 2.0 * slope(kelvin);
            kelvin += WIDE * slope(middle);
            if kelvin < celsius + 273.15 {
                let part = (before - celsius - 273.15) / (before - kelvin);
                return WIDE * (f64::from(number) + part);
            }
        }
        panic!("the block does not get cold: {self:?}");
    }

    /// K/s of the block with a part of the flame on it and the loss times a factor.
    fn slope(&self, copper: &Copper, kelvin: f64, flame: f64, gust: f64) -> f64 {
        let area = self.area_square_millimetres * 1e-6;
        let room = self.room_celsius + 273.15;
        let fourth = |kelvin: f64| kelvin * kelvin * kelvin * kelvin;
        let watt = flame * self.gain_watt_per_kelvin * (self.flame_celsius + 273.15 - kelvin)
            - self.emissivity * STEFAN_BOLTZMANN * area * (fourth(kelvin) - fourth(room))
            - gust * self.loss_at(kelvin, room) * area * (kelvin - room);
        let capacity =
            copper.heat_capacity_joule_per_kilogram_kelvin(Temperature::from_kelvin(kelvin));
        watt / (self.mass_grams * 1e-3 * capacity)
    }

    /// The trace that a logger would have; the gusts and the noise come from the seed.
    pub(crate) fn trace(&self, seed: u64) -> Trace {
        let mut random = Pcg64::seed_from_u64(seed);
        let copper = Copper::built_in();
        let mut normal = || -> f64 { StandardNormal.sample(&mut random) };
        let (mut kelvin, mut sensor) = (self.start_celsius + 273.15, self.start_celsius + 273.15);
        let (mut wind, mut away) = (normal(), None);
        let mut due = 0.0;
        let mut points = Vec::new();
        for number in 0_u32.. {
            let at = f64::from(number) * STEP;
            let since =
                |moment: f64| ((at - moment) / self.swing_seconds.max(1e-9)).clamp(0.0, 1.0);
            let flame = match away {
                Some(moment) => 1.0 - since(moment),
                None if at < self.rest_seconds => 0.0,
                None => since(self.rest_seconds),
            };
            if at > due - STEP / 2.0 {
                due += 1.0 / self.readings_per_second;
                let seen = flame * self.flame_seen * (self.flame_celsius + 273.15 - kelvin);
                let shown = sensor + seen - 273.15 + self.noise_kelvin * normal();
                points.push(Point {
                    at: Duration::from_seconds(at),
                    temperature: Temperature::from_celsius(shown),
                });
            }
            if away.is_some_and(|moment| at >= moment + self.cooling_seconds) {
                break;
            }
            assert!(away.is_some() || at < 400.0, "the flame is too weak: {self:?}");
            if away.is_none() && kelvin >= self.until_celsius + 273.15 {
                away = Some(at);
            }
            let gust = (1.0 + self.gusts * wind).max(0.0);
            // At rest the block stays where it is.
            if at >= self.rest_seconds {
                let slope = |kelvin| self.slope(&copper, kelvin, flame, gust);
                let first = slope(kelvin);
                let second = slope(kelvin + STEP / 2.0 * first);
                let third = slope(kelvin + STEP / 2.0 * second);
                let fourth = slope(kelvin + STEP * third);
                kelvin += STEP / 6.0 * (first + 2.0 * second + 2.0 * third + fourth);
            }
            sensor = if self.lag_seconds > 0.0 {
                kelvin + (sensor - kelvin) * libm::exp(-STEP / self.lag_seconds)
            } else {
                kelvin
            };
            if self.gusts > 0.0 {
                let kept = libm::exp(-STEP / self.gust_seconds);
                wind = wind * kept + (1.0 - kept * kept).sqrt() * normal();
            }
        }
        Trace::new(points).unwrap()
    }
}

/// How many runs a test makes: as many as it says, or as the environment asks for in the long form.
#[expect(clippy::disallowed_methods, reason = "the long form of a test is asked for from outside")]
pub(crate) fn runs(short: u64) -> u64 {
    std::env::var("CINDERBOOK_RUNS").ok().and_then(|text| text.parse().ok()).unwrap_or(short)
}
