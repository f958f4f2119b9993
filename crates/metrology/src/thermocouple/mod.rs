//! Thermocouples of the eight letter types: voltage from temperature and back.
//!
//! The reference functions are those of ITS-90 as IEC 60584-1 has them. Their coefficients are
//! data (`standards/thermocouples/`). The way back solves the same function for its root, so
//! that both ways agree to the last digits; the approximate inverse polynomials in circulation
//! are off by up to 0.06 K and are not used.

use std::fmt;
use std::ops::RangeInclusive;
use std::str::FromStr;

use thiserror::Error;

use crate::quantity::{Temperature, TemperatureDifference, Voltage};

mod edition;
mod function;

/// A letter type of IEC 60584-1.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum ThermocoupleType {
    /// Platinum with 30 % rhodium against platinum with 6 % rhodium.
    B,
    /// Nickel-chromium against copper-nickel.
    E,
    /// Iron against copper-nickel.
    J,
    /// Nickel-chromium against nickel-aluminium: the copper block's.
    K,
    /// Nickel-chromium-silicon against nickel-silicon.
    N,
    /// Platinum with 13 % rhodium against platinum.
    R,
    /// Platinum with 10 % rhodium against platinum.
    S,
    /// Copper against copper-nickel.
    T,
}

/// A tolerance class of IEC 60584-1, for unused wire.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum ToleranceClass {
    /// The closest.
    One,
    /// The ordinary one.
    Two,
    /// For low temperatures.
    Three,
}

/// Why a thermocouple has no answer.
#[derive(Clone, Debug, PartialEq, Error)]
pub enum ThermocoupleError {
    /// The reference function does not reach there.
    #[error("{temperature} is outside the range of a type {kind} thermocouple, {bottom} to {top}")]
    TemperatureOutOfRange {
        /// The letter.
        kind: ThermocoupleType,
        /// What was asked for.
        temperature: Temperature,
        /// Where the function begins.
        bottom: Temperature,
        /// Where it ends.
        top: Temperature,
    },
    /// No temperature of the range gives this voltage.
    #[error(
        "{emf:.4} is outside what a type {kind} thermocouple gives, {lowest:.4} to {highest:.4}"
    )]
    VoltageOutOfRange {
        /// The letter.
        kind: ThermocoupleType,
        /// The voltage, with the part of the cold junction if there was one.
        emf: Voltage,
        /// The lowest of the range.
        lowest: Voltage,
        /// The highest.
        highest: Voltage,
    },
    /// Two temperatures give this voltage: type B near room temperature.
    #[error(
        "a type {kind} thermocouple gives {emf:.4} at two temperatures below {unique_above:.1}"
    )]
    TwoTemperatures {
        /// The letter.
        kind: ThermocoupleType,
        /// The voltage.
        emf: Voltage,
        /// Above this a voltage means one temperature.
        unique_above: Temperature,
    },
    /// The standard has no such class for this type.
    #[error("there is no tolerance class {class} for a type {kind} thermocouple")]
    NoSuchClass {
        /// The letter.
        kind: ThermocoupleType,
        /// The class asked for.
        class: ToleranceClass,
    },
    /// The class says nothing about this temperature.
    #[error(
        "tolerance class {class} of type {kind} holds from {bottom} to {top}, not at {temperature}"
    )]
    ToleranceOutOfRange {
        /// The letter.
        kind: ThermocoupleType,
        /// The class.
        class: ToleranceClass,
        /// What was asked for.
        temperature: Temperature,
        /// Where the class begins.
        bottom: Temperature,
        /// Where it ends.
        top: Temperature,
    },
    /// Not one of the eight letters.
    #[error("`{text}` is not the letter of a thermocouple")]
    UnknownLetter {
        /// What was given.
        text: String,
    },
    /// Not one of the three classes.
    #[error("`{text}` is not a tolerance class")]
    UnknownClass {
        /// What was given.
        text: String,
    },
}

impl ThermocoupleError {
    /// The way out.
    #[must_use]
    pub const fn hint(&self) -> &'static str {
        match self {
            Self::TemperatureOutOfRange { .. } => {
                "Check the thermocouple's letter, and whether the value is in degrees Celsius."
            }
            Self::VoltageOutOfRange { .. } => {
                "Check the thermocouple's letter, the polarity of its leads, the temperature of \
                 the junction, and whether the value is in millivolts."
            }
            Self::TwoTemperatures { .. } => {
                "Measure near room temperature with another type, such as K or T."
            }
            Self::NoSuchClass { .. } => "Use a class that the maker's certificate names.",
            Self::ToleranceOutOfRange { .. } => {
                "Use the thermocouple's own calibration at that temperature."
            }
            Self::UnknownLetter { .. } => "Write one of B, E, J, K, N, R, S, T.",
            Self::UnknownClass { .. } => "Write 1, 2 or 3.",
        }
    }
}

impl ThermocoupleType {
    /// All eight, in the order of the alphabet.
    pub const ALL: [Self; 8] =
        [Self::B, Self::E, Self::J, Self::K, Self::N, Self::R, Self::S, Self::T];

    /// The letter.
    ///
    /// ```
    /// use metrology::ThermocoupleType;
    /// assert_eq!(ThermocoupleType::K.letter(), "K");
    /// ```
    #[must_use]
    pub const fn letter(self) -> &'static str {
        match self {
            Self::B => "B",
            Self::E => "E",
            Self::J => "J",
            Self::K => "K",
            Self::N => "N",
            Self::R => "R",
            Self::S => "S",
            Self::T => "T",
        }
    }

    /// The range of the reference function.
    ///
    /// ```
    /// use metrology::{Temperature, ThermocoupleType};
    /// assert_eq!(*ThermocoupleType::K.range().end(), Temperature::from_celsius(1372.0));
    /// ```
    #[must_use]
    pub fn range(self) -> RangeInclusive<Temperature> {
        let function = &edition::thermocouple(self).function;
        Temperature::from_celsius(function.bottom())..=Temperature::from_celsius(function.top())
    }

    /// The electromotive force at `temperature` with the reference junction at 0 °C.
    ///
    /// # Errors
    ///
    /// [`ThermocoupleError::TemperatureOutOfRange`].
    ///
    /// # Source
    ///
    /// IEC 60584-1, by the coefficients of NIST-SRD-60.
    ///
    /// # Examples
    ///
    /// ```
    /// use metrology::{Temperature, ThermocoupleType};
    /// let emf = ThermocoupleType::K.emf(Temperature::from_celsius(700.0))?;
    /// assert_eq!(format!("{emf:.3}"), "29.129 mV");
    /// # Ok::<(), metrology::ThermocoupleError>(())
    /// ```
    pub fn emf(self, temperature: Temperature) -> Result<Voltage, ThermocoupleError> {
        Ok(Voltage::from_millivolts(self.at(temperature)?.millivolts))
    }

    /// The change of the electromotive force with temperature (Seebeck coefficient), in µV/K.
    ///
    /// # Errors
    ///
    /// [`ThermocoupleError::TemperatureOutOfRange`].
    ///
    /// # Examples
    ///
    /// ```
    /// use metrology::{Temperature, ThermocoupleType};
    /// let at = Temperature::from_celsius(700.0);
    /// let slope = ThermocoupleType::K.sensitivity_microvolts_per_kelvin(at)?;
    /// assert_eq!(format!("{slope:.2}"), "41.90");
    /// # Ok::<(), metrology::ThermocoupleError>(())
    /// ```
    pub fn sensitivity_microvolts_per_kelvin(
        self,
        temperature: Temperature,
    ) -> Result<f64, ThermocoupleError> {
        Ok(self.at(temperature)?.millivolts_per_kelvin * 1000.0)
    }

    /// The temperature that gives `emf` with the reference junction at 0 °C.
    ///
    /// Solved from the reference function itself, to the last digits of an `f64`.
    ///
    /// # Errors
    ///
    /// - [`ThermocoupleError::VoltageOutOfRange`].
    /// - [`ThermocoupleError::TwoTemperatures`] at the foot of type B, where the voltage falls
    ///   and rises again.
    ///
    /// # Examples
    ///
    /// ```
    /// use metrology::{ThermocoupleType, Voltage};
    /// let temperature = ThermocoupleType::K.temperature(Voltage::from_millivolts(29.129))?;
    /// assert_eq!(format!("{temperature:.3}"), "700.001 °C");
    /// # Ok::<(), metrology::ThermocoupleError>(())
    /// ```
    pub fn temperature(self, emf: Voltage) -> Result<Temperature, ThermocoupleError> {
        let function = &edition::thermocouple(self).function;
        let millivolts = emf.millivolts();
        if !function.voltages().contains(&millivolts) {
            return Err(ThermocoupleError::VoltageOutOfRange {
                kind: self,
                emf,
                lowest: Voltage::from_millivolts(*function.voltages().start()),
                highest: Voltage::from_millivolts(*function.voltages().end()),
            });
        }
        let celsius = function.root(millivolts).ok_or(ThermocoupleError::TwoTemperatures {
            kind: self,
            emf,
            unique_above: Temperature::from_celsius(function.unique_above()),
        })?;
        Ok(Temperature::from_celsius(celsius))
    }

    /// The temperature of the hot end when an instrument reads `reading` and the other end, at
    /// its terminals, is at `junction`.
    ///
    /// Voltages add, temperatures do not: the voltage of the junction is added to the reading.
    ///
    /// # Errors
    ///
    /// As [`ThermocoupleType::emf`] of the junction, and as [`ThermocoupleType::temperature`] of
    /// the sum.
    ///
    /// # Examples
    ///
    /// ```
    /// use metrology::{Temperature, ThermocoupleType, Voltage};
    /// let reading = Voltage::from_millivolts(28.129);
    /// let junction = Temperature::from_celsius(25.0);
    /// let temperature = ThermocoupleType::K.compensated(reading, junction)?;
    /// assert_eq!(format!("{temperature:.3}"), "700.006 °C");
    /// # Ok::<(), metrology::ThermocoupleError>(())
    /// ```
    pub fn compensated(
        self,
        reading: Voltage,
        junction: Temperature,
    ) -> Result<Temperature, ThermocoupleError> {
        self.temperature(self.emf(junction)? + reading)
    }

    /// How far unused wire of `class` may lie from the reference function at `temperature`, to
    /// either side.
    ///
    /// Wire that has been hot has drifted by more than this covers.
    ///
    /// # Errors
    ///
    /// - [`ThermocoupleError::NoSuchClass`] if the standard has no such class for the type.
    /// - [`ThermocoupleError::ToleranceOutOfRange`] if the class does not hold there.
    ///
    /// # Source
    ///
    /// IEC 60584-1; [`ThermocoupleType::tolerance_origin`] says how each number stands.
    ///
    /// # Examples
    ///
    /// ```
    /// use metrology::{Temperature, ThermocoupleType, ToleranceClass};
    /// let at = Temperature::from_celsius(700.0);
    /// let tolerance = ThermocoupleType::K.tolerance(ToleranceClass::One, at)?;
    /// assert_eq!(format!("{tolerance:.1}"), "2.8 K");
    /// # Ok::<(), metrology::ThermocoupleError>(())
    /// ```
    pub fn tolerance(
        self,
        class: ToleranceClass,
        temperature: Temperature,
    ) -> Result<TemperatureDifference, ThermocoupleError> {
        let tolerance = self.class(class)?;
        let kelvin = tolerance.kelvin(temperature.celsius()).ok_or(
            ThermocoupleError::ToleranceOutOfRange {
                kind: self,
                class,
                temperature,
                bottom: Temperature::from_celsius(tolerance.bottom_celsius),
                top: Temperature::from_celsius(tolerance.top_celsius),
            },
        )?;
        Ok(TemperatureDifference::from_kelvin(kelvin))
    }

    /// Where the tolerance comes from, and how it stands: seen in a source, or from memory.
    ///
    /// # Errors
    ///
    /// [`ThermocoupleError::NoSuchClass`].
    ///
    /// # Examples
    ///
    /// ```
    /// use metrology::{ThermocoupleType, ToleranceClass};
    /// assert_eq!(
    ///     ThermocoupleType::T.tolerance_origin(ToleranceClass::One)?,
    ///     "IEC 60584-1:2013, tolerance classes, type T (from memory)"
    /// );
    /// # Ok::<(), metrology::ThermocoupleError>(())
    /// ```
    pub fn tolerance_origin(self, class: ToleranceClass) -> Result<String, ThermocoupleError> {
        Ok(edition::thermocouple(self).origin_of(self.class(class)?))
    }

    /// Where the reference function comes from.
    ///
    /// ```
    /// use metrology::ThermocoupleType;
    /// assert_eq!(
    ///     ThermocoupleType::K.origin(),
    ///     "IEC 60584-1:2013, reference function of type K (seen in NIST-SRD-60)"
    /// );
    /// ```
    #[must_use]
    pub fn origin(self) -> String {
        edition::thermocouple(self).origin()
    }

    fn at(self, temperature: Temperature) -> Result<function::Value, ThermocoupleError> {
        let range = self.range();
        if range.contains(&temperature) {
            return Ok(edition::thermocouple(self).function.at(temperature.celsius()));
        }
        Err(ThermocoupleError::TemperatureOutOfRange {
            kind: self,
            temperature,
            bottom: *range.start(),
            top: *range.end(),
        })
    }

    fn class(
        self,
        class: ToleranceClass,
    ) -> Result<&'static edition::Tolerance, ThermocoupleError> {
        edition::thermocouple(self)
            .tolerance(class)
            .ok_or(ThermocoupleError::NoSuchClass { kind: self, class })
    }
}

impl fmt::Display for ThermocoupleType {
    fn fmt(&self, out: &mut fmt::Formatter<'_>) -> fmt::Result {
        out.pad(self.letter())
    }
}

impl FromStr for ThermocoupleType {
    type Err = ThermocoupleError;

    fn from_str(text: &str) -> Result<Self, ThermocoupleError> {
        Self::ALL
            .into_iter()
            .find(|kind| text.trim().eq_ignore_ascii_case(kind.letter()))
            .ok_or_else(|| ThermocoupleError::UnknownLetter { text: text.to_owned() })
    }
}

impl ToleranceClass {
    /// All three, the closest first.
    pub const ALL: [Self; 3] = [Self::One, Self::Two, Self::Three];

    /// The class's number.
    ///
    /// ```
    /// use metrology::ToleranceClass;
    /// assert_eq!(ToleranceClass::One.number(), 1);
    /// ```
    #[must_use]
    pub const fn number(self) -> u8 {
        match self {
            Self::One => 1,
            Self::Two => 2,
            Self::Three => 3,
        }
    }
}

impl fmt::Display for ToleranceClass {
    fn fmt(&self, out: &mut fmt::Formatter<'_>) -> fmt::Result {
        fmt::Display::fmt(&self.number(), out)
    }
}

impl FromStr for ToleranceClass {
    type Err = ThermocoupleError;

    fn from_str(text: &str) -> Result<Self, ThermocoupleError> {
        Self::ALL
            .into_iter()
            .find(|class| class.to_string() == text.trim())
            .ok_or_else(|| ThermocoupleError::UnknownClass { text: text.to_owned() })
    }
}
