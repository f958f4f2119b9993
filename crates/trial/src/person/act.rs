//! The table of roles and acts: what is done in a laboratory's book, and who may do it.

use super::Role;
use super::Role::{Administrator, Engineer, QualityManager, Technician};
use crate::fact::{Authorisation, Fact};
use crate::finding::words;
use crate::signature::{Meaning, Signed};

words! {
    /// What is done in a book. Each page, command and fact names one of them.
    Act {
        /// See pages and files.
        Look = "look",
        /// See to one's own sign-ins.
        OwnSignIn = "own-sign-in",
        /// Prepare a test.
        Prepare = "prepare",
        /// Confirm the flame.
        ConfirmFlame = "confirm-flame",
        /// Test.
        Test = "test",
        /// Add evidence.
        AddEvidence = "add-evidence",
        /// Care for the bench.
        CareForBench = "care-for-bench",
        /// Judge the runs by the rules.
        Judge = "judge",
        /// Plan.
        Plan = "plan",
        /// Review.
        Review = "review",
        /// Issue reports.
        Issue = "issue",
        /// Correct what others recorded.
        Amend = "amend",
        /// Keep the equipment.
        KeepEquipment = "keep-equipment",
        /// Watch the flame.
        WatchFlame = "watch-flame",
        /// Hold numbers against the laboratory's own copy.
        VerifyNumbers = "verify-numbers",
        /// Check the record.
        CheckRecord = "check-record",
        /// Look after people.
        LookAfterPeople = "look-after-people",
        /// Look after the server.
        LookAfterServer = "look-after-server",
    }
}

/// Everyone.
const ALL: &[Role] = Role::ALL;
/// Those who do the tests.
const TESTS: &[Role] = &[Technician, Engineer];
/// All but administrators.
const TRADE: &[Role] = &[Technician, Engineer, QualityManager];
/// Those who answer for the work of others.
const ANSWERS: &[Role] = &[Engineer, QualityManager];

impl Act {
    /// The roles that may do it. This is the table: nothing else says who may do what.
    #[must_use]
    pub const fn roles(self) -> &'static [Role] {
        match self {
            Self::Look | Self::OwnSignIn | Self::CheckRecord => ALL,
            Self::CareForBench => TRADE,
            Self::Prepare | Self::ConfirmFlame | Self::AddEvidence | Self::Judge => TESTS,
            Self::Test => &[Technician],
            Self::Plan | Self::Review => &[Engineer],
            Self::Issue
            | Self::Amend
            | Self::KeepEquipment
            | Self::WatchFlame
            | Self::VerifyNumbers => ANSWERS,
            Self::LookAfterPeople | Self::LookAfterServer => &[Administrator],
        }
    }

    /// The authorisation by method that it takes besides a role.
    #[must_use]
    pub const fn authorisation(self) -> Option<Authorisation> {
        match self {
            Self::Test => Some(Authorisation::Test),
            Self::Review => Some(Authorisation::Review),
            Self::Issue => Some(Authorisation::Issue),
            Self::Look
            | Self::OwnSignIn
            | Self::Prepare
            | Self::ConfirmFlame
            | Self::AddEvidence
            | Self::CareForBench
            | Self::Judge
            | Self::Plan
            | Self::Amend
            | Self::KeepEquipment
            | Self::WatchFlame
            | Self::VerifyNumbers
            | Self::CheckRecord
            | Self::LookAfterPeople
            | Self::LookAfterServer => None,
        }
    }

    /// The act that takes an authorisation.
    #[must_use]
    pub const fn authorised(authorisation: Authorisation) -> Self {
        match authorisation {
            Authorisation::Test => Self::Test,
            Authorisation::Review => Self::Review,
            Authorisation::Issue => Self::Issue,
        }
    }

    /// As it is read, after "to".
    #[must_use]
    pub const fn told(self) -> &'static str {
        match self {
            Self::Look => "see pages and files",
            Self::OwnSignIn => "see to one's own sign-ins",
            Self::Prepare => "prepare a test",
            Self::ConfirmFlame => "confirm the flame",
            Self::Test => "test",
            Self::AddEvidence => "add films and files",
            Self::CareForBench => "care for the bench",
            Self::Judge => "judge the runs by the rules",
            Self::Plan => "plan a test",
            Self::Review => "review",
            Self::Issue => "issue reports",
            Self::Amend => "correct what others recorded",
            Self::KeepEquipment => "keep the equipment",
            Self::WatchFlame => "watch the flame's drift",
            Self::VerifyNumbers => "hold numbers against the laboratory's own copy",
            Self::CheckRecord => "check the record",
            Self::LookAfterPeople => "look after people",
            Self::LookAfterServer => "look after the server",
        }
    }

    /// The act that a signature is.
    #[must_use]
    pub const fn signing(what: Signed, meaning: Meaning) -> Self {
        match (what, meaning) {
            (_, Meaning::Tested) => Self::Test,
            (Signed::Plan(_) | Signed::Report(_), Meaning::Reviewed) => Self::Review,
            (Signed::Plan(_) | Signed::Report(_), Meaning::Approved) => Self::Issue,
            (Signed::BaseLine(_) | Signed::FlameCall(_), _) => Self::WatchFlame,
            (Signed::Commissioning(_), _) => Self::KeepEquipment,
            (Signed::Specimen { .. } | Signed::Trail { .. }, _) => Self::Amend,
        }
    }

    /// The act by which a fact comes to the record. A correction is asked for by what it corrects.
    #[must_use]
    pub const fn of(fact: &Fact) -> Self {
        match fact {
            Fact::BookOpened { .. }
            | Fact::PersonAdmitted { .. }
            | Fact::PersonEntrusted(_)
            | Fact::PersonDisabled { .. } => Self::LookAfterPeople,
            Fact::EquipmentRegistered(_)
            | Fact::CalibrationRecorded(_)
            | Fact::EquipmentWithdrawn { .. }
            | Fact::CareIntervalSet(_)
            | Fact::BenchCommissioned(_) => Self::KeepEquipment,
            Fact::LotOpened(_) | Fact::CareDone(_) | Fact::BlockWeighed(_) => Self::CareForBench,
            Fact::PlanDrawnUp { .. } => Self::Plan,
            Fact::CautionsAcknowledged { .. }
            | Fact::SpecimensAdded { .. }
            | Fact::ConditioningRecorded(_)
            | Fact::ReadinessFound { .. }
            | Fact::SpecimenSpoilt { .. } => Self::Prepare,
            Fact::DeterminationRecorded(_)
            | Fact::DeterminationVoided { .. }
            | Fact::FlameConfirmed { .. }
            | Fact::CoolingKept(_) => Self::ConfirmFlame,
            Fact::Signed(signature) => Self::signing(signature.what, signature.meaning),
            Fact::SentBack(_) => Self::Review,
            Fact::SigningRuled(_) => Self::Issue,
            // The first key of a book begins by itself.
            Fact::KeyBegun(key) if key.in_place_of.is_none() => Self::Look,
            Fact::KeyBegun(_) => Self::LookAfterServer,
            Fact::BaseLineFrozen(_) | Fact::FlameCallAnswered { .. } => Self::WatchFlame,
            Fact::RunRecorded { .. } | Fact::PressesKept { .. } | Fact::TimekeeperTaken { .. } => {
                Self::Test
            }
            Fact::SpecimenPhotographed { .. }
            | Fact::FilmKept { .. }
            | Fact::FilmHeard { .. }
            | Fact::FilmPlaced { .. } => Self::AddEvidence,
            Fact::VerdictReached { .. } => Self::Judge,
            Fact::TimesAccepted { .. } | Fact::DueLetThrough(_) => Self::Review,
            Fact::ReportIssued(_) => Self::Issue,
            Fact::NumberVerified { .. } => Self::VerifyNumbers,
            Fact::Corrected { .. } => Self::Amend,
            Fact::ProgramValidated(_) => Self::VerifyNumbers,
            // That a stage said no, or a fault was met, is kept whoever it befell.
            Fact::StageRefused { .. } | Fact::FaultMet(_) => Self::Look,
        }
    }
}
