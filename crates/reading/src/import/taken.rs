//! What a file was taken for, as data and as one sentence.

use std::fmt;

use super::collect::Counts;
use super::columns::ChosenBy;
use super::options::{
    DateOrder, Decimal, Delimiter, Encoding, LineEnd, TemperatureUnit, TimeUnit, Wire,
};

/// What a file was taken for.
#[derive(Clone, Debug, PartialEq)]
pub struct TakenFor {
    /// How its text is spelt.
    pub encoding: Encoding,
    /// What ends a row.
    pub line_end: LineEnd,
    /// What stands between cells.
    pub delimiter: Delimiter,
    /// Header blocks, each with its own closing line, above the table.
    pub header_blocks: usize,
    /// The row of names, counted from 1 over the lines of the file.
    pub names_row: Option<u64>,
    /// The row of units.
    pub units_row: Option<u64>,
    /// The first row of the table.
    pub first_row: u64,
    /// How many columns the table has.
    pub columns: usize,
    /// Where the time was found.
    pub time: TimeTaken,
    /// Where the temperature was found.
    pub channel: ChannelTaken,
    /// What else was met.
    pub counts: Counts,
}

/// Where the time was found.
#[derive(Clone, Debug, PartialEq)]
pub enum TimeTaken {
    /// Rows were counted, at the rate the user stated.
    Counted {
        /// Readings a second.
        per_second: f64,
    },
    /// Rows were counted, at the step the header states.
    Stepped {
        /// The step in seconds.
        step_seconds: f64,
    },
    /// A column of numbers.
    Number {
        /// The column, as number and name.
        column: String,
        /// Its unit.
        unit: TimeUnit,
        /// Whether the file or the user states that unit.
        unit_from: Origin,
        /// Its decimal sign.
        decimal: Decimal,
    },
    /// Dates and clocks; the trace's own time begins with 0 at the first row.
    Clock {
        /// The column, or both.
        columns: String,
        /// What the first row says.
        first: String,
        /// The order of day and month, where dates stand there and it makes a difference.
        date_order: Option<DateOrder>,
    },
}

/// Who says so.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Origin {
    /// The file or the user.
    Stated,
    /// Nobody: it is what such files mostly hold.
    Assumed,
}

/// Where the temperature was found.
#[derive(Clone, Debug, PartialEq)]
pub struct ChannelTaken {
    /// Its number in the file, counted from 1.
    pub number: usize,
    /// Its name without its unit; empty where there is none.
    pub name: String,
    /// Why it was taken.
    pub by: ChosenBy,
    /// Its unit.
    pub unit: TemperatureUnit,
    /// Whether the file or the user states that unit.
    pub unit_from: Origin,
    /// The thermocouple it was turned into a temperature with, where it is a voltage.
    pub wire: Option<Wire>,
    /// Its decimal sign.
    pub decimal: Decimal,
}

impl fmt::Display for TakenFor {
    /// One plain sentence.
    fn fmt(&self, out: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(out, "{} text, rows ended by {}, ", self.encoding, self.line_end)?;
        if self.delimiter == Delimiter::Nothing {
            write!(out, "one column")?;
        } else {
            write!(out, "{} columns with {} between them", self.columns, self.delimiter)?;
        }
        match self.header_blocks {
            0 => {}
            1 => write!(out, ", a header block")?,
            count => write!(out, ", {count} header blocks")?,
        }
        match (self.names_row, self.units_row) {
            (Some(names), Some(units)) => {
                write!(out, ", names in row {names} and units in row {units}")?;
            }
            (Some(names), None) => write!(out, ", names in row {names}")?,
            (None, Some(units)) => write!(out, ", units in row {units}")?,
            (None, None) => write!(out, ", no names")?,
        }
        write!(
            out,
            ", {} rows from row {} on; {}; {}",
            self.counts.rows, self.first_row, self.time, self.channel
        )?;
        self.write_counts(out)
    }
}

impl TakenFor {
    fn write_counts(&self, out: &mut fmt::Formatter<'_>) -> fmt::Result {
        let counts = self.counts;
        let told = [
            (counts.blank, "without a value"),
            (counts.open_circuit, "with an open circuit"),
            (counts.code, "with a code for a missing value"),
            (counts.doubled, "written twice and counted once"),
            (counts.repeated_headings, "of names or units come again and left out"),
            (counts.comments, "of comment left out"),
        ];
        for (count, what) in told {
            if count > 0 {
                let rows = if count == 1 { "row" } else { "rows" };
                write!(out, "; {count} {rows} {what}")?;
            }
        }
        match counts.midnights {
            0 => Ok(()),
            1 => write!(out, "; the clock passes midnight once"),
            count => write!(out, "; the clock passes midnight {count} times"),
        }
    }
}

impl fmt::Display for TimeTaken {
    fn fmt(&self, out: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Counted { per_second } => {
                write!(out, "time from the count of rows at {per_second} a second, as stated")
            }
            Self::Stepped { step_seconds } => {
                write!(out, "time from the count of rows at the header's step of {step_seconds} s")
            }
            Self::Number { column, unit, unit_from, decimal } => {
                write!(out, "time from column {column}, with {decimal}, in {unit}")?;
                unit_from.write(out, "unit")
            }
            Self::Clock { columns, first, date_order } => {
                write!(out, "time from the clock in column {columns}, 0 s being `{first}`")?;
                match date_order {
                    Some(order) => write!(out, ", dates with {order}"),
                    None => Ok(()),
                }
            }
        }
    }
}

impl fmt::Display for ChannelTaken {
    fn fmt(&self, out: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(out, "temperature from column {}", self.number)?;
        if !self.name.is_empty() {
            write!(out, " `{}`", self.name)?;
        }
        out.write_str(match self.by {
            ChosenBy::User => ", as chosen",
            ChosenBy::Unit => ", the only one in a unit of temperature",
            ChosenBy::Name => ", the only one named like a temperature",
            ChosenBy::Alone => ", the only one beside the time",
        })?;
        write!(out, ", with {}, in {}", self.decimal, self.unit)?;
        self.unit_from.write(out, "unit")?;
        match self.wire {
            Some(Wire { letter, junction }) => {
                write!(out, " of a type {letter} thermocouple with its junction at {junction}")
            }
            None => Ok(()),
        }
    }
}

impl Origin {
    fn write(self, out: &mut fmt::Formatter<'_>, what: &str) -> fmt::Result {
        match self {
            Self::Stated => Ok(()),
            Self::Assumed => write!(out, " (no {what} is stated: taken as that)"),
        }
    }
}
