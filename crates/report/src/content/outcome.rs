//! What was found: each specimen's times, each criterion, and the statement of conformity.

use std::borrow::Cow;

use super::Value;
use serde::{Deserialize, Serialize};

/// How an item, a flame or a specimen stands against what was asked.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Standing {
    /// It meets the requirement.
    Meets,
    /// It does not.
    DoesNotMeet,
    /// The uncertainty does not let it be said.
    Undecided,
    /// Nothing was judged, or not all that is needed.
    NotJudged,
}

impl Standing {
    /// The words printed.
    #[must_use]
    pub const fn words(self) -> &'static str {
        match self {
            Self::Meets => "Meets the requirement",
            Self::DoesNotMeet => "Does not meet the requirement",
            Self::Undecided => "Undecided",
            Self::NotJudged => "Not judged",
        }
    }
}

/// How one criterion stood.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Stood {
    /// Kept.
    Kept,
    /// Broken.
    NotKept,
    /// The uncertainty does not let it be said.
    Undecided,
    /// Not looked at.
    NotJudged,
}

/// The statement of conformity.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Conformity {
    /// The statement.
    pub standing: Standing,
    /// The statement in words.
    pub words: Cow<'static, str>,
    /// What it applies to: the standard's parts that were met or not.
    pub applies_to: String,
    /// What decided it, in one sentence.
    pub decided_by: String,
    /// The rule by which a value was held against its limit.
    pub decision_rule: String,
    /// The risk that goes with the rule.
    pub risk: String,
    /// Each thing asked, and how it stood.
    pub criteria: Vec<Criterion>,
    /// What so many of so many really show.
    pub what_it_shows: Option<String>,
    /// That a value lies near its limit, where one does.
    pub near_limit: Option<String>,
}

/// One thing asked.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Criterion {
    /// What is asked, in our words.
    pub demand: String,
    /// The limit, where it is a number, with its operator.
    pub limit: Option<String>,
    /// Which standard asks for it, and where.
    pub clause: String,
    /// How the number stands: seen in the edition, from memory, verified by this laboratory.
    pub number_stands: String,
    /// How it stood in all.
    pub stood: Stood,
    /// How that came about, in a few words: the value that decided.
    pub decided_by: String,
    /// How each specimen stood.
    pub reasons: Vec<Reason>,
}

/// How one specimen stood against one criterion.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Reason {
    /// The specimen.
    pub specimen: u32,
    /// The value found, where it is a number.
    pub value: Option<Value>,
    /// How it stood.
    pub stood: Stood,
    /// The probability that the true value keeps the limit, where it was asked.
    pub probability_of_conformity: Option<f64>,
}

/// One specimen in the flame.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Specimen {
    /// Its number.
    pub number: u32,
    /// When the flame touched it first, in UTC.
    pub at: String,
    /// The confirmation of the flame it was tested under.
    pub confirmation: String,
    /// Each application of the flame.
    pub applications: Vec<Application>,
    /// How long the flame was on it, in all.
    pub applied: Value,
    /// How long it flamed after the last removal.
    pub afterflame: Option<Value>,
    /// How long it glowed after the flames were out.
    pub afterglow: Option<Value>,
    /// The duration of burning, as the requirement counts it.
    pub burning: Option<Value>,
    /// The limit on that, in seconds.
    pub burning_limit_s: Option<f64>,
    /// How long the damaged part is.
    pub damaged: Option<Value>,
    /// What became of the layer.
    pub layer: String,
    /// How the specimen stood.
    pub stood: Stood,
    /// Why it does not count, where it does not.
    pub spoilt: Option<String>,
    /// What was seen, in the order of time.
    pub observations: Vec<Observation>,
    /// Who watched.
    pub observer: String,
}

/// One application of the flame, in seconds since the flame first touched the specimen.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct Application {
    /// Flame on the specimen.
    pub on_s: f64,
    /// Flame removed.
    pub removed_s: f64,
}

/// Something seen.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Observation {
    /// When, since the flame first touched the specimen.
    pub at: Value,
    /// What.
    pub text: String,
}
