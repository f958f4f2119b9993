//! Where a fit begins: the heat balance at each second, which is linear in what is looked for.

use super::super::linear::Factor;
use super::equation::Body;
use super::least_squares::{EMISSIVITY, FLAME, GAIN, LOSS, PEAK, START, Values};
use crate::fit::{Reading, line};

/// A balance is taken over this long, in seconds, or over three readings.
const LONG: f64 = 1.0;

/// Where nothing is seen of it: a block of middling polish in still air, and a flame, in the units
/// of [`Values`]. They only help a fit to begin.
const USUAL: Values = [7e-3, 1750.0, 15.0, 0.3, 300.0, 1000.0];

/// How far off the usual loss and emissivity may be.
const FAR: [f64; 2] = [30.0, 0.5];

/// How well a balance holds, in watt.
const UNSURE: f64 = 0.3;

/// A guess at all values.
pub(in super::super) fn first_guess(
    body: &Body<'_>,
    heating: &[Reading],
    cooling: &[Reading],
) -> Values {
    let kelvin = |celsius: f64| celsius - metrology::Temperature::from_kelvin(0.0).celsius();
    // The unknowns: gain times flame temperature, gain, loss, emissivity.
    let (mut matrix, mut vector) = ([[0.0; 4]; 4], [0.0; 4]);
    let mut add = |row: [f64; 4], wanted: f64, unsure: f64| {
        for n in 0..4 {
            vector[n] += row[n] * wanted / (unsure * unsure);
            for column in 0..4 {
                matrix[n][column] += row[n] * row[column] / (unsure * unsure);
            }
        }
    };
    add([0.0, 0.0, 1.0, 0.0], USUAL[LOSS], FAR[0]);
    add([0.0, 0.0, 0.0, 1.0], USUAL[EMISSIVITY], FAR[1]);
    for (readings, lit) in [(heating, 1.0), (cooling, 0.0)] {
        for part in seconds(readings) {
            let Some(line) = line(part.iter().copied()) else { continue };
            let level = kelvin(line.level);
            let (air, radiated) = body.watts(level);
            let watt = body.capacity(level) * line.slope;
            add([lit, -lit * level, -air, -radiated], watt, UNSURE);
        }
    }
    let mut values = USUAL;
    if heating.is_empty() {
        // Nothing is asked of the flame.
        (matrix[0][0], matrix[1][1]) = (1.0, 1.0);
    }
    if let Some(factor) = Factor::of(&matrix) {
        let [product, gain, loss, emissivity] = factor.solve(&vector);
        if gain > 0.0 && product > 0.0 {
            (values[GAIN], values[FLAME]) = (gain, product / gain);
        }
        (values[LOSS], values[EMISSIVITY]) = (loss.max(0.0), emissivity.clamp(0.0, 1.0));
    }
    let first = |readings: &[Reading], place: usize| {
        let first = seconds(readings).next().and_then(|part| line(part.iter().copied()));
        match (first, readings.first()) {
            (Some(line), Some((at, _))) => kelvin(line.at(*at)),
            (None, Some((_, celsius))) => kelvin(*celsius),
            (_, None) => USUAL[place],
        }
    };
    (values[START], values[PEAK]) = (first(heating, START), first(cooling, PEAK));
    values
}

/// The readings second by second.
fn seconds(readings: &[Reading]) -> impl Iterator<Item = &[Reading]> {
    let mut left = readings;
    std::iter::from_fn(move || {
        let first = left.first()?.0;
        let lasting = left.iter().take_while(|(at, _)| *at < first + LONG).count();
        let (part, rest) = left.split_at(lasting.max(3).min(left.len()));
        left = rest;
        Some(part)
    })
}
