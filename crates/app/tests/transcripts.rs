//! The console blocks of the manual and of `tests/cli`, run and compared word for word.
//!
//! A `console` block holds commands (`$ …`), each followed by what it writes to standard output
//! and, unless that is 0, by its exit code (`? 2`). Lines for standard error begin with `! `.
//! Each page has a folder of its own in which its blocks run in order; `open-data` stands in it, and
//! `logger.csv` and `cooling.csv`, the made-up files of the manual.
//! `TRANSCRIPTS=write` writes what came out into the pages instead.
#![expect(clippy::disallowed_methods, reason = "these tests run the program and read the pages")]

use std::fmt::Write as _;
use std::fs;
use std::path::Path;
use std::process::Command;

use crate::house::{files, none, root, text};

/// Runs one command line in `folder` and writes down what came of it.
fn run(line: &str, folder: &Path) -> String {
    let programs = Path::new(env!("CARGO_BIN_EXE_cinderbook")).parent().unwrap();
    let path = format!("{}:{}", programs.display(), std::env::var("PATH").unwrap());
    let done = Command::new("sh")
        .args(["-c", line])
        .current_dir(folder)
        .env_clear()
        .envs([
            ("PATH", path.as_str()),
            ("NO_COLOR", "1"),
            ("COLUMNS", "96"),
            ("LC_ALL", "C.UTF-8"),
        ])
        .env("CINDERBOOK_CLOCK", "2026-03-02T08:30:00Z")
        .output()
        .unwrap();
    let mut written = String::from_utf8(done.stdout).unwrap();
    if !written.is_empty() && !written.ends_with('\n') {
        written.push('\n');
    }
    for line in String::from_utf8(done.stderr).unwrap().lines() {
        let _ = writeln!(written, "{}", format!("! {line}").trim_end());
    }
    if let Some(code) = done.status.code().filter(|code| *code != 0) {
        let _ = writeln!(written, "? {code}");
    }
    let lines: Vec<&str> = written.lines().map(str::trim_end).collect();
    lines.iter().fold(String::new(), |all, line| all + line + "\n")
}

/// The page as it should be: every command followed by what it writes.
fn play(page: &str, folder: &Path) -> String {
    let mut played = String::new();
    let mut inside = false;
    for line in page.lines() {
        if line == "```console" {
            inside = true;
        } else if line == "```" {
            inside = false;
        }
        match line.strip_prefix("$ ").filter(|_| inside) {
            Some(command) => {
                let _ = write!(played, "{line}\n{}", run(command, folder));
            }
            None if inside && line != "```console" => {}
            None => {
                let _ = writeln!(played, "{line}");
            }
        }
    }
    played
}

#[test]
fn the_pages_show_what_the_program_does() {
    let write = std::env::var("TRANSCRIPTS").is_ok_and(|word| word == "write");
    let mut offences = Vec::new();
    let pages = [files("crates/app/tests/cli", ".md"), files("docs/manual", ".md")].concat();
    for path in pages.into_iter().chain(["README.md".into()]) {
        let folder = tempfile::tempdir().unwrap();
        let made_up =
            ["logger.csv", "cooling.csv"].map(|it| (format!("docs/manual/made-up/{it}"), it));
        let all = std::iter::once(("open-data".to_owned(), "open-data")).chain(made_up);
        for (at, name) in all {
            std::os::unix::fs::symlink(root().join(at), folder.path().join(name)).unwrap();
        }
        let page = text(&path);
        if !page.contains("```console") {
            continue;
        }
        let played = play(&page, folder.path());
        if played == page {
            continue;
        }
        if write {
            fs::write(root().join(&path), played).unwrap();
        } else {
            let (number, (old, new)) = page
                .lines()
                .zip(played.lines())
                .enumerate()
                .find(|(_, (old, new))| old != new)
                .unwrap_or_default();
            offences.push(format!(
                "{}:{}: the page says\n    {old}\n  the program says\n    {new}",
                path.display(),
                number + 1
            ));
        }
    }
    none(&offences);
}
