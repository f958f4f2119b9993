//! One book on a PostgreSQL database: two programs serve it, and commands write in it meanwhile.
#![expect(clippy::disallowed_methods, reason = "these tests run the program on folders")]

#[expect(dead_code, reason = "shared with the ledger's tests, which do more")]
#[path = "../../ledger/tests/postgres/server.rs"]
mod server;

use std::path::{Path, PathBuf};
use std::process::Output;

use serde_json::{Value, json};
use tempfile::TempDir;

use crate::served::{Served, demo, holds, program};
use server::{BENCH, OWNER, Server};

/// The demo's book on a database of its own.
struct Shared {
    server: Server,
    database: String,
    files: TempDir,
}

impl Shared {
    fn made() -> Self {
        let server = Server::start(&[]);
        let (database, files) = (server.database(), tempfile::tempdir().unwrap());
        let shared = Self { server, database, files };
        let mut restore = program();
        restore.arg("restore").arg(demo().join("book"));
        restore.arg(shared.server.address(OWNER, &shared.database));
        restore.args(["--role", BENCH, "--files"]).arg(shared.files.path());
        let done = restore.output().unwrap();
        assert!(done.status.success(), "{}", String::from_utf8_lossy(&done.stderr));
        shared
    }

    fn book(&self) -> PathBuf {
        self.server.address(BENCH, &self.database)
    }

    fn command(&self, arguments: &[&str]) -> Output {
        let mut command = program();
        command.arg("--book").arg(self.book()).args(["--as", "Odalys Fenn"]).args(arguments);
        command.output().unwrap()
    }
}

/// The cookie of one program as another one asks for it: they stand at other ports.
fn same_browser(from: &Served, to: &mut Served) {
    let word = from.cookie.split_once('=').unwrap().1;
    let port = to.origin.rsplit(':').next().unwrap();
    to.cookie = format!("cinderbook-{port}={word}");
}

fn batch(device: u32, presses: &Value) -> String {
    let (device, sitting) = (format!("{device:032x}"), format!("{:032x}", device + 160));
    json!({ "device": device, "sitting": sitting, "presses": presses }).to_string()
}

fn press(sequence: u32, tenths: u32, act: &str) -> Value {
    json!({
        "sequence": sequence,
        "at_us": u64::from(tenths) * 100_000,
        "wall": format!("2026-03-06T08:00:{:02}.{}Z", tenths / 10, tenths % 10),
        "act": act,
        "input": "switch",
    })
}

const PRESSES: &str = "/api/bench/1/1/presses";

#[test]
fn two_programs_serve_one_book_and_commands_write_in_it() {
    let shared = Shared::made();
    let mut one = Served::on(&shared.book(), &["--link", "Odalys Fenn"]);
    let mut other = Served::on(&shared.book(), &[]);
    one.come_in();
    // Who is in at one is in at the other.
    same_browser(&one, &mut other);
    assert_eq!(other.get("/").status, 200);

    // One specimen is timed by one sitting, whichever program its presses come to.
    let first = json!([press(1, 0, "flame-on"), press(2, 302, "flame-removed")]);
    let answer = one.post_json(PRESSES, &batch(1, &first));
    assert_eq!(answer.status, 200, "{}", answer.body);
    let answer = other.post_json(PRESSES, &batch(2, &json!([press(1, 417, "flames-out")])));
    assert_eq!(answer.status, 409, "{}", answer.body);
    holds(&answer.body, &["specimen 1 is being timed by Odalys Fenn on another device"]);
    // What one has is not kept twice by the other, and the rest goes on there.
    let all = json!([
        press(1, 0, "flame-on"),
        press(2, 302, "flame-removed"),
        press(3, 417, "flames-out"),
        press(4, 440, "glow-out")
    ]);
    let answer = other.post_json(PRESSES, &batch(1, &all));
    assert_eq!(answer.status, 200, "{}", answer.body);
    let twin: Value = serde_json::from_str(&one.page("/api/bench/1/1")).unwrap();
    assert_eq!(twin["presses"].as_array().unwrap().len(), 4);
    let kept = one.page("/api/record?kind=presses-kept");
    assert_eq!(kept.matches("\"kind\":\"presses-kept\"").count(), 2, "{kept}");

    // A command writes while both serve; both tell it.
    let withdrawn = shared.command(&["equipment", "withdraw", "SW-3", "--reason", "dropped"]);
    assert!(withdrawn.status.success(), "{}", String::from_utf8_lossy(&withdrawn.stderr));
    for served in [&one, &other] {
        let kept = served.page("/api/record?kind=equipment-withdrawn");
        assert_eq!(kept.matches("\"kind\":\"equipment-withdrawn\"").count(), 1, "{kept}");
    }
    let places = |nth: u32| shared.files.path().join(format!("serve-{nth}"));
    assert!(places(1).is_dir() && places(2).is_dir() && !places(3).exists());

    // Who signs out at one is out at the other.
    let answer = one.fill("/sign-out", &[]);
    assert_eq!(answer.status, 303, "{}", answer.body);
    assert_eq!(other.get("/").status, 303);
    drop((one, other));
    checks(&shared);
}

/// The book checks, and its copy in a folder is the same.
fn checks(shared: &Shared) {
    let place = tempfile::tempdir().unwrap();
    let copy = place.path().join("copy");
    let done = shared.command(&["backup", copy.to_str().unwrap()]);
    assert!(done.status.success(), "{}", String::from_utf8_lossy(&done.stderr));
    let checked = |book: &Path| {
        let done = program().arg("verify").arg(book).output().unwrap();
        assert!(done.status.success(), "{}", String::from_utf8_lossy(&done.stdout));
        String::from_utf8(done.stdout).unwrap()
    };
    assert_eq!(checked(&shared.book()), checked(&copy));
}

/// While the database is away pages say so, and nothing is taken for kept; then all goes on.
#[test]
fn what_is_asked_while_the_database_is_away_is_answered_when_it_is_back() {
    let shared = Shared::made();
    let mut served = Served::on(&shared.book(), &["--link", "Odalys Fenn"]);
    served.come_in();
    let send = |presses: Value| served.post_json(PRESSES, &batch(1, &presses));
    assert_eq!(send(json!([press(1, 0, "flame-on")])).status, 200);
    shared.server.kill_and_start();
    let answer = send(json!([press(2, 302, "flame-removed")]));
    assert_eq!(answer.status, 200, "{}", answer.body);
    shared.server.say(
        "postgres",
        &format!(
            "SELECT pg_terminate_backend(pid) FROM pg_stat_activity WHERE usename = '{BENCH}'"
        ),
    );
    let answer = send(json!([press(3, 417, "flames-out")]));
    assert_eq!(answer.status, 200, "{}", answer.body);
    drop(served);
    checks(&shared);
}
