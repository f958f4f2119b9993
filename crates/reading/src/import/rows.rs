//! The rows of the table, read straight from their bytes.

use std::mem;

use crate::MissingCause;

use super::cells;
use super::clock::{self, DAY, Spelt};
use super::encoding;
use super::error::{BadRow, SHOWN};
use super::number::{EACH_BYTE, leading_number, missing_word, number, short_number};
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

/// A column to read without cutting rows.
struct Wanted {
    column: usize,
    decimal: u8,
    is_time: bool,
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
        self.read_rows(text, self.wanted(text).as_deref(), part);
    }

    /// Reads all rows; the `wanted` columns of the ordinary ones without cutting rows.
    fn read_rows(&self, text: &[u8], wanted: Option<&[Wanted]>, part: &mut Part) {
        part.clear();
        let mut rest = text;
        while !rest.is_empty() {
            let quick = wanted.and_then(|wanted| {
                let short = self.quick(rest, wanted, short_number);
                short.or_else(|| self.quick_with_long_numbers(rest, wanted))
            });
            let end = match quick {
                Some(([at, value], end)) => {
                    part.push(at, value);
                    end
                }
                None => self.slow(rest, part),
            };
            part.lines += 1;
            rest = rest.get(end + 1..).unwrap_or_default();
        }
    }

    /// The columns to read without cutting rows, in their order.
    fn wanted(&self, text: &[u8]) -> Option<Vec<Wanted>> {
        let delimiter = self.delimiter.byte();
        let whole = matches!(self.delimiter, Delimiter::Blank | Delimiter::Nothing);
        if whole || memchr::memchr2(b'"', 0, text).is_some() {
            return None;
        }
        let mut wanted =
            vec![Wanted { column: self.value, decimal: self.value_decimal, is_time: false }];
        match &self.time {
            TimeSource::Number { column, decimal, .. } => {
                let (column, decimal) = (*column, decimal.byte());
                wanted.push(Wanted { column, decimal, is_time: true });
            }
            TimeSource::Counted { .. } | TimeSource::Stepped { .. } => {}
            TimeSource::Stamp { .. } => return None,
        }
        wanted.sort_unstable_by_key(|it| it.column);
        let like_a_row =
            |heading: &Vec<u8>| self.quick_with_long_numbers(heading, &wanted).is_some();
        let apart = wanted.is_sorted_by(|before, after| before.column < after.column)
            && wanted.iter().all(|it| it.decimal != delimiter);
        (apart && !self.headings.iter().any(like_a_row)).then_some(wanted)
    }

    /// The time and the value of the row that `text` opens with, and where it ends, if it is an
    /// ordinary one; none where it needs a closer look.
    #[inline]
    fn quick(
        &self,
        text: &[u8],
        wanted: &[Wanted],
        number: impl Fn(&[u8], u8) -> Option<(f64, usize)>,
    ) -> Option<([f64; 2], usize)> {
        let delimiter = self.delimiter.byte();
        let mut found = [0.0; 2];
        let mut rest = text;
        let mut column = 0;
        for it in wanted {
            while column < it.column {
                let (byte, after) = rest.split_first()?;
                if *byte == self.line_end {
                    return None;
                }
                column += usize::from(*byte == delimiter);
                rest = after;
            }
            rest = without_spaces(rest);
            let (value, used) = number(rest, it.decimal)?;
            found[usize::from(it.is_time)] = value;
            rest = without_spaces(rest.get(used..)?);
            match rest {
                [byte, after @ ..] if *byte == delimiter => {
                    column += 1;
                    rest = after;
                }
                _ if self.is_end(rest) => {}
                _ => return None,
            }
        }
        let (delimiters, bytes) = delimiters_in_line(rest, delimiter, self.line_end);
        let width = column + 1 + delimiters;
        let end = text.len() - rest.len() + bytes;
        let [value, time] = found;
        let ordinary = width >= self.least && width <= self.most && end <= self.cell_bytes;
        (ordinary && time.is_finite() && text[0] != b'#').then_some(([time, value], end))
    }

    /// As [`Layout::quick`], for numbers of any length.
    #[inline(never)]
    fn quick_with_long_numbers(&self, text: &[u8], wanted: &[Wanted]) -> Option<([f64; 2], usize)> {
        self.quick(text, wanted, leading_number)
    }

    /// Whether the row ends where `text` begins.
    fn is_end(&self, text: &[u8]) -> bool {
        match text {
            [] | [b'\r'] => true,
            [b'\r', byte, ..] if *byte == self.line_end => true,
            [byte, ..] => *byte == self.line_end,
        }
    }

    /// Reads the row that `text` opens with, and tells where it ends.
    #[cold]
    fn slow(&self, text: &[u8], part: &mut Part) -> usize {
        let end = memchr::memchr(self.line_end, text).unwrap_or(text.len());
        let line = without_return(&text[..end]);
        if part.nul.is_none() && memchr::memchr(0, line).is_some() {
            part.nul = Some(part.lines);
        }
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
        end
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

fn without_spaces(mut text: &[u8]) -> &[u8] {
    while let [b' ', rest @ ..] = text {
        text = rest;
    }
    text
}

/// How many delimiters and how many bytes stand in `text` before the line's end, eight bytes
/// looked at together.
#[inline]
fn delimiters_in_line(text: &[u8], delimiter: u8, line_end: u8) -> (usize, usize) {
    let (mut count, mut rest) = (0, text);
    while let Some((eight, after)) = rest.split_first_chunk() {
        let ends = places_of(line_end, *eight);
        let before_end = ends.wrapping_sub(1) & !ends;
        let delimiters = (places_of(delimiter, *eight) & before_end) >> 7;
        // Multiplied by ones, the ones of all bytes add up in the top byte.
        count += (delimiters.wrapping_mul(EACH_BYTE) >> 56) as usize;
        if ends != 0 {
            return (count, text.len() - rest.len() + (ends.trailing_zeros() / 8) as usize);
        }
        rest = after;
    }
    let line = rest.iter().take_while(|byte| **byte != line_end);
    let bytes = line.clone().count();
    (count + line.filter(|byte| **byte == delimiter).count(), text.len() - rest.len() + bytes)
}

/// Which of `eight` bytes are `byte`: the top bits of those, the first byte lowest.
#[inline]
fn places_of(byte: u8, eight: [u8; 8]) -> u64 {
    const BELOW_TOP: u64 = EACH_BYTE * 0x7f;
    let others = u64::from_le_bytes(eight) ^ (EACH_BYTE * u64::from(byte));
    !(((others & BELOW_TOP) + BELOW_TOP) | others | BELOW_TOP)
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;
    use proptest::sample::select;

    use crate::import::options::{Decimal, TimeUnit};

    use super::*;

    fn layout(delimiter: Delimiter, line_end: u8, decimal: Decimal, columns: [usize; 3]) -> Layout {
        let [time, value, least] = columns;
        let counted = TimeSource::Counted { per_second: 1.0 };
        let unit = TimeUnit::Seconds;
        let number = TimeSource::Number { column: time, unit, unit_stated: true, decimal };
        Layout {
            delimiter,
            line_end,
            encoding: Encoding::Utf8,
            time: if time == value { counted } else { number },
            value,
            value_decimal: decimal.byte(),
            least: least.max(time + 1).max(value + 1),
            most: 5,
            cell_bytes: 60,
            headings: vec![b"Time,12".to_vec()],
            labels: (1..=5).map(|number| number.to_string()).collect(),
        }
    }

    /// Rows as loggers write them, and as they never should.
    fn rows() -> impl Strategy<Value = String> {
        let cell = prop_oneof![
            12 => r"[-+]?[0-9]{1,5}([.,][0-9]{0,5})?",
            2 => r"[-+]?[0-9]{0,10}[.,]?[0-9]{0,10}([eE][-+]?[0-9]{0,3})?",
            1 => r"NaN|OL|Time|#|é|[ \t\r.,:-]{1,3}|\PC{0,70}",
        ];
        let blanks = prop_oneof![6 => "", 1 => "[ \t]{0,2}"];
        let cell = (blanks.clone(), cell, blanks)
            .prop_map(|(before, cell, after)| before + &cell + &after);
        let end = prop_oneof![8 => "[,;\t]", 4 => "\n", 1 => "\r\n", 1 => "\r|[,;\n]{2}"];
        let cells = proptest::collection::vec((cell, end), 0..40);
        cells.prop_map(|cells| cells.into_iter().map(|(cell, end)| cell + &end).collect())
    }

    proptest! {
        #[test]
        fn an_ordinary_row_read_quickly_gives_what_it_gives_cell_by_cell(
            text in rows(),
            delimiter in select(vec![Delimiter::Comma, Delimiter::Semicolon, Delimiter::Tab]),
            line_end in select(vec![b'\n', b'\r']),
            decimal in select(vec![Decimal::Point, Decimal::Comma]),
            columns in [0_usize..3, 0..3, 1..4],
        ) {
            let layout = layout(delimiter, line_end, decimal, columns);
            let (mut quickly, mut by_cells) = (Part::default(), Part::default());
            layout.read(text.as_bytes(), &mut quickly);
            layout.read_rows(text.as_bytes(), None, &mut by_cells);
            prop_assert_eq!(format!("{quickly:?}"), format!("{by_cells:?}"));
        }
    }

    #[test]
    fn a_blank_never_joins_two_rows() {
        let layout = layout(Delimiter::Comma, b'\n', Decimal::Point, [0, 1, 2]);
        let mut part = Part::default();
        layout.read(b"1,5 \n6,7\n2, \n8\n3,\t9\n4,1\t\n5,123.25\r\n6,17 ", &mut part);
        let found = format!("{:?} {:?} {:?}", part.at, part.value, part.unread);
        let expected =
            "[1.0, 6.0, 2.0, 3.0, 4.0, 5.0, 6.0] [5.0, 7.0, NaN, 9.0, 1.0, 123.25, 17.0] [3]";
        assert_eq!(found, expected);
    }
}
