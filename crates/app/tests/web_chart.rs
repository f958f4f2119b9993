//! The flame chart on its page, in the terminal and as files, over the fixed series whose flame gets
//! slower from 3 November on.
#![expect(clippy::disallowed_methods, reason = "these tests run the program and read its files")]

use serde_json::Value;

use crate::drift::{AFTER, MEANS, book, served};
use crate::served::{Served, holds, program};

fn twin(served: &Served, path: &str) -> Value {
    serde_json::from_str(&served.page(path)).unwrap()
}

#[test]
fn a_slow_drift_is_called_before_any_value_leaves_the_methods_limits() {
    let served = served(60);
    let chart = twin(&served, "/api/flame/chart");
    let spots = chart["spots"].as_array().unwrap();
    assert_eq!(spots.len(), MEANS.len());
    let first = "The flame has been getting slower since 3 November 2026.";
    assert_eq!(chart["told"][0], first);
    assert_eq!(chart["base_line"]["first"], "C-1");
    assert_eq!(chart["base_line"]["last"], "C-20");
    assert_eq!(chart["base_line"]["frozen"], Value::Null);
    let call = &chart["calls"][0];
    let called: usize = call["confirmation"].as_str().unwrap()[2..].parse().unwrap();
    assert!((43..=47).contains(&called), "{call}");
    assert_eq!((&call["way"], &call["last_good"]), (&"slower".into(), &"C-22".into()));
    let (low, high) = (&chart["method"]["low_s"], &chart["method"]["high_s"]);
    let inside = |value: &f64| (low.as_f64().unwrap()..=high.as_f64().unwrap()).contains(value);
    assert!(MEANS.iter().all(inside), "{}", chart["method"]);
    let gas = chart["marks"].as_array().unwrap().iter().find(|it| it["what"] == "gas lot G-2");
    assert_eq!(gas.unwrap()["at"], "2026-11-03T07:00:00Z");
    assert_eq!(gas.unwrap()["confirmation"], "C-30");
    let page = served.page("/flame/chart");
    let words =
        ["base line, not frozen", "method 24.5", "3 sigma", "weighted mean", "turn", "call"];
    holds(&page, &words);
    holds(&page, &[first, "Nobody has frozen it yet", "gas lot G-2", "Note what was done"]);
    let today = served.page("/");
    assert_eq!(today.matches("Look at the flame chart").count(), 1);
    holds(&today, &[first]);
    assert!(!today.contains("<audio") && !today.contains("<script src=\"/assets/bench"));
    served.ended();
}

#[test]
fn before_the_call_nothing_is_called() {
    let served = served(42);
    let chart = twin(&served, "/api/flame/chart");
    assert_eq!(chart["calls"], serde_json::json!([]));
    holds(chart["told"][0].as_str().unwrap(), &["The flame is where it was", "42 confirmations"]);
    assert!(!served.page("/").contains("flame chart"));
    let few = served.get("/flame/chart?last=none");
    assert_eq!(few.status, 422);
    let last = twin(&served, "/api/flame/chart?last=5");
    assert_eq!((&last["earlier"], last["spots"].as_array().unwrap().len()), (&37.into(), 5));
    served.ended();
}

#[test]
fn the_base_line_is_the_one_that_a_person_froze() {
    let folder = book(60);
    let mut command = program();
    command.env("CINDERBOOK_CLOCK", AFTER).arg("--book").arg(folder.path().join("book"));
    let done = command.args(["confirm", "base-line", "--freeze", "--to", "30"]).output().unwrap();
    assert!(done.status.success(), "{}", String::from_utf8_lossy(&done.stderr));
    let mut served = Served::start(folder, &[], AFTER);
    served.come_in();
    let chart = twin(&served, "/api/flame/chart");
    assert_eq!(chart["base_line"]["last"], "C-30");
    assert_eq!(chart["base_line"]["frozen"], AFTER);
    let page = served.page("/flame/chart");
    holds(&page, &["It was frozen on 3 December 2026.", "getting slower since 3 November 2026"]);
    assert!(!page.contains("not frozen"));
    served.ended();
}

#[test]
fn a_book_without_confirmations_says_what_will_stand_there() {
    let served = Served::of_a_new_book();
    holds(&served.page("/flame/chart"), &["The flame was not confirmed yet.", "Confirm the flame"]);
    assert_eq!(served.get("/flame/tested").status, 422);
    served.ended();
}

#[test]
fn what_was_done_closes_the_call_once() {
    let served = served(60);
    let empty = served.post("/flame/chart", "done=");
    assert_eq!(empty.status, 422);
    holds(&empty.body, &["<title>Error: Flame chart", "It is not said what was done."]);
    let noted = served.post("/flame/chart", "done=tube+cleaned%2C+flow+set+anew");
    assert_eq!(noted.status, 303, "{}", noted.body);
    let chart = twin(&served, "/api/flame/chart");
    assert_eq!(chart["call_open"], false);
    assert_eq!(chart["calls"][0]["done"], "tube cleaned, flow set anew");
    holds(chart["told"][0].as_str().unwrap(), &["Nothing is called since 3 December 2026"]);
    assert!(!served.page("/").contains("flame chart"));
    let again = served.post_json("/api/flame/chart/note", r#"{"done": "the same again"}"#);
    assert_eq!(again.status, 409, "{}", again.body);
    holds(&served.page("/record"), &["answered; done: tube cleaned, flow set anew."]);
    served.ended();
}

#[test]
fn the_results_that_are_touched_are_listed_in_one_step() {
    let served = served(60);
    let list = twin(&served, "/api/flame/tested");
    assert_eq!(list["since"], "C-22");
    assert_eq!(list["specimens"].as_array().unwrap().len(), 14);
    assert_eq!(list["reports"], serde_json::json!(["R-2", "R-3", "R-4"]));
    let page = served.page("/flame/tested");
    holds(&page, &["14 specimens tested since C-22", "3 reports issued", "Specimen 2 of P-5"]);
    let from = served.page("/flame/tested?since=C-12");
    holds(&from, &["17 specimens tested since C-12", "4 reports issued"]);
    let file = served.get("/flame/tested.csv?since=30");
    holds(&file.head, &["attachment; filename=\"tested-since-C-30.csv\""]);
    assert_eq!(file.body.lines().count(), 15);
    assert_eq!(served.get("/flame/tested?since=C-99").status, 422);
    served.ended();
}

#[test]
fn the_chart_comes_as_files_and_the_same_record_gives_the_same_bytes() {
    let folder = book(60);
    let run = |arguments: &[&str]| {
        let mut command = program();
        command.env("CINDERBOOK_CLOCK", AFTER).current_dir(folder.path());
        let done = command.args(["--book", "book", "chart"]).args(arguments).output().unwrap();
        assert!(done.status.success(), "{}", String::from_utf8_lossy(&done.stderr));
        String::from_utf8(done.stdout).unwrap()
    };
    let told = run(&[]);
    holds(
        &told,
        &["The flame has been getting slower since 3 November 2026.", "changed |", "gas lot G-2"],
    );
    assert!(told.is_ascii(), "{told}");
    assert_eq!(run(&["--csv"]).lines().count(), 61);
    let json: Value = serde_json::from_str(&run(&["--json"])).unwrap();
    assert_eq!(json["spots"][59]["confirmation"], "C-60");
    holds(&run(&["tested"]), &["14 specimens tested since C-22", "reports: R-4"]);
    run(&["--pdf", "one.pdf"]);
    run(&["--pdf", "two.pdf"]);
    let pdf = |name: &str| std::fs::read(folder.path().join(name)).unwrap();
    assert!(pdf("one.pdf").starts_with(b"%PDF-"));
    assert!(pdf("one.pdf") == pdf("two.pdf"), "the same record gives other bytes");
    holds(&run(&["note", "burner changed"]), &["the call is closed"]);
    holds(&run(&[]), &["when this was done: burner changed."]);
    let mut served = Served::start(folder, &[], AFTER);
    served.come_in();
    let page = served.get("/flame/chart.pdf");
    holds(&page.head, &["attachment; filename=\"flame-chart.pdf\"", "application/pdf"]);
    holds(&served.get("/flame/chart.csv?for=spreadsheet").body, &["\u{feff}confirmation,at"]);
    served.ended();
}
