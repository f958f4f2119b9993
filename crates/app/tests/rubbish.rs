//! Files that no logger wrote: a clear sentence, exit code 0 to 2, no panic, bounded memory.
#![expect(clippy::disallowed_methods, reason = "these tests make files and run the program")]

use std::fs::{self, File};
use std::path::Path;
use std::process::Command;

use rand::{RngExt as _, SeedableRng as _};

use crate::house::{files, none, root};

/// Kilobytes of address space that the program may take: what it needs by itself, and not much.
const MEMORY_KILOBYTES: u64 = 1_500_000;

/// Reads `file` in a folder of its own, within the limit, and says what is wrong with how it went.
fn offence(file: &Path, more: &[&str]) -> Option<String> {
    let folder = tempfile::tempdir().unwrap();
    let line = format!("ulimit -v {MEMORY_KILOBYTES}; exec \"$0\" read trace \"$@\"");
    let done = Command::new("sh")
        .args(["-c", &line, env!("CARGO_BIN_EXE_cinderbook")])
        .arg(file)
        .args(more)
        .current_dir(folder.path())
        .env("NO_COLOR", "1")
        .output()
        .unwrap();
    let errors = String::from_utf8_lossy(&done.stderr);
    let spoke = done.status.code() != Some(2)
        || errors.lines().any(|line| line.starts_with("error: ") && line.len() > 20);
    let silent_folder = fs::read_dir(folder.path()).unwrap().next().is_none();
    let code = done.status.code();
    let good =
        matches!(code, Some(0..=2)) && spoke && silent_folder && !errors.contains("bug of ours");
    (!good).then(|| format!("{} {more:?}: exit {code:?}\n{errors}", file.display()))
}

#[test]
fn every_file_of_the_open_data_is_met_with_a_sentence() {
    let offences: Vec<String> = files("open-data", "")
        .iter()
        .flat_map(|path| {
            let path = root().join(path);
            [offence(&path, &[]), offence(&path, &["--channel", "2", "--json"])]
        })
        .flatten()
        .collect();
    none(&offences);
}

#[test]
fn cut_files_are_met_with_a_sentence() {
    let folder = tempfile::tempdir().unwrap();
    let mut offences = Vec::new();
    for path in files("open-data", ".csv") {
        let bytes = fs::read(root().join(&path)).unwrap();
        for part in [1, 17, 301, bytes.len() / 2, bytes.len() - 1] {
            let cut = folder.path().join("cut.csv");
            fs::write(&cut, &bytes[..part.min(bytes.len())]).unwrap();
            offences.extend(offence(&cut, &["--channel", "2"]));
        }
    }
    none(&offences);
}

#[test]
fn files_that_are_no_tables_are_met_with_a_sentence() {
    let folder = tempfile::tempdir().unwrap();
    let mut random = rand_pcg::Pcg64::seed_from_u64(5);
    let noise: Vec<u8> = (0..200_000).map(|_| random.random()).collect();
    let made: &[(&str, Vec<u8>)] = &[
        ("empty.csv", Vec::new()),
        ("one-byte.csv", b"7".to_vec()),
        ("only-mark.csv", b"\xef\xbb\xbf".to_vec()),
        ("half-utf16.csv", b"\xff\xfe1\x00;".to_vec()),
        ("noise.csv", noise),
        ("blank-lines.csv", b"\n".repeat(100_000)),
        ("one-line.csv", b"1;".repeat(500_000)),
        ("nul.csv", vec![0; 1000]),
        // A PNG, a ZIP, a GZIP, a PDF and an old spreadsheet, all mislabelled.
        ("picture.csv", b"\x89PNG\r\n\x1a\n\x00\x00\x00\rIHDR".to_vec()),
        ("zip.csv", b"PK\x03\x04\x14\x00\x00\x00\x08\x00".to_vec()),
        ("gzip.csv", b"\x1f\x8b\x08\x00\x00\x00\x00\x00".to_vec()),
        ("pdf.csv", b"%PDF-1.7\n1 0 obj\n".to_vec()),
        ("old.csv", b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1".to_vec()),
        ("html.csv", b"<!DOCTYPE html><html><body>1;2</body></html>".to_vec()),
        ("json.csv", br#"{"time":[0,1,2],"temperature":[20,30,40]}"#.to_vec()),
        ("words.csv", b"time;temperature\nnow;warm\nlater;hot\n".to_vec()),
        ("extreme.csv", b"t;T (C)\n0;1e308\n1;-1e308\n2;1e999\n3;nan\n".to_vec()),
    ];
    let mut offences = Vec::new();
    for (name, bytes) in made {
        let path = folder.path().join(name);
        fs::write(&path, bytes).unwrap();
        offences.extend(offence(&path, &[]));
        offences.extend(offence(&path, &["--channel", "2", "--rate", "10"]));
    }
    none(&offences);
}

/// A file of 40 GB that holds nothing, and a packed bomb: 50 MB of zeros in some 50 kB.
#[test]
fn huge_and_packed_files_take_little_memory() {
    let folder = tempfile::tempdir().unwrap();
    let sparse = folder.path().join("huge.csv");
    File::create(&sparse).unwrap().set_len(40_000_000_000).unwrap();
    let bomb = folder.path().join("bomb.csv");
    let line = "head -c 50000000 /dev/zero | gzip > bomb.csv";
    let packed = Command::new("sh").args(["-c", line]).current_dir(folder.path()).status().unwrap();
    assert!(packed.success());
    none(&[offence(&sparse, &[]), offence(&bomb, &[])].into_iter().flatten().collect::<Vec<_>>());
}

#[test]
fn a_folder_and_a_device_are_met_with_a_sentence() {
    let offences = [offence(Path::new("/dev/null"), &[]), offence(Path::new("/"), &[])];
    none(&offences.into_iter().flatten().collect::<Vec<_>>());
}
