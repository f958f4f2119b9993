//! What people are held to: authorisations by method, the bench pass, being disabled, the second factor,
//! the security log, and the commands.

use serde_json::{Value, json};

use crate::people::{admitted, asked, let_in, run};
use crate::served::{PASSWORD, Served, holds, kept};
use crate::web_describe::pressed;
use crate::web_plans::{led, ready_to_test};

#[test]
fn who_is_not_authorised_for_the_method_begins_no_specimen_and_is_told_why() {
    let mut served = ready_to_test();
    let act = json!({ "act": "invite", "person": "Tove Berg", "roles": ["technician"],
        "may": ["test by iec-60695-11-5/2004"] });
    assert_eq!(served.post_json("/api/setup/acts", &act.to_string()).status, 200);
    let theirs = let_in(&mut served, "Tove Berg");
    let mine = std::mem::replace(&mut served.cookie, theirs.clone());
    let why = "Tove Berg is not authorised to test by iec-60695-11-5/2016";
    holds(&served.page("/bench/2/1"), &[why, "Ask one who may: Bram Tessaly, Odalys Fenn."]);
    for _ in 0..2 {
        let refused = pressed(&served, 1, ("08:00", &[(0, "flame-on")]));
        assert_eq!(refused.status, 403);
        holds(&refused.body, &[why, "Ask one who may: Bram Tessaly, Odalys Fenn."]);
    }
    let ready = served.post_json("/api/plans/2/acts", r#"{"act":"readiness"}"#);
    assert_eq!(ready.status, 409);
    holds(&ready.body, &[why]);
    // A refusal is kept once, however often it is tried: at the bench, and for ready.
    let refusals = served.page("/api/record?kind=stage-refused&thing=P-2");
    assert_eq!(refusals.matches("\"entry\"").count(), 2 + 1, "{refusals}");

    served.cookie = mine;
    let entrust = |served: &Served, may: &str, reason: &str| {
        let act =
            json!({ "act": "entrust", "person": "Tove Berg", "may": [may], "reason": reason });
        served.post_json("/api/setup/acts", &act.to_string())
    };
    assert_eq!(entrust(&served, "test by iec-60695-11-5", "").status, 422, "a reason is needed");
    for (may, said) in [
        ("test by iec-60695-11-5 from 2026-03-07", "from 2026-03-07 on, not on 2026-03-06"),
        ("test by iec-60695-11-5 until 2026-03-05", "until 2026-03-05, not on 2026-03-06"),
    ] {
        assert_eq!(entrust(&served, may, "trained").status, 200);
        let mine = std::mem::replace(&mut served.cookie, theirs.clone());
        let refused = pressed(&served, 1, ("08:00", &[(0, "flame-on")]));
        served.cookie = mine;
        assert_eq!(refused.status, 403);
        holds(&refused.body, &[said]);
    }
    let may = "test by iec-60695-11-5 until 2026-03-06";
    assert_eq!(entrust(&served, may, "trained").status, 200);
    served.cookie = theirs;
    assert_eq!(pressed(&served, 1, ("08:00", &[(0, "flame-on")])).status, 200);
    holds(&served.page("/record"), &["authorised to: test by iec-60695-11-5 until 2026-03-06"]);
    served.ended();
}

#[test]
fn a_bench_pass_presses_until_the_specimen_is_closed_and_opens_nothing_else() {
    let mut served = ready_to_test();
    assert_eq!(pressed(&served, 1, ("08:00", &[(0, "flame-on")])).status, 200);
    let passes = |served: &Served| {
        let people: Value =
            serde_json::from_str(&kept(&served.book(), "access/people.json")).unwrap();
        people["passes"].as_array().unwrap().len()
    };
    assert_eq!(passes(&served), 1);
    served = served.later("2026-03-06T09:45:00Z");
    let shut = |served: &Served| {
        for path in ["/api/today", "/api/bench", "/api/bench/1/1", "/api/openapi.json"] {
            assert_eq!(served.get(path).status, 401, "{path}");
        }
        for path in ["/", "/specimens/2-1", "/specimens/2-1/describe", "/setup", "/bench"] {
            assert_eq!(served.get(path).status, 303, "{path}");
        }
        for path in [
            "/api/bench/2/1/timekeeper",
            "/api/bench/1/1/presses",
            "/api/specimens/2-1/description",
            "/api/specimens/2-1/times",
            "/api/reports",
            "/api/setup/acts",
            "/api/second-factor",
            "/api/sign-out",
        ] {
            assert_eq!(served.post_json(path, "{}").status, 401, "{path}");
        }
    };
    shut(&served);
    holds(&served.page("/bench/2/1"), &["data-specimen=\"1\"", "Odalys Fenn"]);
    let all = [(0, "flame-on"), (302, "flame-removed"), (417, "flames-out"), (440, "glow-out")];
    assert_eq!(pressed(&served, 1, ("08:00", &all)).status, 200, "the sign-in is over");
    shut(&served);
    // Half a day later it ends by itself.
    served = served.later("2026-03-06T20:59:00Z");
    assert_eq!(served.get("/api/bench/2/1").status, 200);
    served = served.later("2026-03-06T21:00:00Z");
    assert_eq!(served.get("/api/bench/2/1").status, 401);
    served.ended();
}

#[test]
fn a_pass_outlives_the_sign_out_and_ends_with_the_specimen_or_the_person() {
    let mut served = ready_to_test();
    let all = [(0, "flame-on"), (302, "flame-removed"), (417, "flames-out"), (440, "glow-out")];
    assert_eq!(pressed(&served, 1, ("08:00", &all[..2])).status, 200);
    let out = served.fill("/sign-out", &[]);
    let pass = served.cookie.split_once('=').unwrap().1.to_owned();
    holds(out.header("set-cookie"), &[&pass]);
    assert_eq!(served.get("/api/today").status, 401, "the sign-in has ended");
    assert_eq!(pressed(&served, 1, ("08:00", &all)).status, 200);
    let with_pass = served.cookie.clone();

    let form = [("name", "Odalys Fenn"), ("password", PASSWORD)];
    let answer = served.fill("/sign-in", &form);
    served.keep_cookie(&answer);
    let seen = "layer=unchanged&surroundings=none&burnt=partly&temperature=23&humidity=50";
    led(&served.post("/specimens/2-1/describe/all", seen));
    let signed_in = std::mem::replace(&mut served.cookie, with_pass.clone());
    assert_eq!(served.get("/api/bench/2/1").status, 401, "the specimen is closed");

    served.cookie = signed_in;
    // Without a specimen the cookie goes with the session.
    let out = served.fill("/sign-out", &[]);
    holds(out.header("set-cookie"), &["Max-Age=0"]);
    served.ended();
}

#[test]
fn who_is_disabled_is_out_everywhere() {
    let mut served = Served::demo_after(admitted);
    let theirs = let_in(&mut served, "Tove Berg");
    let mine = std::mem::replace(&mut served.cookie, theirs.clone());
    assert_eq!(served.get("/api/today").status, 200);
    let stream = served.stream("/api/flame/run/events");
    let ended = std::thread::spawn(move || {
        let mut stream = stream;
        std::io::copy(&mut stream, &mut std::io::sink()).ok();
    });
    served.cookie = mine;
    let form = [("act", "disable"), ("person", "Tove Berg"), ("reason-disable", "")];
    let without = served.fill("/setup/person", &form);
    assert_eq!(without.status, 422);
    holds(&without.body, &["Write the reason: it stays in the record."]);
    let form = [("act", "disable"), ("person", "Tove Berg"), ("reason-disable", "left")];
    assert_eq!(served.fill("/setup/person", &form).status, 303);
    let mine = std::mem::replace(&mut served.cookie, theirs);
    assert_eq!(served.get("/api/today").status, 401, "with the next request");
    // What they follow ends by itself.
    ended.join().unwrap();
    assert_eq!(
        served.fill("/sign-in", &[("name", "Tove Berg"), ("password", PASSWORD)]).status,
        401
    );
    served.cookie = mine;
    let link = r#"{"act":"link","person":"Tove Berg"}"#;
    let refused = served.post_json("/api/setup/acts", link);
    assert_eq!(refused.status, 422);
    holds(&refused.body, &["Tove Berg is disabled since 2026-03-06: left"]);
    holds(&served.page("/record"), &["Tove Berg was disabled: left."]);
    // A role, with its reason, lets them in again.
    let back = r#"{"act":"entrust","person":"Tove Berg","reason":"came back"}"#;
    assert_eq!(served.post_json("/api/setup/acts", back).status, 200);
    assert_eq!(served.post_json("/api/setup/acts", link).status, 200);
    let folder = served.end();
    let (code, _, said) =
        run(folder.path(), "Odalys Fenn", &["people", "disable", "Tove Berg", "--reason", "x"]);
    assert_eq!(code, Some(0), "{said}");
    let (code, _, said) = run(folder.path(), "Tove Berg", &["care", "done", "burner-cleaned"]);
    assert_eq!(code, Some(1), "{said}");
    holds(&said, &["Tove Berg was disabled on 2026-03-06: x"]);
}

/// The code that an authenticator shows: RFC 6238 over the secret as it takes it.
fn code(secret: &str, at: &str) -> String {
    let letters = "ABCDEFGHIJKLMNOPQRSTUVWXYZ234567";
    let bits: Vec<u8> = secret
        .chars()
        .flat_map(|letter| {
            let number = letters.find(letter).unwrap();
            (0..5).rev().map(move |bit| u8::try_from(number >> bit & 1).unwrap())
        })
        .collect();
    let bytes: Vec<u8> = bits
        .chunks_exact(8)
        .map(|eight| eight.iter().fold(0, |byte, bit| byte << 1 | bit))
        .collect();
    let at: jiff::Timestamp = at.parse().unwrap();
    let key = ring::hmac::Key::new(ring::hmac::HMAC_SHA1_FOR_LEGACY_USE_ONLY, &bytes);
    let tag = ring::hmac::sign(&key, &(at.as_second() / 30).to_be_bytes());
    let from = usize::from(tag.as_ref()[19] & 15);
    let four = <[u8; 4]>::try_from(&tag.as_ref()[from..from + 4]).unwrap();
    format!("{:06}", (u32::from_be_bytes(four) & 0x7fff_ffff) % 1_000_000)
}

#[test]
fn a_second_factor_is_asked_for_of_those_who_answer_for_others() {
    let at = "2026-03-06T09:00:00Z";
    let mut served = Served::demo_after(admitted);
    let technician = let_in(&mut served, "Tove Berg");
    let act = r#"{"act":"second-factor","second":"asked"}"#;
    assert_eq!(served.post_json("/api/setup/acts", act).status, 200);
    // Who has none yet is led to it, and to nothing else; of technicians none is asked for.
    assert_eq!(served.get("/").header("location"), "/second-factor");
    let refused = served.get("/api/today");
    assert_eq!(refused.status, 403);
    holds(&refused.body, &["a second factor is asked for, and there is none yet"]);
    let mine = std::mem::replace(&mut served.cookie, technician);
    assert_eq!(served.get("/api/today").status, 200);
    served.cookie = mine;
    let page = served.page("/second-factor");
    holds(
        &page,
        &["A second factor is asked for of you.", "otpauth://totp/Cinderbook:Odalys%20Fenn"],
    );
    let secret = asked(&served, "/api/second-factor")["secret"].as_str().unwrap().to_owned();
    assert_eq!(secret.len(), 32, "160 bits");
    let wrong = served.fill("/second-factor", &[("code", "000000")]);
    assert_eq!(wrong.status, 422);
    holds(&wrong.body, &["The code is not the one of now, or was used."]);
    let right = code(&secret, at);
    assert_eq!(served.fill("/second-factor", &[("code", &right)]).status, 303);
    assert_eq!(served.get("/api/today").status, 200);
    assert!(!served.page("/second-factor").contains(&secret), "it is not shown again");

    let sign_in = |code: &str| {
        let form = [("name", "Odalys Fenn"), ("password", PASSWORD), ("code", code)];
        served.fill("/sign-in", &form)
    };
    for (code, said) in [
        ("", "The code of your second factor is asked for too."),
        (right.as_str(), "The code is not the one of now, or was used."),
    ] {
        let refused = sign_in(code);
        assert_eq!(refused.status, 401, "{code}");
        holds(&refused.body, &[said, "Code of your second factor"]);
    }
    let next = code(&secret, "2026-03-06T09:00:30Z");
    assert_eq!(sign_in(&next).status, 303, "the next step, for a clock that is ahead");
    let log = kept(&served.book(), "access/log-2026-03.jsonl");
    holds(&log, &["set up a second factor", "asks for a second factor from now on"]);
    holds(&log, &["no right code of the second factor"]);
    assert!(!log.contains(&secret) && !log.contains(&right));
    // Whoever makes a link takes no second factor off.
    let form = [("act", "forget-second-factor"), ("person", "Odalys Fenn"), ("back", "person")];
    assert_eq!(served.fill("/setup", &form).status, 303);
    assert_eq!(served.get("/").header("location"), "/second-factor");
    served.ended();
}

#[test]
fn one_person_at_two_benches_at_once_is_told() {
    let served = crate::web_plans::ready_for_five();
    let press = |specimen: u32| {
        let id = |kind: u32| format!("{:032x}", kind << 8 | specimen);
        let batch = json!({ "device": id(1), "sitting": id(2), "presses": [{ "sequence": 1,
            "at_us": 0, "wall": "2026-03-06T08:00:00Z", "act": "flame-on", "input": "switch" }] });
        served.post_json(&format!("/api/bench/2/{specimen}/presses"), &batch.to_string())
    };
    assert_eq!(press(1).status, 200);
    let said = "you are timing specimen 1 of P-2 since";
    holds(&served.page("/bench/2/2"), &[said, "two people under one name?"]);
    assert!(!served.page("/bench/2/1").contains("two people under one name?"));
    assert_eq!(press(2).status, 200);
    let log = kept(&served.book(), "access/log-2026-03.jsonl");
    holds(&log, &["at two benches at once: specimen 1 of P-2 since"]);
    served.ended();
}

#[test]
fn the_security_log_is_read_by_administrators_alone_and_says_who_was_refused() {
    let mut served = Served::demo_after(admitted);
    let technician = let_in(&mut served, "Tove Berg");
    let mine = std::mem::replace(&mut served.cookie, technician);
    for path in ["/setup/log", "/api/setup/log", "/setup/person?name=Tove+Berg"] {
        let refused = served.get(path);
        assert_eq!(refused.status, 403, "{path}");
        holds(&refused.body, &["Tove Berg is a technician; to look after ", "Odalys Fenn"]);
    }
    assert_eq!(served.post_json("/api/reports", "{}").status, 403);
    served.cookie = mine;
    let page = served.page("/setup/log");
    let said = "refused /api/reports: Tove Berg is a technician; to issue reports is for";
    holds(&page, &[said, "made a link for Tove Berg", "127.0.0.1"]);
    let log = asked(&served, "/api/setup/log?month=2026-03");
    assert_eq!(log["months"], json!(["2026-03"]));
    assert!(log["lines"][0]["what"].as_str().unwrap().starts_with("refused /api/reports"));
    assert_eq!(served.get("/api/setup/log?month=..%2F..%2Fetc").status, 422);
    served.ended();
}

#[test]
fn people_are_admitted_and_changed_by_command_and_a_command_asks_who() {
    let served = Served::demo_after(admitted);
    let folder = served.end();
    let said = |person: &str, arguments: &[&str], exit: i32, wanted: &[&str]| {
        let (code, out, err) = run(folder.path(), person, arguments);
        assert_eq!(code, Some(exit), "{arguments:?}: {err}");
        holds(&format!("{out}{err}"), wanted);
    };
    let me = "Odalys Fenn";
    let list = ["Tove Berg\ttechnician\ttest", "Enno Falk\tengineer\treview; issue"];
    said(me, &["people"], 0, &list);
    said(
        me,
        &["people"],
        0,
        &["Odalys Fenn\ttechnician, engineer, quality-manager, administrator\t"],
    );
    let change = ["people", "change", "Tove Berg", "--role", "engineer", "--reason", "promoted"];
    let text = "to test is for a technician";
    said(me, &change, 2, &[text, "Choose that role too, or leave `test` out."]);
    let change = [&change[..], &["--may", "review by iec-60695-11-5/1884"]].concat();
    said(me, &change, 2, &["`iec-60695-11-5/1884` is no method that is known here"]);
    let change = [&change[..5], &["--may", "review", "--reason", "promoted"]].concat();
    said(me, &change, 0, &["person-entrusted", "Tove Berg\tengineer\treview"]);
    said(
        "Tove Berg",
        &["people", "admit", "X", "--role", "engineer"],
        1,
        &[
            "Tove Berg is an engineer; to look after people is for an administrator",
            "Ask one who may: Ada Winter, Odalys Fenn.",
        ],
    );
    let disable = |person| ["people", "disable", person, "--reason", "left"];
    said("Ada Winter", &disable(me), 0, &["person-disabled"]);
    said(me, &["people", "list"], 0, &["Odalys Fenn\t", "disabled since 2026-03-06: left"]);
    said(me, &["care", "done", "burner-cleaned"], 1, &["Odalys Fenn was disabled on 2026-03-06"]);
    said("Ada Winter", &disable("Ada Winter"), 1, &["the only one who looks after people"]);
    said("Quinn Moor", &["judge", "1"], 1, &["to judge the runs by the rules is for a technician"]);
    let withdraw = ["record", "withdraw", "2", "--reason", "x"];
    said("Quinn Moor", &withdraw, 1, &["to look after people is for an administrator"]);
}
