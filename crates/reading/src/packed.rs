//! Numbers of a logger kept in the room they need: exactly, and in order.
//!
//! A logger prints decimals, so a run of its readings is a run of whole numbers over one power of
//! ten. Kept that way, a reading needs two to four bytes where an `f64` needs eight. Whatever
//! does not come back bit for bit is kept as it is.

/// One column of a block of readings.
#[derive(Clone, Debug, PartialEq)]
pub(crate) enum Packed {
    /// `(base + offset) / scale`, with offsets below 2^16.
    Narrow { base: i64, scale: f64, offsets: Box<[u16]> },
    /// `(base + offset) / scale`, with offsets below 2^32.
    Wide { base: i64, scale: f64, offsets: Box<[u32]> },
    /// The numbers themselves.
    Plain(Box<[f64]>),
}

/// The powers of ten tried, in this order. Loggers print seconds to the microsecond at most.
const SCALES: [f64; 7] = [1.0, 10.0, 100.0, 1e3, 1e4, 1e5, 1e6];

/// Whole numbers up to here are exact in an `f64`.
const WHOLE_MAX: i64 = 1 << 53;

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
        let mut wholes = Vec::with_capacity(values.len());
        let (mut base, mut top) = (i64::MAX, i64::MIN);
        for &value in values {
            let whole = nearest_whole(value * scale);
            if whole.abs() > WHOLE_MAX || unpack(whole, scale).to_bits() != value.to_bits() {
                return None;
            }
            base = base.min(whole);
            top = top.max(whole);
            wholes.push(whole);
        }
        let span = top.checked_sub(base)?;
        if u16::try_from(span).is_ok() {
            let offsets = offsets(&wholes, base)?;
            return Some(Self::Narrow { base, scale, offsets });
        }
        u32::try_from(span).ok()?;
        Some(Self::Wide { base, scale, offsets: offsets(&wholes, base)? })
    }

    /// The number at `index`, counted from 0.
    pub(crate) fn at(&self, index: usize) -> f64 {
        match self {
            Self::Narrow { base, scale, offsets } => {
                unpack(base + i64::from(offsets[index]), *scale)
            }
            Self::Wide { base, scale, offsets } => unpack(base + i64::from(offsets[index]), *scale),
            Self::Plain(values) => values[index],
        }
    }
}

/// Each of `wholes` less `base`.
fn offsets<Offset: TryFrom<i64>>(wholes: &[i64], base: i64) -> Option<Box<[Offset]>> {
    wholes.iter().map(|whole| Offset::try_from(whole - base).ok()).collect()
}

#[expect(clippy::cast_possible_truncation, reason = "a cast saturates; the way back is checked")]
fn nearest_whole(value: f64) -> i64 {
    (value + 0.5_f64.copysign(value)) as i64
}

#[expect(clippy::cast_precision_loss, reason = "whole numbers here are at most 2^53")]
fn unpack(whole: i64, scale: f64) -> f64 {
    whole as f64 / scale
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
