//! What a report says, as data. Written as JSON, this is the machine's copy of the report.
//!
//! The order of the fields is the order of the keys. Every number carries its unit, the value as
//! it was judged, and the text that is printed: rounding happens once, when a [`Value`] is made.
//!
//! # Source
//!
//! What has to be there: ISO/IEC 17025:2017, 7.8.2.1 a) to p), 7.8.3.1, 7.8.6 and 7.8.8.

mod compose;
mod conditions;
mod flame;
mod outcome;
mod signed;
mod value;

use std::borrow::Cow;

use serde::{Deserialize, Serialize};
use trial::fact::Language;

pub use compose::{ComposeError, Issue, PhotoShown, PhotoTaken, ReadAgain, Supersession, compose};
pub use conditions::{Conditioning, Conditions, Equipment, Placing};
pub use flame::{Accepted, Crossing, Determination, Flame};
pub use outcome::{
    Application, Conformity, Criterion, Observation, Reason, Specimen, Standing, Stood,
};
pub use signed::{Amended, Covers, Signature};
pub use value::{Day, Uncertainty, Value};

use crate::words;

/// The words that mark invented data, on every page and in every file.
pub const MADE_UP: &str = "MADE-UP: demonstration data, not a test result";

/// The name of this form of data. It changes only when the meaning of a key changes.
pub const FORMAT: &str = "cinderbook-report/1";

/// Everything one report says.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Content {
    /// The form of these data: [`FORMAT`].
    pub format: Cow<'static, str>,
    /// The language that its sentences are in, such as `de`; none where that is English. Keys,
    /// numbers and times are the same in each.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub language: Option<Cow<'static, str>>,
    /// [`MADE_UP`], or that in the report's language, where the data are invented; nothing where
    /// they are measured.
    pub made_up: Option<Cow<'static, str>>,
    /// The report's title.
    pub title: String,
    /// The report's number. No other report of the laboratory has it.
    pub number: String,
    /// When it was issued, in UTC.
    pub issued: String,
    /// The report that this one replaces, and what changed.
    pub amends: Option<Amendment>,
    /// Whose report it is.
    pub laboratory: Laboratory,
    /// For whom the item was tested.
    pub customer: Customer,
    /// What was tested.
    pub item: Item,
    /// How it was tested.
    pub method: Method,
    /// The days on which specimens were tested, each once.
    pub tested_on: Vec<Day>,
    /// Does the item meet the requirement?
    pub conformity: Conformity,
    /// Under what conditions it was tested.
    pub conditions: Conditions,
    /// How the test flame was confirmed, each time that specimens were tested under.
    pub confirmations: Vec<Flame>,
    /// The results.
    pub specimens: Vec<Specimen>,
    /// The photographs shown.
    pub photos: Vec<Photo>,
    /// What was added to the method, departed from, or left out.
    pub deviations: Vec<String>,
    /// Results that came from outside the laboratory.
    pub external: Vec<String>,
    /// Refusals and corrections in the record that matter to this report.
    pub remarks: Vec<Remark>,
    /// The signatures on the results and on the whole; none where nothing was signed.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub signatures: Vec<Signature>,
    /// Values that were corrected after they were recorded.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub amended: Vec<Amended>,
    /// Who authorised the report.
    pub authorised_by: Person,
    /// What the reader must know to use it.
    pub statements: Vec<String>,
    /// Where the report stands in the laboratory's record.
    pub record: Record,
}

/// The laboratory.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Laboratory {
    /// Its name.
    pub name: String,
    /// Its address.
    pub address: String,
    /// Where the test was done.
    pub place_of_test: String,
}

/// The customer.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Customer {
    /// Name, as the customer gave it.
    pub name: String,
    /// How to reach the customer.
    pub address: String,
    /// The laboratory's job.
    pub job: String,
}

/// The item tested.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Item {
    /// What it is.
    pub description: String,
    /// How it is told from all others.
    pub identification: String,
    /// How it was when it came in.
    pub condition: String,
    /// When it came in, where that was noted.
    pub received: Option<Day>,
    /// Who took the specimens and how, or that this is not known.
    pub sampling: String,
}

/// The method, and the product standard that calls it.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Method {
    /// The test's name.
    pub name: String,
    /// The standard that describes it.
    pub standard: String,
    /// Which edition of it was used.
    pub edition: String,
    /// The standard that asks for it, with its edition and the case chosen in it.
    pub product_standard: Option<String>,
    /// The plan in the record.
    pub plan: String,
    /// The hashes of the rules used, so that they can be read for ever.
    pub rules: Vec<NamedHash>,
}

/// A name and the SHA-256 of what it names.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct NamedHash {
    /// What is named.
    pub name: String,
    /// Its SHA-256, in hexadecimal.
    pub sha256: String,
}

/// A photograph in the report.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Photo {
    /// What it shows: printed below it, with the file's name, and read aloud in its place.
    pub caption: String,
    /// The file's name in the record.
    pub name: String,
    /// The file's SHA-256, in hexadecimal.
    pub sha256: String,
}

/// Something in the record that a reader of the report should know.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Remark {
    /// The entry of the record.
    pub entry: u64,
    /// When, in UTC.
    pub at: String,
    /// Who.
    pub who: String,
    /// What happened.
    pub text: String,
}

/// A person with a function.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Person {
    /// Name.
    pub name: String,
    /// What the person is in the laboratory.
    pub function: String,
}

/// The place of the report in the record.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Record {
    /// How many entries the record held when the report was made.
    pub head_entry: u64,
    /// The hash of the last of them, in hexadecimal.
    pub head_sha256: String,
    /// The hash of the tree over all of them (RFC 6962, SHA-256), in hexadecimal; none on reports
    /// of before there was one.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub head_root: Option<String>,
    /// How a reader checks the report against the record.
    pub to_verify: String,
    /// The program that made the report.
    pub made_by: String,
}

/// What an amended report replaces.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Amendment {
    /// The number of the report that is replaced.
    pub replaces: String,
    /// What changed, one sentence each.
    pub changes: Vec<String>,
    /// Why.
    pub reason: String,
}

impl Content {
    /// The language that its sentences are in.
    #[must_use]
    pub fn in_language(&self) -> Language {
        let named = self.language.as_deref().and_then(Language::of_word);
        named.unwrap_or(Language::English)
    }

    /// The statements that every report makes, in English.
    #[must_use]
    pub fn statements() -> Vec<String> {
        words::of(Language::English).whole.statements.map(str::to_owned).into()
    }
}
