//! What copper is: its heat capacity and enthalpy over temperature, from `standards/materials`.

use metrology::{Mass, Temperature};
use serde::Deserialize;
use thiserror::Error;

/// Heat capacity and enthalpy of copper over temperature.
///
/// Between two rows of the table the enthalpy is a cubic that has the heat capacities of the rows
/// as its slopes there; the heat capacity in between is the slope of that cubic.
#[derive(Clone, Debug, PartialEq)]
pub struct Copper {
    rows: Vec<Row>,
    pieces: Vec<Piece>,
    /// Of radiation, in W/(m² K⁴).
    stefan_boltzmann: f64,
    /// In g/mm³.
    density: f64,
    /// In W/(mm K).
    conductivity: f64,
    biot_limit: f64,
}

/// One row: kelvin, J/(g K), J/g.
#[derive(Clone, Copy, Debug, PartialEq)]
struct Row {
    kelvin: f64,
    capacity: f64,
    enthalpy: f64,
}

/// The heat capacity between two rows, in J/(g K) over the kelvin above the lower one:
/// constant + linear·x + square·x², the slope of the enthalpy's cubic.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Piece {
    pub(super) low: f64,
    pub(super) high: f64,
    constant: f64,
    linear: f64,
    square: f64,
}

impl Piece {
    fn between(low: Row, high: Row) -> Self {
        let width = high.kelvin - low.kelvin;
        let rise = (high.enthalpy - low.enthalpy) / width;
        Self {
            low: low.kelvin,
            high: high.kelvin,
            constant: low.capacity,
            linear: (6.0 * rise - 4.0 * low.capacity - 2.0 * high.capacity) / width,
            square: 3.0 * (low.capacity + high.capacity - 2.0 * rise) / (width * width),
        }
    }

    /// The heat capacity in J/(g K), and how it changes with each kelvin.
    pub(super) fn capacity(&self, kelvin: f64) -> (f64, f64) {
        let x = kelvin - self.low;
        let capacity = self.constant + x * (self.linear + x * self.square);
        (capacity, self.linear + 2.0 * x * self.square)
    }
}

/// Why a file does not describe copper.
#[derive(Debug, Clone, PartialEq, Error)]
pub enum CopperError {
    /// It is not written as such a file is.
    #[error("the data of copper cannot be read: {0}")]
    Form(String),
    /// A number has another unit than the one it is used in.
    #[error("the {name} of copper is in {found}, and is needed in {needed}")]
    Unit {
        /// Which number.
        name: &'static str,
        /// The unit in the file.
        found: String,
        /// The unit it must have.
        needed: &'static str,
    },
    /// The rows are too few, or not in order.
    #[error("the table of copper needs two rows or more, each hotter than the one before")]
    Order,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct File {
    #[serde(rename = "title")]
    _title: String,
    #[serde(rename = "source")]
    _source: String,
    #[serde(rename = "standing")]
    _standing: String,
    molar_mass: Number,
    table: Table,
    stefan_boltzmann: Number,
    density: Number,
    conductivity: Number,
    biot_limit: Number,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct Number {
    value: f64,
    unit: String,
    #[serde(rename = "source")]
    _source: String,
    #[serde(rename = "standing")]
    _standing: String,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct Table {
    units: Units,
    rows: Vec<MolarRow>,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct Units {
    temperature: String,
    heat_capacity: String,
    enthalpy: String,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct MolarRow {
    temperature: f64,
    heat_capacity: f64,
    enthalpy: f64,
}

const FILE: &str = include_str!("../../../../standards/materials/copper.toml");

impl Copper {
    /// The copper of the tables built into the program.
    ///
    /// # Panics
    ///
    /// Never on a built program: a test reads the file that is built in.
    #[must_use]
    #[expect(clippy::expect_used, reason = "the file is part of the program, and a test reads it")]
    pub fn built_in() -> Self {
        Self::from_toml(FILE).expect("the data of copper built in are sound")
    }

    /// The copper of a file's text.
    ///
    /// # Errors
    ///
    /// When it is not such a file, a unit is another, or the rows are out of order.
    pub fn from_toml(text: &str) -> Result<Self, CopperError> {
        let file: File =
            toml::from_str(text).map_err(|error| CopperError::Form(error.to_string()))?;
        let units = [
            ("molar mass", &file.molar_mass.unit, "g/mol"),
            ("temperature", &file.table.units.temperature, "K"),
            ("heat capacity", &file.table.units.heat_capacity, "J/(mol K)"),
            ("enthalpy", &file.table.units.enthalpy, "kJ/mol"),
            ("constant of radiation", &file.stefan_boltzmann.unit, "W/(m² K⁴)"),
            ("density", &file.density.unit, "g/cm³"),
            ("conductivity", &file.conductivity.unit, "W/(m K)"),
            ("limit of the Biot number", &file.biot_limit.unit, "1"),
        ];
        for (name, found, needed) in units {
            if found != needed {
                return Err(CopperError::Unit { name, found: found.clone(), needed });
            }
        }
        let rows: Vec<Row> = file
            .table
            .rows
            .iter()
            .map(|row| Row {
                kelvin: row.temperature,
                capacity: row.heat_capacity / file.molar_mass.value,
                enthalpy: 1000.0 * row.enthalpy / file.molar_mass.value,
            })
            .collect();
        let rises = rows.windows(2).all(|pair| pair[0].kelvin < pair[1].kelvin);
        if rows.len() < 2 || !rises || file.molar_mass.value <= 0.0 {
            return Err(CopperError::Order);
        }
        Ok(Self {
            pieces: pieces(&rows),
            rows,
            stefan_boltzmann: file.stefan_boltzmann.value,
            density: file.density.value / 1e3,
            conductivity: file.conductivity.value / 1e3,
            biot_limit: file.biot_limit.value,
        })
    }

    /// A made-up copper whose heat capacity, in J/(kg K), is the same at all temperatures of the
    /// table: for comparison with formulas that take it so.
    #[must_use]
    pub fn with_constant_heat_capacity(mut self, joule_per_kilogram_kelvin: f64) -> Self {
        let capacity = joule_per_kilogram_kelvin / 1000.0;
        for row in &mut self.rows {
            *row = Row { kelvin: row.kelvin, capacity, enthalpy: capacity * row.kelvin };
        }
        self.pieces = pieces(&self.rows);
        self
    }

    /// The heat capacity in J/(kg K).
    #[must_use]
    pub fn heat_capacity_joule_per_kilogram_kelvin(&self, temperature: Temperature) -> f64 {
        1000.0 * self.capacity(temperature.kelvin())
    }

    /// The heat in joule that takes `mass` of it from one temperature to another.
    #[must_use]
    pub fn heat_joule(&self, mass: Mass, from: Temperature, to: Temperature) -> f64 {
        mass.grams() * (self.enthalpy(to.kelvin()) - self.enthalpy(from.kelvin()))
    }

    /// The coldest and the hottest temperature of the table.
    #[must_use]
    pub fn range(&self) -> (Temperature, Temperature) {
        let (first, last) = (self.rows[0], self.rows[self.rows.len() - 1]);
        (Temperature::from_kelvin(first.kelvin), Temperature::from_kelvin(last.kelvin))
    }

    /// The constant of radiation in W/(m² K⁴).
    pub(super) const fn stefan_boltzmann(&self) -> f64 {
        self.stefan_boltzmann
    }

    /// In g/mm³.
    pub(super) const fn density(&self) -> f64 {
        self.density
    }

    /// In W/(mm K).
    pub(super) const fn conductivity(&self) -> f64 {
        self.conductivity
    }

    pub(super) const fn biot_limit(&self) -> f64 {
        self.biot_limit
    }

    /// The pieces of the table, from cold to hot.
    pub(super) fn pieces(&self) -> &[Piece] {
        &self.pieces
    }

    /// The piece that holds a temperature, by its place; the nearest outside of the table.
    pub(super) fn piece_at(&self, kelvin: f64) -> usize {
        let after = self.pieces.partition_point(|piece| piece.low <= kelvin);
        after.clamp(1, self.pieces.len()) - 1
    }

    /// The temperatures of the rows between two, in kelvin: where the heat capacity has a kink.
    pub(super) fn kinks(&self, from: f64, to: f64) -> impl Iterator<Item = f64> {
        self.rows.iter().map(|row| row.kelvin).filter(move |kelvin| from < *kelvin && *kelvin < to)
    }

    /// In J/(g K). Outside of the table the nearest row's.
    pub(super) fn capacity(&self, kelvin: f64) -> f64 {
        let piece = &self.pieces[self.piece_at(kelvin)];
        piece.capacity(kelvin.clamp(piece.low, piece.high)).0
    }

    /// In J/g.
    fn enthalpy(&self, kelvin: f64) -> f64 {
        let (low, high) = self.around(kelvin);
        let width = high.kelvin - low.kelvin;
        let x = ((kelvin - low.kelvin) / width).clamp(0.0, 1.0);
        let smooth = x * x * (3.0 - 2.0 * x);
        low.enthalpy
            + smooth * (high.enthalpy - low.enthalpy)
            + width * x * (x - 1.0) * ((x - 1.0) * low.capacity + x * high.capacity)
    }

    /// The rows to both sides.
    fn around(&self, kelvin: f64) -> (Row, Row) {
        let after = self.rows.partition_point(|row| row.kelvin <= kelvin);
        let after = after.clamp(1, self.rows.len() - 1);
        (self.rows[after - 1], self.rows[after])
    }
}

fn pieces(rows: &[Row]) -> Vec<Piece> {
    rows.windows(2).map(|pair| Piece::between(pair[0], pair[1])).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_data_built_in_are_sound() {
        let copper = Copper::from_toml(FILE).unwrap();
        assert_eq!(copper, Copper::built_in());
        let (low, high) = copper.range();
        assert!((low.kelvin() - 200.0).abs() < 1e-9 && (high.kelvin() - 1358.0).abs() < 1e-9);
    }

    #[test]
    fn another_unit_is_refused() {
        let found = Copper::from_toml(&FILE.replace("kJ/mol", "kcal/mol")).unwrap_err();
        let text = "the enthalpy of copper is in kcal/mol, and is needed in kJ/mol";
        assert_eq!(found.to_string(), text);
    }

    /// The value of CODATA 2018 from the constants that the SI of 2019 fixes (from memory).
    #[test]
    fn codata_2018_stefan_boltzmann() {
        let (boltzmann, planck, light) = (1.380_649e-23_f64, 6.626_070_15e-34_f64, 299_792_458.0);
        let pi = std::f64::consts::PI;
        let ratio = boltzmann / planck;
        let exact = 2.0 * pi * pi * pi * pi * pi / 15.0 * boltzmann * ratio * ratio * ratio
            / (light * light);
        let ours = Copper::built_in().stefan_boltzmann();
        assert!((ours / exact - 1.0).abs() < 1e-10, "{ours} {exact}");
    }

    #[test]
    fn the_enthalpy_is_the_integral_of_the_heat_capacity() {
        let copper = Copper::built_in();
        for kelvin in [210.0, 299.0, 450.0, 777.7, 1340.0] {
            let slope = (copper.enthalpy(kelvin + 1e-3) - copper.enthalpy(kelvin - 1e-3)) / 2e-3;
            let capacity = copper.capacity(kelvin);
            assert!((slope - capacity).abs() < 1e-8, "{kelvin} K: {slope}, {capacity}");
        }
    }
}
