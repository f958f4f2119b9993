//! The description of the interface, turned against the interface by an independent program: what is
//! made from it, fit and unfit, is never answered with a fault of ours.
#![expect(clippy::disallowed_methods, reason = "this test runs another program")]

use std::path::PathBuf;
use std::process::Command;

use serde_json::{Value, json};

use crate::house::root;
use crate::served::Served;

/// So many requests are made by chance for each act, beside the bounds that are tried of all its
/// parts. `CINDERBOOK_EXAMPLES` asks for another number.
const EXAMPLES: u32 = 2;
/// A machine that takes longer, in seconds, ends here, and what was asked until then counts.
const ENOUGH_SECONDS: u32 = 120;
/// So many requests at least are made: fewer would mean that something stood in the way.
const REQUESTS_AT_LEAST: u64 = 200;

/// Not asked: whoever signs out asks no more, and a stream of readings has no end. Both are tested
/// by name.
const LEFT_OUT: [&str; 2] = ["/api/sign-out", "/api/flame/run/events"];
/// Asked at the end: one of these acts may end the sign-in that asks, and did.
const MAY_END_IT: &str = "/api/setup/acts";

/// The interpreter that has the packages of `tests/python/requirements.txt`; a machine that was
/// prepared before they were asked for is prepared again.
fn python() -> PathBuf {
    if let Some(named) = std::env::var_os("CINDERBOOK_PYTHON") {
        return PathBuf::from(named);
    }
    let made = root().join(".venv/bin/python");
    let has_it = Command::new(&made).args(["-I", "-B", "-c", "import schemathesis"]).output();
    if !has_it.is_ok_and(|done| done.status.success()) {
        let prepared = Command::new(root().join(".ci/prepare")).output().unwrap();
        let troubles = String::from_utf8_lossy(&prepared.stderr);
        assert!(prepared.status.success(), ".ci/prepare: {troubles}");
    }
    made
}

/// Asks for all that the description allows, and for much that it does not; what came of it.
fn asked(served: &Served, which: &[&str], (examples, enough_s): (u32, u32)) -> Value {
    let told = served.folder.path().join("asked.json");
    let done = Command::new("timeout")
        // Interrupted, it tells of what it did until then.
        .args(["--signal=INT", "--kill-after=60"])
        .arg(enough_s.to_string())
        .arg(python())
        .args(["-I", "-B", "-m", "schemathesis.cli", "run"])
        .arg(served.at("/api/openapi.json"))
        .args(["--header", &format!("cookie: {}", served.cookie)])
        .args(which)
        .args(["--checks", "not_a_server_error", "--continue-on-failure"])
        .args(["--phases", "coverage,fuzzing", "--seed", "1"])
        .args(["--max-examples", &examples.to_string()])
        // A slow machine is no fault of the answers.
        .args(["--request-timeout", "60", "--suppress-health-check", "all"])
        .args(["--generation-database", "none", "--warnings", "off", "--no-color"])
        .arg("--report-json-path")
        .arg(&told)
        .current_dir(served.folder.path())
        .output()
        .unwrap_or_else(|cause| panic!("{} did not start: {cause}", python().display()));
    let [said, troubles] = [done.stdout, done.stderr].map(|it| String::from_utf8_lossy(&it).into());
    let told = std::fs::read_to_string(&told).unwrap_or_default();
    let mut told: Value = serde_json::from_str(&told)
        .unwrap_or_else(|cause| panic!("nothing was told ({cause}):\n{said}\n{troubles}"));
    assert_eq!(told["failures"], json!([]), "{said}");
    assert_eq!(told["errors"], json!([]), "{said}");
    told["said"] = Value::String(said);
    told
}

#[test]
fn whatever_is_made_from_the_description_is_answered_without_a_fault_of_ours() {
    let wanted = std::env::var("CINDERBOOK_EXAMPLES").ok().map(|text| text.parse().unwrap());
    let served = Served::demo();
    let last = |served: &Served| {
        let record: Value = serde_json::from_str(&served.page("/api/record")).unwrap();
        record["entries"][0]["entry"].as_u64().unwrap()
    };
    let before = last(&served);
    // The long form lasts as long as it takes: a day at most.
    let enough_s = if wanted.is_some() { 86_400 } else { ENOUGH_SECONDS };
    let how_long = (wanted.unwrap_or(EXAMPLES), enough_s);
    let but = LEFT_OUT.into_iter().chain([MAY_END_IT]);
    let but: Vec<_> = but.flat_map(|path| ["--exclude-path", path]).collect();
    let told = asked(&served, &but, how_long);
    let said = told["said"].as_str().unwrap();
    let made = told["test_cases"]["generated"].as_u64().unwrap();
    assert!(made >= REQUESTS_AT_LEAST, "only {made} requests were made\n{said}");
    // All were made by one who is signed in, and some changed the book.
    assert!(last(&served) > before, "nothing was changed\n{said}");
    let ends = asked(&served, &["--include-path", MAY_END_IT], how_long);
    for told in [&told, &ends] {
        let (acts, requests) = (&told["operations"]["tested"], &told["test_cases"]["generated"]);
        let (seconds, end) = (&told["running_time"], &told["stop_reason"]);
        println!("{requests} requests of {acts} acts in {seconds} s, {end}");
    }
    served.ended();
}
