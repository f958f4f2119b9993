//! One book on a PostgreSQL database: two programs serve it, and commands write in it meanwhile.
#![expect(clippy::disallowed_methods, reason = "these tests run the program on folders")]

#[expect(dead_code, reason = "shared with the ledger's tests, which do more")]
#[path = "../../ledger/tests/postgres/server.rs"]
mod server;

#[cfg(target_os = "linux")]
use std::collections::BTreeSet;
use std::net::TcpListener;
use std::path::{Path, PathBuf};
use std::process::{Child, Command, Output, Stdio};
use std::thread::sleep;
use std::time::Duration;

use serde_json::{Value, json};
use tempfile::TempDir;

#[cfg(target_os = "linux")]
use crate::calls::Calls;
use crate::house::root;
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
        Self::made_with(&[]).unwrap()
    }

    /// The same with further arguments; what is said where it cannot be made.
    fn made_with(arguments: &[&str]) -> Result<Self, String> {
        let server = Server::start(&[]);
        let (database, files) = (server.database(), tempfile::tempdir().unwrap());
        let shared = Self { server, database, files };
        let mut restore = with_keys();
        restore.arg("restore").arg(demo().join("book"));
        restore.arg(shared.server.address(OWNER, &shared.database));
        restore.args(["--role", BENCH, "--files"]).arg(shared.files.path()).args(arguments);
        let done = restore.output().unwrap();
        if done.status.success() {
            return Ok(shared);
        }
        Err(String::from_utf8(done.stderr).unwrap())
    }

    fn book(&self) -> PathBuf {
        self.server.address(BENCH, &self.database)
    }

    fn command(&self, arguments: &[&str]) -> Output {
        self.said(arguments).output().unwrap()
    }

    fn said(&self, arguments: &[&str]) -> Command {
        let mut command = with_keys();
        command.arg("--book").arg(self.book()).args(["--as", "Odalys Fenn"]).args(arguments);
        command
    }
}

/// The program, with the keys of a store of evidence.
fn with_keys() -> Command {
    let mut command = program();
    command.env("AWS_ACCESS_KEY_ID", "lab").env("AWS_SECRET_ACCESS_KEY", "made-up");
    command
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
    let mut one = Served::on((with_keys(), &shared.book()), &["--link", "Odalys Fenn"]);
    let mut other = Served::on((with_keys(), &shared.book()), &[]);
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
        let done = with_keys().arg("verify").arg(book).output().unwrap();
        assert!(done.status.success(), "{}", String::from_utf8_lossy(&done.stdout));
        String::from_utf8(done.stdout).unwrap()
    };
    assert_eq!(checked(&shared.book()), checked(&copy));
}

/// Two machines with folders of their own: what one signs the other shows, and both verifiers believe
/// what either exports.
#[test]
fn a_second_machine_signs_exports_and_checks_without_the_first_ones_folder() {
    let shared = Shared::made();
    let done = |arguments: &[&str]| {
        let done = shared.command(arguments);
        assert!(done.status.success(), "{}", String::from_utf8_lossy(&done.stderr));
        String::from_utf8(done.stdout).unwrap()
    };
    // Both stand on one machine here: which folder is whose is said before each begins.
    let machine = |name: &str| {
        let folder = shared.files.path().join(name).display().to_string();
        let said = format!("UPDATE cinderbook.book SET files = '{folder}'");
        shared.server.say(&shared.database, &said);
    };
    let path = |name: &str| shared.files.path().join(name).display().to_string();
    machine("one");
    std::fs::create_dir(path("one")).unwrap();
    std::fs::copy(demo().join("book/key"), path("one/key")).unwrap();
    done(&["equipment", "withdraw", "SW-3", "--reason", "dropped"]);
    let first = done(&["record", "head"]);
    done(&["export", &path("by-one"), "--report", "1"]);
    std::fs::remove_dir_all(path("one")).unwrap();

    machine("two");
    done(&["export", &path("by-two"), "--report", "1"]);
    let bundled = |name: &str| std::fs::read_to_string(path(name) + "/signed-head").unwrap();
    assert_eq!([bundled("by-one"), bundled("by-two")], [first.clone(), first.clone()]);
    // The machine of before signed when it was served; this one renews the key and serves.
    let key = done(&["key", "renew", "--reason", "yearly"]);
    let mut two = Served::on((with_keys(), &shared.book()), &["--link", "Odalys Fenn"]);
    two.come_in();
    holds(&two.page("/api/record"), &[key.trim()]);
    assert_ne!(done(&["record", "head"]), first);
    drop(two);
    // Of several renewals at once those are refused that another one came before.
    let renewing = |nth: i32| {
        let mut command = shared.said(&["key", "renew", "--reason", &nth.to_string()]);
        command.stdout(Stdio::null()).stderr(Stdio::null()).spawn().unwrap()
    };
    let mut renewing: Vec<Child> = (0..4).map(renewing).collect();
    let renewed = renewing.iter_mut().filter_map(|it| it.wait().unwrap().success().then_some(()));
    assert!(renewed.count() > 0);
    done(&["record", "head"]);

    machine("three");
    done(&["export", &path("by-three"), "--report", "1"]);
    let script = root().join("crates/ledger/tests/second_verifier.py");
    for name in ["by-one", "by-two", "by-three"] {
        done(&["verify", &path(name)]);
        let python = Command::new("python3").arg("-B").arg(&script).arg(path(name)).output();
        holds(&String::from_utf8(python.unwrap().stdout).unwrap(), &["good "]);
    }
    checks(&shared);
}

/// While the database is away pages say so, and nothing is taken for kept; then all goes on.
#[test]
fn what_is_asked_while_the_database_is_away_is_answered_when_it_is_back() {
    let shared = Shared::made();
    let mut served = Served::on((with_keys(), &shared.book()), &["--link", "Odalys Fenn"]);
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

/// A store of evidence, by another hand: the Python package `moto` plays one on this machine.
struct Evidence {
    child: Child,
    port: u16,
}

impl Evidence {
    fn start() -> Self {
        let python = root().join(".venv/bin/python");
        let port = TcpListener::bind("127.0.0.1:0").unwrap().local_addr().unwrap().port();
        let child = Command::new(python)
            .args(["-m", "moto.server", "-H", "127.0.0.1", "-p", &port.to_string()])
            .stdout(Stdio::null())
            .stderr(Stdio::null())
            .spawn()
            .unwrap();
        let evidence = Self { child, port };
        while evidence.ask("PUT", "").is_err() {
            sleep(Duration::from_millis(100));
        }
        evidence
    }

    /// Asks for something in the bucket; this store looks at no signature.
    fn ask(&self, method: &str, key: &str) -> Result<String, ureq::Error> {
        let at = format!("http://127.0.0.1:{}/lab/{key}", self.port);
        let signed = "AWS4-HMAC-SHA256 Credential=k/20260306/us-east-1/s3/aws4_request";
        let answer = match method {
            "PUT" => ureq::put(at).header("authorization", signed).send_empty()?,
            "DELETE" => ureq::delete(at).header("authorization", signed).call()?,
            _ => ureq::get(at).header("authorization", signed).call()?,
        };
        answer.into_body().read_to_string()
    }

    fn address(&self) -> String {
        format!("s3://lab/book?endpoint=http://127.0.0.1:{}", self.port)
    }
}

impl Drop for Evidence {
    fn drop(&mut self) {
        self.child.kill().ok();
        self.child.wait().ok();
    }
}

#[test]
fn evidence_may_lie_in_a_store_elsewhere() {
    let store = Evidence::start();
    let refused = Shared::made_with(&["--evidence", "s3://none/?endpoint=http://127.0.0.1:1"]);
    holds(&refused.err().unwrap(), &["cannot reach `s3://none/"]);
    let shared = Shared::made_with(&["--evidence", &store.address()]).unwrap();
    let copies = shared.files.path().join("evidence-copies");
    let names = |text: &str| text.matches("<Key>book/").count();
    let all = names(&store.ask("GET", "").unwrap());
    assert!(all > 5, "{all} files");
    // Another machine has no copies; it fetches what it shows.
    std::fs::remove_dir_all(&copies).unwrap();
    let mut served = Served::on((with_keys(), &shared.book()), &["--link", "Odalys Fenn"]);
    served.come_in();
    let answer = served.get("/reports/1/pdf");
    holds(&answer.body, &["%PDF"]);
    drop(served);
    checks(&shared);
    // What is gone there is missed, whatever copies there are.
    let list = store.ask("GET", "").unwrap();
    let key = list.split("<Key>").nth(1).unwrap().split('<').next().unwrap();
    store.ask("DELETE", key).unwrap();
    let done = with_keys().arg("verify").arg(shared.book()).output().unwrap();
    assert_eq!(done.status.code(), Some(1));
    holds(&String::from_utf8_lossy(&done.stdout), &["is not on file"]);
}

/// Whom it asks is what it was told: the machine of its database and the endpoint of its store.
#[cfg(target_os = "linux")]
#[test]
fn a_served_book_calls_its_database_and_its_store_of_evidence_and_nobody_else() {
    let store = Evidence::start();
    let shared = Shared::made_with(&["--evidence", &store.address()]).unwrap();
    std::fs::remove_dir_all(shared.files.path().join("evidence-copies")).unwrap();
    let calls = Calls::new();
    let by = (calls.below(with_keys()), shared.book());
    let mut served = Served::on((by.0, &by.1), &["--link", "Odalys Fenn"]);
    served.come_in();
    holds(&served.get("/reports/1/pdf").body, &["%PDF"]);
    assert_eq!(served.get("/record").status, 200);
    drop(served);
    let book = by.1.display().to_string();
    let database = book.rsplit(':').next().unwrap().split('/').next().unwrap();
    let told = [database, &store.port.to_string()].map(|port| format!("stream 127.0.0.1 {port}"));
    assert_eq!(calls.made(), BTreeSet::from(told));
}
