//! Writes the manual's page of entries.

#![expect(clippy::disallowed_methods, reason = "a page of the manual is written")]

use std::path::Path;

fn main() -> std::io::Result<()> {
    let page = Path::new(env!("CARGO_MANIFEST_DIR")).join("../../docs/manual/entries.md");
    std::fs::write(page, ledger::entry::manual_page())
}
