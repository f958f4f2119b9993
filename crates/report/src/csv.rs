//! The report's values as CSV (RFC 4180): one row a value, every row complete in itself.

use reading::cell as quoted;

use crate::content::{Content, Determination, Specimen, Stood, Value};

/// For whom the file is meant.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Reader {
    /// A program: the text as it is.
    Program,
    /// A spreadsheet: opens with a byte order mark, and a cell that a spreadsheet would take for
    /// a formula has an apostrophe before it.
    Spreadsheet,
}

const HEAD: [&str; 12] = [
    "report",
    "made_up",
    "subject",
    "number",
    "quantity",
    "value",
    "unit",
    "expanded_uncertainty",
    "coverage_factor",
    "limit",
    "outcome",
    "text",
];

/// The values of the report as CSV, rows ended by CR LF.
///
/// Values are not rounded. The first row names the columns.
#[must_use]
pub fn write(content: &Content, reader: Reader) -> String {
    let mut out = String::new();
    if reader == Reader::Spreadsheet {
        out.push('\u{feff}');
    }
    let mut put = |cells: &[Cell]| {
        let cells: Vec<String> = cells.iter().map(|cell| cell.written(reader)).collect();
        out.push_str(&cells.join(","));
        out.push_str("\r\n");
    };
    put(&HEAD.map(|name| Cell::Ours(name.into())));
    let rows = rows(content);
    for row in rows {
        put(&[
            Cell::Theirs(content.number.clone()),
            Cell::Ours(content.made_up.clone().unwrap_or_default().into()),
            Cell::Ours(row.subject.into()),
            Cell::Ours(row.number),
            Cell::Theirs(row.quantity),
            row.value.map_or_else(Cell::none, |value| Cell::number(value.value)),
            Cell::Ours(row.value.map_or_else(String::new, |value| value.unit.clone().into())),
            uncertainty(row.value, |found| found.expanded),
            uncertainty(row.value, |found| found.coverage_factor),
            Cell::Theirs(row.limit),
            Cell::Ours(row.outcome.into()),
            Cell::Theirs(row.text),
        ]);
    }
    out
}

fn uncertainty(value: Option<&Value>, read: fn(&crate::content::Uncertainty) -> f64) -> Cell {
    let found = value.and_then(|value| value.uncertainty.as_ref());
    found.map_or_else(Cell::none, |found| Cell::number(read(found)))
}

/// One line of the file, before it is written.
#[derive(Default)]
struct Row<'a> {
    subject: &'static str,
    number: String,
    quantity: String,
    value: Option<&'a Value>,
    limit: String,
    outcome: &'a str,
    text: String,
}

fn rows(content: &Content) -> Vec<Row<'_>> {
    let conformity = &content.conformity;
    let mut rows = vec![Row {
        subject: "item",
        quantity: "conformity".into(),
        outcome: conformity.standing.words(),
        text: format!("{} {}", conformity.applies_to, conformity.decided_by),
        ..Row::default()
    }];
    for criterion in &conformity.criteria {
        rows.push(Row {
            subject: "item",
            quantity: criterion.demand.clone(),
            limit: criterion.limit.clone().unwrap_or_default(),
            outcome: outcome(criterion.stood),
            text: format!("{} ({})", criterion.clause, criterion.number_stands),
            ..Row::default()
        });
    }
    let determinations = content.confirmations.iter().flat_map(|flame| &flame.determinations);
    determinations.for_each(|found| determination(&mut rows, found));
    content.specimens.iter().for_each(|found| specimen(&mut rows, found));
    rows
}

fn determination<'a>(rows: &mut Vec<Row<'a>>, found: &'a Determination) {
    let values = [("block at the start", Some(&found.start)), ("rise time", found.rise.as_ref())];
    for (quantity, value) in values {
        rows.push(Row {
            subject: "determination",
            number: found.number.to_string(),
            quantity: quantity.into(),
            value,
            outcome: if found.void.is_some() { "void" } else { "" },
            text: found.void.clone().unwrap_or_else(|| found.source.clone()),
            ..Row::default()
        });
    }
}

fn specimen<'a>(rows: &mut Vec<Row<'a>>, found: &'a Specimen) {
    let void = found.spoilt.is_some();
    let limit = found.burning_limit_s.map(|limit| format!("{limit} s")).unwrap_or_default();
    for (quantity, value, limit) in [
        ("flame applied", Some(&found.applied), None),
        ("afterflame", found.afterflame.as_ref(), None),
        ("afterglow", found.afterglow.as_ref(), None),
        ("duration of burning", found.burning.as_ref(), Some(limit)),
        ("damaged length", found.damaged.as_ref(), None),
    ] {
        if value.is_none() && quantity == "damaged length" {
            continue;
        }
        rows.push(Row {
            subject: "specimen",
            number: found.number.to_string(),
            quantity: quantity.into(),
            value,
            outcome: match &limit {
                _ if void => "void",
                Some(_) => outcome(found.stood),
                None => "",
            },
            limit: limit.unwrap_or_default(),
            text: found.spoilt.clone().unwrap_or_default(),
        });
    }
    for seen in &found.observations {
        rows.push(Row {
            subject: "specimen",
            number: found.number.to_string(),
            quantity: "seen".into(),
            value: Some(&seen.at),
            outcome: if void { "void" } else { "" },
            text: seen.text.clone(),
            ..Row::default()
        });
    }
}

const fn outcome(stood: Stood) -> &'static str {
    match stood {
        Stood::Kept => "kept",
        Stood::NotKept => "not kept",
        Stood::Undecided => "undecided",
        Stood::NotJudged => "not judged",
    }
}

/// A cell: written by this room, or by a person.
enum Cell {
    Ours(String),
    Theirs(String),
}

impl Cell {
    const fn none() -> Self {
        Self::Ours(String::new())
    }

    fn number(value: f64) -> Self {
        Self::Ours(value.to_string())
    }

    fn written(&self, reader: Reader) -> String {
        match (self, reader) {
            (Self::Theirs(text), Reader::Spreadsheet) => quoted(&guarded(text)).into_owned(),
            (Self::Ours(text) | Self::Theirs(text), _) => quoted(text).into_owned(),
        }
    }
}

/// A person's text as a cell: quoted where it must be, disarmed for a spreadsheet.
#[must_use]
pub fn cell(text: &str, reader: Reader) -> String {
    Cell::Theirs(text.to_owned()).written(reader)
}

/// `text` with an apostrophe before it where a spreadsheet would read a formula.
fn guarded(text: &str) -> String {
    if text.starts_with(['=', '+', '-', '@', '\t', '\r', '\n']) {
        format!("'{text}")
    } else {
        text.to_owned()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn check(text: &str, program: &str, spreadsheet: &str) {
        let cell = Cell::Theirs(text.into());
        assert_eq!(cell.written(Reader::Program), program);
        assert_eq!(cell.written(Reader::Spreadsheet), spreadsheet);
    }

    #[test]
    fn a_cell_is_quoted_only_where_it_must_be() {
        check("rib, \"B\"", "\"rib, \"\"B\"\"\"", "\"rib, \"\"B\"\"\"");
        check("two\r\nlines", "\"two\r\nlines\"", "\"two\r\nlines\"");
        check("plain", "plain", "plain");
    }

    #[test]
    fn a_formula_is_disarmed_for_a_spreadsheet_only() {
        check("=1+2", "=1+2", "'=1+2");
        check("@here", "@here", "'@here");
        check("-3", "-3", "'-3");
        check("\t=1", "\t=1", "'\t=1");
    }
}
