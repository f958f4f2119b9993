//! The parts of the program, from what cargo says: those that are built into it on Linux.

use std::collections::{BTreeMap, BTreeSet};

use serde_json::Value;

use crate::house::text;

/// One part.
pub(super) struct Part {
    pub(super) licence: String,
    /// Of its package, from the lock; nothing for our own rooms.
    pub(super) sha256: String,
    /// The parts it needs, as `name version`.
    pub(super) needs: Vec<String>,
    /// Where its manifest lies.
    pub(super) manifest: String,
}

/// The parts by `name version`: the program and all that it needs to run.
pub(super) fn parts(metadata: &Value) -> BTreeMap<String, Part> {
    let text = |value: &Value| value.as_str().unwrap().to_owned();
    let list = |value: &Value| value.as_array().unwrap().clone();
    let packages: BTreeMap<String, Value> =
        list(&metadata["packages"]).into_iter().map(|it| (text(&it["id"]), it)).collect();
    let nodes: BTreeMap<String, Value> =
        list(&metadata["resolve"]["nodes"]).into_iter().map(|it| (text(&it["id"]), it)).collect();
    let name =
        |id: &str| format!("{} {}", text(&packages[id]["name"]), text(&packages[id]["version"]));
    let program = packages.values().find(|it| it["name"] == "cinderbook").unwrap();
    let (mut open, mut seen) = (vec![text(&program["id"])], BTreeSet::new());
    let (mut parts, sums) = (BTreeMap::new(), sums());
    while let Some(id) = open.pop() {
        if !seen.insert(id.clone()) {
            continue;
        }
        let needed = list(&nodes[&id]["deps"])
            .into_iter()
            .filter(|need| list(&need["dep_kinds"]).iter().any(|kind| kind["kind"].is_null()));
        let needed: Vec<String> = needed.map(|need| text(&need["pkg"])).collect();
        let mut needs: Vec<String> = needed.iter().map(|id| name(id)).collect();
        needs.sort();
        let package = &packages[&id];
        let part = Part {
            licence: package["license"].as_str().unwrap_or_default().replace('/', " OR "),
            sha256: sums.get(&name(&id)).cloned().unwrap_or_default(),
            needs,
            manifest: text(&package["manifest_path"]),
        };
        parts.insert(name(&id), part);
        open.extend(needed);
    }
    parts
}

/// The sums of packages, by `name version`, from the lock.
fn sums() -> BTreeMap<String, String> {
    let lock: toml::Table = text("Cargo.lock").parse().unwrap();
    let packages = lock["package"].as_array().unwrap().iter();
    let of = |it: &toml::Value, key: &str| it.get(key)?.as_str().map(str::to_owned);
    packages
        .filter_map(|it| {
            let name = format!("{} {}", of(it, "name")?, of(it, "version")?);
            Some((name, of(it, "checksum")?))
        })
        .collect()
}

/// One line a part: name and version, licence, sum, what it needs.
pub(super) fn written(parts: &BTreeMap<String, Part>) -> String {
    let line = |(name, part): (&String, &Part)| {
        let Part { licence, sha256, needs, .. } = part;
        format!("{name}\t{licence}\t{sha256}\t{}\n", needs.join(", "))
    };
    parts.iter().map(line).collect()
}
