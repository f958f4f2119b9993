//! The numbers of the guide: `standards/guides/around-the-flame.toml`, built in.

use std::sync::LazyLock;

use metrology::Temperature;
use serde::Deserialize;
use thiserror::Error;

use super::Gas;

/// Why a file is no such guide.
#[derive(Clone, Debug, PartialEq, Eq, Error)]
pub enum GuideError {
    /// It is not written as such a file is.
    #[error("the guide cannot be read: {0}")]
    Form(String),
    /// A number has another unit than the one it is used in.
    #[error("`{name}` of the guide is in {found}, and is needed in {needed}")]
    Unit {
        /// Which number.
        name: &'static str,
        /// The unit in the file.
        found: String,
        /// The unit it must have.
        needed: &'static str,
    },
    /// A number is not more than nothing.
    #[error("`{name}` of the guide is {found}; it must be more than 0")]
    Size {
        /// Which number.
        name: &'static str,
        /// As the file has it.
        found: String,
    },
}

/// A number with its source.
#[derive(Clone, Debug, PartialEq, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Sourced {
    /// The number, in its unit.
    pub value: f64,
    /// The unit.
    pub unit: String,
    /// Where it comes from.
    pub source: String,
    /// How it is known: `seen`, `memory` or `ours`.
    pub standing: String,
}

/// What is known of a gas that burns.
#[derive(Clone, Debug, PartialEq, Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct Fuel {
    pub(super) air: Sourced,
    pub(super) molar_mass: Sourced,
    pub(super) heating_value: Sourced,
}

/// What is known of a gas in smoke.
#[derive(Clone, Debug, PartialEq, Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct InSmoke {
    pub(super) says: String,
    pub(super) molar_mass: Sourced,
    pub(super) dangerous: Sourced,
}

/// What materials give.
#[derive(Clone, Debug, PartialEq, Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct Material {
    pub(super) says: String,
    pub(super) words: Vec<String>,
    pub(super) gives: Gives,
    pub(super) most: Sourced,
}

#[derive(Clone, Copy, Debug, PartialEq, Eq, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub(super) enum Gives {
    CarbonMonoxide,
    HydrogenCyanide,
    HydrogenChloride,
}

/// The guide.
#[derive(Clone, Debug, PartialEq, Deserialize)]
#[serde(deny_unknown_fields, rename_all = "kebab-case")]
pub struct Guide {
    /// What it is called.
    pub title: String,
    /// Which version it is.
    pub version: u32,
    pub(super) roper: Sourced,
    pub(super) within: Sourced,
    pub(super) lowest: Sourced,
    pub(super) highest: Sourced,
    butane: Fuel,
    propane: Fuel,
    #[serde(rename = "gas_constant")]
    gas_constant: Sourced,
    pressure: Sourced,
    #[serde(rename = "smoke_air")]
    smoke_air: Sourced,
    #[serde(rename = "mixing_most")]
    pub(super) mixing_most: Sourced,
    #[serde(rename = "mixing_usual")]
    mixing_usual: Sourced,
    carbon_monoxide: InSmoke,
    hydrogen_cyanide: InSmoke,
    hydrogen_chloride: InSmoke,
    pub(super) material: Vec<Material>,
}

static BUILT_IN: LazyLock<Result<Guide, GuideError>> = LazyLock::new(|| {
    Guide::from_toml(include_str!("../../../../standards/guides/around-the-flame.toml"))
});

impl Guide {
    /// The guide that is built into the program.
    ///
    /// # Errors
    ///
    /// Never in a built program: a test reads the file that is built in.
    pub fn built_in() -> Result<&'static Self, GuideError> {
        BUILT_IN.as_ref().map_err(Clone::clone)
    }

    /// The guide of a file's text.
    ///
    /// # Errors
    ///
    /// [`GuideError`] when it is not such a file, or a number has another unit or no size.
    pub fn from_toml(text: &str) -> Result<Self, GuideError> {
        let guide: Self =
            toml::from_str(text).map_err(|error| GuideError::Form(error.to_string()))?;
        for (name, number, needed) in guide.numbers() {
            if number.unit != needed {
                let found = number.unit.clone();
                return Err(GuideError::Unit { name, found, needed });
            }
            if !(number.value > 0.0 && number.value.is_finite()) {
                return Err(GuideError::Size { name, found: number.value.to_string() });
            }
        }
        Ok(guide)
    }

    /// Every number with its name and the unit it is needed in.
    fn numbers(&self) -> Vec<(&'static str, &Sourced, &'static str)> {
        let mut numbers = vec![
            ("roper", &self.roper, "s/m²"),
            ("within", &self.within, "%"),
            ("lowest", &self.lowest, "mm"),
            ("highest", &self.highest, "mm"),
            ("gas_constant", &self.gas_constant, "J/(mol K)"),
            ("pressure", &self.pressure, "kPa"),
            ("smoke_air", &self.smoke_air, "°C"),
            ("mixing_most", &self.mixing_most, "1"),
            ("mixing_usual", &self.mixing_usual, "1"),
        ];
        for fuel in [&self.butane, &self.propane] {
            numbers.push(("air", &fuel.air, "mol/mol"));
            numbers.push(("molar_mass", &fuel.molar_mass, "g/mol"));
            numbers.push(("heating_value", &fuel.heating_value, "MJ/kg"));
        }
        for gas in [&self.carbon_monoxide, &self.hydrogen_cyanide, &self.hydrogen_chloride] {
            numbers.push(("molar_mass", &gas.molar_mass, "g/mol"));
            numbers.push(("dangerous", &gas.dangerous, "ppm"));
        }
        numbers.extend(self.material.iter().map(|material| ("most", &material.most, "g/g")));
        numbers
    }

    pub(super) const fn fuel(&self, gas: Gas) -> &Fuel {
        match gas {
            Gas::Butane => &self.butane,
            Gas::Propane => &self.propane,
        }
    }

    pub(super) const fn in_smoke(&self, gas: Gives) -> &InSmoke {
        match gas {
            Gives::CarbonMonoxide => &self.carbon_monoxide,
            Gives::HydrogenCyanide => &self.hydrogen_cyanide,
            Gives::HydrogenChloride => &self.hydrogen_chloride,
        }
    }

    /// The allowance for air that does not mix, where none is stated.
    #[must_use]
    pub const fn usual_mixing(&self) -> f64 {
        self.mixing_usual.value
    }

    /// The temperature of the air that holds smoke.
    pub(super) const fn smoke_air(&self) -> Temperature {
        Temperature::from_celsius(self.smoke_air.value)
    }

    /// The volume of a mole of gas at this temperature, in litres.
    pub(super) fn litres_per_mole(&self, kelvin: f64) -> f64 {
        self.gas_constant.value * kelvin / self.pressure.value
    }
}
