//! Made traces: blocks, flames and noise that the tests share.

use metrology::{Area, Duration, Mass, Ratio, Temperature};
use rand::SeedableRng as _;
use rand_distr::{Distribution as _, Normal, Uniform};
use rand_pcg::Pcg64;
use reading::copper_block::{
    Copper, CopperBlock, Curve, Emissivity, Flame, Heat, Surroundings, heating,
};
use reading::{Point, Trace, Window};

/// A block in a flame, and its rise time from 100 °C to 700 °C as an independent program has it.
pub(crate) struct Setting {
    pub(crate) name: &'static str,
    pub(crate) block: CopperBlock,
    pub(crate) heat: Heat,
    pub(crate) surroundings: Surroundings,
    pub(crate) rise_seconds: f64,
}

/// The five settings whose rise times were computed with scipy's quadrature and its solver of
/// differential equations, which agreed to 1e-7 s; printed there with five decimals.
pub(crate) fn settings() -> Vec<Setting> {
    let copper = Copper::built_in();
    let constant = copper.clone().with_constant_heat_capacity(385.0);
    let flame = |gain_watt_per_kelvin, celsius| {
        Heat::Flame(Flame { gain_watt_per_kelvin, temperature: Temperature::from_celsius(celsius) })
    };
    let setting = |name, copper: &Copper, heat, emissivity, rise_seconds| Setting {
        name,
        block: CopperBlock {
            mass: Mass::from_grams(0.58),
            area: Area::from_square_millimetres(55.0),
            emissivity: Emissivity::constant(Ratio::from_fraction(emissivity)),
            copper: copper.clone(),
        },
        heat,
        surroundings: Surroundings {
            temperature: Temperature::from_celsius(23.0),
            loss_watt_per_square_metre_kelvin: 0.0,
        },
        rise_seconds,
    };
    vec![
        setting("6.25 W", &copper, Heat::Power { watt: 6.25 }, 0.0, 23.518_36),
        setting("6.0 mW/K, 1500 °C", &copper, flame(6e-3, 1500.0), 0.0, 22.975_50),
        setting("5.5 mW/K, 1600 °C", &copper, flame(5.5e-3, 1600.0), 0.0, 22.868_12),
        setting("8 mW/K, 1500 °C, radiating", &copper, flame(8e-3, 1500.0), 0.8, 19.657_03),
        setting("385 J/(kg K)", &constant, flame(6e-3, 1500.0), 0.0, 20.827_03),
    ]
}

impl Setting {
    /// The block's course from 23 °C, the flame being put to it at once.
    pub(crate) fn curve(&self) -> Curve {
        let start = (Temperature::from_celsius(23.0), Duration::from_seconds(40.0));
        heating(&self.block, self.heat, self.surroundings, start)
    }

    /// Where the course reaches a temperature, and its rise time from 100 °C to 700 °C.
    pub(crate) fn rise_seconds(&self, curve: &Curve) -> f64 {
        let reaches = |celsius| curve.reaches(Temperature::from_celsius(celsius)).unwrap();
        (reaches(700.0) - reaches(100.0)).seconds()
    }
}

/// How a made logger reads.
#[derive(Clone, Copy)]
pub(crate) struct Logger {
    pub(crate) readings_per_second: f64,
    pub(crate) noise_kelvin: f64,
    /// The step of the last digit, or 0.
    pub(crate) digit_kelvin: f64,
    /// Seconds at rest before the flame.
    pub(crate) before_seconds: f64,
}

impl Logger {
    pub(crate) const fn at(readings_per_second: f64) -> Self {
        Self { readings_per_second, noise_kelvin: 0.5, digit_kelvin: 0.0, before_seconds: 3.0 }
    }

    /// Readings of the course as this logger would write them: the phase of its readings and
    /// their noise come from the seed.
    pub(crate) fn read(self, curve: &Curve, seed: u64) -> Vec<Point> {
        let mut random = Pcg64::seed_from_u64(seed);
        let noise = Normal::new(0.0, self.noise_kelvin).unwrap();
        let step = 1.0 / self.readings_per_second;
        let phase = Uniform::new(0.0, step).unwrap().sample(&mut random);
        let rest = curve.at(Duration::ZERO).unwrap().celsius();
        let mut points = Vec::new();
        for number in 0..100_000_u32 {
            let at = phase + f64::from(number) * step;
            let heated = at - self.before_seconds;
            let true_celsius = if heated < 0.0 {
                rest
            } else if let Some(found) = curve.at(Duration::from_seconds(heated)) {
                found.celsius()
            } else {
                break;
            };
            if true_celsius > 760.0 {
                break;
            }
            let noisy = true_celsius + noise.sample(&mut random);
            let shown = if self.digit_kelvin > 0.0 {
                (noisy / self.digit_kelvin).round() * self.digit_kelvin
            } else {
                noisy
            };
            points.push(point(at, shown));
        }
        points
    }
}

pub(crate) fn point(second: f64, celsius: f64) -> Point {
    Point { at: Duration::from_seconds(second), temperature: Temperature::from_celsius(celsius) }
}

pub(crate) fn trace(points: &[Point]) -> Trace {
    Trace::new(points.iter().copied()).unwrap()
}

pub(crate) fn window() -> Window {
    Window::new(Temperature::from_celsius(100.0), Temperature::from_celsius(700.0)).unwrap()
}
