//! The facts of the record: everything that a laboratory does or finds, in past participles.

use crate::base_line::BaseLine;
use crate::bench::{DeviceId, Press, SittingId};
pub use crate::book_key::{BookKey, KeyBytes, SignatureBytes};
use crate::care::{Care, CareInterval, DueLet};
use crate::commissioning::Commissioning;
use crate::confirmation::Determination;
pub use crate::confirmation::{Cooling, Weighing};
pub use crate::equipment::{Calibration, CalibrationNeed, Equipment, EquipmentKind, Lot, LotKind};
pub use crate::evidence::{Evidence, EvidenceHash, EvidenceKind};
use crate::film::{FilmRecorded, TonesHeard};
use crate::finding::{Finding, Stage, words};
pub use crate::issued::{IssuedReport, Language};
use crate::machine::{FaultMet, Validation};
use crate::moment::{Elapsed, Moment};
use crate::number::{
    ConfirmationNumber, DeterminationNumber, EntryNumber, EquipmentNumber, PersonName, PlanNumber,
    SpecimenNumber,
};
use crate::person::Entrusted;
use crate::plan::Draft;
use crate::rules::{Key, Range, RulesId, RulesUsed};
use crate::run::Observed;
use crate::signature::{SentBack, Signature, SigningRule};
use crate::verdict::VerdictStanding;
use metrology::{Ratio, Temperature};

/// One entry of the record as a value.
#[derive(Clone, Debug, PartialEq)]
pub struct Recorded {
    /// Its number, from 1 on.
    pub entry: EntryNumber,
    /// When it was recorded.
    pub at: Moment,
    /// By whom.
    pub who: PersonName,
    /// What.
    pub fact: Fact,
}

/// What an entry says.
///
/// Facts hold what was said and seen; what follows from it (a run's times, a verdict's reasons) is
/// worked out again from them and held against what was recorded.
#[derive(Clone, Debug, PartialEq)]
pub enum Fact {
    /// The book was opened: the first fact.
    BookOpened {
        /// The laboratory.
        laboratory: Laboratory,
        /// Whether what follows is real.
        kind: BookKind,
    },
    /// A person was admitted, or changed, with authorisations for every method.
    PersonAdmitted {
        /// The name.
        person: PersonName,
        /// For what; empty if the laboratory does not state it.
        authorisations: Vec<Authorisation>,
    },
    /// A person was admitted with roles and authorisations, or these changed; who was disabled is back.
    PersonEntrusted(Box<Entrusted>),
    /// A person was disabled: from here on they do nothing more.
    PersonDisabled {
        /// Who.
        person: PersonName,
        /// Why.
        reason: String,
    },
    /// A piece of equipment was registered.
    EquipmentRegistered(Equipment),
    /// A calibration was recorded.
    CalibrationRecorded(Calibration),
    /// A piece of equipment was taken out of service.
    EquipmentWithdrawn {
        /// Which.
        equipment: EquipmentNumber,
        /// Why.
        reason: String,
    },
    /// A lot of gas, tissue or board was opened; a gas lot ends the confirmation.
    LotOpened(Lot),
    /// A person acknowledged the cautions before the first flame.
    CautionsAcknowledged {
        /// For which plan.
        plan: PlanNumber,
    },
    /// A plan was drawn up.
    PlanDrawnUp {
        /// What was drafted.
        draft: Box<Draft>,
        /// The rules of that day.
        rules: Vec<RulesUsed>,
    },
    /// Further specimens came to a plan.
    SpecimensAdded {
        /// The plan.
        plan: PlanNumber,
        /// Their numbers.
        specimens: Vec<SpecimenNumber>,
        /// Why.
        reason: String,
    },
    /// Specimens or layer were conditioned.
    ConditioningRecorded(Conditioning),
    /// Everything was found ready.
    ReadinessFound {
        /// For which plan.
        plan: PlanNumber,
    },
    /// A determination was made.
    DeterminationRecorded(Box<Determination>),
    /// A determination does not count; it stays visible.
    DeterminationVoided {
        /// Which.
        number: DeterminationNumber,
        /// Why.
        reason: String,
    },
    /// The flame was confirmed.
    FlameConfirmed {
        /// Number of the confirmation.
        number: ConfirmationNumber,
        /// Under which plan.
        plan: PlanNumber,
        /// By which determinations.
        determinations: Vec<DeterminationNumber>,
    },
    /// The base line of the flame was frozen.
    BaseLineFrozen(Box<BaseLine>),
    /// The cooling after a heating was kept, recorded apart from the heating.
    CoolingKept(Cooling),
    /// A copper block was weighed.
    BlockWeighed(Weighing),
    /// A run was recorded.
    RunRecorded {
        /// Of which plan.
        plan: PlanNumber,
        /// Under which confirmation.
        confirmation: ConfirmationNumber,
        /// What was seen.
        observed: Box<Observed>,
    },
    /// Presses at the bench were kept, in order and without a gap.
    PressesKept {
        /// Of which plan.
        plan: PlanNumber,
        /// Which specimen.
        specimen: SpecimenNumber,
        /// On which device.
        device: DeviceId,
        /// In which sitting.
        sitting: SittingId,
        /// The presses.
        presses: Vec<Press>,
    },
    /// Another sitting keeps the time of a specimen from here on.
    TimekeeperTaken {
        /// Of which plan.
        plan: PlanNumber,
        /// Which specimen.
        specimen: SpecimenNumber,
        /// On which device.
        device: DeviceId,
        /// By which sitting.
        sitting: SittingId,
        /// Why.
        reason: String,
    },
    /// A specimen was photographed before the flame came to it.
    SpecimenPhotographed {
        /// Of which plan.
        plan: PlanNumber,
        /// Which specimen.
        specimen: SpecimenNumber,
        /// The photograph.
        photo: Evidence,
    },
    /// A film of a specimen was kept.
    FilmKept {
        /// Of which plan.
        plan: PlanNumber,
        /// Of which specimen.
        specimen: SpecimenNumber,
        /// The film.
        film: Evidence,
        /// How it was recorded at the bench; none for a film that was added afterwards.
        recorded: Option<FilmRecorded>,
    },
    /// The bench's tones were heard in the sound of a film: where it would lie by them.
    FilmHeard {
        /// Of which plan.
        plan: PlanNumber,
        /// Of which specimen.
        specimen: SpecimenNumber,
        /// Which film.
        film: EvidenceHash,
        /// The time of the film at which the flame would be removed, the last time.
        removed: Elapsed,
        /// How surely.
        tones: TonesHeard,
    },
    /// It was said when in a film the flame is removed: film and presses share one scale then.
    FilmPlaced {
        /// Of which plan.
        plan: PlanNumber,
        /// Of which specimen.
        specimen: SpecimenNumber,
        /// Which film.
        film: EvidenceHash,
        /// The time of the film at which the flame is removed, the last time.
        removed: Elapsed,
    },
    /// The doubtful times of a specimen were accepted.
    TimesAccepted {
        /// Of which plan.
        plan: PlanNumber,
        /// Of which specimen.
        specimen: SpecimenNumber,
        /// Why.
        reason: String,
    },
    /// A specimen was spoilt, before or after its run: it is replaced, not judged.
    SpecimenSpoilt {
        /// Of which plan.
        plan: PlanNumber,
        /// Which.
        specimen: SpecimenNumber,
        /// Why.
        reason: String,
    },
    /// A verdict was reached.
    VerdictReached {
        /// On which plan.
        plan: PlanNumber,
        /// How it stands.
        standing: VerdictStanding,
        /// The account of [`crate::verdict::Verdict::account`]: judging again must give the same.
        account: String,
    },
    /// A report was issued.
    ReportIssued(IssuedReport),
    /// A key began to sign the heads of the book.
    KeyBegun(Box<BookKey>),
    /// A number was verified against the laboratory's own copy of the standard.
    NumberVerified {
        /// In which file.
        rules: RulesId,
        /// Which number.
        key: Key,
        /// The value that was found right, as the file writes it.
        text: String,
        /// Which copy.
        copy: String,
    },
    /// What was done about a call of the flame chart was noted: it closes the call.
    FlameCallAnswered {
        /// The confirmation at which the flame chart called.
        confirmation: ConfirmationNumber,
        /// What was done.
        done: String,
    },
    /// An act of care of the bench was done.
    CareDone(Care),
    /// The laboratory set how often it wants an act of care done.
    CareIntervalSet(CareInterval),
    /// An engineer lets a plan be tested although something is due.
    DueLetThrough(DueLet),
    /// A bench was gone through before its first test.
    BenchCommissioned(Commissioning),
    /// Something was signed.
    Signed(Signature),
    /// A review was sent back with a note.
    SentBack(SentBack),
    /// The laboratory set which signatures it asks for.
    SigningRuled(SigningRule),
    /// A fault of disk, machine or program was met, and something was done about it.
    FaultMet(FaultMet),
    /// The program was held against its reference cases on this machine.
    ProgramValidated(Validation),
    /// An earlier entry was corrected; it stays visible.
    Corrected {
        /// Which entry.
        entry: EntryNumber,
        /// Why.
        reason: String,
        /// What holds instead; none if nothing does.
        by: Option<Box<Self>>,
    },
    /// A stage said no.
    StageRefused {
        /// Which stage.
        stage: Stage,
        /// Of which plan.
        plan: PlanNumber,
        /// All its findings.
        findings: Vec<Finding>,
    },
}

/// The laboratory.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Laboratory {
    /// Name.
    pub name: String,
    /// Address.
    pub address: String,
    /// Where the tests are done.
    pub place: String,
}

words! {
    /// Whether a book holds real tests.
    BookKind {
        /// Real tests.
        Real = "real",
        /// Practice or demonstration: every page and file says so.
        MadeUp = "made-up",
    }
}

words! {
    /// What a person may do.
    Authorisation {
        /// Test.
        Test = "test",
        /// Review.
        Review = "review",
        /// Issue reports.
        Issue = "issue",
    }
}

/// What was conditioned.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Conditioned {
    /// These specimens.
    Specimens(Vec<SpecimenNumber>),
    /// Board and tissue.
    Layer,
}

/// A storage before the test.
#[derive(Clone, Debug, PartialEq)]
pub struct Conditioning {
    /// For which plan.
    pub plan: PlanNumber,
    /// What.
    pub what: Conditioned,
    /// From when.
    pub from: Moment,
    /// Until when.
    pub until: Moment,
    /// Lowest and highest temperature meanwhile.
    pub temperature: Range<Temperature>,
    /// Lowest and highest relative humidity meanwhile.
    pub humidity: Range<Ratio>,
}

impl Fact {
    /// Its kind as a word: the same in the record, in the manual and on screen.
    #[must_use]
    pub const fn kind(&self) -> &'static str {
        match self {
            Self::BookOpened { .. } => "book-opened",
            Self::PersonAdmitted { .. } => "person-admitted",
            Self::PersonEntrusted(_) => "person-entrusted",
            Self::PersonDisabled { .. } => "person-disabled",
            Self::EquipmentRegistered(_) => "equipment-registered",
            Self::CalibrationRecorded(_) => "calibration-recorded",
            Self::EquipmentWithdrawn { .. } => "equipment-withdrawn",
            Self::LotOpened(_) => "lot-opened",
            Self::CautionsAcknowledged { .. } => "cautions-acknowledged",
            Self::PlanDrawnUp { .. } => "plan-drawn-up",
            Self::SpecimensAdded { .. } => "specimens-added",
            Self::ConditioningRecorded(_) => "conditioning-recorded",
            Self::ReadinessFound { .. } => "readiness-found",
            Self::DeterminationRecorded(_) => "determination-recorded",
            Self::DeterminationVoided { .. } => "determination-voided",
            Self::FlameConfirmed { .. } => "flame-confirmed",
            Self::BaseLineFrozen(_) => "base-line-frozen",
            Self::CoolingKept(_) => "cooling-kept",
            Self::BlockWeighed(_) => "block-weighed",
            Self::RunRecorded { .. } => "run-recorded",
            Self::PressesKept { .. } => "presses-kept",
            Self::TimekeeperTaken { .. } => "timekeeper-taken",
            Self::SpecimenPhotographed { .. } => "specimen-photographed",
            Self::FilmKept { .. } => "film-kept",
            Self::FilmHeard { .. } => "film-heard",
            Self::FilmPlaced { .. } => "film-placed",
            Self::TimesAccepted { .. } => "times-accepted",
            Self::SpecimenSpoilt { .. } => "specimen-spoilt",
            Self::VerdictReached { .. } => "verdict-reached",
            Self::ReportIssued(_) => "report-issued",
            Self::KeyBegun(_) => "key-begun",
            Self::NumberVerified { .. } => "number-verified",
            Self::FlameCallAnswered { .. } => "flame-call-answered",
            Self::CareDone(_) => "care-done",
            Self::CareIntervalSet(_) => "care-interval-set",
            Self::DueLetThrough(_) => "due-let-through",
            Self::BenchCommissioned(_) => "bench-commissioned",
            Self::Signed(_) => "signed",
            Self::SentBack(_) => "sent-back",
            Self::SigningRuled(_) => "signing-ruled",
            Self::FaultMet(_) => "fault-met",
            Self::ProgramValidated(_) => "program-validated",
            Self::Corrected { .. } => "corrected",
            Self::StageRefused { .. } => "stage-refused",
        }
    }
}
