//! The fields of a line of a proof: exactly those that belong there, each taken once.

use std::collections::BTreeMap;

use crate::entry::Json;
use crate::hash::TreeHash;

/// The named values of a line, each taken once.
pub(super) struct Taken(BTreeMap<String, Json>);

impl Taken {
    pub(super) fn of<const N: usize>(line: &[u8], names: [&str; N]) -> Result<Self, String> {
        let line = line.strip_suffix(b"\n").ok_or("it does not end")?;
        Self::within(Json::from_bytes(line).map_err(|why| why.to_string())?, names)
    }

    pub(super) fn within<const N: usize>(json: Json, names: [&str; N]) -> Result<Self, String> {
        let wrong = || format!("it does not hold exactly {}", names.join(", "));
        let Json::Object(fields) = json else { return Err(wrong()) };
        if fields.keys().map(String::as_str).eq(names) { Ok(Self(fields)) } else { Err(wrong()) }
    }

    pub(super) fn take(&mut self, name: &str) -> Result<Json, String> {
        self.0.remove(name).ok_or_else(|| format!("`{name}` is missing"))
    }

    pub(super) fn text(&mut self, name: &str) -> Result<String, String> {
        let Json::Text(text) = self.take(name)? else {
            return Err(format!("`{name}` is no text"));
        };
        Ok(text)
    }

    pub(super) fn number(&mut self, name: &str) -> Result<u64, String> {
        let Json::Number(number) = self.take(name)? else {
            return Err(format!("`{name}` is no number"));
        };
        u64::try_from(number).map_err(|why| why.to_string())
    }

    pub(super) fn hashes(&mut self, name: &str) -> Result<Vec<TreeHash>, String> {
        let Json::List(values) = self.take(name)? else {
            return Err(format!("`{name}` is no list"));
        };
        let hash = |value| {
            if let Json::Text(text) = value { TreeHash::from_hex(&text) } else { None }
        };
        let hashes: Option<Vec<TreeHash>> = values.into_iter().map(hash).collect();
        hashes.ok_or_else(|| format!("`{name}` holds what is no hash"))
    }
}
