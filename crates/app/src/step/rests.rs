//! What a report rests on: the entries that its bundle shows, and nothing of another customer's.

use std::collections::{BTreeMap, BTreeSet};

use std::path::Path;

use ledger::hash::BlobHash;
use ledger::heads::KeptHead;
use ledger::note::{Note, PublicKey};
use ledger::proof::{Part, Wanted};
use ledger::{Copied, LedgerError};
use trial::fact::{Fact, Recorded};
use trial::history::History;
use trial::number::{
    ConfirmationNumber, DeterminationNumber, PersonName, PlanNumber, ReportNumber,
};
use trial::signature::Signed;

use super::proof::keys;
use super::scrub::Evidence;
use crate::book::{OpenBook, from_ledger};
use crate::problem::Problem;

/// Writes the bundle of a report, by the last head that was signed.
pub(crate) fn bundle(book: &OpenBook, report: ReportNumber, to: &Path) -> Result<Copied, Problem> {
    wanted(book, report, |wanted| book.book().export_proof(wanted, to))
}

/// The files of the same bundle, to be handed out.
pub(crate) fn parts(book: &OpenBook, report: ReportNumber) -> Result<Vec<(String, Part)>, Problem> {
    wanted(book, report, |wanted| book.book().proof_parts(wanted))
}

/// Makes something of what the bundle of a report is to show.
fn wanted<T>(
    book: &OpenBook,
    report: ReportNumber,
    make: impl FnOnce(&Wanted<'_>) -> Result<T, LedgerError>,
) -> Result<T, Problem> {
    let history = book.history();
    let (.., issued) = history.report(report).ok_or_else(|| {
        Problem::used_wrongly(format!("there is no report {report} in this book"))
            .hint("`record list` lists the entries.")
    })?;
    let (signed, key) = signed(book)?.ok_or_else(|| {
        Problem::used_wrongly("no head of this record was signed yet")
            .hint("Sign one with `record head`.")
    })?;
    let is_issue =
        |it: &&Recorded| matches!(&it.fact, Fact::ReportIssued(it) if it.number == report);
    let issue = history.entries().iter().find(is_issue).map_or(0, |it| it.entry.0);
    if issue > signed.size {
        return Err(from_ledger(&LedgerError::Unsigned { number: issue }));
    }
    let entries = on(history, report, signed.size);
    let wanted =
        Wanted { report, entries: &entries, printed: issued.head.0.0, signed: &signed, key: &key };
    make(&wanted).map_err(|error| from_ledger(&error))
}

/// The last signed head, and the key that has signed it.
fn signed(book: &OpenBook) -> Result<Option<(KeptHead, PublicKey)>, Problem> {
    let last = book.book().signed_sizes().map_err(|error| from_ledger(&error))?.pop();
    let Some((size, keys)) = last.zip(keys(book)?) else { return Ok(None) };
    let kept = book.book().signed_head(size).map_err(|error| from_ledger(&error))?;
    let Some(kept) = kept else { return Ok(None) };
    let broken = |why: String| {
        Problem::surroundings(format!("the signed head of {size} entries does not check: {why}"))
            .hint("Run `cinderbook verify` on the book.")
    };
    let note = Note::read(&kept.note).map_err(|why| broken(why.to_string()))?;
    let key = keys.signer(&note, None).map_err(broken)?.clone();
    Ok(Some((kept, key)))
}

/// The numbers of the entries that a report rests on: its plan and all that was done under it, the
/// confirmations and heatings, the equipment and lots, the numbers that were verified, who did it,
/// and the corrections of any of these; and, of the book, its opening and its keys. None comes
/// after `last`.
pub(crate) fn on(history: &History, report: ReportNumber, last: u64) -> BTreeSet<u64> {
    let Some(scope) = Scope::of(history, report) else { return BTreeSet::new() };
    let entries = || history.entries().iter().take_while(|recorded| recorded.entry.0 <= last);
    let (mut rests, mut people) = (BTreeSet::new(), BTreeSet::new());
    for recorded in entries() {
        let corrects = if let Fact::Corrected { entry, .. } = &recorded.fact {
            rests.contains(&entry.0)
        } else {
            false
        };
        if corrects || scope.holds(&recorded.fact) {
            rests.insert(recorded.entry.0);
            people.insert(&recorded.who);
        }
    }
    for recorded in entries() {
        if person(&recorded.fact).is_some_and(|person| people.contains(person)) {
            rests.insert(recorded.entry.0);
        }
    }
    rests
}

/// The person that a fact is about, if it is about one.
#[expect(clippy::wildcard_enum_match_arm, reason = "most facts are about things")]
fn person(fact: &Fact) -> Option<&PersonName> {
    match fact {
        Fact::PersonAdmitted { person, .. } | Fact::PersonDisabled { person, .. } => Some(person),
        Fact::PersonEntrusted(said) => Some(&said.person),
        _ => None,
    }
}

/// What the entries of a report speak of.
struct Scope {
    plan: PlanNumber,
    reports: BTreeSet<ReportNumber>,
    confirmations: BTreeSet<ConfirmationNumber>,
    determinations: BTreeSet<DeterminationNumber>,
    /// Equipment and lots.
    marks: BTreeSet<String>,
}

impl Scope {
    fn of(history: &History, report: ReportNumber) -> Option<Self> {
        let plan = history.report(report)?.2.plan;
        let equipment = history.plan(plan).map(|plan| plan.draft().equipment.as_slice());
        let mut scope = Self {
            plan,
            reports: history.reports_on(plan).map(|(.., issued)| issued.number).collect(),
            confirmations: history.runs(plan).iter().map(|run| run.confirmation).collect(),
            determinations: BTreeSet::new(),
            marks: equipment.unwrap_or_default().iter().map(|number| number.0.clone()).collect(),
        };
        let recorded =
            scope.confirmations.iter().filter_map(|number| history.confirmation(*number));
        for made in recorded.flat_map(|recorded| &recorded.determinations) {
            scope.determinations.insert(made.number);
            let pieces = [&made.block.0, &made.thermocouple.0, &made.gas.0];
            scope.marks.extend(pieces.map(String::clone));
        }
        Some(scope)
    }

    /// Whether a fact is of this report. Each kind is decided here: a new one must be too.
    fn holds(&self, fact: &Fact) -> bool {
        match fact {
            // The rule of signing says why a report is signed as it is, or not at all.
            Fact::BookOpened { .. }
            | Fact::KeyBegun(_)
            | Fact::NumberVerified { .. }
            | Fact::SigningRuled(_) => true,
            Fact::Signed(signature) => self.is_signed(signature.what),
            Fact::SentBack(back) => back.plan == self.plan,
            Fact::PlanDrawnUp { draft, .. } => draft.number == self.plan,
            Fact::SpecimensAdded { plan, .. }
            | Fact::CautionsAcknowledged { plan }
            | Fact::ReadinessFound { plan }
            | Fact::RunRecorded { plan, .. }
            | Fact::PressesKept { plan, .. }
            | Fact::TimekeeperTaken { plan, .. }
            | Fact::FilmKept { plan, .. }
            | Fact::FilmHeard { plan, .. }
            | Fact::FilmPlaced { plan, .. }
            | Fact::SpecimenPhotographed { plan, .. }
            | Fact::TimesAccepted { plan, .. }
            | Fact::SpecimenSpoilt { plan, .. }
            | Fact::VerdictReached { plan, .. }
            | Fact::StageRefused { plan, .. } => *plan == self.plan,
            Fact::ConditioningRecorded(conditioning) => conditioning.plan == self.plan,
            Fact::ReportIssued(report) => report.plan == self.plan,
            Fact::DueLetThrough(due) => due.plan == self.plan,
            Fact::FlameConfirmed { number, .. } => self.confirmations.contains(number),
            Fact::DeterminationRecorded(made) => self.determinations.contains(&made.number),
            Fact::CoolingKept(cooling) => self.determinations.contains(&cooling.determination),
            Fact::DeterminationVoided { number, .. } => self.determinations.contains(number),
            Fact::EquipmentRegistered(equipment) => self.marks.contains(&equipment.number.0),
            Fact::CalibrationRecorded(calibration) => self.marks.contains(&calibration.equipment.0),
            Fact::EquipmentWithdrawn { equipment, .. } => self.marks.contains(&equipment.0),
            Fact::BlockWeighed(weighing) => self.marks.contains(&weighing.block.0),
            Fact::LotOpened(lot) => self.marks.contains(&lot.number.0),
            Fact::PersonAdmitted { .. }
            | Fact::PersonEntrusted(_)
            | Fact::PersonDisabled { .. }
            | Fact::Corrected { .. }
            | Fact::BaseLineFrozen(_)
            | Fact::FlameCallAnswered { .. }
            | Fact::CareDone(_)
            | Fact::CareIntervalSet(_)
            | Fact::BenchCommissioned(_)
            | Fact::FaultMet(_)
            | Fact::ProgramValidated(_) => false,
        }
    }

    /// Whether what was signed is of this report.
    fn is_signed(&self, what: Signed) -> bool {
        match what {
            Signed::Specimen { plan, .. } | Signed::Plan(plan) => plan == self.plan,
            Signed::Report(report) => self.reports.contains(&report),
            Signed::BaseLine(_)
            | Signed::FlameCall(_)
            | Signed::Commissioning(_)
            | Signed::Trail { .. } => false,
        }
    }
}

/// Every evidence file with the entry that names it first.
pub(crate) fn evidence(book: &OpenBook) -> Evidence {
    let mut named = BTreeMap::new();
    for recorded in book.history().entries() {
        for hash in ledger::entry::evidence(&recorded.fact) {
            named.entry(BlobHash(hash.0)).or_insert(recorded.entry.0);
        }
    }
    Evidence { files: book.book().evidence_files(), named }
}
