//! Signatures: what is signed, in what meaning, and by which content it is held.
//!
//! A signature covers the facts that make the thing signed ([`crate::history::History::content`]);
//! its hash is of their written form. Once one more fact belongs to the thing, the signature no
//! longer covers it, and whoever shows it says so.

use crate::evidence::EvidenceHash;
use crate::finding::words;
use crate::number::{
    BaseLineNumber, ConfirmationNumber, EntryNumber, PersonName, PlanNumber, ReportNumber,
    SpecimenNumber,
};
use std::fmt;
use thiserror::Error;

/// What can be signed.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Signed {
    /// What was seen of a specimen.
    Specimen {
        /// Of which plan.
        plan: PlanNumber,
        /// Which.
        specimen: SpecimenNumber,
    },
    /// All that belongs to a plan, up to its verdict.
    Plan(PlanNumber),
    /// An issued report.
    Report(ReportNumber),
    /// A base line of the flame.
    BaseLine(BaseLineNumber),
    /// What was done about the call of the flame chart at this confirmation.
    FlameCall(ConfirmationNumber),
    /// The list of a new bench, by the entry that keeps it.
    Commissioning(EntryNumber),
    /// The trail of the record, from an entry to another, both included.
    Trail {
        /// The first.
        from: EntryNumber,
        /// The last.
        until: EntryNumber,
    },
}

impl Signed {
    /// The word by which addresses and commands name it, such as `specimen-1-2`.
    #[must_use]
    pub fn word(self) -> String {
        match self {
            Self::Specimen { plan, specimen } => format!("specimen-{}-{specimen}", plan.0),
            Self::Plan(plan) => format!("plan-{}", plan.0),
            Self::Report(report) => format!("report-{}", report.0),
            Self::BaseLine(number) => format!("base-line-{}", number.0),
            Self::FlameCall(number) => format!("flame-call-{}", number.0),
            Self::Commissioning(entry) => format!("commissioning-{entry}"),
            Self::Trail { from, until } => format!("trail-{from}-{until}"),
        }
    }

    /// The thing that a word names.
    ///
    /// ```
    /// # use trial::signature::Signed;
    /// # use trial::number::{PlanNumber, SpecimenNumber};
    /// let two = Signed::Specimen { plan: PlanNumber(1), specimen: SpecimenNumber(2) };
    /// assert_eq!(Signed::of_word("specimen-1-2"), Some(two));
    /// assert_eq!(Signed::of_word("specimen-1"), None);
    /// ```
    #[must_use]
    pub fn of_word(word: &str) -> Option<Self> {
        let after = |kind: &str| word.strip_prefix(kind);
        let one = |kind: &str| after(kind)?.parse::<u32>().ok();
        let both = |kind: &str| {
            let (first, second) = after(kind)?.split_once('-')?;
            Some((first.parse::<u64>().ok()?, second.parse::<u64>().ok()?))
        };
        let small = |number: u64| u32::try_from(number).ok();
        if let Some((plan, specimen)) = both("specimen-") {
            let (plan, specimen) = (PlanNumber(small(plan)?), SpecimenNumber(small(specimen)?));
            return Some(Self::Specimen { plan, specimen });
        }
        if let Some((from, until)) = both("trail-") {
            return Some(Self::Trail { from: EntryNumber(from), until: EntryNumber(until) });
        }
        if let Some(entry) = after("commissioning-") {
            return Some(Self::Commissioning(EntryNumber(entry.parse().ok()?)));
        }
        let plan = one("plan-").map(|number| Self::Plan(PlanNumber(number)));
        let report = || one("report-").map(|number| Self::Report(ReportNumber(number)));
        let line = || one("base-line-").map(|number| Self::BaseLine(BaseLineNumber(number)));
        let call = || one("flame-call-").map(|number| Self::FlameCall(ConfirmationNumber(number)));
        plan.or_else(report).or_else(line).or_else(call)
    }

    /// In which meanings it can be signed, the usual one first.
    #[must_use]
    pub const fn meanings(self) -> &'static [Meaning] {
        match self {
            Self::Specimen { .. } => &[Meaning::Tested],
            Self::Plan(_) => &[Meaning::Approved, Meaning::Reviewed],
            Self::Report(_) | Self::BaseLine(_) | Self::Commissioning(_) => &[Meaning::Approved],
            Self::FlameCall(_) | Self::Trail { .. } => &[Meaning::Reviewed],
        }
    }

    /// The plan it belongs to, where it belongs to one.
    #[must_use]
    pub const fn plan(self) -> Option<PlanNumber> {
        match self {
            Self::Specimen { plan, .. } | Self::Plan(plan) => Some(plan),
            Self::Report(_)
            | Self::BaseLine(_)
            | Self::FlameCall(_)
            | Self::Commissioning(_)
            | Self::Trail { .. } => None,
        }
    }
}

impl fmt::Display for Signed {
    fn fmt(&self, out: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Specimen { plan, specimen } => write!(out, "specimen {specimen} of plan {plan}"),
            Self::Plan(plan) => write!(out, "plan {plan}"),
            Self::Report(report) => write!(out, "report {report}"),
            Self::BaseLine(number) => write!(out, "base line {number}"),
            Self::FlameCall(number) => {
                write!(out, "what was done about the call of the flame chart at {number}")
            }
            Self::Commissioning(entry) => write!(out, "the list of a new bench (entry {entry})"),
            Self::Trail { from, until } => write!(out, "the trail, entries {from} to {until}"),
        }
    }
}

words! {
    /// What a signature means.
    Meaning {
        /// The person made the test, and stands for what was seen.
        Tested = "tested",
        /// The person looked it through.
        Reviewed = "reviewed",
        /// The person lets it go out.
        Approved = "approved",
    }
}

impl Meaning {
    /// As it stands before a name.
    #[must_use]
    pub const fn told(self) -> &'static str {
        match self {
            Self::Tested => "Tested by",
            Self::Reviewed => "Reviewed by",
            Self::Approved => "Approved by",
        }
    }
}

words! {
    /// By what the program knew who signed.
    Identified {
        /// By a password, at the moment of signing.
        Password = "password",
        /// By the name alone: the person has no password in this book.
        Name = "name",
    }
}

words! {
    /// Whether one person may test and approve the same plan.
    SamePerson {
        /// No.
        Refused = "refused",
        /// Yes: the laboratory wrote why.
        Allowed = "allowed",
    }
}

/// The SHA-256 of the content that a signature covers.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub struct ContentHash(pub [u8; 32]);

impl fmt::Display for ContentHash {
    fn fmt(&self, out: &mut fmt::Formatter<'_>) -> fmt::Result {
        EvidenceHash(self.0).fmt(out)
    }
}

/// A signature. Who signed and when stands in its entry.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Signature {
    /// What is signed.
    pub what: Signed,
    /// What the signature means.
    pub meaning: Meaning,
    /// The content it covers.
    pub content: ContentHash,
    /// The last entry of that content: nothing later belonged to it.
    pub last: EntryNumber,
    /// By what the program knew who signed.
    pub identified: Identified,
}

/// A review that was sent back.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct SentBack {
    /// Which plan.
    pub plan: PlanNumber,
    /// The specimens to look at again.
    pub specimens: Vec<SpecimenNumber>,
    /// What is to be looked at.
    pub note: String,
}

/// Which signatures a laboratory asks for before a report.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct SigningRule {
    /// In which meanings; none if it signs elsewhere.
    pub asked: Vec<Meaning>,
    /// Whether one person may test and approve.
    pub same_person: SamePerson,
    /// Why.
    pub reason: String,
}

/// Why a person cannot sign.
#[derive(Clone, Debug, PartialEq, Eq, Error)]
pub enum SigningError {
    /// There is nothing of the kind.
    #[error("{what} is not there to be signed: {missing}")]
    Nothing {
        /// What was to be signed.
        what: Signed,
        /// What of it is missing.
        missing: &'static str,
    },
    /// It is not signed in this meaning.
    #[error("{what} is not signed as {meaning}")]
    Meaning {
        /// What.
        what: Signed,
        /// In which meaning.
        meaning: Meaning,
    },
    /// The person is not authorised.
    #[error("{who} is not authorised to sign {what} as {meaning}")]
    NotAuthorised {
        /// Who.
        who: PersonName,
        /// What.
        what: Signed,
        /// In which meaning.
        meaning: Meaning,
    },
    /// Another person tested it.
    #[error("{what} was tested by {}, not by {who}", listed(testers))]
    NotTheTester {
        /// Who.
        who: PersonName,
        /// What.
        what: Signed,
        /// Who did.
        testers: Vec<PersonName>,
    },
    /// The person tested what they would review or approve.
    #[error("{who} tested specimens of plan {plan}, and does not sign it as {meaning}")]
    SamePerson {
        /// Who.
        who: PersonName,
        /// Which plan.
        plan: PlanNumber,
        /// In which meaning.
        meaning: Meaning,
    },
    /// Something comes before it.
    #[error("{first} comes first")]
    Order {
        /// What.
        first: String,
    },
}

impl SigningError {
    /// The way out.
    #[must_use]
    pub const fn hint(&self) -> &'static str {
        match self {
            Self::Nothing { .. } => "Look at the record: it says what there is.",
            Self::Meaning { .. } => {
                "A specimen is signed as tested; a plan as reviewed or approved."
            }
            Self::NotAuthorised { .. } => "Ask a person who is authorised for it.",
            Self::NotTheTester { .. } => "Let the person who tested it sign it.",
            Self::SamePerson { .. } => {
                "Let another person sign it, or let the laboratory allow it in writing: the \
                 reason prints on the report."
            }
            Self::Order { .. } => "Do that, then sign.",
        }
    }
}

fn listed(people: &[PersonName]) -> String {
    people.iter().map(ToString::to_string).collect::<Vec<_>>().join(" and ")
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn each_thing_is_named_by_a_word_of_its_own() {
        let all = [
            Signed::Specimen { plan: PlanNumber(7), specimen: SpecimenNumber(2) },
            Signed::Plan(PlanNumber(7)),
            Signed::Report(ReportNumber(3)),
            Signed::BaseLine(BaseLineNumber(1)),
            Signed::FlameCall(ConfirmationNumber(12)),
            Signed::Commissioning(EntryNumber(46)),
            Signed::Trail { from: EntryNumber(1), until: EntryNumber(40) },
        ];
        for one in all {
            assert_eq!(Signed::of_word(&one.word()), Some(one), "{one}");
            assert!(!one.meanings().is_empty());
        }
        for none in ["", "plan", "plan-x", "specimen-1", "trail-1", "report--1", "plan-99999999999"]
        {
            assert_eq!(Signed::of_word(none), None, "{none}");
        }
    }

    #[test]
    fn a_signature_says_what_it_means_and_of_which_plan_it_is() {
        let specimen = Signed::Specimen { plan: PlanNumber(7), specimen: SpecimenNumber(2) };
        let plans = [specimen, Signed::Plan(PlanNumber(8))].map(Signed::plan);
        assert_eq!(plans, [7, 8].map(|number| Some(PlanNumber(number))));
        assert_eq!(Signed::Report(ReportNumber(7)).plan(), None);
        let told = [Meaning::Tested, Meaning::Reviewed, Meaning::Approved].map(Meaning::told);
        assert_eq!(told, ["Tested by", "Reviewed by", "Approved by"]);
        assert_eq!(ContentHash([0x5e; 32]).to_string(), "5e".repeat(32));
        let (who, testers) = ("Cy".into(), vec!["Ada".into(), "Bea".into()]);
        let refused = SigningError::NotTheTester { who, what: specimen, testers };
        let said = "specimen 2 of plan P-7 was tested by Ada and Bea, not by Cy";
        assert_eq!(refused.to_string(), said);
        assert_eq!(refused.hint(), "Let the person who tested it sign it.");
    }
}
