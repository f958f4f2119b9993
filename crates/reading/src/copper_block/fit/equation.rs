//! The block's equation together with how its temperature depends on each parameter.
//!
//! For a parameter p the dependence S = ∂T/∂p obeys S' = (∂f/∂T)·S + ∂f/∂p, where f is the slope
//! of the temperature: it is solved along with the temperature, exactly, instead of by differences.

use super::super::CopperBlock;
use super::super::copper::Piece;
use super::super::solver::Equation;

/// What of the block and the room does not change in a fit, in W, K, m² and g.
#[derive(Clone, Copy, Debug)]
pub(in super::super) struct Body<'a> {
    block: &'a CopperBlock,
    area: f64,
    /// W/K⁴ for an emissivity of 1.
    radiating: f64,
    room: f64,
}

/// A slope and its parts, in K/s and the units of the parameters.
struct Parts {
    slope: f64,
    /// How it changes with the temperature.
    by_temperature: f64,
    by_loss: f64,
    by_emissivity: f64,
    /// K/J: what one watt does.
    by_watt: f64,
}

impl<'a> Body<'a> {
    pub(in super::super) fn new(block: &'a CopperBlock, room: f64) -> Self {
        let area = block.area.square_millimetres() * 1e-6;
        Self { block, area, radiating: block.copper.stefan_boltzmann() * area, room }
    }

    pub(in super::super) fn pieces(&self) -> &'a [Piece] {
        self.block.copper.pieces()
    }

    /// Watt by a loss of 1 W/(m² K) and by an emissivity of 1, and how the latter changes.
    fn losses(&self, kelvin: f64) -> (f64, f64, f64) {
        let (square, room) = (kelvin * kelvin, self.room * self.room);
        let fourth = square * square - room * room;
        let shape = self.block.emissivity.shape(kelvin);
        let change = self.block.emissivity.relative_change_per_kelvin;
        let by_kelvin = self.radiating * (4.0 * square * kelvin * shape + fourth * change);
        (self.area * (kelvin - self.room), self.radiating * shape * fourth, by_kelvin)
    }

    /// Loss by the air and emissivity, as watts at a temperature: for the first guess.
    pub(in super::super) fn watts(&self, kelvin: f64) -> (f64, f64) {
        let (air, radiated, _) = self.losses(kelvin);
        (air, radiated)
    }

    /// J/K.
    pub(in super::super) fn capacity(&self, kelvin: f64) -> f64 {
        self.block.mass.grams() * self.block.copper.capacity(kelvin)
    }

    /// The slope with `watt` from the flame, which falls by `gain` with each kelvin.
    fn parts(
        &self,
        piece: &Piece,
        kelvin: f64,
        (watt, gain): (f64, f64),
        (loss, emissivity): (f64, f64),
    ) -> Parts {
        let (capacity, change) = piece.capacity(kelvin);
        let by_watt = 1.0 / (self.block.mass.grams() * capacity);
        let (air, radiated, radiated_by_kelvin) = self.losses(kelvin);
        let slope = (watt - emissivity * radiated - loss * air) * by_watt;
        let falling = gain + emissivity * radiated_by_kelvin + loss * self.area;
        Parts {
            slope,
            by_temperature: -falling * by_watt - slope * change / capacity,
            by_loss: -air * by_watt,
            by_emissivity: -radiated * by_watt,
            by_watt,
        }
    }
}

/// A block in a flame: temperature, and its dependence on gain, flame temperature, loss,
/// emissivity and the temperature at the start.
pub(in super::super) struct InFlame<'a> {
    pub(in super::super) body: Body<'a>,
    pub(in super::super) gain: f64,
    pub(in super::super) flame: f64,
    pub(in super::super) loss: f64,
    pub(in super::super) emissivity: f64,
}

impl Equation<6> for InFlame<'_> {
    fn slope(&self, piece: &Piece, state: &[f64; 6]) -> [f64; 6] {
        let hotter = self.flame - state[0];
        let heat = (self.gain * hotter, self.gain);
        let parts = self.body.parts(piece, state[0], heat, (self.loss, self.emissivity));
        let along = |n: usize| parts.by_temperature * state[n];
        [
            parts.slope,
            along(1) + hotter * parts.by_watt,
            along(2) + self.gain * parts.by_watt,
            along(3) + parts.by_loss,
            along(4) + parts.by_emissivity,
            along(5),
        ]
    }
}

/// A block in air: temperature, and its dependence on loss, emissivity and the temperature at the
/// start.
pub(in super::super) struct InAir<'a> {
    pub(in super::super) body: Body<'a>,
    pub(in super::super) loss: f64,
    pub(in super::super) emissivity: f64,
}

impl Equation<4> for InAir<'_> {
    fn slope(&self, piece: &Piece, state: &[f64; 4]) -> [f64; 4] {
        let parts = self.body.parts(piece, state[0], (0.0, 0.0), (self.loss, self.emissivity));
        let along = |n: usize| parts.by_temperature * state[n];
        [parts.slope, along(1) + parts.by_loss, along(2) + parts.by_emissivity, along(3)]
    }
}
