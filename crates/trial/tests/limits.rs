//! The manual's tables of limits are those of the rules files.

use crate::bench::library;
use std::path::Path;
use trial::rules::limits_table;

const HEAD: &str = "\
# Limits

Every number of a standard that this program uses, with its clause and how it stands: *seen* in the
edition or its national adoption, from *memory*, or *ours* where no standard gives one. A laboratory
verifies a number against its own copy under the name in the first column.

This page is made from the files under `standards/`; `UPDATE_LIMITS=1 cargo test -p trial limits`
writes it anew.
";

#[test]
#[expect(clippy::disallowed_methods, reason = "a test may read and, when asked, write its page")]
fn the_manual_shows_the_limits_of_the_rules_files() {
    let library = library();
    let tables = library.all().into_iter().map(limits_table);
    let page = std::iter::once(HEAD.to_owned()).chain(tables).collect::<Vec<_>>().join("\n");
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("../../docs/manual/limits.md");
    if std::env::var_os("UPDATE_LIMITS").is_some() {
        std::fs::write(&path, &page).unwrap();
    }
    let there = std::fs::read_to_string(&path).unwrap();
    assert!(there == page, "docs/manual/limits.md is not up to date; see its head");
}
