//! What stands in a line.

use metrology::Duration;
use reading::MissingCause;
use reading::import::{Cell, cell, row_cells};
use thiserror::Error;

use crate::settings::{LineChannel, LineForm, Unit};
use crate::source::{Reading, Value};

/// Where in a line the readings stand.
#[derive(Clone, Debug)]
pub struct Pattern {
    form: LineForm,
    channels: Vec<LineChannel>,
}

/// Why a line is not read.
#[derive(Clone, Debug, PartialEq, Error)]
pub enum Unreadable {
    /// A quote is opened and not closed.
    #[error("a quote in it is not closed")]
    OpenQuote,
    /// It has too few cells.
    #[error("it has {found} columns and {channel} stands in column {asked}")]
    TooShort {
        /// How many it has.
        found: usize,
        /// The channel that is missing.
        channel: String,
        /// Its column.
        asked: usize,
    },
    /// A cell is no number.
    #[error("column {column} holds `{found}`, which is no number")]
    NoNumber {
        /// The column.
        column: usize,
        /// What it holds.
        found: String,
    },
    /// A number is in another unit.
    #[error("column {column} is in `{found}` and the settings say {stated:?}")]
    OtherUnit {
        /// The column.
        column: usize,
        /// The unit there.
        found: String,
        /// The unit stated.
        stated: Unit,
    },
    /// No temperature is so low.
    #[error("column {column} holds {found}, which lies below absolute zero")]
    TooCold {
        /// The column.
        column: usize,
        /// The number there.
        found: f64,
    },
}

impl Pattern {
    /// The pattern of these channels.
    #[must_use]
    pub const fn new(form: LineForm, channels: Vec<LineChannel>) -> Self {
        Self { form, channels }
    }

    /// The names of the channels.
    #[must_use]
    pub fn names(&self) -> Vec<String> {
        self.channels.iter().map(|channel| channel.name.clone()).collect()
    }

    /// The readings in `line`, which came at `at`.
    ///
    /// # Errors
    ///
    /// When a channel is not where the pattern has it. Then no channel of the line is read.
    pub fn read(&self, at: Duration, line: &[u8]) -> Result<Vec<Reading>, Unreadable> {
        let cells = row_cells(line, self.form.delimiter).ok_or(Unreadable::OpenQuote)?;
        let value = |(index, channel): (usize, &LineChannel)| {
            let found =
                cells.get(channel.column.wrapping_sub(1)).ok_or_else(|| Unreadable::TooShort {
                    found: cells.len(),
                    channel: channel.name.clone(),
                    asked: channel.column,
                })?;
            let value = self.value(channel, found)?;
            Ok(Reading { channel: index, at, value })
        };
        self.channels.iter().enumerate().map(value).collect()
    }

    fn value(&self, channel: &LineChannel, found: &[u8]) -> Result<Value, Unreadable> {
        let column = channel.column;
        let no_number =
            || Unreadable::NoNumber { column, found: crate::recording::readable(found) };
        let bare = found.strip_prefix(channel.before.as_bytes()).ok_or_else(no_number)?;
        match cell(bare.trim_ascii(), self.form.decimal).ok_or_else(no_number)? {
            Cell::Missing(cause) => Ok(Value::Missing(cause)),
            Cell::Number(number, behind) => {
                if !channel.unit.is_written(behind) {
                    let found = crate::recording::readable(behind);
                    return Err(Unreadable::OtherUnit { column, found, stated: channel.unit });
                }
                if channel.open_circuit.iter().any(|code| code.to_bits() == number.to_bits()) {
                    return Ok(Value::Missing(MissingCause::OpenCircuit));
                }
                let temperature = channel.unit.temperature(number);
                let too_cold = Unreadable::TooCold { column, found: number };
                temperature.map(Value::Temperature).ok_or(too_cold)
            }
        }
    }
}

impl Unit {
    /// Whether what stands behind a number is nothing, or this unit in UTF-8 or Latin-1.
    fn is_written(self, behind: &[u8]) -> bool {
        let letter = match self {
            Self::C => b'C',
            Self::K => b'K',
            Self::F => b'F',
        };
        let Some((last, sign)) = behind.split_last() else { return true };
        let degree: [&[u8]; 5] = [b"", b" ", b"deg", b"\xB0", "°".as_bytes()];
        last.eq_ignore_ascii_case(&letter) && degree.contains(&sign.trim_ascii())
    }
}
