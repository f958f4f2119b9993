//! The facts so far, and which stage they have reached.

use crate::bench::{Press, SittingId, Standing, stand};
use crate::confirmation::{Confirmed, Determination};
use crate::fact::{
    BookKind, Calibration, Conditioning, Equipment, Evidence, Fact, IssuedReport, Laboratory, Lot,
    LotKind, Recorded,
};
use crate::film::Film;
use crate::moment::{Elapsed, Moment};
use crate::number::{
    ConfirmationNumber, DeterminationNumber, EntryNumber, EquipmentNumber, LotNumber, PersonName,
    PlanNumber, ReportNumber, SpecimenNumber,
};
use crate::person::Admitted;
use crate::plan::Plan;
use crate::readiness::Ready;
use crate::rules::{Key, Library, RulesId};
use crate::run::Run;
use crate::verdict::{Verdict, judge};
use jiff::civil::Date;
use metrology::Duration;
use std::collections::{BTreeMap, BTreeSet};

mod doubted;
mod bench_known;
mod amended;
mod signed;
mod may_sign;
mod correct;
mod error;
mod people;
mod recorded;
mod replay;
mod sitting;
mod upkeep;

pub use amended::Amendment;
use bench_known::BenchKnown;
pub use bench_known::RecordedBaseLine;
pub use doubted::TimesAccepted;
pub use error::{HistoryError, HistoryProblem};
pub use may_sign::Wanted;
pub use recorded::{
    Correction, RecordedConfirmation, RecordedRun, RecordedVerdict, Refusal, Verified,
};
use signed::Signatures;
pub use signed::{Covering, RecordedSentBack, RecordedSignature, RecordedSigningRule};
pub use sitting::Sitting;
use sitting::Sittings;
use upkeep::Upkeep;
pub use upkeep::{
    FlameAnswer, RecordedCare, RecordedCommissioning, RecordedLet, RecordedValidation,
};

/// The facts of a book, replayed in their order.
#[derive(Clone, Debug, Default)]
pub struct History {
    entries: Vec<Recorded>,
    laboratory: Option<(Laboratory, BookKind)>,
    people: BTreeMap<PersonName, Admitted>,
    equipment: BTreeMap<EquipmentNumber, Equipment>,
    calibrations: BTreeMap<EquipmentNumber, Vec<Calibration>>,
    withdrawn: BTreeMap<EquipmentNumber, String>,
    lots: Vec<(Moment, Lot)>,
    lots_by_number: BTreeSet<LotNumber>,
    lots_in_use: BTreeMap<LotKind, usize>,
    plans: BTreeMap<PlanNumber, PlanSoFar>,
    /// Those on which something is to be reported.
    open_plans: BTreeSet<PlanNumber>,
    any_ready: bool,
    determinations: Vec<Determination>,
    determinations_by_number: BTreeMap<DeterminationNumber, usize>,
    /// How many of them a confirmation has taken.
    determinations_taken: usize,
    confirmations: Vec<RecordedConfirmation>,
    confirmations_by_number: BTreeMap<ConfirmationNumber, usize>,
    reports: Vec<(Moment, PersonName, IssuedReport)>,
    reports_by_number: BTreeMap<ReportNumber, usize>,
    verified: BTreeMap<RulesId, BTreeMap<Key, Vec<Verified>>>,
    corrections: BTreeMap<EntryNumber, Vec<Correction>>,
    refusals: BTreeMap<PlanNumber, Vec<Refusal>>,
    /// The entries that opened gas lots, corrected ones too.
    gas_entries: Vec<EntryNumber>,
    /// The entries that found a determination void, corrected ones too.
    void_entries: BTreeMap<DeterminationNumber, Vec<EntryNumber>>,
    upkeep: Upkeep,
    bench_known: BenchKnown,
    signatures: Signatures,
}

/// What is known of one plan.
#[derive(Clone, Debug)]
struct PlanSoFar {
    plan: Plan,
    specimens: Vec<SpecimenNumber>,
    known: BTreeSet<SpecimenNumber>,
    used: BTreeSet<SpecimenNumber>,
    sittings: BTreeMap<SpecimenNumber, Sittings>,
    films: BTreeMap<SpecimenNumber, Vec<Film>>,
    photos_before: BTreeMap<SpecimenNumber, Vec<Evidence>>,
    accepted: BTreeMap<SpecimenNumber, TimesAccepted>,
    cautions: Vec<(Moment, PersonName)>,
    conditionings: Vec<Conditioning>,
    ready: Option<Moment>,
    runs: Vec<RecordedRun>,
    spoilt: BTreeMap<SpecimenNumber, String>,
    verdicts: Vec<RecordedVerdict>,
    reports: Vec<usize>,
}

impl History {
    /// Replays recorded facts. Nothing is judged anew here: only the order is checked, and stages
    /// are taken as recorded.
    ///
    /// # Errors
    ///
    /// [`HistoryError`] at the first fact that cannot follow those before it.
    pub fn replay(
        library: &Library,
        entries: impl IntoIterator<Item = Recorded>,
    ) -> Result<Self, HistoryError> {
        let mut history = Self::default();
        for entry in entries {
            history.follow(library, entry)?;
        }
        Ok(history)
    }

    /// Lets one more fact follow. If it cannot, nothing has changed.
    ///
    /// # Errors
    ///
    /// [`HistoryError`] if the fact cannot follow those before it.
    pub fn follow(&mut self, library: &Library, next: Recorded) -> Result<(), HistoryError> {
        let (entry, kind) = (next.entry, next.fact.kind());
        replay::follow(self, library, next).map_err(|problem| HistoryError { entry, kind, problem })
    }

    /// All entries in order.
    #[must_use]
    pub fn entries(&self) -> &[Recorded] {
        &self.entries
    }

    /// An entry.
    #[must_use]
    pub fn entry(&self, number: EntryNumber) -> Option<&Recorded> {
        let place = usize::try_from(number.0).ok()?.checked_sub(1)?;
        self.entries.get(place)
    }

    /// The laboratory.
    #[must_use]
    pub fn laboratory(&self) -> Option<&Laboratory> {
        self.laboratory.as_ref().map(|(laboratory, _)| laboratory)
    }

    /// Whether everything in this book is made up.
    #[must_use]
    pub fn made_up(&self) -> bool {
        self.laboratory.as_ref().is_some_and(|(_, kind)| *kind == BookKind::MadeUp)
    }

    /// All equipment, by number.
    #[must_use]
    pub const fn all_equipment(&self) -> &BTreeMap<EquipmentNumber, Equipment> {
        &self.equipment
    }

    /// A piece of equipment.
    #[must_use]
    pub fn equipment(&self, number: &EquipmentNumber) -> Option<&Equipment> {
        self.equipment.get(number)
    }

    /// Why a piece of equipment is out of service, if it is.
    #[must_use]
    pub fn withdrawn(&self, number: &EquipmentNumber) -> Option<&str> {
        self.withdrawn.get(number).map(String::as_str)
    }

    /// The last calibration on or before a day.
    #[must_use]
    pub fn calibration(&self, number: &EquipmentNumber, day: Date) -> Option<&Calibration> {
        let own = self.calibrations.get(number)?.iter().filter(|it| it.on <= day);
        own.max_by_key(|calibration| calibration.on)
    }

    /// The lot of this kind that is in use, and since when.
    #[must_use]
    pub fn lot(&self, kind: LotKind) -> Option<(Moment, &Lot)> {
        let (opened, lot) = self.lots.get(*self.lots_in_use.get(&kind)?)?;
        Some((*opened, lot))
    }

    /// All lots in the order of opening.
    #[must_use]
    pub fn lots(&self) -> &[(Moment, Lot)] {
        &self.lots
    }

    /// The numbers of all plans.
    pub fn plans(&self) -> impl DoubleEndedIterator<Item = PlanNumber> + '_ {
        self.plans.keys().copied()
    }

    /// The plan that was drawn up last.
    #[must_use]
    pub fn last_plan(&self) -> Option<PlanNumber> {
        self.plans.keys().next_back().copied()
    }

    /// The numbers of the plans without a report, and of those whose specimens went on after it.
    pub fn open_plans(&self) -> impl Iterator<Item = PlanNumber> + '_ {
        self.open_plans.iter().copied()
    }

    /// A plan.
    #[must_use]
    pub fn plan(&self, number: PlanNumber) -> Option<&Plan> {
        self.plans.get(&number).map(|so_far| &so_far.plan)
    }

    /// The specimens of a plan, later ones included.
    #[must_use]
    pub fn specimens(&self, plan: PlanNumber) -> Vec<SpecimenNumber> {
        self.plans.get(&plan).map(|so_far| so_far.specimens.clone()).unwrap_or_default()
    }

    /// The specimens of a plan that were in the flame or spoilt.
    #[must_use]
    pub fn used_specimens(&self, plan: PlanNumber) -> Vec<SpecimenNumber> {
        self.plans.get(&plan).map(|it| it.used.iter().copied().collect()).unwrap_or_default()
    }

    /// Whether someone acknowledged the cautions for a plan.
    #[must_use]
    pub fn cautions_acknowledged(&self, plan: PlanNumber) -> bool {
        self.plans.get(&plan).is_some_and(|so_far| !so_far.cautions.is_empty())
    }

    /// The storages of a plan's specimens and layer.
    #[must_use]
    pub fn conditionings(&self, plan: PlanNumber) -> Vec<&Conditioning> {
        self.plans.get(&plan).map(|it| it.conditionings.iter().collect()).unwrap_or_default()
    }

    /// The last readiness of a plan.
    ///
    /// It knows the specimens that were used or added since.
    #[must_use]
    pub fn ready(&self, plan: PlanNumber) -> Option<Ready> {
        let so_far = self.plans.get(&plan)?;
        Some(Ready::restored(self, &so_far.plan, so_far.ready?))
    }

    /// Whether a plan was found ready.
    #[must_use]
    pub fn is_ready(&self, plan: PlanNumber) -> bool {
        self.plans.get(&plan).is_some_and(|so_far| so_far.ready.is_some())
    }

    /// All determinations in order, void ones included.
    #[must_use]
    pub fn determinations(&self) -> &[Determination] {
        &self.determinations
    }

    /// The determinations since the last confirmation: those that a next one is made of.
    #[must_use]
    pub fn open_determinations(&self) -> Vec<Determination> {
        self.determinations.get(self.determinations_taken..).unwrap_or_default().to_vec()
    }

    /// The last confirmation.
    #[must_use]
    pub fn last_confirmation(&self) -> Option<&RecordedConfirmation> {
        self.confirmations.last()
    }

    /// A confirmation.
    #[must_use]
    pub fn confirmation(&self, number: ConfirmationNumber) -> Option<&RecordedConfirmation> {
        self.confirmations.get(*self.confirmations_by_number.get(&number)?)
    }

    /// Why a confirmation no longer holds by the method, if so: the gas was changed since.
    #[must_use]
    pub fn lapsed_since(&self, confirmation: &RecordedConfirmation) -> Option<String> {
        let after = |entries: &[EntryNumber]| {
            let first = entries.partition_point(|entry| *entry <= confirmation.entry);
            entries.get(first).copied()
        };
        let voids = confirmation.counted.iter().filter_map(|number| self.void_entries.get(number));
        let voided = voids.filter_map(|entries| after(entries)).min();
        let first = voided.into_iter().chain(after(&self.gas_entries)).min()?;
        lapse(self.entry(first)?)
    }

    /// A confirmation as the stage it is, for the plan it was made under or another one.
    #[must_use]
    pub fn confirmed(&self, plan: PlanNumber, number: ConfirmationNumber) -> Option<Confirmed> {
        Some(Confirmed::restored(self.ready(plan)?, self.confirmation(number)?))
    }

    /// The runs of a plan in the order of recording, corrected ones as corrected.
    #[must_use]
    pub fn runs(&self, plan: PlanNumber) -> &[RecordedRun] {
        self.plans.get(&plan).map(|so_far| so_far.runs.as_slice()).unwrap_or_default()
    }

    /// The specimens of a plan that were spoilt, and why.
    #[must_use]
    pub fn spoilt(&self, plan: PlanNumber) -> Vec<(SpecimenNumber, &str)> {
        let Some(so_far) = self.plans.get(&plan) else { return Vec::new() };
        so_far.spoilt.iter().map(|(specimen, reason)| (*specimen, reason.as_str())).collect()
    }

    /// Judges a plan's runs now.
    #[must_use]
    pub fn judge(&self, plan: PlanNumber) -> Option<Verdict> {
        let so_far = self.plans.get(&plan)?;
        let runs: Vec<Run> = so_far.runs.iter().map(|recorded| recorded.run.clone()).collect();
        Some(judge(&so_far.plan, &runs))
    }

    /// The last verdict on a plan as recorded.
    #[must_use]
    pub fn verdict(&self, plan: PlanNumber) -> Option<&RecordedVerdict> {
        self.plans.get(&plan)?.verdicts.last()
    }

    /// The reports in the order of issue.
    #[must_use]
    pub fn reports(&self) -> &[(Moment, PersonName, IssuedReport)] {
        &self.reports
    }

    /// A report.
    #[must_use]
    pub fn report(&self, number: ReportNumber) -> Option<&(Moment, PersonName, IssuedReport)> {
        self.reports.get(*self.reports_by_number.get(&number)?)
    }

    /// The reports on a plan in the order of issue.
    pub fn reports_on(
        &self,
        plan: PlanNumber,
    ) -> impl Iterator<Item = &(Moment, PersonName, IssuedReport)> {
        let places = self.plans.get(&plan).map(|it| it.reports.as_slice()).unwrap_or_default();
        places.iter().filter_map(|place| self.reports.get(*place))
    }

    /// The last verification of a number with this value; one of another value does not count.
    #[must_use]
    pub fn verified(&self, rules: &RulesId, key: &Key, text: &str) -> Option<&Verified> {
        self.verified.get(rules)?.get(key)?.iter().rfind(|it| it.text == text)
    }

    /// The corrections of an entry.
    #[must_use]
    pub fn corrections(&self, entry: EntryNumber) -> &[Correction] {
        self.corrections.get(&entry).map(Vec::as_slice).unwrap_or_default()
    }

    /// All corrected entries with their corrections.
    #[must_use]
    pub const fn all_corrections(&self) -> &BTreeMap<EntryNumber, Vec<Correction>> {
        &self.corrections
    }

    /// The refusals on a plan in order.
    #[must_use]
    pub fn refusals(&self, plan: PlanNumber) -> &[Refusal] {
        self.refusals.get(&plan).map(Vec::as_slice).unwrap_or_default()
    }

    /// The sitting whose presses count for a specimen now.
    #[must_use]
    pub fn sitting(&self, plan: PlanNumber, specimen: SpecimenNumber) -> Option<&Sitting> {
        self.sittings(plan, specimen)?.timekeeper()
    }

    /// A sitting that times a specimen, or did so before it was taken over.
    #[must_use]
    pub fn sitting_of(
        &self,
        (plan, specimen): (PlanNumber, SpecimenNumber),
        sitting: SittingId,
    ) -> Option<&Sitting> {
        self.sittings(plan, specimen)?.one(sitting)
    }

    /// The presses that count for a specimen, over all its timekeepers, on the clock of the first.
    #[must_use]
    pub fn presses(&self, plan: PlanNumber, specimen: SpecimenNumber) -> &[Press] {
        self.sittings(plan, specimen).map(Sittings::counted).unwrap_or_default()
    }

    /// What the presses of a specimen come to; none of a plan that is not known.
    #[must_use]
    pub fn standing(&self, plan: PlanNumber, specimen: SpecimenNumber) -> Option<Standing> {
        let asked = &self.plan(plan)?.requirement().asked;
        let applications = usize::try_from(asked.application.count.value.number());
        let standing = stand(applications.unwrap_or(usize::MAX), self.presses(plan, specimen));
        let across = self.sittings(plan, specimen).map(Sittings::across);
        Some(Standing { across: across.unwrap_or(Duration::ZERO), ..standing })
    }

    /// The films of a specimen in the order in which they were kept.
    #[must_use]
    pub fn films(&self, plan: PlanNumber, specimen: SpecimenNumber) -> &[Film] {
        let films = self.plans.get(&plan).and_then(|so_far| so_far.films.get(&specimen));
        films.map(Vec::as_slice).unwrap_or_default()
    }

    /// The photographs of a specimen from before the flame, in the order in which they were kept.
    #[must_use]
    pub fn photos_before(&self, plan: PlanNumber, specimen: SpecimenNumber) -> &[Evidence] {
        let so_far = self.plans.get(&plan);
        let photos = so_far.and_then(|so_far| so_far.photos_before.get(&specimen));
        photos.map(Vec::as_slice).unwrap_or_default()
    }

    /// An instant of a sitting, from the first flame of the specimen on the clock of its first
    /// sitting; none as long as there is no flame, or nothing was pressed in that sitting.
    #[must_use]
    pub fn from_first_flame(
        &self,
        (plan, specimen): (PlanNumber, SpecimenNumber),
        (sitting, at): (SittingId, Elapsed),
    ) -> Option<Elapsed> {
        let zero = self.standing(plan, specimen)?.zero?;
        let at = self.sitting_of((plan, specimen), sitting)?.on_first_clock(at)?;
        let from = at.microseconds().saturating_sub(zero.microseconds());
        Some(Elapsed::from_microseconds(from))
    }

    fn sittings(&self, plan: PlanNumber, specimen: SpecimenNumber) -> Option<&Sittings> {
        self.plans.get(&plan)?.sittings.get(&specimen)
    }
}

/// Why this entry ends a confirmation, if it does.
fn lapse(later: &Recorded) -> Option<String> {
    if let Fact::LotOpened(lot) = &later.fact {
        return Some(format!("gas lot {} was opened at {}", lot.number, later.at));
    }
    if let Fact::DeterminationVoided { number, reason } = &later.fact {
        return Some(format!("{number} was found void at {}: {reason}", later.at));
    }
    None
}
