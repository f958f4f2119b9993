//! Under what conditions a test was done.

use super::{Day, Value};
use serde::{Deserialize, Serialize};

/// The conditions of the test.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Conditions {
    /// What was conditioned, and how.
    pub conditioning: Vec<Conditioning>,
    /// The atmosphere during the test, in words with units.
    pub atmosphere: String,
    /// What lay below the specimen.
    pub layer: String,
    /// The gas and its lot.
    pub gas: String,
    /// The height of the flame, as gauged.
    pub flame_height: Option<Value>,
    /// The height that the method asks for.
    pub flame_height_asked: String,
    /// How the specimen stood.
    pub position: String,
    /// Where the flame touched.
    pub points: Vec<Placing>,
    /// How long, and how often, the flame was to be applied.
    pub durations: String,
    /// What measured.
    pub equipment: Vec<Equipment>,
}

/// Where the flame was applied.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Placing {
    /// Its short name, as in the table of results.
    pub name: String,
    /// Where it lies.
    pub place: String,
}

/// One period in one atmosphere.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Conditioning {
    /// What was conditioned.
    pub what: String,
    /// When it began, in UTC.
    pub from: String,
    /// When it ended, in UTC.
    pub until: String,
    /// The atmosphere that was measured.
    pub atmosphere: String,
    /// What the method asks for.
    pub asked: String,
}

/// A piece of equipment.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Equipment {
    /// Its number in the laboratory.
    pub number: String,
    /// What it is.
    pub description: String,
    /// When it was calibrated, where that is needed.
    pub calibrated: Option<Day>,
    /// Until when that holds.
    pub due: Option<Day>,
    /// The certificate.
    pub certificate: Option<String>,
}
