//! A sitting at the block, over real HTTP: the practice bench goes much faster than real time.
#![expect(clippy::disallowed_methods, reason = "a test that waits knows when to stop")]

use std::io::{BufRead as _, BufReader};
use std::time::{Duration, Instant};

use serde_json::{Value, json};

use crate::served::{Answer, Served, holds};
use crate::web_plans::led;

/// How long something that must come is waited for.
const PATIENCE: Duration = Duration::from_secs(60);

fn run(served: &Served) -> Value {
    serde_json::from_str(&served.page("/api/flame/run")).unwrap()
}

/// Waits until the sitting is as `wanted` says.
fn until(served: &Served, what: &str, wanted: impl Fn(&Value) -> bool) -> Value {
    let began = Instant::now();
    loop {
        let seen = run(served)["sitting"].take();
        if wanted(&seen) {
            return seen;
        }
        assert!(began.elapsed() < PATIENCE, "{what} did not come: {seen}");
        std::thread::sleep(Duration::from_millis(20));
    }
}

fn begin(served: &Served, more: &Value) -> Answer {
    let mut asked = json!({
        "plan": 1, "cautions": "read", "source": "practice", "seed": "7", "speed": "400",
        "fault": "",
    });
    asked.as_object_mut().unwrap().extend(more.as_object().unwrap().clone());
    served.post_json("/api/flame/run", &asked.to_string())
}

fn act(served: &Served, document: &str) -> Answer {
    served.post_json("/api/flame/run/acts", document)
}

/// Heats the block once it is cool, and waits for what comes of it.
fn heated(served: &Served, heatings: usize) -> Value {
    until(served, "a cool block", |sitting| sitting["now"]["stage"] == "ready");
    let answer = act(served, "{\"act\":\"flame-on\"}");
    assert_eq!(answer.status, 200, "{}", answer.body);
    until(served, "the end", |sitting| sitting["now"]["heatings"] == heatings)
}

#[test]
fn three_heatings_confirm_the_flame_and_their_recordings_are_evidence() {
    let served = Served::demo();
    let answer = begin(&served, &json!({ "class": "1", "height": "12" }));
    assert_eq!(answer.status, 200, "{}", answer.body);
    // There is one sitting, whoever comes.
    let second = begin(&served, &json!({}));
    assert_eq!(second.status, 409);
    holds(&second.body, &["Odalys Fenn sits at the block already, with practice bench, seed 7"]);
    heated(&served, 1);
    assert_eq!(act(&served, "{\"act\":\"flame-on\"}").status, 409);
    // Cool again: the cooling was recorded with its heating.
    until(&served, "a cool block", |sitting| sitting["now"]["stage"] == "ready");
    let why: Value = serde_json::from_str(&served.page("/api/flame/determinations/5")).unwrap();
    assert!(why["block"]["cooling_s"].as_f64().unwrap() > 60.0, "{why}");
    assert_eq!(why["block"]["cooling_missing"], Value::Null);
    let emissivity = why["block"]["emissivity"]["value"].as_f64().unwrap();
    assert!((emissivity - 0.3).abs() < 0.02, "{emissivity}");
    holds(&served.page("/record?thing=D-5"), &["The cooling after D-5 was kept"]);
    heated(&served, 2);
    let sitting = heated(&served, 3);
    holds(sitting["said"].as_str().unwrap(), &["C-2: the flame is confirmed."]);
    for (heating, number) in sitting["heatings"].as_array().unwrap().iter().zip(5..) {
        assert_eq!(heating["determination"], number);
        let rise = heating["rise_s"].as_f64().unwrap();
        assert!((22.5..24.5).contains(&rise) && heating["expanded_s"].as_f64().unwrap() > 0.0);
    }
    holds(&served.page("/flame/run"), &["Made up: practice bench", "All readings", "recordings/"]);
    assert_eq!(act(&served, "{\"act\":\"end\"}").status, 200);
    holds(&served.page("/flame"), &["Confirmation C-2", "The flame is confirmed"]);
    holds(&served.page("/"), &["The flame is confirmed till 2026-03-06"]);
    holds(&served.page("/api/flame"), &["\"confirmed\":true", "Made up: practice bench"]);
    let kept = std::fs::read_dir(served.book().join("recordings")).unwrap();
    let kept: Vec<String> =
        kept.map(|file| std::fs::read_to_string(file.unwrap().path()).unwrap()).collect();
    assert!(kept.iter().any(|text| text.starts_with("time (s),Block (°C),raw\n0.")));
    served.ended();
}

#[test]
fn a_lying_wire_voids_the_heating_with_its_sentence() {
    for (fault, said) in [
        ("open-circuit", "wire is open"),
        ("reversed", "plus and minus are swapped"),
        ("no-rise", "No rise"),
        ("stuck", "stuck"),
        ("spikes", "spikes"),
        ("gap", "no reading for"),
    ] {
        let served = Served::demo();
        assert_eq!(begin(&served, &json!({ "fault": fault })).status, 200);
        let sitting = heated(&served, 1);
        let heating = &sitting["heatings"][0];
        assert_eq!((&heating["void"], &heating["determination"]), (&json!(true), &json!(5)));
        holds(heating["told"].as_str().unwrap(), &["D-5 is void: ", said]);
        // It stays visible, and nothing takes it away.
        holds(&served.page("/flame"), &["Void. ", said]);
        assert_eq!(served.post_json("/api/flame/D-5", "{}").status, 404);
        served.ended();
    }
}

#[test]
fn a_heating_is_ended_by_hand_with_a_reason() {
    let served = Served::demo();
    assert_eq!(begin(&served, &json!({ "speed": "1" })).status, 200);
    until(&served, "a cool block", |sitting| sitting["now"]["stage"] == "ready");
    assert_eq!(led(&served.post("/flame/run", "act=flame-on")), "/flame/run");
    holds(&served.page("/flame/run"), &["Flame on block", "End this heating"]);
    let without = served.post("/flame/run", "act=end-heating&reason=");
    assert_eq!(without.status, 422);
    holds(&without.body, &["href=\"#reason\"", "Say why this heating does not count."]);
    assert_eq!(led(&served.post("/flame/run", "act=end-heating&reason=a+draught")), "/flame/run");
    let sitting = until(&served, "its end", |sitting| sitting["now"]["heatings"] == 1);
    holds(sitting["heatings"][0]["told"].as_str().unwrap(), &["D-5 is void: a draught"]);
    assert_eq!(led(&served.post("/flame/run", "act=end")), "/flame");
    assert_eq!(act(&served, "{\"act\":\"end\"}").status, 409);
    served.ended();
}

#[test]
fn what_is_new_is_told_as_it_comes() {
    let served = Served::demo();
    assert_eq!(begin(&served, &json!({ "speed": "1" })).status, 200);
    let mut lines = BufReader::new(served.stream("/api/flame/run/events")).lines();
    let told = lines.find_map(|line| line.unwrap().strip_prefix("data: ").map(str::to_owned));
    let told: Value = serde_json::from_str(&told.unwrap()).unwrap();
    assert_eq!(told["sitting"], 1);
    holds(told["block"].as_str().unwrap(), &["°C"]);
    served.ended();
}

#[test]
fn a_source_that_cannot_be_opened_is_named_at_its_field() {
    let served = Served::demo();
    let first = served.get("/flame/source?plan=1&source=practice");
    assert_eq!(first.status, 422);
    holds(&first.body, &["href=\"#cautions\"", "Keep extinguishing means"]);
    let offered = served.page("/flame/source?plan=1&source=modbus-tcp&cautions=read");
    holds(&offered, &["Register of the block", "Unit number of the instrument"]);
    for (more, said) in [
        (json!({ "seed": "x" }), "`x` is no seed"),
        (json!({ "speed": "0" }), "`0` is no speed"),
        (json!({ "fault": "dance" }), "cannot be practised"),
        (json!({ "source": "dance" }), "Choose what is read."),
        (json!({ "cautions": "" }), "Read the cautions"),
        (json!({ "class": "9" }), "The classes are 1, 2 and 3."),
        (json!({ "source": "replay" }), "Choose the file to play."),
        (json!({ "source": "tcp-lines", "settings": "source = 7" }), "Line 1 of the settings"),
        (
            json!({ "source": "tcp-lines", "settings": "source = \"replay\"\nfile = \"/etc/x\"" }),
            "by handing it in",
        ),
    ] {
        let answer = begin(&served, &more);
        assert_eq!(answer.status, 422, "{more}");
        holds(&answer.body, &[said]);
    }
    assert!(run(&served)["sitting"].is_null());
    assert_eq!(act(&served, "{\"act\":\"dance\"}").status, 422);
    assert_eq!(act(&served, "{\"act\":\"flame-on\"}").status, 409);
    served.ended();
}

#[test]
fn a_file_is_played_again_and_said_to_be_made_up() {
    let served = Served::demo();
    let file = crate::house::text("docs/manual/made-up/logger.csv");
    let form = |channel: &'static str| {
        let parts = [
            ("plan", None, "1"),
            ("cautions", None, "read"),
            ("source", None, "replay"),
            ("speed", None, "50"),
            ("channel", None, channel),
            ("file", Some("logger.csv"), file.as_str()),
        ];
        served.post_parts("/flame/source", &parts)
    };
    let asked = form("");
    assert_eq!(asked.status, 422);
    holds(&asked.body, &["href=\"#channel\"", "Kept: logger.csv"]);
    assert_eq!(led(&form("Block")), "/flame/run");
    holds(&served.page("/flame/run"), &["Made up: logger.csv is played again"]);
    until(&served, "the end of the file", |sitting| sitting["now"]["stage"] == "over");
    holds(&served.page("/flame/run"), &["The source has come to its end."]);
    served.ended();
}

/// An instrument on the network that sends 23.4 ten times a second to whoever comes.
fn instrument() -> String {
    let listener = std::net::TcpListener::bind("127.0.0.1:0").unwrap();
    let address = listener.local_addr().unwrap().to_string();
    std::thread::spawn(move || {
        for stream in listener.incoming() {
            let mut stream = stream.unwrap();
            while std::io::Write::write_all(&mut stream, b"no;23.4\n").is_ok() {
                std::thread::sleep(Duration::from_millis(100));
            }
        }
    });
    address
}

#[test]
fn an_instrument_is_set_by_fields_which_are_offered_again() {
    let served = Served::demo();
    let address = instrument();
    let form = |address: &str, column: &str| {
        let form = [
            ("plan", "1"),
            ("cautions", "read"),
            ("source", "tcp-lines"),
            ("address", address),
            ("column", column),
            ("delimiter", "semicolon"),
            ("decimal", "point"),
            ("unit", "C"),
            ("open_circuit", "1372"),
            ("interval_seconds", "0,1"),
        ];
        served.fill("/flame/source", &form)
    };
    let wrong = form("nowhere", "second");
    assert_eq!(wrong.status, 422);
    holds(&wrong.body, &["href=\"#column\"", "`second` is no number", "value=\"nowhere\""]);
    let wrong = form("nowhere", "2");
    holds(&wrong.body, &["href=\"#address\"", "is `nowhere`: a host and a port are asked"]);
    let nobody = form("127.0.0.1:9", "2");
    assert_eq!(nobody.status, 422);
    holds(&nobody.body, &["href=\"#address\"", "127.0.0.1:9 cannot be opened"]);
    assert_eq!(led(&form(&address, "2")), "/flame/run");
    let sitting = until(&served, "readings", |sitting| sitting["now"]["stage"] == "ready");
    assert_eq!(sitting["now"]["block"], "23.4 °C");
    assert_eq!(act(&served, "{\"act\":\"end\"}").status, 200);
    let offered = served.page("/flame/source?plan=1&source=tcp-lines&cautions=read");
    holds(&offered, &[&format!("value=\"{address}\""), "value=\"0,1\"", "value=\"1372\""]);
    holds(&served.page("/flame/run"), &["value=\"tcp-lines\" checked"]);
    served.ended();
}

#[test]
fn a_program_killed_in_the_middle_of_a_heating_says_so_and_loses_nothing() {
    let mut served = Served::demo();
    assert_eq!(begin(&served, &json!({ "speed": "20" })).status, 200);
    until(&served, "a cool block", |sitting| sitting["now"]["stage"] == "ready");
    assert_eq!(act(&served, "{\"act\":\"flame-on\"}").status, 200);
    let warm = |sitting: &Value| sitting["now"]["celsius"].as_f64().is_some_and(|it| it > 250.0);
    until(&served, "a warm block", warm);
    served.kill();
    served.start_again();
    let said = "The program ended during a heating, for which Odalys Fenn put the flame on at";
    for page in ["/flame", "/flame/run"] {
        let what = "D-5 is void: the program ended during the heating; what was read is kept";
        holds(&served.page(page), &[said, what, "See that the flame is away", "recordings/"]);
    }
    let sheet: Value = serde_json::from_str(&served.page("/api/flame")).unwrap();
    let made = &sheet["since"][0];
    holds(made["void"].as_str().unwrap(), &["till ", " s after the flame was put on"]);
    let pieces = made["curve"]["pieces"].as_array().unwrap();
    let spots = pieces.last().unwrap().as_array().unwrap();
    assert!(spots.last().unwrap()["celsius"].as_f64().unwrap() > 150.0, "{made}");
    // It is put into the book once, and said until another sitting is begun.
    served.kill();
    served.start_again();
    let sheet: Value = serde_json::from_str(&served.page("/api/flame")).unwrap();
    assert_eq!(sheet["since"].as_array().unwrap().len(), 1);
    holds(&served.page("/flame"), &[said]);
    assert_eq!(begin(&served, &json!({})).status, 200);
    assert!(!served.page("/flame").contains(said));
    // Killed with no heating at work, it says that too.
    served.kill();
    served.start_again();
    holds(&served.page("/flame"), &["Odalys Fenn sat at the block", "No heating was at work."]);
    served.ended();
}

#[test]
fn a_heating_whose_curve_was_whole_counts_although_the_program_was_killed() {
    let mut served = Served::demo();
    assert_eq!(begin(&served, &json!({})).status, 200);
    heated(&served, 1);
    let folder = served.book().join("recordings");
    let file = folder.join("sitting.json");
    let noted = || -> Value { serde_json::from_slice(&std::fs::read(&file).unwrap()).unwrap() };
    let recording = served.book().join(noted()["sitting"]["recording"].as_str().unwrap());
    let above = |line: &str, celsius: f64| {
        line.split(',').nth(1).is_some_and(|it| it.parse().is_ok_and(|it: f64| it > celsius))
    };
    // Readings come onto the disk second by second: those after the heating too.
    let whole = || {
        let text = std::fs::read_to_string(&recording).unwrap();
        text.lines().filter(|line| above(line, 700.0)).count() > 15
    };
    until(&served, "the heating on the disk", |_| whole());
    served.kill();
    // As if it had been killed just before the determination came into the book.
    let mut note = noted();
    let text = std::fs::read_to_string(&recording).unwrap();
    let seconds = |line: &str| line.split(',').next().unwrap().parse::<f64>().ok();
    let on = text.lines().find(|line| above(line, 40.0)).and_then(seconds).unwrap() - 1.0;
    note["sitting"]["heating"] = json!({
        "by": "Odalys Fenn", "moment": "2026-03-06T08:55:00Z", "on_seconds": on,
        "start_celsius": 23.0,
    });
    std::fs::write(&file, note.to_string()).unwrap();
    served.start_again();
    let sheet: Value = serde_json::from_str(&served.page("/api/flame")).unwrap();
    assert_eq!(sheet["since"][1]["void"], Value::Null, "{sheet}");
    assert_eq!(sheet["since"][0]["rise_s"], sheet["since"][1]["rise_s"]);
    holds(&served.page("/flame"), &["Its curve is whole, and is read as any other. D-6: "]);
    served.ended();
}

#[test]
fn a_block_that_does_not_read_what_the_terminals_have_is_not_heated() {
    let served = Served::demo();
    let wrong = begin(&served, &json!({ "terminals": "warm" }));
    holds(&wrong.body, &["The temperature of the terminals: `warm` is no number"]);
    let more = json!({ "terminals": "23", "fault": "wrong-type", "speed": "20" });
    assert_eq!(begin(&served, &more).status, 200);
    let sitting = until(&served, "the fault", |sitting| sitting["now"]["stage"] == "unlike");
    holds(sitting["now"]["trouble"].as_str().unwrap(), &["another thermocouple type"]);
    let refused = act(&served, "{\"act\":\"flame-on\"}");
    assert_eq!(refused.status, 409);
    holds(&refused.body, &["Check the thermocouple type set"]);
    assert_eq!(act(&served, "{\"act\":\"end\"}").status, 200);
    assert_eq!(begin(&served, &json!({ "terminals": "23", "speed": "20" })).status, 200);
    until(&served, "a block alike", |sitting| sitting["now"]["stage"] == "ready");
    served.ended();
}

#[test]
fn terminals_and_room_of_a_sitting_are_in_its_determinations() {
    let served = Served::demo();
    let wrong = begin(&served, &json!({ "room": "warm" }));
    holds(&wrong.body, &["The temperature of the room: `warm` is no number"]);
    let answer = begin(&served, &json!({ "terminals": "24", "room": "21,5" }));
    assert_eq!(answer.status, 200, "{}", answer.body);
    heated(&served, 1);
    // Before the second heating the block rests no more: it is not held against the terminals.
    let sitting = heated(&served, 2);
    assert_eq!(sitting["heatings"][1]["void"], false, "{sitting}");
    let flame: Value = serde_json::from_str(&served.page("/api/flame")).unwrap();
    let said = [
        "The terminals had 24.0 °C where the block rested.",
        "The terminals had 24.0 °C when the sitting at the block began.",
    ];
    for (made, terminals) in flame["since"].as_array().unwrap().iter().zip(said) {
        holds(&made.to_string(), &[terminals, "The room had 21.5 °C."]);
    }
    let why = served.page("/api/flame/determinations/5");
    holds(&why, &["in a room of 21.5 °C (as read)"]);
    let budget: Value =
        serde_json::from_str(&served.page("/api/flame/determinations/5/budget")).unwrap();
    assert!(!budget["taken"].to_string().contains("room"), "{}", budget["taken"]);
    let other: Value =
        serde_json::from_str(&served.page("/api/flame/determinations/2/budget")).unwrap();
    assert!(other["taken"].to_string().contains("room"), "{}", other["taken"]);
    served.ended();
}

#[test]
fn a_page_that_asks_by_itself_keeps_nobody_signed_in() {
    for (path, later) in [("/flame/run?by=itself", 401), ("/flame/run", 200)] {
        let mut served = Served::demo();
        served = served.later("2026-03-06T09:20:00Z");
        assert_eq!(served.get(path).status, 200);
        served = served.later("2026-03-06T09:40:00Z");
        assert_eq!(served.get("/api/today").status, later, "{path}");
    }
}
