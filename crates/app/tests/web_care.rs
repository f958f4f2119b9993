//! Care of the bench: recorded in one press, due by day and by count, in the way of *ready* where the
//! laboratory says so; what an engineer lets through; the list of a new bench.
#![expect(clippy::disallowed_methods, reason = "these tests run the program and read its files")]

use std::path::Path;

use serde_json::{Value, json};

use crate::drift;
use crate::served::{Served, holds, program};

fn twin(served: &Served, path: &str) -> Value {
    serde_json::from_str(&served.page(path)).unwrap()
}

/// What the program says to these words in the book of a folder, and whether it is content.
fn said(folder: &Path, clock: &str, words: &[&str]) -> (bool, String) {
    let mut command = program();
    command.env("CINDERBOOK_CLOCK", clock).arg("--book").arg(folder.join("book")).args(words);
    let done = command.output().unwrap();
    let (out, err) = (String::from_utf8_lossy(&done.stdout), String::from_utf8_lossy(&done.stderr));
    (done.status.success(), format!("{out}{err}"))
}

fn act<'s>(sheet: &'s Value, task: &str) -> &'s Value {
    sheet["acts"].as_array().unwrap().iter().find(|it| it["task"] == task).unwrap()
}

#[test]
fn an_act_is_recorded_in_one_press_and_stands_on_the_flame_chart() {
    let served = drift::served(60);
    let before = twin(&served, "/api/care");
    assert_eq!(act(&before, "burner-cleaned")["told"], "no interval counts yet");
    let pressed = served.post("/care", "act=done&task=burner-cleaned");
    assert_eq!(pressed.status, 303, "{}", pressed.body);
    let cleaned = twin(&served, "/api/care");
    let cleaned = act(&cleaned, "burner-cleaned");
    assert_eq!((&cleaned["days"], &cleaned["own_interval"]), (&json!(30), &json!(false)));
    holds(cleaned["told"].as_str().unwrap(), &["last on 2026-12-03", "holds till 2027-01-02"]);
    holds(&served.page("/care"), &["30 days or 50 specimens (a beginning of ours)", "Done now"]);
    holds(&served.page("/flame/chart"), &["burner cleaned"]);
    holds(&served.page("/record"), &["Care: burner cleaned."]);
    let wrong = served.post("/care", "act=done&task=burner-painted");
    assert_eq!(wrong.status, 422);
    holds(&wrong.body, &["`burner-painted` is no act of care"]);
    let lot = served.post_json("/api/care/done", r#"{"task": "tissue-lot-opened"}"#);
    assert_eq!(lot.status, 422);
    holds(&lot.body, &["is recorded by the lot"]);
    let other = r#"{"task": "block-weighed", "piece": "CB-9"}"#;
    assert_eq!(served.post_json("/api/care/done", other).status, 422);
    served.ended();
}

#[test]
fn what_is_needed_for_ready_stands_in_the_way_once_it_is_due() {
    let served = drift::served(60);
    let empty = served.post("/care", "act=every&every-task=burner-cleaned&days=&specimens=");
    assert_eq!(empty.status, 422);
    holds(&empty.body, &["It is not said after how long burner cleaned falls due."]);
    let set = "act=every&every-task=burner-cleaned&days=14&specimens=&for-ready=yes";
    assert_eq!(served.post("/care", set).status, 303);
    holds(&served.page("/"), &["burner cleaned", "Due: never recorded"]);
    let never = twin(&served, "/api/bench/6/1");
    holds(never["not_ready"].as_str().unwrap(), &["burner cleaned is due: never recorded"]);
    assert_eq!(served.post("/care", "act=done&task=burner-cleaned&piece=NB-1").status, 303);
    assert!(!served.page("/").contains("burner cleaned"));
    // A sign-in is over by then.
    let days_later = "2026-12-07T09:00:00Z";
    let mut served = Served::start(served.end(), &["--link", "Ana Ruiz"], days_later);
    served.come_in();
    let open = twin(&served, "/api/bench/6/1");
    assert!(!open["not_ready"].as_str().unwrap().contains("burner"), "{open}");
    let folder = served.end();
    let late = "2026-12-20T09:00:00Z";
    let (good, words) = said(folder.path(), late, &["ready", "check", "6"]);
    assert!(!good, "{words}");
    let due = "burner cleaned is due: last on 2026-12-03 by Ana Ruiz, held till 2026-12-17";
    holds(&words, &[due, "thermocouple TC-4 was due on 2026-12-08"]);
    let (good, words) = said(folder.path(), late, &["care"]);
    assert!(good, "{words}");
    holds(&words, &["burner-cleaned\tDUE", "needed for ready"]);
    let let_both = [
        ["care", "let", "6", "burner-cleaned", "--reason", "no time"],
        ["care", "let", "6", "TC-4", "--reason", "checked against TC-5"],
    ];
    for words in let_both {
        let (good, said) = said(folder.path(), late, &words);
        assert!(good, "{said}");
    }
    let (good, words) = said(folder.path(), late, &["ready", "check", "6"]);
    assert!(good, "{words}");
}

#[test]
fn a_calibration_falls_due_stops_the_bench_and_is_let_through_for_a_written_reason() {
    let served = drift::served(60);
    let today = twin(&served, "/api/today");
    assert_eq!(today["falls_due"][0]["equipment"], "TC-4");
    assert_eq!(today["falls_due"][0]["on"], "2026-12-08");
    let folder = served.end();
    drift::confirmed_on_9_december(folder.path());
    let mut served = Served::start(folder, &["--link", "Ana Ruiz"], "2026-12-09T09:00:00Z");
    served.come_in();
    let due = twin(&served, "/api/bench/6/1");
    let why = "thermocouple TC-4 was due on 2026-12-08; today is 2026-12-09";
    holds(due["not_ready"].as_str().unwrap(), &[why]);
    holds(&served.page("/bench/6/1"), &[why, "See what is due"]);
    holds(&served.page("/care"), &["P-6: the calibration of TC-4", "In the way of a plan"]);
    let silent = served.post("/care", "act=let&let=6+TC-4&reason=");
    assert_eq!(silent.status, 422);
    holds(&silent.body, &["It is not said why the calibration of TC-4 may wait."]);
    for plan in ["5", "6"] {
        let form = format!("act=let&let={plan}+TC-4&reason=held+against+TC-5+at+100+C");
        let done = served.post("/care", &form);
        assert_eq!(done.status, 303, "{}", done.body);
    }
    assert_eq!(twin(&served, "/api/bench/6/1")["not_ready"], Value::Null);
    let again = r#"{"plan": 6, "item": "TC-4", "reason": "twice"}"#;
    assert_eq!(served.post_json("/api/care/let", again).status, 409);
    let folder = served.end();
    let clock = "2026-12-09T10:00:00Z";
    let words = ["report", "5", "--out", folder.path().to_str().unwrap()];
    let (good, words) = said(folder.path(), clock, &words);
    assert!(good, "{words}");
    let report = std::fs::read_to_string(folder.path().join("R-5.json")).unwrap();
    holds(
        &report,
        &[
            "Tested although this was due: the calibration of TC-4. Let through on 2026-12-09 by Ana Ruiz",
        ],
    );
}

#[test]
fn a_new_bench_is_gone_through_point_by_point_and_kept() {
    let served = Served::of_a_new_book();
    let page = served.page("/care/commissioning");
    holds(
        &page,
        &["Local codes and licensed practice decide", "The extraction leads to the outside"],
    );
    let half = served.post("/care/commissioning", "bench=NB-1&extraction=in-order");
    assert_eq!(half.status, 422);
    holds(&half.body, &["No draught: a flame of 12 mm stands still", "say what was found."]);
    let points: Vec<Value> = trial::commissioning::points()
        .iter()
        .map(|point| json!({"key": point.key, "found": "in-order", "note": "looked at"}))
        .collect();
    let list = json!({"bench": "NB-1 in CH-1", "points": points});
    let kept = served.post_json("/api/care/commissioning", &list.to_string());
    assert_eq!(kept.status, 200, "{}", kept.body);
    let form: Vec<String> = trial::commissioning::points()
        .iter()
        .map(|point| format!("{}=not-in-order", point.key))
        .collect();
    let form = format!("bench=NB-2&{}", form.join("&"));
    assert_eq!(served.post("/care/commissioning", &form).status, 303);
    let page = served.page("/care/commissioning");
    let words =
        ["Nothing was out of order.", "Something was out of order.", "Signature of the person"];
    holds(&page, &words);
    holds(&served.page("/record"), &["The bench NB-1 in CH-1 was gone through: nothing was"]);
    served.ended();
}
