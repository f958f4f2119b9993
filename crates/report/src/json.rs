//! The report as JSON: the machine's copy, attached to the PDF.

use crate::content::Content;

/// A report from its JSON.
///
/// # Errors
///
/// When the text is not a report as [`write`] writes it.
pub fn read(json: &[u8]) -> Result<Content, serde_json::Error> {
    serde_json::from_slice(json)
}

/// The report as JSON, keys in the order of [`Content`], with a line end at the end.
///
/// # Errors
///
/// When a number is not finite. A [`Content`] made by this room has none.
pub fn write(content: &Content) -> Result<String, serde_json::Error> {
    let mut text = serde_json::to_string_pretty(content)?;
    text.push('\n');
    Ok(text)
}
