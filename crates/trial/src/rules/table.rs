//! A rules file as a table for the manual.

use super::{Entry, Rules};
use std::collections::BTreeMap;

/// A rules file as Markdown: its head, one row a number, then its variants.
///
/// ```
/// let library = trial::rules::Library::built_in(|_| [0; 32])?;
/// let (rules, _) = library.current(&"iec-60695-11-5/2016".into()).unwrap();
/// assert!(trial::rules::limits_table(rules).contains("| `confirmation.rise-time` |"));
/// # Ok::<(), trial::rules::RulesError>(())
/// ```
#[must_use]
pub fn limits_table(rules: &Rules) -> String {
    let head = &rules.head;
    let mut page = format!("## {}, edition {}\n\n", head.standard, head.edition);
    add(&mut page, &format!("`{}`: {}. Read through {}. ", head.id, head.title, head.read_through));
    add(&mut page, &format!("The edition stands as *{}*.\n\n", head.edition_standing));
    if !head.methods.is_empty() {
        let ids: Vec<String> = head.methods.iter().map(|id| format!("`{id}`")).collect();
        add(&mut page, &format!("For use with {}.\n\n", ids.join(", ")));
    }
    rows(&mut page, &rules.entries);
    for (name, variant) in &rules.variants {
        add(&mut page, &format!("\n### `{name}`: {}\n\n", variant.title));
        rows(&mut page, &variant.entries);
    }
    page
}

fn rows(page: &mut String, entries: &BTreeMap<super::Key, Entry>) {
    if entries.is_empty() {
        return;
    }
    add(page, "| number | value | clause | standing | remark |\n| --- | --- | --- | --- | --- |\n");
    for entry in entries.values() {
        let note = entry.note.as_deref().unwrap_or("");
        let row = format!(
            "| `{}` | {} | {} | {} | {note} |\n",
            entry.key,
            entry.text(),
            entry.clause,
            entry.standing
        );
        add(page, &row);
    }
}

fn add(page: &mut String, text: &str) {
    page.push_str(text);
}
