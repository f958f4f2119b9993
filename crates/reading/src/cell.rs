//! A cell of a table of text, as it is written.

use std::borrow::Cow;

/// `text` as a cell between commas: in quotation marks where it must be.
///
/// # Source
///
/// RFC 4180, 2.
///
/// # Examples
///
/// ```
/// assert_eq!(reading::cell("block"), "block");
/// assert_eq!(reading::cell("rib, \"B\""), "\"rib, \"\"B\"\"\"");
/// ```
#[must_use]
pub fn cell(text: &str) -> Cow<'_, str> {
    if text.contains(['"', ',', '\r', '\n']) || text.starts_with(' ') || text.ends_with(' ') {
        Cow::Owned(format!("\"{}\"", text.replace('"', "\"\"")))
    } else {
        Cow::Borrowed(text)
    }
}
