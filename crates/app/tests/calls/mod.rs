//! Whom the program calls: nobody, but the database and the store of evidence that it is told. So it
//! starts, verifies and prints where there is no network.
//!
//! It runs below a layer (`layer.c`) that notes every call and lets none but this machine be reached.
#![expect(clippy::disallowed_methods, reason = "these tests run the program on folders")]

use std::collections::{BTreeSet, VecDeque};
use std::fs;
use std::path::{Path, PathBuf};
use std::process::Command;
use std::sync::OnceLock;

use tempfile::TempDir;

use crate::house::{none, root};
use crate::served::{Answer, Served, holds, program};

/// Pages and files of one kind, such as those of single specimens, that are looked at.
const OF_A_KIND: usize = 2;

/// What the program calls.
pub(crate) struct Calls {
    log: TempDir,
}

impl Calls {
    pub(crate) fn new() -> Self {
        Self { log: tempfile::tempdir().unwrap() }
    }

    fn file(&self) -> PathBuf {
        self.log.path().join("calls")
    }

    /// Puts a command below the layer.
    pub(crate) fn below(&self, mut command: Command) -> Command {
        command.env("LD_PRELOAD", layer()).env("CALLS_LOG", self.file());
        command
    }

    /// Each call once: how, whom, and at which port.
    pub(crate) fn made(&self) -> BTreeSet<String> {
        let text = fs::read_to_string(self.file()).unwrap_or_default();
        text.lines().map(str::to_owned).collect()
    }
}

/// The layer, compiled with the compiler that Rust links with.
fn layer() -> &'static Path {
    static LAYER: OnceLock<PathBuf> = OnceLock::new();
    LAYER.get_or_init(|| {
        let layer = Path::new(env!("CARGO_TARGET_TMPDIR")).join("calls-layer.so");
        let source = root().join("crates/app/tests/calls/layer.c");
        let mut compiler = Command::new("cc");
        compiler.args(["-shared", "-fPIC", "-O1", "-Wall", "-Wextra", "-Werror", "-o"]);
        let done = compiler.arg(&layer).arg(source).args(["-ldl", "-lpthread"]).output().unwrap();
        assert!(done.status.success(), "{}", String::from_utf8_lossy(&done.stderr));
        layer
    })
}

/// What is wrong with a page in itself: a script or a look inside it, or that a browser may keep it.
fn offences(path: &str, answer: &Answer) -> Vec<String> {
    let mut found = Vec::new();
    if answer.header("cache-control") != "no-store" && !path.starts_with("/assets/") {
        found.push(format!("{path} may be kept: {}", answer.header("cache-control")));
    }
    if answer.header("content-type").starts_with("text/html") {
        let inside =
            ["<style", " style=\"", "javascript:", "<object", "<embed", "<iframe", "<base"];
        found
            .extend(inside.iter().filter(|it| answer.body.contains(**it)).map(ToString::to_string));
        let scripts = answer.body.split("<script").skip(1);
        let foreign =
            scripts.filter(|script| !script.starts_with(" type=\"module\" src=\"/assets/"));
        found.extend(foreign.map(|script| script.chars().take(60).collect()));
        let words = answer.body.split('<').flat_map(str::split_whitespace);
        let named = words.filter(|word| word.starts_with("on") && word.contains("=\""));
        found.extend(named.map(str::to_owned));
    }
    found.into_iter().map(|what| format!("{path}: {what}")).collect()
}

/// Looks at every page that a link leads to, from the first on; how many there were.
fn walked(served: &Served) -> (usize, Vec<String>) {
    let (mut waiting, mut seen) = (VecDeque::from(["/".to_owned()]), BTreeSet::new());
    let (mut kinds, mut found): (Vec<String>, _) = (Vec::new(), Vec::new());
    while let Some(path) = waiting.pop_front() {
        let kind: String =
            path.split('?').next().unwrap().chars().filter(|it| !it.is_ascii_digit()).collect();
        let of_this_kind = kinds.iter().filter(|it| **it == kind).count();
        if of_this_kind >= OF_A_KIND || !seen.insert(path.clone()) {
            continue;
        }
        let answer = served.get(&path);
        // On this machine alone there is no certificate, and its page says so.
        let there = answer.status < 400 || path == "/device/certificate";
        assert!(there, "{path}: {} {}", answer.status, answer.body);
        kinds.push(kind);
        found.extend(offences(&path, &answer));
        if answer.header("content-type").starts_with("text/html") {
            let links =
                answer.body.split("href=\"/").skip(1).filter_map(|rest| rest.split('"').next());
            let links = links.map(|link| link.split('#').next().unwrap().replace("&amp;", "&"));
            waiting.extend(links.map(|link| format!("/{link}")));
        }
    }
    (kinds.len(), found)
}

#[test]
fn the_program_plays_verifies_prints_and_serves_and_calls_nobody() {
    let (calls, place) = (Calls::new(), tempfile::tempdir().unwrap());
    let ran = |arguments: &[&str]| {
        let done =
            calls.below(program()).current_dir(place.path()).args(arguments).output().unwrap();
        assert!(done.status.success(), "{arguments:?}: {}", String::from_utf8_lossy(&done.stderr));
    };
    ran(&["--quiet", "demo", "demo"]);
    assert!(fs::read(place.path().join("demo/R-1.pdf")).unwrap().starts_with(b"%PDF"));
    ran(&["verify", "demo/book"]);
    let on = ["--book", "demo/book", "--as", "Odalys Fenn"];
    ran(&[&on[..], &["export", "bundle", "--report", "1"]].concat());
    ran(&["verify", "bundle"]);
    ran(&["selfcheck"]);
    let served = Served::demo_by(|_| calls.below(program()));
    let (pages, found) = walked(&served);
    assert!(pages > 60, "{pages}");
    none(&found);
    assert_eq!(served.post("/record/check", "head=").status, 303);
    let again = "plan=1&issued_before=1&reason=a+name&changes=the+name";
    assert_eq!(served.post("/reports", again).status, 303);
    assert_eq!(served.bytes("/reports/2/pdf")[..4], *b"%PDF");
    served.ended();
    none(&calls.made().into_iter().collect::<Vec<_>>());
}

/// On the network it asks the machine which of its own addresses is seen from there: that sends
/// nothing, and goes to an address that is nobody's (RFC 5737).
#[test]
fn serving_on_the_network_calls_nobody() {
    let calls = Calls::new();
    let by = calls.below(program());
    let served = Served::started(by, crate::served::new_book(), &["--listen", "0.0.0.0:0"]);
    drop(served);
    none(&calls.made().into_iter().filter(|it| it != "datagram 192.0.2.1 9").collect::<Vec<_>>());
}

/// What is held above is seen where it is done.
#[test]
fn a_book_on_a_database_asks_that_machine_and_no_other() {
    let calls = Calls::new();
    let book = "postgres://nobody@192.0.2.7:5433/lab?sslmode=disable";
    let done = calls.below(program()).args(["verify", book]).output().unwrap();
    assert!(!done.status.success());
    holds(&String::from_utf8_lossy(&done.stderr), &["the database cannot be reached"]);
    assert_eq!(calls.made(), BTreeSet::from(["stream 192.0.2.7 5433".to_owned()]));
    let named = "postgres://nobody@elsewhere.example/lab?sslmode=disable";
    let calls = Calls::new();
    calls.below(program()).args(["verify", named]).output().unwrap();
    assert_eq!(calls.made(), BTreeSet::from(["name elsewhere.example 0".to_owned()]));
}
