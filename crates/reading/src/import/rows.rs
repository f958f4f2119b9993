//! The rows of the table, read straight from their bytes.

use std::mem;

use crate::MissingCause;

use super::cells;
use super::clock::{self, DAY, Spelt};
use super::encoding;
use super::error::{BadRow, SHOWN};
use super::number::{leading_number, missing_word, number};
use super::options::{DateOrder, Delimiter, Encoding};
use super::sniff::without_return;
use super::time::TimeSource;

/// Where in a row what is wanted stands.
#[derive(Clone, Debug)]
pub(super) struct Layout {
    pub(super) delimiter: Delimiter,
    pub(super) line_end: u8,
    pub(super) encoding: Encoding,
    pub(super) time: TimeSource,
    pub(super) value: usize,
    pub(super) value_decimal: u8,
    /// Cells that a row has at least and at most; blank ones may follow.
    pub(super) least: usize,
    pub(super) most: usize,
    pub(super) cell_bytes: usize,
    /// The rows of names and of units, should they come again.
    pub(super) headings: Vec<Vec<u8>>,
    /// How columns are called in messages.
    pub(super) labels: Vec<String>,
}

/// What some rows held.
#[derive(Clone, Debug, Default)]
pub(super) struct Part {
    /// The time of each reading: in the unit of its column, or nanoseconds of a clock.
    pub(super) at: Vec<f64>,
    /// Its value as written; not a number where it is missing.
    pub(super) value: Vec<f64>,
    /// Why a value is missing, by its index.
    pub(super) missing: Vec<(usize, MissingCause)>,
    /// Lines that held no reading, counted from 0.
    pub(super) unread: Vec<u64>,
    pub(super) lines: u64,
    pub(super) bad: Vec<BadRow>,
    pub(super) bad_count: u64,
    pub(super) repeated_headings: u64,
    pub(super) comments: u64,
    /// A line whose date can be read in two ways.
    pub(super) open_date: Option<(u64, String)>,
    pub(super) nul: Option<u64>,
    pub(super) long_cell: Option<u64>,
}

/// What a row held.
enum Row {
    Reading(f64, f64),
    Missing(f64, MissingCause),
    Blank,
    Heading,
    Comment,
    OpenDate(String),
    Bad(Option<usize>, String),
}

impl Layout {
    /// Reads all rows of `text`, which begins and ends at a row's edge, into `part`.
    pub(super) fn read(&self, text: &[u8], part: &mut Part) {
        part.clear();
        let wanted = self.wanted(text);
        let has_nul = memchr::memchr(0, text).is_some();
        let mut start = 0;
        while start < text.len() {
            let tail = &text[start..];
            let end = memchr::memchr(self.line_end, tail).unwrap_or(tail.len());
            let line = without_return(&tail[..end]);
            if has_nul && part.nul.is_none() && line.contains(&0) {
                part.nul = Some(part.lines);
            }
            match wanted.as_ref().and_then(|wanted| self.quick(line, wanted)) {
                Some([at, value]) => part.push(at, value),
                None => self.slow(line, part),
            }
            part.lines += 1;
            start += end + 1;
        }
    }

    /// The columns to read without cutting rows, in their order: column, decimal sign, place.
    fn wanted(&self, text: &[u8]) -> Option<Vec<(usize, u8, usize)>> {
        let delimiter = self.delimiter.byte();
        let whole = matches!(self.delimiter, Delimiter::Blank | Delimiter::Nothing);
        if whole || memchr::memchr(b'"', text).is_some() {
            return None;
        }
        let mut wanted = vec![(self.value, self.value_decimal, 1)];
        match &self.time {
            TimeSource::Number { column, decimal, .. } => wanted.push((*column, decimal.byte(), 0)),
            TimeSource::Counted { .. } | TimeSource::Stepped { .. } => {}
            TimeSource::Stamp { .. } => return None,
        }
        wanted.sort_unstable();
        wanted.iter().all(|(_, decimal, _)| *decimal != delimiter).then_some(wanted)
    }

    /// The time and the value of an ordinary row; none where it needs a closer look.
    fn quick(&self, line: &[u8], wanted: &[(usize, u8, usize)]) -> Option<[f64; 2]> {
        let delimiter = self.delimiter.byte();
        let mut found = [0.0; 2];
        let mut rest = line;
        let mut column = 0;
        for &(wanted_column, decimal, place) in wanted {
            while column < wanted_column {
                let end = rest.iter().position(|byte| *byte == delimiter)?;
                rest = &rest[end + 1..];
                column += 1;
            }
            rest = without_blanks(rest);
            let (value, used) = leading_number(rest, decimal)?;
            rest = without_blanks(&rest[used..]);
            if rest.first().is_some_and(|byte| *byte != delimiter) {
                return None;
            }
            found[place] = value;
        }
        let width = column + 1 + rest.iter().filter(|byte| **byte == delimiter).count();
        let ordinary = width >= self.least && width <= self.most && line.len() <= self.cell_bytes;
        ordinary.then_some(found)
    }

    #[cold]
    fn slow(&self, line: &[u8], part: &mut Part) {
        match self.row(line, part) {
            Row::Reading(at, value) => part.push(at, value),
            Row::Missing(at, cause) => {
                part.missing.push((part.value.len(), cause));
                part.push(at, f64::NAN);
            }
            Row::Blank => part.unread.push(part.lines),
            Row::Heading => {
                part.repeated_headings += 1;
                part.unread.push(part.lines);
            }
            Row::Comment => {
                part.comments += 1;
                part.unread.push(part.lines);
            }
            Row::OpenDate(text) => {
                part.unread.push(part.lines);
                let line = part.lines;
                part.open_date.get_or_insert((line, text));
            }
            Row::Bad(column, what) => {
                part.unread.push(part.lines);
                part.bad_count += 1;
                if part.bad.len() < SHOWN {
                    let column = column.map(|index| self.labels[index].clone());
                    part.bad.push(BadRow { row: part.lines, column, what });
                }
            }
        }
    }

    fn row(&self, line: &[u8], part: &mut Part) -> Row {
        if line.trim_ascii().is_empty() {
            return Row::Blank;
        }
        if self.headings.iter().any(|heading| heading == line) {
            return Row::Heading;
        }
        if line.starts_with(b"#") {
            return Row::Comment;
        }
        let mut cells = Vec::new();
        if cells::cut(line, self.delimiter, &mut cells).is_err() {
            return Row::Bad(None, "a quote is opened and not closed on the row".to_owned());
        }
        if line.len() > self.cell_bytes && cells.iter().any(|cell| cell.len() > self.cell_bytes) {
            let at = part.lines;
            part.long_cell.get_or_insert(at);
            return Row::Blank;
        }
        let Some(last) = cells.iter().rposition(|cell| !cell.is_empty()) else { return Row::Blank };
        if cells.len() < self.least || last >= self.most {
            return Row::Bad(None, self.width_differs(line, cells.len()));
        }
        let at = match self.time_of(&cells) {
            Ok(at) => at,
            Err(row) => return row,
        };
        let cell = cells[self.value];
        if let Some(value) = number(cell, self.value_decimal) {
            return Row::Reading(at, value);
        }
        match missing_word(cell) {
            Some(cause) => Row::Missing(at, cause),
            None => self.no_number(self.value, cell),
        }
    }

    fn width_differs(&self, line: &[u8], found: usize) -> String {
        if line.starts_with(b"Channels") || line.starts_with(b"***") {
            return "a second header block begins here; cut the file in two".to_owned();
        }
        let expected = if self.least == self.most {
            self.least.to_string()
        } else {
            format!("{} to {}", self.least, self.most)
        };
        format!("it has {found} cells, and the table has {expected}")
    }

    fn no_number(&self, column: usize, cell: &[u8]) -> Row {
        if cell.is_empty() {
            return Row::Bad(Some(column), "it is blank".to_owned());
        }
        Row::Bad(Some(column), format!("`{}` is no number", self.clipped(cell)))
    }

    fn clipped(&self, cell: &[u8]) -> String {
        let text = encoding::text(&cell[..cell.len().min(200)], self.encoding);
        text.chars().filter(|letter| !letter.is_control()).take(40).collect()
    }

    /// The time of a row, in the unit of its column or in nanoseconds.
    fn time_of(&self, cells: &[&[u8]]) -> Result<f64, Row> {
        match &self.time {
            TimeSource::Counted { .. } | TimeSource::Stepped { .. } => Ok(0.0),
            TimeSource::Number { column, decimal, .. } => {
                let cell = cells[*column];
                if cell.is_empty() && cells[self.value].is_empty() {
                    return Err(Row::Blank);
                }
                let value = number(cell, decimal.byte()).filter(|value| value.is_finite());
                value.ok_or_else(|| self.no_number(*column, cell))
            }
            TimeSource::Stamp { date, clock, order, first_day } => {
                let day = match date {
                    Some(date) => self.day_of(*date, cells[*date], *order, *first_day)?,
                    None => *first_day,
                };
                let told = clock::stamp(cells[*clock]).and_then(|stamp| stamp.clock);
                let Some(since_midnight) = told else { return Err(self.no_time(*clock, cells)) };
                #[expect(clippy::cast_precision_loss, reason = "104 days of nanoseconds are exact")]
                let nanoseconds = ((day - first_day) * DAY + since_midnight) as f64;
                Ok(nanoseconds)
            }
        }
    }

    fn day_of(
        &self,
        column: usize,
        cell: &[u8],
        order: Option<DateOrder>,
        first_day: i64,
    ) -> Result<i64, Row> {
        let spelt = clock::stamp(cell).and_then(|stamp| stamp.date);
        let Some(spelt) = spelt else { return Err(self.no_time(column, &[cell])) };
        let bad = || Row::Bad(Some(column), format!("`{}` is no date", self.clipped(cell)));
        if let Some(order) = order {
            return spelt.date(order).map(clock::day_number).ok_or_else(bad);
        }
        let day = spelt.date(DateOrder::DayFirst).map(clock::day_number);
        let day = day.or_else(|| spelt.date(DateOrder::MonthFirst).map(clock::day_number));
        match (spelt, day) {
            (Spelt::Either { .. }, Some(day)) if day != first_day => {
                Err(Row::OpenDate(self.clipped(cell)))
            }
            (_, day) => day.ok_or_else(bad),
        }
    }

    fn no_time(&self, column: usize, cells: &[&[u8]]) -> Row {
        if cells.iter().all(|cell| cell.is_empty()) {
            return Row::Blank;
        }
        let cell = cells.get(column).or(cells.first()).copied().unwrap_or_default();
        Row::Bad(Some(column), format!("`{}` is no time", self.clipped(cell)))
    }
}

impl Part {
    /// Forgets everything but the room for readings.
    fn clear(&mut self) {
        let (mut at, mut value) = (mem::take(&mut self.at), mem::take(&mut self.value));
        at.clear();
        value.clear();
        *self = Self { at, value, ..Self::default() };
    }

    fn push(&mut self, at: f64, value: f64) {
        self.at.push(at);
        self.value.push(value);
    }
}

fn without_blanks(text: &[u8]) -> &[u8] {
    match text.first() {
        Some(b' ') => text.trim_ascii_start(),
        _ => text,
    }
}
