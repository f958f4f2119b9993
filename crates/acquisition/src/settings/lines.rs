//! Lines of text: where they come from, and what stands in them.

use reading::import::{Decimal, Delimiter};
use serde::Deserialize;

use super::error::{SettingsError, check_names, within};
use super::{Kind, Rhythm, Unit, word};

/// Lines of text over the network.
#[derive(Clone, Debug, PartialEq, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct TcpLines {
    /// The word that names this kind of source.
    #[serde(rename = "source")]
    pub kind: Kind,
    /// Host and port, such as `192.168.1.20:4001`.
    pub address: String,
    interval_seconds: f64,
    silence_seconds: Option<f64>,
    /// How a line is cut.
    pub line: LineForm,
    /// What stands in its columns.
    #[serde(rename = "channel", default)]
    pub channels: Vec<LineChannel>,
}

/// How a line is cut into cells.
#[derive(Clone, Copy, Debug, PartialEq, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct LineForm {
    /// What stands between two cells.
    #[serde(deserialize_with = "word")]
    pub delimiter: Delimiter,
    /// The decimal sign.
    #[serde(deserialize_with = "word")]
    pub decimal: Decimal,
}

/// One channel of a line.
#[derive(Clone, Debug, PartialEq, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct LineChannel {
    /// What it is called.
    pub name: String,
    /// The cell that holds it, counted from 1.
    pub column: usize,
    /// The unit of its number. Where the line names another, it is refused.
    pub unit: Unit,
    /// Letters before the number in its cell, such as `T=`.
    #[serde(default)]
    pub before: String,
    /// Numbers by which the instrument says that the wire is open.
    #[serde(default)]
    pub open_circuit: Vec<f64>,
}

/// The most cells of a line.
const COLUMNS_MOST: usize = 256;

impl TcpLines {
    pub(super) fn check(&self) -> Result<(), SettingsError> {
        check_address(&self.address)?;
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

/// Refuses an address without a port.
pub(super) fn check_address(address: &str) -> Result<(), SettingsError> {
    let port = address.rsplit_once(':').filter(|(host, _)| !host.is_empty());
    if port.is_some_and(|(_, port)| port.parse::<u16>().is_ok_and(|port| port > 0)) {
        return Ok(());
    }
    let because = "a host and a port are asked, such as `192.168.1.20:4001`";
    Err(SettingsError::Value { name: "address", found: address.to_owned(), because })
}

pub(super) fn check_channels(channels: &[LineChannel]) -> Result<(), SettingsError> {
    check_names(channels.iter().map(|channel| &channel.name))?;
    for channel in channels {
        #[expect(clippy::cast_precision_loss, reason = "a count of columns")]
        within("column", channel.column as f64, (1.0, COLUMNS_MOST as f64), "")?;
    }
    Ok(())
}
