//! A disk that fails or is full below a server: what was answered is kept, what could not be kept is
//! not answered, and the record tells of it afterwards.
//!
//! The layer that makes calls fail is that of the ledger's tests; the small disk is mounted, which
//! needs the rights of root.
#![expect(clippy::disallowed_methods, reason = "these tests run the program and look at its files")]

use std::fs;
use std::path::{Path, PathBuf};
use std::process::Command;
use std::sync::OnceLock;

use serde_json::{Value, json};

use crate::house::root;
use crate::served::{Answer, Served, drawn_up, holds, program};
use crate::web_film::mp4;
use crate::web_plans::made_ready;

/// The layer, compiled with the compiler that Rust links with.
fn layer() -> &'static Path {
    static LAYER: OnceLock<PathBuf> = OnceLock::new();
    LAYER.get_or_init(|| {
        let layer = Path::new(env!("CARGO_TARGET_TMPDIR")).join("faults-layer.so");
        let source = root().join("crates/ledger/tests/faults/layer.c");
        let mut compiler = Command::new("cc");
        compiler.args(["-shared", "-fPIC", "-O1", "-o"]).arg(&layer).arg(source).arg("-ldl");
        let done = compiler.output().unwrap();
        assert!(done.status.success(), "{}", String::from_utf8_lossy(&done.stderr));
        layer
    })
}

/// Sends presses of the first specimen of plan 2, from `first` on.
fn pressed(served: &Served, presses: std::ops::RangeInclusive<usize>) -> Answer {
    let acts = ["flame-on", "flame-removed", "flames-out", "glow-out"];
    let press = |nth: usize| {
        let wall = format!("2026-03-06T08:00:{:02}Z", 11 * (nth - 1));
        let act = acts[nth - 1];
        json!({ "sequence": nth, "at_us": 11_000_000 * (nth - 1), "wall": wall, "act": act,
            "input": "switch" })
    };
    let presses: Vec<Value> = presses.map(press).collect();
    let (device, sitting) = (format!("{:032x}", 1), format!("{:032x}", 2));
    let batch = json!({ "device": device, "sitting": sitting, "presses": presses });
    served.post_json("/api/bench/2/1/presses", &batch.to_string())
}

fn kept_to(answer: &Answer) -> u64 {
    assert_eq!(answer.status, 200, "{}", answer.body);
    serde_json::from_str::<Value>(&answer.body).unwrap()["kept_to"].as_u64().unwrap()
}

/// The newest entries of the record, one line each.
fn told(served: &Served) -> Vec<String> {
    let record: Value = serde_json::from_str(&served.page("/api/record")).unwrap();
    let lines = record["entries"].as_array().unwrap().iter();
    lines.map(|line| line["what"].as_str().unwrap().to_owned()).collect()
}

/// After a sync that failed nothing is acknowledged any more; the program started again reads what is
/// there, takes what comes again once, and the record says what was met.
#[test]
fn after_a_failed_sync_nothing_is_acknowledged_until_the_book_is_opened_anew() {
    let beside = tempfile::tempdir().unwrap();
    let from = beside.path().join("from");
    let mut served = Served::demo_by(|folder| {
        drawn_up(folder, &[("[1]", "[1, 2]")]);
        let mut command = program();
        command.env("LD_PRELOAD", layer()).env("FAULTS_FROM", &from).env("FAULTS_AT", "1");
        command.env("FAULTS_HOW", "sync").env("FAULTS_FOLDER", folder.canonicalize().unwrap());
        command
    });
    assert_eq!(kept_to(&pressed(&served, 1..=1)), 1);
    fs::write(&from, "").unwrap();
    let refused = pressed(&served, 2..=2);
    assert_eq!(refused.status, 503, "{}", refused.body);
    holds(&refused.body, &["cannot be used"]);
    // The disk syncs again, and the book does not trust it.
    for _ in 0..3 {
        let refused = pressed(&served, 2..=3);
        assert_eq!(refused.status, 503, "{}", refused.body);
        holds(
            &refused.body,
            &["takes no further entry since a write failed", "Open the book anew"],
        );
    }
    let film = served.send("/api/specimens/2-1/films?name=a.mp4", "video/mp4", mp4(20_000));
    assert_eq!(film.status, 503, "{}", film.body);
    // What is there can be read on.
    assert_eq!(served.get("/api/bench/2/1").status, 200);
    served.kill();
    served.start_again();
    assert_eq!(kept_to(&pressed(&served, 1..=4)), 4);
    let told = told(&served);
    let met = told.iter().find(|line| line.starts_with("Fault: a write failed at")).unwrap();
    assert!(met.contains("Action taken: the book was opened anew"), "{met}");
    served.ended();
}

/// A disk of its own under a book, as large as is said.
struct SmallDisk(PathBuf);

impl SmallDisk {
    /// Puts the book in `folder` on a disk of so many MiB.
    fn under(folder: &Path, mib: u32) -> Self {
        let (book, aside) = (folder.join("book"), folder.join("aside"));
        fs::rename(&book, &aside).unwrap();
        fs::create_dir(&book).unwrap();
        let disk = Self(book.clone());
        disk.mount(&["-t", "tmpfs", "-o", &format!("size={mib}m"), "tmpfs"]);
        let copied = Command::new("cp").arg("-a").arg(aside.join(".")).arg(&book).output().unwrap();
        assert!(copied.status.success(), "{copied:?}");
        disk
    }

    /// Makes it smaller or larger.
    fn resize(&self, mib: u32) {
        self.mount(&["-o", &format!("remount,size={mib}m")]);
    }

    /// Takes away all room that is not used.
    fn fill(&self) {
        let used = Command::new("df").args(["--output=used", "-k"]).arg(&self.0).output().unwrap();
        let used = String::from_utf8(used.stdout).unwrap();
        let kilobytes = used.lines().nth(1).unwrap().trim();
        self.mount(&["-o", &format!("remount,size={kilobytes}k")]);
    }

    fn mount(&self, arguments: &[&str]) {
        let done = Command::new("mount").args(arguments).arg(&self.0).output().unwrap();
        let words = String::from_utf8_lossy(&done.stderr);
        assert!(done.status.success(), "cannot mount a disk (run as root): {words}");
    }
}

impl Drop for SmallDisk {
    fn drop(&mut self) {
        Command::new("umount").arg("--lazy").arg(&self.0).status().ok();
    }
}

/// The demo's book with one more plan, served from a small disk.
fn on_a_disk_of(mib: u32) -> (Served, SmallDisk) {
    let mut disk = None;
    let served = Served::demo_by(|folder| {
        drawn_up(folder, &[("[1]", "[1, 2]"), ("confirmation-holds = \"4 h\"\n", "")]);
        disk = Some(SmallDisk::under(folder, mib));
        program()
    });
    (served, disk.unwrap())
}

#[test]
fn little_room_is_said_early_and_begins_nothing_new() {
    let (served, disk) = on_a_disk_of(700);
    made_ready(&served, &["1", "2", "layer"]);
    let at_bench: Value = serde_json::from_str(&served.page("/api/bench/2/1")).unwrap();
    assert_eq!(at_bench["not_ready"], Value::Null);
    holds(&served.page("/"), &["The disk of the book has ", " MiB left."]);
    disk.resize(450);
    let today: Value = serde_json::from_str(&served.page("/api/today")).unwrap();
    let disk = today["disk"].as_str().unwrap();
    assert!(disk.ends_with("MiB left: no further specimen is begun."), "{disk}");
    holds(&served.page("/"), &["MiB left: no further specimen is begun."]);
    let at_bench: Value = serde_json::from_str(&served.page("/api/bench/2/1")).unwrap();
    let why = at_bench["not_ready"].as_str().unwrap();
    assert!(why.contains("a specimen needs 500 MiB") && why.contains("Free some space"), "{why}");
    let film = served.send("/api/specimens/2-1/films?name=a.mp4", "video/mp4", mp4(20_000));
    assert_eq!(film.status, 503, "{}", film.body);
    holds(&film.body, &["a film needs 500 MiB"]);
    // What has happened at the flame is taken all the same, and then the specimen is open.
    assert_eq!(kept_to(&pressed(&served, 1..=1)), 1);
    let at_bench: Value = serde_json::from_str(&served.page("/api/bench/2/1")).unwrap();
    assert_eq!(at_bench["not_ready"], Value::Null);
    let check = program().arg("--book").arg(served.book()).arg("check").output().unwrap();
    holds(&String::from_utf8_lossy(&check.stdout), &["MiB left", "Free some space"]);
    drop(served.end());
}

#[test]
fn a_full_disk_gives_up_films_and_its_reserve_for_the_presses_of_an_open_specimen() {
    let (served, disk) = on_a_disk_of(700);
    assert!(served.book().join("reserve").is_file(), "room is set aside");
    assert_eq!(kept_to(&pressed(&served, 1..=1)), 1);
    let coming = served.book().join("films-coming/one");
    fs::create_dir_all(&coming).unwrap();
    fs::write(coming.join("piece"), vec![1; 9000]).unwrap();
    disk.fill();
    assert_eq!(kept_to(&pressed(&served, 2..=3)), 3);
    assert!(!served.book().join("films-coming").exists(), "films go first");
    assert!(!served.book().join("reserve").exists());
    assert_eq!(kept_to(&pressed(&served, 2..=4)), 4);
    let told = told(&served);
    let met = told.iter().find(|line| line.starts_with("Fault: the disk was full")).unwrap();
    assert!(met.contains("Action taken: films that were coming in and 64 MiB"), "{met}");
    assert!(met.contains("Lost: nothing"), "{met}");
    let mut served = served;
    served.kill();
    let verified = program().arg("verify").arg(served.book()).output().unwrap();
    assert!(verified.status.success(), "{}", String::from_utf8_lossy(&verified.stdout));
    drop(disk);
    drop(served.end());
}
