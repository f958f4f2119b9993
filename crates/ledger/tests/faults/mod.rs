//! Each call on files fails once, in a short story of a book that is told by a program of its own:
//! nothing said to be kept is lost, every error has words, no panic, and the book goes on.
//!
//! The story runs below a layer (`layer.c`) that makes the n-th call fail, SQLite's own included. A
//! test run tries every n where one call fails alone, and spreads over n where all after it fail
//! too; `CINDERBOOK_FAULTS=all` tries every n of every kind.

use std::fs;
use std::path::{Path, PathBuf};
use std::process::{Command, Output};
use std::sync::OnceLock;
use std::thread;
use std::time::Duration;

use ledger::{Book, LedgerError, verify, verify_bundle};

use crate::kill::example;
use crate::story::{admitted, minute};

/// Tellings at the same time: two cores.
const SIDE_BY_SIDE: u64 = 2;

/// The layer, compiled with the compiler that Rust links with.
fn layer() -> &'static Path {
    static LAYER: OnceLock<PathBuf> = OnceLock::new();
    LAYER.get_or_init(|| {
        let layer = Path::new(env!("CARGO_TARGET_TMPDIR")).join("faults-layer.so");
        let source = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/faults/layer.c");
        let mut compiler = Command::new("cc");
        compiler.args(["-shared", "-fPIC", "-O1", "-Wall", "-Wextra", "-Werror", "-o"]);
        let done = compiler.arg(&layer).arg(source).args(["-ldl", "-lpthread"]).output().unwrap();
        assert!(done.status.success(), "{}", String::from_utf8_lossy(&done.stderr));
        layer
    })
}

/// Tells the story in a folder, with the n-th call of a kind made to fail, or with none.
fn told(folder: &Path, how: &str, at: Option<u64>, count: &Path) -> Output {
    let mut command = Command::new(example("short_story"));
    command.arg(folder).env("LD_PRELOAD", layer());
    command.env("FAULTS_FOLDER", folder.canonicalize().unwrap());
    command.env("FAULTS_HOW", how).env("FAULTS_COUNT", count);
    if let Some(at) = at {
        command.env("FAULTS_AT", at.to_string());
    }
    command.output().unwrap()
}

/// How many calls of a kind the whole story makes.
fn calls(how: &str) -> u64 {
    let place = tempfile::tempdir().unwrap();
    let (folder, count) = (place.path().join("disk"), place.path().join("count"));
    fs::create_dir(&folder).unwrap();
    let done = told(&folder, how, None, &count);
    assert!(done.status.success(), "{done:?}");
    fs::read_to_string(count).unwrap().trim().parse().unwrap()
}

/// What is wrong after the n-th call failed; nothing where all is well.
fn offence(how: &str, at: u64) -> Result<(), String> {
    let place = tempfile::tempdir().unwrap();
    let (folder, count) = (place.path().join("disk"), place.path().join("count"));
    fs::create_dir(&folder).unwrap();
    let done = told(&folder, how, Some(at), &count);
    let errors = String::from_utf8_lossy(&done.stderr).into_owned();
    match done.status.code() {
        Some(0) => {}
        Some(3) if errors.starts_with("error: ") && errors.len() > 20 => {}
        other => return Err(format!("ended with {other:?}: {errors}")),
    }
    let said = String::from_utf8(done.stdout).unwrap();
    let kept: Vec<&str> = said.lines().filter_map(|line| line.strip_prefix("kept ")).collect();
    let book = folder.join("book");
    whole(&book, &kept)?;
    for copy in ["copy", "again", "bundle"] {
        let (path, was_said) = (folder.join(copy), said.lines().any(|line| line == copy));
        if path.exists() || was_said {
            let verified =
                if copy == "bundle" { verify_bundle(&path, None) } else { verify(&path, None) };
            match verified {
                Ok(verified) if verified.is_sound() => {}
                other => return Err(format!("{copy} is not whole: {other:?}")),
            }
        }
    }
    goes_on(&book)
}

/// Holds that a book has all that was kept, and checks to its last page.
fn whole(book: &Path, kept: &[&str]) -> Result<(), String> {
    let verified = match verify(book, None) {
        Ok(verified) => verified,
        Err(_) if kept.is_empty() => return Ok(()),
        Err(error) => return Err(format!("{} entries were kept: {error}", kept.len())),
    };
    if !verified.is_sound() {
        return Err(format!("the book does not check: {:?}", verified.faults));
    }
    let read = Book::open_read_only(book).map_err(|error| error.to_string())?;
    let entries: Vec<String> = read
        .chain()
        .map(|stored| stored.map(|stored| format!("{} {}", stored.entry.number, stored.hash)))
        .collect::<Result<_, _>>()
        .map_err(|error| error.to_string())?;
    if entries.len() < kept.len() || entries.len() > kept.len() + 1 {
        return Err(format!("{} entries were kept, {} are there", kept.len(), entries.len()));
    }
    let same = entries.iter().zip(kept).all(|(entry, kept)| entry == kept);
    if same { Ok(()) } else { Err("another entry stands where one was kept".to_owned()) }
}

/// The disk is sound again: the book is opened, or made where none came about, and takes an entry.
fn goes_on(book: &Path) -> Result<(), String> {
    let words = |error: LedgerError| format!("does not go on: {error}");
    let opened = free(|| Book::open(book)).or_else(|_| free(|| Book::create(book)));
    let mut book = opened.map_err(words)?;
    let next = book.head().map_or(1, |head| head.number + 1);
    book.append(minute(next + 10), &"Ana Ruiz".into(), &admitted(next)).map_err(words)?;
    Ok(())
}

/// Opens a book that nobody has open. Another thread of this test may just be starting a program,
/// which has our files for a moment, locks included.
fn free(open: impl Fn() -> Result<Book, LedgerError>) -> Result<Book, LedgerError> {
    for _ in 0..500 {
        match open() {
            Err(LedgerError::InUse { .. }) => thread::sleep(Duration::from_millis(10)),
            other => return other,
        }
    }
    open()
}

/// Lets the calls fail that are asked for, one a telling; gives how many tellings there were.
fn each(how: &'static str, step: u64) -> u64 {
    let (calls, step) = (calls(how), if all() { 1 } else { step });
    let offences: Vec<String> = thread::scope(|scope| {
        let workers: Vec<_> = (0..SIDE_BY_SIDE)
            .map(|worker| {
                scope.spawn(move || {
                    let apart = usize::try_from(SIDE_BY_SIDE * step).unwrap();
                    let own = (1 + worker * step..=calls + 1).step_by(apart);
                    let tried = own.map(|at| (at, offence(how, at)));
                    let found = tried.filter_map(|(at, tried)| Some((at, tried.err()?)));
                    found.map(|(at, what)| format!("{how} {at}: {what}")).collect::<Vec<_>>()
                })
            })
            .collect();
        workers.into_iter().flat_map(|worker| worker.join().unwrap()).collect()
    });
    assert!(offences.is_empty(), "{} offences:\n{}", offences.len(), offences.join("\n"));
    (calls + 1).div_ceil(step)
}

fn all() -> bool {
    std::env::var("CINDERBOOK_FAULTS").is_ok_and(|word| word == "all")
}

#[test]
fn whichever_call_on_files_fails_alone_nothing_kept_is_lost() {
    let tellings = each("once", 3);
    assert!(tellings > 50, "only {tellings}");
}

#[test]
fn whichever_call_on_files_fails_with_all_after_it_nothing_kept_is_lost() {
    let tellings = each("on", 11);
    assert!(tellings > 10, "only {tellings}");
}

#[test]
fn wherever_the_disk_is_full_from_a_write_on_nothing_kept_is_lost() {
    let tellings = each("full", 5);
    assert!(tellings > 10, "only {tellings}");
}

#[test]
fn whichever_sync_fails_nothing_kept_is_lost() {
    let tellings = each("sync", 1);
    assert!(tellings > 15, "only {tellings}");
}
