//! What a signature covers, as bytes: the facts that make the signed thing, each by its number,
//! time, person, kind and the hash of its body, as canonical JSON.
//!
//! ```text
//! {"entries":[{"at":"…","entry":30,"kind":"run-recorded","sha256":"…","who":"…"}, …],
//!  "format":"cinderbook-signed/1","what":{"specimen":{"plan":1,"specimen":1}}}
//! ```
//!
//! Whoever has the record's plain files can write the same bytes and hash them.

use std::collections::BTreeMap;

use trial::history::History;
use trial::number::EntryNumber;
use trial::signature::{ContentHash, Signed};

use crate::entry::{self, Json};
use crate::hash::sha256;

/// The name of this form of the bytes.
const FORMAT: &str = "cinderbook-signed/1";

/// What a signature covers.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Content {
    /// The entries, in their order.
    pub entries: Vec<EntryNumber>,
    /// What they hash to.
    pub hash: ContentHash,
}

/// What a signature on this thing covers now; none if there is no such thing.
#[must_use]
pub fn content(history: &History, what: Signed) -> Option<Content> {
    let entries = history.content(what)?;
    let hash = ContentHash(sha256(&bytes(history, what, &entries)));
    Some(Content { entries, hash })
}

/// The bytes that are hashed.
fn bytes(history: &History, what: Signed, entries: &[EntryNumber]) -> Vec<u8> {
    let found = entries.iter().filter_map(|number| history.entry(*number));
    let lines = found.map(|recorded| {
        let body = entry::write(&recorded.fact).body;
        object([
            ("entry", Json::Number(recorded.entry.0.into())),
            ("at", text(recorded.at)),
            ("who", text(&recorded.who)),
            ("kind", text(recorded.fact.kind())),
            ("sha256", text(hex::encode(sha256(&body)))),
        ])
    });
    object([
        ("format", text(FORMAT)),
        ("what", entry::what_signed(what)),
        ("entries", Json::List(lines.collect())),
    ])
    .to_bytes()
}

fn object<const N: usize>(fields: [(&str, Json); N]) -> Json {
    let named = fields.into_iter().map(|(name, value)| (name.to_owned(), value));
    Json::Object(named.collect::<BTreeMap<_, _>>())
}

fn text(text: impl ToString) -> Json {
    Json::Text(text.to_string())
}
