//! Bundles of reports: good ones and bad ones, by this program and by another in Python.
//!
//! `CINDERBOOK_BUNDLES=1000` makes so many for both; CI makes a few dozen.

use std::collections::BTreeSet;
use std::fs;
use std::path::{Path, PathBuf};
use std::process::Command;

use ledger::heads::KeptHead;
use ledger::note::{SecretKey, TreeHead};
use ledger::proof::{Proven, Wanted, is_proof, verify_proof};
use ledger::{Book, Head, LedgerError, Seen};
use trial::fact::{Fact, IssuedReport};

use crate::copies::{contents, sums_hold};
use crate::damage::Shuffled;
use crate::forged::wanted as so_many;
use crate::story::{admitted, key, minute, tell};

/// A told book with later entries, its signed head, and its last report.
struct Told {
    book: Book,
    key: SecretKey,
    signed: KeptHead,
    report: (u64, IssuedReport),
    keyed: u64,
}

fn told(folder: &Path) -> Told {
    let mut book = tell(folder);
    let key = key(&book);
    let last = book.head().unwrap().number;
    for n in 1..=7 {
        book.append(minute(last + n), &"Ana Ruiz".into(), &admitted(n)).unwrap();
    }
    let signed = book.sign_head(&key).unwrap();
    let (mut report, mut keyed) = (None, None);
    for recorded in book.entries().map(Result::unwrap) {
        if let Fact::ReportIssued(issued) = recorded.fact {
            report = Some((recorded.entry.0, issued));
        } else if let Fact::KeyBegun(_) = recorded.fact {
            keyed = Some(recorded.entry.0);
        }
    }
    Told { book, key, signed, report: report.unwrap(), keyed: keyed.unwrap() }
}

/// A told book under `place`, and the bundle of its last report with all entries.
fn bundled(place: &Path) -> (Told, PathBuf) {
    let (told, bundle) = (told(&place.join("book")), place.join("bundle"));
    told.write(&told.all(), &bundle);
    (told, bundle)
}

impl Told {
    /// The bundle of the last report with these entries besides those it must have.
    fn write(&self, entries: &[u64], to: &Path) {
        let must = [1, self.keyed, self.report.0];
        let entries: BTreeSet<u64> = must.iter().chain(entries).copied().collect();
        self.book.export_proof(&self.wanted(&entries), to).unwrap();
    }

    fn wanted<'a>(&'a self, entries: &'a BTreeSet<u64>) -> Wanted<'a> {
        let (report, printed) = (self.report.1.number, self.report.1.head.0.0);
        let (signed, key) = (&self.signed, self.key.public());
        Wanted { report, entries, printed, signed, key }
    }

    fn all(&self) -> Vec<u64> {
        (1..=self.signed.size).collect()
    }
}

fn check(folder: &Path) -> Proven {
    verify_proof(folder, &Seen::default()).unwrap()
}

fn first_fault(folder: &Path) -> String {
    check(folder).faults.first().map_or("none".to_owned(), ToString::to_string)
}

/// What the independent program in Python makes of bundles: `good` or `bad`, and why.
fn by_python(folders: &[PathBuf]) -> Vec<String> {
    let script = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/second_verifier.py");
    let done = Command::new("python3").arg("-B").arg(script).args(folders).output().unwrap();
    assert!(done.status.success(), "{done:?}");
    String::from_utf8(done.stdout).unwrap().lines().map(ToOwned::to_owned).collect()
}

/// Source: RFC 8032, 7.1, tests 1 and 2: the other program's own Ed25519 is right.
#[test]
fn rfc8032_7_1_second_verifier_believes_what_is_published() {
    let script = "\
import sys; sys.path.insert(0, sys.argv[1]); from second_verifier import signed
for key, text, signature in [
    ('d75a980182b10ab7d54bfed3c964073a0ee172f3daa62325af021a68f707511a', '',
     'e5564300c360ac729086e2cc806e828a84877f1eb8e5d974d873e06522490155'
     '5fb8821590a33bacc61e39701cf9b46bd25bf5f0595bbe24655141438e7a100b'),
    ('3d4017c3e843895a92b70aa74d1b7ebc9c982ccf2ec4968cc0cd55f12af4660c', '72',
     '92a009a9f0d4cab8720e820b5f642540a2b27b5416503f8fb3762223ebdb69da'
     '085ac1e43e15996e458f3613d0f11d8c387b2eaeb4302aeeb00d291612bb0c00')]:
    key, text, signature = map(bytes.fromhex, (key, text, signature))
    print(signed(key, text, signature), signed(key, text + b'x', signature))
";
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests");
    let done = Command::new("python3").args(["-B", "-c", script]).arg(folder).output().unwrap();
    assert_eq!(String::from_utf8(done.stdout).unwrap(), "True False\nTrue False\n");
}

#[test]
fn a_bundle_tells_who_when_and_where_in_the_record() {
    let place = tempfile::tempdir().unwrap();
    let (told, bundle) = bundled(place.path());
    assert!(is_proof(&bundle) && !is_proof(&place.path().join("book")));
    let found = check(&bundle);
    assert!(found.faults.is_empty(), "{:?}", found.faults);
    let (issue, issued) = found.report.unwrap();
    assert_eq!((issue.entry.0, issued), told.report);
    assert_eq!(issue.who, "Ana Ruiz".into());
    let head = found.head.unwrap();
    assert_eq!(head, told.book.tree_head().unwrap());
    assert_eq!((found.entries.len() as u64, found.evidence), (head.size, 10));
    assert_eq!(found.key.as_ref(), Some(told.key.public()));
    assert_eq!(by_python(std::slice::from_ref(&bundle)), [format!("good {head}")]);
    sums_hold(&bundle);
    let printed = found.printed.unwrap();
    for head in [printed, head] {
        assert_eq!(seen(&bundle, head), Vec::<String>::new());
    }
    // An entry's number and its own hash, as they were seen when it was the last.
    let entry = told.book.chain().next().unwrap().unwrap();
    let of_entry = Head { number: entry.entry.number, hash: entry.hash };
    let by_entry = Seen { heads: vec![of_entry], key: None };
    assert_eq!(verify_proof(&bundle, &by_entry).unwrap().faults.len(), 0);
    let other = TreeHead { size: printed.size, root: head.root };
    assert!(seen(&bundle, other)[0].starts_with("the head "));
    let stranger = SecretKey::of(told.key.public().name(), &[9; 32]).unwrap();
    let by = Seen { heads: Vec::new(), key: Some(stranger.public().clone()) };
    let faults = verify_proof(&bundle, &by).unwrap().faults;
    assert!(faults[0].to_string().ends_with("is none of the book's"), "{faults:?}");
}

/// The faults by a head that was seen.
fn seen(bundle: &Path, head: TreeHead) -> Vec<String> {
    let head = Head::read(&head.to_string()).unwrap();
    let seen = Seen { heads: vec![head], key: None };
    verify_proof(bundle, &seen).unwrap().faults.iter().map(ToString::to_string).collect()
}

#[test]
fn nothing_of_anybody_elses_work_is_in_a_bundle() {
    let place = tempfile::tempdir().unwrap();
    let told = told(&place.path().join("book"));
    let bundle = place.path().join("bundle");
    told.write(&[], &bundle);
    let found = check(&bundle);
    assert!(found.faults.is_empty(), "{:?}", found.faults);
    assert_eq!((found.entries.len(), found.evidence), (3, 2));
    let whole = contents(&bundle).into_iter().flat_map(|(_, bytes)| bytes).collect::<Vec<u8>>();
    for secret in ["Invented Pumps", "person 3", "run-recorded"] {
        let holds = whole.windows(secret.len()).any(|it| it == secret.as_bytes());
        assert!(!holds, "{secret}");
    }
}

#[test]
fn a_bundle_needs_a_signed_head_that_reaches_as_far() {
    let place = tempfile::tempdir().unwrap();
    let told = told(&place.path().join("book"));
    let entries = BTreeSet::from([1, told.keyed, told.report.0, told.signed.size + 1]);
    let refused = told.book.export_proof(&told.wanted(&entries), &place.path().join("bundle"));
    assert!(matches!(refused, Err(LedgerError::Unsigned { .. })), "{refused:?}");
    assert!(!place.path().join("bundle").exists());
}

/// D9.2: one sentence says what is wrong.
#[test]
fn what_was_changed_in_a_bundle_is_named() {
    let place = tempfile::tempdir().unwrap();
    let (told, bundle) = bundled(place.path());
    let kept = |name: &str| fs::read_to_string(bundle.join(name)).unwrap();
    let check = |name: &str, from: &str, to: &str, words: &str| {
        let before = kept(name);
        assert!(before.contains(from), "{from}");
        fs::write(bundle.join(name), before.replacen(from, to, 1)).unwrap();
        let found = first_fault(&bundle);
        assert!(found.contains(words), "{found}");
        fs::write(bundle.join(name), before).unwrap();
    };
    // A value, a time, a signer, the head that is printed, the signed head, the key.
    check(
        "proof.jsonl",
        "Invented Calibrations",
        "Invented Calibration5",
        "(calibration-recorded) was",
    );
    check(
        "proof.jsonl",
        "at 2026-03-02T08:05:00",
        "at 2026-03-02T08:05:01",
        "does not stand in the record",
    );
    check(
        "proof.jsonl",
        "who 8 Ana Ruiz",
        "who 8 Ana Ruis",
        "entry 1 (book-opened) does not stand",
    );
    check(
        "proof.jsonl",
        "\"printed\":{\"root\":\"",
        "\"printed\":{\"root\":\"0",
        "line 1 of `proof.jsonl`",
    );
    let size = format!("\n{}\n", told.signed.size);
    check("signed-head", &size, "\n47\n", "the signed head was changed, or is another's");
    check("public-key", "+A", "+B", "`public-key` is not the key");
    // A photograph, or any other file.
    let evidence = contents(&bundle).into_iter().find(|(name, _)| name.starts_with("evidence"));
    let (name, bytes) = evidence.unwrap();
    fs::write(bundle.join(&name), b"something else").unwrap();
    let found = first_fault(&bundle);
    assert!(found.starts_with("a file of entry ") && found.contains("is damaged"), "{found}");
    fs::remove_file(bundle.join(&name)).unwrap();
    assert!(first_fault(&bundle).contains("is not on file"));
    fs::write(bundle.join(&name), bytes).unwrap();
    assert_eq!(first_fault(&bundle), "none");
}

/// The lines of a proof hold exactly what belongs there, in its form.
#[test]
fn a_line_of_a_bundle_in_another_form_is_told() {
    let place = tempfile::tempdir().unwrap();
    let (told, bundle) = bundled(place.path());
    let proof = bundle.join("proof.jsonl");
    let kept = fs::read_to_string(&proof).unwrap();
    let check = |changed: String, words: &str| {
        assert_ne!(changed, kept, "{words}");
        fs::write(&proof, changed).unwrap();
        let found = first_fault(&bundle);
        assert!(found.starts_with("line ") && found.contains(words), "{words}: {found}");
    };
    let report = format!("\"report\":{}}}", told.report.1.number.0);
    for (from, to, words) in [
        ("\"form\":\"", "\"form\":\"other ", "it is of another form"),
        (&report, "\"report\":\"1\"}", "`report` is no number"),
        (&report, "\"report\":-1}", "out of range"),
        (&report, "\"report\":4294967296}", "out of range"),
        ("\"printed\":{", "\"printed\":{\"more\":1,", "it does not hold exactly root, size"),
        ("\"printed\":{\"root\":\"", "\"printed\":{\"root\":\"g", "a hash is none"),
        ("\"inclusion\":[", "\"inclusion\":[7,", "`inclusion` holds what is no hash"),
        ("\"inclusion\":[", "\"inclusion\":[\"7\",", "`inclusion` holds what is no hash"),
        (
            "{\"body\":\"",
            "{\"body\":7,\"bodz\":\"",
            "it does not hold exactly body, header, inclusion",
        ),
    ] {
        check(kept.replacen(from, to, 1), words);
    }
    let (first, rest) = kept.split_once('\n').unwrap();
    let printed = first.find("\"printed\":").unwrap();
    check(format!("{}\"printed\":7,{report}\n{rest}", &first[..printed]), "exactly root, size");
    let (header, inclusion) =
        (rest.find("\"header\":").unwrap(), rest.find("\"inclusion\":").unwrap());
    let end = rest.find('\n').unwrap();
    let second = format!("{}\"inclusion\":7}}{}", &rest[..inclusion], &rest[end..]);
    check(format!("{first}\n{second}"), "`inclusion` is no list");
    let second = format!("{}\"header\":7,{}", &rest[..header], &rest[inclusion..]);
    check(format!("{first}\n{second}"), "`header` is no text");
    check(kept.trim_end().to_owned(), "it does not end");
}

#[test]
fn the_report_is_in_its_bundle_and_prints_the_head_that_is_named() {
    let place = tempfile::tempdir().unwrap();
    let (told, bundle) = bundled(place.path());
    let proof = bundle.join("proof.jsonl");
    let kept = fs::read_to_string(&proof).unwrap();
    let finds = |changed: String, words: &str| {
        assert_ne!(changed, kept, "{words}");
        fs::write(&proof, changed).unwrap();
        let faults: Vec<String> = check(&bundle).faults.iter().map(ToString::to_string).collect();
        assert!(faults.iter().any(|fault| fault.contains(words)), "{words}: {faults:?}");
    };
    let issue = format!("number {}\\n", told.report.0);
    let others = kept.split_inclusive('\n').filter(|line| !line.contains(&issue));
    finds(others.collect(), "the entry that issued report");
    let printed = told.report.1.head.0.0;
    let (from, to) = (format!("\"size\":{printed}}}"), format!("\"size\":{}}}", printed - 1));
    finds(
        kept.replacen(&from, &to, 1),
        &format!("it prints {printed} entries, not {}", printed - 1),
    );
}

#[test]
fn a_bundle_without_its_signed_head_says_so_and_what_cannot_be_read_is_an_error() {
    let place = tempfile::tempdir().unwrap();
    let (_, bundle) = bundled(place.path());
    fs::remove_file(bundle.join("signed-head")).unwrap();
    assert!(first_fault(&bundle).contains("`signed-head`"), "{}", first_fault(&bundle));
    fs::create_dir(bundle.join("signed-head")).unwrap();
    let refused = verify_proof(&bundle, &Seen::default()).unwrap_err();
    assert!(refused.to_string().contains("signed-head"), "{refused}");
}

/// One bundle spoilt at random, or left as it is; what was done.
fn spoilt(told: &Told, bundle: &Path, dice: &mut Shuffled) -> &'static str {
    let proof = bundle.join("proof.jsonl");
    let mut lines: Vec<String> =
        fs::read_to_string(&proof).unwrap().split_inclusive('\n').map(ToOwned::to_owned).collect();
    let at = 1 + dice.below(lines.len() - 1);
    let other = 1 + dice.below(lines.len() - 1);
    let what = match dice.below(10) {
        0..=2 => return "nothing",
        3 | 4 => return flipped(bundle, dice),
        5 => {
            if at == other {
                return "nothing";
            }
            lines.swap(at, other);
            "two lines swapped"
        }
        6 => {
            let issue = format!("number {}\\n", told.report.0);
            lines.retain(|line| !line.contains(&issue));
            "the report's own entry removed"
        }
        7 => {
            lines[at] = lines[at].replacen("who 8 Ana Ruiz", "who 7 Bo Lind", 1);
            "another signer"
        }
        8 => {
            let printed = told.report.1.head.0;
            let (from, to) =
                (format!("\"size\":{printed}}}"), format!("\"size\":{}}}", printed.0 - 1));
            lines[0] = lines[0].replacen(&from, &to, 1);
            "another printed head"
        }
        _ => {
            // A forger with a key of their own signs the same head.
            let forger = SecretKey::of(told.key.public().name(), &[9; 32]).unwrap();
            let signed = forger.sign_head(told.book.tree_head().unwrap());
            fs::write(bundle.join("signed-head"), signed).unwrap();
            fs::write(bundle.join("public-key"), format!("{}\n", forger.public())).unwrap();
            "another key"
        }
    };
    fs::write(&proof, lines.concat()).unwrap();
    what
}

/// One bit of one file that is not for people only.
fn flipped(bundle: &Path, dice: &mut Shuffled) -> &'static str {
    let mut files = contents(bundle);
    files.retain(|(name, _)| !["README.txt", "SHA256SUMS"].contains(&name.as_str()));
    let which = dice.below(files.len());
    let (name, bytes) = &mut files[which];
    let at = dice.below(bytes.len());
    bytes[at] ^= 1 << dice.below(8);
    fs::write(bundle.join(name), bytes).unwrap();
    "a bit"
}

/// R23, D9.5: both programs say the same of every bundle, and the right thing.
#[test]
fn the_second_verifier_agrees_on_good_and_bad_bundles() {
    let place = tempfile::tempdir().unwrap();
    let told = told(&place.path().join("book"));
    let mut dice = Shuffled(0x51de);
    let count = so_many("CINDERBOOK_BUNDLES", 40);
    let (mut good, mut bad) = (0, 0);
    for batch in 0..count.div_ceil(50) {
        let mut bundles = Vec::new();
        for n in 0..50.min(count - batch * 50) {
            let bundle = place.path().join(format!("bundle-{n}"));
            let entries: Vec<u64> = told.all().into_iter().filter(|_| dice.below(3) == 0).collect();
            told.write(&entries, &bundle);
            let what = spoilt(&told, &bundle, &mut dice);
            bundles.push((bundle, what));
        }
        let folders: Vec<PathBuf> = bundles.iter().map(|(folder, _)| folder.clone()).collect();
        for ((bundle, what), python) in bundles.iter().zip(by_python(&folders)) {
            let ours = check(bundle).faults;
            assert_eq!(ours.is_empty(), *what == "nothing", "{what}: {ours:?}");
            assert_eq!(ours.is_empty(), python.starts_with("good "), "{what}: {python}, {ours:?}");
            if ours.is_empty() {
                good += 1;
            } else {
                bad += 1;
            }
            fs::remove_dir_all(bundle).unwrap();
        }
    }
    assert!(good > 5 && bad > 5, "{good} good, {bad} bad");
}
