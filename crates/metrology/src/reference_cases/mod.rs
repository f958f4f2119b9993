//! Numbers that others have published, beside the same numbers computed here and now.
//!
//! The tests hold each case to its tolerance; the program prints the same list on the
//! laboratory's own machine and writes its validation sheet from it.
//!
//! A source that says *from memory* was not at hand when its number was written down; the
//! arithmetic behind each of those was done again by other means.

mod guide;
mod trials;
mod decisions;
mod proportions;
mod lines;
mod charts;
mod thermocouples;

/// One published number and ours.
#[derive(Clone, Debug, PartialEq)]
pub struct ReferenceCase {
    /// What is computed.
    pub name: String,
    /// Where their number stands.
    pub source: &'static str,
    /// The unit of all the numbers below; `1` for a pure number.
    pub unit: &'static str,
    /// What this machine makes of it; not a number if it could not be computed.
    pub ours: f64,
    /// What was published.
    pub theirs: f64,
    /// How far the two may differ: half a unit in the last printed digit, and for trials four
    /// standard deviations of their own scatter besides.
    pub tolerance: f64,
    /// Why a difference is to be expected, where one is.
    pub remark: Option<&'static str>,
}

impl ReferenceCase {
    /// Ours less theirs.
    #[must_use]
    pub fn difference(&self) -> f64 {
        self.ours - self.theirs
    }

    /// Whether ours lies within the tolerance. Not a number never does.
    #[must_use]
    pub fn agrees(&self) -> bool {
        self.difference().abs() <= self.tolerance
    }
}

/// All cases of this room, computed now. Takes a second or two: some are a million trials.
#[must_use]
pub fn reference_cases() -> Vec<ReferenceCase> {
    let mut cases = Vec::new();
    cases.extend(thermocouples::cases());
    cases.extend(guide::cases());
    cases.extend(lines::cases());
    cases.extend(trials::cases());
    cases.extend(decisions::cases());
    cases.extend(proportions::cases());
    cases.extend(charts::cases());
    cases
}

/// Cases that share a source and a unit.
struct Group {
    source: &'static str,
    unit: &'static str,
}

impl Group {
    /// A case with the number as printed, and half a unit of its last digit as tolerance.
    fn case(&self, name: &str, ours: f64, theirs: f64, tolerance: f64) -> ReferenceCase {
        ReferenceCase {
            name: name.to_owned(),
            source: self.source,
            unit: self.unit,
            ours,
            theirs,
            tolerance,
            remark: None,
        }
    }
}
