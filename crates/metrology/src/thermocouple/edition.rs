//! The edition of IEC 60584-1 that is built in, read once.

use std::fmt;
use std::sync::LazyLock;

use serde::Deserialize;

use super::function::{Range, ReferenceFunction};
use super::{ThermocoupleType, ToleranceClass};

/// What the standard says of one letter type.
#[derive(Debug)]
pub(super) struct Thermocouple {
    pub(super) function: ReferenceFunction,
    document: String,
    origin: Origin,
    tolerances: Vec<Tolerance>,
}

/// One tolerance class of one type.
#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct Tolerance {
    class: u8,
    pub(super) bottom_celsius: f64,
    pub(super) top_celsius: f64,
    least_kelvin: f64,
    share: f64,
    share_counts_from_celsius: Option<f64>,
    origin: Origin,
}

/// Where a number comes from, and how it stands.
#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
struct Origin {
    clause: String,
    standing: Standing,
    source: Option<String>,
}

#[derive(Clone, Copy, Debug, PartialEq, Eq, Deserialize)]
#[serde(rename_all = "lowercase")]
enum Standing {
    Seen,
    Memory,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct File {
    #[serde(rename = "title")]
    _title: String,
    document: String,
    edition: String,
    r#type: Vec<Type>,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct Type {
    letter: String,
    origin: Origin,
    range: Vec<Range>,
    tolerance: Vec<Tolerance>,
}

/// What the built-in edition says of `kind`.
pub(super) fn thermocouple(kind: ThermocoupleType) -> &'static Thermocouple {
    static EDITION: LazyLock<[Thermocouple; 8]> = LazyLock::new(built_in);
    &EDITION[kind as usize]
}

#[expect(clippy::panic, reason = "the file is part of the program: a broken one is our bug")]
fn built_in() -> [Thermocouple; 8] {
    let name = "standards/thermocouples/iec-60584-1/2013.toml";
    let text = include_str!("../../../../standards/thermocouples/iec-60584-1/2013.toml");
    read(text).unwrap_or_else(|cause| {
        panic!("{name} must hold all eight types, each rising but for the foot of B: {cause}")
    })
}

fn read(text: &str) -> Result<[Thermocouple; 8], String> {
    let file: File = toml::from_str(text).map_err(|cause| cause.to_string())?;
    let letters: Vec<&str> = file.r#type.iter().map(|kind| kind.letter.as_str()).collect();
    if letters != ThermocoupleType::ALL.map(ThermocoupleType::letter) {
        return Err(format!("it holds the types {}", letters.join(" ")));
    }
    let document = format!("{}:{}", file.document, file.edition);
    let read: Result<Vec<_>, _> =
        file.r#type.into_iter().map(|kind| kind.checked(&document)).collect();
    read?.try_into().map_err(|_| "the letters were counted above".to_owned())
}

impl Type {
    fn checked(self, document: &str) -> Result<Thermocouple, String> {
        let of_type = |why: &str| format!("type {}: {why}", self.letter);
        let origins =
            self.tolerance.iter().map(|tolerance| &tolerance.origin).chain([&self.origin]);
        for origin in origins {
            if (origin.standing == Standing::Seen) != origin.source.is_some() {
                return Err(of_type("a number is either seen in a source or from memory"));
            }
        }
        let function = ReferenceFunction::new(self.range).map_err(of_type)?;
        let document = document.to_owned();
        Ok(Thermocouple { function, document, origin: self.origin, tolerances: self.tolerance })
    }
}

impl Thermocouple {
    /// Where the reference function comes from.
    pub(super) fn origin(&self) -> String {
        format!("{}, {}", self.document, self.origin)
    }

    /// Where a tolerance comes from.
    pub(super) fn origin_of(&self, tolerance: &Tolerance) -> String {
        format!("{}, {}", self.document, tolerance.origin)
    }

    /// The tolerance of `class`, if there is one.
    pub(super) fn tolerance(&self, class: ToleranceClass) -> Option<&Tolerance> {
        self.tolerances.iter().find(|tolerance| tolerance.class == class.number())
    }
}

impl Tolerance {
    /// The tolerance in kelvin at `celsius`, or none where the class does not hold.
    pub(super) fn kelvin(&self, celsius: f64) -> Option<f64> {
        if !(self.bottom_celsius..=self.top_celsius).contains(&celsius) {
            return None;
        }
        Some(match self.share_counts_from_celsius {
            None => self.least_kelvin.max(self.share * celsius.abs()),
            Some(from) => self.least_kelvin + self.share * (celsius - from).max(0.0),
        })
    }
}

impl fmt::Display for Origin {
    fn fmt(&self, out: &mut fmt::Formatter<'_>) -> fmt::Result {
        match &self.source {
            Some(source) => write!(out, "{} (seen in {source})", self.clause),
            None => write!(out, "{} (from memory)", self.clause),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const BUILT_IN: &str =
        include_str!("../../../../standards/thermocouples/iec-60584-1/2013.toml");

    fn check(was: &str, becomes: &str, why: &str) {
        assert!(BUILT_IN.contains(was), "{was} is not in the file");
        let refused = read(&BUILT_IN.replacen(was, becomes, 1)).err().unwrap();
        assert!(refused.contains(why), "{refused}");
    }

    #[test]
    fn a_broken_file_is_refused_with_its_reason() {
        check("letter = \"K\"", "letter = \"C\"", "it holds the types B E J C N R S T");
        check("coefficients_millivolts", "coefficients", "unknown field `coefficients`");
        check(
            "standing = \"seen\", source = \"JIS-C-1602\"",
            "standing = \"seen\"",
            "type K: a number",
        );
        check("-3.8938168621, ", "-6.8938168621, ", "type B: the voltage falls");
        check(
            "bottom_celsius = 630.615",
            "bottom_celsius = 640.0",
            "type B: two ranges leave a gap",
        );
    }
}
