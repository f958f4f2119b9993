//! Loggers' files at the pages of the flame, over real HTTP: a known rise time, the terminals, a void
//! file in the export; many plans; a session whose time is over at the block.
#![expect(clippy::disallowed_methods, reason = "these tests run the program and look into folders")]

use serde_json::{Value, json};
use sha2::{Digest as _, Sha256};

use crate::served::{Answer, Served, drawn_up, holds, program};
use crate::web_plans::led;

/// A made-up file of a block at 23 °C that climbs from the third second on, straight, so that it
/// takes 23.40 s from 100 °C to 700 °C; ten readings a second.
fn straight(until: f64) -> String {
    let mut file = "time (s),Block (°C)\n".to_owned();
    for tenth in 0..400 {
        let at = f64::from(tenth) / 10.0;
        let celsius = 23.0 + (at - 3.0).max(0.0) * 600.0 / 23.4;
        if celsius > until {
            break;
        }
        file.push_str(&format!("{at:.1},{:.3}\n", celsius + f64::from(tenth % 2) * 0.1));
    }
    file
}

fn bring(served: &Served, file: &str, stated: &[(&str, &str)]) -> Answer {
    let mut parts = vec![("plan", None, "1"), ("file", Some("heating.csv"), file)];
    parts.extend(stated.iter().map(|(name, text)| (*name, None, *text)));
    served.post_parts("/flame/bring", &parts)
}

/// The last determination as the page's twin tells it.
fn last(served: &Served) -> Value {
    let sheet: Value = serde_json::from_str(&served.page("/api/flame")).unwrap();
    sheet["since"].as_array().unwrap().last().unwrap().clone()
}

#[test]
fn a_file_of_a_known_rise_time_is_shown_with_its_uncertainty() {
    let served = Served::demo();
    led(&bring(&served, &straight(720.0), &[]));
    let made = last(&served);
    let (rise, expanded) = (&made["rise_s"], &made["expanded_s"]);
    let (rise, expanded) = (rise.as_f64().unwrap(), expanded.as_f64().unwrap());
    assert!((rise - 23.40).abs() < 0.005, "{made}");
    assert!((0.0..=0.03).contains(&expanded), "{made}");
    let page = served.page("/flame");
    holds(&page, &["23.40", " ± 0.0", made["curve"]["told"].as_str().unwrap()]);
    served.ended();
}

#[test]
fn a_block_that_reads_otherwise_than_the_terminals_is_void_and_what_was_stated_is_kept() {
    let served = Served::demo();
    led(&bring(&served, &straight(720.0), &[("terminals", "24,5")]));
    let stated = "The terminals had 24.5 °C where the block rested.";
    assert_eq!(last(&served)["void"], Value::Null);
    holds(&served.page("/flame"), &[stated]);
    led(&bring(&served, &straight(721.0), &[("room", "21,5")]));
    holds(&served.page("/flame"), &["The room had 21.5 °C."]);
    led(&bring(&served, &straight(730.0), &[("terminals", "31")]));
    let made = last(&served);
    holds(made["void"].as_str().unwrap(), &["another thermocouple type is set or wired"]);
    holds(&made.to_string(), &["The terminals had 31.0 °C where the block rested."]);
    let wrong = bring(&served, &straight(740.0), &[("terminals", "warm")]);
    assert_eq!(wrong.status, 422);
    holds(&wrong.body, &["href=\"#terminals\"", "warm"]);
    // The command says the same.
    let place = served.end();
    let file = place.path().join("heating.csv");
    std::fs::write(&file, straight(720.0)).unwrap();
    let mut command = program();
    command.args(["read", "trace"]).arg(&file).args(["--terminals", "31"]);
    let done = command.output().unwrap();
    assert_eq!(done.status.code(), Some(1));
    holds(&String::from_utf8(done.stdout).unwrap(), &["wrong-type", "the terminals 31.0 °C"]);
}

#[test]
fn the_raw_points_of_a_void_determination_are_in_the_export() {
    let served = Served::demo();
    let open = straight(400.0) + "18.0,1372.0\n18.1,1372.0\n18.2,1372.0\n18.3,1372.0\n";
    led(&bring(&served, &open, &[]));
    holds(last(&served)["void"].as_str().unwrap(), &["The thermocouple wire is open"]);
    let folder = served.end();
    let (book, bundle) = (folder.path().join("book"), folder.path().join("bundle"));
    let export = program().arg("--book").arg(&book).arg("export").arg(&bundle).output().unwrap();
    assert!(export.status.success(), "{export:?}");
    let hash = hex::encode(Sha256::digest(&open));
    let kept = std::fs::read_to_string(bundle.join("evidence").join(&hash[..2]).join(&hash));
    assert_eq!(kept.unwrap(), open);
    let entries = std::fs::read_to_string(bundle.join("entries.jsonl")).unwrap();
    holds(entries.lines().last().unwrap(), &[&hash, "wire is open"]);
}

#[test]
fn of_many_plans_the_newest_are_offered_and_each_is_found_by_its_number() {
    let served = Served::demo_after(|folder| {
        for _ in 2..=23 {
            drawn_up(folder, &[]);
        }
    });
    for plan in 2..=23 {
        let climate = "temperature-from=22&temperature-to=24&humidity-from=48&humidity-to=52";
        let times = "from=2026-03-03+08:00&until=2026-03-06+08:00";
        for act in ["conditioned&what=1", "conditioned&what=layer", "cautions", "readiness"] {
            led(&served.post(&format!("/plans/{plan}"), &format!("act={act}&{times}&{climate}")));
        }
    }
    let page = served.page("/flame/bring");
    holds(&page, &["The newest without a report; 2 more are found below by number.", "\"other\""]);
    let offered: Vec<&str> =
        page.split("<option value=\"").skip(1).filter_map(|it| it.split('"').next()).collect();
    let wanted: Vec<String> = (4..=23).rev().map(|plan: u32| plan.to_string()).collect();
    assert_eq!(offered[1..=20], wanted, "{offered:?}");
    let file = straight(720.0);
    let parts = [("plan", None, ""), ("other", None, "P-2"), ("file", Some("a.csv"), &file)];
    assert_eq!(led(&served.post_parts("/flame/bring", &parts)), "/flame");
    served.ended();
}

#[test]
fn a_session_whose_time_is_over_goes_on_at_the_block_and_nowhere_else() {
    let place = tempfile::tempdir().unwrap();
    let clock = place.path().join("clock");
    let set = |time: &str| std::fs::write(&clock, format!("2026-03-06T{time}Z")).unwrap();
    set("09:00:00");
    let served = Served::demo_by(|_| {
        let mut command = program();
        command.env("CINDERBOOK_CLOCK", format!("@{}", clock.display()));
        command
    });
    let begin = json!({ "plan": 1, "cautions": "read", "source": "practice", "seed": "7",
        "speed": "1", "fault": "" });
    assert_eq!(served.post_json("/api/flame/run", &begin.to_string()).status, 200);
    served.page("/api/flame/run");
    set("09:45:00");
    let act = |document: &str| served.post_json("/api/flame/run/acts", document).status;
    for elsewhere in ["/api/today", "/api/flame", "/api/record", "/api/bench/1/1"] {
        assert_eq!(served.get(elsewhere).status, 401, "{elsewhere}");
    }
    assert_eq!(served.get("/flame/run").status, 200);
    assert_eq!(served.get("/api/flame/run").status, 200);
    // What it does there is taken, and lengthens nothing.
    assert_eq!(act("{\"act\":\"dance\"}"), 422);
    assert_eq!(served.get("/api/today").status, 401);
    set("21:00:01");
    assert_eq!(
        served.get("/flame/run").status,
        303,
        "a sitting is not older than a session may be"
    );
    set("20:59:00");
    assert_eq!(act("{\"act\":\"end\"}"), 200);
    assert_eq!(served.get("/api/flame/run").status, 401, "it ends with the sitting");
}
