//! The power is cut, at any moment of two runs of the program: what it had said it kept is there,
//! what it had not said is there wholly or not at all, and it goes on.
//!
//! The runs are made once, below a layer that logs each change of a file and each sync; `disk.rs`
//! says what a disk may then hold. 50 cuts in a test run: `CINDERBOOK_CUTS` asks for another number.
#![expect(clippy::disallowed_methods, reason = "these tests run the program on folders")]

mod disk;
mod lived;

use std::collections::BTreeSet;
use std::fs;
use std::path::Path;
use std::thread;

use rand::{RngExt as _, SeedableRng as _};
use rand_pcg::Pcg64;
use sha2::{Digest as _, Sha256};
use tempfile::TempDir;

use crate::served::{PASSWORD, Served, program};
use disk::{Disk, Step, Trust, lay_out, steps};
use lived::{Lived, Said, commands, layer, pressed, server, train};

/// Cuts in a test run, half of them while commands run, half while a server answers.
const CUTS: u64 = 50;

/// Cuts at the same time: two cores.
const SIDE_BY_SIDE: u64 = 2;

/// Who writes after a cut.
const WHO: &str = "Odalys Fenn";

#[test]
fn a_cut_of_the_power_while_commands_run_loses_nothing_that_was_kept() {
    let losses = losses(commands(), Trust::Keeps, cuts() / 2);
    assert!(losses.is_empty(), "{} losses:\n{}", losses.len(), losses.join("\n"));
}

#[test]
fn a_cut_of_the_power_while_a_server_answers_loses_nothing_that_was_kept() {
    let losses = losses(server(), Trust::Keeps, cuts() / 2);
    assert!(losses.is_empty(), "{} losses:\n{}", losses.len(), losses.join("\n"));
}

/// A loss is seen where there is one: on a disk that forgets what it was told to sync.
#[test]
fn on_a_disk_that_forgets_what_was_synced_losses_are_found() {
    assert!(!losses(commands(), Trust::Forgets, 6).is_empty());
}

fn cuts() -> u64 {
    std::env::var("CINDERBOOK_CUTS").map_or(CUTS, |text| text.parse().unwrap())
}

/// What is lost in so many cuts, each said in words.
fn losses(lived: &Lived, trust: Trust, cuts: u64) -> Vec<String> {
    thread::scope(|scope| {
        let workers: Vec<_> = (0..SIDE_BY_SIDE)
            .map(|worker| {
                let own = (worker..cuts).step_by(usize::try_from(SIDE_BY_SIDE).unwrap());
                scope.spawn(move || {
                    own.filter_map(|cut| loss(lived, trust, cut)).collect::<Vec<_>>()
                })
            })
            .collect();
        workers.into_iter().flat_map(|worker| worker.join().unwrap()).collect()
    })
}

/// What one cut loses; it is the same each time.
fn loss(lived: &Lived, trust: Trust, cut: u64) -> Option<String> {
    let mut random = Pcg64::seed_from_u64(cut + 26);
    let mut disk = lived.before.trusted(trust);
    let steps = steps(&lived.log);
    // The last change may have been at work.
    let last = random.random_range(0..steps.len());
    steps[..=last].iter().for_each(|(_, step)| disk.take(step));
    let folder = tempfile::tempdir().unwrap();
    lay_out(&disk.after_a_cut(&mut random), folder.path());
    // What was answered had been done before.
    let answered = lived.said.iter().filter(|(reached, _)| *reached <= steps[last].0);
    let answered: Vec<&Said> = answered.map(|(_, said)| said).collect();
    let found = held(lived, folder, &answered);
    found.err().map(|what| format!("cut {cut}, after change {last}: {what}"))
}

/// Whether all that was said holds, and the program goes on.
fn held(lived: &Lived, folder: TempDir, said: &[&Said]) -> Result<(), String> {
    let book = folder.path().join(lived.book);
    let entries = said.iter().filter_map(|said| match said {
        Said::Entries(entries) => Some(*entries),
        Said::Copy(..) | Said::File(..) | Said::Password => None,
    });
    let wanted = entries.max().unwrap_or(0);
    let kept = checked(&book);
    if wanted == 0 && kept.is_err() {
        // Nothing was kept: the folder is no book yet, and can become one.
        return began(&book);
    }
    let (kept, head) = kept?;
    if kept == 0 && wanted == 0 {
        return began(&book);
    }
    if kept < wanted || kept > lived.hashes.len() {
        return Err(format!("{wanted} entries were kept, {kept} are there"));
    }
    let expected = kept.checked_sub(1).map(|last| format!("{kept} {}", lived.hashes[last]));
    if head != expected {
        return Err(format!("entry {kept} is not the one that was kept: {head:?}"));
    }
    for said in said {
        match said {
            Said::Entries(_) | Said::Password => {}
            Said::Copy(name, entries) => {
                let (found, _) = checked(&folder.path().join(name))?;
                if u64::try_from(found).unwrap() < *entries {
                    return Err(format!("{name} has {found} entries of {entries}"));
                }
            }
            Said::File(name, bytes) => {
                if fs::read(folder.path().join(name)).ok().as_ref() != Some(bytes) {
                    return Err(format!("{name} is not as it was written"));
                }
            }
        }
    }
    whole_evidence(&book)?;
    goes_on(&book, kept)?;
    if said.iter().any(|said| matches!(said, Said::Password)) { serves(folder) } else { Ok(()) }
}

/// The number of entries and the head of a book or a copy that checks.
fn checked(book: &Path) -> Result<(usize, Option<String>), String> {
    let done = program().args(["--json", "--quiet", "verify"]).arg(book).output().unwrap();
    let said = String::from_utf8_lossy(&done.stdout) + String::from_utf8_lossy(&done.stderr);
    if !done.status.success() {
        return Err(format!("{} does not check: {said}", book.display()));
    }
    let told: serde_json::Value = serde_json::from_slice(&done.stdout).unwrap();
    let entries = usize::try_from(told["entries"].as_u64().unwrap()).unwrap();
    Ok((entries, told["head"].as_str().map(str::to_owned)))
}

/// Makes a book where there is none.
fn began(book: &Path) -> Result<(), String> {
    let mut new = program();
    new.arg("new").arg(book).args(["--laboratory", "L", "--address", "A", "--person", "P"]);
    ended(new)?;
    checked(book).map(drop)
}

fn ended(mut command: std::process::Command) -> Result<(), String> {
    let done = command.output().unwrap();
    let said = String::from_utf8_lossy(&done.stderr).into_owned();
    if done.status.success() { Ok(()) } else { Err(format!("{command:?} says {said}")) }
}

/// All that lies under a hash has that hash: nothing is filed in part.
fn whole_evidence(book: &Path) -> Result<(), String> {
    for folder in fs::read_dir(book.join("evidence")).into_iter().flatten() {
        for file in fs::read_dir(folder.unwrap().path()).into_iter().flatten() {
            let path = file.unwrap().path();
            let hash = hex::encode(Sha256::digest(fs::read(&path).unwrap()));
            if !path.ends_with(&hash) {
                return Err(format!("{} is filed in part", path.display()));
            }
        }
    }
    Ok(())
}

/// A piece of equipment and its calibration with a certificate can be recorded.
fn goes_on(book: &Path, kept: usize) -> Result<(), String> {
    let command = |arguments: &[&str]| {
        let mut command = program();
        command.args(["--as", WHO, "--book"]).arg(book).args(arguments);
        ended(command)
    };
    let piece = ["equipment", "add", "CUT-1", "--kind", "other", "--description", "lamp"];
    command(&piece)?;
    let certificate = book.join("../certificate.txt");
    fs::write(&certificate, "made up").unwrap();
    let file = certificate.to_str().unwrap();
    let calibrated = ["equipment", "calibrated", "CUT-1", "--certificate", "1", "--by", "nobody"];
    let rest = ["--on", "2026-03-05", "--due", "2027-03-05", "--result", "good", "--file", file];
    command(&[calibrated.as_slice(), &rest].concat())?;
    match checked(book)? {
        (found, _) if found == kept + 2 => Ok(()),
        (found, _) => Err(format!("{found} entries after {kept} and 2 more")),
    }
}

/// The server starts, the person comes in by their password, and presses that come again are kept
/// once.
fn serves(folder: TempDir) -> Result<(), String> {
    let mut served = Served::start(folder, &[], "2026-03-06T09:00:00Z");
    let answer = served.fill("/sign-in", &[("name", WHO), ("password", PASSWORD)]);
    if answer.status != 303 {
        return Err(format!("{WHO} cannot sign in: {}", answer.status));
    }
    served.keep_cookie(&answer);
    let kept_to = pressed(&served, 1, &train());
    let twin: serde_json::Value = serde_json::from_str(&served.page("/api/bench/2/1")).unwrap();
    let presses = twin["presses"].as_array().unwrap().len();
    if (kept_to.as_u64(), presses) != (Some(4), 4) {
        return Err(format!("{presses} presses of 4 are kept, to {kept_to}"));
    }
    drop(served.end());
    Ok(())
}

/// The layer and the disk by themselves: one file put in another's place, without a sync of it.
#[test]
fn what_a_disk_holds_after_a_cut_is_what_was_synced_and_any_part_of_the_rest() {
    let place = tempfile::tempdir().unwrap();
    let (folder, log) = (place.path().join("disk"), place.path().join("log"));
    fs::create_dir(&folder).unwrap();
    fs::write(place.path().join("a"), [b'a'; 2048]).unwrap();
    fs::write(place.path().join("b"), [b'b'; 2048]).unwrap();
    let script = "dd if=../a of=file bs=2048 conv=fsync status=none && sync . &&
        dd if=../b of=next bs=2048 status=none && mv next file && sync .";
    let mut shell = std::process::Command::new("sh");
    shell.args(["-e", "-c", script]).current_dir(&folder).env("LD_PRELOAD", layer());
    shell.env("CUTS_FOLDER", folder.canonicalize().unwrap()).env("CUTS_LOG", &log);
    let mut disk = Disk::of(&folder);
    ended(shell).unwrap();
    let log = fs::read(log).unwrap();
    let steps = steps(&log);
    let named = steps.iter().position(|(_, step)| matches!(step, Step::SyncFolder { .. }));
    let files = |disk: &Disk<'_>, seed| disk.after_a_cut(&mut Pcg64::seed_from_u64(seed));
    for (nth, (_, step)) in steps.iter().enumerate() {
        disk.take(step);
        // From its first sync on the file is there; until the second one is put in its place it is
        // as it was, whatever else was done.
        let there = (0..50).filter(|seed| files(&disk, *seed).contains_key("file")).count();
        assert_eq!(there == 50, nth >= named.unwrap(), "{there} of 50 after {step:?}");
    }
    assert_eq!(disk.as_seen(), disk::there(&folder));
    // Now the name is on the disk, and what it names was never synced: so a file is lost.
    let kind = |seed| match files(&disk, seed)["file"].as_deref().unwrap() {
        [] => "empty",
        bytes if *bytes == [b'b'; 2048] => "whole",
        _ => "torn",
    };
    let found: BTreeSet<_> = (0..200).map(kind).collect();
    assert_eq!(found, BTreeSet::from(["empty", "torn", "whole"]));
}
