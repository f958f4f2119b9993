//! The bench over real HTTP: presses are kept once, and one sitting keeps the time.

use serde_json::{Value, json};

use crate::served::{Answer, Served, holds};
use crate::web_plans::ready_to_test;

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

/// A PNG of one element, of this grey.
pub(crate) fn png(grey: u8) -> Vec<u8> {
    let mut bytes = Vec::new();
    let mut encoder = png::Encoder::new(&mut bytes, 1, 1);
    encoder.set_color(png::ColorType::Grayscale);
    encoder.write_header().unwrap().write_image_data(&[grey]).unwrap();
    bytes
}

#[test]
fn a_photograph_before_the_flame_is_kept_once_and_shown_as_such() {
    let served = ready_to_test();
    let photo = |name: &str, bytes: Vec<u8>| {
        served.send(
            &format!("/api/bench/2/1/photos?name={name}"),
            "application/octet-stream",
            bytes,
        )
    };
    holds(&served.page("/bench/2/1"), &["Photo before the flame: none yet (to do)"]);
    for _ in 0..2 {
        let kept = photo("IMG_1.png", png(9));
        assert_eq!(kept.status, 200, "{}", kept.body);
        holds(&kept.body, &["\"photos\":1", "\"name\":\"IMG_1.png\""]);
    }
    holds(&photo("IMG_2.png", png(8)).body, &["\"photos\":2"]);
    holds(&served.page("/bench/2/1"), &["Photo before the flame: 2 kept"]);
    for (name, bytes, why) in [
        ("words.png", b"once upon a time".to_vec(), "`words.png` is no JPEG, PNG or WebP picture"),
        ("IMG_3.jpg", png(7), "`IMG_3.jpg` is by its first bytes image/png"),
        ("IMG_3.png", Vec::new(), "no photograph came"),
        ("IMG_3.png", vec![0; (30 << 20) + 1], "`IMG_3.png` has more than 30 MB"),
    ] {
        let refused = photo(name, bytes);
        assert!(matches!(refused.status, 413 | 422), "{}", refused.status);
        holds(&refused.body, &[why]);
    }
    let page = served.page("/specimens/2-1");
    holds(&page, &["<h2>Photographs</h2>", "Before the flame.", "IMG_1.png", "IMG_2.png"]);
    holds(&page, &["Specimen 1 of plan P-2 was photographed before the flame: IMG_1.png."]);
    let twin: Value = serde_json::from_str(&served.page("/api/specimens/2-1")).unwrap();
    let hash = twin["photos_before"][0]["sha256"].as_str().unwrap();
    assert_eq!(served.bytes(&format!("/specimens/2-1/evidence/{hash}")), png(9));
    // Once the flame was there, no photograph is one of before.
    let presses = [(0, "flame-on")];
    assert_eq!(crate::web_describe::pressed(&served, 1, ("08:00", &presses)).status, 200);
    let late = photo("IMG_4.png", png(6));
    assert_eq!(late.status, 409, "{}", late.body);
    holds(&late.body, &["the flame came to specimen 1 of plan P-2 already"]);
    served.ended();
}
