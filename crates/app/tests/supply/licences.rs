//! The licence texts of the parts, each text once, from the packages themselves.
//!
//! Of a part that may be used under several licences one is taken: Apache-2.0 where it is offered,
//! whose text is the same for all.

use std::collections::BTreeMap;
use std::fs;
use std::path::Path;

use serde_json::Value;

use super::parts::parts;

/// The licences in the order in which one is taken, each with what the name of its file holds.
const TAKEN: [(&str, &str); 9] = [
    ("Apache-2.0", "APACHE"),
    ("MIT", "MIT"),
    ("Zlib", "ZLIB"),
    ("ISC", "ISC"),
    ("BSD-3-Clause", "BSD"),
    ("BSD-2-Clause", "BSD"),
    ("Unicode-3.0", "UNICODE"),
    ("BSL-1.0", "BOOST"),
    ("CC0-1.0", "CC0"),
];

/// All texts, each with the parts that it is of.
pub(super) fn written(metadata: &Value) -> String {
    let mut texts: BTreeMap<String, (String, Vec<String>)> = BTreeMap::new();
    let mut without = Vec::new();
    for (name, part) in parts(metadata).into_iter().filter(|(_, part)| !part.sha256.is_empty()) {
        let taken = TAKEN.iter().find(|(licence, _)| part.licence.contains(licence));
        let found = text_of(Path::new(&part.manifest).parent().unwrap(), taken.map(|it| it.1));
        match found {
            None => without.push(format!("{name} ({})", part.licence)),
            Some(text) => {
                // Packages differ in its blanks and in the pattern of a notice at its end.
                let apache = text.contains("Apache License") && text.contains("Version 2.0");
                let alike: String = if apache {
                    "Apache-2.0".to_owned()
                } else {
                    text.split_whitespace().collect()
                };
                texts.entry(alike).or_insert((text, Vec::new())).1.push(name);
            }
        }
    }
    let mut all: Vec<(String, Vec<String>)> = texts.into_values().collect();
    all.sort_by(|one, other| one.1.cmp(&other.1));
    let mut page = String::new();
    for (text, names) in all {
        page.push_str(&format!("==== {}\n\n{}\n\n", names.join(", "), text.trim()));
    }
    page.push_str(&format!(
        "==== Packages that hold no text of their licence\n\n{}\n",
        without.join("\n")
    ));
    page
}

/// The text in a package: the one that is asked for, else any.
fn text_of(folder: &Path, wanted: Option<&str>) -> Option<String> {
    let mut names: Vec<String> = fs::read_dir(folder)
        .unwrap()
        .map(|entry| entry.unwrap().file_name().to_string_lossy().into_owned())
        .filter(|name| {
            let upper = name.to_uppercase();
            ["LICENSE", "LICENCE", "COPYING", "UNLICENSE"].iter().any(|it| upper.starts_with(it))
                && folder.join(name).is_file()
        })
        .collect();
    names.sort();
    let wanted = wanted.unwrap_or_default();
    let found = names.iter().find(|name| name.to_uppercase().contains(wanted)).or(names.first())?;
    let text = String::from_utf8_lossy(&fs::read(folder.join(found)).ok()?).replace("\r\n", "\n");
    let lines: Vec<&str> = text.lines().map(str::trim_end).collect();
    Some(lines.join("\n").replace('\u{c}', ""))
}
