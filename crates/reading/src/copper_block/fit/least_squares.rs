//! Least squares that a few wild readings do not pull: Huber's, by Levenberg and Marquardt.

use super::super::linear::{Factor, Matrix};
use super::super::solver::{Equation, Solver};
use super::equation::{Body, InAir, InFlame};
use crate::fit::Reading;

/// Gain in W/K, flame in K, loss in W/(m² K), emissivity, and the block's temperature in K at the
/// first reading of the heating and of the cooling.
pub(in super::super) type Values = [f64; COUNT];

pub(in super::super) const COUNT: usize = 6;

/// Places in [`Values`].
pub(in super::super) const GAIN: usize = 0;
pub(in super::super) const FLAME: usize = 1;
pub(in super::super) const LOSS: usize = 2;
pub(in super::super) const EMISSIVITY: usize = 3;
pub(in super::super) const START: usize = 4;
pub(in super::super) const PEAK: usize = 5;

/// Where the dependences of a block in a flame, and in air, belong.
const IN_FLAME: [usize; 5] = [GAIN, FLAME, LOSS, EMISSIVITY, START];
const IN_AIR: [usize; 3] = [LOSS, EMISSIVITY, PEAK];

/// What is known of a parameter beforehand.
#[derive(Clone, Copy, Debug)]
pub(in super::super) struct Known {
    pub(in super::super) place: usize,
    pub(in super::super) value: f64,
    pub(in super::super) uncertainty: f64,
}

/// What is fitted to what.
pub(in super::super) struct Problem<'a> {
    pub(in super::super) body: Body<'a>,
    pub(in super::super) heating: &'a [Reading],
    pub(in super::super) cooling: &'a [Reading],
    pub(in super::super) known: &'a [Known],
}

/// A fit.
#[derive(Clone, Debug)]
pub(in super::super) struct Solution {
    pub(in super::super) values: Values,
    /// As it follows from the scatter of independent readings.
    pub(in super::super) covariance: Matrix<COUNT>,
    /// The scatter of a reading, in kelvin.
    pub(in super::super) scatter: f64,
    /// Readings less fit in kelvin, the heating's first.
    pub(in super::super) residuals: Vec<f64>,
}

/// Readings further off than this many times the scatter count less. On normal scatter it costs
/// one part in a hundred of what the readings tell.
pub(super) const WILD: f64 = 2.5;

/// A fit is left when the next step would gain less than this of a squared standard deviation.
const ENOUGH: f64 = 1e-6;

/// The error of the solution in kelvin: far below the scatter of any reading.
const TOLERANCE: f64 = 1e-5;

/// The least scatter in kelvin, so that readings without any do not divide by nothing.
const LEAST_SCATTER: f64 = 1e-3;

/// Rounds of fitting with a better known scatter.
const ROUNDS: u32 = 6;

/// Steps in a round.
const STEPS: u32 = 60;

/// The normal equations about some values.
struct Sums {
    matrix: Matrix<COUNT>,
    vector: Values,
    cost: f64,
    residuals: Vec<f64>,
}

impl Problem<'_> {
    /// The fit from `start` on, or nothing where none is found.
    pub(in super::super) fn solve(&self, start: Values) -> Option<Solution> {
        let (mut values, mut scatter) = (start, self.first_scatter());
        for _ in 0..ROUNDS {
            let sums = self.descend(&mut values, scatter)?;
            let found = median_size(&sums.residuals).max(LEAST_SCATTER);
            let settled = (found / scatter - 1.0).abs() < 0.01;
            if settled {
                return self.finish(values, scatter, sums);
            }
            scatter = found;
        }
        let sums = self.sums(&values, scatter)?;
        self.finish(values, scatter, sums)
    }

    /// Goes down to the least cost for one scatter.
    fn descend(&self, values: &mut Values, scatter: f64) -> Option<Sums> {
        let mut sums = self.sums(values, scatter)?;
        let mut damping = 1e-6;
        for _ in 0..STEPS {
            let mut damped = sums.matrix;
            for (n, row) in damped.iter_mut().enumerate() {
                row[n] *= 1.0 + damping;
            }
            let step = Factor::of(&damped)?.solve(&sums.vector);
            let gain: f64 = step.iter().zip(&sums.vector).map(|(step, slope)| step * slope).sum();
            if gain < ENOUGH && damping < 1.0 {
                return Some(sums);
            }
            let tried: Values = std::array::from_fn(|n| values[n] + step[n]);
            let better = plausible(&tried).then(|| self.sums(&tried, scatter)).flatten();
            match better.filter(|better| better.cost < sums.cost) {
                Some(better) => {
                    (*values, sums) = (tried, better);
                    damping *= 0.1;
                }
                // Where rounding hides the gain, the bottom is reached.
                None if gain < 1e-9 * sums.cost => return Some(sums),
                None => damping = (damping * 10.0).max(1e-3),
            }
            if damping > 1e12 {
                return None;
            }
        }
        Some(sums)
    }

    fn finish(&self, values: Values, scatter: f64, sums: Sums) -> Option<Solution> {
        let count = real(sums.residuals.len());
        let free = count - real(self.parameters());
        if free < 1.0 {
            return None;
        }
        let wild = WILD * scatter;
        let square = |residual: &f64| residual.clamp(-wild, wild) * residual.clamp(-wild, wild);
        let squares: f64 = sums.residuals.iter().map(square).sum();
        let inside = real(sums.residuals.iter().filter(|size| size.abs() <= wild).count()) / count;
        // Huber's covariance (Robust Statistics 7.6, from memory) has the unweighted matrix; the
        // weighted one is taken for it, less by the mean weight.
        let weight = |residual: &f64| (wild / residual.abs()).min(1.0);
        let weights = sums.residuals.iter().map(weight).sum::<f64>() / count;
        let variance = if self.known.is_empty() {
            squares / free / (scatter * scatter) * weights / (inside * inside)
        } else {
            1.0
        };
        let inverse = Factor::of(&sums.matrix)?.inverse();
        let covariance = inverse.map(|row| row.map(|entry| entry * variance.max(1e-12)));
        let residuals = sums.residuals;
        Some(Solution { values, covariance, scatter: (squares / free).sqrt(), residuals })
    }

    /// How many parameters the readings are asked for.
    fn parameters(&self) -> usize {
        match (self.heating.is_empty(), self.cooling.is_empty()) {
            (false, false) => 6,
            (false, true) => 5,
            (true, _) => 3,
        }
    }

    /// The scatter of a reading before anything is fitted, from how the readings bend.
    fn first_scatter(&self) -> f64 {
        let bends: Vec<f64> = [self.heating, self.cooling]
            .iter()
            .flat_map(|readings| readings.windows(3))
            .map(|three| {
                let part = (three[1].0 - three[0].0) / (three[2].0 - three[0].0);
                let between = three[0].1 + part * (three[2].1 - three[0].1);
                (three[1].1 - between) / (1.0 + part * part + (1.0 - part) * (1.0 - part)).sqrt()
            })
            .collect();
        median_size(&bends).max(LEAST_SCATTER)
    }

    fn sums(&self, values: &Values, scatter: f64) -> Option<Sums> {
        let mut sums = Sums {
            matrix: [[0.0; COUNT]; COUNT],
            vector: [0.0; COUNT],
            cost: 0.0,
            residuals: Vec::with_capacity(self.heating.len() + self.cooling.len()),
        };
        let [gain, flame, loss, emissivity, start, peak] = *values;
        let in_flame = InFlame { body: self.body, gain, flame, loss, emissivity };
        let state = [start, 0.0, 0.0, 0.0, 0.0, 1.0];
        self.follow(&in_flame, self.heating, state, (&IN_FLAME, scatter, &mut sums))?;
        let in_air = InAir { body: self.body, loss, emissivity };
        let state = [peak, 0.0, 0.0, 1.0];
        self.follow(&in_air, self.cooling, state, (&IN_AIR, scatter, &mut sums))?;
        for known in self.known {
            let weight = 1.0 / (known.uncertainty * known.uncertainty);
            let off = known.value - values[known.place];
            sums.matrix[known.place][known.place] += weight;
            sums.vector[known.place] += weight * off;
            sums.cost += 0.5 * weight * off * off;
        }
        for n in 0..COUNT {
            // What no reading depends on stays where it is.
            let unused = sums.matrix[n][n] <= 0.0;
            if unused {
                sums.matrix[n][n] = 1.0;
            }
            for column in n + 1..COUNT {
                sums.matrix[n][column] = sums.matrix[column][n];
            }
        }
        sums.cost.is_finite().then_some(sums)
    }

    /// Solves an equation and adds each reading's part to the sums.
    fn follow<const N: usize, const P: usize>(
        &self,
        equation: &impl Equation<N>,
        readings: &[Reading],
        state: [f64; N],
        (places, scatter, sums): (&[usize; P], f64, &mut Sums),
    ) -> Option<()> {
        let (Some(first), Some(last)) = (readings.first(), readings.last()) else {
            return Some(());
        };
        let (from, lasting) = (first.0, last.0 - first.0);
        let mut solver = Solver::new(equation, self.body.pieces(), state, TOLERANCE);
        let mut next = 0;
        // A reading at the very end must not be lost to rounding.
        while let Some(step) = solver.next(lasting * (1.0 + 1e-12)) {
            while let Some((at, celsius)) = readings.get(next) {
                let at = at - from;
                if at > step.to() {
                    break;
                }
                let state = step.at(at);
                let by: [f64; P] = std::array::from_fn(|n| state[n + 1]);
                sums.add(places, &by, celsius + KELVIN_AT_ZERO_CELSIUS - state[0], scatter);
                next += 1;
            }
        }
        (next == readings.len()).then_some(())
    }
}

const KELVIN_AT_ZERO_CELSIUS: f64 = metrology::Temperature::from_celsius(0.0).kelvin();

impl Sums {
    #[inline]
    fn add<const P: usize>(
        &mut self,
        places: &[usize; P],
        by: &[f64; P],
        residual: f64,
        scatter: f64,
    ) {
        self.residuals.push(residual);
        let size = residual.abs() / scatter;
        let weight = if size > WILD { WILD / size } else { 1.0 };
        self.cost += weight * size * if size > WILD { size - 0.5 * WILD } else { 0.5 * size };
        let weight = weight / (scatter * scatter);
        for (n, place) in places.iter().enumerate() {
            let weighted = weight * by[n];
            self.vector[*place] += weighted * residual;
            for (column, by) in places[..=n].iter().zip(by) {
                self.matrix[*place][*column] += weighted * by;
            }
        }
    }
}

/// Whether a block and a flame can be like this at all; what is negative by noise alone may be.
fn plausible(values: &Values) -> bool {
    let [gain, flame, loss, emissivity, start, peak] = *values;
    gain > 0.0
        && flame > 0.0
        && flame < 1e5
        && loss.abs() < 1e4
        && emissivity.abs() < 10.0
        && start > 0.0
        && peak > 0.0
}

/// The standard deviation of normal numbers about zero, from the median of their sizes.
pub(in super::super) fn median_size(numbers: &[f64]) -> f64 {
    /// The median size of a standard normal deviate, and so its standard deviation over that.
    const DEVIATION_BY_MEDIAN: f64 = 1.482_602_218_505_602;
    let mut sizes: Vec<f64> = numbers.iter().map(|number| number.abs()).collect();
    let middle = sizes.len() / 2;
    if sizes.is_empty() {
        return 0.0;
    }
    DEVIATION_BY_MEDIAN * *sizes.select_nth_unstable_by(middle, f64::total_cmp).1
}

#[expect(clippy::cast_precision_loss, reason = "a count of readings is far below 2^53")]
pub(in super::super) const fn real(count: usize) -> f64 {
    count as f64
}
