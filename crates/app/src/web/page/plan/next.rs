//! How a plan stands as one sentence, and the one thing to do next (the tool proposes).

use serde::Serialize;
use trial::bench::State;
use trial::confirmation::still_holds;
use trial::finding::{Finding, FindingKind};
use trial::history::History;
use trial::moment::Moment;
use trial::number::{PlanNumber, SpecimenNumber};
use trial::plan::Plan;
use trial::signature::Signed;
use trial::verdict::{SpecimenStanding, Verdict, VerdictStanding};
use utoipa::ToSchema;

/// What is to be done next.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, ToSchema)]
#[serde(tag = "act", rename_all = "kebab-case")]
pub(super) enum Next {
    /// Read the cautions and acknowledge them.
    Cautions,
    /// Record how specimens and layer were conditioned.
    Conditioned,
    /// Put right what is missing.
    PutRight,
    /// Check whether everything is ready.
    Readiness,
    /// Confirm the flame.
    ConfirmFlame,
    /// Test this specimen.
    Test {
        /// Which.
        specimen: u32,
    },
    /// Describe this specimen: its timing at the bench is finished, or it was found spoilt there.
    Describe {
        /// Which.
        specimen: u32,
    },
    /// Add further specimens with these numbers.
    AddSpecimens {
        /// Their numbers.
        specimens: Vec<u32>,
        /// Why.
        reason: String,
    },
    /// Look at the doubtful times of this specimen, which nobody has accepted.
    AcceptTimes {
        /// Which.
        specimen: u32,
    },
    /// Judge the runs.
    Judge,
    /// Sign this specimen as tested.
    SignTested {
        /// Which.
        specimen: u32,
    },
    /// Review the plan, and sign it.
    Review,
    /// Issue the report.
    Report,
    /// Issue the report that takes the place of this one.
    Replace {
        /// Which.
        report: u32,
    },
    /// Nothing: it is reported.
    Nothing,
}

/// How the plan stands, and what is next.
pub(super) fn next(
    history: &History,
    plan: &Plan,
    (verdict, missing): (Option<&Verdict>, &[Finding]),
    now: Moment,
) -> (String, Next) {
    let number = plan.number();
    let Some(ready) = history.ready(number) else { return not_ready(missing) };
    let used = history.used_specimens(number);
    let specimens = history.specimens(number);
    let untested: Vec<SpecimenNumber> =
        specimens.iter().copied().filter(|specimen| !used.contains(specimen)).collect();
    let Some(verdict) = verdict else { return (String::new(), Next::Nothing) };
    if let VerdictStanding::NotYet { further } = verdict.standing {
        if let Some(specimen) = untested.first() {
            let sentence = format!(
                "{} of {} specimens are tested; {further} more are needed.",
                used.len(),
                specimens.len()
            );
            if let Some(specimen) = untested.iter().find(|it| to_describe(history, number, **it)) {
                return (sentence, Next::Describe { specimen: specimen.0 });
            }
            if !missing.is_empty() {
                return (sentence, not_ready(missing).1);
            }
            if still_holds(&ready, history, now).is_err() {
                return (format!("{sentence} The flame is not confirmed."), Next::ConfirmFlame);
            }
            return (sentence, Next::Test { specimen: specimen.0 });
        }
        return further_ones(plan, verdict, further, &specimens);
    }
    let sentence = judged(verdict);
    let recorded = history.verdict(number);
    if recorded.is_none_or(|recorded| recorded.account != verdict.account()) {
        return (sentence, Next::Judge);
    }
    let judged_at = recorded.map(|recorded| recorded.entry);
    let amended_at = history.amendments_of(number).last().map(|it| it.entry);
    let last = judged_at.max(amended_at);
    let reports = history.reports_on(number);
    match reports.filter(|(_, _, it)| Some(it.head.0) >= last).last() {
        Some((at, _, report)) => {
            let issued = super::super::when(*at);
            (format!("{sentence} Report {} was issued at {issued}.", report.number), Next::Nothing)
        }
        None => match history.times_to_accept(number).first() {
            Some((specimen, _)) => (
                format!("{sentence} The times of specimen {specimen} are doubtful."),
                Next::AcceptTimes { specimen: specimen.0 },
            ),
            None => signed(history, number, sentence),
        },
    }
}

/// What is left once a plan is judged: the signatures that are asked for, then its report.
fn signed(history: &History, number: PlanNumber, sentence: String) -> (String, Next) {
    if let Some(back) = history.sent_back(number) {
        let sentence = format!("{sentence} It was sent back by {}: {}", back.who, back.back.note);
        let first = back.back.specimens.first().map_or(1, |it| it.0);
        return (sentence, Next::SignTested { specimen: first });
    }
    match history.signatures_wanted(number).first().map(|it| it.what) {
        Some(Signed::Specimen { specimen, .. }) => {
            let sentence = format!("{sentence} Specimen {specimen} is not signed as tested.");
            (sentence, Next::SignTested { specimen: specimen.0 })
        }
        Some(_) => (format!("{sentence} It waits for review."), Next::Review),
        None => match history.reports_on(number).last() {
            Some((.., last)) => (sentence, Next::Replace { report: last.number.0 }),
            None => (sentence, Next::Report),
        },
    }
}

/// Whether a specimen's timing ended at the bench, and nobody has said yet what was seen.
fn to_describe(history: &History, plan: PlanNumber, specimen: SpecimenNumber) -> bool {
    let standing = history.standing(plan, specimen);
    standing.is_some_and(|it| matches!(it.state, State::Finished | State::Spoilt))
}

fn not_ready(missing: &[Finding]) -> (String, Next) {
    let of_kind = |kind| missing.iter().any(|finding| finding.kind == kind);
    let next = if missing.is_empty() {
        return ("Nothing is missing. Check the readiness.".to_owned(), Next::Readiness);
    } else if of_kind(FindingKind::Conditioning) {
        Next::Conditioned
    } else if of_kind(FindingKind::Cautions) {
        Next::Cautions
    } else {
        Next::PutRight
    };
    let sentence = match missing.len() {
        1 => "One thing is missing before the flame.".to_owned(),
        count => format!("{count} things are missing before the flame."),
    };
    (sentence, next)
}

/// No specimen is left, and further ones are needed.
fn further_ones(
    plan: &Plan,
    verdict: &Verdict,
    further: u64,
    specimens: &[SpecimenNumber],
) -> (String, Next) {
    let count = u32::try_from(further).unwrap_or(u32::MAX).min(1000);
    let last = specimens.iter().map(|specimen| specimen.0).max().unwrap_or(0);
    let numbers = (1..=count).map(|step| last.saturating_add(step)).collect();
    let meeting = of(verdict, SpecimenStanding::Meets);
    let asked = &plan.requirement().asked.specimens;
    let fails = of(verdict, SpecimenStanding::DoesNotMeet) > 0;
    let not_judged = verdict.judged.iter().find(|it| it.standing == SpecimenStanding::NotJudged);
    let sentence = match (&asked.further, not_judged) {
        (Some(more), _) if fails => format!(
            "{meeting} of {} meet. {} {} asks for {}, all of which must meet.",
            verdict.judged.len(),
            more.source,
            more.clause,
            more.text
        ),
        (_, Some(judged)) => {
            let because = judged.not_judged_because.first();
            let why = because.map_or_else(String::new, |finding| format!(" {}.", finding.text));
            format!("Specimen {} is replaced, not judged.{}", judged.specimen, capital(&why))
        }
        _ => format!("{further} more specimens are needed."),
    };
    let reason = sentence.clone();
    (sentence, Next::AddSpecimens { specimens: numbers, reason })
}

/// ` specimen 2 was spoilt` as a sentence of its own.
fn capital(why: &str) -> String {
    why.replacen(" specimen", " Specimen", 1)
}

fn of(verdict: &Verdict, standing: SpecimenStanding) -> usize {
    verdict.judged.iter().filter(|judged| judged.standing == standing).count()
}

fn judged(verdict: &Verdict) -> String {
    let (meeting, all) = (of(verdict, SpecimenStanding::Meets), verdict.judged.len());
    match verdict.standing {
        VerdictStanding::Meets if meeting == all => {
            format!("All {all} specimens meet the requirement.")
        }
        VerdictStanding::Meets => {
            format!(
                "{meeting} of {all} specimens meet, the further ones all: the requirement is met."
            )
        }
        VerdictStanding::DoesNotMeet => {
            format!("{meeting} of {all} specimens meet: the requirement is not met.")
        }
        VerdictStanding::Undecided => {
            let why = verdict.decided_by().first().map(|reason| reason.sentence());
            format!(
                "A value lies too near to its limit for the decision rule: {}.",
                why.unwrap_or_default()
            )
        }
        VerdictStanding::NotYet { further } => format!("{further} more specimens are needed."),
        VerdictStanding::NotJudged => "The runs cannot be judged.".to_owned(),
    }
}
