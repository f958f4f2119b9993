//! The program killed at random moments of the demo: nothing it said it kept is lost.
#![expect(clippy::disallowed_methods, reason = "these tests run the program and kill it")]

use std::io::Read as _;
use std::path::Path;
use std::process::{Command, Stdio};
use std::thread;
use std::time::{Duration, Instant};

use rand::{RngExt as _, SeedableRng as _};
use rand_pcg::Pcg64;

/// How often in a test run. `CINDERBOOK_KILLS` asks for another number, such as 10000.
const KILLS: u32 = 200;

/// Kills at the same time: two cores.
const SIDE_BY_SIDE: u32 = 2;

#[test]
fn a_kill_at_any_moment_of_the_demo_loses_nothing_that_was_kept() {
    let kills = std::env::var("CINDERBOOK_KILLS").map_or(KILLS, |text| text.parse().unwrap());
    let place = tempfile::tempdir().unwrap();
    let lasts = uncut(&place.path().join("uncut"));
    let kept: Vec<u64> = thread::scope(|scope| {
        let workers: Vec<_> = (0..SIDE_BY_SIDE)
            .map(|worker| {
                let place = place.path();
                scope.spawn(move || some_kills(place, worker, kills / SIDE_BY_SIDE, lasts))
            })
            .collect();
        workers.into_iter().flat_map(|worker| worker.join().unwrap()).collect()
    });
    assert_eq!(u32::try_from(kept.len()).unwrap(), kills / SIDE_BY_SIDE * SIDE_BY_SIDE);
    // The moments must have spread over the path, or nothing was shown.
    let early = kept.iter().filter(|kept| **kept < 30).count();
    let late = kept.iter().filter(|kept| **kept >= 30).count();
    assert!(early > 0 && late > 0, "all kills fell on one side: {early} early, {late} late");
}

fn demo(folder: &Path) -> Command {
    let mut command = Command::new(env!("CARGO_BIN_EXE_cinderbook"));
    command.arg("demo").arg(folder).stdout(Stdio::null()).stderr(Stdio::piped());
    command
}

/// How long the demo takes when it is let run.
fn uncut(folder: &Path) -> Duration {
    let began = Instant::now();
    assert!(demo(folder).output().unwrap().status.success());
    began.elapsed()
}

/// Kills some demos, and gives how many entries each had said it kept.
fn some_kills(place: &Path, worker: u32, kills: u32, lasts: Duration) -> Vec<u64> {
    let mut random = Pcg64::seed_from_u64(u64::from(worker) + 26);
    let one = |number: u32| {
        let folder = place.join(format!("{worker}-{number}"));
        // Most entries come early; the report takes the longest, and keeps one.
        let moment = random.random::<f64>() * random.random::<f64>();
        let kept = killed(&folder, lasts.mul_f64(moment));
        check(&folder, kept);
        std::fs::remove_dir_all(&folder).ok();
        kept
    };
    (0..kills).map(one).collect()
}

/// The last entry that a demo killed after `moment` had said it kept.
fn killed(folder: &Path, moment: Duration) -> u64 {
    let mut running = demo(folder).spawn().unwrap();
    thread::sleep(moment);
    running.kill().unwrap();
    let mut said = String::new();
    running.stderr.take().unwrap().read_to_string(&mut said).unwrap();
    running.wait().unwrap();
    let entries = said.lines().filter_map(|line| line.strip_prefix("kept: entry "));
    let numbers = entries.filter_map(|rest| rest.split(',').next()?.parse().ok());
    numbers.max().unwrap_or(0)
}

/// Holds that the book has all that was kept, and checks.
fn check(folder: &Path, kept: u64) {
    let book = folder.join("book");
    let verify = Command::new(env!("CARGO_BIN_EXE_cinderbook"))
        .args(["--json", "--quiet", "verify"])
        .arg(&book)
        .output()
        .unwrap();
    let told = String::from_utf8_lossy(&verify.stdout).into_owned();
    if kept == 0 && verify.status.code() != Some(0) {
        // Killed before the record was there: the folder is no book, and says so.
        assert_eq!(verify.status.code(), Some(2), "{told}");
        return;
    }
    assert_eq!(verify.status.code(), Some(0), "{told}");
    let told: serde_json::Value = serde_json::from_str(&told).unwrap();
    let entries = told["entries"].as_u64().unwrap();
    assert!(entries >= kept, "{kept} entries were said to be kept, {entries} are there");
}
