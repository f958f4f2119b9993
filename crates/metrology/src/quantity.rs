//! The quantities of this trade, each a type of its own.
//!
//! Only operations that mean something exist: two temperatures can be subtracted, not added.
//! Inside each type is one `f64` in one fixed unit; units appear in the names of constructors
//! and readers. Values that are not finite are refused where data enters a room, so they do not
//! occur inside.

use std::fmt;
use std::ops::{Add, Div, Mul, Neg, Sub};

/// A quantity that can be measured, with the type of a difference between two of its values.
///
/// A temperature's uncertainty is a temperature *difference*, not a temperature.
pub trait Quantity: Copy + PartialOrd + fmt::Debug + fmt::Display {
    /// The type of the difference of two values, and so of an uncertainty.
    type Difference: Quantity<Difference = Self::Difference>;

    /// The unit that [`Quantity::in_unit`] counts in, as printed.
    const UNIT: &'static str;

    /// The value in the fixed unit of its type.
    fn in_unit(self) -> f64;

    /// The quantity of `value` in the fixed unit of its type.
    fn of_unit(value: f64) -> Self;

    /// `self` less `other`.
    #[must_use]
    fn less(self, other: Self) -> Self::Difference {
        Self::Difference::of_unit(self.in_unit() - other.in_unit())
    }
}

macro_rules! quantity {
    ($(#[$doc:meta])* $name:ident, difference $difference:ident, unit $unit:literal,
     $of:ident, $read:ident) => {
        $(#[$doc])*
        #[derive(Clone, Copy, Debug, PartialEq, PartialOrd)]
        pub struct $name(f64);

        impl $name {
            #[doc = concat!("The quantity of `value` in ", $unit, ".")]
            #[must_use]
            pub const fn $of(value: f64) -> Self {
                Self(value)
            }

            #[doc = concat!("The value in ", $unit, ".")]
            #[must_use]
            pub const fn $read(self) -> f64 {
                self.0
            }
        }

        impl Quantity for $name {
            type Difference = $difference;

            const UNIT: &'static str = $unit;

            fn in_unit(self) -> f64 {
                self.0
            }

            fn of_unit(value: f64) -> Self {
                Self(value)
            }
        }

        impl fmt::Display for $name {
            fn fmt(&self, out: &mut fmt::Formatter<'_>) -> fmt::Result {
                fmt::Display::fmt(&self.0, out)?;
                write!(out, " {}", $unit)
            }
        }
    };
}

macro_rules! differences {
    ($($name:ident),*) => {$(
        impl $name {
            /// Nothing of it.
            pub const ZERO: Self = Self(0.0);

            /// The size without its sign.
            #[must_use]
            pub const fn abs(self) -> Self {
                Self(self.0.abs())
            }
        }

        impl Add for $name {
            type Output = Self;

            fn add(self, other: Self) -> Self {
                Self(self.0 + other.0)
            }
        }

        impl Sub for $name {
            type Output = Self;

            fn sub(self, other: Self) -> Self {
                Self(self.0 - other.0)
            }
        }

        impl Neg for $name {
            type Output = Self;

            fn neg(self) -> Self {
                Self(-self.0)
            }
        }

        impl Mul<f64> for $name {
            type Output = Self;

            fn mul(self, factor: f64) -> Self {
                Self(self.0 * factor)
            }
        }

        impl Div<f64> for $name {
            type Output = Self;

            fn div(self, divisor: f64) -> Self {
                Self(self.0 / divisor)
            }
        }

        impl Div for $name {
            type Output = Ratio;

            fn div(self, other: Self) -> Ratio {
                Ratio(self.0 / other.0)
            }
        }
    )*};
}

quantity!(
    /// A temperature on the ITS-90 scale, kept in degrees Celsius so that a logger's decimal
    /// value stays the value it printed.
    Temperature, difference TemperatureDifference, unit "°C", from_celsius, celsius
);
quantity!(
    /// A difference of two temperatures, and so the uncertainty of one.
    TemperatureDifference, difference TemperatureDifference, unit "K", from_kelvin, kelvin
);
quantity!(
    /// A length of time. It may be negative: a trace may begin before its zero.
    Duration, difference Duration, unit "s", from_seconds, seconds
);
quantity!(
    /// A length.
    Length, difference Length, unit "mm", from_millimetres, millimetres
);
quantity!(
    /// An area.
    Area, difference Area, unit "mm²", from_square_millimetres, square_millimetres
);
quantity!(
    /// The heat that a difference of 1 K drives, such as from a flame into a block.
    ThermalConductance, difference ThermalConductance, unit "W/K", from_watt_per_kelvin,
    watt_per_kelvin
);
quantity!(
    /// The heat that a difference of 1 K drives through a surface, such as into the air.
    HeatTransferCoefficient, difference HeatTransferCoefficient, unit "W/(m² K)",
    from_watt_per_square_metre_kelvin, watt_per_square_metre_kelvin
);
quantity!(
    /// A mass.
    Mass, difference Mass, unit "g", from_grams, grams
);
quantity!(
    /// A flow of gas by volume.
    VolumeFlow, difference VolumeFlow, unit "ml/min", from_millilitres_per_minute,
    millilitres_per_minute
);
quantity!(
    /// A voltage, such as a thermocouple's electromotive force.
    Voltage, difference Voltage, unit "mV", from_millivolts, millivolts
);
quantity!(
    /// A quotient of two quantities of one kind, a probability, a relative humidity.
    Ratio, difference Ratio, unit "1", from_fraction, fraction
);

differences!(
    TemperatureDifference,
    Duration,
    Length,
    Area,
    ThermalConductance,
    HeatTransferCoefficient,
    Mass,
    VolumeFlow,
    Voltage,
    Ratio
);

impl Temperature {
    /// Zero of the thermodynamic scale lies this many degrees below zero of the Celsius scale.
    /// Source: ITS-90 (definition of the Celsius scale), exact.
    const KELVIN_AT_ZERO_CELSIUS: f64 = 273.15;

    /// The temperature of `value` kelvin.
    #[must_use]
    pub const fn from_kelvin(value: f64) -> Self {
        Self(value - Self::KELVIN_AT_ZERO_CELSIUS)
    }

    /// The value in kelvin.
    #[must_use]
    pub const fn kelvin(self) -> f64 {
        self.0 + Self::KELVIN_AT_ZERO_CELSIUS
    }

    /// The temperature of `value` degrees Fahrenheit.
    #[must_use]
    pub const fn from_fahrenheit(value: f64) -> Self {
        Self((value - 32.0) * 5.0 / 9.0)
    }
}

impl Sub for Temperature {
    type Output = TemperatureDifference;

    fn sub(self, other: Self) -> TemperatureDifference {
        TemperatureDifference(self.0 - other.0)
    }
}

impl Add<TemperatureDifference> for Temperature {
    type Output = Self;

    fn add(self, difference: TemperatureDifference) -> Self {
        Self(self.0 + difference.0)
    }
}

impl Sub<TemperatureDifference> for Temperature {
    type Output = Self;

    fn sub(self, difference: TemperatureDifference) -> Self {
        Self(self.0 - difference.0)
    }
}

impl Duration {
    /// The duration of whole microseconds. Presses and typed times are kept as whole
    /// microseconds, so that 42.3 s less 12.3 s is 30 s and not a hair off it.
    ///
    /// ```
    /// use metrology::Duration;
    /// assert_eq!(Duration::from_microseconds(42_300_000 - 12_300_000).seconds(), 30.0);
    /// ```
    #[must_use]
    #[expect(clippy::cast_precision_loss, reason = "2^53 microseconds are 285 years")]
    pub const fn from_microseconds(microseconds: i64) -> Self {
        Self(microseconds as f64 / 1e6)
    }
}

impl Ratio {
    /// The ratio of `value` in per cent.
    #[must_use]
    pub const fn from_percent(value: f64) -> Self {
        Self(value / 100.0)
    }

    /// The value in per cent.
    #[must_use]
    pub const fn percent(self) -> f64 {
        self.0 * 100.0
    }
}

/// A number of things. A count is not a ratio: three specimens are not three.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub struct Count(u64);

impl Count {
    /// This many things.
    #[must_use]
    pub const fn of(number: u64) -> Self {
        Self(number)
    }

    /// How many.
    #[must_use]
    pub const fn number(self) -> u64 {
        self.0
    }
}

impl fmt::Display for Count {
    fn fmt(&self, out: &mut fmt::Formatter<'_>) -> fmt::Result {
        fmt::Display::fmt(&self.0, out)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_difference_of_temperatures_is_not_a_temperature() {
        let rise = Temperature::from_celsius(700.0) - Temperature::from_celsius(100.0);
        assert_eq!(rise, TemperatureDifference::from_kelvin(600.0));
    }

    #[test]
    fn a_celsius_value_survives_unchanged() {
        assert_eq!(Temperature::from_celsius(100.1).celsius().to_bits(), 100.1_f64.to_bits());
    }

    #[test]
    fn a_precision_reaches_the_number_and_not_the_unit() {
        assert_eq!(format!("{:.1}", Duration::from_seconds(23.46)), "23.5 s");
    }

    #[test]
    fn scales_meet_where_they_should() {
        assert_eq!(Temperature::from_fahrenheit(212.0), Temperature::from_celsius(100.0));
        assert!((Temperature::from_kelvin(373.15).celsius() - 100.0).abs() < 1e-12);
    }
}
