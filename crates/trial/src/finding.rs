//! Why a stage says no.

use std::fmt;

/// One reason why a stage says no, or what it has to remark. A stage gives all of them at once.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub struct Finding {
    /// The stage that says it.
    pub stage: Stage,
    /// What it is about.
    pub kind: FindingKind,
    /// What was found, with the value, the limit and which one.
    pub text: String,
    /// The way out, a full sentence.
    pub hint: String,
}

impl Finding {
    pub(crate) fn new(stage: Stage, kind: FindingKind, text: String, hint: &str) -> Self {
        Self { stage, kind, text, hint: hint.to_owned() }
    }
}

impl fmt::Display for Finding {
    fn fmt(&self, out: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(out, "{}: {}", self.kind, self.text)
    }
}

macro_rules! words {
    ($(#[$doc:meta])* $name:ident { $($(#[$line:meta])* $variant:ident = $word:literal,)* }) => {
        $(#[$doc])*
        #[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
        pub enum $name {
            $($(#[$line])* $variant,)*
        }

        impl $name {
            /// All of them, in order.
            pub const ALL: &[Self] = &[$(Self::$variant),*];

            /// The word in the record, in JSON and in files.
            #[must_use]
            pub const fn word(self) -> &'static str {
                match self {
                    $(Self::$variant => $word,)*
                }
            }

            /// The one with this word.
            #[must_use]
            pub fn of_word(word: &str) -> Option<Self> {
                Self::ALL.iter().copied().find(|known| known.word() == word)
            }
        }

        impl std::fmt::Display for $name {
            fn fmt(&self, out: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
                out.write_str(self.word())
            }
        }
    };
}
pub(crate) use words;

words! {
    /// The stages of a test.
    Stage {
        /// What will be tested.
        Plan = "plan",
        /// May it begin?
        Readiness = "readiness",
        /// Is the flame right?
        Confirmation = "confirmation",
        /// One specimen in the flame.
        Run = "run",
        /// What the runs mean.
        Verdict = "verdict",
        /// Does another person agree?
        Review = "review",
        /// What is handed out.
        Report = "report",
    }
}

words! {
    /// What a finding is about.
    FindingKind {
        /// Something needed is not said.
        Missing = "missing",
        /// A choice goes beyond what the rules leave open.
        Choice = "choice",
        /// Equipment is unknown, withdrawn, or of the wrong kind.
        Equipment = "equipment",
        /// Equipment is out of calibration.
        Calibration = "calibration",
        /// An act of care is due.
        Care = "care",
        /// Specimens or layer are not conditioned.
        Conditioning = "conditioning",
        /// A person is unknown or not authorised.
        Person = "person",
        /// The cautions were not acknowledged.
        Cautions = "cautions",
        /// Too few determinations count.
        Determinations = "determinations",
        /// The block was too warm at a start.
        BlockWarm = "block-warm",
        /// The flame was too low or too high.
        FlameHeight = "flame-height",
        /// A rise time lies outside the band.
        RiseTime = "rise-time",
        /// A rise time lies too near an edge of the band to say.
        RiseTimeUndecided = "rise-time-undecided",
        /// The confirmation no longer holds.
        Lapsed = "lapsed",
        /// Typed times need a second person.
        SecondPerson = "second-person",
        /// The specimen is not of the plan, or was used before.
        Specimen = "specimen",
        /// Times are in an order that no run can have.
        Order = "order",
        /// Two things that were noted cannot both be so.
        Contradiction = "contradiction",
        /// The number of applications is not the one asked for.
        Applications = "applications",
        /// The flame was removed too early or too late.
        Application = "application",
        /// The pause between two applications was not the one asked for.
        Pause = "pause",
        /// The air of the test was not as asked for.
        Atmosphere = "atmosphere",
        /// The specimen was put out by hand before the limit could decide.
        PutOut = "put-out",
        /// The specimen was spoilt.
        Spoilt = "spoilt",
        /// Runs of another plan were handed in.
        OtherPlan = "other-plan",
    }
}
