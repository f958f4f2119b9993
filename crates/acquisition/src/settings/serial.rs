//! Serial ports, and lines of text that come through them.

use serde::Deserialize;

use super::error::{SettingsError, within};
use super::lines::{LineChannel, LineForm, check_channels};
use super::{Kind, Rhythm};

/// Lines of text over a serial port.
#[derive(Clone, Debug, PartialEq, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct SerialLines {
    /// The word that names this kind of source.
    #[serde(rename = "source")]
    pub kind: Kind,
    /// The port.
    pub port: SerialForm,
    interval_seconds: f64,
    silence_seconds: Option<f64>,
    /// How a line is cut.
    pub line: LineForm,
    /// What stands in its columns.
    #[serde(rename = "channel", default)]
    pub channels: Vec<LineChannel>,
}

/// A serial port and how it is set.
#[derive(Clone, Debug, PartialEq, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct SerialForm {
    /// The device, such as `/dev/ttyUSB0`; a path under `/dev/serial/by-id` stays the same.
    pub path: String,
    /// Bits a second.
    pub baud: u32,
    /// Bits of a character.
    #[serde(default = "eight")]
    pub data_bits: u8,
    /// Its parity.
    #[serde(default)]
    pub parity: Parity,
    /// Bits after it.
    #[serde(default = "one")]
    pub stop_bits: u8,
}

/// The parity of characters.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Deserialize)]
#[serde(rename_all = "kebab-case")]
#[expect(missing_docs, reason = "each word says what it is")]
pub enum Parity {
    #[default]
    None,
    Even,
    Odd,
}

const fn eight() -> u8 {
    8
}

const fn one() -> u8 {
    1
}

impl SerialLines {
    pub(super) fn check(&self) -> Result<(), SettingsError> {
        self.port.check()?;
        check_channels(&self.channels)?;
        self.rhythm().map(drop)
    }

    /// How often lines come.
    ///
    /// # Errors
    ///
    /// When the interval cannot be meant; never for settings that were read.
    pub fn rhythm(&self) -> Result<Rhythm, SettingsError> {
        Rhythm::of(self.interval_seconds, self.silence_seconds)
    }
}

impl SerialForm {
    pub(super) fn check(&self) -> Result<(), SettingsError> {
        within("baud", f64::from(self.baud), (50.0, 4e6), "")?;
        within("data_bits", f64::from(self.data_bits), (7.0, 8.0), "")?;
        within("stop_bits", f64::from(self.stop_bits), (1.0, 2.0), "")
    }
}
