//! Backups, restores and bundles: whole or not there, and checked by others.

use std::fs;
use std::path::Path;
use std::process::Command;
use std::sync::Arc;

use ledger::{Book, LedgerError, restore, verify, verify_bundle};

use crate::damage::Shuffled;
use crate::failing::{Failing, FailingFiles};
use crate::story::{admitted, minute, tell};

#[test]
fn a_backup_is_made_while_the_book_is_open_and_comes_back_the_same() {
    let place = tempfile::tempdir().unwrap();
    let (first, copy, again) =
        (place.path().join("book"), place.path().join("copy"), place.path().join("again"));
    let mut book = tell(&first);
    let head = book.head();
    let copied = book.back_up(&copy).unwrap();
    assert_eq!((copied.head, copied.evidence), (head, 10));
    book.append(minute(99), &"Ana Ruiz".into(), &admitted(99)).unwrap();
    assert!(verify(&copy, head).unwrap().is_sound());
    assert_eq!(restore(&copy, &again).unwrap(), copied);
    let bundles = [&copy, &again].map(|book| {
        let bundle = book.with_extension("bundle");
        Book::open(book).unwrap().export(&bundle).unwrap();
        contents(&bundle)
    });
    assert_eq!(bundles[0], bundles[1]);
}

#[test]
fn nothing_is_ever_overwritten() {
    let place = tempfile::tempdir().unwrap();
    let book = tell(&place.path().join("book"));
    let taken = place.path().join("taken");
    fs::create_dir(&taken).unwrap();
    fs::write(taken.join("letter.txt"), "hello").unwrap();
    let words = format!("`{}` is not empty", taken.display());
    assert_eq!(book.back_up(&taken).unwrap_err().to_string(), words);
    assert_eq!(book.export(&taken).unwrap_err().to_string(), words);
    drop(book);
    let refused = restore(&place.path().join("book"), &taken).unwrap_err();
    assert_eq!(refused.to_string(), words);
    assert_eq!(fs::read_dir(&taken).unwrap().count(), 1);
    let refused = restore(&taken, &place.path().join("new")).unwrap_err();
    assert!(matches!(refused, LedgerError::NotABook { .. }), "{refused}");
}

/// Each deed fails once: the copy is then not there at all, or whole.
#[test]
fn whichever_deed_fails_a_copy_is_whole_or_not_there() {
    let place = tempfile::tempdir().unwrap();
    let book = tell(&place.path().join("book"));
    for n in 1.. {
        let failing = Failing::at(n);
        let (copy, bundle) = (place.path().join("copy"), place.path().join("bundle"));
        let copied = book.back_up_with(&copy, Arc::new(FailingFiles(failing.clone())));
        let exported = book.export_with(&bundle, Arc::new(FailingFiles(Failing::at(n))));
        assert!(copied.is_ok() || failing.reached());
        if copy.exists() {
            assert!(verify(&copy, book.head()).unwrap().is_sound(), "deed {n}");
            fs::remove_dir_all(&copy).unwrap();
        }
        if bundle.exists() {
            assert!(verify_bundle(&bundle, book.head()).unwrap().is_sound(), "deed {n}");
            fs::remove_dir_all(&bundle).unwrap();
        }
        assert!(!place.path().join("copy.incoming").exists());
        if copied.is_ok() && exported.is_ok() {
            assert!(n > 30, "only {n} deeds were seen");
            return;
        }
    }
}

/// All files of a folder by their path.
pub(crate) fn contents(folder: &Path) -> Vec<(String, Vec<u8>)> {
    let mut files = Vec::new();
    let mut folders = vec![folder.to_owned()];
    while let Some(next) = folders.pop() {
        for entry in fs::read_dir(&next).unwrap() {
            let path = entry.unwrap().path();
            if path.is_dir() {
                folders.push(path);
            } else {
                let name = path.strip_prefix(folder).unwrap().display().to_string();
                files.push((name, fs::read(path).unwrap()));
            }
        }
    }
    files.sort();
    files
}

/// What the independent program in Python makes of a bundle: its head, or what is wrong.
pub(crate) fn by_python(bundle: &Path) -> Result<String, String> {
    let script = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/check_bundle.py");
    let done = Command::new("python3").arg(script).arg(bundle).output().unwrap();
    let text = |bytes: Vec<u8>| String::from_utf8(bytes).unwrap().trim().to_owned();
    if done.status.success() { Ok(text(done.stdout)) } else { Err(text(done.stderr)) }
}

/// `sha256sum` finds every file of a bundle as `SHA256SUMS` says.
pub(crate) fn sums_hold(bundle: &Path) {
    let sums = Command::new("sha256sum")
        .args(["--check", "--quiet", "--strict", "SHA256SUMS"])
        .current_dir(bundle)
        .output()
        .unwrap();
    assert!(sums.status.success(), "{sums:?}");
}

#[test]
fn a_bundle_checks_here_in_python_and_with_sha256sum() {
    let place = tempfile::tempdir().unwrap();
    let bundle = place.path().join("bundle");
    let book = tell(&place.path().join("book"));
    let head = book.export(&bundle).unwrap().head;
    assert_eq!(head, book.head());
    let verification = verify_bundle(&bundle, head).unwrap();
    assert!(verification.is_sound(), "{:?}", verification.faults);
    assert_eq!((verification.evidence, verification.verdicts), (10, 2));
    assert_eq!(by_python(&bundle), Ok(head.unwrap().to_string()));
    sums_hold(&bundle);
    assert_eq!(
        fs::read_to_string(bundle.join("SHA256SUMS")).unwrap().lines().count() + 1,
        contents(&bundle).len()
    );
}

/// One bit of some bytes of each file: we and the other program both notice, unless it lies in a
/// file that only people read.
#[test]
fn a_changed_bundle_is_noticed_here_and_in_python() {
    let place = tempfile::tempdir().unwrap();
    let bundle = place.path().join("bundle");
    tell(&place.path().join("book")).export(&bundle).unwrap();
    let mut shuffled = Shuffled(11);
    for (name, bytes) in contents(&bundle) {
        if ["README.txt", "SHA256SUMS"].contains(&name.as_str()) {
            continue;
        }
        for _ in 0..6 {
            let mut changed = bytes.clone();
            let at = shuffled.below(changed.len() - 1);
            changed[at] ^= 1 << shuffled.below(7);
            fs::write(bundle.join(&name), &changed).unwrap();
            let ours = verify_bundle(&bundle, None).map(|verification| verification.is_sound());
            assert!(!ours.unwrap_or(false), "{name}, byte {at}");
            assert!(by_python(&bundle).is_err(), "{name}, byte {at}");
        }
        fs::write(bundle.join(&name), &bytes).unwrap();
    }
    assert!(verify_bundle(&bundle, None).unwrap().is_sound());
    let refused = verify_bundle(place.path(), None).unwrap_err();
    assert!(matches!(refused, LedgerError::NotABundle { .. }));
}
