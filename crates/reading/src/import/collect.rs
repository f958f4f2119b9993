//! Rows put one after the other into a trace.

use metrology::{Temperature, Voltage};

use crate::{Missing, MissingCause, Point, Recording, Trace};

use super::error::{BadRow, BadRows, ImportError, Question, SHOWN};
use super::number::OPEN_CIRCUIT_FROM;
use super::options::{ImportOptions, MissingCodes, TemperatureUnit};
use super::rows::Part;
use super::time::{self, TimeSource};

/// Numbers that loggers write for a missing value: common practice.
const CODES: [f64; 16] = [
    -200.0, -99.0, -99.9, -99.99, -999.0, -999.9, -9999.0, -99999.0, 999.9, 9999.0, 9999.9,
    99999.0, 32767.0, -32768.0, 3276.7, -3276.8,
];

/// A number of [`CODES`] is a reading where it lies no further than this from the one before, in
/// the unit of the file: a trace may well pass 999.9 °C.
const JUMP: f64 = 50.0;

const HALF_A_DAY: f64 = 43_200e9;
const DAY: f64 = 86_400e9;

/// What was met on the way, besides readings.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Counts {
    /// Rows of the table, those without a value among them.
    pub rows: u64,
    /// Rows whose value is blank or a word for nothing.
    pub blank: u64,
    /// Rows whose value says that the wire is open.
    pub open_circuit: u64,
    /// Rows whose value is a code stated by the user.
    pub code: u64,
    /// Rows written twice, with the same time and value; they count once.
    pub doubled: u64,
    /// Rows of names or units that came again.
    pub repeated_headings: u64,
    /// Rows that begin with `#`.
    pub comments: u64,
    /// How often the clock passed midnight.
    pub midnights: u64,
}

/// Takes parts in their order and grows the trace.
#[derive(Debug)]
pub(super) struct Collector<'options> {
    options: &'options ImportOptions,
    source: TimeSource,
    unit: TemperatureUnit,
    recording: Recording,
    counts: Counts,
    /// Lines of the file before the part at hand.
    lines_before: u64,
    before: Option<(f64, f64)>,
    last_value: Option<f64>,
    /// What the clock showed at the first row, in nanoseconds, and what midnights added since.
    clock_start: Option<f64>,
    midnight_offset: f64,
    suspect: Option<Suspect>,
    bad: BadRows,
}

/// A number that may be a code.
#[derive(Debug)]
struct Suspect {
    value: f64,
    row: u64,
    count: u64,
}

impl<'options> Collector<'options> {
    pub(super) fn new(
        options: &'options ImportOptions,
        source: TimeSource,
        unit: TemperatureUnit,
        lines_before: u64,
    ) -> Self {
        Self {
            options,
            source,
            unit,
            recording: Recording::new(),
            counts: Counts::default(),
            lines_before,
            before: None,
            last_value: None,
            clock_start: None,
            midnight_offset: 0.0,
            suspect: None,
            bad: BadRows { first: Vec::new(), count: 0 },
        }
    }

    /// How many lines of the file are behind.
    pub(super) const fn lines(&self) -> u64 {
        self.lines_before
    }

    /// Adds the rows of all `parts`.
    pub(super) fn add_all(&mut self, parts: &[Part]) -> Result<(), ImportError> {
        parts.iter().try_for_each(|part| self.add(part))
    }

    fn add(&mut self, part: &Part) -> Result<(), ImportError> {
        let row = |line: u64| self.lines_before + line + 1;
        if let Some(line) = part.nul {
            return Err(ImportError::NotText { row: row(line) });
        }
        if let Some(line) = part.long_cell {
            let limit = self.options.limits.cell_bytes;
            return Err(ImportError::CellTooLong { row: row(line), limit });
        }
        for bad in &part.bad {
            if self.bad.first.len() < SHOWN {
                self.bad.first.push(BadRow { row: row(bad.row), ..bad.clone() });
            }
        }
        self.bad.count += part.bad_count;
        if self.bad.count == 0 {
            if let Some((_, text)) = &part.open_date {
                return Err(time::date_question(text));
            }
            self.add_readings(part)?;
        }
        self.counts.repeated_headings += part.repeated_headings;
        self.counts.comments += part.comments;
        self.lines_before += part.lines;
        if self.lines_before > self.options.limits.rows {
            return Err(ImportError::TooLarge { what: "rows", limit: self.options.limits.rows });
        }
        Ok(())
    }

    fn add_readings(&mut self, part: &Part) -> Result<(), ImportError> {
        let codes_stated = match &self.options.missing_codes {
            MissingCodes::Stated(codes) => !codes.is_empty(),
            MissingCodes::Ask => false,
        };
        let mut missing = part.missing.as_slice();
        for (index, (&written, &value)) in part.at.iter().zip(&part.value).enumerate() {
            let at = self.seconds(written);
            self.counts.rows += 1;
            // Close to the last reading, and so a number, it can at most be a code that was stated.
            let follows = self.before.is_some_and(|(before, _)| at > before)
                && self.last_value.is_some_and(|last| (value - last).abs() <= JUMP);
            if (codes_stated || !follows) && !self.is_reading(part, index, at, &mut missing)? {
                continue;
            }
            self.before = Some((at, value));
            self.last_value = Some(value);
            let temperature = self.temperature(value, || self.row_of(part, index))?;
            let at = metrology::Duration::from_seconds(at);
            self.recording.push(Point { at, temperature })?;
        }
        Ok(())
    }

    /// Whether what stands at `index` of `part` is a reading; what else it is, is taken down.
    /// `missing` are the missing values not met yet.
    #[cold]
    fn is_reading(
        &mut self,
        part: &Part,
        index: usize,
        at: f64,
        missing: &mut &[(usize, MissingCause)],
    ) -> Result<bool, ImportError> {
        let value = part.value[index];
        let cause = match *missing {
            [(place, cause), rest @ ..] if *place == index => {
                *missing = rest;
                Some(*cause)
            }
            _ => None,
        };
        if self.stands_twice(part, index, at)? {
            self.counts.doubled += 1;
            return Ok(false);
        }
        self.before = Some((at, value));
        if let Some(cause) = cause.or_else(|| self.stands_for_missing(value)) {
            self.count(cause);
            let at = metrology::Duration::from_seconds(at);
            self.recording.note_missing(Missing { at, cause });
            return Ok(false);
        }
        if self.is_suspect(value) {
            let row = self.row_of(part, index);
            let suspect = self.suspect.get_or_insert(Suspect { value, row, count: 0 });
            suspect.count += 1;
            return Ok(false);
        }
        Ok(true)
    }

    /// Whether the row before had the same time and the same value.
    fn stands_twice(&self, part: &Part, index: usize, at: f64) -> Result<bool, ImportError> {
        let Some((before, value_before)) = self.before.filter(|(before, _)| at <= *before) else {
            return Ok(false);
        };
        let row = self.row_of(part, index);
        let value = part.value[index];
        if at < before {
            return Err(ImportError::Backwards { row, before, found: at });
        }
        let alike = same(value_before, value) || (value_before.is_nan() && value.is_nan());
        if !alike {
            return Err(ImportError::Doubled { row, at, before: value_before, found: value });
        }
        Ok(true)
    }

    /// The row of the reading at `index` of `part`.
    fn row_of(&self, part: &Part, index: usize) -> u64 {
        let mut line = index as u64;
        for unread in &part.unread {
            if *unread <= line {
                line += 1;
            }
        }
        self.lines_before + line + 1
    }

    #[expect(clippy::cast_precision_loss, reason = "rows are counted up to 10^8")]
    fn seconds(&mut self, written: f64) -> f64 {
        let rows = self.counts.rows;
        let row = || rows as f64;
        match &self.source {
            TimeSource::Counted { per_second } => row() / per_second,
            TimeSource::Stepped { first, step } => first + row() * step,
            TimeSource::Number { unit, .. } => unit.seconds(written),
            TimeSource::Stamp { date, .. } => {
                let start = *self.clock_start.get_or_insert(written);
                let mut at = written - start + self.midnight_offset;
                let back = self.before.map_or(0.0, |(before, _)| before * 1e9 - at);
                if date.is_none() && back > HALF_A_DAY {
                    self.midnight_offset += DAY;
                    self.counts.midnights += 1;
                    at += DAY;
                }
                at / 1e9
            }
        }
    }

    fn stands_for_missing(&self, value: f64) -> Option<MissingCause> {
        if value.abs() >= OPEN_CIRCUIT_FROM {
            return Some(MissingCause::OpenCircuit);
        }
        match &self.options.missing_codes {
            MissingCodes::Stated(codes) if codes.iter().any(|code| same(*code, value)) => {
                Some(MissingCause::Code)
            }
            MissingCodes::Stated(_) | MissingCodes::Ask => None,
        }
    }

    fn is_suspect(&self, value: f64) -> bool {
        self.options.missing_codes == MissingCodes::Ask
            && self.last_value.is_none_or(|last| (value - last).abs() > JUMP)
            && CODES.iter().any(|code| same(*code, value))
    }

    fn count(&mut self, cause: MissingCause) {
        match cause {
            MissingCause::Blank => self.counts.blank += 1,
            MissingCause::OpenCircuit => self.counts.open_circuit += 1,
            MissingCause::Code => self.counts.code += 1,
        }
    }

    fn temperature(&self, value: f64, row: impl Fn() -> u64) -> Result<Temperature, ImportError> {
        let no_emf = |cause| ImportError::NoSuchEmf {
            row: row(),
            found: value,
            unit: self.unit.to_string(),
            cause,
        };
        let temperature = match (self.unit, self.unit.millivolts(), self.options.wire) {
            (_, Some(factor), Some(wire)) => wire
                .letter
                .compensated(Voltage::from_millivolts(value * factor), wire.junction)
                .map_err(no_emf)?,
            (TemperatureUnit::Kelvin, ..) => Temperature::from_kelvin(value),
            (TemperatureUnit::Fahrenheit, ..) => Temperature::from_fahrenheit(value),
            _ => Temperature::from_celsius(value),
        };
        if temperature.kelvin() < 0.0 {
            let unit = self.unit.to_string();
            return Err(ImportError::TooCold { row: row(), found: value, unit });
        }
        Ok(temperature)
    }

    /// The trace, and what else was met.
    pub(super) fn finish(self) -> Result<(Trace, Counts), ImportError> {
        if self.bad.count > 0 {
            return Err(ImportError::BadRows(self.bad));
        }
        if let Some(Suspect { value, row, count }) = self.suspect {
            let rows = if count == 1 { "row" } else { "rows" };
            return Err(ImportError::Ask(Question {
                what: format!(
                    "{value} {} stands in {count} {rows} (first in row {row}) and looks like a \
                     code for a missing value",
                    self.unit
                ),
                choices: vec![
                    format!("a missing value (missing {value})"),
                    "a reading (missing none)".to_owned(),
                ],
                option: "missing",
            }));
        }
        Ok((self.recording.finish()?, self.counts))
    }
}

fn same(one: f64, other: f64) -> bool {
    one.to_bits() == other.to_bits()
}
