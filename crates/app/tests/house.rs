//! Where things stand in the repository, for the tests that read it.
#![expect(clippy::disallowed_methods, reason = "these tests read the repository")]

use std::fs;
use std::path::{Path, PathBuf};

/// The top folder of the repository.
pub(crate) fn root() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("../..").canonicalize().unwrap()
}

/// The text of a file, named from the top folder.
pub(crate) fn text(path: impl AsRef<Path>) -> String {
    let path = root().join(path);
    fs::read_to_string(&path).unwrap_or_else(|error| panic!("{}: {error}", path.display()))
}

/// All files below `folder` whose name ends with `ending`, in order, named from the top folder.
pub(crate) fn files(folder: impl AsRef<Path>, ending: &str) -> Vec<PathBuf> {
    let mut found = Vec::new();
    walk(&root().join(folder), ending, &mut found);
    found.sort();
    found.iter().map(|path| path.strip_prefix(root()).unwrap().to_owned()).collect()
}

fn walk(folder: &Path, ending: &str, found: &mut Vec<PathBuf>) {
    let Ok(entries) = fs::read_dir(folder) else { return };
    for entry in entries {
        let path = entry.unwrap().path();
        let name = path.file_name().unwrap().to_string_lossy().into_owned();
        if path.is_dir() && name != "target" && name != "node_modules" && !name.starts_with('.') {
            walk(&path, ending, found);
        } else if path.is_file() && name.ends_with(ending) {
            found.push(path);
        }
    }
}

/// Fails with one line for each offence.
pub(crate) fn none(offences: &[String]) {
    assert!(offences.is_empty(), "{} offences:\n{}", offences.len(), offences.join("\n"));
}
