//! The validation sheet of the program as PDF, in the same archive form as a report, to be signed.

use serde::Serialize;

use super::world::{Files, ReportWorld};
use super::{PdfError, glyphs, options, pages};

const TEMPLATE: &str = include_str!("validation.typ");

/// What the pages of a validation sheet say.
#[derive(Clone, Debug)]
pub struct ValidationPages<'a, Data> {
    /// The program and its version.
    pub program: &'a str,
    /// When it was held against its cases, in UTC, such as 2026-11-25T10:32:00Z.
    pub at: &'a str,
    /// The sheet's data, which are attached too.
    pub data: &'a Data,
}

/// The validation sheet as PDF/A. The same data give the same bytes.
///
/// # Errors
///
/// When the time cannot be read, the data cannot be written, or the typesetter refuses.
pub fn validation_sheet<Data: Serialize>(
    sheet: &ValidationPages<'_, Data>,
) -> Result<Vec<u8>, PdfError> {
    let ident = format!("validation {} {}", sheet.program, sheet.at);
    let options = options(ident, sheet.program, sheet.at)?;
    let (data, replaced) = glyphs::printable(serde_json::to_value(sheet.data)?);
    let mut files = Files::default();
    let look = serde_json::json!({ "sheet": data, "replaced": replaced });
    files.add("data.json", serde_json::to_vec(&look)?);
    files.add("validation.json", serde_json::to_vec_pretty(sheet.data)?);
    pages(&ReportWorld::new(files, TEMPLATE), &options)
}
