//! The whole distribution of a result, by trials (JCGM 101:2008).

use super::inputs::{Input, Inputs};
use super::type_b::Shape;
use crate::draw;
use crate::measurement::DegreesOfFreedom;
use crate::quantity::Ratio;
use crate::statistics::as_f64;
use rand::SeedableRng as _;
use rand_pcg::Pcg64Mcg;
use rayon::prelude::*;
use std::cmp::Ordering;
use thiserror::Error;

/// Propagates the inputs' distributions through `model` by random trials.
///
/// The answer is the same to the last bit on any number of cores: each block of trials has its
/// own generator, seeded with `seed` + number of the block, and sums are taken in the order of
/// the blocks. Memory is 8 bytes a trial and a little more.
///
/// # Errors
///
/// [`MonteCarloError`] if the number of trials or the coverage is out of range, an input that
/// is not normal is correlated, or a trial has no finite value.
///
/// # Source
///
/// JCGM 101:2008: draws 6.4, results 7.6, coverage intervals 7.7.
pub fn monte_carlo(
    inputs: &Inputs,
    model: impl Fn(&[f64]) -> f64 + Sync,
    trials: Trials,
) -> Result<MonteCarlo, MonteCarloError> {
    trials.check()?;
    let draws = Draws::of(inputs)?;
    let mut values = vec![0.0_f64; trials.number];
    let sums: Vec<f64> = values
        .par_chunks_mut(BLOCK)
        .enumerate()
        .map(|(number, block)| {
            let generator = Pcg64Mcg::seed_from_u64(trials.seed.wrapping_add(number as u64));
            draws.fill(block, generator, &model);
            block.iter().sum::<f64>()
        })
        .collect();
    let number = as_f64(trials.number);
    let mean = sums.iter().sum::<f64>() / number;
    if !mean.is_finite() {
        let without_value = values.iter().filter(|value| !value.is_finite()).count();
        return Err(MonteCarloError::NoValue { without_value, trials: trials.number });
    }
    let squares: Vec<f64> = values
        .par_chunks(BLOCK)
        .map(|block| block.iter().map(|value| (value - mean) * (value - mean)).sum())
        .collect();
    let (symmetric, shortest) = intervals(&values, trials.coverage.fraction());
    Ok(MonteCarlo {
        trials,
        mean,
        standard_uncertainty: (squares.iter().sum::<f64>() / (number - 1.0)).sqrt(),
        symmetric,
        shortest,
    })
}

/// How to try.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Trials {
    /// How many; 10⁶ give two significant digits at 95 % (JCGM 101 7.2.2 note 1).
    pub number: usize,
    /// Where the generators start. The same seed gives the same answer.
    pub seed: u64,
    /// What the intervals shall cover.
    pub coverage: Ratio,
}

impl Trials {
    /// Fewer say nothing of an interval's ends.
    pub const FEWEST: usize = 1_000;
    /// More need more than 160 MB.
    pub const MOST: usize = 20_000_000;

    fn check(self) -> Result<(), MonteCarloError> {
        if !(Self::FEWEST..=Self::MOST).contains(&self.number) {
            return Err(MonteCarloError::Number { found: self.number });
        }
        let coverage = self.coverage.fraction();
        // Both ends must lie among the values, with some values beyond them.
        let beyond = (1.0 - coverage) * as_f64(self.number);
        if !(coverage > 0.0 && beyond >= 10.0) {
            return Err(MonteCarloError::Coverage { found: coverage, trials: self.number });
        }
        Ok(())
    }
}

/// What the trials gave, in the unit of the model's value.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct MonteCarlo {
    /// How it was tried.
    pub trials: Trials,
    /// The mean of the values.
    pub mean: f64,
    /// Their standard deviation.
    pub standard_uncertainty: f64,
    /// The interval with as much beyond the one end as beyond the other.
    pub symmetric: Interval,
    /// The shortest interval that covers as much.
    pub shortest: Interval,
}

/// A coverage interval, in the unit of the model's value.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Interval {
    /// The lower end.
    pub low: f64,
    /// The upper end.
    pub high: f64,
}

/// Why there is no result from trials.
#[derive(Clone, Debug, PartialEq, Error)]
pub enum MonteCarloError {
    /// Too few or too many trials.
    #[error(
        "{found} trials were asked for; from {} to {} are possible",
        Trials::FEWEST,
        Trials::MOST
    )]
    Number {
        /// How many were asked for.
        found: usize,
    },
    /// The coverage is not between 0 and 1, or too near to 1 for the number of trials.
    #[error(
        "a coverage of {found} cannot be read from {trials} trials: at least 10 of them must lie \
         outside"
    )]
    Coverage {
        /// What was asked for, as a fraction.
        found: f64,
        /// The number of trials.
        trials: usize,
    },
    /// Correlated draws are made of normal ones only.
    #[error("input `{name}` is correlated but not normal; such trials cannot be drawn")]
    CorrelatedShape {
        /// Which input.
        name: String,
    },
    /// The model has no finite value somewhere within the inputs' distributions.
    #[error("the model has no finite value in {without_value} of {trials} trials")]
    NoValue {
        /// In how many.
        without_value: usize,
        /// Of how many.
        trials: usize,
    },
}

/// Trials with one generator. Fixed: another size would give other values for the same seed.
const BLOCK: usize = 10_000;
/// Trials whose inputs are drawn together; small enough for the nearest cache.
const BATCH: usize = 250;

/// How each input is drawn.
struct Draws<'inputs> {
    inputs: &'inputs [Input],
    /// From the last to the first.
    correlated: Vec<Correlated>,
}

/// How a correlated input is made of independent deviates.
struct Correlated {
    place: usize,
    /// Other places, and how much of the deviate there goes in.
    parts: Vec<(usize, f64)>,
}

impl<'inputs> Draws<'inputs> {
    fn of(inputs: &'inputs Inputs) -> Result<Self, MonteCarloError> {
        let list = inputs.list();
        let mut correlated = Vec::new();
        for place in (0..list.len()).rev().filter(|&place| inputs.is_correlated(place)) {
            if list[place].shape != Shape::Normal {
                return Err(MonteCarloError::CorrelatedShape { name: list[place].name.clone() });
            }
            let row = inputs.factor_row(place).iter().copied().enumerate();
            let parts = row.filter(|&(_, part)| part != 0.0).collect();
            correlated.push(Correlated { place, parts });
        }
        Ok(Self { inputs: list, correlated })
    }

    /// Fills `block` with the model's values at drawn inputs.
    fn fill(
        &self,
        block: &mut [f64],
        mut generator: Pcg64Mcg,
        model: &(impl Fn(&[f64]) -> f64 + Sync),
    ) {
        let width = self.inputs.len();
        let mut drawn = vec![0.0; BATCH * width];
        for batch in block.chunks_mut(BATCH) {
            let drawn = &mut drawn[..batch.len() * width];
            for (place, input) in self.inputs.iter().enumerate() {
                let column = drawn[place..].iter_mut().step_by(width);
                if self.correlated.iter().any(|correlated| correlated.place == place) {
                    let normal = draw::Normal::default();
                    column.for_each(|cell| *cell = normal.draw(&mut generator));
                } else {
                    draw_column(input, column, &mut generator);
                }
            }
            // Apart from the model's turn: a processor waits on what it has just written.
            self.correlate(drawn);
            for (value, row) in batch.iter_mut().zip(drawn.chunks_exact(width)) {
                *value = model(row);
            }
        }
    }

    /// Makes correlated inputs of independent deviates. From the last to the first, since each
    /// is made of those before it.
    fn correlate(&self, drawn: &mut [f64]) {
        for Correlated { place, parts } in &self.correlated {
            let input = &self.inputs[*place];
            for row in drawn.chunks_exact_mut(self.inputs.len()) {
                let deviate: f64 = parts.iter().map(|&(other, part)| part * row[other]).sum();
                row[*place] = input.value + input.standard_uncertainty * deviate;
            }
        }
    }
}

/// Draws one independent input for each cell.
fn draw_column<'cell>(
    input: &Input,
    column: impl Iterator<Item = &'cell mut f64>,
    generator: &mut Pcg64Mcg,
) {
    let (value, width) = (input.value, input.standard_uncertainty * half_width(input.shape));
    match (input.shape, input.degrees_of_freedom) {
        (Shape::StudentT, DegreesOfFreedom::Of(number)) => {
            column.for_each(|cell| *cell = value + width * draw::student(number, generator));
        }
        (Shape::Normal, _) | (Shape::StudentT, DegreesOfFreedom::Infinite) => {
            let normal = draw::Normal::default();
            column.for_each(|cell| *cell = value + width * normal.draw(generator));
        }
        (Shape::Rectangular, _) => {
            column.for_each(|cell| *cell = value + width * (2.0 * draw::fraction(generator) - 1.0));
        }
        (Shape::Triangular, _) => {
            column.for_each(|cell| *cell = value + width * draw::trapezoidal(0.0, generator));
        }
        (Shape::Trapezoidal { top_to_base }, _) => column.for_each(|cell| {
            *cell = value + width * draw::trapezoidal(top_to_base, generator);
        }),
        (Shape::Arcsine, _) => {
            column.for_each(|cell| *cell = value + width * draw::arcsine(generator));
        }
    }
}

/// How many standard deviations the unit draw of a shape is wide to each side; 1 for shapes
/// without an end. Inverse of the divisors of type B.
fn half_width(shape: Shape) -> f64 {
    match shape {
        Shape::Normal | Shape::StudentT => 1.0,
        Shape::Rectangular => 3_f64.sqrt(),
        Shape::Triangular => 6_f64.sqrt(),
        Shape::Trapezoidal { top_to_base } => (6.0 / (1.0 + top_to_base * top_to_base)).sqrt(),
        Shape::Arcsine => 2_f64.sqrt(),
    }
}

/// The symmetric and the shortest interval (JCGM 101 7.7).
///
/// Only the two tails in which the ends can lie are sorted.
fn intervals(values: &[f64], coverage: f64) -> (Interval, Interval) {
    let covered = nearest_whole(coverage * as_f64(values.len()));
    let beyond = values.len() - covered;
    let (lows, highs) = rayon::join(
        || first_in_order(values, beyond, f64::total_cmp),
        || first_in_order(values, beyond, |one, other| other.total_cmp(one)),
    );
    // Of all values in rising order, `lows` are the first and `highs`, reversed, the last: they
    // lie `covered` places apart.
    let interval = |start: usize| Interval { low: lows[start], high: highs[beyond - 1 - start] };
    // JCGM 101 counts from 1: r = (M − q)/2, or the next whole number if that is none.
    let symmetric = interval(beyond.div_ceil(2) - 1);
    let mut shortest = symmetric;
    for start in 0..beyond {
        let candidate = interval(start);
        if candidate.high - candidate.low < shortest.high - shortest.low {
            shortest = candidate;
        }
    }
    (symmetric, shortest)
}

/// The first `number` of `values` in this order, sorted.
///
/// A look at a few values tells about where the last of them lies; what is clearly behind it
/// is left out before sorting. If the look deceived, all values are sorted.
fn first_in_order(
    values: &[f64],
    number: usize,
    order: impl Fn(&f64, &f64) -> Ordering + Copy,
) -> Vec<f64> {
    const LOOKS: usize = 2000;
    let mut few: Vec<f64> = values.iter().step_by(values.len().div_ceil(LOOKS)).copied().collect();
    few.sort_unstable_by(order);
    let expected = few.len() * number / values.len();
    let last = few[(expected + expected / 4 + 20).min(few.len() - 1)];
    let mut first: Vec<f64> =
        values.iter().filter(|value| order(value, &last).is_le()).copied().collect();
    if first.len() < number {
        first = values.to_vec();
    }
    first.sort_unstable_by(order);
    first.truncate(number);
    first
}

#[expect(clippy::cast_possible_truncation, reason = "at most the number of trials")]
#[expect(clippy::cast_sign_loss, reason = "a coverage times a number of trials is not negative")]
fn nearest_whole(value: f64) -> usize {
    (value + 0.5).floor() as usize
}
