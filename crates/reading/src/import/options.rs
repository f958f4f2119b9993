//! What the user may state about a file, so that nothing has to be guessed.

use std::fmt;
use std::str::FromStr;

use metrology::{Temperature, ThermocoupleType};
use thiserror::Error;

/// A word that names none of the choices.
#[derive(Debug, Clone, PartialEq, Eq, Error)]
#[error("`{found}` is none of: {choices}")]
pub struct UnknownWord {
    /// The word.
    pub found: String,
    /// The words known, in one list.
    pub choices: String,
}

/// A closed choice, each with the word it is typed by and the words it is told by.
macro_rules! choice {
    ($(#[$doc:meta])* $name:ident { $($(#[$variant_doc:meta])* $variant:ident $word:literal $told:literal),* $(,)? }) => {
        $(#[$doc])*
        #[derive(Clone, Copy, Debug, PartialEq, Eq)]
        pub enum $name {
            $($(#[$variant_doc])* $variant),*
        }

        impl $name {
            /// All of them.
            pub const ALL: &'static [Self] = &[$(Self::$variant),*];

            /// The word it is typed by.
            #[must_use]
            pub const fn word(self) -> &'static str {
                match self { $(Self::$variant => $word),* }
            }
        }

        impl fmt::Display for $name {
            fn fmt(&self, out: &mut fmt::Formatter<'_>) -> fmt::Result {
                out.write_str(match self { $(Self::$variant => $told),* })
            }
        }

        impl FromStr for $name {
            type Err = UnknownWord;

            fn from_str(text: &str) -> Result<Self, UnknownWord> {
                let known = Self::ALL.iter().find(|one| one.word().eq_ignore_ascii_case(text));
                known.copied().ok_or_else(|| UnknownWord {
                    found: text.to_owned(),
                    choices: Self::ALL.iter().map(|one| one.word()).collect::<Vec<_>>().join(", "),
                })
            }
        }
    };
}

choice!(
    /// How the bytes of the file spell its text.
    Encoding {
        /// UTF-8, plain ASCII included.
        Utf8 "utf-8" "UTF-8",
        /// UTF-8 that opens with a byte-order mark.
        Utf8Mark "utf-8-bom" "UTF-8 with a byte-order mark",
        /// UTF-16, low byte first.
        Utf16Le "utf-16le" "UTF-16, low byte first",
        /// UTF-16, high byte first.
        Utf16Be "utf-16be" "UTF-16, high byte first",
        /// Windows-1252, of which Latin-1 is a part.
        Latin1 "latin-1" "Latin-1 (windows-1252)",
    }
);

choice!(
    /// What stands between two cells.
    Delimiter {
        /// `,`
        Comma "comma" "commas",
        /// `;`
        Semicolon "semicolon" "semicolons",
        /// The tabulator.
        Tab "tab" "tabs",
        /// One or more blanks.
        Blank "blank" "blanks",
        /// `|`
        Pipe "pipe" "pipes",
        /// Nothing: each row is one cell.
        Nothing "none" "nothing (one column)",
    }
);

choice!(
    /// What stands between the whole and the fraction of a number.
    Decimal {
        /// `23.5`
        Point "point" "decimal point",
        /// `23,5`
        Comma "comma" "decimal comma",
    }
);

choice!(
    /// What ends a row.
    LineEnd {
        /// Line feed.
        Lf "lf" "LF",
        /// Carriage return and line feed.
        CrLf "crlf" "CRLF",
        /// Carriage return.
        Cr "cr" "CR",
    }
);

choice!(
    /// The unit that a column of time counts in.
    TimeUnit {
        /// Microseconds.
        Microseconds "us" "microseconds",
        /// Milliseconds.
        Milliseconds "ms" "milliseconds",
        /// Seconds.
        Seconds "s" "seconds",
        /// Minutes.
        Minutes "min" "minutes",
        /// Hours.
        Hours "h" "hours",
        /// Days.
        Days "d" "days",
    }
);

choice!(
    /// The order of the numbers in a date such as 10/03/2004.
    DateOrder {
        /// The tenth of March.
        DayFirst "day-first" "day first",
        /// The third of October.
        MonthFirst "month-first" "month first",
    }
);

choice!(
    /// The unit of a channel of temperature.
    TemperatureUnit {
        /// Degrees Celsius.
        Celsius "C" "°C",
        /// Kelvin.
        Kelvin "K" "K",
        /// Degrees Fahrenheit.
        Fahrenheit "F" "°F",
        /// Millivolts of a thermocouple, turned into temperature with its type and its junction.
        Millivolts "mV" "mV",
        /// Microvolts of a thermocouple.
        Microvolts "uV" "µV",
        /// Volts of a thermocouple.
        Volts "V" "V",
    }
);

impl Delimiter {
    pub(super) const fn byte(self) -> u8 {
        match self {
            Self::Comma => b',',
            Self::Semicolon => b';',
            Self::Tab => b'\t',
            Self::Blank => b' ',
            Self::Pipe => b'|',
            Self::Nothing => 0,
        }
    }
}

impl Decimal {
    pub(super) const fn byte(self) -> u8 {
        match self {
            Self::Point => b'.',
            Self::Comma => b',',
        }
    }
}

impl LineEnd {
    /// The byte that rows are cut at.
    pub(super) const fn byte(self) -> u8 {
        match self {
            Self::Lf | Self::CrLf => b'\n',
            Self::Cr => b'\r',
        }
    }
}

impl TemperatureUnit {
    /// How many millivolts one of this unit is, where it is one of voltage.
    pub(super) const fn millivolts(self) -> Option<f64> {
        match self {
            Self::Celsius | Self::Kelvin | Self::Fahrenheit => None,
            Self::Millivolts => Some(1.0),
            Self::Microvolts => Some(1e-3),
            Self::Volts => Some(1e3),
        }
    }
}

impl TimeUnit {
    /// `count` of this unit, in seconds.
    pub(super) fn seconds(self, count: f64) -> f64 {
        match self {
            Self::Microseconds => count / 1e6,
            Self::Milliseconds => count / 1e3,
            Self::Seconds => count,
            Self::Minutes => count * 60.0,
            Self::Hours => count * 3600.0,
            Self::Days => count * 86_400.0,
        }
    }
}

/// Which column.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum ChannelChoice {
    /// By its number in the file, counted from 1.
    Number(usize),
    /// By its name, with or without its unit.
    Name(String),
}

impl From<&str> for ChannelChoice {
    /// A whole number is a column's number, anything else its name.
    fn from(text: &str) -> Self {
        text.trim().parse().map_or_else(|_| Self::Name(text.trim().to_owned()), Self::Number)
    }
}

/// Which numbers stand for a missing value.
#[derive(Clone, Debug, Default, PartialEq)]
pub enum MissingCodes {
    /// Nothing is stated: a number that looks like such a code is asked about.
    #[default]
    Ask,
    /// These numbers and no others. An empty list says that every number is a reading.
    Stated(Vec<f64>),
}

/// How large a file may be.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Limits {
    /// Bytes of the file.
    pub bytes: u64,
    /// Rows of the file.
    pub rows: u64,
    /// Columns of its table.
    pub columns: usize,
    /// Bytes of one cell.
    pub cell_bytes: usize,
}

impl Limits {
    /// For a file that comes over a network.
    #[must_use]
    pub const fn upload() -> Self {
        Self { bytes: 20_000_000, rows: 2_000_000, ..Self::own_disk() }
    }

    /// For a file on one's own disk.
    #[must_use]
    pub const fn own_disk() -> Self {
        Self { bytes: 2_000_000_000, rows: 100_000_000, columns: 256, cell_bytes: 64_000 }
    }
}

/// A thermocouple whose electromotive force was logged.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Wire {
    /// Its letter type.
    pub letter: ThermocoupleType,
    /// The temperature of the junction at the logger.
    pub junction: Temperature,
}

/// What is stated about a file. Whatever is left open is read from the file or asked.
#[derive(Clone, Debug, PartialEq)]
pub struct ImportOptions {
    /// The column that holds the temperature.
    pub channel: Option<ChannelChoice>,
    /// What stands between cells.
    pub delimiter: Option<Delimiter>,
    /// The decimal sign of every column.
    pub decimal: Option<Decimal>,
    /// How the text is spelt.
    pub encoding: Option<Encoding>,
    /// The column that holds the time.
    pub time_column: Option<ChannelChoice>,
    /// The unit of that column.
    pub time_unit: Option<TimeUnit>,
    /// Readings a second: rows are counted, and no column of time is looked at.
    pub rate_per_second: Option<f64>,
    /// The order of day and month.
    pub date_order: Option<DateOrder>,
    /// The unit of the channel.
    pub unit: Option<TemperatureUnit>,
    /// The thermocouple of a channel in volts.
    pub wire: Option<Wire>,
    /// Numbers that stand for a missing value.
    pub missing_codes: MissingCodes,
    /// Rows at the top to leave unread.
    pub skip_rows: usize,
    /// How large the file may be.
    pub limits: Limits,
}

impl Default for ImportOptions {
    fn default() -> Self {
        Self {
            channel: None,
            delimiter: None,
            decimal: None,
            encoding: None,
            time_column: None,
            time_unit: None,
            rate_per_second: None,
            date_order: None,
            unit: None,
            wire: None,
            missing_codes: MissingCodes::Ask,
            skip_rows: 0,
            limits: Limits::own_disk(),
        }
    }
}
