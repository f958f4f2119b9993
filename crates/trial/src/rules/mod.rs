//! Rules as data: numbers of standards, each with its clause, edition and standing.

mod parse;
mod value;
mod library;
pub mod own;
mod table;

pub use library::{Library, RulesHash, RulesUsed};
pub use parse::{RulesError, RulesProblem};
pub use table::limits_table;
pub(crate) use value::Word;
pub use value::{Band, Range, Tolerance, Value};

pub use metrology::decision::Limit;

use crate::finding::words;
use std::collections::BTreeMap;
use std::fmt;

/// A rules file by standard and edition, such as `iec-60695-11-5/2016`.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub struct RulesId(pub String);

/// A clause as the edition numbers it, such as `A.2.5`.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub struct Clause(pub String);

/// The place of a number in its file, such as `confirmation.rise-time`. It stays the same, so that
/// a laboratory can say which number it verified against its own copy.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub struct Key(pub String);

macro_rules! shown {
    ($($name:ident),*) => {$(
        impl fmt::Display for $name {
            fn fmt(&self, out: &mut fmt::Formatter<'_>) -> fmt::Result {
                self.0.fmt(out)
            }
        }

        impl From<&str> for $name {
            fn from(text: &str) -> Self {
                Self(text.to_owned())
            }
        }
    )*};
}
shown!(RulesId, Clause, Key);

words! {
    /// How a number stands. That a laboratory verified it against its own copy is a fact of the
    /// record ([`crate::history::History::verified`]), not of the file.
    Standing {
        /// Seen in the edition or in its national adoption.
        Seen = "seen",
        /// From memory: to be checked against the controlled copy.
        Memory = "memory",
        /// No number of a standard: set by this program or chosen in the plan.
        Ours = "ours",
    }
}

/// One number of a standard with its place.
#[derive(Clone, Debug, PartialEq)]
pub struct Provision<T> {
    /// The number.
    pub value: T,
    /// The number as its file writes it, such as `23.5 s ± 1.0 s`.
    pub text: String,
    /// Where the standard says it.
    pub clause: Clause,
    /// How it stands.
    pub standing: Standing,
    /// Its place in the file.
    pub key: Key,
    /// The file.
    pub source: RulesId,
    /// What it replaces: a product standard names the clauses of one edition of the method, which
    /// need not be the edition used.
    pub replaces: Option<Replaced>,
}

/// What an overriding number replaces.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Replaced {
    /// The file of the replaced number.
    pub source: RulesId,
    /// Its clause there.
    pub clause: Clause,
    /// The number as that file writes it.
    pub text: String,
}

/// One number as it stands in a file, before its kind is known.
#[derive(Clone, Debug, PartialEq)]
pub struct Entry {
    /// Its place in the file.
    pub key: Key,
    /// The number with its unit.
    pub value: String,
    /// Its tolerance with its unit.
    pub tolerance: Option<String>,
    /// Where the standard says it.
    pub clause: Clause,
    /// How it stands.
    pub standing: Standing,
    /// A remark in our own words.
    pub note: Option<String>,
    /// The file.
    pub source: RulesId,
    /// What it replaces.
    pub replaces: Option<Replaced>,
    /// Line and column of its value in the file, from 1 on.
    pub place: Place,
}

impl Entry {
    /// The number as its file writes it, with its tolerance.
    #[must_use]
    pub fn text(&self) -> String {
        match &self.tolerance {
            Some(tolerance) => format!("{} {tolerance}", self.value),
            None => self.value.clone(),
        }
    }
}

/// Line and column, from 1 on; both 0 for what stands in no file.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Place {
    /// The line.
    pub line: usize,
    /// The column, in characters.
    pub column: usize,
}

impl Place {
    /// The beginning of a file.
    pub const START: Self = Self { line: 1, column: 1 };
}

/// The head of a rules file.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Head {
    /// Standard and edition as a path.
    pub id: RulesId,
    /// What it is, in our words.
    pub title: String,
    /// The standard, as cited.
    pub standard: String,
    /// The edition, as cited.
    pub edition: String,
    /// How the edition's number itself stands, and whence it is known.
    pub edition_standing: Standing,
    /// Through what the numbers were read.
    pub read_through: String,
    /// The editions of the method a profile may be used with, the first by default; none for a
    /// method.
    pub methods: Vec<RulesId>,
}

impl Head {
    /// The standard with its edition: a year stands behind a colon, a count behind `edition`, such as
    /// `" ed. "`.
    #[must_use]
    pub fn cited(&self, edition: &str) -> String {
        let sign = if self.edition.len() == 4 { ":" } else { edition };
        format!("{}{sign}{}", self.standard, self.edition)
    }
}

/// A rules file: its head, its numbers, and (in a profile) its variants.
#[derive(Clone, Debug, PartialEq)]
pub struct Rules {
    /// The head.
    pub head: Head,
    /// The numbers, by key.
    pub entries: BTreeMap<Key, Entry>,
    /// The variants, by name.
    pub variants: BTreeMap<VariantName, Variant>,
}

/// A variant of a profile, such as `printed-board`.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub struct VariantName(pub String);
shown!(VariantName);

/// What a variant asks differently.
#[derive(Clone, Debug, PartialEq)]
pub struct Variant {
    /// What it is, in our words.
    pub title: String,
    /// The numbers, by key.
    pub entries: BTreeMap<Key, Entry>,
}

impl Rules {
    /// Reads a rules file.
    ///
    /// # Errors
    ///
    /// [`RulesError`] with line and column: no TOML, a number without unit, clause or standing,
    /// an unknown key.
    ///
    /// ```
    /// let text = "id = \"x/1\"\ntitle = \"X\"\nstandard = \"X\"\nedition = \"1\"\n\
    ///     edition-standing = \"ours\"\nread-through = \"nothing\"\n\
    ///     flame.height = { value = \"12 mm\", clause = \"5.2\" }\n";
    /// let refused = trial::rules::Rules::read("x/1.toml", text).unwrap_err();
    /// assert_eq!(refused.to_string(), "x/1.toml:7:16: `flame.height` has no standing");
    /// ```
    pub fn read(name: &str, text: &str) -> Result<Self, RulesError> {
        let rules = parse::read(name, text)?;
        crate::method::check(name, &rules)?;
        Ok(rules)
    }
}
