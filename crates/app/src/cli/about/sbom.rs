//! The parts in the form of CycloneDX 1.6 (ECMA-424, from memory).

use serde_json::{Value, json};

use super::Part;

/// The program's own package.
const PROGRAM: &str = "cinderbook";

/// The parts list of the program. It has no serial number and no time: the same program gives the
/// same bytes.
pub(super) fn of(parts: &[Part<'_>]) -> Value {
    let own = parts.iter().find(|part| part.name == PROGRAM);
    let others = parts.iter().filter(|part| part.name != PROGRAM);
    let needs: Vec<Value> = parts
        .iter()
        .map(|part| json!({ "ref": part.reference(), "dependsOn": part.needs }))
        .collect();
    json!({
        "bomFormat": "CycloneDX",
        "specVersion": "1.6",
        "version": 1,
        "metadata": { "component": own.map(|part| component(part, "application")) },
        "components": others.map(|part| component(part, "library")).collect::<Vec<_>>(),
        "dependencies": needs,
    })
}

fn component(part: &Part<'_>, kind: &str) -> Value {
    let mut component = json!({
        "type": kind,
        "bom-ref": part.reference(),
        "name": part.name,
        "version": part.version,
        "licenses": [{ "expression": part.licence }],
    });
    if !part.sha256.is_empty()
        && let Some(fields) = component.as_object_mut()
    {
        let purl = format!("pkg:cargo/{}@{}", part.name, part.version);
        fields.insert("purl".to_owned(), purl.into());
        let hash = json!([{ "alg": "SHA-256", "content": part.sha256 }]);
        fields.insert("hashes".to_owned(), hash);
    }
    component
}
