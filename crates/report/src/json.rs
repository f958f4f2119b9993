//! The report as JSON: the machine's copy, attached to the PDF.

use crate::content::Content;

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
