//! Where the table begins, and what stands above it.

use std::borrow::Cow;

use super::cells;
use super::encoding;
use super::error::{ImportError, Question};
use super::number::number;
use super::options::{Delimiter, Encoding, ImportOptions};
use super::sniff::{self, Body, Line, Look};
use super::unit::{self, Unit};

/// The table of a file, as its first part shows it.
#[derive(Clone, Debug)]
pub(super) struct Table<'head> {
    pub(super) body: Body<'head>,
    /// The line of its first row, counted from 0, and the byte that row begins at.
    pub(super) first_line: usize,
    pub(super) start: usize,
    pub(super) names: Option<HeaderRow<'head>>,
    pub(super) units: Option<HeaderRow<'head>>,
    /// Blocks closed by `***End_of_Header***`.
    pub(super) header_blocks: usize,
    /// What those blocks state for each column.
    pub(super) block_units: Vec<String>,
    pub(super) block_first_times: Vec<Option<f64>>,
    pub(super) block_steps: Vec<Option<f64>>,
}

/// A row of names or of units.
#[derive(Clone, Debug)]
pub(super) struct HeaderRow<'head> {
    /// Its line, counted from 0.
    pub(super) line: usize,
    pub(super) text: &'head [u8],
    pub(super) cells: Vec<String>,
}

const END_OF_HEADER: &[u8] = b"***End_of_Header***";

/// A header of this form is this many lines long at most.
const BLOCK_LINES_MAX: usize = 60;

/// Finds the table in `lines`, the lines of the head.
pub(super) fn find<'head>(
    lines: &[Line<'head>],
    encoding: Encoding,
    options: &ImportOptions,
) -> Result<Table<'head>, ImportError> {
    let skipped = options.skip_rows.min(lines.len());
    let blocks_end = blocks_end(&lines[skipped..]).map(|(end, count)| (end + skipped, count));
    let (above, header_blocks) = blocks_end.unwrap_or((skipped, 0));
    let stated = options.delimiter.or_else(|| stated_delimiter(&lines[skipped..above]));
    let mut body = sniff::body(&lines[above..], stated, options)?;
    let mut first = first_row(&lines[above..], &body)? + above;
    let mut headings = headings(&lines[above..first], above, body.delimiter, encoding);

    if stated.is_none() && sniff::commas_are_open(&body) {
        match headings.0.as_ref().map(|names| names.cells.len()) {
            Some(width) if width == body.width => {}
            Some(1) => {
                body = sniff::body(&lines[above..], Some(Delimiter::Nothing), options)?;
                first = first_row(&lines[above..], &body)? + above;
                headings = self::headings(&lines[above..first], above, body.delimiter, encoding);
            }
            _ => return Err(sniff::comma_question(&body)),
        }
    }
    let (names, units) = headings;
    if let Some(names) = &names {
        check_width(&body, names)?;
    }
    let block = &lines[skipped..above];
    let row = |key: &str| block_row(block, key, body.delimiter, encoding);
    let numbers = |cells: Vec<String>| cells.iter().map(|cell| any_number(cell)).collect();
    body.sample = rows(&lines[first..], &body);
    Ok(Table {
        first_line: first,
        start: lines[first].start,
        header_blocks,
        block_units: row("Y_Unit_Label"),
        block_first_times: numbers(row("X0")),
        block_steps: numbers(row("Delta_X")),
        names,
        units,
        body,
    })
}

/// The rows of the table in the head, those of another width left out.
fn rows<'head>(lines: &[Line<'head>], body: &Body<'_>) -> Vec<Vec<&'head [u8]>> {
    let cut = lines.iter().filter_map(|line| {
        let mut cells = Vec::new();
        cells::cut(line.text, body.delimiter, &mut cells).ok()?;
        (cells.len() == body.width).then_some(cells)
    });
    cut.collect()
}

/// Decimal commas between commas make twice as many cells as there are names.
fn check_width(body: &Body<'_>, names: &HeaderRow<'_>) -> Result<(), ImportError> {
    let named = names.cells.iter().rposition(|name| !name.is_empty()).map_or(0, |last| last + 1);
    if body.delimiter == Delimiter::Comma
        && named > 0
        && body.width > named
        && sniff::commas_are_open(body)
    {
        return Err(sniff::comma_question(body));
    }
    Ok(())
}

fn any_number(cell: &str) -> Option<f64> {
    number(cell.as_bytes(), b'.').or_else(|| number(cell.as_bytes(), b','))
}

/// Where the header blocks end, and how many there are. Data between two blocks parts them.
fn blocks_end(lines: &[Line<'_>]) -> Option<(usize, usize)> {
    let mut end = 0;
    let mut count = 0;
    loop {
        let next = lines[end..].iter().take(BLOCK_LINES_MAX);
        let Some(found) = next.clone().position(|line| line.text.starts_with(END_OF_HEADER)) else {
            return (count > 0).then_some((end, count));
        };
        let between = &lines[end..end + found];
        let keys =
            between.iter().filter(|line| line.text.first().is_some_and(u8::is_ascii_alphabetic));
        if count > 0 && !keys.clone().any(|line| line.text.starts_with(b"Channels")) {
            return Some((end, count));
        }
        end += found + 1;
        count += 1;
    }
}

/// The delimiter that a header block states.
fn stated_delimiter(block: &[Line<'_>]) -> Option<Delimiter> {
    block.iter().find_map(|line| {
        let rest = line.text.strip_prefix(b"Separator")?.trim_ascii();
        match rest {
            b"Tab" => Some(Delimiter::Tab),
            [.., b'C', b'o', b'm', b'm', b'a'] => Some(Delimiter::Comma),
            [.., b'S', b'e', b'm', b'i', b'c', b'o', b'l', b'o', b'n'] => {
                Some(Delimiter::Semicolon)
            }
            _ => None,
        }
    })
}

/// The cells of the last row of a header block that begins with `key`, the key among them.
fn block_row(
    block: &[Line<'_>],
    key: &str,
    delimiter: Delimiter,
    encoding: Encoding,
) -> Vec<String> {
    let mut cells = Vec::new();
    for line in block.iter().rev() {
        if line.text.starts_with(key.as_bytes())
            && cells::cut(line.text, delimiter, &mut cells).is_ok()
            && cells[0] == key.as_bytes()
        {
            return texts(&cells, encoding);
        }
    }
    Vec::new()
}

fn texts(cells: &[&[u8]], encoding: Encoding) -> Vec<String> {
    cells.iter().map(|cell| encoding::text(cell, encoding)).map(Cow::into_owned).collect()
}

/// The first row of the table: every cell looks like its column, and the next row's cells too.
/// Rows just above of which only a part fits are bad rows of the table, not names.
fn first_row(lines: &[Line<'_>], body: &Body<'_>) -> Result<usize, ImportError> {
    let mut found: Option<usize> = None;
    let mut cells = Vec::new();
    for (index, line) in lines.iter().enumerate() {
        if sniff::is_no_row(line.text) {
            continue;
        }
        let fits = cells::cut(line.text, body.delimiter, &mut cells).is_ok() && fits(&cells, body);
        match (found, fits) {
            (None, true) => found = Some(index),
            (Some(first), true) => return Ok(widened(lines, first, body)),
            (Some(_), false) => found = None,
            (None, false) => {}
        }
    }
    Err(ImportError::NoTable { seen: "rows of numbers stand alone in it".to_owned() })
}

fn fits(cells: &[&[u8]], body: &Body<'_>) -> bool {
    let mut filled = 0;
    for (cell, expected) in cells.iter().zip(&body.looks) {
        let look = Look::of(cell);
        let alike = match expected {
            Look::Number => matches!(look, Look::Number | Look::Blank | Look::Word),
            Look::Date | Look::Clock | Look::DateAndClock => {
                look == *expected || look == Look::Blank
            }
            Look::Blank | Look::Word | Look::Text => true,
        };
        if !alike {
            return false;
        }
        filled += usize::from(look == Look::Number);
    }
    filled > 0 && cells.len() + 1 >= body.width
}

/// The first row, moved up over rows whose first column fits and at least half of the rest.
fn widened(lines: &[Line<'_>], first: usize, body: &Body<'_>) -> usize {
    let Some(lead) = body.looks.iter().position(|look| *look == Look::Number || look.is_time())
    else {
        return first;
    };
    let mut start = first;
    let mut cells = Vec::new();
    while start > 0 {
        if cells::cut(lines[start - 1].text, body.delimiter, &mut cells).is_err()
            || cells.get(lead).map(|cell| Look::of(cell)) != Some(body.looks[lead])
        {
            break;
        }
        let alike = cells.iter().zip(&body.looks).filter(|(cell, look)| Look::of(cell) == **look);
        if alike.count() * 2 < body.width {
            break;
        }
        start -= 1;
    }
    start
}

/// The row of names and the row of units just above the table, in either order.
fn headings<'head>(
    above: &[Line<'head>],
    first: usize,
    delimiter: Delimiter,
    encoding: Encoding,
) -> (Option<HeaderRow<'head>>, Option<HeaderRow<'head>>) {
    let above = above.iter().enumerate().filter(|(_, line)| !sniff::is_remark(line.text));
    let mut rows = above.rev().filter_map(|(index, line)| {
        let mut cut = Vec::new();
        cells::cut(line.text, delimiter, &mut cut).ok()?;
        let looks = || cut.iter().map(|cell| sniff::Look::of(cell));
        if !looks().any(|look| matches!(look, Look::Text | Look::Word)) {
            return None;
        }
        // A comment sign before the names is no part of them.
        cut[0] = cut[0].strip_prefix(b"#").map_or(cut[0], <[u8]>::trim_ascii);
        Some(HeaderRow { line: first + index, text: line.text, cells: texts(&cut, encoding) })
    });
    let Some(lower) = rows.next() else { return (None, None) };
    let upper = rows.next();
    if are_units(&lower.cells) {
        let names = upper.filter(|upper| 2 * upper.cells.len() > lower.cells.len());
        return (names, Some(lower));
    }
    let units = upper.filter(|upper| are_units(&upper.cells) && upper.cells.len() > 1);
    (Some(lower), units)
}

/// Whether most of `cells` are units, one of them of a time or a temperature at least.
fn are_units(cells: &[String]) -> bool {
    let filled = cells.iter().filter(|cell| !cell.is_empty()).count();
    let units: Vec<Unit> = cells.iter().filter_map(|cell| unit::unit(cell)).collect();
    let ours = units.iter().any(|unit| !matches!(unit, Unit::Other(_)));
    ours && units.len() * 2 > filled
}

/// Asks about the decimal sign of `example`.
pub(super) fn decimal_question(example: &str, column: &str) -> ImportError {
    ImportError::Ask(Question {
        what: format!("`{example}` in column {column} can be read in two ways"),
        choices: vec![
            "with a decimal comma or point (as it stands)".to_owned(),
            "as a whole number with its thousands parted".to_owned(),
        ],
        option: "decimal",
    })
}
