//! The head of the record as a square that a telephone reads (ISO/IEC 18004): nobody needs to type
//! its hash to hold a record against it.

use fast_qr::{ECL, QRBuilder};

/// The empty margin that readers look for, in modules.
const MARGIN: usize = 4;

/// A picture of a text, black on white; nothing if it is too long for one.
pub(super) fn square(text: &str) -> Option<String> {
    let code = QRBuilder::new(text).ecl(ECL::M).build().ok()?;
    let side = code.size + 2 * MARGIN;
    let mut dark = String::new();
    for (y, row) in (MARGIN..).zip((0..code.size).map(|row| &code[row])) {
        for (x, module) in (MARGIN..).zip(row.iter().take(code.size)) {
            if module.value() {
                dark.push_str(&format!("M{x} {y}h1v1h-1z"));
            }
        }
    }
    Some(format!(
        "<svg xmlns=\"http://www.w3.org/2000/svg\" viewBox=\"0 0 {side} {side}\">\
         <path d=\"{dark}\"/></svg>"
    ))
}
