//! A report is doubted, and a record is tampered with: by the command line and over the pages.
#![expect(clippy::disallowed_methods, reason = "these tests run the program on folders")]

use std::fs;
use std::path::{Path, PathBuf};
use std::process::{Command, Output};

use rusqlite::Connection;
use tempfile::TempDir;

use crate::served::{Served, holds};

/// The demo's book, and the program on it.
struct Made {
    place: TempDir,
}

impl Made {
    fn new() -> Self {
        let place = tempfile::tempdir().unwrap();
        let demo = place.path().join("demo").display().to_string();
        ended(0, &run(&["--quiet", "demo", &demo]));
        Self { place }
    }

    fn path(&self, name: &str) -> String {
        self.place.path().join(name).display().to_string()
    }

    fn book(&self) -> PathBuf {
        self.place.path().join("demo/book")
    }

    /// Runs a command on the book; what it wrote, values and words.
    fn on(&self, code: i32, arguments: &[&str]) -> (String, String) {
        let book = self.book().display().to_string();
        let whole = [&["--book", &book, "--as", "Odalys Fenn"], arguments].concat();
        ended(code, &run(&whole))
    }

    /// The bundle of the report.
    fn bundle(&self) -> PathBuf {
        let to = self.path("for-customer");
        self.on(0, &["export", &to, "--report", "1"]);
        PathBuf::from(to)
    }
}

fn run(arguments: &[&str]) -> Output {
    let mut command = Command::new(env!("CARGO_BIN_EXE_cinderbook"));
    command.args(arguments).env_remove("CINDERBOOK_BOOK").env_remove("CINDERBOOK_PERSON");
    command.output().unwrap()
}

fn ended(code: i32, done: &Output) -> (String, String) {
    let text = |bytes: &[u8]| String::from_utf8_lossy(bytes).into_owned();
    let (values, words) = (text(&done.stdout), text(&done.stderr));
    assert_eq!(done.status.code(), Some(code), "{values}{words}");
    (values, words)
}

/// The head that the report's data name.
fn printed(made: &Made) -> String {
    let report = fs::read_to_string(made.path("demo/R-1.json")).unwrap();
    let report: serde_json::Value = serde_json::from_str(&report).unwrap();
    let record = &report["record"];
    format!("{} {}", record["head_entry"], record["head_root"].as_str().unwrap())
}

/// D9.1, D9.2, D9.4: who, when, which entry of how many; one sentence says what was changed.
#[test]
fn a_customer_checks_the_bundle_of_a_report_without_us() {
    let made = Made::new();
    let bundle = made.bundle();
    let folder = bundle.display().to_string();
    let (head, key) = (printed(&made), made.on(0, &["key", "show"]).0);
    let (told, _) = ended(0, &run(&["verify", &folder, "--head", &head, "--key", key.trim()]));
    let entries: u64 = head.split(' ').next().unwrap().parse().unwrap();
    let size = entries + 1;
    holds(
        &told,
        &[
            "checks: report R-1 on plan P-1, issued at 2026-03-",
            " by Odalys Fenn",
            &format!("it is entry {size} of {size}"),
            &format!("head on the report: {head}"),
            "\trun-recorded",
            "\tplan-drawn-up",
            "\tkey-begun",
        ],
    );
    let (json, words) = ended(0, &run(&["verify", &folder, "--json"]));
    holds(&json, &["\"sound\": true", "\"report\": \"R-1\"", "\"by\": \"Odalys Fenn\""]);
    holds(&words, &["The key came with the bundle", "not that it says nothing else"]);
    // A report issued later by a record that was cut and written anew would print another head.
    let other = format!("{entries} {}", "ab".repeat(32));
    let (told, _) = ended(1, &run(&["verify", &folder, "--head", &other]));
    holds(&told, &["does not check: the head "]);
    let spoilt = |name: &str, from: &str, to: &str, words: &str| {
        let path = bundle.join(name);
        let kept = fs::read_to_string(&path).unwrap();
        assert!(kept.contains(from), "{from}");
        fs::write(&path, kept.replacen(from, to, 1)).unwrap();
        let (told, _) = ended(1, &run(&["verify", &folder]));
        holds(told.lines().next().unwrap(), &["does not check: ", words]);
        fs::write(&path, kept).unwrap();
    };
    spoilt(
        "proof.jsonl",
        "who 11 Odalys Fenn",
        "who 11 Odalys Fenm",
        "does not stand in the record",
    );
    spoilt("proof.jsonl", "at 2026-03-04T", "at 2026-03-03T", "does not stand in the record");
    spoilt("proof.jsonl", "30 s", "31 s", "was changed");
    spoilt("signed-head", "\n", "\n1", "the signed head was changed");
    let photo = files(&bundle.join("evidence")).into_iter().find(|path| is_photo(path)).unwrap();
    let mut bytes = fs::read(&photo).unwrap();
    let last = bytes.len() - 1;
    bytes[last] ^= 1;
    fs::write(&photo, bytes).unwrap();
    let (told, _) = ended(1, &run(&["verify", &folder]));
    holds(&told, &["does not check: a file of entry ", "(run-recorded) was changed"]);
}

/// The download of the page is the bundle of the command line: the same files with the same bytes.
#[test]
fn the_bundle_is_downloaded_as_the_command_line_writes_it() {
    let served = Served::demo();
    let (place, book) = (tempfile::tempdir().unwrap(), served.book().display().to_string());
    holds(&served.page("/reports/1"), &["href=\"/reports/1/bundle\"", "Bundle for the customer"]);
    let answer = served.get("/reports/1/bundle");
    holds(&answer.head, &["application/x-tar", "attachment; filename=\"R-1-bundle.tar\""]);
    let tar = served.bytes("/reports/1/bundle");
    assert_eq!(served.bytes("/api/reports/1/bundle"), tar, "whoever asks, and however often");
    assert_eq!(served.get("/api/reports/9/bundle").status, 404);
    fs::write(place.path().join("bundle.tar"), &tar).unwrap();
    let unpacked = Command::new("tar").args(["-xf", "bundle.tar"]).current_dir(&place).status();
    assert!(unpacked.unwrap().success());
    let (came, written) = (place.path().join("R-1-bundle"), place.path().join("written"));
    let to = written.display().to_string();
    ended(0, &run(&["--book", &book, "export", &to, "--report", "1"]));
    let held = |folder: &Path| -> Vec<(PathBuf, Vec<u8>)> {
        let mut held: Vec<_> = files(folder)
            .into_iter()
            .map(|path| (path.strip_prefix(folder).unwrap().to_owned(), fs::read(&path).unwrap()))
            .collect();
        held.sort();
        held
    };
    assert!(held(&came).len() > 10 && held(&came) == held(&written));
    ended(0, &run(&["verify", &came.display().to_string()]));
    // A file that is not what its hash says breaks off: nobody takes half of it for the whole.
    let photo = files(&served.book().join("evidence")).into_iter().find(|it| is_photo(it)).unwrap();
    let sound = fs::read(&photo).unwrap();
    fs::write(&photo, [&sound[..], b"x"].concat()).unwrap();
    assert!(!served.comes_whole("/reports/1/bundle"));
    fs::remove_file(&photo).unwrap();
    let missing = served.get("/reports/1/bundle");
    assert_eq!(missing.status, 422);
    holds(&missing.body, &["is not on file"]);
    fs::write(&photo, sound).unwrap();
    assert!(served.comes_whole("/reports/1/bundle"));
    served.ended();
}

fn files(folder: &Path) -> Vec<PathBuf> {
    let below = fs::read_dir(folder).unwrap().map(|entry| entry.unwrap().path());
    below.flat_map(|path| if path.is_dir() { files(&path) } else { vec![path] }).collect()
}

fn is_photo(path: &Path) -> bool {
    fs::read(path).unwrap().starts_with(b"\x89PNG")
}

#[test]
fn a_key_is_renewed_lost_and_begun_again_and_no_data_are_lost() {
    let made = Made::new();
    let first = made.on(0, &["key", "show"]).0;
    let (renewed, _) = made.on(0, &["key", "renew", "--reason", "yearly"]);
    assert_ne!(first, renewed);
    let (note, _) = made.on(0, &["record", "head"]);
    holds(&note, &["cinderbook/", "\n\n— cinderbook/"]);
    let book = made.book().display().to_string();
    ended(0, &run(&["verify", &book, "--key", first.trim()]));
    fs::remove_file(made.book().join("key")).unwrap();
    let (_, words) = made.on(2, &["key", "renew", "--reason", "yearly"]);
    holds(&words, &["is not in the book's folder", "--lost"]);
    let (_, words) = made.on(2, &["record", "head"]);
    holds(&words, &["the book's key is not in its folder"]);
    made.on(0, &["key", "renew", "--lost", "--reason", "the disk broke"]);
    made.on(0, &["record", "head"]);
    let (_, words) = ended(0, &run(&["verify", &book]));
    holds(&words, &["began a key without the signature of the one before"]);
    let (told, _) = ended(1, &run(&["verify", &book, "--key", renewed.trim()]));
    holds(&told, &["without the signature of the key before it"]);
    let bundle = made.bundle().display().to_string();
    ended(0, &run(&["verify", &bundle]));
}

/// While a file is damaged no report is issued; once the record checks, one is.
#[test]
fn a_damaged_file_is_found_by_a_scrub_and_stops_reports() {
    let made = Made::new();
    let (told, _) = made.on(0, &["record", "scrub"]);
    holds(&told, &[" evidence files, "]);
    let photo = files(&made.book().join("evidence")).into_iter().find(|it| is_photo(it)).unwrap();
    let sound = fs::read(&photo).unwrap();
    let mut bytes = sound.clone();
    bytes[40] ^= 4;
    fs::write(&photo, bytes).unwrap();
    let (told, _) = made.on(1, &["record", "scrub"]);
    holds(&told, &["does not check: a file of entry ", "is damaged"]);
    let again = ["--replaces", "1", "--reason", "a name", "--change", "a name"];
    let out = made.path("out");
    fs::create_dir(&out).unwrap();
    let report = [&["report", "1", "--out", &out], again.as_slice()].concat();
    let (_, words) = made.on(1, &report);
    holds(&words, &["the record did not check at ", "No report is issued until it checks again."]);
    fs::write(&photo, sound).unwrap();
    made.on(0, &["record", "check"]);
    made.on(0, &report);
    let (_, words) = made.on(0, &["record", "list"]);
    holds(&words, &["Last head seen outside: today, on report R-2."]);
}

/// Takes the guards off the record's file for one change, and puts them back.
fn change(book: &Path, statement: &str) {
    let connection = Connection::open(book.join("record.sqlite")).unwrap();
    let guards: Vec<(String, String)> = connection
        .prepare("SELECT name, sql FROM sqlite_schema WHERE type = 'trigger'")
        .unwrap()
        .query_map([], |row| Ok((row.get(0)?, row.get(1)?)))
        .unwrap()
        .map(Result::unwrap)
        .collect();
    let all = guards.iter();
    let off: String = all.clone().map(|(name, _)| format!("DROP TRIGGER {name};")).collect();
    let on: String = all.map(|(_, sql)| format!("{sql};")).collect();
    connection.execute_batch(&format!("BEGIN; {off} {statement}; {on} COMMIT")).unwrap();
}

/// Presses "Check the record now", and waits for what comes of it.
fn check(served: &Served) {
    assert_eq!(served.fill("/record/check", &[("head", "")]).status, 303);
    while served.page("/api/record/check").contains("\"state\":\"going on\"") {
        std::thread::sleep(std::time::Duration::from_millis(100));
    }
}

/// D9.3: what is done to the database of a book that is served.
#[test]
fn check_the_record_now_finds_what_was_done_to_the_database() {
    let served = Served::demo();
    let book = served.book();
    holds(
        &served.page("/record"),
        &["Last head seen outside", "on report R-1", "Last check", "never"],
    );
    check(&served);
    holds(&served.page("/record/check"), &["The record checks.", "signed heads were held"]);

    let who = |name: &str| format!("UPDATE entry SET who = '{name}' WHERE number = 5");
    let connection = Connection::open(book.join("record.sqlite")).unwrap();
    let sound: String = connection
        .query_row("SELECT who FROM entry WHERE number = 5", [], |row| row.get(0))
        .unwrap();
    drop(connection);
    change(&book, &who("Somebody Else"));
    check(&served);
    let page = served.page("/record/check");
    holds(&page, &["The record does not check", "the ledger is broken at entry 5"]);
    for page in ["/", "/reports", "/record/check", "/reports/new?plan=1"] {
        holds(&served.page(page), &["The record does not check", "Call the quality manager."]);
    }
    holds(&served.page("/record"), &["it did not check"]);
    holds(&served.page("/api/today"), &["\"record_alarm\":\"the ledger is broken at entry 5"]);
    let form = [("plan", "1"), ("issued_before", "1"), ("reason", "a name"), ("changes", "a name")];
    let refused = served.fill("/reports", &form);
    holds(&refused.body, &["The record did not check at", "No report is issued until it checks"]);
    assert_ne!(refused.status, 303);
    change(&book, &who(&sound));
    check(&served);
    holds(&served.page("/record/check"), &["The record checks."]);
    assert!(!served.page("/").contains("The record does not check"));

    change(&book, "DELETE FROM entry WHERE number > (SELECT max(number) - 10 FROM entry)");
    check(&served);
    holds(
        &served.page("/record/check"),
        &["The record does not check", "the record ends at entry"],
    );
}

/// D9.3: an old backup is put back beside what was signed since, and served.
#[test]
fn an_old_backup_that_was_put_back_is_found() {
    let served = Served::demo_after(|folder| {
        let book = folder.join("book");
        let (named, copy) = (book.display().to_string(), folder.join("copy"));
        let on = |arguments: &[&str]| ended(0, &run(&[&["--book", &named], arguments].concat()));
        let copied = copy.display().to_string();
        on(&["backup", &copied]);
        for lot in ["G-7", "G-8"] {
            let gas = ["--kind", "gas", "--description", "butane"];
            let add = ["--as", "Odalys Fenn", "equipment", "lot", lot];
            on(&[add.as_slice(), &gas].concat());
        }
        on(&["--as", "Odalys Fenn", "record", "head"]);
        for file in ["record.sqlite", "head"] {
            fs::copy(copy.join(file), book.join(file)).unwrap();
        }
    });
    check(&served);
    let page = served.page("/record/check");
    holds(&page, &["The record does not check", "the signed head of", "the record ends at entry"]);
}
