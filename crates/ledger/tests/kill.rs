//! The writing program is killed at random moments: nothing acknowledged is lost.

use std::io::{BufRead, BufReader};
use std::path::{Path, PathBuf};
use std::process::{Command, Stdio};
use std::thread::sleep;
use std::time::Duration;

use ledger::{Book, LedgerError};

use crate::damage::Shuffled;

/// How often the program is killed.
const KILLS: usize = 60;

/// An example, which `cargo test` builds beside the tests.
pub(crate) fn example(name: &str) -> PathBuf {
    let tests = std::env::current_exe().unwrap();
    let built = tests.parent().and_then(Path::parent).unwrap();
    let program = built.join("examples").join(name);
    assert!(program.is_file(), "{} is not built: run `cargo test -p ledger`", program.display());
    program
}

/// Starts the program, kills it after so many acknowledged entries and so many microseconds, and
/// gives the number of the last entry it acknowledged.
fn killed(folder: &Path, after: usize, microseconds: usize) -> Option<u64> {
    let mut child =
        Command::new(example("append_forever")).arg(folder).stdout(Stdio::piped()).spawn().unwrap();
    let mut lines = BufReader::new(child.stdout.take().unwrap());
    let mut last = None;
    let mut line = String::new();
    for _ in 0..after {
        line.clear();
        lines.read_line(&mut line).unwrap();
        last = line.strip_suffix('\n').map(|number| number.parse().unwrap()).or(last);
    }
    sleep(Duration::from_micros(u64::try_from(microseconds).unwrap()));
    child.kill().unwrap();
    child.wait().unwrap();
    for line in lines.split(b'\n') {
        let text = String::from_utf8(line.unwrap()).unwrap();
        last = text.parse().ok().or(last);
    }
    last
}

/// The book, opened to write. A test beside this one that is about to start a program may have taken
/// our lock of before along, until it has.
fn opened(folder: &Path) -> Book {
    loop {
        match Book::open(folder) {
            Err(LedgerError::InUse { by, .. }) if by == Some(std::process::id()) => {}
            opened => return opened.unwrap(),
        }
    }
}

#[test]
fn nothing_acknowledged_is_lost_when_the_program_is_killed() {
    let place = tempfile::tempdir().unwrap();
    let folder = place.path().join("book");
    let mut shuffled = Shuffled(5);
    let mut acknowledged = 0;
    for kill in 0..KILLS {
        let after = shuffled.below(5);
        let within = if after == 0 { 40_000 } else { 5_000 };
        if let Some(last) = killed(&folder, after, shuffled.below(within)) {
            assert!(last > acknowledged, "kill {kill}: a number came twice");
            acknowledged = last;
        }
        if acknowledged == 0 {
            continue;
        }
        // Opened to write, as after a restart: the file is put in order.
        let kept = opened(&folder).head().unwrap().number;
        assert!(
            kept == acknowledged || kept == acknowledged + 1,
            "kill {kill}: {acknowledged} were acknowledged, {kept} are there"
        );
        acknowledged = kept;
    }
    assert!(acknowledged > 60, "only {acknowledged} entries in {KILLS} lives");
    let book = opened(&folder);
    let mut entries = 0;
    for recorded in book.entries() {
        for hash in ledger::entry::evidence(&recorded.unwrap().fact) {
            book.evidence(hash).unwrap();
        }
        entries += 1;
    }
    assert_eq!(entries, acknowledged);
}
