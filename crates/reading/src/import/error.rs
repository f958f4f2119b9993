//! Why a file does not become a trace, and what to do about it.

use std::fmt;

use metrology::ThermocoupleError;
use thiserror::Error;

use crate::TraceError;

/// Why a file does not become a trace. Nothing of it is kept.
#[derive(Debug, Error)]
pub enum ImportError {
    /// The bytes could not be had.
    #[error("the file could not be read to its end")]
    Read(#[from] std::io::Error),
    /// There is nothing in it.
    #[error("the file is empty")]
    Empty,
    /// It is another kind of file.
    #[error("this is {what}, not a table of readings")]
    OtherKind {
        /// What it is.
        what: &'static str,
        /// The way out.
        hint: &'static str,
    },
    /// It holds bytes that no text holds.
    #[error("row {row} holds a NUL byte: this is no text, or the file is damaged")]
    NotText {
        /// The row.
        row: u64,
    },
    /// It is larger than allowed.
    #[error("the file has more than {limit} {what}")]
    TooLarge {
        /// What there is too much of.
        what: &'static str,
        /// How much is allowed.
        limit: u64,
    },
    /// A cell or a row is longer than allowed.
    #[error("row {row} has a cell of more than {limit} bytes")]
    CellTooLong {
        /// The row.
        row: u64,
        /// How many are allowed.
        limit: usize,
    },
    /// No rows of numbers were found.
    #[error("the file holds no table: no two rows of numbers follow each other in it ({seen})")]
    NoTable {
        /// What the text looked like.
        seen: String,
    },
    /// Two readings of the file are possible.
    #[error("{0}")]
    Ask(Question),
    /// The table has neither times nor temperatures.
    #[error(
        "this table is no logger's trace: no column holds a time and none is a temperature by its \
         name or unit; it has {columns}"
    )]
    NotATrace {
        /// The columns.
        columns: ColumnList,
    },
    /// No column is a temperature.
    #[error("no column holds a temperature; the file has {columns}")]
    NoTemperature {
        /// The columns.
        columns: ColumnList,
    },
    /// The column asked for is not there.
    #[error("there is no column {asked}; the file has {columns}")]
    NoSuchColumn {
        /// What was asked for.
        asked: String,
        /// The columns.
        columns: ColumnList,
    },
    /// The column asked for holds something else.
    #[error("column {column} is no {wanted}: {because}")]
    WrongColumn {
        /// The column.
        column: String,
        /// What it should be.
        wanted: &'static str,
        /// What it holds.
        because: String,
    },
    /// A value stated in the options cannot be meant.
    #[error("{0}")]
    Option(String),
    /// Cells that could not be read.
    #[error("{0}")]
    BadRows(BadRows),
    /// Time runs backwards.
    #[error("row {row}: the time goes from {before} s back to {found} s")]
    Backwards {
        /// The row.
        row: u64,
        /// The time before, in seconds.
        before: f64,
        /// The time there, in seconds.
        found: f64,
    },
    /// One time stands twice, with two values.
    #[error("row {row}: the time {at} s stands twice, with {before} and then {found}")]
    Doubled {
        /// The row.
        row: u64,
        /// The time, in seconds.
        at: f64,
        /// The value before, in the unit of the file.
        before: f64,
        /// The value there.
        found: f64,
    },
    /// A value that nothing can have.
    #[error("row {row}: {found} {unit} lies below absolute zero")]
    TooCold {
        /// The row.
        row: u64,
        /// The value.
        found: f64,
        /// Its unit.
        unit: String,
    },
    /// A voltage that the thermocouple stated does not give.
    #[error("row {row}: {found} {unit} is no reading of the thermocouple stated")]
    NoSuchEmf {
        /// The row.
        row: u64,
        /// The value.
        found: f64,
        /// Its unit.
        unit: String,
        /// Why not.
        #[source]
        cause: ThermocoupleError,
    },
    /// Too little is left for a trace.
    #[error(transparent)]
    Trace(#[from] TraceError),
}

/// Something that only the user can decide.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Question {
    /// What is open.
    pub what: String,
    /// The readings that are possible.
    pub choices: Vec<String>,
    /// The option that decides.
    pub option: &'static str,
}

impl fmt::Display for Question {
    fn fmt(&self, out: &mut fmt::Formatter<'_>) -> fmt::Result {
        out.write_str(&self.what)?;
        if !self.choices.is_empty() {
            write!(out, ": {}", shown(&self.choices, "or "))?;
        }
        Ok(())
    }
}

/// Columns, told by number, name and unit.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct ColumnList(pub Vec<String>);

impl fmt::Display for ColumnList {
    fn fmt(&self, out: &mut fmt::Formatter<'_>) -> fmt::Result {
        out.write_str(&shown(&self.0, ""))
    }
}

/// The first 20 of `items`, and how many more there are.
fn shown(items: &[String], last: &str) -> String {
    let (first, rest) = items.split_at(items.len().min(SHOWN));
    if !rest.is_empty() {
        return format!("{}, and {} more", first.join(", "), rest.len());
    }
    match first {
        [all @ .., end] if !all.is_empty() => format!("{}, {last}{end}", all.join(", ")),
        _ => first.join(", "),
    }
}

/// How many rows or columns a message shows.
pub(super) const SHOWN: usize = 20;

/// Rows that could not be read; the first 20 are shown.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct BadRows {
    /// The first of them.
    pub first: Vec<BadRow>,
    /// How many there are.
    pub count: u64,
}

/// A row that could not be read.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct BadRow {
    /// The row, counted from 1 over the lines of the file.
    pub row: u64,
    /// The column at fault, with its name; none where the row as a whole is.
    pub column: Option<String>,
    /// What is the matter.
    pub what: String,
}

impl fmt::Display for BadRows {
    fn fmt(&self, out: &mut fmt::Formatter<'_>) -> fmt::Result {
        let rows = if self.count == 1 { "row" } else { "rows" };
        write!(out, "{} {rows} cannot be read", self.count)?;
        if usize::try_from(self.count).map_or(true, |count| count > self.first.len()) {
            write!(out, " (the first {} follow)", self.first.len())?;
        }
        for bad in &self.first {
            write!(out, "\n  row {}", bad.row)?;
            if let Some(column) = &bad.column {
                write!(out, ", column {column}")?;
            }
            write!(out, ": {}", bad.what)?;
        }
        Ok(())
    }
}

impl ImportError {
    /// The way out, where there is one.
    #[must_use]
    pub fn hint(&self) -> Option<String> {
        let text = match self {
            Self::Read(_) => "Check the disk or the connection, and hand the file in again.",
            Self::Empty => "Check that the logger had finished writing, and copy the file again.",
            Self::OtherKind { hint, .. } => hint,
            Self::NotText { .. } => "Export the readings as text (CSV) from the logger's program.",
            Self::TooLarge { .. } => "Cut the file down to the determination it is needed for.",
            Self::CellTooLong { .. } | Self::NoTable { .. } => {
                "Export the readings as a table of text: one row a reading, one column a channel."
            }
            Self::Ask(question) => {
                return Some(format!("Decide with the option `{}`.", question.option));
            }
            Self::NotATrace { .. } => {
                "If it is one all the same, name its columns with the options `time_column` and \
                 `channel`."
            }
            Self::NoTemperature { .. } => {
                "If one is a temperature all the same, name it with the option `channel` and its \
                 unit with `unit`; if one is a thermocouple's voltage, state `thermocouple` and \
                 `junction`."
            }
            Self::NoSuchColumn { .. } => "Name one of these by its number or its name.",
            Self::WrongColumn { wanted: "temperature", .. } => {
                "Choose another column, or state with the option `unit` what it holds."
            }
            Self::WrongColumn { .. } => "Choose another column.",
            Self::Option(_) => return None,
            Self::BadRows(_) => "Correct these rows or cut them out; nothing was imported.",
            Self::Backwards { before, found, .. } if *before - *found <= 3600.0 => {
                "If clocks were set back here (the doubled hour of autumn), write the file in UTC \
                 or cut it at this row; otherwise export it again."
            }
            Self::Backwards { .. } => "Cut the file at this row, or export it again.",
            Self::Doubled { .. } => {
                "If the clock is too coarse for the rate, state the rate with the option `rate`."
            }
            Self::TooCold { .. } => {
                "State the unit with the option `unit`, or, if the number stands for a missing \
                 value, say so with the option `missing`."
            }
            Self::NoSuchEmf { .. } => {
                "Check the letter of the thermocouple, the temperature of its junction, and the \
                 unit of the column."
            }
            Self::Trace(_) => "Record for longer, or check which column was taken.",
        };
        Some(text.to_owned())
    }
}
