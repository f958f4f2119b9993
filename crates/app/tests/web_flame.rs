//! The pages of the flame and their twins, over real HTTP.

use serde_json::{Value, json};

use crate::house::text;
use crate::served::{Answer, Served, holds};
use crate::web_plans::led;

/// The manual's made-up file: it has two temperatures, so it must be said which one is the block.
fn logger() -> String {
    text("docs/manual/made-up/logger.csv")
}

fn sheet(served: &Served) -> Value {
    serde_json::from_str(&served.page("/api/flame")).unwrap()
}

/// Hands the manual's file in, with what is stated of it.
fn brought(served: &Served, channel: &str) -> Answer {
    let file = logger();
    let parts = [
        ("plan", None, "1"),
        ("height", None, "12,0"),
        ("class", None, "1"),
        ("channel", None, channel),
        ("file", Some("../heating.csv"), file.as_str()),
    ];
    served.post_parts("/flame/bring", &parts)
}

#[test]
fn the_flame_shows_its_last_confirmation_with_its_curves() {
    let served = Served::demo();
    let page = served.page("/flame");
    holds(&page, &["Confirmation C-1", "Bram Tessaly", "href=\"/plans/1\"", "Bring in a file"]);
    holds(&page, &["Void. ", "open", "class=\"run first\"", "700 °C", "determination-2.csv"]);
    let sheet = sheet(&served);
    let made = sheet["confirmation"]["determinations"].as_array().unwrap();
    assert_eq!(made.len(), 4);
    assert!(made[0]["void"].as_str().unwrap().contains("wire is open"));
    let rise = made[1]["rise_s"].as_f64().unwrap();
    assert!((22.5..24.5).contains(&rise) && made[1]["expanded_s"].as_f64().unwrap() > 0.0);
    assert_eq!(made[1]["curve"]["crossings"].as_array().unwrap().len(), 2);
    // The picture says the same to the eye and to whoever cannot see it.
    let told = made[1]["curve"]["told"].as_str().unwrap();
    assert_eq!(page.matches(told).count(), 2, "{told}");
    holds(&served.page("/plans/1"), &["href=\"/flame\""]);
    served.ended();
}

#[test]
fn a_file_with_two_readings_is_asked_about_and_recorded_once() {
    let served = Served::demo();
    let asked = brought(&served, "");
    assert_eq!(asked.status, 422, "{}", asked.body);
    holds(&asked.body, &["<title>Error: ", "href=\"#channel\"", "Say which below.", "Block"]);
    holds(&asked.body, &["Kept: heating.csv", "value=\"12,0\"", "<details open"]);
    let filed = asked.body.split("name=\"file\" value=\"").nth(1).unwrap();
    let filed = filed.split('"').next().unwrap();
    let form = [("plan", "1"), ("class", "1"), ("channel", "Block"), ("file", filed)];
    assert_eq!(led(&served.fill("/flame/bring", &form)), "/flame");
    let since = sheet(&served)["since"].clone();
    assert_eq!(since[0]["determination"], 5);
    assert!((since[0]["rise_s"].as_f64().unwrap() - 23.5).abs() < 0.5, "{since}");
    holds(&served.page("/flame"), &["Since that confirmation", "id=\"D-5\""]);
    let again = served.fill("/flame/bring", &form);
    assert_eq!(again.status, 422);
    holds(&again.body, &["is the file of D-5 already", "Nothing was recorded twice."]);
    served.ended();
}

#[test]
fn a_determination_is_voided_with_a_reason_and_stays_visible() {
    let served = Served::demo();
    assert_eq!(led(&brought(&served, "Block")), "/flame");
    let without = served.post("/flame", "determination=5&reason=");
    assert_eq!(without.status, 422);
    holds(&without.body, &["<title>Error: ", "href=\"#reason\"", "Say why it does not count."]);
    for _ in 0..2 {
        let form = "determination=5&reason=the+block+touched+the+%3Cclamp%3E";
        assert_eq!(led(&served.post("/flame", form)), "/flame");
    }
    holds(&served.page("/flame"), &["<del>", "The block touched the &lt;clamp&gt;."]);
    assert_eq!(served.page("/record").matches("was found void").count(), 1);
    let unknown = json!({ "determination": 99, "reason": "none" }).to_string();
    assert_eq!(served.post_json("/api/flame/void", &unknown).status, 422);
    // Nobody takes it away: the record has no such act.
    for path in ["/api/flame", "/api/record"] {
        assert_eq!(served.post_json(path, "{\"act\":\"delete\"}").status, 405, "{path}");
    }
    // What was confirmed by a determination is not confirmed once that is void.
    let counted = json!({ "determination": 2, "reason": "the wire had slipped" }).to_string();
    let answer = served.post_json("/api/flame/void", &counted);
    holds(&answer.body, &["\"confirmed\":false", "was found void", "the wire had slipped"]);
    served.ended();
}

#[test]
fn what_cannot_be_taken_is_named_at_its_field() {
    let served = Served::demo();
    let entries = served.page("/api/record");
    let parts =
        [("plan", None, "99"), ("file", Some("a.csv"), "no table"), ("height", None, "tall")];
    let answer = served.post_parts("/flame/bring", &parts);
    assert_eq!(answer.status, 422);
    holds(&answer.body, &["href=\"#plan\"", "href=\"#file\"", "href=\"#height\"", "`tall`"]);
    let other = served.post("/flame/bring", "plan=1&other=P-99");
    holds(&other.body, &["href=\"#other\"", "Plan `P-99` was not found ready."]);
    let none = served.post("/flame/bring", "plan=&other=P-1");
    assert!(!none.body.contains("href=\"#plan\""), "{}", none.body);
    holds(&none.body, &["Choose the logger's file."]);
    let stated = served.post_parts(
        "/flame/bring",
        &[("plan", None, "1"), ("unit", None, "furlong"), ("file", Some("a.csv"), &logger())],
    );
    holds(&stated.body, &["href=\"#unit\"", "furlong"]);
    for (path, document) in [
        ("/api/flame/files", "{\"plan\":1,\"file\":\"00 x.csv\"}"),
        ("/api/flame/files", "{\"plan\":1}"),
        ("/api/flame/void", "{\"determination\":1,\"reason\":\" \"}"),
        ("/api/flame/void", "rubbish"),
    ] {
        let answer = served.post_json(path, document);
        assert!((400..500).contains(&answer.status), "{path}: {}", answer.status);
        holds(&answer.body, &["\"title\":"]);
    }
    assert_eq!(served.page("/api/record"), entries);
    served.ended();
}

#[test]
fn a_file_that_does_not_fit_is_refused_by_row_and_changes_nothing() {
    let served = Served::demo();
    let entries = served.page("/api/record");
    let good = logger();
    let head = "Zeit [s];Block [°C]\r\n";
    let without_column = good.lines().map(|line| line.split(';').next().unwrap().to_owned() + "\n");
    let bad_rows = good.lines().enumerate().map(|(row, line)| match row + 1 {
        40 => "3,8;warm;23,4\n".to_owned(),
        41 => "3,9;23,4\n".to_owned(),
        90 => "x;23,4;23,4\n".to_owned(),
        _ => line.to_owned() + "\n",
    });
    let many = (0..=2_000_000).map(|second| format!("{second};2\n"));
    let many = many.fold(head.to_owned(), |all, row| all + &row);
    let heavy = (0..900_000).map(|second| format!("{second};2{:20}\n", ""));
    let heavy = heavy.fold(head.to_owned(), |all, row| all + &row);
    let bad = ["3 rows cannot be read", "row 40", "row 41", "row 90"];
    refused(&served, (&without_column.collect::<String>(), None), &["href=\"#", "column"]);
    refused(&served, (&bad_rows.collect::<String>(), None), &bad);
    refused(&served, (&good, Some(("delimiter", "tab"))), &["href=\"#"]);
    refused(&served, (&good, Some(("decimal", "point"))), &["rows cannot be read", "row 3"]);
    refused(&served, (&many, None), &["2000000 rows"]);
    refused(&served, (&heavy, None), &["more than 20000000 bytes"]);
    assert_eq!(served.page("/api/record"), entries);
    served.ended();
}

/// Hands a file in, with something stated of it; it is said what is wrong.
fn refused(served: &Served, (file, stated): (&str, Option<(&str, &str)>), said: &[&str]) {
    let mut parts = vec![("plan", None, "1"), ("class", None, "1"), ("channel", None, "Block")];
    parts.extend(stated.map(|(name, text)| (name, None, text)));
    parts.push(("file", Some("a.csv"), file));
    let answer = served.post_parts("/flame/bring", &parts);
    assert_eq!(answer.status, 422, "{}", answer.body);
    holds(&answer.body, &["<title>Error: "]);
    holds(&answer.body, said);
}

#[test]
fn typed_times_count_once_another_person_has_checked_them() {
    let served = Served::demo();
    let wrong = served.post(
        "/flame/type",
        "act=type&plan=1&bottom=26.6&top=3,2&uncertainty=0&start=warm&height=12",
    );
    assert_eq!(wrong.status, 422);
    holds(&wrong.body, &["href=\"#top\"", "href=\"#uncertainty\"", "href=\"#start\"", "`warm`"]);
    let form = "act=type&plan=1&bottom=3.2&top=26,6&uncertainty=0.2&start=31&height=";
    for _ in 0..3 {
        assert_eq!(led(&served.post("/flame/type", form)), "/flame");
    }
    holds(&served.page("/flame"), &["typed by Odalys Fenn, checked by nobody yet"]);
    holds(&served.page("/flame/type"), &["Another person than who typed it must check it."]);
    let own = served.post("/flame/type", "act=check&determination=5");
    assert_eq!(own.status, 422);
    holds(&own.body, &["D-5 was typed by Odalys Fenn. Another person than who typed it"]);
    assert_eq!(served.post_json("/api/flame/times/check", "{\"determination\":1}").status, 422);
    let served = checked_by_another(served, 5..=7);
    let sheet = sheet(&served);
    assert_eq!(
        (&sheet["confirmed"], &sheet["confirmation"]["by"]),
        (&json!(true), &json!("Bram Tessaly"))
    );
    let first = &sheet["confirmation"]["determinations"][0];
    assert!((first["rise_s"].as_f64().unwrap() - 23.4).abs() < 1e-9);
    assert_eq!(first["source"], "typed by Odalys Fenn, checked by Bram Tessaly");
    holds(&served.page("/record"), &["checked by Bram Tessaly"]);
    assert_eq!(served.post("/flame/type", "act=check&determination=5").status, 422);
    served.ended();
}

/// Lets another person come in, and check these determinations.
fn checked_by_another(served: Served, numbers: std::ops::RangeInclusive<u32>) -> Served {
    let mut served =
        Served::start(served.end(), &["--link", "Bram Tessaly"], "2026-03-06T09:00:00Z");
    served.come_in();
    for number in numbers {
        let asked = json!({ "determination": number }).to_string();
        let answer = served.post_json("/api/flame/times/check", &asked);
        assert_eq!(answer.status, 200, "{}", answer.body);
    }
    served
}

#[test]
fn the_edge_of_the_band_is_inside_and_beyond_it_three_more_are_asked_for() {
    let mut served = Served::demo();
    let timed = |served: &Served, top: &str| {
        let form = format!("act=type&plan=1&bottom=3.2&top={top}&uncertainty=0.2&start=31&height=");
        assert_eq!(led(&served.post("/flame/type", &form)), "/flame");
    };
    for top in ["27.70", "27.70", "27.71", "27.70", "27.70"] {
        timed(&served, top);
    }
    served = checked_by_another(served, 5..=9);
    let said = "The rise time of D-7 is 24.51 s, outside the band 22.5 s to 24.5 s";
    holds(&served.page("/flame"), &[said, "make new determinations"]);
    assert_eq!(sheet(&served)["confirmed"], false);
    // The third after it makes three that lie inside.
    timed(&served, "27.70");
    let mut served =
        Served::start(served.end(), &["--link", "Odalys Fenn"], "2026-03-06T09:00:00Z");
    served.come_in();
    let asked = json!({ "determination": 10 }).to_string();
    assert_eq!(served.post_json("/api/flame/times/check", &asked).status, 200);
    let sheet = sheet(&served);
    assert_eq!((&sheet["confirmed"], &sheet["since_said"]), (&json!(true), &json!([])));
    served.ended();
}
