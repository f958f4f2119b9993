//! A logger's file to a trace: what it is taken for, and its readings.
//!
//! The first part of a file decides what it is taken for; then its rows are read straight from
//! their bytes, in pieces, so that a file larger than memory can be read. Where two readings of a
//! file are possible, [`ImportError::Ask`] names them and the option that decides.

mod options;
mod error;
mod encoding;
mod sniff;
mod cells;
mod number;
mod clock;
mod unit;
mod table;
mod columns;
mod time;
mod rows;
mod collect;
mod taken;
mod line;

use std::io::{self, Read};

use rayon::prelude::*;

use crate::Trace;

use columns::{ChosenBy as By, Column};
use encoding::Utf16;
use rows::{Layout, Part};
use sniff::Look;
use table::Table;
use time::TimeSource;
use unit::Unit;

pub use collect::Counts;
pub use columns::ChosenBy;
pub use error::{BadRow, BadRows, ColumnList, ImportError, Question};
pub use line::{Cell, cell, row_cells};
pub use options::{
    ChannelChoice, DateOrder, Decimal, Delimiter, Encoding, ImportOptions, Limits, LineEnd,
    MissingCodes, TemperatureUnit, TimeUnit, UnknownWord, Wire,
};
pub use taken::{ChannelTaken, Origin, TakenFor, TimeTaken};

/// A trace, and what its file was taken for.
#[derive(Clone, Debug, PartialEq)]
pub struct Imported {
    /// The readings.
    pub trace: Trace,
    /// What the file was taken for.
    pub taken_for: TakenFor,
}

/// Bytes looked at to find out what the file is.
const HEAD_BYTES: usize = 256 * 1024;

/// Bytes read at a time.
const CHUNK_BYTES: usize = 2 * 1024 * 1024;

/// Bytes that one core reads at a time.
const SLICE_BYTES: usize = 256 * 1024;

/// Reads a logger's file.
///
/// The file is not held in memory: beside the trace, the need is some ten megabytes.
///
/// # Errors
///
/// When the file holds no trace, when it can be read in two ways, and when a row of it cannot be
/// read. Then nothing is imported.
///
/// # Examples
///
/// ```
/// use reading::import::{ImportOptions, import};
///
/// let file = "Time (s);T1 (°C)\n0;23,9\n5;36,6\n10;62,0\n";
/// let imported = import(file.as_bytes(), &ImportOptions::default())?;
/// assert_eq!(imported.trace.len(), 3);
/// assert_eq!(
///     imported.taken_for.to_string(),
///     "UTF-8 text, rows ended by LF, 2 columns with semicolons between them, names in row 1, \
///      3 rows from row 2 on; time from column 1 `Time`, with decimal comma, in seconds; \
///      temperature from column 2 `T1`, the only one in a unit of temperature, with decimal \
///      comma, in °C"
/// );
/// # Ok::<(), reading::import::ImportError>(())
/// ```
pub fn import(file: impl Read + Send, options: &ImportOptions) -> Result<Imported, ImportError> {
    let limit = options.limits.bytes;
    let mut file = file.take(limit.saturating_add(1));
    let mut head = Vec::new();
    fill(&mut file, &mut head, HEAD_BYTES)?;
    encoding::refuse_other_kinds(&head)?;
    let (encoding, mark) = encoding::sniff(&head, options.encoding);
    let mut bytes = (&head[mark..]).chain(&mut file);
    let imported = match encoding {
        Encoding::Utf16Le | Encoding::Utf16Be => {
            import_text(&mut Utf16::new(&mut bytes, encoding), encoding, options)
        }
        Encoding::Utf8 | Encoding::Utf8Mark | Encoding::Latin1 => {
            import_text(&mut bytes, encoding, options)
        }
    };
    if file.limit() == 0 {
        return Err(ImportError::TooLarge { what: "bytes", limit });
    }
    imported
}

/// Reads until `into` holds `size` bytes or the file ends; tells whether it has ended.
fn fill(file: &mut impl Read, into: &mut Vec<u8>, size: usize) -> io::Result<bool> {
    let room = size.saturating_sub(into.len());
    into.reserve_exact(room);
    file.by_ref().take(room as u64).read_to_end(into)?;
    Ok(into.len() < size)
}

fn import_text(
    file: &mut (impl Read + Send),
    encoding: Encoding,
    options: &ImportOptions,
) -> Result<Imported, ImportError> {
    let mut head = Vec::new();
    let whole = fill(file, &mut head, HEAD_BYTES)?;
    if let Some(at) = memchr::memchr(0, &head) {
        let row = 1 + memchr::memchr_iter(b'\n', &head[..at]).count() as u64;
        return Err(ImportError::NotText { row });
    }
    let line_end = sniff::line_end(&head);
    let lines = sniff::lines(&head, line_end, whole);
    if lines.is_empty() && !whole {
        let limit = options.limits.cell_bytes;
        return Err(ImportError::CellTooLong { row: 1, limit });
    }
    let table = table::find(&lines, encoding, options)?;
    let columns = columns::columns(&table);
    let plan = plan(&table, &columns, options)?;
    let layout = layout(&table, &columns, &plan, (line_end, encoding), options);
    let mut taken_for = plan.taken_for(&table, &columns, line_end, encoding);

    let lines_before = table.first_line as u64;
    let mut collector =
        collect::Collector::new(options, plan.time.clone(), plan.unit, lines_before);
    let start = table.start;
    read_rows(&mut (&head[start..]).chain(file), &layout, options, &mut collector)?;
    let (trace, counts) = collector.finish()?;
    taken_for.counts = counts;
    Ok(Imported { trace, taken_for })
}

/// Reads all rows, a chunk at a time, each on all cores; meanwhile the chunk before is collected
/// and the next one fetched.
fn read_rows(
    file: &mut (impl Read + Send),
    layout: &Layout,
    options: &ImportOptions,
    collector: &mut collect::Collector<'_>,
) -> Result<(), ImportError> {
    let (mut chunk, mut next) = (Vec::new(), Vec::new());
    let (mut parts, mut parts_before) = (Vec::new(), Vec::new());
    let mut ended = fill(file, &mut chunk, CHUNK_BYTES)?;
    loop {
        let edge = match memchr::memrchr(layout.line_end, &chunk) {
            _ if ended => chunk.len(),
            Some(last) => last + 1,
            None => {
                collector.add_all(&parts_before)?;
                let limit = options.limits.cell_bytes;
                return Err(ImportError::CellTooLong { row: collector.lines() + 1, limit });
            }
        };
        next.clear();
        next.extend_from_slice(&chunk[edge..]);
        let ((), fetched) = rayon::join(
            || read_parts(&chunk[..edge], layout, &mut parts),
            || {
                collector.add_all(&parts_before)?;
                Ok::<bool, ImportError>(ended || fill(file, &mut next, CHUNK_BYTES)?)
            },
        );
        let last = ended;
        ended = fetched?;
        if last {
            return collector.add_all(&parts);
        }
        std::mem::swap(&mut parts, &mut parts_before);
        std::mem::swap(&mut chunk, &mut next);
    }
}

/// Reads `text` into `parts`, whose room is used again.
fn read_parts(text: &[u8], layout: &Layout, parts: &mut Vec<Part>) {
    let slices = slices(text, layout.line_end);
    parts.resize_with(slices.len(), Part::default);
    parts.par_iter_mut().zip(slices).for_each(|(part, slice)| layout.read(slice, part));
}

/// `text` in pieces that end at the edge of a row.
fn slices(text: &[u8], line_end: u8) -> Vec<&[u8]> {
    let mut slices = Vec::new();
    let mut rest = text;
    while !rest.is_empty() {
        let from = rest.len().min(SLICE_BYTES);
        let edge = memchr::memchr(line_end, &rest[from..]).map_or(rest.len(), |at| from + at + 1);
        let (slice, after) = rest.split_at(edge);
        slices.push(slice);
        rest = after;
    }
    slices
}

/// What was decided about a table.
#[derive(Clone, Debug)]
struct Plan {
    time: TimeSource,
    value: usize,
    value_decimal: Decimal,
    by: By,
    unit: TemperatureUnit,
    unit_from: Origin,
    /// Stated where the unit is one of voltage.
    wire: Option<Wire>,
}

fn plan(
    table: &Table<'_>,
    columns: &[Column],
    options: &ImportOptions,
) -> Result<Plan, ImportError> {
    let mut taken = time::not_temperature(columns);
    let time = match time::find(table, columns, options) {
        Ok(time) => time,
        // Where no column is a temperature, that is the thing to say first.
        Err(ImportError::Ask(question)) => {
            return match columns::temperature(columns, &taken, options) {
                Err(error @ ImportError::NoTemperature { .. }) => Err(error),
                _ => Err(ImportError::Ask(question)),
            };
        }
        Err(error) => return Err(error),
    };
    taken.extend(time.columns());
    let (column, by) = columns::temperature(columns, &taken, options)?;
    let value_decimal = columns::decimal(table, column, options)?;
    let (unit, unit_from) = match (&column.unit, options.unit) {
        (_, Some(unit)) => (unit, Origin::Stated),
        (Some(Unit::Temperature(unit)), None) => (*unit, Origin::Stated),
        _ => (assumed_unit(table, column, value_decimal)?, Origin::Assumed),
    };
    if unit.millivolts().is_some() && options.wire.is_none() {
        return Err(ImportError::Ask(Question {
            what: format!("column {column} holds a voltage in {unit} of a thermocouple not stated"),
            choices: vec!["its letter and the temperature of its junction".to_owned()],
            option: "thermocouple` and `junction",
        }));
    }
    let wire = options.wire.filter(|_| unit.millivolts().is_some());
    Ok(Plan { time, value: column.index, value_decimal, by, unit, unit_from, wire })
}

/// With no unit stated, numbers are degrees Celsius, unless they begin like a room in kelvin.
fn assumed_unit(
    table: &Table<'_>,
    column: &Column,
    decimal: Decimal,
) -> Result<TemperatureUnit, ImportError> {
    const ROOM_IN_KELVIN: std::ops::RangeInclusive<f64> = 250.0..=330.0;
    let cells = table.body.sample.iter().map(|row| row[column.index]);
    let mut values = cells.filter_map(|cell| number::number(cell, decimal.byte()));
    match values.next() {
        Some(first) if ROOM_IN_KELVIN.contains(&first) => Err(ImportError::Ask(Question {
            what: format!("column {column} has no unit and begins with {first}"),
            choices: vec![
                "kelvin, a room's temperature (K)".to_owned(),
                "degrees Celsius, a hot start (C)".to_owned(),
                "degrees Fahrenheit (F)".to_owned(),
            ],
            option: "unit",
        })),
        _ => Ok(TemperatureUnit::Celsius),
    }
}

fn layout(
    table: &Table<'_>,
    columns: &[Column],
    plan: &Plan,
    (line_end, encoding): (LineEnd, Encoding),
    options: &ImportOptions,
) -> Layout {
    let headings = [&table.names, &table.units].into_iter().flatten();
    let headings: Vec<Vec<u8>> = headings.map(|row| row.text.to_vec()).collect();
    let counts = |look: &Look| *look == Look::Number || look.is_time();
    let least = table.body.looks.iter().rposition(counts).map_or(1, |last| last + 1);
    let named = table.names.as_ref().map_or(0, |names| names.cells.len());
    let mut labels: Vec<String> = columns.iter().map(Column::to_string).collect();
    labels.extend((labels.len()..named).map(|index| (index + 1).to_string()));
    Layout {
        delimiter: table.body.delimiter,
        line_end: line_end.byte(),
        encoding,
        time: plan.time.clone(),
        value: plan.value,
        value_decimal: plan.value_decimal.byte(),
        least,
        most: table.body.width.max(named),
        cell_bytes: options.limits.cell_bytes,
        headings,
        labels,
    }
}

impl Plan {
    fn taken_for(
        &self,
        table: &Table<'_>,
        columns: &[Column],
        line_end: LineEnd,
        encoding: Encoding,
    ) -> TakenFor {
        let column = &columns[self.value];
        let row = |line: usize| line as u64 + 1;
        TakenFor {
            encoding,
            line_end,
            delimiter: table.body.delimiter,
            header_blocks: table.header_blocks,
            names_row: table.names.as_ref().map(|names| row(names.line)),
            units_row: table.units.as_ref().map(|units| row(units.line)),
            first_row: row(table.first_line),
            columns: table.body.width,
            time: self.time_taken(table, columns, encoding),
            channel: ChannelTaken {
                number: self.value + 1,
                name: column.name.clone(),
                by: self.by,
                unit: self.unit,
                unit_from: self.unit_from,
                wire: self.wire,
                decimal: self.value_decimal,
            },
            counts: Counts::default(),
        }
    }

    fn time_taken(&self, table: &Table<'_>, columns: &[Column], encoding: Encoding) -> TimeTaken {
        let label = |index: usize| match columns[index].name.as_str() {
            "" => (index + 1).to_string(),
            name => format!("{} `{name}`", index + 1),
        };
        match &self.time {
            TimeSource::Counted { per_second } => TimeTaken::Counted { per_second: *per_second },
            TimeSource::Stepped { step, .. } => TimeTaken::Stepped { step_seconds: *step },
            TimeSource::Number { column, unit, unit_stated, decimal } => TimeTaken::Number {
                column: label(*column),
                unit: *unit,
                unit_from: if *unit_stated { Origin::Stated } else { Origin::Assumed },
                decimal: *decimal,
            },
            TimeSource::Stamp { order, date, .. } => {
                let used = self.time.columns();
                let first = |index: &usize| {
                    let cell = table.body.sample.first().map_or(&b""[..], |row| row[*index]);
                    encoding::text(cell, encoding).into_owned()
                };
                TimeTaken::Clock {
                    columns: used
                        .iter()
                        .map(|index| label(*index))
                        .collect::<Vec<_>>()
                        .join(" and "),
                    first: used.iter().map(first).collect::<Vec<_>>().join(" "),
                    date_order: order.filter(|_| date.is_some()),
                }
            }
        }
    }
}
