//! A specimen from its presses to its description, over real HTTP.

use serde_json::{Value, json};

use crate::served::{Answer, Served, holds};
use crate::web_plans::{led, ready_to_test};

/// Sends presses of specimen 1 of plan 2: tenths of a second into a sitting, and what was pressed.
pub(crate) fn pressed(
    served: &Served,
    sitting: u8,
    (began, presses): (&str, &[(u32, &str)]),
) -> Answer {
    let one = |((tenths, act), sequence): (&(u32, &str), u32)| {
        let wall = format!("2026-03-06T{began}:{:02}.{}Z", tenths / 10, tenths % 10);
        let at_us = tenths * 100_000;
        json!({ "sequence": sequence, "at_us": at_us, "wall": wall, "act": act, "input": "switch" })
    };
    let presses: Vec<Value> = presses.iter().zip(1..).map(one).collect();
    let id = |kind: u8| format!("{:032x}", u32::from(kind) << 8 | u32::from(sitting));
    let batch = json!({ "device": id(1), "sitting": id(2), "presses": presses });
    served.post_json("/api/bench/2/1/presses", &batch.to_string())
}

fn answer(served: &Served, page: &str, form: &str) -> Answer {
    served.post(&format!("/specimens/2-1/describe/{page}"), form)
}

/// Two marks without a name, the layer out by its own time, typed.
const WITH_MARKS: [(u32, &str); 6] = [
    (0, "flame-on"),
    (74, "mark"),
    (90, "mark"),
    (302, "flame-removed"),
    (417, "flames-out"),
    (440, "glow-out"),
];

const AIR: &str = "burnt=partly&temperature=23&humidity=50";

/// Describes specimen 1 of plan 2 with nothing unusual, after the presses of its whole chain.
pub(crate) fn described(served: &Served) {
    let chain: Vec<(u32, &str)> =
        WITH_MARKS.into_iter().filter(|(_, act)| *act != "mark").collect();
    assert_eq!(pressed(served, 1, ("08:00", &chain)).status, 200);
    led(&answer(served, "layer", "layer=unchanged&surroundings=none"));
    led(&answer(served, "specimen", AIR));
    led(&answer(served, "check", ""));
}

#[test]
fn what_was_pressed_is_described_and_not_asked_again() {
    let served = ready_to_test();
    assert_eq!(pressed(&served, 1, ("08:00", &WITH_MARKS)).status, 200);
    holds(&served.page("/"), &["Waiting for you", "finished, to be described", "/specimens/2-1"]);
    holds(&served.page("/plans/2"), &["Describe specimen 1"]);
    let page = served.page("/specimens/2-1");
    holds(
        &page,
        &["Describe what you saw", "7.4 s: not named yet", "Every press at the bench (6)"],
    );
    assert_eq!(led(&served.get("/specimens/2-1/describe")), "/specimens/2-1/describe/marks");
    let unnamed = answer(&served, "marks", "mark-1=layer-caught&mark-2=");
    assert_eq!(unnamed.status, 422);
    holds(&unnamed.body, &["<title>Error: ", "Say what mark 2 at 9.0 s was.", "press by mistake"]);
    let named = "mark-1=layer-caught&mark-2=by-mistake";
    assert!(led(&answer(&served, "marks", named)).ends_with("/layer"));
    let layer = "layer=flamed&surroundings=out&surroundings-at=50";
    led(&answer(&served, "layer", layer));
    led(&answer(&served, "specimen", AIR));
    led(&answer(&served, "unusual", "note="));
    let check = served.page("/specimens/2-1/describe/check");
    holds(&check, &["Pressed at the bench by Odalys Fenn", "applied for 30.2 s", "out at 41.7 s"]);
    holds(&check, &["At 9.0 s", "press by mistake", "out at 50 s"]);
    led(&answer(&served, "check", ""));
    let page = served.page("/specimens/2-1");
    holds(&page, &["Does not meet the requirement", "9.0 s: press by mistake"]);
    holds(&page, &["it caught at 7.4 s and was out at 50.0 s", "Afterglow</dt><dd>2.3 s"]);
    holds(&page, &["Presses 1 to 6 of specimen 1 of plan P-2 were kept: flame on, mark"]);
    assert_eq!(served.get("/specimens/2-1/describe").status, 409);
    served.ended();
}

#[test]
fn a_pressed_time_is_corrected_with_a_reason_and_both_are_shown() {
    let served = ready_to_test();
    let presses: Vec<(u32, &str)> =
        WITH_MARKS.into_iter().filter(|(_, act)| *act != "mark").collect();
    pressed(&served, 1, ("08:00", &presses));
    assert_eq!(led(&served.get("/specimens/2-1/describe")), "/specimens/2-1/describe/all");
    led(&answer(&served, "layer", "layer=unchanged&surroundings=none"));
    led(&answer(&served, "specimen", AIR));
    let times = "times-reason=&removed-1=30,0&flames=out&flames-at=41.7&glow=out&\
                 glow-at=44";
    let refused = answer(&served, "times", times);
    holds(&refused.body, &["Say why a time is corrected."]);
    let times = times.replace("reason=", "reason=my+foot+slipped");
    assert!(led(&answer(&served, "times", &times)).ends_with("/layer"));
    let check = served.page("/specimens/2-1/describe/check");
    holds(&check, &["<del>30.2 s</del> 30.0 s", "my foot slipped"]);
    led(&answer(&served, "check", ""));
    let page = served.page("/specimens/2-1");
    holds(&page, &["<del>30.2 s</del> 30.0 s", "Corrected because: my foot slipped."]);
    holds(&served.page("/plans/2/review"), &["30.0 s instead of 30.2 s as pressed"]);
    served.ended();
}

#[test]
fn a_program_describes_with_a_document() {
    let served = ready_to_test();
    let send = |more: Value| {
        let mut said = json!({ "layer": "unchanged", "surroundings": "none", "burnt": "partly",
            "temperature": "23 °C", "humidity": "50 %" });
        said.as_object_mut().unwrap().extend(more.as_object().unwrap().clone());
        served.post_json("/api/specimens/2-1/description", &said.to_string())
    };
    let open = send(json!({}));
    assert_eq!(open.status, 422, "{}", open.body);
    holds(&open.body, &["\"kind\":\"began\"", "\"kind\":\"flames\"", "\"kind\":\"glow\""]);
    holds(&send(json!({ "colour": "blue" })).body, &["unknown field `colour`"]);
    pressed(&served, 1, ("08:00", &WITH_MARKS));
    let marks = json!([{ "kind": "drop" }, { "kind": "by-mistake" }]);
    holds(&send(json!({})).body, &["Say what mark 1 at 7.4 s was."]);
    let done = send(json!({ "marks": marks, "note": "crackled" }));
    assert_eq!((done.status, done.body.as_str()), (200, "{\"plan\":2,\"specimen\":1}"));
    holds(&served.page("/specimens/2-1"), &["7.4 s: a drop fell", "crackled", "11.5 s"]);
    assert_eq!(send(json!({ "marks": marks })).status, 409);
    served.ended();
}

#[test]
fn a_specimen_at_the_bench_is_not_described_and_a_spoilt_one_is_set_aside() {
    let served = ready_to_test();
    pressed(&served, 1, ("08:00", &[(0, "flame-on")]));
    let page = served.page("/");
    holds(&page, &["At the bench now", "flame on specimen", "href=\"/bench/2/1\""]);
    let refused = served.get("/specimens/2-1/describe");
    assert_eq!(refused.status, 409);
    holds(&refused.body, &["Specimen 1 of plan P-2 is at the bench: flame on specimen."]);
    pressed(&served, 1, ("08:00", &[(0, "flame-on"), (50, "specimen-spoilt")]));
    assert_eq!(led(&served.get("/specimens/2-1/describe")), "/specimens/2-1/describe/spoilt");
    holds(&answer(&served, "spoilt", "spoilt=").body, &["Say what happened."]);
    led(&answer(&served, "spoilt", "spoilt=a+draught"));
    holds(&served.page("/specimens/2-1"), &["Spoilt: a draught", "was spoilt: a draught."]);
    served.ended();
}

#[test]
fn a_take_over_widens_the_times_across_it() {
    let served = ready_to_test();
    pressed(&served, 1, ("08:00", &[(0, "flame-on"), (302, "flame-removed")]));
    let id = |kind: u8| format!("{:032x}", u32::from(kind) << 8 | 2);
    let wish = json!({ "device": id(1), "sitting": id(2), "reason": "the first tablet went dark" });
    let taken = served.post_json("/api/bench/2/1/timekeeper", &wish.to_string());
    assert_eq!(taken.status, 200, "{}", taken.body);
    pressed(&served, 2, ("08:00", &[(417, "flames-out"), (440, "glow-out")]));
    // The book's clock stands: by it the second device's calendar is 13.8 s ahead of the first's.
    let page = served.page("/specimens/2-1/describe/times");
    holds(&page, &["Another device took over", "± 13.80 s", "out at 41.7 s"]);
    holds(&served.page("/specimens/2-1"), &["from here on: the first tablet went dark."]);
}

#[test]
fn what_cannot_be_read_is_a_problem_like_any_other() {
    let served = Served::demo();
    let page = |path: &str, status: u16| {
        let answer = served.get(path);
        assert_eq!(answer.status, status, "{path}");
        holds(&answer.body, &["There is a problem", "What was sent cannot be read."]);
    };
    page("/plans?after=-1", 400);
    page("/bench/one/two", 400);
    page("/plans/%ff", 400);
    let document = |answer: Answer, status: u16, words: &str| {
        assert_eq!(answer.status, status, "{}", answer.body);
        assert_eq!(answer.header("content-type"), "application/problem+json");
        holds(&answer.body, &["\"title\":", words]);
    };
    document(served.get("/api/plans?after=-1"), 400, "cannot be read");
    document(served.post("/api/plans", "job=7"), 415, "application/json");
    document(served.post_json("/api/plans", "{"), 400, "cannot be read");
    document(served.post_json("/api/plans", "{}"), 422, "missing field");
    document(served.post_json("/api/today", "{}"), 405, "takes no POST");
    let cut = served.send("/specimens/1-1/photos", "multipart/form-data", "x");
    assert_eq!(cut.status, 400);
    holds(&cut.body, &["There is a problem"]);
}

/// The hour of the presses and the plan's last night: the book's clock stands at 09:00.
#[test]
fn what_is_written_later_says_why_in_the_record_and_on_the_report() {
    let mut served = ready_to_test();
    let chain: Vec<(u32, &str)> =
        WITH_MARKS.into_iter().filter(|(_, act)| *act != "mark").collect();
    assert_eq!(pressed(&served, 1, ("08:00", &chain)).status, 200);
    let why = "Why is it written";
    assert!(!served.page("/specimens/2-1/describe/all").contains(why), "an hour is not late");
    // Within the day: eight hours after the flame and one second.
    served = served.later("2026-03-06T16:00:01Z");
    let form = [("name", "Odalys Fenn"), ("password", crate::served::PASSWORD)];
    let signed_in = served.fill("/sign-in", &form);
    served.keep_cookie(&signed_in);
    holds(&served.page("/specimens/2-1/describe/all"), &["Why is it written 8 h after the flame?"]);
    let all = format!("layer=unchanged&surroundings=none&{AIR}");
    let refused = answer(&served, "all", &all);
    assert_eq!(refused.status, 422);
    let ask = "Say why it is written 8 h after the flame.";
    holds(&refused.body, &["<title>Error: ", "href=\"#later-reason\"", ask]);
    let document = json!({ "layer": "unchanged", "surroundings": "none", "burnt": "partly",
        "temperature": "23 °C", "humidity": "50 %" });
    let twin = "/api/specimens/2-1/description";
    let refused = served.post_json(twin, &document.to_string());
    assert_eq!(refused.status, 422);
    holds(&refused.body, &[ask, "\"later-reason\""]);
    led(&answer(
        &served,
        "all",
        &format!("{all}&later-reason=the+bench+was+needed.&note=crackled"),
    ));
    let said = "crackled Written 8 h after the flame because: the bench was needed.";
    holds(&served.page("/specimens/2-1"), &[said]);
    holds(&served.page("/plans/2/review"), &["Written later: 8 h after the flame, by Odalys Fenn"]);
    for act in ["judge", "report"] {
        assert_eq!(served.post("/plans/2", &format!("act={act}")).status, 303, "{act}");
    }
    holds(&served.page("/reports/2/json"), &[said]);
    served.ended();
}
