//! The whole path: the demo, and a stranger's walk from an empty folder to an issued report.
#![expect(clippy::disallowed_methods, reason = "these tests run the program on folders")]

use std::fs;
use std::path::Path;
use std::process::{Command, Output};

use crate::house::text;

#[path = "../examples/demo_files/determination.rs"]
mod determination;
#[path = "../examples/demo_files/photo.rs"]
mod photo;

/// The day of the stranger's walk.
const TODAY: &str = "2026-03-04T10:30:00Z";

/// The program, with nothing set from outside but the clock.
fn program(arguments: &[&str]) -> Command {
    let mut command = Command::new(env!("CARGO_BIN_EXE_cinderbook"));
    command.args(arguments).env_remove("CINDERBOOK_BOOK").env_remove("CINDERBOOK_PERSON");
    command.env("CINDERBOOK_CLOCK", TODAY);
    command
}

fn run(arguments: &[&str]) -> Output {
    program(arguments).output().unwrap()
}

/// Runs the program, holds its exit code, and gives what it wrote to standard output.
fn ended(code: i32, arguments: &[&str]) -> String {
    let output = run(arguments);
    let words = String::from_utf8_lossy(&output.stderr);
    assert_eq!(output.status.code(), Some(code), "{arguments:?}: {words}");
    String::from_utf8(output.stdout).unwrap()
}

#[test]
fn the_demo_files_are_those_that_the_program_makes() {
    for (name, bytes) in determination::all().into_iter().chain(photo::all()) {
        let kept = crate::house::root().join("crates/app/src/demo/files").join(name);
        assert!(fs::read(&kept).unwrap() == bytes, "{name} is made anew by `demo_files`");
    }
}

#[test]
fn the_demo_gives_the_same_bytes_twice_and_its_book_checks() {
    let place = tempfile::tempdir().unwrap();
    let folder = |name: &str| place.path().join(name).display().to_string();
    let (one, other) = (folder("one"), folder("other"));
    let told = ended(0, &["--quiet", "demo", &one]);
    assert!(told.contains("plan P-1 is not ready"), "{told}");
    assert!(told.contains("D-1 is void"), "{told}");
    assert!(told.contains("not yet: 2 further specimens are needed"), "{told}");
    assert!(told.contains("judged: meets the requirement"), "{told}");
    ended(0, &["--quiet", "demo", &other]);
    for name in ["R-1.pdf", "R-1.json", "R-1.csv"] {
        let read = |folder: &str| fs::read(Path::new(folder).join(name)).unwrap();
        assert!(read(&one) == read(&other), "{name} differs between two runs");
        assert!(!read(&one).is_empty());
    }
    let checked = ended(0, &["verify", &format!("{one}/book")]);
    assert!(checked.contains("2 verdicts reached again"), "{checked}");
    for name in ["R-1.json", "R-1.csv"] {
        let words = fs::read_to_string(Path::new(&one).join(name)).unwrap();
        assert!(words.to_lowercase().contains("made-up"), "{name} does not say that it is made up");
    }
    let again = run(&["demo", &one]);
    assert_eq!(again.status.code(), Some(2), "a second demo in the same folder is refused");
}

#[test]
fn a_stranger_walks_from_an_empty_folder_to_a_report_that_checks() {
    let place = tempfile::tempdir().unwrap();
    let folder = |name: &str| place.path().join(name).display().to_string();
    let book = folder("book");
    let laboratory = ["--laboratory", "A laboratory", "--address", "A street", "--person", "Ada"];
    ended(0, &[&["new", &book], laboratory.as_slice()].concat());
    let on = |code, arguments: &[&str]| {
        ended(code, &[&["--book", &book, "--quiet"], arguments].concat())
    };
    for (number, kind) in
        [("NB-1", "burner"), ("CB-1", "copper-block"), ("TC-1", "thermocouple"), ("T-1", "timer")]
    {
        let piece = ["equipment", "add", number, "--kind", kind, "--description", "one"];
        on(0, &[piece.as_slice(), &["--no-calibration"]].concat());
    }
    on(0, &["equipment", "lot", "G-1", "--kind", "gas", "--description", "butane"]);
    let verify = |code, key: &str| {
        on(code, &["standards", "verify", "iec-60695-11-5/2016", key, "--copy", "no. 3"])
    };
    let verified = verify(0, "criteria.duration-of-burning");
    assert!(verified.ends_with("criteria.duration-of-burning is verified: ≤ 30 s\n"), "{verified}");
    verify(2, "flame.width");
    fs::write(place.path().join("plan.toml"), on(0, &["plan", "template"])).unwrap();
    assert_eq!(on(0, &["plan", "new", &folder("plan.toml")]), "P-1\n");
    on(1, &["ready", "check", "1"]);
    for what in [["--specimens", "1,2,3"].as_slice(), &["--layer"]] {
        let between = ["--from", "2026-03-02T08:00:00Z", "--until", "2026-03-04T09:00:00Z"];
        let air = ["--temperature", "22 °C to 24 °C", "--humidity", "48 % to 52 %"];
        on(0, &[&["ready", "conditioned", "1"], what, &between, &air].concat());
    }
    on(0, &["ready", "cautions", "1"]);
    on(0, &["ready", "check", "1"]);
    on(2, &["judge", "1"]);
    let files = crate::house::root().join("crates/app/src/demo/files");
    let file = |name: &str| files.join(name).display().to_string();
    let (second, third) = (file("determination-2.csv"), file("determination-3.csv"));
    let as_stated = ["--", "--channel", "Block", "--class", "1"];
    on(0, &[&["confirm", "files", "1", &second, &third], as_stated.as_slice()].concat());
    let fourth = file("determination-4.txt");
    let told = on(0, &[&["confirm", "files", "1", &fourth], as_stated.as_slice()].concat());
    assert_eq!(told, "C-1: the flame is confirmed\n");
    let form = on(0, &["run", "template"]).replace("2026-11-25T09:40:00Z", TODAY);
    for number in ["1", "2", "3"] {
        let form = form.replace("specimen = 1", &format!("specimen = {number}"));
        fs::write(place.path().join("run.toml"), form).unwrap();
        on(0, &["run", "new", "1", &folder("run.toml")]);
    }
    let judged = on(0, &["judge", "1"]);
    assert!(judged.starts_with("plan P-1 meets the requirement"), "{judged}");
    on(0, &["report", "1", "--out", &place.path().display().to_string()]);
    let issued = fs::read_to_string(place.path().join("R-1.json")).unwrap();
    assert!(
        issued.contains("verified by this laboratory"),
        "the verified number stands so on the report"
    );
    assert!(!issued.to_lowercase().contains("demonstration"), "a real book is not marked made-up");
    assert!(fs::read(place.path().join("R-1.pdf")).unwrap().starts_with(b"%PDF"));
    on(0, &["export", &folder("bundle")]);
    on(0, &["backup", &folder("backup")]);
    on(0, &["restore", &folder("backup"), &folder("restored")]);
    for copy in ["book", "bundle", "restored"] {
        ended(0, &["verify", &folder(copy)]);
    }
}

#[test]
fn the_forms_are_those_that_the_commands_print() {
    assert_eq!(ended(0, &["plan", "template"]), text("crates/app/src/form/plan.toml"));
    assert_eq!(ended(0, &["run", "template"]), text("crates/app/src/form/run.toml"));
}
