//! An equation solved in time with a step that follows its own error.
//!
//! Dormand and Prince's pair of orders 5 and 4, with its free interpolation of order 4 within a
//! step. The heat capacity is a polynomial between two rows of copper's table and has a kink at
//! each row: no step goes across one, so that each sees a smooth equation.
//!
//! Source of the coefficients: Hairer, Nørsett and Wanner, Solving Ordinary Differential Equations
//! I, table II.5.2 and section II.6 (from memory; the tests hold the result against scipy).

use super::copper::Piece;

/// What is solved: the first number of a state is the temperature in kelvin.
pub(super) trait Equation<const N: usize> {
    /// How fast the state changes, each second.
    fn slope(&self, piece: &Piece, state: &[f64; N]) -> [f64; N];
}

/// One step of the solution, with what lies between its ends.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Step<const N: usize> {
    /// Seconds after the start.
    pub(super) from: f64,
    pub(super) width: f64,
    /// The coefficients of the interpolation.
    rows: [[f64; N]; 5],
}

impl<const N: usize> Step<N> {
    pub(super) const fn to(&self) -> f64 {
        self.from + self.width
    }

    /// The state at a time within the step.
    pub(super) fn at(&self, time: f64) -> [f64; N] {
        let x = (time - self.from) / self.width;
        let y = 1.0 - x;
        let [first, second, third, fourth, fifth] = &self.rows;
        std::array::from_fn(|n| {
            first[n] + x * (second[n] + y * (third[n] + x * (fourth[n] + y * fifth[n])))
        })
    }

    /// The temperature alone.
    pub(super) fn kelvin_at(&self, time: f64) -> f64 {
        let x = (time - self.from) / self.width;
        let y = 1.0 - x;
        let [first, second, third, fourth, fifth] = &self.rows;
        first[0] + x * (second[0] + y * (third[0] + x * (fourth[0] + y * fifth[0])))
    }

    /// When the temperature is `kelvin`, which it passes on its way: by halving, to the last bit.
    pub(super) fn reaches(&self, kelvin: f64) -> f64 {
        let (mut low, mut high) = (self.from, self.to());
        let side = self.kelvin_at(low) - kelvin;
        for _ in 0..60 {
            let middle = low.midpoint(high);
            if (self.kelvin_at(middle) - kelvin) * side > 0.0 {
                low = middle;
            } else {
                high = middle;
            }
        }
        high
    }
}

/// The first step that is tried, in seconds.
const FIRST_STEP: f64 = 0.5;

/// How often a step is tried before it is given up: an error that is no number never shrinks.
const MOST_TRIALS: u32 = 200;

/// Stages of the method: the weights of the slopes so far.
const STAGES: [&[f64]; 6] = [
    &[1.0 / 5.0],
    &[3.0 / 40.0, 9.0 / 40.0],
    &[44.0 / 45.0, -56.0 / 15.0, 32.0 / 9.0],
    &[19372.0 / 6561.0, -25360.0 / 2187.0, 64448.0 / 6561.0, -212.0 / 729.0],
    &[9017.0 / 3168.0, -355.0 / 33.0, 46732.0 / 5247.0, 49.0 / 176.0, -5103.0 / 18656.0],
    &[35.0 / 384.0, 0.0, 500.0 / 1113.0, 125.0 / 192.0, -2187.0 / 6784.0, 11.0 / 84.0],
];

/// The fifth order less the fourth.
const ERROR: [f64; 7] = [
    71.0 / 57600.0,
    0.0,
    -71.0 / 16695.0,
    71.0 / 1920.0,
    -17253.0 / 339_200.0,
    22.0 / 525.0,
    -1.0 / 40.0,
];

/// What the interpolation has beyond a cubic.
const BETWEEN: [f64; 7] = [
    -12_715_105_075.0 / 11_282_082_432.0,
    0.0,
    87_487_479_700.0 / 32_700_410_799.0,
    -10_690_763_975.0 / 1_880_347_072.0,
    701_980_252_875.0 / 199_316_789_632.0,
    -1_453_857_185.0 / 822_651_844.0,
    69_997_945.0 / 29_380_423.0,
];

/// A solution on its way.
pub(super) struct Solver<'a, E, const N: usize> {
    equation: &'a E,
    pieces: &'a [Piece],
    place: usize,
    at: f64,
    state: [f64; N],
    slope: [f64; N],
    width: f64,
    /// The most that a step may be off, in kelvin.
    tolerance: f64,
}

/// What one try of a step gave.
struct Trial<const N: usize> {
    end: [f64; N],
    slopes: [[f64; N]; 7],
    error: f64,
}

impl<'a, E: Equation<N>, const N: usize> Solver<'a, E, N> {
    /// Begins at `state`, at time zero.
    pub(super) fn new(
        equation: &'a E,
        pieces: &'a [Piece],
        state: [f64; N],
        tolerance: f64,
    ) -> Self {
        let after = pieces.partition_point(|piece| piece.low <= state[0]);
        let place = after.clamp(1, pieces.len()) - 1;
        let slope = equation.slope(&pieces[place], &state);
        Self { equation, pieces, place, at: 0.0, state, slope, width: FIRST_STEP, tolerance }
    }

    /// The next step, not beyond `end`; nothing there, nor where the pieces end.
    pub(super) fn next(&mut self, end: f64) -> Option<Step<N>> {
        for _ in 0..MOST_TRIALS {
            let piece = self.pieces.get(self.place)?;
            let left = end - self.at;
            if left <= 0.0 {
                return None;
            }
            let width = self.width.min(left);
            let trial = self.trial(piece, width);
            let error = (trial.error / self.tolerance).abs();
            // Nine tenths of what the error allows, and never more than five times as wide.
            let next = width * (0.9 * libm::pow(error.max(1e-10), -0.2)).clamp(0.2, 5.0);
            if error.is_nan() || error > 1.0 {
                self.width = if error.is_nan() { 0.2 * width } else { next };
                continue;
            }
            // A step that ends the time may be short; the next one need not be.
            self.width = if width < self.width { self.width } else { next };
            let step = self.step(&trial, width);
            let rises = trial.end[0] > self.state[0];
            let leaves = if rises { trial.end[0] > piece.high } else { trial.end[0] < piece.low };
            if !leaves {
                self.at = if width < left { step.to() } else { end };
                (self.state, self.slope) = (trial.end, trial.slopes[6]);
                return Some(step);
            }
            let to = step.reaches(if rises { piece.high } else { piece.low });
            if let Some(step) = self.leave(piece, to, rises) {
                return Some(step);
            }
        }
        None
    }

    /// Goes to the end of a piece, and enters the next one.
    fn leave(&mut self, piece: &Piece, to: f64, rises: bool) -> Option<Step<N>> {
        let width = to - self.at;
        let step = (width > 0.0).then(|| {
            let trial = self.trial(piece, width);
            let step = self.step(&trial, width);
            (self.at, self.state) = (to, trial.end);
            step
        });
        let before = || self.place.checked_sub(1).unwrap_or(self.pieces.len());
        self.place = if rises { self.place + 1 } else { before() };
        if let Some(piece) = self.pieces.get(self.place) {
            self.slope = self.equation.slope(piece, &self.state);
        }
        step
    }

    fn trial(&self, piece: &Piece, width: f64) -> Trial<N> {
        let mut slopes = [[0.0; N]; 7];
        slopes[0] = self.slope;
        let mut end = self.state;
        for (stage, weights) in STAGES.iter().enumerate() {
            end = std::array::from_fn(|n| self.state[n] + width * weighted(weights, &slopes, n));
            slopes[stage + 1] = self.equation.slope(piece, &end);
        }
        Trial { end, slopes, error: width * weighted(&ERROR, &slopes, 0) }
    }

    fn step(&self, trial: &Trial<N>, width: f64) -> Step<N> {
        let slopes = &trial.slopes;
        let mut rows = [self.state, [0.0; N], [0.0; N], [0.0; N], [0.0; N]];
        for n in 0..N {
            let change = trial.end[n] - self.state[n];
            let bend = width * slopes[0][n] - change;
            rows[1][n] = change;
            rows[2][n] = bend;
            rows[3][n] = change - bend - width * slopes[6][n];
            rows[4][n] = width * weighted(&BETWEEN, slopes, n);
        }
        Step { from: self.at, width, rows }
    }
}

fn weighted<const N: usize>(weights: &[f64], slopes: &[[f64; N]; 7], n: usize) -> f64 {
    weights.iter().zip(slopes).map(|(weight, slope)| weight * slope[n]).sum()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::copper_block::Copper;

    /// Cooling towards 300 K with a time constant of 40 s, and its derivative by the time constant.
    struct Decay;

    impl Equation<2> for Decay {
        fn slope(&self, _: &Piece, &[kelvin, by_constant]: &[f64; 2]) -> [f64; 2] {
            let fall = (300.0 - kelvin) / 40.0;
            [fall, -fall / 40.0 - by_constant / 40.0]
        }
    }

    /// The exact course is 300 + 700·exp(−t/40).
    #[test]
    fn analytic_decay_at_the_steps_and_between_them() {
        let copper = Copper::built_in();
        let mut solver = Solver::new(&Decay, copper.pieces(), [1000.0, 0.0], 1e-9);
        let (mut worst, mut worst_by_constant, mut steps) = (0.0_f64, 0.0_f64, 0);
        let mut at = 0.0;
        while let Some(step) = solver.next(100.0) {
            assert!((step.from - at).abs() < 1e-12);
            at = step.to();
            steps += 1;
            for part in 0..=10 {
                let time = step.from + step.width * f64::from(part) / 10.0;
                let [kelvin, by_constant] = step.at(time);
                let left = libm::exp(-time / 40.0);
                worst = worst.max((kelvin - 300.0 - 700.0 * left).abs());
                let exact = 700.0 * left * time / 1600.0;
                worst_by_constant = worst_by_constant.max((by_constant - exact).abs());
                assert!((step.kelvin_at(time) - kelvin).abs() < 1e-9);
            }
        }
        assert!((at - 100.0).abs() < 1e-12, "{at}");
        assert!(worst < 1e-6, "{worst}");
        assert!(worst_by_constant < 1e-6, "{worst_by_constant}");
        assert!(steps < 200, "{steps}");
    }
}
