//! What a source is, as it is written in a file.
//!
//! ```
//! use acquisition::SourceSettings;
//! let settings = SourceSettings::from_toml(r#"
//!     source = "tcp-lines"
//!     address = "192.168.1.20:4001"
//!     interval_seconds = 0.1
//!
//!     [line]
//!     delimiter = "semicolon"
//!     decimal = "comma"
//!
//!     [[channel]]
//!     name = "Block"
//!     column = 2
//!     unit = "C"
//! "#)?;
//! assert!(matches!(settings, SourceSettings::TcpLines(_)));
//! # Ok::<(), acquisition::SettingsError>(())
//! ```

mod error;
mod lines;
mod serial;
mod modbus;
mod made;

use metrology::{Duration, Temperature};
use serde::{Deserialize, Deserializer};

pub use error::SettingsError;
pub use lines::{LineChannel, LineForm, TcpLines};
pub use made::{Fault, Flame, PracticeBench, Replayed, Speed};
pub use modbus::{ModbusForm, ModbusRtu, ModbusTcp, Number, Order, RegisterChannel, Table};
pub use serial::{Parity, SerialForm, SerialLines};

/// What a source is.
#[derive(Clone, Debug, PartialEq)]
pub enum SourceSettings {
    /// Lines of text over the network.
    TcpLines(TcpLines),
    /// Lines of text over a serial port.
    SerialLines(SerialLines),
    /// Modbus over a serial port.
    ModbusRtu(ModbusRtu),
    /// Modbus over the network.
    ModbusTcp(ModbusTcp),
    /// A logger's file, played again.
    Replay(Replayed),
    /// The practice bench.
    Practice(PracticeBench),
}

/// The kinds of sources, by the words that name them.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Kind {
    /// Lines of text over the network.
    TcpLines,
    /// Lines of text over a serial port.
    SerialLines,
    /// Modbus over a serial port.
    ModbusRtu,
    /// Modbus over the network.
    ModbusTcp,
    /// A file played again.
    Replay,
    /// The practice bench.
    Practice,
}

impl SourceSettings {
    /// Reads settings.
    ///
    /// # Errors
    ///
    /// When they are not written as such settings are, or a value cannot be meant.
    pub fn from_toml(text: &str) -> Result<Self, SettingsError> {
        #[derive(Deserialize)]
        struct Head {
            source: Kind,
        }
        let form = |error| SettingsError::form(text, &error);
        let Head { source } = toml::from_str(text).map_err(form)?;
        match source {
            Kind::TcpLines => {
                let lines: TcpLines = toml::from_str(text).map_err(form)?;
                lines.check()?;
                Ok(Self::TcpLines(lines))
            }
            Kind::SerialLines => {
                let lines: SerialLines = toml::from_str(text).map_err(form)?;
                lines.check()?;
                Ok(Self::SerialLines(lines))
            }
            Kind::ModbusRtu => {
                let instrument: ModbusRtu = toml::from_str(text).map_err(form)?;
                instrument.check()?;
                Ok(Self::ModbusRtu(instrument))
            }
            Kind::ModbusTcp => {
                let instrument: ModbusTcp = toml::from_str(text).map_err(form)?;
                instrument.check()?;
                Ok(Self::ModbusTcp(instrument))
            }
            Kind::Replay => {
                let replayed: Replayed = toml::from_str(text).map_err(form)?;
                replayed.check()?;
                Ok(Self::Replay(replayed))
            }
            Kind::Practice => {
                let bench: PracticeBench = toml::from_str(text).map_err(form)?;
                bench.check()?;
                Ok(Self::Practice(bench))
            }
        }
    }
}

/// How often readings come, and from when on nothing is silence.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Rhythm {
    /// From one reading to the next.
    pub interval: Duration,
    /// Silence is told when nothing has come for this long.
    pub silence: Duration,
}

impl Rhythm {
    /// The rhythm of an interval, and of the silence stated. Where none is stated, it is three
    /// intervals and at least one second.
    ///
    /// # Errors
    ///
    /// When they lie outside of what an instrument can have.
    fn of(interval_seconds: f64, silence_seconds: Option<f64>) -> Result<Self, SettingsError> {
        error::within("interval_seconds", interval_seconds, (0.001, 3600.0), " s")?;
        let silence = silence_seconds.unwrap_or_else(|| (3.0 * interval_seconds).max(1.0));
        error::within("silence_seconds", silence, (interval_seconds, 86_400.0), " s")?;
        let seconds = Duration::from_seconds;
        Ok(Self { interval: seconds(interval_seconds), silence: seconds(silence) })
    }
}

/// The unit of a channel.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Deserialize)]
pub enum Unit {
    /// Degrees Celsius.
    #[serde(alias = "°C")]
    C,
    /// Kelvin.
    K,
    /// Degrees Fahrenheit.
    #[serde(alias = "°F")]
    F,
}

impl Unit {
    /// The temperature of `value` in this unit, or nothing below absolute zero.
    pub(crate) fn temperature(self, value: f64) -> Option<Temperature> {
        let temperature = match self {
            Self::C => Temperature::from_celsius(value),
            Self::K => Temperature::from_kelvin(value),
            Self::F => Temperature::from_fahrenheit(value),
        };
        (temperature.kelvin() >= 0.0).then_some(temperature)
    }
}

/// A word of a closed choice of the importer.
fn word<'de, D, T>(deserializer: D) -> Result<T, D::Error>
where
    D: Deserializer<'de>,
    T: std::str::FromStr<Err = reading::import::UnknownWord>,
{
    String::deserialize(deserializer)?.parse().map_err(serde::de::Error::custom)
}
