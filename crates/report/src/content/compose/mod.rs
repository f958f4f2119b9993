//! A report from the record: every fact of the record that belongs to one plan, in its place.

mod conditions;
mod conformity;
mod flame;
mod results;
mod signed;

use metrology::decision::Standing as DecisionStanding;
use reading::Crossing;
use thiserror::Error;
use trial::fact::{Authorisation, Evidence, EvidenceHash, Language};
use trial::history::{Correction, History};
use trial::moment::Moment;
use trial::number::{
    DeterminationNumber, EntryNumber, PersonName, PlanNumber, ReportNumber, SpecimenNumber,
};
use trial::plan::{LayerChosen, Plan};
use trial::rules::{Clause, RulesId};

use super::{
    Amendment, Content, Customer, Day, FORMAT, Item, Laboratory, Method, NamedHash, Person, Photo,
    Record, Remark, Stood,
};
use crate::words::{self, Words};

/// The coverage factor of every expanded uncertainty of a report.
const COVERAGE_FACTOR: f64 = 2.0;

/// What the issue of a report adds to the record.
#[derive(Clone, Debug, PartialEq)]
pub struct Issue {
    /// The report's number.
    pub number: ReportNumber,
    /// The time of the entry that issues it.
    pub at: Moment,
    /// Who authorises it.
    pub by: PersonName,
    /// Number and hash of the last entry before it.
    pub head: (EntryNumber, EvidenceHash),
    /// The hash of the tree over all entries before it.
    pub root: EvidenceHash,
    /// The program and its version.
    pub made_by: String,
    /// The language it is written in.
    pub language: Language,
    /// The report it takes the place of.
    pub supersedes: Option<Supersession>,
    /// Where the traces passed the window, read again from the evidence.
    pub read_again: Vec<ReadAgain>,
    /// The photographs to show, in this order.
    pub photos: Vec<PhotoShown>,
}

/// What a new issue replaces, and why.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Supersession {
    /// The report that is replaced.
    pub replaces: ReportNumber,
    /// Why.
    pub reason: String,
    /// What changed, one sentence each.
    pub changes: Vec<String>,
}

/// Where a determination's trace passed the window.
#[derive(Clone, Debug, PartialEq)]
pub struct ReadAgain {
    /// The determination.
    pub determination: DeterminationNumber,
    /// The climb through the bottom.
    pub start: Crossing,
    /// The climb through the top.
    pub end: Crossing,
}

/// A photograph, and what it shows.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct PhotoShown {
    /// The file in the record.
    pub evidence: Evidence,
    /// The specimen.
    pub specimen: SpecimenNumber,
    /// When it was taken.
    pub taken: PhotoTaken,
}

/// When a photograph was taken.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum PhotoTaken {
    /// Before the flame touched the specimen.
    Before,
    /// During the test or after it.
    Later,
}

/// Why there is nothing to report.
#[derive(Clone, Debug, PartialEq, Eq, Error)]
pub enum ComposeError {
    /// The book has no first entry.
    #[error("the book was not opened: it names no laboratory")]
    NotOpened,
    /// The plan is not in the record.
    #[error("plan {plan} is not in the record")]
    UnknownPlan {
        /// The plan asked for.
        plan: PlanNumber,
    },
    /// Nothing was tested.
    #[error("no specimen of plan {plan} was tested yet")]
    NothingTested {
        /// The plan.
        plan: PlanNumber,
    },
}

impl ComposeError {
    /// The way out.
    #[must_use]
    pub const fn hint(&self) -> &'static str {
        match self {
            Self::NotOpened => "Open the book with its laboratory first.",
            Self::UnknownPlan { .. } => "Name a plan of this book.",
            Self::NothingTested { .. } => "Record a run of the plan, then issue the report.",
        }
    }
}

/// The report of `plan` as the record has it, issued as `issue` says.
///
/// The verdict is judged anew from the recorded runs; nothing else is worked out here.
///
/// # Errors
///
/// When the book or the plan is not there, or nothing was tested.
pub fn compose(
    history: &History,
    plan: PlanNumber,
    issue: &Issue,
) -> Result<Content, ComposeError> {
    let laboratory = history.laboratory().ok_or(ComposeError::NotOpened)?;
    let planned = history.plan(plan).ok_or(ComposeError::UnknownPlan { plan })?;
    let runs = history.runs(plan);
    let verdict = history.judge(plan).ok_or(ComposeError::UnknownPlan { plan })?;
    if runs.is_empty() {
        return Err(ComposeError::NothingTested { plan });
    }
    let draft = planned.draft();
    let words = words::of(issue.language);
    let mut tested_on: Vec<Day> =
        runs.iter().map(|run| day(run.run.observed().began.day())).collect();
    tested_on.sort();
    tested_on.dedup();
    Ok(Content {
        format: FORMAT.into(),
        language: (issue.language != Language::English).then(|| issue.language.word().into()),
        made_up: history.made_up().then_some(words.made_up.into()),
        title: (words.whole.title)(&planned.requirement().method.title),
        number: issue.number.to_string(),
        issued: second(issue.at),
        amends: issue.supersedes.as_ref().map(|supersedes| Amendment {
            replaces: supersedes.replaces.to_string(),
            changes: supersedes.changes.clone(),
            reason: supersedes.reason.clone(),
        }),
        laboratory: Laboratory {
            name: laboratory.name.clone(),
            address: laboratory.address.clone(),
            place_of_test: laboratory.place.clone(),
        },
        customer: Customer {
            name: draft.customer.name.clone(),
            address: draft.customer.address.clone(),
            job: draft.job.clone(),
        },
        item: item(planned, words),
        method: method(planned, words),
        tested_on,
        conformity: conformity::conformity((history, planned, &verdict), words),
        conditions: conditions::conditions(history, planned, words),
        confirmations: flame::confirmations(history, planned, (issue, words)),
        specimens: results::specimens(history, planned, (&verdict, words)),
        photos: issue.photos.iter().map(|shown| photo(shown, words)).collect(),
        deviations: deviations(history, planned, words),
        external: Vec::new(),
        remarks: remarks(history, plan, words),
        signatures: signed::signatures(history, plan, words),
        amended: signed::amended(history, plan),
        authorised_by: Person {
            name: issue.by.to_string(),
            function: function(history, planned, (issue, words)).to_owned(),
        },
        statements: words.whole.statements.map(str::to_owned).into(),
        record: Record {
            head_entry: issue.head.0.0,
            head_sha256: issue.head.1.to_string(),
            head_root: Some(issue.root.to_string()),
            to_verify: words.whole.to_verify.into(),
            made_by: issue.made_by.clone(),
        },
    })
}

fn item(plan: &Plan, words: &Words) -> Item {
    let part = &plan.draft().part;
    Item {
        description: part.description.clone(),
        identification: part.identification.clone(),
        condition: or(&part.condition, words.whole.condition_not_noted),
        received: part.received.map(day),
        sampling: or(&plan.draft().sampling, words.whole.sampling_not_known),
    }
}

fn method(plan: &Plan, words: &Words) -> Method {
    let requirement = plan.requirement();
    let product = requirement.profile.as_ref().map(|profile| {
        let variant = requirement.variant.as_ref();
        let variant = variant.map(|(_, title)| format!(" ({})", (words.of_rules)(title)));
        format!("{}{}", profile.cited(words.edition), variant.unwrap_or_default())
    });
    Method {
        name: (words.of_rules)(&requirement.method.title),
        standard: requirement.method.standard.clone(),
        edition: requirement.method.edition.clone(),
        product_standard: product,
        plan: plan.number().to_string(),
        rules: requirement
            .rules
            .iter()
            .map(|used| NamedHash {
                name: used.id.to_string(),
                sha256: EvidenceHash(used.hash.0).to_string(),
            })
            .collect(),
    }
}

fn photo(shown: &PhotoShown, words: &Words) -> Photo {
    Photo {
        caption: (words.whole.photo)(shown.specimen.0, shown.taken),
        name: shown.evidence.name.clone(),
        sha256: shown.evidence.hash.to_string(),
    }
}

/// What the plan itself departs from, what it chose in place of the standard's numbers, and what
/// was due and let through.
fn deviations(history: &History, plan: &Plan, words: &Words) -> Vec<String> {
    let (draft, words) = (plan.draft(), &words.whole);
    let mut deviations = draft.deviations.clone();
    match &draft.layer {
        LayerChosen::Specified => {}
        LayerChosen::Other(layer) => deviations.push((words.other_layer)(layer)),
        LayerChosen::NotUsed(why) => deviations.push((words.no_layer)(why)),
    }
    for choice in draft.ordered.choices.iter().filter(|choice| !choice.reason.trim().is_empty()) {
        let entry = plan.requirement().entries.get(&choice.key);
        let replaced = entry.and_then(|entry| entry.replaces.as_ref());
        let replaced = replaced.map(|replaced| replaced.text.as_str());
        deviations.push((words.chosen)([&choice.key.0, &choice.value], replaced, &choice.reason));
    }
    deviations.extend(history.lets(plan.number()).map(|it| {
        let (day, who) = (it.at.day().to_string(), it.who.to_string());
        (words.let_through)(&(words.due)(&it.due.item), [&day, &who, &it.due.reason])
    }));
    deviations
}

/// What stands beside the name of who issues: an authorisation only where the laboratory states it.
fn function(
    history: &History,
    plan: &Plan,
    (issue, words): (&Issue, &'static Words),
) -> &'static str {
    let stated = history.person(&issue.by).is_some_and(|it| it.grants.is_some());
    let by = (&plan.draft().ordered.method, issue.at.day());
    if stated && history.may(&issue.by, Authorisation::Issue, by).is_ok() {
        words.whole.may_issue
    } else {
        words.whole.of_the_laboratory
    }
}

/// The refusals of the plan, the doubtful times that were accepted and the corrections of its
/// entries, in the order of the record.
fn remarks(history: &History, plan: PlanNumber, words: &Words) -> Vec<Remark> {
    let who = |entry: EntryNumber| {
        history.entry(entry).map_or_else(String::new, |recorded| recorded.who.to_string())
    };
    let refused = history.refusals(plan).iter();
    let mut remarks: Vec<Remark> = refused
        .map(|refusal| {
            let found: Vec<&str> = refusal.findings.iter().map(|it| it.text.as_str()).collect();
            Remark {
                entry: refusal.entry.0,
                at: second(refusal.at),
                who: who(refusal.entry),
                text: (words.whole.refused)(refusal.stage, &found.join("; ")),
            }
        })
        .collect();
    let specimens = history.runs(plan).iter().map(|recorded| recorded.run.specimen());
    remarks.extend(specimens.filter_map(|it| times_accepted(history, (plan, it), words)));
    for (corrected, corrections) in history.all_corrections() {
        if history.entry(*corrected).is_some_and(|recorded| of_plan(history, recorded, plan)) {
            remarks.extend(corrections.iter().map(|it| correction_told(it, *corrected, words)));
        }
    }
    remarks.extend(signed::rule(history, plan, words));
    remarks.sort_by_key(|remark| remark.entry);
    remarks
}

/// Who accepted the doubtful times of a specimen, and why.
fn times_accepted(
    history: &History,
    (plan, specimen): (PlanNumber, SpecimenNumber),
    words: &Words,
) -> Option<Remark> {
    let accepted = history.times_accepted(plan, specimen)?;
    let doubts = accepted.doubts.join("; ");
    Some(Remark {
        entry: accepted.entry.0,
        at: second(accepted.at),
        who: accepted.who.to_string(),
        text: (words.whole.times_accepted)(
            specimen.0,
            &doubts,
            accepted.reason.trim_end_matches('.'),
        ),
    })
}

fn correction_told(correction: &Correction, of: EntryNumber, words: &Words) -> Remark {
    let told = match correction.fact {
        Some(_) => words.whole.corrected_by_fact,
        None => words.whole.corrected_by_nothing,
    };
    Remark {
        entry: correction.by.0,
        at: second(correction.at),
        who: correction.who.to_string(),
        text: told(of.0, &correction.reason),
    }
}

/// Whether an entry speaks of this plan, or of the whole laboratory's flame and equipment.
fn of_plan(history: &History, recorded: &trial::fact::Recorded, plan: PlanNumber) -> bool {
    use trial::fact::Fact;
    match &recorded.fact {
        Fact::PlanDrawnUp { draft, .. } => draft.number == plan,
        Fact::SpecimensAdded { plan: of, .. }
        | Fact::CautionsAcknowledged { plan: of }
        | Fact::ReadinessFound { plan: of }
        | Fact::RunRecorded { plan: of, .. }
        | Fact::PressesKept { plan: of, .. }
        | Fact::TimekeeperTaken { plan: of, .. }
        | Fact::FilmKept { plan: of, .. }
        | Fact::FilmHeard { plan: of, .. }
        | Fact::FilmPlaced { plan: of, .. }
        | Fact::SpecimenPhotographed { plan: of, .. }
        | Fact::TimesAccepted { plan: of, .. }
        | Fact::SpecimenSpoilt { plan: of, .. }
        | Fact::VerdictReached { plan: of, .. }
        | Fact::StageRefused { plan: of, .. } => *of == plan,
        Fact::ConditioningRecorded(conditioning) => conditioning.plan == plan,
        Fact::ReportIssued(report) => report.plan == plan,
        Fact::DueLetThrough(due) => due.plan == plan,
        Fact::FlameConfirmed { number, .. } => used(history, plan).contains(number),
        Fact::DeterminationRecorded(determination) => {
            heated(history, plan).contains(&determination.number)
        }
        Fact::CoolingKept(cooling) => heated(history, plan).contains(&cooling.determination),
        Fact::DeterminationVoided { number, .. } => heated(history, plan).contains(number),
        Fact::BookOpened { .. }
        | Fact::PersonAdmitted { .. }
        | Fact::PersonEntrusted(_)
        | Fact::PersonDisabled { .. }
        | Fact::EquipmentRegistered(_)
        | Fact::CalibrationRecorded(_)
        | Fact::EquipmentWithdrawn { .. }
        | Fact::LotOpened(_)
        | Fact::BaseLineFrozen(_)
        | Fact::BlockWeighed(_)
        | Fact::NumberVerified { .. }
        | Fact::FlameCallAnswered { .. }
        | Fact::CareDone(_)
        | Fact::CareIntervalSet(_)
        | Fact::BenchCommissioned(_)
        | Fact::KeyBegun(_)
        | Fact::Signed(_)
        | Fact::SentBack(_)
        | Fact::SigningRuled(_)
        | Fact::FaultMet(_)
        | Fact::ProgramValidated(_)
        | Fact::Corrected { .. } => false,
    }
}

/// The confirmations that the plan's specimens were tested under, each once, in order.
fn used(history: &History, plan: PlanNumber) -> Vec<trial::number::ConfirmationNumber> {
    let mut used: Vec<_> = history.runs(plan).iter().map(|run| run.confirmation).collect();
    used.sort();
    used.dedup();
    used
}

fn heated(history: &History, plan: PlanNumber) -> Vec<DeterminationNumber> {
    let confirmations = used(history, plan);
    let recorded = confirmations.iter().filter_map(|number| history.confirmation(*number));
    recorded.flat_map(|it| &it.determinations).map(|it| it.number).collect()
}

/// A place in a standard: its name and clause. The plan's own choices have no standard.
fn place(plan: &Plan, (source, clause): (&RulesId, &Clause), words: &Words) -> String {
    match plan.requirement().head(source) {
        Some(head) => format!("{}, {}", head.cited(words.edition), (words.clause)(&clause.0)),
        None => source.to_string(),
    }
}

const fn stood(standing: DecisionStanding) -> Stood {
    match standing {
        DecisionStanding::Kept => Stood::Kept,
        DecisionStanding::Broken => Stood::NotKept,
        DecisionStanding::Undecided => Stood::Undecided,
    }
}

fn day(date: jiff::civil::Date) -> Day {
    Day(date.to_string())
}

/// A moment to the second, which is what a page shows.
fn second(at: Moment) -> String {
    let text = at.to_string();
    let whole = text.split('.').next().unwrap_or(&text).trim_end_matches('Z');
    format!("{whole}Z")
}

fn or(words: &str, otherwise: &str) -> String {
    if words.trim().is_empty() { otherwise.into() } else { words.into() }
}
