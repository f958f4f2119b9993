//! The written form of facts, one file a version. What is written once is read for ever.

mod form;
mod issued;
mod json;
mod signed;
mod v1;

use thiserror::Error;
use trial::confirmation::DeterminationSource;
use trial::fact::{EvidenceHash, Fact};
use trial::signature::Signed;

pub use form::FormError;
pub(crate) use json::Json;
pub use json::JsonError;

/// A fact in its written form.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Form {
    /// What sort of thing it says.
    pub kind: String,
    /// The version of its form.
    pub form: u32,
    /// What it says, as canonical bytes.
    pub body: Vec<u8>,
}

/// Why an entry does not say anything that is known here.
#[derive(Clone, Debug, PartialEq, Eq, Error)]
pub enum ReadError {
    /// A later version of this program wrote it.
    #[error("it is written in form {found}; this program knows forms up to {known}")]
    Newer {
        /// The form of the entry.
        found: u32,
        /// The last form known here.
        known: u32,
    },
    /// Its body is not canonical.
    #[error(transparent)]
    Json(#[from] JsonError),
    /// Its body does not say what its kind says.
    #[error(transparent)]
    Form(#[from] FormError),
}

/// Writes a fact in the present form.
#[must_use]
pub fn write(fact: &Fact) -> Form {
    let (kind, body) = v1::write(fact);
    Form { kind: kind.to_owned(), form: v1::FORM, body: body.to_bytes() }
}

/// Reads a fact.
///
/// # Errors
///
/// [`ReadError`]: a form of tomorrow, a body that is not canonical, a body that says something
/// else than its kind.
pub fn read(kind: &str, form: u32, body: &[u8]) -> Result<Fact, ReadError> {
    match form {
        v1::FORM => {
            let fact = v1::read(kind, Json::from_bytes(body)?)?;
            // A quantity, a moment or a date may be spelled in another way within its text.
            let same = v1::write(&fact).1.to_bytes() == body;
            if same { Ok(fact) } else { Err(JsonError::Spelling.into()) }
        }
        found => Err(ReadError::Newer { found, known: v1::FORM }),
    }
}

/// A signed thing in its written form.
pub(crate) fn what_signed(what: Signed) -> Json {
    form::Written::write(&what)
}

/// The evidence files that a fact rests on, in the order in which it names them.
#[must_use]
pub fn evidence(fact: &Fact) -> Vec<EvidenceHash> {
    match fact {
        Fact::CalibrationRecorded(calibration) => {
            calibration.evidence.iter().map(|evidence| evidence.hash).collect()
        }
        Fact::PlanDrawnUp { rules, .. } => {
            rules.iter().map(|used| EvidenceHash(used.hash.0)).collect()
        }
        Fact::DeterminationRecorded(determination) => match &determination.source {
            DeterminationSource::Trace { evidence, .. } => vec![evidence.hash],
            DeterminationSource::Typed { .. } => Vec::new(),
        },
        Fact::RunRecorded { observed, .. } => {
            observed.evidence.iter().map(|evidence| evidence.hash).collect()
        }
        Fact::FilmKept { film: file, .. } | Fact::SpecimenPhotographed { photo: file, .. } => {
            vec![file.hash]
        }
        Fact::FilmHeard { film, .. } | Fact::FilmPlaced { film, .. } => vec![*film],
        Fact::CoolingKept(cooling) => vec![cooling.evidence.hash],
        Fact::ProgramValidated(validation) => vec![validation.sheet.hash],
        Fact::ReportIssued(report) => vec![report.content, report.pdf],
        Fact::Corrected { by: Some(fact), .. } => evidence(fact),
        Fact::BookOpened { .. }
        | Fact::PersonAdmitted { .. }
        | Fact::PersonEntrusted(_)
        | Fact::PersonDisabled { .. }
        | Fact::EquipmentRegistered(_)
        | Fact::EquipmentWithdrawn { .. }
        | Fact::LotOpened(_)
        | Fact::CautionsAcknowledged { .. }
        | Fact::SpecimensAdded { .. }
        | Fact::ConditioningRecorded(_)
        | Fact::ReadinessFound { .. }
        | Fact::DeterminationVoided { .. }
        | Fact::FlameConfirmed { .. }
        | Fact::BaseLineFrozen(_)
        | Fact::BlockWeighed(_)
        | Fact::PressesKept { .. }
        | Fact::TimekeeperTaken { .. }
        | Fact::TimesAccepted { .. }
        | Fact::SpecimenSpoilt { .. }
        | Fact::VerdictReached { .. }
        | Fact::KeyBegun(_)
        | Fact::NumberVerified { .. }
        | Fact::FlameCallAnswered { .. }
        | Fact::CareDone(_)
        | Fact::CareIntervalSet(_)
        | Fact::DueLetThrough(_)
        | Fact::BenchCommissioned(_)
        | Fact::Signed(_)
        | Fact::SentBack(_)
        | Fact::SigningRuled(_)
        | Fact::FaultMet(_)
        | Fact::Corrected { by: None, .. }
        | Fact::StageRefused { .. } => Vec::new(),
    }
}

/// Each kind of entry with one line on what it says, in the order of their names.
#[must_use]
pub fn catalogue() -> Vec<(&'static str, &'static str)> {
    let mut kinds = v1::KINDS.to_vec();
    kinds.sort_unstable();
    kinds
}

/// The manual's page of entries.
#[must_use]
pub fn manual_page() -> String {
    let mut page = String::from(
        "# Entries\n\n\
         What the record can say. Each entry has a number, the hash of the entry before it, a time \
         in UTC, who wrote it, its kind, and a body in canonical JSON; quantities stand as texts \
         with their unit. Nothing is changed or removed: a mistake is put right by an entry \
         `corrected`, and both stay visible.\n\n\
         The record proves that nothing was changed since a head that someone outside has seen: see \
         [proof.md](proof.md).\n",
    );
    for (kind, line) in catalogue() {
        page.push_str(&format!("\n## {kind}\n\n{line}\n"));
    }
    page
}
