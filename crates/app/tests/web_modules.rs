//! The scripts of the pages: what `node` and the checker of their types say, and how big they are.
#![expect(clippy::disallowed_methods, reason = "these tests run node")]

use std::path::{Path, PathBuf};
use std::process::Command;

use crate::house::{files, none, root, text};

/// All scripts together, packed, as a browser loads them.
const PACKED_BYTES_AT_MOST: u64 = 120_000;
const LINES_AT_MOST: usize = 500;
const SCRIPTS: &str = "crates/app/src/web/assets";

/// What a run of node prints.
///
/// It is the one that `CINDERBOOK_NODE` names, else the one of this machine. A machine without
/// node, or without what `.ci/prepare` puts into `tests/web`, cannot pass: nothing is skipped.
fn node(arguments: &[&str]) -> String {
    let node = std::env::var_os("CINDERBOOK_NODE").map_or("node".into(), PathBuf::from);
    let done = Command::new(&node)
        .args(arguments)
        .current_dir(root().join("tests/web"))
        // What a test of ours tells, it tells us: not to a test above it.
        .env_remove("NODE_TEST_CONTEXT")
        .output()
        .unwrap_or_else(|cause| {
            panic!(
                "{} did not start: {cause}; run `.ci/prepare`, or name a node of 18 or later in \
                 CINDERBOOK_NODE",
                node.display()
            )
        });
    let said = String::from_utf8_lossy(&done.stdout).into_owned();
    let troubles = String::from_utf8_lossy(&done.stderr);
    assert!(done.status.success(), "node {arguments:?}: {}\n{said}{troubles}", done.status);
    said
}

fn scripts() -> Vec<PathBuf> {
    files(SCRIPTS, ".js")
}

#[test]
fn the_tests_of_the_scripts_pass() {
    let said = node(&["--test"]);
    let passed = said
        .lines()
        .find_map(|line| line.trim_start_matches(['#', 'ℹ', ' ']).strip_prefix("pass "));
    assert!(passed.is_some_and(|count| count != "0"), "node ran no test:\n{said}");
}

#[test]
fn the_types_of_the_scripts_hold() {
    let checker = "node_modules/typescript/bin/tsc";
    assert!(
        root().join("tests/web").join(checker).exists(),
        "tests/web/{checker} is not there: run `.ci/prepare` once"
    );
    node(&[checker, "--project", "tsconfig.json"]);
    node(&[checker, "--project", "tsconfig.worker.json"]);
}

#[test]
fn all_scripts_together_are_small() {
    let packed: u64 = node(&["packed.js"]).trim().parse().unwrap();
    assert!(
        packed > 0 && packed <= PACKED_BYTES_AT_MOST,
        "the scripts are {packed} bytes packed; at most {PACKED_BYTES_AT_MOST}"
    );
}

#[test]
fn every_script_says_what_it_is_and_has_its_types_checked() {
    let mut offences = Vec::new();
    for path in [scripts(), files("tests/web", ".js")].concat() {
        offences.extend(offence(&path, &text(&path)));
    }
    none(&offences);
}

fn offence(path: &Path, source: &str) -> Option<String> {
    let lines = source.lines().count();
    if !source.starts_with("// @ts-check\n//! ") {
        Some(format!("{} does not open with `// @ts-check` and `//! `", path.display()))
    } else if lines > LINES_AT_MOST {
        Some(format!("{} has {lines} lines; at most {LINES_AT_MOST}", path.display()))
    } else {
        None
    }
}
