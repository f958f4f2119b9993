//! The manual has a heading for every command, kind of entry and demand; made pages are as made.
#![expect(clippy::disallowed_methods, reason = "these tests run the program and read the manual")]

use std::process::Command;

use crate::house::{files, none, root, text};

/// Holds a page to what the program makes, or writes it anew.
fn made(page: &str, arguments: &[&str]) {
    let done = Command::new(env!("CARGO_BIN_EXE_cinderbook"))
        .args(arguments)
        .env_remove("CINDERBOOK_BOOK")
        .output()
        .unwrap();
    let written = String::from_utf8(done.stdout).unwrap();
    if std::env::var("TRANSCRIPTS").is_ok_and(|word| word == "write") {
        std::fs::write(root().join(page), &written).unwrap();
    }
    assert!(text(page) == written, "{page} is not what the program makes: TRANSCRIPTS=write");
}

#[test]
fn the_command_reference_is_what_the_program_says() {
    made("docs/manual/commands.md", &["manual"]);
}

#[test]
fn the_validation_sheet_is_what_the_program_computes() {
    made("VALIDATION.md", &["selfcheck", "--markdown"]);
}

#[test]
fn every_demand_and_every_kind_of_entry_is_in_the_manual() {
    let manual: String = files("docs/manual", ".md").iter().map(text).collect();
    let demands = trial::method::Demand::ALL.iter().map(|demand| format!("`criteria.{demand}`"));
    let missing: Vec<String> = demands.filter(|heading| !manual.contains(heading)).collect();
    none(&missing);
}

#[test]
fn every_page_of_the_manual_is_in_its_index() {
    let index = text("docs/manual/README.md");
    let pages = files("docs/manual", ".md");
    let names = pages.iter().map(|path| path.file_name().unwrap().to_string_lossy());
    let missing: Vec<String> = names
        .filter(|name| name != "README.md" && !index.contains(&format!("({name})")))
        .map(|name| format!("docs/manual/README.md does not name {name}"))
        .collect();
    none(&missing);
}

/// Links between our own pages lead somewhere.
#[test]
fn every_link_leads_somewhere() {
    let mut offences = Vec::new();
    for path in files("", ".md") {
        let page = text(&path);
        let folder = root().join(&path).parent().unwrap().to_owned();
        for link in page.split("](").skip(1).filter_map(|rest| rest.split(')').next()) {
            let target = link.split('#').next().unwrap();
            if !target.is_empty() && !target.contains("://") && !folder.join(target).exists() {
                offences.push(format!("{}: {link}", path.display()));
            }
        }
    }
    none(&offences);
}
