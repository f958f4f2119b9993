//! Signatures over real HTTP: who signs what with which parts, what voids a signature, what a report
//! waits for, what is sent back, corrected and issued anew.

use serde_json::{Value, json};

use crate::served::{PASSWORD, Served, holds};
use crate::web_plans::{led, ready_to_sign, ready_to_test};

/// Another person comes in: a link is made for them, they choose a password. Their cookie.
pub(crate) fn comes_in(served: &mut Served, person: &str) -> String {
    let made =
        served.post_json("/api/setup/acts", &json!({"act": "link", "person": person}).to_string());
    assert_eq!(made.status, 200, "{}", made.body);
    let made: Value = serde_json::from_str(&made.body).unwrap();
    let link = made["link"].as_str().unwrap().to_owned();
    let path = link.strip_prefix(&served.origin).unwrap_or(&link).to_owned();
    let before = std::mem::take(&mut served.cookie);
    let answer = served.fill(&path, &[("password", PASSWORD), ("again", PASSWORD)]);
    assert_eq!(answer.status, 303, "{}", answer.body);
    served.keep_cookie(&answer);
    std::mem::replace(&mut served.cookie, before)
}

/// Does something as another person.
pub(crate) fn as_person<T>(
    served: &mut Served,
    cookie: &str,
    does: impl FnOnce(&Served) -> T,
) -> T {
    let before = std::mem::replace(&mut served.cookie, cookie.to_owned());
    let done = does(served);
    served.cookie = before;
    done
}

/// Specimen 1 of plan 2, typed from a stop-watch: the flame was removed 0.9 s late.
pub(crate) fn described(served: &Served) -> String {
    let seen = "began=2026-03-06+08:30&removed-1=30.9&flames=out&flames-at=41.7&glow=none&\
                surroundings=none&layer=unchanged&burnt=partly&temperature=23&humidity=50";
    for page in ["times", "layer", "specimen", "unusual"] {
        led(&served.post(&format!("/specimens/2-1/describe/{page}"), seen));
    }
    led(&served.post("/specimens/2-1/describe/check", ""))
}

fn twin(served: &Served, path: &str) -> Value {
    serde_json::from_str(&served.page(path)).unwrap()
}

/// Signs with both parts.
pub(crate) fn signs(served: &Served, who: &str, what: &str, meaning: &str) -> (u16, Value) {
    let giving = json!({ "what": what, "meaning": meaning, "name": who, "password": PASSWORD });
    let answer = served.post_json("/api/sign", &giving.to_string());
    (answer.status, serde_json::from_str(&answer.body).unwrap())
}

#[test]
fn the_demo_signs_by_three_people_and_its_report_prints_them() {
    let served = Served::demo();
    let data = twin(&served, "/reports/1/json");
    let signed: Vec<_> = data["signatures"].as_array().unwrap().iter().collect();
    let of = |meaning: &str| signed.iter().filter(|it| it["meaning"] == meaning).count();
    assert_eq!((of("Tested by"), of("Reviewed by"), of("Approved by")), (3, 1, 1));
    assert!(signed.iter().all(|it| it["covers"] == "this-record"), "{data}");
    holds(
        &served.page("/reports/1"),
        &["Covers this record", "Quill Marrow", "by name, without a password"],
    );
    holds(&served.page("/specimens/1-1"), &["Signatures", "Bram Tessaly", "Covers this record"]);
    // Correcting a specimen voids what was signed of it, and what was signed of the plan.
    let amend = json!({ "reason": "misread", "values": { "humidity": "51 %" } });
    let amended = served.post_json("/api/specimens/1-1/amend", &amend.to_string());
    assert_eq!(amended.status, 200, "{}", amended.body);
    let page = served.page("/specimens/1-1");
    holds(&page, &["No longer covers this record: entry", "Corrected since", "</del>", "Misread."]);
    holds(&served.page("/reports/1"), &["No longer covers this record"]);
    let sheet = twin(&served, "/api/plans/1/review");
    let stands: Vec<_> =
        sheet["signatures"].as_array().unwrap().iter().map(|it| it["covers"].clone()).collect();
    assert_eq!(stands, [false, true, true, false, false]);
    holds(
        &sheet["wanted"].to_string(),
        &["specimen 1 of plan P-1 as tested", "plan P-1 as approved"],
    );
    served.ended();
}

#[test]
fn a_report_waits_for_the_signatures_and_names_each_that_is_missing() {
    let mut served = ready_to_sign();
    let quill = comes_in(&mut served, "Quill Marrow");
    assert!(described(&served).starts_with("/sign?what=specimen-2-1&meaning=tested"));
    led(&served.post("/plans/2", "act=judge"));
    holds(&served.page("/plans/2"), &["Sign specimen 1 as tested"]);
    let refused = served.post("/plans/2", "act=report");
    assert_eq!(refused.status, 409);
    let missing = "specimen 1 of plan P-2 is not signed as tested";
    holds(
        &refused.body,
        &["2 signatures are missing", "Specimen 1 of plan P-2 is not signed as tested"],
    );
    holds(&served.page("/reports/new?plan=2").to_lowercase(), &[&missing.to_lowercase()]);
    // The first signature of a sitting takes both parts, the next one the password alone.
    let form = |name: &str, password: &str| {
        format!("what=specimen-2-1&meaning=tested&to=/plans/2&name={name}&password={password}")
    };
    let word = PASSWORD.replace(' ', "+");
    let no_name = served.post("/sign", &form("", &word));
    assert_eq!(no_name.status, 422);
    holds(&no_name.body, &["<title>Error: Sign", "This is not the name of Odalys Fenn."]);
    let wrong = served.post("/sign", &form("Odalys+Fenn", "something+else+here"));
    assert_eq!(wrong.status, 422);
    holds(&wrong.body, &["This is not your password."]);
    let page = served.page("/sign?what=specimen-2-1&meaning=tested");
    holds(&page, &["Tested by", "SHA-256", "name=\"name\"", "Sign as tested"]);
    for _ in 0..2 {
        assert_eq!(led(&served.post("/sign", &form("Odalys+Fenn", &word))), "/plans/2");
    }
    let signed = served.page("/api/record?kind=signed&person=Odalys+Fenn");
    assert_eq!(
        signed.matches("Specimen 1 of plan P-2 was signed as tested").count(),
        1,
        "{signed}"
    );
    let again = served.page("/sign?what=specimen-2-1&meaning=tested");
    holds(&again, &["You signed this at", "Nothing is signed twice"]);
    // Who tested does not approve.
    let page = served.page("/sign?what=plan-2&meaning=approved");
    holds(&page, &["Odalys Fenn tested specimens of plan P-2", "Let another person sign it"]);
    assert!(!page.contains("name=\"password\""), "{page}");
    let (status, told) = signs(&served, "Odalys Fenn", "plan-2", "approved");
    assert_eq!(status, 409, "{told}");
    // Another person opens what is odd, then approves.
    as_person(&mut served, &quill, |served| {
        let (status, told) = signs(served, "Quill Marrow", "plan-2", "approved");
        assert_eq!(
            (status, told["title"].as_str().unwrap()),
            (409, "odd things of plan P-2 were not opened: 1 specimens")
        );
        let review = served.page("/plans/2/review");
        holds(
            &review,
            &[
                "removed 0.9 s late",
                "Its times were typed, not pressed.",
                "There is no photograph and no film.",
            ],
        );
        assert!(!review.contains("Approve and sign"), "{review}");
        assert_eq!(led(&served.post("/plans/2/review", "act=open&specimen=1")), "/specimens/2-1");
        holds(&served.page("/plans/2/review"), &["Opened", "Approve and sign"]);
        let (status, told) = signs(served, "Quill Marrow", "plan-2", "approved");
        assert_eq!(status, 201, "{told}");
        assert_eq!(told["covers"], true);
    });
    assert_eq!(led(&served.post("/plans/2", "act=report")), "/reports/2");
    let data = twin(&served, "/reports/2/json");
    assert_eq!(data["signatures"].as_array().unwrap().len(), 2);
    assert_eq!(data["signatures"][1]["identified"], "password");
    served.ended();
}

#[test]
fn what_was_opened_and_that_both_parts_were_given_outlives_the_program() {
    let mut served = ready_to_sign();
    let quill = comes_in(&mut served, "Quill Marrow");
    described(&served);
    led(&served.post("/plans/2", "act=judge"));
    let (status, told) = signs(&served, "Odalys Fenn", "specimen-2-1", "tested");
    assert_eq!(status, 201, "{told}");
    served.cookie = quill;
    led(&served.post("/plans/2/review", "act=open&specimen=1"));
    let sheet = "/sign?what=plan-2&meaning=approved";
    holds(&served.page(sheet), &["name=\"name\""]);
    let (status, told) = signs(&served, "Quill Marrow", "plan-2", "reviewed");
    assert_eq!(status, 201, "{told}");
    let served = served.later("2026-03-06T09:00:00Z");
    holds(&served.page("/plans/2/review"), &["Opened", "Approve and sign"]);
    let page = served.page(sheet);
    holds(&page, &["name=\"password\""]);
    assert!(!page.contains("name=\"name\""), "{page}");
    // What is corrected after it was opened is opened again.
    let amend = json!({ "reason": "misread", "values": { "humidity": "51 %" } });
    let amended = served.post_json("/api/specimens/2-1/amend", &amend.to_string());
    assert_eq!(amended.status, 200, "{}", amended.body);
    assert!(!served.page("/plans/2/review").contains("Approve and sign"));
    served.ended();
}

#[test]
fn what_is_sent_back_voids_the_signature_and_stands_first_at_today() {
    let mut served = ready_to_sign();
    let quill = comes_in(&mut served, "Quill Marrow");
    described(&served);
    led(&served.post("/plans/2", "act=judge"));
    assert_eq!(signs(&served, "Odalys Fenn", "specimen-2-1", "tested").0, 201);
    as_person(&mut served, &quill, |served| {
        let silent = served.post("/plans/2/review", "act=send-back&specimen=1&note=+");
        assert_eq!(silent.status, 422);
        holds(&silent.body, &["It is not said what is to be looked at."]);
        let back = "act=send-back&specimen=1&note=was+the+flame+removed+late%3F";
        for _ in 0..2 {
            assert_eq!(led(&served.post("/plans/2/review", back)), "/plans/2/review");
        }
    });
    let today = twin(&served, "/api/today");
    holds(
        &today["waiting"][0]["state"].to_string(),
        &["sent back by Quill Marrow: was the flame removed late?"],
    );
    let page = served.page("/specimens/2-1");
    holds(&page, &["Sent back by Quill Marrow", "No longer covers this record", "Sign as tested"]);
    // A correction needs a reason; both values are shown, and printed.
    let form = "began=2026-03-06T08:30:00Z&removed-1=30.2&flames=out&flames-at=41.7&glow=none&\
                surroundings=none&layer=unchanged&burnt=partly&temperature=23&humidity=50&note=";
    let silent = served.post("/specimens/2-1/amend", form);
    assert_eq!(silent.status, 422);
    holds(&silent.body, &["<title>Error: ", "Say why a value is corrected.", "value=\"30.2\""]);
    let nothing = json!({ "reason": "none", "values": {} }).to_string();
    assert_eq!(served.post_json("/api/specimens/2-1/amend", &nothing).status, 422);
    let why = format!("{form}&reason=the+film+shows+it");
    assert_eq!(led(&served.post("/specimens/2-1/amend", &why)), "/specimens/2-1");
    let page = served.page("/specimens/2-1");
    holds(
        &page,
        &["Corrected since", "</span>30.9 s</del>", "</span>30.2 s</ins>", "The film shows it."],
    );
    assert_eq!(signs(&served, "Odalys Fenn", "specimen-2-1", "tested").0, 201);
    assert!(!served.page("/").contains("sent back"), "it was answered");
    led(&served.post("/plans/2", "act=judge"));
    as_person(&mut served, &quill, |served| {
        led(&served.post("/plans/2/review", "act=open&specimen=1"));
        assert_eq!(signs(served, "Quill Marrow", "plan-2", "approved").0, 201);
    });
    assert_eq!(led(&served.post("/plans/2", "act=report")), "/reports/2");
    let data = twin(&served, "/reports/2/json");
    let amended = data["amended"].as_array().unwrap();
    let removed = amended.iter().find(|it| it["what"] == "Flame 1 removed").unwrap();
    assert_eq!((&removed["was"], &removed["holds"]), (&json!("30.9 s"), &json!("30.2 s")));
    let void =
        data["signatures"].as_array().unwrap().iter().filter(|it| it["covers"] == "no-longer");
    assert_eq!(void.count(), 1);
    served.ended();
}

#[test]
fn a_report_is_issued_anew_with_what_changed_and_the_old_one_is_marked() {
    let served = ready_to_test();
    described(&served);
    led(&served.post("/plans/2", "act=judge"));
    assert_eq!(led(&served.post("/plans/2", "act=report")), "/reports/2");
    let back = served.post("/reports", "plan=2&issued_before=0");
    assert_eq!(back.status, 409);
    holds(&back.body, &["Report R-2 was issued at"]);
    let twice = served.post_json("/api/plans/2/acts", r#"{"act": "report", "after": 2}"#);
    assert_eq!(twice.status, 409, "{}", twice.body);
    let amend =
        json!({ "reason": "misread", "values": { "flames-at": "40,7 s", "removed-1": "30.2" } });
    assert_eq!(served.post_json("/api/specimens/2-1/amend", &amend.to_string()).status, 200);
    led(&served.post("/plans/2", "act=judge"));
    holds(&served.page("/plans/2"), &["Issue a report in place of R-2"]);
    let page = served.page("/reports/new?plan=2");
    holds(&page, &["Specimen 1, Flames: out at 40.7 s instead of out at 41.7 s (entry"]);
    let why = "plan=2&issued_before=1&reason=a+time+was+misread&changes=Flames+out+at+40.7+s.";
    assert_eq!(led(&served.post("/reports", why)), "/reports/3");
    holds(&served.page("/reports/2"), &["takes its place"]);
    holds(&served.page("/reports/3"), &["It takes the place of"]);
    let data = twin(&served, "/reports/3/json");
    assert_eq!(data["amends"]["replaces"], "R-2");
    holds(
        &data["remarks"].to_string(),
        &["The laboratory asks for no signatures in the record: signed on paper"],
    );
    // The one that was replaced reads as it did.
    assert_eq!(twin(&served, "/reports/2/json")["amends"], Value::Null);
    served.ended();
}

#[test]
fn one_person_may_test_and_approve_where_the_laboratory_wrote_why() {
    let served = ready_to_sign();
    described(&served);
    led(&served.post("/plans/2", "act=judge"));
    let silent =
        served.post("/sign/rules", "asked=tested&asked=approved&same-person=allowed&reason=");
    assert_eq!(silent.status, 422);
    holds(&silent.body, &["It is not said why."]);
    let rule = json!({ "asked": ["tested", "approved"], "same_person": "allowed", "reason": "one person works on Fridays" });
    let set = served.post_json("/api/sign/rules", &rule.to_string());
    assert_eq!(set.status, 200, "{}", set.body);
    holds(&served.page("/sign/rules"), &["Set by Odalys Fenn", "one person works on Fridays"]);
    assert_eq!(signs(&served, "Odalys Fenn", "specimen-2-1", "tested").0, 201);
    led(&served.post("/plans/2/review", "act=open&specimen=1"));
    assert_eq!(signs(&served, "Odalys Fenn", "plan-2", "approved").0, 201);
    assert_eq!(led(&served.post("/plans/2", "act=report")), "/reports/2");
    let remarks = twin(&served, "/reports/2/json")["remarks"].to_string();
    holds(&remarks, &["lets one person test and approve: one person works on Fridays."]);
    served.ended();
}

#[test]
fn the_trail_is_reviewed_and_signed_and_the_next_review_begins_there() {
    let served = Served::demo();
    let amend = json!({ "reason": "misread", "values": { "humidity": "51 %" } });
    assert_eq!(served.post_json("/api/specimens/1-1/amend", &amend.to_string()).status, 200);
    let sheet = twin(&served, "/api/record/review");
    assert_eq!((&sheet["from"], &sheet["share"]), (&json!(1), &json!("100 %")));
    assert_eq!(sheet["changes"], sheet["with_reason"]);
    let only = twin(&served, "/api/record/review?kind=corrected&person=Odalys+Fenn");
    assert_eq!(only["listed"].as_array().unwrap().len(), 1);
    let page = served.page("/record/review");
    holds(&page, &["Sign the review up to entry", "misread", "The trail was not reviewed yet."]);
    let what = sheet["what"].as_str().unwrap();
    let (status, told) = signs(&served, "Odalys Fenn", what, "reviewed");
    assert_eq!(status, 201, "{told}");
    let next = twin(&served, "/api/record/review");
    assert_eq!(next["from"].as_u64().unwrap(), sheet["until"].as_u64().unwrap() + 1);
    let gap = format!("trail-{}-{}", next["from"].as_u64().unwrap() + 1, next["until"]);
    assert_eq!(signs(&served, "Odalys Fenn", &gap, "reviewed").0, 409);
    holds(&served.page("/record/review"), &["Reviews before", "Reviewed by", "Covers this record"]);
    assert_eq!(served.get("/record/review?until=yesterday").status, 422);
    served.ended();
}
