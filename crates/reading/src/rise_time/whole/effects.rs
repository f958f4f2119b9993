//! How far block, sensor and room move a rise time, from the course that was fitted.

use metrology::{Duration, Mass, Ratio, Temperature};

use crate::copper_block::{
    CopperBlock, Curve, Determination, Emissivity, Flame, Heat, Surroundings, heating,
};
use crate::trace::Window;

/// The fitted block in the fitted flame.
pub(super) struct Fitted {
    block: CopperBlock,
    flame: Flame,
    surroundings: Surroundings,
    window: Window,
    start: Temperature,
}

/// The effects, each as what it adds to the rise time that is read.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Effects {
    /// A sensor that is late by τ seconds: a·τ + b·τ².
    pub(super) lag: [f64; 2],
    /// A sensor that shows the part k of the difference from flame to block: a·k + b·k².
    pub(super) seen: [f64; 2],
    /// Seconds for each kelvin that the room is warmer.
    pub(super) room: f64,
    /// Seconds for each kelvin that the block is warmer at the start.
    pub(super) start: f64,
}

/// Where the two effects that bend are looked at, in seconds and as a part; each twice.
const LAG: f64 = 0.2;
const SEEN: f64 = 0.002;

/// By how much room and start are changed to see what it does, in kelvin.
const WARMER: f64 = 5.0;

/// The step at which a sensor that lags is followed, in seconds.
const STEP: f64 = 0.01;

impl Fitted {
    /// Nothing where no flame was fitted.
    pub(super) fn of(
        block: &CopperBlock,
        determination: &Determination,
        (window, room, start): (Window, Temperature, Temperature),
    ) -> Option<Self> {
        let fit = &determination.fit;
        let flame = fit.flame?;
        let emissivity = Emissivity { value: fit.emissivity.value, ..block.emissivity };
        Some(Self {
            block: CopperBlock { emissivity, ..block.clone() },
            flame: Flame {
                gain_watt_per_kelvin: flame.gain.value.watt_per_kelvin(),
                temperature: flame.temperature.value,
            },
            surroundings: Surroundings {
                temperature: room,
                loss_watt_per_square_metre_kelvin: fit.loss.value.watt_per_square_metre_kelvin(),
            },
            window,
            start,
        })
    }

    /// The rise time of the block itself, of another mass or in another room.
    fn true_seconds(&self, mass: Mass, room: Temperature) -> Option<f64> {
        let block = CopperBlock { mass, ..self.block.clone() };
        let surroundings = Surroundings { temperature: room, ..self.surroundings };
        let window = (self.window.bottom(), self.window.top());
        block.time_between(Heat::Flame(self.flame), surroundings, window).map(Duration::seconds)
    }

    /// The effects; nothing where the fitted flame does not heat the block through the window.
    pub(super) fn effects(&self) -> Option<Effects> {
        let room = self.surroundings.temperature;
        let kelvin = metrology::TemperatureDifference::from_kelvin;
        let seconds = self.true_seconds(self.block.mass, room)?;
        let warmer = self.true_seconds(self.block.mass, room + kelvin(WARMER))?;
        let colder = self.true_seconds(self.block.mass, room - kelvin(WARMER))?;
        let lagging = |lag: f64, start: f64| {
            let start = self.start + kelvin(start);
            let reach = Duration::from_seconds(3.0 * seconds + 60.0);
            let curve =
                heating(&self.block, Heat::Flame(self.flame), self.surroundings, (start, reach));
            lagged_seconds(&curve, start, lag, self.window)
        };
        let seen = |part: f64| {
            let flame = self.flame.temperature.kelvin();
            let shown = |limit: Temperature| {
                Temperature::from_kelvin((limit.kelvin() - part * flame) / (1.0 - part))
            };
            let window = (shown(self.window.bottom()), shown(self.window.top()));
            let heat = Heat::Flame(self.flame);
            self.block.time_between(heat, self.surroundings, window).map(Duration::seconds)
        };
        Some(Effects {
            lag: bent(LAG, [lagging(LAG, 0.0)? - seconds, lagging(2.0 * LAG, 0.0)? - seconds]),
            seen: bent(SEEN, [seen(SEEN)? - seconds, seen(2.0 * SEEN)? - seconds]),
            room: (warmer - colder) / (2.0 * WARMER),
            start: (lagging(LAG, WARMER)? - lagging(LAG, -WARMER)?) / (2.0 * WARMER),
        })
    }
}

impl Effects {
    pub(super) fn lag_seconds(&self, lag: f64) -> f64 {
        lag * (self.lag[0] + self.lag[1] * lag)
    }

    pub(super) fn seen_seconds(&self, part: f64) -> f64 {
        part * (self.seen[0] + self.seen[1] * part)
    }
}

/// The a and b of a·x + b·x² that is these two numbers at `at` and at twice that.
fn bent(at: f64, [once, twice]: [f64; 2]) -> [f64; 2] {
    let b = (twice - 2.0 * once) / (2.0 * at * at);
    [once / at - b * at, b]
}

/// The rise time that a sensor shows which follows the block by `lag` seconds, as a body that takes
/// its heat from the block does.
fn lagged_seconds(curve: &Curve, start: Temperature, lag: f64, window: Window) -> Option<f64> {
    let left = libm::exp(-STEP / lag);
    let (mut at, mut block, mut sensor) = (0.0, start.kelvin(), start.kelvin());
    let limits = [window.bottom().kelvin(), window.top().kelvin()];
    let mut crossed = [None; 2];
    while crossed[1].is_none() {
        let next = curve.at(Duration::from_seconds(at + STEP))?.kelvin();
        let behind = lag * (next - block) / STEP;
        let shown = next - behind + (sensor - block + behind) * left;
        for (limit, crossed) in limits.iter().zip(&mut crossed) {
            if crossed.is_none() && sensor < *limit && shown >= *limit {
                *crossed = Some(at + STEP * (limit - sensor) / (shown - sensor));
            }
        }
        (at, block, sensor) = (at + STEP, next, shown);
    }
    Some(crossed[1]? - crossed[0]?)
}

/// How closely neighbouring readings go along with each other, from what a fit leaves over: 0 where
/// they are independent, towards 1 where a filter in the logger makes each nearly its neighbour.
///
/// From differences to the next reading and to the one after: what is slow drops out. Nothing
/// below what chance may give.
pub(super) fn neighbours(residuals: &[f64]) -> Ratio {
    const FEWEST: usize = 30;
    if residuals.len() < FEWEST {
        return Ratio::ZERO;
    }
    let mean_square = |step: usize| {
        let squares = residuals.windows(step + 1).map(|readings| {
            let difference = readings[step] - readings[0];
            difference * difference
        });
        let number = residuals.len() - step;
        squares.sum::<f64>() / real(number)
    };
    let (next, after) = (mean_square(1), mean_square(2));
    if next <= 0.0 {
        return Ratio::ZERO;
    }
    let correlation = after / next - 1.0;
    let chance = 3.0 / real(residuals.len()).sqrt();
    Ratio::from_fraction(if correlation > chance { correlation.min(0.98) } else { 0.0 })
}

#[expect(clippy::cast_precision_loss, reason = "a count of readings is far below 2^53")]
const fn real(number: usize) -> f64 {
    number as f64
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn two_points_give_the_bend_through_nothing() {
        let [a, b] = bent(0.5, [0.5 * 3.0 + 0.25 * 2.0, 3.0 + 2.0]);
        assert!((a - 3.0).abs() < 1e-12 && (b - 2.0).abs() < 1e-12);
    }

    #[test]
    fn a_filter_is_found_and_a_drift_is_none() {
        // A saw-tooth of independent signs, by a fixed rule.
        let mut state = 1_u32;
        let noise: Vec<f64> = (0..400)
            .map(|_| {
                state = state.wrapping_mul(1_664_525).wrapping_add(1_013_904_223);
                f64::from(state >> 16) / 32768.0 - 1.0
            })
            .collect();
        assert_eq!(neighbours(&noise), Ratio::ZERO);
        let drifting: Vec<f64> =
            noise.iter().enumerate().map(|(n, it)| it + real(n) / 100.0).collect();
        assert_eq!(neighbours(&drifting), Ratio::ZERO);
        let mut kept = 0.0;
        let filtered: Vec<f64> = noise
            .iter()
            .map(|it| {
                kept = 0.7 * kept + 0.3 * it;
                kept
            })
            .collect();
        let found = neighbours(&filtered).fraction();
        assert!((found - 0.7).abs() < 0.12, "{found}");
        assert_eq!(neighbours(&noise[..20]), Ratio::ZERO);
    }
}
