//! What a file is taken for, from its first part: rows, delimiter, the look of each column.

use super::cells;
use super::clock;
use super::error::{ImportError, Question};
use super::number::{missing_word, number};
use super::options::{Delimiter, ImportOptions, LineEnd};

/// What a cell looks like.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Look {
    Blank,
    /// A word for a missing value.
    Word,
    Number,
    Date,
    Clock,
    DateAndClock,
    Text,
}

impl Look {
    pub(super) fn of(cell: &[u8]) -> Self {
        if cell.is_empty() {
            return Self::Blank;
        }
        if number(cell, b'.').or_else(|| number(cell, b',')).is_some() {
            return Self::Number;
        }
        if let Some(stamp) = clock::stamp(cell) {
            return match (stamp.date, stamp.clock) {
                (Some(_), Some(_)) => Self::DateAndClock,
                (Some(_), None) => Self::Date,
                (None, _) => Self::Clock,
            };
        }
        if missing_word(cell).is_some() { Self::Word } else { Self::Text }
    }

    pub(super) const fn is_time(self) -> bool {
        matches!(self, Self::Date | Self::Clock | Self::DateAndClock)
    }
}

/// A line of the head, and the byte it begins at.
#[derive(Clone, Copy, Debug)]
pub(super) struct Line<'head> {
    pub(super) start: usize,
    pub(super) text: &'head [u8],
}

/// How the rows of `head` end. A carriage return ends rows only where no line feed does.
pub(super) fn line_end(head: &[u8]) -> LineEnd {
    match memchr::memchr(b'\n', head) {
        Some(at) if at > 0 && head[at - 1] == b'\r' => LineEnd::CrLf,
        Some(_) => LineEnd::Lf,
        None if head.contains(&b'\r') => LineEnd::Cr,
        None => LineEnd::Lf,
    }
}

/// The lines of `head`; the last is left out where the head was cut in it.
pub(super) fn lines(head: &[u8], end: LineEnd, whole: bool) -> Vec<Line<'_>> {
    let mut lines = Vec::new();
    let mut start = 0;
    for stop in memchr::memchr_iter(end.byte(), head) {
        lines.push(Line { start, text: without_return(&head[start..stop]) });
        start = stop + 1;
    }
    if whole && start < head.len() {
        lines.push(Line { start, text: without_return(&head[start..]) });
    }
    lines
}

pub(super) fn without_return(line: &[u8]) -> &[u8] {
    line.strip_suffix(b"\r").unwrap_or(line)
}

/// Whether `line` is blank or a comment.
pub(super) fn is_no_row(line: &[u8]) -> bool {
    line.trim_ascii().is_empty() || line.starts_with(b"#")
}

/// Whether `line` is a remark between rows, such as `# 12.0 s, …`, and no row of names.
pub(super) fn is_remark(line: &[u8]) -> bool {
    line.strip_prefix(b"# ").and_then(<[u8]>::first).is_some_and(u8::is_ascii_digit)
}

/// Rows looked at, at most.
const SAMPLE_ROWS: usize = 500;

/// The body of the table as it shows in the last rows of the head.
#[derive(Clone, Debug)]
pub(super) struct Body<'head> {
    pub(super) delimiter: Delimiter,
    /// Cells in a row.
    pub(super) width: usize,
    /// The look of most cells of each column.
    pub(super) looks: Vec<Look>,
    /// The rows it was read from.
    pub(super) sample: Vec<Vec<&'head [u8]>>,
    /// How many of a thousand cells are numbers, times, or words for nothing.
    score: usize,
}

/// Finds the delimiter with which the last rows of `lines` make the best table.
pub(super) fn body<'head>(
    lines: &[Line<'head>],
    stated: Option<Delimiter>,
    options: &ImportOptions,
) -> Result<Body<'head>, ImportError> {
    let full: Vec<&[u8]> =
        lines.iter().map(|line| line.text).filter(|text| !is_no_row(text)).collect();
    let sample = &full[full.len()
        - full.len().div_ceil(2).clamp(full.len().min(4), SAMPLE_ROWS).min(full.len())..];
    // A tab is also a blank, so the order decides between equals.
    let candidates = [
        Delimiter::Tab,
        Delimiter::Semicolon,
        Delimiter::Pipe,
        Delimiter::Comma,
        Delimiter::Blank,
        Delimiter::Nothing,
    ];
    let mut best: Option<Body<'head>> = None;
    for delimiter in candidates {
        // `20,5` is one cell only where nothing makes two of it.
        let late = delimiter == Delimiter::Nothing && best.is_some();
        if late || stated.is_some_and(|stated| stated != delimiter) {
            continue;
        }
        if let Some(body) = body_with(sample, delimiter)
            && best.as_ref().is_none_or(|best| body.score > best.score)
        {
            best = Some(body);
        }
    }
    let body = best.ok_or_else(|| ImportError::NoTable { seen: seen(&full) })?;
    if body.width > options.limits.columns {
        let limit = options.limits.columns as u64;
        return Err(ImportError::TooLarge { what: "columns", limit });
    }
    Ok(body)
}

fn seen(full: &[&[u8]]) -> String {
    let first = full.first().map_or("", |line| std::str::from_utf8(line).unwrap_or(""));
    let start: String = first.chars().filter(|letter| !letter.is_control()).take(40).collect();
    match full.len() {
        0 => "it has blank lines only".to_owned(),
        1 => format!("it has one line, which begins `{start}`"),
        count => format!("of {count} lines looked at, the first begins `{start}`"),
    }
}

/// The table that `sample` makes with `delimiter`, if it makes one.
fn body_with<'head>(sample: &[&'head [u8]], delimiter: Delimiter) -> Option<Body<'head>> {
    let mut rows = Vec::new();
    let mut widths = Vec::new();
    for line in sample {
        let mut cells = Vec::new();
        if cells::cut(line, delimiter, &mut cells).is_ok() {
            widths.push(cells.len());
            rows.push(cells);
        }
    }
    let width = most_frequent(&widths)?;
    if (width == 1) != (delimiter == Delimiter::Nothing) {
        return None;
    }
    rows.retain(|cells| cells.len() == width);
    let looks: Vec<Vec<Look>> =
        rows.iter().map(|cells| cells.iter().map(|cell| Look::of(cell)).collect()).collect();
    let (mut filled, mut good, mut numbers) = (0, 0, 0);
    for look in looks.iter().flatten() {
        filled += usize::from(*look != Look::Blank);
        good += usize::from(!matches!(look, Look::Blank | Look::Text));
        numbers += usize::from(*look == Look::Number);
    }
    if numbers == 0 || good * 2 < filled {
        return None;
    }
    let score = 1000 * good / filled * rows.len() / sample.len();
    let looks = (0..width).map(|column| column_look(&looks, column)).collect();
    Some(Body { delimiter, width, looks, sample: rows, score })
}

/// The width that most rows have, the larger one of equals.
fn most_frequent(widths: &[usize]) -> Option<usize> {
    let count = |width: usize| widths.iter().filter(|other| **other == width).count();
    let mut distinct = widths.to_vec();
    distinct.sort_unstable();
    distinct.dedup();
    distinct.into_iter().max_by_key(|width| count(*width))
}

/// What most filled cells of a column look like.
fn column_look(looks: &[Vec<Look>], column: usize) -> Look {
    let count = |wanted: Look| looks.iter().filter(|row| row[column] == wanted).count();
    let kinds = [Look::Number, Look::Clock, Look::DateAndClock, Look::Date, Look::Text];
    let most = kinds.into_iter().max_by_key(|look| count(*look)).filter(|look| count(*look) > 0);
    match most {
        Some(look) => look,
        None if count(Look::Word) > 0 => Look::Number,
        None => Look::Blank,
    }
}

/// Whether rows such as `1,234` are one column of decimal commas or two of whole numbers, where
/// nothing in the file says which.
pub(super) fn commas_are_open(body: &Body<'_>) -> bool {
    let digits = |cell: &[u8]| !cell.is_empty() && cell.iter().all(u8::is_ascii_digit);
    let open = |row: &Vec<&[u8]>| {
        row.chunks(2).all(|pair| {
            let whole = pair[0].strip_prefix(b"-").unwrap_or(pair[0]);
            digits(whole) && pair.get(1).is_some_and(|fraction| digits(fraction))
        })
    };
    body.delimiter == Delimiter::Comma && body.sample.iter().all(open)
}

pub(super) fn comma_question(body: &Body<'_>) -> ImportError {
    let example: Vec<_> = body.sample[0].iter().map(|cell| String::from_utf8_lossy(cell)).collect();
    ImportError::Ask(Question {
        what: format!("`{}` can be read in two ways", example.join(",")),
        choices: vec![
            format!("{} whole numbers with commas between them (comma)", body.width),
            if body.width == 2 {
                "one number with a decimal comma (none)".to_owned()
            } else {
                "numbers with decimal commas and commas between them, which no program can part; \
                 export them with another delimiter"
                    .to_owned()
            },
        ],
        option: "delimiter",
    })
}
