//! Runs a script of `tests/python` in the interpreter that has the reference packages.

use std::io::Write as _;
use std::path::{Path, PathBuf};
use std::process::{Command, Stdio};
use std::thread;

/// What `tests/python/<script>` prints when it reads `stdin`.
///
/// The interpreter is the one that `CINDERBOOK_PYTHON` names, else the one that `.ci/prepare`
/// has made. A machine with neither cannot pass: nothing is skipped.
pub(crate) fn run(script: &str, stdin: &str) -> String {
    let python = interpreter();
    let script = root().join("tests/python").join(script);
    let mut child = Command::new(&python)
        .args(["-I", "-B"])
        .arg(&script)
        .stdin(Stdio::piped())
        .stdout(Stdio::piped())
        .stderr(Stdio::piped())
        .spawn()
        .unwrap_or_else(|cause| {
            panic!("{} did not start: {cause}; run `.ci/prepare`", python.display())
        });
    let mut pipe = child.stdin.take().expect("the pipe was asked for above");
    let output = thread::scope(|scope| {
        // A script may stop reading early; what it says then is judged below.
        scope.spawn(move || pipe.write_all(stdin.as_bytes()));
        child.wait_with_output().expect("the child was started above")
    });
    assert!(
        output.status.success(),
        "{} stopped with {}:\n{}",
        script.display(),
        output.status,
        String::from_utf8_lossy(&output.stderr)
    );
    String::from_utf8(output.stdout).expect("the scripts print UTF-8")
}

#[expect(clippy::disallowed_methods, reason = "a test asks where its reference packages are")]
fn interpreter() -> PathBuf {
    if let Some(named) = std::env::var_os("CINDERBOOK_PYTHON") {
        return PathBuf::from(named);
    }
    let made = root().join(".venv/bin/python");
    assert!(
        made.exists(),
        "{} is not there: run `.ci/prepare` once, or name an interpreter with the packages of \
         tests/python/requirements.txt in CINDERBOOK_PYTHON",
        made.display()
    );
    made
}

fn root() -> &'static Path {
    Path::new(concat!(env!("CARGO_MANIFEST_DIR"), "/../.."))
}
