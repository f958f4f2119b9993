//! Numbers of a logger kept in the room they need: exactly, and in order.
//!
//! A logger prints decimals, so a run of its readings is a run of whole numbers over one power of
//! ten. Kept that way, a reading needs two to four bytes where an `f64` needs eight. Whatever
//! does not come back bit for bit is kept as it is.

use std::ops::Range;

/// One column of a block of readings.
#[derive(Clone, Debug, PartialEq)]
pub(crate) enum Packed {
    /// `(base + offset) / scale`, with offsets below 2^16.
    Narrow { base: f64, scale: f64, offsets: Box<[u16]> },
    /// `(base + offset) / scale`, with offsets below 2^32.
    Wide { base: f64, scale: f64, offsets: Box<[u32]> },
    /// The numbers themselves.
    Plain(Box<[f64]>),
}

/// The powers of ten tried, in this order. Loggers print seconds to the microsecond at most.
const SCALES: [f64; 7] = [1.0, 10.0, 100.0, 1e3, 1e4, 1e5, 1e6];

/// From here to its double an `f64` holds the whole numbers and nothing between them.
const ONLY_WHOLES_FROM: f64 = 4_503_599_627_370_496.0;

/// Up to this size [`nearest_whole`] is a whole number.
const WHOLE_MAX: f64 = ONLY_WHOLES_FROM / 2.0;

impl Packed {
    /// Packs `values`, all of them finite.
    pub(crate) fn new(values: &[f64]) -> Self {
        for scale in SCALES {
            if let Some(packed) = Self::over(values, scale) {
                return packed;
            }
        }
        Self::Plain(values.into())
    }

    /// Packs `values` over `scale`, if each comes back bit for bit.
    fn over(values: &[f64], scale: f64) -> Option<Self> {
        let wholes = values.iter().map(|value| nearest_whole(value * scale));
        let (mut base, mut top) = (f64::INFINITY, f64::NEG_INFINITY);
        for (value, whole) in values.iter().zip(wholes.clone()) {
            if (whole / scale).to_bits() != value.to_bits() {
                return None;
            }
            base = if whole < base { whole } else { base };
            top = if whole > top { whole } else { top };
        }
        if base < -WHOLE_MAX || top > WHOLE_MAX {
            return None;
        }
        let offsets = wholes.map(|whole| whole - base);
        if top - base <= f64::from(u16::MAX) {
            let offsets = offsets.map(narrow).collect();
            return Some(Self::Narrow { base, scale, offsets });
        }
        let fits = top - base <= f64::from(u32::MAX);
        fits.then(|| Self::Wide { base, scale, offsets: offsets.map(wide).collect() })
    }

    /// The numbers whose index lies in `range`.
    pub(crate) fn values(&self, range: Range<usize>) -> Vec<f64> {
        match self {
            Self::Narrow { base, scale, offsets } => unpack(*base, *scale, &offsets[range]),
            Self::Wide { base, scale, offsets } => unpack(*base, *scale, &offsets[range]),
            Self::Plain(values) => values[range].to_vec(),
        }
    }

    /// The number at `index`, counted from 0.
    pub(crate) fn at(&self, index: usize) -> f64 {
        match self {
            Self::Narrow { base, scale, offsets } => (base + f64::from(offsets[index])) / scale,
            Self::Wide { base, scale, offsets } => (base + f64::from(offsets[index])) / scale,
            Self::Plain(values) => values[index],
        }
    }
}

/// The whole number next to `value`: where only whole numbers can stand, the sum is rounded to one.
fn nearest_whole(value: f64) -> f64 {
    const MIDDLE: f64 = 1.5 * ONLY_WHOLES_FROM;
    (value + MIDDLE) - MIDDLE
}

#[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "the span fits")]
fn narrow(offset: f64) -> u16 {
    offset as u16
}

#[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "the span fits")]
fn wide(offset: f64) -> u32 {
    offset as u32
}

fn unpack<Offset: Copy + Into<f64>>(base: f64, scale: f64, offsets: &[Offset]) -> Vec<f64> {
    offsets.iter().map(|offset| (base + (*offset).into()) / scale).collect()
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;

    fn check(values: &[f64]) {
        let packed = Packed::new(values);
        for (index, value) in values.iter().enumerate() {
            assert_eq!(packed.at(index).to_bits(), value.to_bits(), "{values:?}");
        }
        let later: Vec<u64> = values.iter().skip(1).map(|value| value.to_bits()).collect();
        let unpacked = packed.values(values.len().min(1)..values.len());
        assert_eq!(unpacked.into_iter().map(f64::to_bits).collect::<Vec<_>>(), later);
    }

    #[test]
    fn what_a_logger_prints_needs_two_bytes_a_reading() {
        let values = [23.9, 110.7, 154.3, -0.5];
        check(&values);
        assert!(matches!(Packed::new(&values), Packed::Narrow { .. }));
    }

    #[test]
    fn odd_numbers_come_back_bit_for_bit() {
        check(&[-0.0, 0.0]);
        check(&[1.0 / 3.0, f64::MAX, f64::MIN_POSITIVE, -1e300]);
        check(&[9_007_199_254_740_992.0, 1e15, -1e15, 4e9]);
        check(&[-2_251_799_813_685_249.5, -2_251_799_813_685_248.0, 2_251_799_813_685_249.0]);
        check(&[273.15 - 0.1 - 0.2, 5e-324]);
        check(&[]);
    }

    proptest! {
        #[test]
        fn any_numbers_come_back_bit_for_bit(
            values in proptest::collection::vec(proptest::num::f64::NORMAL, 0..40),
            wholes in proptest::collection::vec(-4_000_000_i32..4_000_000, 0..40),
            places in 0_usize..7,
        ) {
            check(&values);
            let decimals: Vec<f64> =
                wholes.iter().map(|whole| f64::from(*whole) / SCALES[places]).collect();
            check(&decimals);
        }
    }
}
