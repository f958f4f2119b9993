//! What the program does while its changes are logged: a day of commands, and a server that is sent
//! presses, loggers' files and films. Each answer is noted with the place that the log had reached.

#![expect(clippy::disallowed_methods, reason = "these tests run the program on folders")]

use std::fs;
use std::io::{BufRead as _, BufReader};
use std::path::{Path, PathBuf};
use std::process::{Command, Stdio};
use std::sync::OnceLock;

use ledger::Book;
use serde_json::{Value, json};
use sha2::{Digest as _, Sha256};

use super::disk::{Disk, steps, there};
use crate::house::{root, text};
use crate::served::{Answer, Served, drawn_up, program};
use crate::web_film::mp4;
use crate::web_plans::led;

/// What the program had said, and must hold to whatever the disk does.
#[derive(Debug)]
pub(super) enum Said {
    /// So many entries of the book are kept.
    Entries(usize),
    /// There is a book or a copy of one, with so many entries at least.
    Copy(&'static str, u64),
    /// A file that was asked for is written.
    File(&'static str, Vec<u8>),
    /// A password is chosen.
    Password,
}

/// A run of the program whose disk can be rebuilt.
pub(super) struct Lived {
    /// The disk before.
    pub(super) before: Disk<'static>,
    /// Each change, in order.
    pub(super) log: Vec<u8>,
    /// What was said, each after so much of the log.
    pub(super) said: Vec<(usize, Said)>,
    /// The hashes of the book's entries at the end, in order.
    pub(super) hashes: Vec<String>,
    /// The book's place below the folder.
    pub(super) book: &'static str,
}

/// The folder that is followed, and the log beside it.
struct Followed {
    folder: PathBuf,
    log: PathBuf,
    before: Disk<'static>,
}

impl Followed {
    fn new(folder: &Path, log: PathBuf) -> Self {
        let folder = folder.canonicalize().unwrap();
        let before = Disk::of(&folder);
        Self { folder, log, before }
    }

    /// The program, below the layer.
    fn program(&self) -> Command {
        let mut command = program();
        command.env("LD_PRELOAD", layer());
        command.env("CUTS_FOLDER", &self.folder).env("CUTS_LOG", &self.log);
        command
    }

    fn reached(&self) -> usize {
        fs::metadata(&self.log).map_or(0, |log| usize::try_from(log.len()).unwrap())
    }

    /// Runs a command to its end.
    fn run(&self, arguments: &[&str]) {
        let done = self.program().current_dir(&self.folder).args(arguments).output().unwrap();
        assert!(done.status.success(), "{arguments:?}: {}", String::from_utf8_lossy(&done.stderr));
    }

    /// What was lived through: what the log comes to must be what is there.
    fn lived(self, said: Vec<(usize, Said)>, book: &'static str) -> Lived {
        let log = fs::read(&self.log).unwrap();
        let mut disk = self.before.clone();
        steps(&log).iter().for_each(|(_, step)| disk.take(step));
        let (mut seen, mut found) = (disk.as_seen(), there(&self.folder));
        // It is mapped into memory: what it holds goes around the layer.
        for files in [&mut seen, &mut found] {
            files.retain(|name, _| !name.ends_with("-shm"));
        }
        let names =
            seen.keys().chain(found.keys()).filter(|name| seen.get(*name) != found.get(*name));
        let differ: Vec<&String> = names.collect();
        assert!(differ.is_empty(), "the layer does not follow what is done to {differ:?}");
        let hashes = Book::open_read_only(&self.folder.join(book)).unwrap();
        let hashes = hashes.chain().map(|stored| stored.unwrap().hash.to_string()).collect();
        Lived { before: self.before, log, said, hashes, book }
    }
}

/// The layer, compiled with the compiler that Rust links with.
pub(super) fn layer() -> &'static Path {
    static LAYER: OnceLock<PathBuf> = OnceLock::new();
    LAYER.get_or_init(|| {
        let layer = Path::new(env!("CARGO_TARGET_TMPDIR")).join("cuts-layer.so");
        let source = root().join("crates/app/tests/cuts/layer.c");
        let mut compiler = Command::new("cc");
        compiler.args(["-shared", "-fPIC", "-O1", "-Wall", "-Wextra", "-Werror", "-o"]);
        let done = compiler.arg(&layer).arg(source).args(["-ldl", "-lpthread"]).output().unwrap();
        assert!(done.status.success(), "{}", String::from_utf8_lossy(&done.stderr));
        layer
    })
}

/// From nothing to an issued report by commands, then a new book and copies.
pub(super) fn commands() -> &'static Lived {
    static LIVED: OnceLock<Lived> = OnceLock::new();
    LIVED.get_or_init(|| {
        let place = tempfile::tempdir().unwrap();
        let folder = place.path().join("disk");
        fs::create_dir(&folder).unwrap();
        let followed = Followed::new(&folder, place.path().join("log"));
        let mut said = demo(&followed);
        let entries = u64::try_from(said.len()).unwrap();
        let done = |said: &mut Vec<(usize, Said)>, what| said.push((followed.reached(), what));
        for name in ["demo/R-1.pdf", "demo/R-1.json", "demo/R-1.csv"] {
            done(&mut said, Said::File(name, fs::read(folder.join(name)).unwrap()));
        }
        let new = ["new", "deep/down/new", "--laboratory", "L", "--address", "A", "--person", "P"];
        followed.run(&new);
        done(&mut said, Said::Copy("deep/down/new", 2));
        followed.run(&["--book", "demo/book", "backup", "backup"]);
        done(&mut said, Said::Copy("backup", entries));
        followed.run(&["restore", "backup", "again"]);
        done(&mut said, Said::Copy("again", entries));
        followed.run(&["--book", "demo/book", "export", "bundle"]);
        done(&mut said, Said::Copy("bundle", entries));
        followed.lived(said, "demo/book")
    })
}

/// Plays the demo; each entry that it said it kept.
fn demo(followed: &Followed) -> Vec<(usize, Said)> {
    let mut command = followed.program();
    command.arg("demo").arg(followed.folder.join("demo"));
    let mut playing = command.stdout(Stdio::null()).stderr(Stdio::piped()).spawn().unwrap();
    let mut said = Vec::new();
    for line in BufReader::new(playing.stderr.take().unwrap()).lines() {
        let line = line.unwrap();
        if let Some(rest) = line.strip_prefix("kept: entry ") {
            let entry = rest.split(',').next().unwrap().parse().unwrap();
            said.push((followed.reached(), Said::Entries(entry)));
        }
    }
    assert!(playing.wait().unwrap().success());
    said
}

/// Specimens that are timed, and files that are brought, while the server is followed.
const SPECIMENS: usize = 12;
const FILES: usize = 4;

/// A server of the demo's book that is sent all that people send it at the bench.
pub(super) fn server() -> &'static Lived {
    static LIVED: OnceLock<Lived> = OnceLock::new();
    LIVED.get_or_init(|| {
        let beside = tempfile::tempdir().unwrap();
        let mut followed = None;
        let mut served = Served::demo_by(|folder| {
            let specimens: Vec<_> = (1..=SPECIMENS).collect();
            drawn_up(folder, &[("[1]", &format!("{specimens:?}"))]);
            let followed = followed.insert(Followed::new(folder, beside.path().join("log")));
            followed.program()
        });
        let followed = followed.unwrap();
        let mut said = vec![(followed.reached(), Said::Password)];
        for nth in 1..=SPECIMENS {
            let train = train();
            for batch in [&train[..2], &train[2..]] {
                pressed(&served, nth, batch);
                said.push((followed.reached(), entries(&served)));
            }
            if nth <= FILES {
                brought(&served, nth);
                said.push((followed.reached(), entries(&served)));
                filmed(&served, nth);
                said.push((followed.reached(), entries(&served)));
            }
        }
        served.kill();
        let folder = served.end();
        let lived = followed.lived(said, "book");
        drop(folder);
        lived
    })
}

/// How many entries the book has after what was just answered.
fn entries(served: &Served) -> Said {
    let record: Value = serde_json::from_str(&served.page("/api/record")).unwrap();
    let entry = record["entries"][0]["entry"].as_u64().unwrap();
    Said::Entries(usize::try_from(entry).unwrap())
}

fn ok(answer: &Answer) {
    assert_eq!(answer.status, 200, "{}", answer.body);
}

/// The presses of one specimen.
pub(super) fn train() -> Vec<Value> {
    let acts = ["flame-on", "flame-removed", "flames-out", "glow-out"];
    let press = |(nth, act): (usize, &&str)| {
        let at_us = 11_000_000 * nth;
        let wall = format!("2026-03-06T08:00:{:02}Z", 11 * nth);
        json!({ "sequence": nth + 1, "at_us": at_us, "wall": wall, "act": act, "input": "switch" })
    };
    acts.iter().enumerate().map(press).collect()
}

/// Sends presses of a specimen; all that were kept by then, by the answer.
pub(super) fn pressed(served: &Served, specimen: usize, presses: &[Value]) -> Value {
    let (device, sitting) = (format!("{:032x}", 1), format!("{specimen:032x}"));
    let batch = json!({ "device": device, "sitting": sitting, "presses": presses });
    let answer = served.post_json(&format!("/api/bench/2/{specimen}/presses"), &batch.to_string());
    ok(&answer);
    serde_json::from_str::<Value>(&answer.body).unwrap()["kept_to"].clone()
}

/// Brings a logger's file; each is another one.
fn brought(served: &Served, nth: usize) {
    let file = text("docs/manual/made-up/logger.csv");
    let file = file.replacen("nobody", &format!("nobody, {nth}"), 1);
    let parts = [("plan", None, "1"), ("class", None, "1"), ("channel", None, "Block")];
    let parts = [parts.as_slice(), &[("file", Some("heating.csv"), file.as_str())]].concat();
    led(&served.post_parts("/flame/bring", &parts));
}

/// Sends a film that was recorded at the bench, in two pieces.
fn filmed(served: &Served, nth: usize) {
    let film = mp4(20_000 + nth);
    let path = format!("/api/bench/2/{nth}/films/{nth:032x}-1000");
    let (first, second) = film.split_at(9_000);
    for (number, piece) in [(1, first), (2, second)] {
        let sha256 = hex::encode(Sha256::digest(piece));
        let path = format!("{path}/pieces/{number}?sha256={sha256}");
        ok(&served.send(&path, "application/octet-stream", piece));
    }
    let (device, media) = (format!("{:032x}", 1), "video/mp4");
    let whole = json!({ "device": device, "within_us": 100_000, "pieces": 2, "media": media });
    let ended = served.post_json(&path, &whole.to_string());
    ok(&ended);
    assert!(ended.body.contains("\"missing\":[]"), "{}", ended.body);
}
