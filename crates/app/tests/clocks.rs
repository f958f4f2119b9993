//! Clocks that are wrong: nothing is kept by one that cannot be right, and no report is issued while
//! that of the record and that of the device which asks are too far apart.
#![expect(clippy::disallowed_methods, reason = "these tests are a device that has a clock")]

use serde_json::{Value, json};

use crate::served::{Served, holds, program};

/// The demo's report 1 is to be replaced, by a device whose clock shows this.
fn asked(device_clock: &str) -> String {
    json!({
        "plan": 1,
        "issued_before": 1,
        "reason": "the part was misnamed",
        "changes": "name of the part",
        "device_clock": device_clock,
    })
    .to_string()
}

#[test]
fn a_report_is_not_issued_while_the_device_that_asks_is_over_five_minutes_off() {
    let served = Served::demo();
    for (shows, apart) in [("2026-03-06T09:06:00Z", "6 min"), ("2026-03-06T08:54:00Z", "6 min")] {
        let refused = served.post_json("/api/reports", &asked(shows));
        assert_eq!(refused.status, 409, "{}", refused.body);
        let told: Value = serde_json::from_str(&refused.body).unwrap();
        holds(
            told["title"].as_str().unwrap(),
            &[
                "the clock of this device shows 2026-03-06 0",
                "that of the machine that keeps the record 2026-03-06 09:00:00 UTC",
                apart,
            ],
        );
        holds(&refused.body, &["No report was issued. Set the clock that is wrong"]);
    }
    let form =
        "plan=1&issued_before=1&reason=misnamed&changes=name&device_clock=2026-03-05T09:00:00Z";
    let refused = served.post("/reports", form);
    assert_eq!(refused.status, 409);
    holds(&refused.body, &["1440 min apart"]);
    let refused = served.post("/plans/1", "act=report&after=1&device_clock=2026-03-06T09:06:00Z");
    assert_eq!(refused.status, 409);
    holds(&refused.body, &["6 min apart"]);
    let unread = served.post_json("/api/reports", &asked("nine o'clock"));
    assert_eq!(unread.status, 422, "{}", unread.body);
    assert_eq!(served.page("/api/reports").matches("\"replaces\"").count(), 1);
    let issued = served.post_json("/api/reports", &asked("2026-03-06T09:05:00Z"));
    assert_eq!(issued.status, 201, "{}", issued.body);
    served.ended();
}

#[test]
fn a_page_asks_for_the_clock_of_the_device_where_this_machine_has_one() {
    let held = Served::demo();
    let new = "/reports/new?plan=1";
    assert!(!held.page(new).contains("device_clock"), "a clock that is held is nobody's");
    let running = Served::demo_by(|_| {
        let mut command = program();
        command.env_remove("CINDERBOOK_CLOCK");
        command
    });
    holds(&running.page(new), &["name=\"device_clock\"", "/assets/device/shown.js"]);
    let refused = running.post_json("/api/reports", &asked("2026-03-06T09:00:00Z"));
    assert_eq!(refused.status, 409, "{}", refused.body);
    let now = jiff::Timestamp::now().to_string();
    let issued = running.post_json("/api/reports", &asked(&now));
    assert_eq!(issued.status, 201, "{}", issued.body);
    running.ended();
    held.ended();
}

#[test]
fn nothing_is_kept_by_a_clock_before_the_program_or_before_the_last_entry() {
    let folder = Served::demo().end();
    let book = folder.path().join("book");
    let out = folder.path().display().to_string();
    for (clock, than) in [
        ("2025-12-31T23:59:59Z", "before 2026-01-01, from when this program is"),
        ("2026-03-05T08:00:00Z", "of the record, 2026-03-05 08:30:"),
    ] {
        for asked in [
            vec!["report", "1", "--replaces", "1", "--reason", "r", "--change", "c", "--out", &out],
            vec!["care", "done", "burner-cleaned"],
        ] {
            let mut command = program();
            command.env("CINDERBOOK_CLOCK", clock);
            command.args(["--as", "Odalys Fenn", "--book"]).arg(&book).args(&asked);
            let done = command.output().unwrap();
            let said = String::from_utf8(done.stderr).unwrap();
            assert_eq!(done.status.code(), Some(3), "{asked:?}: {said}");
            holds(&said, &["the clock of this machine shows", than, "Nothing was kept. Set the"]);
        }
    }
    assert!(!folder.path().join("R-2.pdf").exists());
    // A clock that the network puts back by a second keeps on.
    let mut command = program();
    command.env("CINDERBOOK_CLOCK", "2026-03-05T08:29:59Z");
    command.args(["--as", "Odalys Fenn", "--book"]).arg(&book);
    let done = command.args(["care", "done", "burner-cleaned"]).output().unwrap();
    assert!(done.status.success(), "{}", String::from_utf8_lossy(&done.stderr));
}
