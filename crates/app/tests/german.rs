//! A report's language is chosen when it is issued, by page and by command, and kept in its entry.
#![expect(clippy::disallowed_methods, reason = "these tests read what the program writes")]

use serde_json::Value;

use crate::served::{Served, holds, program};
use crate::web_plans::led;

/// The demo's report, issued again in a language.
fn asked(before: u32, language: &str) -> String {
    format!("plan=1&issued_before={before}&reason=asked+for&changes=the+language{language}")
}

#[test]
fn a_report_is_issued_in_german_and_again_in_english() {
    let served = Served::demo();
    holds(
        &served.page("/reports/new?plan=1"),
        &["Language of the report", "<option value=\"en\">English", "<option value=\"de\">German"],
    );
    let unknown = served.post("/reports", &asked(1, "&language=tlh"));
    assert_eq!(unknown.status, 422);
    holds(&unknown.body, &["tlh", "is no language that reports are written in", "German, `de`"]);
    assert_eq!(led(&served.post("/reports", &asked(1, "&language=de"))), "/reports/2");
    holds(&served.page("/reports/2"), &["<dt>Language</dt><dd>German</dd>"]);
    holds(&served.page("/reports"), &["in German"]);
    assert!(!served.page("/reports/1").contains("<dt>Language</dt>"));
    assert_eq!(led(&served.post("/reports", &asked(2, ""))), "/reports/3");
    let data = |number: u32| -> Value {
        serde_json::from_str(&served.page(&format!("/reports/{number}/json"))).unwrap()
    };
    let (first, german, english) = (data(1), data(2), data(3));
    assert_eq!((first.get("language"), english.get("language")), (None, None));
    assert_eq!(german["language"], "de");
    assert_eq!(german["title"], "Prüfbericht: Prüfung mit der Nadelflamme");
    assert_eq!(english["title"], first["title"]);
    for report in [&german, &english] {
        assert_eq!(report["tested_on"], first["tested_on"]);
        for (found, wanted) in
            [("applied", "value"), ("burning", "shown"), ("burning", "uncertainty")]
        {
            assert_eq!(report["specimens"][0][found][wanted], first["specimens"][0][found][wanted]);
        }
    }
    let list = served.page("/api/reports");
    assert_eq!(list.matches("\"language\":\"de\"").count(), 1, "{list}");
    holds(
        &served.page("/record?kind=report-issued"),
        &["Report R-2 on plan P-1 was issued in German in place of R-1."],
    );
    served.ended();
}

#[test]
fn a_command_issues_in_german_and_names_the_languages_it_knows() {
    let folder = Served::demo().end();
    let (book, out) = (folder.path().join("book"), folder.path().display().to_string());
    let run = |language: &str| {
        let mut command = program();
        command.args(["--as", "Odalys Fenn", "--book"]).arg(&book);
        command.args(["report", "1", "--language", language, "--out", &out]);
        command.args(["--replaces", "1", "--reason", "asked for", "--change", "the language"]);
        let done = command.output().unwrap();
        (done.status.code(), String::from_utf8(done.stderr).unwrap())
    };
    let (code, said) = run("fr");
    assert_eq!(code, Some(2), "{said}");
    holds(&said, &["write en for English, or de for German"]);
    let (code, said) = run("de");
    assert_eq!(code, Some(0), "{said}");
    let table = std::fs::read_to_string(folder.path().join("R-2.csv")).unwrap();
    let first = std::fs::read_to_string(folder.path().join("R-1.csv")).unwrap();
    let numbers = |table: &str| -> Vec<Vec<String>> {
        let rows = table.lines().filter(|row| row.contains(",duration of burning,"));
        let cells = rows.map(|row| row.split(',').map(str::to_owned));
        cells.map(|row| row.filter(|cell| cell.parse::<f64>().is_ok()).collect()).collect()
    };
    let (german, english) = (numbers(&table), numbers(&first));
    assert!(german.len() == 3 && german == english, "{german:?} {english:?}");
    let mut verify = program();
    let done = verify.arg("verify").arg(&book).output().unwrap();
    assert!(done.status.success(), "{}", String::from_utf8_lossy(&done.stderr));
}
