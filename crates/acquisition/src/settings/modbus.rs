//! Instruments that speak Modbus.

use metrology::Duration;
use serde::Deserialize;

use super::error::{SettingsError, check_names, within};
use super::lines::check_address;
use super::serial::SerialForm;
use super::{Kind, Rhythm, Unit};

/// An instrument that speaks Modbus over a serial port.
#[derive(Clone, Debug, PartialEq, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct ModbusRtu {
    /// The word that names this kind of source.
    #[serde(rename = "source")]
    pub kind: Kind,
    /// The port.
    pub port: SerialForm,
    unit_number: u8,
    interval_seconds: f64,
    silence_seconds: Option<f64>,
    #[serde(default = "half_a_second")]
    answer_within_seconds: f64,
    /// Its registers.
    #[serde(rename = "channel", default)]
    pub channels: Vec<RegisterChannel>,
}

/// An instrument that speaks Modbus over the network.
#[derive(Clone, Debug, PartialEq, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct ModbusTcp {
    /// The word that names this kind of source.
    #[serde(rename = "source")]
    pub kind: Kind,
    /// Host and port, such as `192.168.1.20:502`.
    pub address: String,
    #[serde(default = "one")]
    unit_number: u8,
    interval_seconds: f64,
    silence_seconds: Option<f64>,
    #[serde(default = "half_a_second")]
    answer_within_seconds: f64,
    /// Its registers.
    #[serde(rename = "channel", default)]
    pub channels: Vec<RegisterChannel>,
}

/// How an instrument is asked.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct ModbusForm {
    /// Its number on the line.
    pub unit_number: u8,
    /// How often it is asked.
    pub rhythm: Rhythm,
    /// How long an answer may take.
    pub answer_within: Duration,
}

/// One channel in registers.
#[derive(Clone, Debug, PartialEq, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct RegisterChannel {
    /// What it is called.
    pub name: String,
    /// Which of the two tables of registers.
    pub table: Table,
    /// Its first register as it is sent, counted from 0: what a manual calls 30001 or 40001 is 0.
    pub register: u16,
    /// What kind of number.
    pub number: Number,
    /// What it is multiplied by.
    #[serde(default = "unity")]
    pub scale: f64,
    /// Which of two registers comes first.
    #[serde(default)]
    pub word_order: Order,
    /// Which of the two bytes of a register comes first.
    #[serde(default)]
    pub byte_order: Order,
    /// The unit of the number once multiplied.
    pub unit: Unit,
    /// Numbers, before they are multiplied, that say that the wire is open.
    #[serde(default)]
    pub open_circuit: Vec<f64>,
}

/// The two tables of registers.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Table {
    /// Holding registers, read by function 3.
    Holding,
    /// Input registers, read by function 4.
    Input,
}

/// Kinds of numbers.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Number {
    /// One register, with a sign.
    I16,
    /// One register.
    U16,
    /// Two registers, with a sign.
    I32,
    /// Two registers.
    U32,
    /// Two registers, a floating-point number.
    F32,
}

/// What comes first.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Order {
    /// The higher part, as Modbus has it.
    #[default]
    HighFirst,
    /// The lower part, as some instruments have it.
    LowFirst,
}

const fn one() -> u8 {
    1
}

const fn unity() -> f64 {
    1.0
}

const fn half_a_second() -> f64 {
    0.5
}

impl ModbusRtu {
    pub(super) fn check(&self) -> Result<(), SettingsError> {
        self.port.check()?;
        within("unit_number", f64::from(self.unit_number), (1.0, 247.0), "")?;
        check_registers(&self.channels)?;
        self.form().map(drop)
    }

    /// How it is asked.
    ///
    /// # Errors
    ///
    /// When a time cannot be meant; never for settings that were read.
    pub fn form(&self) -> Result<ModbusForm, SettingsError> {
        let rhythm = Rhythm::of(self.interval_seconds, self.silence_seconds)?;
        ModbusForm::of(self.unit_number, rhythm, self.answer_within_seconds)
    }
}

impl ModbusTcp {
    pub(super) fn check(&self) -> Result<(), SettingsError> {
        check_address(&self.address)?;
        check_registers(&self.channels)?;
        self.form().map(drop)
    }

    /// How it is asked.
    ///
    /// # Errors
    ///
    /// When a time cannot be meant; never for settings that were read.
    pub fn form(&self) -> Result<ModbusForm, SettingsError> {
        let rhythm = Rhythm::of(self.interval_seconds, self.silence_seconds)?;
        ModbusForm::of(self.unit_number, rhythm, self.answer_within_seconds)
    }
}

impl ModbusForm {
    fn of(unit_number: u8, rhythm: Rhythm, answer_seconds: f64) -> Result<Self, SettingsError> {
        within("answer_within_seconds", answer_seconds, (0.01, 10.0), " s")?;
        let answer_within = Duration::from_seconds(answer_seconds);
        Ok(Self { unit_number, rhythm, answer_within })
    }
}

fn check_registers(channels: &[RegisterChannel]) -> Result<(), SettingsError> {
    check_names(channels.iter().map(|channel| &channel.name))?;
    for channel in channels {
        within("scale", channel.scale, (1e-9, 1e9), "")?;
        let last = f64::from(u16::MAX - (channel.number.words() - 1));
        within("register", f64::from(channel.register), (0.0, last), "")?;
    }
    Ok(())
}

impl Number {
    /// How many registers it takes.
    #[must_use]
    pub const fn words(self) -> u16 {
        match self {
            Self::I16 | Self::U16 => 1,
            Self::I32 | Self::U32 | Self::F32 => 2,
        }
    }
}

impl Table {
    /// Its name.
    #[must_use]
    pub const fn word(self) -> &'static str {
        match self {
            Self::Holding => "holding",
            Self::Input => "input",
        }
    }
}

impl Order {
    pub(crate) const fn is_high_first(self) -> bool {
        matches!(self, Self::HighFirst)
    }
}
