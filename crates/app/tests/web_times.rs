//! Times that the device doubted, over real HTTP and by command: a report waits until one who
//! reviews accepts them.

use serde_json::{Value, json};

use crate::served::{Served, holds, program};
use crate::web_bench::png;
use crate::web_plans::{led, ready_to_test};

const STOOD: &str = "this page stood still for 4.0 s: ± 0.01 s";
const MOVED: &str = "the clock of this device moved by +3600.0 s: durations do not use it";
const SLEPT: &str = "this device slept or its clock moved by +2.0 s: ± 2.0 s";

/// Sends presses of specimen 1 of plan 2 from a sequence on: seconds, act, and what the device said.
fn pressed(served: &Served, from: u32, presses: &[(u32, &str, Option<&str>)]) {
    let one = |((at, act, note), sequence): (&(u32, &str, Option<&str>), u32)| {
        let wall = format!("2026-03-06T08:00:{at:02}Z");
        let at_us = at * 1_000_000;
        json!({ "sequence": sequence, "at_us": at_us, "wall": wall, "act": act, "input": "switch", "note": note })
    };
    let presses: Vec<Value> = presses.iter().zip(from..).map(one).collect();
    let (device, sitting) = (format!("{:032x}", 1), format!("{:032x}", 2));
    let batch = json!({ "device": device, "sitting": sitting, "presses": presses });
    let answer = served.post_json("/api/bench/2/1/presses", &batch.to_string());
    assert_eq!(answer.status, 200, "{}", answer.body);
}

/// A WebP picture of one element, the smallest there is.
fn webp() -> Vec<u8> {
    let head = "524946462400000057454250565038201800000030010";
    let rest = "09d012a0100010002003425a400037000fefb940000";
    hex::decode(format!("{head}{rest}")).unwrap()
}

/// Specimen 1 of plan 2, pressed, described and judged; with what the device said of its time.
fn judged(served: &Served, said: &[&str]) {
    pressed(served, 1, &[(0, "flame-on", None), (30, "flame-removed", None)]);
    let doubts: Vec<_> = said.iter().map(|note| (35, "time-doubtful", Some(*note))).collect();
    pressed(served, 3, &doubts);
    let next = 3 + u32::try_from(doubts.len()).unwrap();
    pressed(served, next, &[(41, "flames-out", None), (44, "glow-out", None)]);
    let seen = "layer=unchanged&surroundings=none&burnt=partly&temperature=23&humidity=50";
    led(&served.post("/specimens/2-1/describe/all", seen));
    led(&served.post("/plans/2", "act=judge"));
}

#[test]
fn a_report_waits_until_doubtful_times_are_accepted_and_prints_who_did_and_why() {
    let served = ready_to_test();
    for (name, bytes) in [("IMG_1.png", png(9)), ("IMG_2.webp", webp())] {
        let to = format!("/api/bench/2/1/photos?name={name}");
        assert_eq!(served.send(&to, "application/octet-stream", bytes).status, 200);
    }
    judged(&served, &[STOOD, MOVED]);
    let plan = served.page("/plans/2");
    holds(&plan, &["The times of specimen 1 are doubtful.", "href=\"/specimens/2-1#times\""]);
    let waits = "doubtful times of 1 specimen wait to be accepted";
    let refused = served.post("/plans/2", "act=report");
    assert_eq!(refused.status, 409);
    holds(&refused.body, &[waits, "stood still for 4.0 s", "A reviewer accepts them on the page"]);
    holds(&refused.body, &["cinderbook run accept 2 1 --reason"]);
    let before = served.page("/reports/new?plan=2");
    holds(&before, &["The times of specimen 1 are doubtful", "/specimens/2-1#times"]);
    assert!(!before.contains("Issue report R-2"), "{before}");
    holds(&served.page("/plans/2/review"), &["Its times are doubtful and not accepted"]);
    let page = served.page("/specimens/2-1");
    holds(&page, &["Doubtful times", "This page stood still for 4.0 s: ± 0.01 s."]);
    // A step of the calendar is told, and makes no duration doubtful.
    assert!(!page.contains("<li>The clock of this device moved"), "{page}");
    let without = served.post("/specimens/2-1/times", "reason=+");
    assert_eq!(without.status, 422);
    holds(&without.body, &["<title>Error: ", "href=\"#reason\"", "Say why the times hold."]);
    for _ in 0..2 {
        let to = led(&served.post("/specimens/2-1/times", "reason=far+from+every+limit"));
        assert_eq!(to, "/specimens/2-1#times");
    }
    let page = served.page("/specimens/2-1");
    holds(&page, &["Accepted by Odalys Fenn, ", "Far from every limit."]);
    holds(&page, &["The doubtful times of specimen 1 of plan P-2 were accepted: far from every"]);
    assert_eq!(served.page("/api/record?kind=times-accepted").matches("\"entry\"").count(), 1);
    // What the device says later is not accepted yet.
    pressed(&served, 7, &[(50, "time-doubtful", Some(SLEPT))]);
    assert_eq!(served.post("/plans/2", "act=report").status, 409);
    let again = served.post_json("/api/specimens/2-1/times", "{\"reason\":\"after the end\"}");
    assert_eq!(again.status, 200, "{}", again.body);
    holds(&again.body, &["\"because\":[", "slept", "\"reason\":\"after the end\""]);
    assert_eq!(led(&served.post("/plans/2", "act=report")), "/reports/2");
    let remark = "The times of specimen 1 were accepted although";
    let report = served.page("/reports/2/json");
    holds(&report, &[remark, STOOD, "The reason: after the end."]);
    // Photographs from before the flame print, of either kind.
    for name in ["IMG_1.png", "IMG_2.webp"] {
        let before = "\"caption\": \"Specimen 1, before the flame\",\n      \"name\": ";
        holds(&report, &[&format!("{before}\"{name}\"")]);
    }
    served.ended();
}

#[test]
fn times_are_accepted_by_one_who_reviews_and_where_something_is_doubtful() {
    let served = ready_to_test();
    judged(&served, &[MOVED]);
    let nothing = served.post_json("/api/specimens/2-1/times", "{\"reason\":\"none\"}");
    assert_eq!(nothing.status, 409);
    holds(&nothing.body, &["nothing makes the times of specimen 1 of P-2 doubtful"]);
    pressed(&served, 6, &[(50, "time-doubtful", Some(STOOD))]);
    let folder = served.end();
    let run = |person: &str, arguments: &[&str]| {
        let mut command = program();
        command.args(["--as", person, "--book"]).arg(folder.path().join("book")).args(arguments);
        let done = command.output().unwrap();
        (done.status.code(), String::from_utf8(done.stderr).unwrap())
    };
    let accept = ["run", "accept", "2", "1", "--reason", "0.01 s of 30 s"];
    let (code, said) = run("Bram Tessaly", &accept);
    assert_eq!(code, Some(1), "{said}");
    holds(&said, &["Bram Tessaly is not authorised to review", "Odalys Fenn, Quill Marrow"]);
    let out = folder.path().display().to_string();
    let report = ["report", "2", "--out", out.as_str()];
    let (code, said) = run("Quill Marrow", &report);
    assert_eq!(code, Some(1), "{said}");
    holds(&said, &["doubtful-times: the times of specimen 1 are doubtful"]);
    let (code, said) = run("Quill Marrow", &accept);
    assert_eq!(code, Some(0), "{said}");
    holds(&said, &["times-accepted", "Next: `cinderbook report 2`."]);
    let (code, said) = run("Quill Marrow", &report);
    assert_eq!(code, Some(0), "{said}");
}
