//! One row by itself, as an instrument sends it while it measures.

use super::cells;
use super::number::{OPEN_CIRCUIT_FROM, leading_number, missing_word};
use super::options::{Decimal, Delimiter};
use crate::MissingCause;

/// What one cell holds.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Cell<'row> {
    /// A number, and what stands behind it.
    Number(f64, &'row [u8]),
    /// A word, or a number beyond all measure, in the place of a value.
    Missing(MissingCause),
}

/// The cells of `row`, or nothing where a quote is opened and not closed.
#[must_use]
pub fn row_cells(row: &[u8], delimiter: Delimiter) -> Option<Vec<&[u8]>> {
    let mut cut = Vec::new();
    cells::cut(row, delimiter, &mut cut).ok()?;
    Some(cut)
}

/// What `cell` holds, or nothing where it is neither a number nor a word known.
///
/// ```
/// use reading::import::{Cell, Decimal, cell};
/// assert_eq!(cell(b"23,9 C", Decimal::Comma), Some(Cell::Number(23.9, b"C")));
/// ```
#[must_use]
pub fn cell(cell: &[u8], decimal: Decimal) -> Option<Cell<'_>> {
    if let Some(cause) = missing_word(cell) {
        return Some(Cell::Missing(cause));
    }
    let (value, used) = leading_number(cell, decimal.byte())?;
    if value.abs() >= OPEN_CIRCUIT_FROM {
        return Some(Cell::Missing(MissingCause::OpenCircuit));
    }
    Some(Cell::Number(value, cell[used..].trim_ascii()))
}
