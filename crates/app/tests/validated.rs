//! The validation sheet of this machine: as pages, as text, as data, and as an entry.
#![expect(clippy::disallowed_methods, reason = "these tests run the program and read its files")]

use std::fs;
use std::process::Command;

use serde_json::Value;
use sha2::{Digest as _, Sha256};

use crate::served::{Served, holds, program};

#[test]
fn the_sheet_names_program_machine_and_every_case_and_is_kept_with_the_book() {
    let served = Served::demo();
    let book = served.book();
    let folder = served.end();
    let at = |name: &str| folder.path().join(name);
    let run = |arguments: &[&str]| {
        let mut command = program();
        command.args(["--quiet", "--as", "Odalys Fenn", "--book"]).arg(&book).arg("selfcheck");
        let done = command.args(arguments).current_dir(folder.path()).output().unwrap();
        assert!(done.status.success(), "{}", String::from_utf8_lossy(&done.stderr));
    };
    run(&["--sheet", "sheet.json", "--keep"]);
    let sheet: Value = serde_json::from_slice(&fs::read(at("sheet.json")).unwrap()).unwrap();
    let file = fs::read(env!("CARGO_BIN_EXE_cinderbook")).unwrap();
    assert_eq!(sheet["program"]["sha256"], hex::encode(Sha256::digest(file)));
    let cases = sheet["cases"].as_array().unwrap();
    let by_hand = |it: &&Value| it["source"].as_str().unwrap().starts_with("by hand");
    assert!(cases.len() >= 60 && cases.iter().filter(by_hand).count() >= 20, "{}", cases.len());
    assert!(cases.iter().all(|case| case["agrees"] == true), "{sheet}");
    assert_eq!((&sheet["by"], &sheet["off"]), (&"Odalys Fenn".into(), &0.into()));
    run(&["--sheet", "sheet.txt"]);
    let text = fs::read_to_string(at("sheet.txt")).unwrap();
    holds(&text, &["Validation sheet", "Signature ___", "flames after removal: expected 11.2"]);
    run(&["--sheet", "sheet.pdf"]);
    let pages = Command::new("pdftotext").arg("-layout").arg(at("sheet.pdf")).arg("-").output();
    let pages = String::from_utf8_lossy(&pages.unwrap().stdout).into_owned();
    holds(&pages, &["Validation sheet", "Signature", "Odalys Fenn", "Its file, SHA-256"]);
    let list = program().arg("--book").arg(&book).args(["record", "list"]).output().unwrap();
    holds(&String::from_utf8_lossy(&list.stdout), &["program-validated"]);
    let verified = program().arg("verify").arg(&book).output().unwrap();
    assert!(verified.status.success(), "{}", String::from_utf8_lossy(&verified.stdout));
    let other = program().args(["selfcheck", "--sheet", "sheet.odt"]).output().unwrap();
    assert_eq!(other.status.code(), Some(2));
}
