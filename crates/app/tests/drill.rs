//! What a laboratory does when something broke: a backup made while people work comes back with the
//! same head; a damaged book says what can be done; and the program works in twenty years.
#![expect(clippy::disallowed_methods, reason = "these tests run the program and damage its files")]

use std::fs;
use std::path::Path;
use std::process::Command;

use serde_json::Value;

use crate::served::{PASSWORD, Served, holds, new_book, program};

/// What a command says on standard output; it must end well.
fn said(command: &mut Command) -> String {
    let done = command.output().unwrap();
    let words = String::from_utf8_lossy(&done.stderr);
    assert!(done.status.success(), "{command:?}: {words}");
    String::from_utf8(done.stdout).unwrap()
}

fn verified(folder: &Path) -> Value {
    serde_json::from_str(&said(program().args(["--json", "verify"]).arg(folder))).unwrap()
}

#[test]
fn a_backup_made_while_the_book_is_served_is_restored_with_the_same_head_and_the_same_bytes() {
    let served = Served::demo();
    let at = |name: &str| served.folder.path().join(name);
    let book = || {
        let mut command = program();
        command.arg("--book").arg(served.book());
        command
    };
    said(book().arg("backup").arg(at("copy")));
    let head = serde_json::from_str::<Value>(&served.page("/api/record")).unwrap()["head"].clone();
    // People go on meanwhile: the copy stays as it was.
    let more = "mark=LATER-1&kind=other&description=made+up&calibration=not-needed";
    assert_eq!(served.post("/register-equipment", more).status, 303);
    said(program().arg("restore").arg(at("copy")).arg(at("again")));
    for folder in [at("copy"), at("again")] {
        assert_eq!(verified(&folder)["tree"], head, "{}", folder.display());
    }
    let bundles = ["copy", "again"].map(|name| {
        said(
            program().arg("--book").arg(at(name)).arg("export").arg(at(&format!("{name}-bundle"))),
        );
        fs::read(at(&format!("{name}-bundle/entries.jsonl"))).unwrap()
    });
    assert!(bundles[0] == bundles[1], "the restored book is written out otherwise");
    served.ended();
}

#[test]
fn a_damaged_book_is_named_and_read_up_to_the_damage() {
    let folder = new_book();
    let book = folder.path().join("book");
    for number in 1..=60 {
        let mut add = program();
        add.arg("--book").arg(&book).args(["equipment", "add", &format!("P-{number}")]);
        said(add.args(["--kind", "other", "--description", &"made up ".repeat(40)]));
    }
    let record = book.join("record.sqlite");
    let mut bytes = fs::read(&record).unwrap();
    // The head of a page in the middle: the tables of the database itself.
    let page = bytes.len() / 4096 / 2 * 4096;
    bytes[page..page + 40].fill(0xee);
    fs::write(&record, bytes).unwrap();
    for arguments in [["equipment", "list"], ["backup", "somewhere"]] {
        let mut command = program();
        command.current_dir(folder.path()).arg("--book").arg(&book).args(arguments);
        let done = command.output().unwrap();
        assert_eq!(done.status.code(), Some(1), "{done:?}");
        let words = String::from_utf8_lossy(&done.stderr).into_owned();
        holds(&words, &["damaged", "`restore` a backup", "read only"]);
    }
    let list = program().arg("--book").arg(&book).args(["record", "list"]).output().unwrap();
    assert_eq!(list.status.code(), Some(1));
    let lines = String::from_utf8_lossy(&list.stdout).lines().count();
    assert!((1..62).contains(&lines), "{lines} entries can be read");
    let checked = program().arg("verify").arg(&book).output().unwrap();
    assert_eq!(checked.status.code(), Some(1));
    holds(&String::from_utf8_lossy(&checked.stdout), &["the record's file is damaged"]);
    holds(&String::from_utf8_lossy(&checked.stderr), &["are sound"]);
}

/// With the date set to 2046 a book of 2026 opens and goes on, pages are served, a new one is made.
#[test]
fn it_works_in_twenty_years() {
    let then = "2046-07-01T08:00:00Z";
    let mut served = Served::demo().later(then);
    let answer = served.fill("/sign-in", &[("name", "Odalys Fenn"), ("password", PASSWORD)]);
    assert_eq!(answer.status, 303, "{}", answer.body);
    served.keep_cookie(&answer);
    for path in
        ["/", "/plans", "/flame", "/flame/chart", "/care", "/equipment", "/record", "/setup"]
    {
        assert_eq!(served.get(path).status, 200, "{path}");
    }
    let more = "mark=NB-46&kind=burner&description=made+up&calibration=not-needed";
    assert_eq!(served.post("/register-equipment", more).status, 303);
    let record: Value = serde_json::from_str(&served.page("/api/record")).unwrap();
    assert!(record["entries"][0]["at"].as_str().unwrap().starts_with("2046-07-01"), "{record}");
    served.ended();
    let folder = new_book();
    let mut command = program();
    command.env("CINDERBOOK_CLOCK", then).arg("--book").arg(folder.path().join("book"));
    said(command.args(["equipment", "add", "P-1", "--kind", "other", "--description", "made up"]));
    let checked = program().env("CINDERBOOK_CLOCK", then).arg("check").output().unwrap();
    holds(&String::from_utf8_lossy(&checked.stdout), &["2046"]);
}
