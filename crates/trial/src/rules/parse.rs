//! A rules file's text to its entries, each with line and column.

use super::{Clause, Entry, Head, Key, Place, Rules, RulesId, Standing, Variant, VariantName};
use std::collections::BTreeMap;
use thiserror::Error;
use toml::Spanned;
use toml::de::{DeTable, DeValue};

/// A rules file longer than this is none.
const BYTES_MAX: usize = 1 << 20;

/// A rules file that cannot be used.
#[derive(Clone, Debug, PartialEq, Eq, Error)]
#[error("{file}:{}:{}: {problem}", place.line, place.column)]
pub struct RulesError {
    /// The file.
    pub file: String,
    /// Where in it.
    pub place: Place,
    /// What is wrong there.
    pub problem: RulesProblem,
}

impl RulesError {
    /// The way out.
    #[must_use]
    pub const fn hint(&self) -> &'static str {
        match self.problem {
            RulesProblem::TooLong { .. } | RulesProblem::NotToml { .. } => {
                "Give a rules file in TOML, like those under standards/."
            }
            RulesProblem::NoUnit { .. } | RulesProblem::Value { .. } => {
                "Write the number with its unit, such as \"10 s\" or \"≤ 30 s\"."
            }
            RulesProblem::Lacks { .. } => {
                "Each number needs value, clause and standing (seen, memory or ours)."
            }
            RulesProblem::Unknown { .. } => "Compare the keys with those of the built-in files.",
            RulesProblem::NotText { .. } => "Write the value in quotes, with its unit.",
            RulesProblem::Absent { .. } => "Add the number with its value, clause and standing.",
        }
    }
}

/// What is wrong in a rules file.
#[derive(Clone, Debug, PartialEq, Eq, Error)]
pub enum RulesProblem {
    /// Larger than a rules file can be.
    #[error("{bytes} bytes are too long for a rules file; at most {limit}")]
    TooLong {
        /// Its size.
        bytes: usize,
        /// The limit.
        limit: usize,
    },
    /// Not TOML.
    #[error("not TOML: {why}")]
    NotToml {
        /// The reader's own words.
        why: String,
    },
    /// Not a text.
    #[error("`{key}` is {found}, not a text in quotes")]
    NotText {
        /// Which one.
        key: String,
        /// What stands there.
        found: String,
    },
    /// A number lacks something, or the head does.
    #[error("`{key}` has no {what}")]
    Lacks {
        /// Which one.
        key: String,
        /// What it lacks.
        what: &'static str,
    },
    /// A number without unit.
    #[error("`{key} = \"{found}\"` has no unit")]
    NoUnit {
        /// Which one.
        key: String,
        /// What stands there.
        found: String,
    },
    /// A value that is not of its kind.
    #[error("`{key} = \"{found}\"`: {why}")]
    Value {
        /// Which one.
        key: String,
        /// What stands there.
        found: String,
        /// What is wrong with it.
        why: String,
    },
    /// A key that nothing reads.
    #[error("`{key}` is not known{}", known(.among))]
    Unknown {
        /// Which one.
        key: String,
        /// Those that are.
        among: String,
    },
    /// A number that every method must have is absent.
    #[error("`{key}` is absent")]
    Absent {
        /// Which one.
        key: String,
    },
}

fn known(among: &str) -> String {
    if among.is_empty() { String::new() } else { format!("; known here: {among}") }
}

struct Reader<'t> {
    file: &'t str,
    text: &'t str,
    id: RulesId,
}

const HEAD: [&str; 7] =
    ["id", "title", "standard", "edition", "edition-standing", "read-through", "methods"];
/// A table with one of these is a number, not a group; `tolerance` may be the name of a number.
const MARKS: [&str; 3] = ["value", "clause", "standing"];
const ENTRY: [&str; 5] = ["value", "tolerance", "clause", "standing", "note"];

pub(super) fn read(file: &str, text: &str) -> Result<Rules, RulesError> {
    let mut reader = Reader { file, text, id: RulesId(String::new()) };
    if text.len() > BYTES_MAX {
        let problem = RulesProblem::TooLong { bytes: text.len(), limit: BYTES_MAX };
        return Err(reader.refuse(0, problem));
    }
    let table = DeTable::parse(text).map_err(|why| {
        let at = why.span().map_or(0, |span| span.start);
        reader.refuse(at, RulesProblem::NotToml { why: why.message().to_owned() })
    })?;
    let table = table.get_ref();
    let head = reader.head(table)?;
    reader.id = head.id.clone();
    let mut entries = BTreeMap::new();
    let mut variants = BTreeMap::new();
    for (key, value) in table {
        let name = key.get_ref().as_ref();
        if name == "variant" {
            variants = reader.variants(value)?;
        } else if !HEAD.contains(&name) {
            reader.walk(name, value, &mut entries)?;
        }
    }
    Ok(Rules { head, entries, variants })
}

impl Reader<'_> {
    fn refuse(&self, byte: usize, problem: RulesProblem) -> RulesError {
        RulesError { file: self.file.to_owned(), place: self.place(byte), problem }
    }

    fn place(&self, byte: usize) -> Place {
        let before = self.text.get(..byte).unwrap_or(self.text);
        let line_start = before.rfind('\n').map_or(0, |at| at + 1);
        Place {
            line: before.matches('\n').count() + 1,
            column: before[line_start..].chars().count() + 1,
        }
    }

    fn head(&self, table: &DeTable<'_>) -> Result<Head, RulesError> {
        let text = |key: &'static str| match table.get(key) {
            Some(value) => self.text(key, value),
            None => Err(self.refuse(0, RulesProblem::Lacks { key: "the file".into(), what: key })),
        };
        let standing = text("edition-standing")?;
        let edition_standing = Standing::of_word(&standing)
            .ok_or_else(|| self.refuse(0, unknown_standing("edition-standing", &standing)))?;
        let methods = match table.get("methods") {
            None => Vec::new(),
            Some(value) => {
                let text = self.text("methods", value)?;
                text.split(',').map(|id| RulesId(id.trim().to_owned())).collect()
            }
        };
        Ok(Head {
            id: RulesId(text("id")?),
            title: text("title")?,
            standard: text("standard")?,
            edition: text("edition")?,
            edition_standing,
            read_through: text("read-through")?,
            methods,
        })
    }

    fn text(&self, key: &str, value: &Spanned<DeValue<'_>>) -> Result<String, RulesError> {
        let said = value.get_ref().as_str().map(str::trim);
        match said {
            Some("") => Err(self.refuse(
                value.span().start,
                RulesProblem::Lacks { key: key.to_owned(), what: "text" },
            )),
            Some(text) => Ok(text.to_owned()),
            None => Err(self.refuse(
                value.span().start,
                RulesProblem::NotText {
                    key: key.to_owned(),
                    found: value.get_ref().type_str().to_owned(),
                },
            )),
        }
    }

    fn variants(
        &self,
        value: &Spanned<DeValue<'_>>,
    ) -> Result<BTreeMap<VariantName, Variant>, RulesError> {
        let mut variants = BTreeMap::new();
        for (name, value) in self.table("variant", value)? {
            let path = format!("variant.{}", name.get_ref());
            let mut entries = BTreeMap::new();
            let mut title = None;
            for (key, value) in self.table(&path, value)? {
                if key.get_ref() == "title" {
                    title = Some(self.text("title", value)?);
                } else {
                    self.walk(key.get_ref(), value, &mut entries)?;
                }
            }
            let title = title.ok_or_else(|| {
                let problem = RulesProblem::Lacks { key: path, what: "title" };
                self.refuse(value.span().start, problem)
            })?;
            variants.insert(VariantName(name.get_ref().to_string()), Variant { title, entries });
        }
        Ok(variants)
    }

    fn table<'v, 'i>(
        &self,
        key: &str,
        value: &'v Spanned<DeValue<'i>>,
    ) -> Result<&'v DeTable<'i>, RulesError> {
        value.get_ref().as_table().ok_or_else(|| {
            let found = value
                .get_ref()
                .as_str()
                .map_or_else(|| value.get_ref().type_str().to_owned(), str::to_owned);
            let problem = RulesProblem::Value {
                key: key.to_owned(),
                found,
                why: "a number stands in a table with value, clause and standing".to_owned(),
            };
            self.refuse(value.span().start, problem)
        })
    }

    /// Walks down to the tables that hold a value; the path to each is its key.
    fn walk(
        &self,
        path: &str,
        value: &Spanned<DeValue<'_>>,
        entries: &mut BTreeMap<Key, Entry>,
    ) -> Result<(), RulesError> {
        let table = self.table(path, value)?;
        if MARKS.iter().any(|field| table.contains_key(*field)) {
            let entry = self.entry(path, value.span().start, table)?;
            entries.insert(entry.key.clone(), entry);
            return Ok(());
        }
        for (key, value) in table {
            self.walk(&format!("{path}.{}", key.get_ref()), value, entries)?;
        }
        Ok(())
    }

    fn entry(&self, path: &str, at: usize, table: &DeTable<'_>) -> Result<Entry, RulesError> {
        for (key, _) in table {
            if !ENTRY.contains(&key.get_ref().as_ref()) {
                let problem = RulesProblem::Unknown {
                    key: format!("{path}.{}", key.get_ref()),
                    among: ENTRY.join(", "),
                };
                return Err(self.refuse(key.span().start, problem));
            }
        }
        let optional = |field: &str| match table.get(field) {
            None => Ok(None),
            Some(value) => self.text(&format!("{path}.{field}"), value).map(Some),
        };
        let needed = |field: &'static str| {
            optional(field)?.ok_or_else(|| {
                self.refuse(at, RulesProblem::Lacks { key: path.to_owned(), what: field })
            })
        };
        let value = needed("value")?;
        let clause = Clause(needed("clause")?);
        let word = needed("standing")?;
        let place = |field| table.get(field).map_or(at, |value| value.span().start);
        let standing = Standing::of_word(&word)
            .ok_or_else(|| self.refuse(place("standing"), unknown_standing(path, &word)))?;
        Ok(Entry {
            key: Key(path.to_owned()),
            value,
            tolerance: optional("tolerance")?,
            clause,
            standing,
            note: optional("note")?,
            source: self.id.clone(),
            replaces: None,
            place: self.place(place("value")),
        })
    }
}

fn unknown_standing(key: &str, found: &str) -> RulesProblem {
    RulesProblem::Value {
        key: key.to_owned(),
        found: found.to_owned(),
        why: "standing is one of seen, memory, ours".to_owned(),
    }
}
