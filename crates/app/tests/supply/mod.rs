//! The parts that the program is made of: their sources, their licences, what is not wanted, and the
//! list of them that the program carries.
//!
//! `deny.toml` is the rule. It is in the form of the tool cargo-deny, which takes minutes to build and
//! is run by hand (`cargo deny check licenses bans sources`, and `advisories` where the network reaches
//! its database); here the same rules are held against what cargo says of the workspace.
//! `UPDATE_PARTS=1` writes the lists anew.
#![expect(clippy::disallowed_methods, reason = "these tests ask cargo and read the repository")]

mod licences;
mod parts;
mod spdx;

use std::collections::BTreeMap;
use std::process::Command;

use serde_json::Value;

use crate::house::{files, none, root, text};
use parts::{Part, parts};
use spdx::allowed;

/// Crates that a release has on Linux, at most; the typesetter alone brings most of them.
const PARTS_AT_MOST: usize = 480;

/// Outside crates that our manifests name for the program itself.
const DIRECT_AT_MOST: usize = 50;

/// What cargo says of the workspace as it is built on Linux.
pub(crate) fn metadata() -> Value {
    let done = Command::new(std::env::var_os("CARGO").unwrap_or_else(|| "cargo".into()))
        .args(["metadata", "--format-version", "1", "--locked", "--offline"])
        .args(["--filter-platform", "x86_64-unknown-linux-gnu"])
        .current_dir(root())
        .output()
        .unwrap();
    assert!(done.status.success(), "{}", String::from_utf8_lossy(&done.stderr));
    serde_json::from_slice(&done.stdout).unwrap()
}

fn rules() -> toml::Table {
    text("deny.toml").parse().unwrap()
}

fn words(rules: &toml::Table, path: [&str; 2]) -> Vec<String> {
    let found = rules[path[0]].get(path[1]).and_then(toml::Value::as_array).unwrap();
    let word = |it: &toml::Value| match it.as_str() {
        Some(word) => word.to_owned(),
        None => it["crate"].as_str().unwrap().to_owned(),
    };
    found.iter().map(word).collect()
}

/// What is agreed to for one crate alone.
fn exceptions(rules: &toml::Table, name: &str) -> Vec<String> {
    let all = rules["licenses"]["exceptions"].as_array().unwrap().iter();
    let own = all.filter(|it| it["crate"].as_str() == Some(name));
    let agreed = own.flat_map(|it| it["allow"].as_array().unwrap());
    agreed.map(|it| it.as_str().unwrap().to_owned()).collect()
}

/// The packages of the workspace, tests included: name, version, licence, source.
fn packages(metadata: &Value) -> Vec<[String; 4]> {
    let text = |value: &Value| value.as_str().unwrap_or_default().to_owned();
    let packages = metadata["packages"].as_array().unwrap().iter();
    packages.map(|it| ["name", "version", "license", "source"].map(|key| text(&it[key]))).collect()
}

#[test]
fn every_part_comes_from_the_registry_and_is_licensed_as_agreed() {
    let (rules, metadata) = (rules(), metadata());
    let agreed = words(&rules, ["licenses", "allow"]);
    let sources = words(&rules, ["sources", "allow-registry"]);
    let unwanted = words(&rules, ["bans", "deny"]);
    let mut offences = Vec::new();
    for [name, version, licence, source] in packages(&metadata) {
        let known =
            source.strip_prefix("registry+").is_some_and(|it| sources.iter().any(|s| s == it));
        if !source.is_empty() && !known {
            offences.push(format!("{name} {version} comes from {source}"));
        }
        let excepted: Vec<String> = exceptions(&rules, &name);
        if !allowed(&licence, &[agreed.as_slice(), &excepted].concat()) {
            offences.push(format!("{name} {version} is under `{licence}`"));
        }
        if unwanted.contains(&name) {
            offences.push(format!("{name} {version} is not wanted"));
        }
    }
    none(&offences);
}

/// What the rules name is there: a rule that outlived its reason goes.
#[test]
fn every_licence_that_is_agreed_is_used() {
    let (rules, metadata) = (rules(), metadata());
    let used: String =
        packages(&metadata).into_iter().map(|[_, _, licence, _]| licence + " ").collect();
    let unused = words(&rules, ["licenses", "allow"]).into_iter().filter(|it| !used.contains(it));
    none(
        &unused
            .map(|it| format!("deny.toml agrees to {it}, which nothing uses"))
            .collect::<Vec<_>>(),
    );
}

/// A manifest may ask for any version of an outside crate from one on, never for any at all.
#[test]
fn no_manifest_asks_for_any_version_or_another_place() {
    let mut offences = Vec::new();
    for path in files("", "Cargo.toml") {
        for (number, line) in text(&path).lines().enumerate() {
            let asks = ["\"*\"", "git =", "registry =", "branch ="];
            if asks.iter().any(|it| line.contains(it)) {
                offences.push(format!("{}:{}: {line}", path.display(), number + 1));
            }
        }
    }
    none(&offences);
}

#[test]
fn no_crate_of_ours_may_use_unsafe() {
    assert!(text("Cargo.toml").contains("\nunsafe_code = \"forbid\"\n"));
    let mut offences = Vec::new();
    for path in files("crates", "Cargo.toml") {
        if !text(&path).contains("[lints]\nworkspace = true\n") {
            offences.push(format!("{} does not keep the lints of the workspace", path.display()));
        }
    }
    for path in files("crates", ".rs") {
        if text(&path).contains(concat!("allow(", "unsafe_code")) {
            offences.push(format!("{} allows unsafe", path.display()));
        }
    }
    none(&offences);
}

#[test]
fn the_parts_are_no_more_than_they_were() {
    let parts = parts(&metadata());
    let outside: Vec<&Part> = parts.values().filter(|part| !part.sha256.is_empty()).collect();
    assert!(outside.len() <= PARTS_AT_MOST, "{} parts", outside.len());
    let ours = parts.values().filter(|part| part.sha256.is_empty());
    let mut direct: Vec<&String> = ours.flat_map(|part| &part.needs).collect();
    direct.retain(|needed| parts.get(*needed).is_some_and(|part| !part.sha256.is_empty()));
    direct.sort();
    direct.dedup();
    assert!(direct.len() <= DIRECT_AT_MOST, "{} outside crates are named by ours", direct.len());
}

/// Holds a list that the program carries to what it is made from, or writes it anew.
fn held(path: &str, made: &str) {
    if std::env::var("UPDATE_PARTS").is_ok_and(|word| word == "1") {
        std::fs::write(root().join(path), made).unwrap();
    }
    let kept = text(path);
    let differs = kept.lines().zip(made.lines()).find(|(kept, made)| kept != made);
    let again = "UPDATE_PARTS=1 cargo test --workspace --test main supply";
    assert!(kept == made, "{path} is not what cargo says ({differs:?}): {again}");
}

#[test]
fn the_list_of_parts_is_what_cargo_says() {
    held("crates/app/src/cli/about/parts.tsv", &parts::written(&parts(&metadata())));
}

#[test]
fn the_licence_texts_are_those_of_the_parts() {
    held("crates/app/src/cli/about/licences.txt", &licences::written(&metadata()));
}

fn about(arguments: &[&str]) -> String {
    let done = Command::new(env!("CARGO_BIN_EXE_cinderbook")).arg("about").args(arguments).output();
    String::from_utf8(done.unwrap().stdout).unwrap()
}

/// The parts as a program reads them: CycloneDX 1.6, as far as its schema (from memory) asks.
#[test]
fn the_sbom_names_every_part_once_and_what_each_needs() {
    let sbom: Value = serde_json::from_str(&about(&["--sbom"])).unwrap();
    assert_eq!((&sbom["bomFormat"], &sbom["specVersion"]), (&"CycloneDX".into(), &"1.6".into()));
    assert_eq!(sbom["metadata"]["component"]["name"], "cinderbook");
    let all = sbom["components"].as_array().unwrap();
    let mut named = BTreeMap::new();
    for it in all {
        let reference = it["bom-ref"].as_str().unwrap();
        assert!(named.insert(reference, it).is_none(), "{reference} comes twice");
        assert_eq!(it["type"], "library");
        assert!(it["licenses"][0]["expression"].is_string(), "{reference}");
        if it["purl"].is_string() {
            let hash = it["hashes"][0]["content"].as_str().unwrap();
            assert!(hash.len() == 64 && it["hashes"][0]["alg"] == "SHA-256", "{reference}");
        }
    }
    let root = sbom["metadata"]["component"]["bom-ref"].as_str().unwrap();
    let needs = sbom["dependencies"].as_array().unwrap();
    assert_eq!(needs.len(), all.len() + 1);
    for need in needs {
        let one = need["ref"].as_str().unwrap();
        assert!(one == root || named.contains_key(one), "{one}");
        for on in need["dependsOn"].as_array().unwrap() {
            assert!(named.contains_key(on.as_str().unwrap()), "{on}");
        }
    }
    assert_eq!(about(&["--sbom"]), about(&["--sbom"]));
}

#[test]
fn about_tells_version_parts_and_texts() {
    let told = about(&[]);
    assert!(told.starts_with(concat!("Cinderbook ", env!("CARGO_PKG_VERSION"))), "{told}");
    assert!(about(&["--parts"]).contains("rusqlite "));
    assert!(about(&["--licences"]).contains("Permission is hereby granted"));
}
