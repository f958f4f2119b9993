//! Draws from distributions, the same on every machine for the same generator.
//!
//! The outside crates for this fall back on the standard library's `exp` and `ln` in the tails,
//! and those differ between machines. Only `libm` is called here.

use rand::Rng;
use std::sync::LazyLock;

/// A draw from the rectangular distribution between 0 and 1, neither of them ever given.
pub fn fraction(generator: &mut impl Rng) -> f64 {
    within_zero_and_one(generator.next_u64())
}

/// A draw from the standard normal distribution. For many, a [`Normal`] is a little faster.
pub fn normal(generator: &mut impl Rng) -> f64 {
    Normal::default().draw(generator)
}

/// Draws from the standard normal distribution.
///
/// # Source
///
/// The ziggurat of Marsaglia and Tsang (2000) with 256 layers; layer and place come from
/// different bits of one word.
#[derive(Clone, Copy)]
pub struct Normal(&'static Ziggurat);

impl Default for Normal {
    fn default() -> Self {
        Self(&ZIGGURAT)
    }
}

impl Normal {
    /// One draw.
    #[inline]
    pub fn draw(self, generator: &mut impl Rng) -> f64 {
        loop {
            let word = generator.next_u64();
            #[expect(clippy::cast_possible_truncation, reason = "the lowest eight bits are meant")]
            let layer = usize::from(word as u8);
            let deviate = within_minus_and_plus_one(word) * self.0.widths[layer];
            if deviate.abs() < self.0.widths[layer + 1] {
                return deviate;
            }
            if let Some(deviate) = self.near_the_edge(layer, deviate, generator) {
                return deviate;
            }
        }
    }

    /// Decides on a place that is in its layer, but not in the one above: about one in a
    /// hundred.
    #[cold]
    fn near_the_edge(self, layer: usize, deviate: f64, generator: &mut impl Rng) -> Option<f64> {
        if layer == 0 {
            return Some(beyond(BASE_WIDTH, generator).copysign(deviate));
        }
        let (low, high) = (self.0.heights[layer], self.0.heights[layer + 1]);
        (low + (high - low) * fraction(generator) < bell(deviate)).then_some(deviate)
    }
}

/// A draw from Student's t.
///
/// # Source
///
/// Bailey (1994), the polar method; it holds for fractional degrees of freedom too.
pub fn student(degrees_of_freedom: f64, generator: &mut impl Rng) -> f64 {
    let (x, _, square) = inside_circle(generator);
    let stretched = libm::pow(square, -2.0 / degrees_of_freedom) - 1.0;
    x * (degrees_of_freedom * stretched / square).sqrt()
}

/// A draw from the arcsine distribution between −1 and 1: the cosine of any angle.
pub fn arcsine(generator: &mut impl Rng) -> f64 {
    let (x, y, square) = inside_circle(generator);
    (x * x - y * y) / square
}

/// A draw from the symmetric trapezoid between −1 and 1 (JCGM 101 6.4.4); a top as wide as the
/// base makes it rectangular, no top triangular.
pub fn trapezoidal(top_to_base: f64, generator: &mut impl Rng) -> f64 {
    (1.0 + top_to_base) * fraction(generator) + (1.0 - top_to_base) * fraction(generator) - 1.0
}

struct Ziggurat {
    /// Half-widths of the layers from the base upwards; zero at the top.
    widths: [f64; LAYERS + 1],
    /// Heights of the bell at those widths; one at the top.
    heights: [f64; LAYERS + 1],
}

const LAYERS: usize = 256;

/// Where the tail begins: the width that lets 256 layers of one area end just at the top.
/// Source: Marsaglia and Tsang (2000), from memory; the test below shows that it closes.
const BASE_WIDTH: f64 = 3.654_152_885_361_009;

static ZIGGURAT: LazyLock<Ziggurat> = LazyLock::new(|| {
    let tail = (0.5 * std::f64::consts::PI).sqrt()
        * libm::erfc(BASE_WIDTH * std::f64::consts::FRAC_1_SQRT_2);
    let area = BASE_WIDTH * bell(BASE_WIDTH) + tail;
    let mut widths = [0.0; LAYERS + 1];
    // The lowest layer has the tail in it; it is drawn as if it were a box of the same area.
    widths[0] = area / bell(BASE_WIDTH);
    widths[1] = BASE_WIDTH;
    for layer in 1..LAYERS - 1 {
        let height = bell(widths[layer]) + area / widths[layer];
        widths[layer + 1] = (-2.0 * libm::log(height)).sqrt();
    }
    Ziggurat { widths, heights: widths.map(bell) }
});

/// The bell curve, one at its top.
fn bell(deviate: f64) -> f64 {
    libm::exp(-0.5 * deviate * deviate)
}

/// A normal deviate beyond `start` (Marsaglia 1964).
#[cold]
fn beyond(start: f64, generator: &mut impl Rng) -> f64 {
    loop {
        let further = -libm::log(fraction(generator)) / start;
        if -2.0 * libm::log(fraction(generator)) > further * further {
            return start + further;
        }
    }
}

/// A point inside the unit circle, and its squared distance from the centre.
fn inside_circle(generator: &mut impl Rng) -> (f64, f64, f64) {
    loop {
        let x = 2.0 * fraction(generator) - 1.0;
        let y = 2.0 * fraction(generator) - 1.0;
        let square = x * x + y * y;
        if square < 1.0 {
            return (x, y, square);
        }
    }
}

/// The top 53 bits, taken with a sign.
#[expect(clippy::cast_precision_loss, reason = "53 bits fit a double exactly")]
const fn within_minus_and_plus_one(word: u64) -> f64 {
    const STEP: f64 = 1.0 / (1_u64 << 52) as f64;
    (word.cast_signed() >> 11) as f64 * STEP
}

/// The top 52 bits, placed in the middle of their step.
#[expect(clippy::cast_precision_loss, reason = "52 bits fit a double exactly")]
const fn within_zero_and_one(word: u64) -> f64 {
    const STEP: f64 = 1.0 / (1_u64 << 52) as f64;
    ((word >> 12) as f64 + 0.5) * STEP
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::distribution::normal_probability;
    use rand::SeedableRng as _;
    use rand_pcg::Pcg64Mcg;

    #[test]
    fn the_layers_end_just_at_the_top() {
        let ziggurat = &*ZIGGURAT;
        let area = ziggurat.widths[0] * bell(BASE_WIDTH);
        let last = ziggurat.widths[LAYERS - 1];
        assert!((bell(last) + area / last - 1.0).abs() < 1e-9);
        assert!(ziggurat.widths.windows(2).all(|pair| pair[0] > pair[1]));
    }

    /// The largest distance of the drawn from the true distribution (Kolmogorov and Smirnov):
    /// it passes 1.95/√n once in a thousand seeds, and this seed is fixed.
    fn check(name: &str, draw: impl Fn(&mut Pcg64Mcg) -> f64, truth: impl Fn(f64) -> f64) {
        const NUMBER: u32 = 200_000;
        let mut generator = Pcg64Mcg::seed_from_u64(20_260_101);
        let mut drawn: Vec<f64> = (0..NUMBER).map(|_| draw(&mut generator)).collect();
        drawn.sort_unstable_by(f64::total_cmp);
        let step = 1.0 / f64::from(NUMBER);
        let mut rank = 0.0;
        let mut furthest: f64 = 0.0;
        for value in drawn {
            let expected = truth(value);
            furthest = furthest.max((expected - rank).abs()).max((expected - rank - step).abs());
            rank += step;
        }
        assert!(furthest < 1.95 * step.sqrt(), "{name}: {furthest}");
    }

    #[test]
    fn draws_follow_their_distributions() {
        check("fraction", fraction, |x| x);
        check("normal", normal, normal_probability);
        check("arcsine", arcsine, |x| 0.5 + libm::asin(x) / std::f64::consts::PI);
        check("t, 1 degree", |g| student(1.0, g), |t| 0.5 + libm::atan(t) / std::f64::consts::PI);
        check("t, 2 degrees", |g| student(2.0, g), |t| 0.5 + 0.5 * t / (2.0 + t * t).sqrt());
        let triangle = |x: f64| 0.5 + x - 0.5 * x * x.abs();
        check("triangle", |g| trapezoidal(0.0, g), triangle);
        check("box", |g| trapezoidal(1.0, g), |x| 0.5 + 0.5 * x);
    }

    #[test]
    fn far_tails_are_reached() {
        let mut generator = Pcg64Mcg::seed_from_u64(1);
        let beyond_base = (0..1_000_000).filter(|_| normal(&mut generator) > BASE_WIDTH).count();
        // Expected 129 of a million; four standard deviations are 45.
        assert!((84..=174).contains(&beyond_base), "{beyond_base}");
    }
}
