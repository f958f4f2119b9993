//! The habits of the house, as far as a test can hold them.

use std::collections::BTreeMap;
use std::path::Path;

use crate::house::{files, none, text};

/// Lines that a file of source may have at most.
const LINES_AT_MOST: usize = 500;

/// Words that no message says, each with the better one (`CONTRIBUTING.md`).
const NOT_SAID: &[(&str, &str)] = &[
    ("invalid", "say what was found and what is asked"),
    ("failed to", "say what is wrong"),
    ("oops", "say what is wrong"),
    ("please", "give the hint in the imperative"),
    ("sorry", "say what is wrong"),
    ("PASS", "meets the requirement"),
    ("FAIL", "does not meet the requirement"),
    ("sample", "specimen, or point"),
    ("samples", "specimens, or points"),
    ("DUT", "specimen"),
    ("abort", "test finished, or specimen spoilt"),
    ("blockchain", "head of the record"),
    ("checkpoint", "head of the record"),
    ("saved", "kept"),
    ("calibrate the burner", "confirm the flame"),
    ("verify the flame", "confirm the flame"),
    ("self-extinguish", "duration of burning"),
];

/// Places where such a word is no message but something that is looked for.
const LOOKED_FOR: &[(&str, &str)] = &[
    // A heading that a logger writes over its column of counts.
    ("crates/reading/src/import/unit.rs", "sample"),
    ("crates/reading/src/import/unit.rs", "samples"),
];

pub(crate) fn sources() -> Vec<std::path::PathBuf> {
    files("crates", ".rs")
}

#[test]
fn every_source_file_opens_with_what_it_is() {
    let missing = sources().into_iter().filter(|path| !text(path).starts_with("//!"));
    none(
        &missing
            .map(|path| format!("{} does not open with `//!`", path.display()))
            .collect::<Vec<_>>(),
    );
}

#[test]
fn no_source_file_is_longer_than_one_sitting() {
    let mut offences = Vec::new();
    for path in sources() {
        let lines = text(&path).lines().count();
        if lines > LINES_AT_MOST {
            offences.push(format!("{} has {lines} lines; at most {LINES_AT_MOST}", path.display()));
        }
    }
    none(&offences);
}

#[test]
fn no_test_is_skipped_or_bound_to_panic() {
    let mut offences = Vec::new();
    for path in sources() {
        for (number, line) in text(&path).lines().enumerate() {
            let line = line.trim_start();
            if line.starts_with("#[ignore") || line.starts_with("#[should_panic") {
                offences.push(format!("{}:{}: `{line}`", path.display(), number + 1));
            }
        }
    }
    none(&offences);
}

#[test]
fn messages_keep_to_the_words_of_the_trade() {
    let mut offences = Vec::new();
    for path in sources() {
        let shown = path.display().to_string();
        if !shown.contains("/src/") {
            continue;
        }
        let source = text(&path);
        for (line, words) in strings(before_its_tests(&source)) {
            // SQL writes its own words in capitals.
            let low = format!("{words} {}", words.replace("RAISE(ABORT", "").to_lowercase());
            for (word, better) in NOT_SAID {
                let excused = LOOKED_FOR.contains(&(shown.as_str(), word));
                if !excused && says(&low, word) {
                    offences.push(format!("{shown}:{line}: `{word}` ({better}) in {words:?}"));
                }
            }
        }
    }
    none(&offences);
}

/// The description of the pages files a shape under its type's name, or under the name it is given
/// with `schema(as = …)`: where two share one, the description shows one shape in both places.
#[test]
fn no_two_shapes_of_the_description_share_a_name() {
    let (mut named, mut offences) = (BTreeMap::new(), Vec::new());
    for path in sources() {
        let source = text(&path);
        let mut lines = source.lines();
        while let Some(line) = lines.next() {
            if !(line.starts_with("#[derive(") && line.contains("ToSchema")) {
                continue;
            }
            let mut given = None;
            for line in lines.by_ref() {
                let as_said = line.split_once("schema(as = ").map(|(_, rest)| rest);
                given = given.or(as_said.and_then(|rest| rest.split(')').next()));
                let mut words = line.split_whitespace();
                if words.any(|word| word == "struct" || word == "enum") {
                    let own = words.next().unwrap_or_default();
                    let own = own.split(['<', '(', ';']).next().unwrap_or_default();
                    let name = given.unwrap_or(own).to_owned();
                    if let Some(before) = named.insert(name.clone(), path.clone()) {
                        let (one, other) = (before.display(), path.display());
                        offences.push(format!("`{name}` in {one} and in {other}"));
                    }
                    break;
                }
            }
        }
    }
    assert!(named.len() > 50, "{}", named.len());
    none(&offences);
}

/// Whether `text` has `word` standing free in it.
fn says(text: &str, word: &str) -> bool {
    let free = |neighbour: Option<char>| neighbour.is_none_or(|c| !c.is_alphanumeric() && c != '_');
    text.match_indices(word).any(|(at, _)| {
        free(text[..at].chars().next_back()) && free(text[at + word.len()..].chars().next())
    })
}

/// The source without the tests at its end.
pub(crate) fn before_its_tests(source: &str) -> &str {
    source.split("#[cfg(test)]\nmod tests").next().unwrap()
}

/// The string literals of a source, each with its line.
pub(crate) fn strings(source: &str) -> Vec<(usize, String)> {
    let mut found = Vec::new();
    let bytes: Vec<char> = source.chars().collect();
    let (mut at, mut line) = (0, 1);
    while at < bytes.len() {
        let next = bytes.get(at + 1).copied();
        match bytes[at] {
            '\n' => line += 1,
            '/' if next == Some('/') => {
                while at + 1 < bytes.len() && bytes[at + 1] != '\n' {
                    at += 1;
                }
            }
            // A character such as '"', or a lifetime.
            '\'' if next == Some('\\') => at += 3,
            '\'' if bytes.get(at + 2) == Some(&'\'') => at += 2,
            '"' => {
                let raw = at > 0 && (bytes[at - 1] == 'r' || bytes[at - 1] == '#');
                let (first, mut words) = (line, String::new());
                at += 1;
                while at < bytes.len() && bytes[at] != '"' {
                    if bytes[at] == '\\' && !raw {
                        at += 1;
                    }
                    if bytes.get(at) == Some(&'\n') {
                        line += 1;
                    }
                    words.extend(bytes.get(at));
                    at += 1;
                }
                found.push((first, words));
            }
            _ => {}
        }
        at += 1;
    }
    found
}

#[test]
fn the_reader_of_messages_sees_strings_and_nothing_else() {
    let source =
        "// \"no\"\nlet a = 'x'; let q = '\"';\nsay(\"one \\\" two\"); r\"three\" fn f<'a>() {}";
    let words: Vec<String> = strings(source).into_iter().map(|(_, words)| words).collect();
    assert_eq!(words, ["one \" two", "three"]);
    assert!(says("that is invalid.", "invalid") && !says("compass", "pass"));
}

#[test]
fn every_number_of_a_standard_has_its_clause_and_its_standing() {
    let mut offences = Vec::new();
    for path in files("standards", ".toml") {
        let table: toml::Table = match text(&path).parse() {
            Ok(table) => table,
            Err(error) => {
                offences.push(format!("{}: {error}", path.display()));
                continue;
            }
        };
        look_into(&path, "", &toml::Value::Table(table), &mut offences);
    }
    none(&offences);
}

/// A table that has a value, or says where one comes from, has its place in the source (a
/// clause; for our own rules a row, for constants a source) and its standing. A file that is all
/// of one standing says so once.
fn look_into(path: &Path, place: &str, value: &toml::Value, offences: &mut Vec<String>) {
    match value {
        toml::Value::Table(table) => {
            let has = |key: &str| table.contains_key(key);
            let of_a_standard = path.starts_with("standards/methods")
                || path.starts_with("standards/profiles")
                || path.starts_with("standards/thermocouples");
            if has("value") || place.ends_with("/origin") {
                let placed = has("clause") || !of_a_standard && (has("row") || has("source"));
                let stands =
                    has("standing") || !of_a_standard && text(path).contains("\nstanding =");
                if !placed || !stands {
                    offences
                        .push(format!("{}: `{place}` lacks clause or standing", path.display()));
                }
            }
            if place.contains("/tolerance[") && !place.contains("/origin") && !has("origin") {
                offences.push(format!("{}: `{place}` has no origin", path.display()));
            }
            for (key, below) in table {
                look_into(path, &format!("{place}/{key}"), below, offences);
            }
        }
        toml::Value::Array(values) => {
            for (number, below) in values.iter().enumerate() {
                look_into(path, &format!("{place}[{number}]"), below, offences);
            }
        }
        toml::Value::String(_)
        | toml::Value::Integer(_)
        | toml::Value::Float(_)
        | toml::Value::Boolean(_)
        | toml::Value::Datetime(_) => {}
    }
}

/// A document that is cited by its number has a line in `REFERENCES.md`.
#[test]
fn every_document_that_is_cited_is_in_the_references() {
    let references = text("REFERENCES.md");
    let mut offences = Vec::new();
    for path in [files("crates", ".rs"), files("standards", ".toml"), files("docs", ".md")].concat()
    {
        for (number, line) in text(&path).lines().enumerate() {
            for document in documents(line).filter(|document| !references.contains(document)) {
                offences.push(format!("{}:{}: {document}", path.display(), number + 1));
            }
        }
    }
    none(&offences);
}

/// The documents that a line cites, such as `IEC 60695-11-5`.
fn documents(line: &str) -> impl Iterator<Item = String> {
    let bodies = ["ISO/IEC ", "IEC TR ", "IEC TS ", "IEC ", "ISO ", "JCGM ", "JIS C ", "ILAC-G"];
    bodies.into_iter().flat_map(move |body| {
        line.match_indices(body).filter_map(move |(at, _)| {
            let rest = &line[at + body.len()..];
            let end = rest.find(|c: char| !c.is_ascii_digit() && c != '-').unwrap_or(rest.len());
            let number = rest[..end].trim_end_matches('-');
            // JIS writes its year behind a dash.
            let number = number.strip_suffix("-1995").unwrap_or(number);
            let whole = number.starts_with(|c: char| c.is_ascii_digit());
            whole.then(|| format!("{}{number}", body.trim_start_matches("ISO/")))
        })
    })
}
