//! Set up: people are let in and shut out, sign-ins end, and the security log tells of it.

use crate::served::{Answer, PASSWORD, PERSON, Served, holds, kept, new_book};

const NOON: &str = "2026-11-25T12:00:00Z";
const LOG: &str = "access/log-2026-11.jsonl";
const BO: &str = "Bo Lind";

fn book() -> Served {
    let mut served = Served::start(new_book(), &[], NOON);
    served.come_in();
    served
}

/// The path of the link that a page shows.
fn link(served: &Served, page: &Answer) -> String {
    assert_eq!(page.status, 200, "{}", page.body);
    let (_, from) = page.body.split_once(&format!("value=\"{}/link/", served.origin)).unwrap();
    format!("/link/{}", from.split('"').next().unwrap())
}

fn invite(served: &Served, person: &str) -> Answer {
    let form = [("act", "invite"), ("person", person), ("role", "technician"), ("may", "test")];
    served.fill("/setup", &form)
}

/// Lets a person in by a link; their cookie.
fn let_in(served: &mut Served, path: &str) -> String {
    let before = served.cookie.clone();
    let answer = served.fill(path, &[("password", PASSWORD), ("again", PASSWORD)]);
    assert_eq!(answer.status, 303, "{}", answer.body);
    served.keep_cookie(&answer);
    std::mem::replace(&mut served.cookie, before)
}

#[test]
fn a_person_is_invited_comes_in_and_is_shut_out_at_once() {
    let mut served = book();
    let shown = invite(&served, BO);
    let path = link(&served, &shown);
    holds(&shown.body, &["It can be used once, within 15 min, and is not shown again."]);
    assert!(!served.page("/setup").contains(&path), "it is shown once");
    holds(&served.page("/setup"), &["no password"]);
    holds(&served.page("/record"), &["Bo Lind is a technician; authorised to: test."]);
    let theirs = let_in(&mut served, &path);
    assert_eq!(served.get(&path).status, 410);
    holds(&served.page("/setup"), &["is in, on one browser"]);

    // The other one sees their own sign-ins, and nobody else's.
    let mine = std::mem::replace(&mut served.cookie, theirs);
    let page = served.page("/setup");
    holds(&page, &["Ana Ruiz</strong> looks after people", "Your sign-ins"]);
    assert!(!page.contains("Invite a person"));
    for (act, what) in [
        ("end", "people"),
        ("link", "people"),
        ("second-factor", "people"),
        ("forget-second-factor", "people"),
        ("renew", "the server"),
    ] {
        let refused = served.fill("/setup", &[("act", act), ("person", PERSON)]);
        assert_eq!(refused.status, 403, "{act}");
        let said =
            format!("Bo Lind is a technician; to look after {what} is for an administrator.");
        holds(&refused.body, &[&said, "Ask one who may: Ana Ruiz."]);
    }
    let act = r#"{"act":"disable","person":"Ana Ruiz","reason":"x"}"#;
    assert_eq!(served.post_json("/api/setup/acts", act).status, 403);

    let theirs = std::mem::replace(&mut served.cookie, mine);
    let disable = |person| [("act", "disable"), ("person", person), ("reason-disable", "left")];
    assert_eq!(served.fill("/setup/person", &disable(BO)).status, 303);
    let mine = std::mem::replace(&mut served.cookie, theirs);
    assert_eq!(served.get("/api/today").status, 401, "with the next request");
    let again = served.fill("/sign-in", &[("name", BO), ("password", PASSWORD)]);
    assert_eq!(again.status, 401);
    served.cookie = mine;
    let last = served.fill("/setup/person", &disable(PERSON));
    assert_eq!(last.status, 409);
    holds(&last.body, &["Ana Ruiz is the only one who looks after people."]);
    served.ended();
}

#[test]
fn who_is_invited_has_a_name_of_their_own() {
    let served = book();
    for (name, words) in [
        ("", "It is not said who is invited. Type a name."),
        ("ana ruiz", "Ana Ruiz is in the book already. Make a link in the list."),
        (&"x".repeat(101), "The name has 101 characters. Type one line of at most 100 characters."),
    ] {
        let refused = invite(&served, name);
        assert_eq!(refused.status, 422, "{name}");
        holds(&refused.body, &[words, "<title>Error: Set up"]);
        assert_eq!(refused.body.matches(words).count(), 2, "on top and at the field");
    }
    let twin = served.post_json(
        "/api/setup/acts",
        r#"{"act":"invite","person":"Bo Lind","roles":["technician"],"may":["everything"]}"#,
    );
    assert_eq!(twin.status, 422);
    holds(&twin.body, &["`everything` begins with nothing one is authorised for"]);
    let unknown = served.fill("/setup", &[("act", "link"), ("person", "Nobody")]);
    assert_eq!(unknown.status, 422);
    served.ended();
}

#[test]
fn own_sign_ins_are_listed_and_ended() {
    let mut served = book();
    let first = served.cookie.clone();
    let answer = served.fill("/sign-in", &[("name", PERSON), ("password", PASSWORD)]);
    served.keep_cookie(&answer);
    let setup: serde_json::Value = serde_json::from_str(&served.page("/api/setup")).unwrap();
    let sessions = setup["sessions"].as_array().unwrap();
    assert_eq!(sessions.len(), 2);
    let other = sessions.iter().find(|it| it["this_one"] == false).unwrap();
    let form = [("act", "end"), ("session", other["session"].as_str().unwrap())];
    assert_eq!(served.fill("/setup", &form).status, 303);
    let second = std::mem::replace(&mut served.cookie, first);
    assert_eq!(served.get("/api/today").status, 401);
    served.cookie = second;
    assert_eq!(served.get("/api/today").status, 200);
}

#[test]
fn from_one_address_twenty_sign_ins_a_minute_are_taken() {
    let served = book();
    for number in 0..20 {
        let name = format!("name {number}");
        let wrong = served.fill("/sign-in", &[("name", &name), ("password", "x")]);
        assert_eq!(wrong.status, 401);
    }
    let form = [("name", PERSON), ("password", PASSWORD)];
    let waits = served.fill("/sign-in", &form);
    assert_eq!(waits.status, 429);
    let said = "20 sign-ins from this address within 1 min; the next is taken in 60 s.";
    holds(&waits.body, &[said, "Wait, then sign in once."]);
    assert_eq!(served.get("/").status, 200, "those who are in stay in");
}

#[test]
fn the_security_log_says_who_did_what_when_and_from_where() {
    let served = book();
    invite(&served, BO);
    served.fill("/sign-in", &[("name", "Ana\nRuiz\",\"what\":\"signed in"), ("password", "x")]);
    served.fill_from("/sign-out", &[], "https://elsewhere.example");
    served.fill("/sign-in", &[("name", "ana ruiz"), ("password", PASSWORD)]);
    let written = kept(&served.book(), LOG);
    let told: Vec<(String, String)> = written
        .lines()
        .map(|line| {
            let line: serde_json::Value = serde_json::from_str(line).unwrap();
            assert_eq!((&line["when"], &line["where"]), (&NOON.into(), &"127.0.0.1".into()));
            let text = |what: &str| line[what].as_str().unwrap().to_owned();
            (text("who"), text("what"))
        })
        .collect();
    let told: Vec<(&str, &str)> = told.iter().map(|(who, what)| (&**who, &**what)).collect();
    assert_eq!(
        told,
        [
            (PERSON, "chose a password with a link"),
            (PERSON, "admitted Bo Lind (technician; may: test), and made a link"),
            ("Ana\nRuiz\",\"what\":\"signed in", "a wrong name or password"),
            ("", "another site asked for a change in this book"),
            (PERSON, "signed in"),
        ]
    );
    assert!(!written.contains(PASSWORD) && !served.page("/record").contains("a wrong name"));
}

#[test]
fn set_up_says_how_the_book_is_kept_and_how_its_rules_stand() {
    let served = book();
    let folder = served.book();
    let shown = folder.display().to_string();
    let command = format!("cinderbook --book {shown} backup FOLDER");
    holds(&served.page("/setup"), &["none was made yet", &command, "iec-60695-11-5/2016"]);
    let to = served.folder.path().join("copy");
    let made = crate::served::program().arg("--book").arg(&folder).arg("backup").arg(&to).output();
    assert!(made.unwrap().status.success());
    let head = served.page("/setup");
    holds(&head, &["2026-03-06T09:00:00Z", &to.display().to_string(), ", head <code>"]);
    served.ended();
}
