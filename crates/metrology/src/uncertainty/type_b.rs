//! Uncertainty from knowledge: a certificate, a tolerance, a resolution (GUM 4.3).

use crate::quantity::Quantity;

/// What is known of a quantity, beside its best estimate.
///
/// `D` is the type of a difference of the quantity, such as a temperature difference.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum TypeB<D: Quantity> {
    /// Within ± the half-width, no place more likely than another (GUM 4.3.7).
    Rectangular {
        /// Half the distance between the limits.
        half_width: D,
    },
    /// Within ± the half-width, most likely in the middle (GUM 4.3.9).
    Triangular {
        /// Half the distance between the limits.
        half_width: D,
    },
    /// Within ± the half-width, with a flat top as wide as `top_to_base` of it (GUM 4.3.9).
    Trapezoidal {
        /// Half the distance between the limits.
        half_width: D,
        /// 1 is rectangular, 0 is triangular.
        top_to_base: f64,
    },
    /// Swinging between ± the half-width, as a controlled temperature does (GUM H.1.3.4).
    Arcsine {
        /// Half the distance between the turning points.
        half_width: D,
    },
    /// Given as an expanded uncertainty with its coverage factor (GUM 4.3.3).
    Expanded {
        /// U of the certificate.
        expanded: D,
        /// k of the certificate.
        coverage_factor: f64,
    },
    /// Read from a scale or display in steps: rectangular, half a step to each side
    /// (GUM F.2.2.1).
    Resolution {
        /// The distance of two neighbouring readings.
        step: D,
    },
}

impl<D: Quantity> TypeB<D> {
    /// The standard uncertainty.
    #[must_use]
    pub fn standard_uncertainty(&self) -> D {
        let (size, variance_of_unit) = match *self {
            Self::Rectangular { half_width } => (half_width, 1.0 / 3.0),
            Self::Triangular { half_width } => (half_width, 1.0 / 6.0),
            Self::Trapezoidal { half_width, top_to_base } => {
                (half_width, (1.0 + top_to_base * top_to_base) / 6.0)
            }
            Self::Arcsine { half_width } => (half_width, 0.5),
            Self::Expanded { expanded, coverage_factor } => {
                (expanded, 1.0 / (coverage_factor * coverage_factor))
            }
            Self::Resolution { step } => (step, 1.0 / 12.0),
        };
        D::of_unit(size.in_unit() * variance_of_unit.sqrt())
    }

    /// The shape of the distribution, for propagation by Monte Carlo.
    #[must_use]
    pub const fn shape(&self) -> Shape {
        match *self {
            Self::Rectangular { .. } | Self::Resolution { .. } => Shape::Rectangular,
            Self::Triangular { .. } => Shape::Triangular,
            Self::Trapezoidal { top_to_base, .. } => Shape::Trapezoidal { top_to_base },
            Self::Arcsine { .. } => Shape::Arcsine,
            Self::Expanded { .. } => Shape::Normal,
        }
    }
}

/// The shape of a distribution; place and width come from the input that has it.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Shape {
    /// Normal.
    Normal,
    /// Rectangular, as wide as its standard uncertainty asks.
    Rectangular,
    /// Triangular and symmetric.
    Triangular,
    /// A symmetric trapezoid.
    Trapezoidal {
        /// 1 is rectangular, 0 is triangular.
        top_to_base: f64,
    },
    /// Arcsine (U-shaped).
    Arcsine,
    /// Student's t with the input's degrees of freedom, scaled by its standard uncertainty
    /// (JCGM 101 6.4.9); for an input from repeated observations.
    StudentT,
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::TemperatureDifference;

    #[test]
    fn each_kind_of_knowledge_has_its_divisor() {
        let one = TemperatureDifference::from_kelvin(1.0);
        for (known, expected) in [
            (TypeB::Rectangular { half_width: one }, 0.577_350_269_189_625_8),
            (TypeB::Triangular { half_width: one }, 0.408_248_290_463_863),
            (TypeB::Arcsine { half_width: one }, std::f64::consts::FRAC_1_SQRT_2),
            (TypeB::Trapezoidal { half_width: one, top_to_base: 0.5 }, 0.456_435_464_587_638_4),
            (TypeB::Expanded { expanded: one, coverage_factor: 2.0 }, 0.5),
            (TypeB::Resolution { step: one }, 0.288_675_134_594_812_9),
        ] {
            let found = known.standard_uncertainty().kelvin();
            assert!((found - expected).abs() < 1e-15, "{known:?}: {found}");
        }
    }
}
