//! The bench over real HTTP: presses are kept once, and one sitting keeps the time.

use serde_json::{Value, json};

use crate::served::{Answer, Served, holds};

const PRESSES: &str = "/api/bench/1/1/presses";
const DEVICE: &str = "00000000000000000000000000000001";
const OTHER_DEVICE: &str = "00000000000000000000000000000002";
const SITTING: &str = "000000000000000000000000000000a1";
const OTHER_SITTING: &str = "000000000000000000000000000000a2";

/// A press so many tenths of a second into a sitting that began at 08:00.
fn press(sequence: u32, tenths: u32, act: &str) -> Value {
    press_at(sequence, tenths, &format!("08:00:{:02}.{}", tenths / 10, tenths % 10), act)
}

/// The same of a sitting that began at some other time.
fn press_at(sequence: u32, tenths: u32, wall: &str, act: &str) -> Value {
    json!({
        "sequence": sequence,
        "at_us": u64::from(tenths) * 100_000,
        "wall": format!("2026-03-06T{wall}Z"),
        "act": act,
        "input": "switch",
    })
}

/// The run by one button: flame on, removed, flames out, glow out.
fn run() -> Vec<Value> {
    vec![
        press(1, 0, "flame-on"),
        press(2, 302, "flame-removed"),
        press(3, 417, "flames-out"),
        press(4, 440, "glow-out"),
    ]
}

fn batch(sitting: (&str, &str), presses: &[Value]) -> String {
    json!({ "device": sitting.0, "sitting": sitting.1, "presses": presses }).to_string()
}

fn said(answer: &Answer) -> Value {
    serde_json::from_str(&answer.body).unwrap()
}

#[test]
fn presses_are_kept_once_whatever_way_they_come() {
    let served = Served::demo();
    let send = |presses: &[Value]| served.post_json(PRESSES, &batch((DEVICE, SITTING), presses));
    let all = run();
    // After a gap only the beginning is kept; the rest comes again, in another order and doubled.
    let cut = said(&send(&[all[0].clone(), all[2].clone()]));
    assert_eq!((&cut["kept_to"], &cut["state"]), (&json!(1), &json!("on-specimen")));
    let mut rest = all.clone();
    rest.reverse();
    rest.extend(all.clone());
    let done = said(&send(&rest));
    assert_eq!((&done["kept_to"], &done["state"]), (&json!(4), &json!("finished")));
    let again = said(&send(&all));
    assert_eq!(again, done);
    let twin: Value = serde_json::from_str(&served.page("/api/bench/1/1")).unwrap();
    assert_eq!(twin["presses"].as_array().unwrap().len(), 4);
    assert_eq!(twin["timekeeper"]["who"], "Odalys Fenn");
    // One that says something else under the same number is refused, and nothing of its batch kept.
    let other = [press(4, 450, "glow-out"), press(5, 460, "mark")];
    let refused = send(&other);
    assert_eq!(refused.status, 409, "{}", refused.body);
    assert_eq!(said(&send(&[]))["kept_to"], 4);
    let entries = served.page("/api/record?kind=presses-kept");
    assert_eq!(entries.matches("\"kind\":\"presses-kept\"").count(), 2, "{entries}");
}

#[test]
fn another_device_watches_until_it_takes_over_with_a_reason() {
    let served = Served::demo();
    let all = run();
    let first = served.post_json(PRESSES, &batch((DEVICE, SITTING), &all[..2]));
    assert_eq!(first.status, 200, "{}", first.body);
    let other = batch((OTHER_DEVICE, OTHER_SITTING), &[press_at(1, 0, "08:00:41.7", "flames-out")]);
    let refused = served.post_json(PRESSES, &other);
    assert_eq!(refused.status, 409);
    holds(&refused.body, &["specimen 1 is being timed by Odalys Fenn on another device"]);
    let wish = |reason: &str| {
        let wish = json!({ "device": OTHER_DEVICE, "sitting": OTHER_SITTING, "reason": reason });
        served.post_json("/api/bench/1/1/timekeeper", &wish.to_string())
    };
    assert_eq!(wish(" ").status, 422);
    let taken = wish("the first tablet is empty");
    assert_eq!(said(&taken)["timekeeper"]["sitting"], OTHER_SITTING, "{}", taken.body);
    assert_eq!(said(&served.post_json(PRESSES, &other))["state"], "glow");
}

#[test]
fn what_is_no_press_is_refused_by_name() {
    let served = Served::demo();
    for (what, presses, words) in [
        ("an act", json!([press(1, 0, "start")]), "`start` is nothing that is pressed"),
        ("a number", json!([press(0, 0, "flame-on")]), "is numbered 0"),
    ] {
        let body = batch((DEVICE, SITTING), presses.as_array().unwrap());
        let refused = served.post_json(PRESSES, &body);
        assert!((400..500).contains(&refused.status), "{what}: {}", refused.body);
        holds(&refused.body, &[words]);
    }
    let nobody = served.post_json("/api/bench/1/99/presses", &batch((DEVICE, SITTING), &run()));
    holds(&nobody.body, &["plan P-1 has no specimen 99"]);
    let short = served.post_json(PRESSES, &batch(("1", SITTING), &run()));
    holds(&short.body, &["`1` is no device"]);
}

#[test]
fn the_dark_page_is_given_what_the_plan_asks() {
    let served = Served::demo();
    let page = served.page("/bench/1/1");
    holds(&page, &["id=\"bench\"", "data-application-seconds=\"30\"", "data-limit-seconds=\"30\""]);
    holds(&page, &["data-not-ready=\"This specimen was tested already.\"", "data-made-up=\"yes\""]);
    assert!(!page.contains("style.css"));
    holds(&served.page("/bench"), &["No specimen is ready to be tested."]);
    let clock: Value = serde_json::from_str(&served.page("/api/clock")).unwrap();
    assert_eq!(clock["server_us"], json!(1_772_787_600_000_000_i64));
}
