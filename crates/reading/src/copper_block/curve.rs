//! The block's equation solved in time, so that its temperature can be asked for at any moment.

use metrology::{Duration, Temperature};

use super::{CopperBlock, Heat, Surroundings};

/// The course of a block's temperature from a start on.
///
/// Solved by the classic method of Runge and Kutta of fourth order with a fixed step; between
/// steps by the cubic that has the step's temperatures and slopes.
#[derive(Clone, Debug, PartialEq)]
pub struct Curve {
    /// Kelvin, and kelvin per second, at each step.
    steps: Vec<(f64, f64)>,
}

/// The step in seconds that the course is kept at.
const STEP: f64 = 0.01;

/// Steps of the solution for each one kept. Small against a block's time constant of some 40 s and
/// against the kinks of copper's table: the independent solver differs by less than 10⁻⁵ K.
const PARTS: u32 = 4;

/// The most steps that are solved: three hours.
const MOST: usize = 1_080_000;

impl Curve {
    pub(super) fn new(
        block: &CopperBlock,
        heat: Heat,
        surroundings: Surroundings,
        (start, lasting): (Temperature, Duration),
    ) -> Self {
        let slope = |kelvin: f64| {
            let temperature = Temperature::from_kelvin(kelvin);
            block.slope_kelvin_per_second(heat, surroundings, temperature)
        };
        let (coldest, hottest) = block.copper.range();
        let mut kelvin = start.kelvin();
        let mut steps = vec![(kelvin, slope(kelvin))];
        let mut at = 0.0;
        while at < lasting.seconds() && steps.len() < MOST {
            for _ in 0..PARTS {
                let step = STEP / f64::from(PARTS);
                let first = slope(kelvin);
                let second = slope(kelvin + step / 2.0 * first);
                let third = slope(kelvin + step / 2.0 * second);
                let fourth = slope(kelvin + step * third);
                kelvin += step / 6.0 * (first + 2.0 * second + 2.0 * third + fourth);
            }
            if !(coldest.kelvin() <= kelvin && kelvin <= hottest.kelvin()) {
                break;
            }
            steps.push((kelvin, slope(kelvin)));
            at += STEP;
        }
        Self { steps }
    }

    /// The temperature at a time after the start, or nothing outside of what was solved.
    #[must_use]
    pub fn at(&self, time: Duration) -> Option<Temperature> {
        let place = time.seconds() / STEP;
        if !(place >= 0.0 && place <= self.last_place()) {
            return None;
        }
        #[expect(
            clippy::cast_possible_truncation,
            clippy::cast_sign_loss,
            reason = "found above to lie between 0 and the number of steps"
        )]
        let index = (place as usize).min(self.steps.len().saturating_sub(2));
        let (low, low_slope) = self.steps[index];
        let Some(&(high, high_slope)) = self.steps.get(index + 1) else {
            return Some(Temperature::from_kelvin(low));
        };
        #[expect(clippy::cast_precision_loss, reason = "a number of steps is far below 2^53")]
        let x = place - index as f64;
        let smooth = x * x * (3.0 - 2.0 * x);
        let kelvin = low
            + smooth * (high - low)
            + STEP * x * (x - 1.0) * ((x - 1.0) * low_slope + x * high_slope);
        Some(Temperature::from_kelvin(kelvin))
    }

    /// How long the course was solved for.
    #[must_use]
    pub fn lasts(&self) -> Duration {
        Duration::from_seconds(self.last_place() * STEP)
    }

    /// The first time at which the temperature is `limit`, or nothing when it never is.
    ///
    /// By halving between the two steps around it, to the last bit.
    #[must_use]
    pub fn reaches(&self, limit: Temperature) -> Option<Duration> {
        let limit = limit.kelvin();
        let passed =
            self.steps.windows(2).position(|pair| (pair[0].0 - limit) * (pair[1].0 - limit) <= 0.0);
        #[expect(clippy::cast_precision_loss, reason = "a number of steps is far below 2^53")]
        let mut low = passed? as f64 * STEP;
        let mut high = (low + STEP).min(self.last_place() * STEP);
        let side = |seconds: f64| {
            let found = self.at(Duration::from_seconds(seconds));
            found.map_or(0.0, |temperature| temperature.kelvin() - limit)
        };
        let start = side(low);
        for _ in 0..60 {
            let middle = low.midpoint(high);
            if side(middle) * start > 0.0 { low = middle } else { high = middle }
        }
        Some(Duration::from_seconds(high))
    }

    #[expect(clippy::cast_precision_loss, reason = "a number of steps is far below 2^53")]
    fn last_place(&self) -> f64 {
        (self.steps.len() - 1) as f64
    }
}
