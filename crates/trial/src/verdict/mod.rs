//! What the runs mean: one reason for each criterion looked at.

mod account;

pub use account::{shown_beside, shown_by_all};

use crate::finding::{Finding, FindingKind, Stage, words};
use crate::method::{Counted, Demand};
use crate::number::SpecimenNumber;
use crate::plan::Plan;
use crate::requirement::Requirement;
use crate::rules::{Clause, Key, Limit, Provision, Replaced, RulesId, Standing};
use crate::run::{Burnt, LayerOutcome, Run, Timed, TimedEnd};
use metrology::decision::{Decision, DecisionRule, Standing as Stood, decide};
use metrology::{Duration, Length, Measurement, Ratio};

/// Judges the runs of a plan. Judging twice gives the same; the order of the runs does not matter.
///
/// Specimens count in the order of their numbers: the first ones that the rules ask for, then,
/// where the rules let one that does not meet be followed by further ones, those. A spoilt
/// specimen, and one whose run departed from the method, is not judged but replaced.
#[must_use]
pub fn judge(plan: &Plan, runs: &[Run]) -> Verdict {
    let (mut own, others): (Vec<&Run>, Vec<&Run>) =
        runs.iter().partition(|run| run.plan() == plan.number());
    own.sort_by_key(|run| run.specimen());
    let judged: Vec<Judged> = own.iter().map(|run| judge_one(plan, run)).collect();
    let mut findings: Vec<Finding> =
        judged.iter().flat_map(|judged| judged.not_judged_because.clone()).collect();
    if let Some(other) = others.first() {
        let text =
            format!("a run of plan {} was handed in with plan {}", other.plan(), plan.number());
        let hint = "Judge each plan's runs by themselves.";
        findings.push(Finding::new(Stage::Verdict, FindingKind::OtherPlan, text, hint));
        return Verdict { standing: VerdictStanding::NotJudged, judged, findings };
    }
    Verdict { standing: of_set(plan.requirement(), &judged), judged, findings }
}

/// What the runs of a plan mean.
#[derive(Clone, Debug, PartialEq)]
pub struct Verdict {
    /// How the set stands.
    pub standing: VerdictStanding,
    /// Each specimen in the order of their numbers.
    pub judged: Vec<Judged>,
    /// Why specimens were not judged.
    pub findings: Vec<Finding>,
}

/// How a set of specimens stands.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum VerdictStanding {
    /// It meets the requirement.
    Meets,
    /// It does not meet the requirement.
    DoesNotMeet,
    /// A value lies too near to its limit for the decision rule.
    Undecided,
    /// Specimens are missing.
    NotYet {
        /// How many further ones are needed.
        further: u64,
    },
    /// Nothing can be said.
    NotJudged,
}

impl VerdictStanding {
    /// The word in the record, in JSON and in files.
    #[must_use]
    pub const fn word(self) -> &'static str {
        match self {
            Self::Meets => "meets",
            Self::DoesNotMeet => "does-not-meet",
            Self::Undecided => "undecided",
            Self::NotYet { .. } => "not-yet",
            Self::NotJudged => "not-judged",
        }
    }
}

/// One specimen with its reasons.
#[derive(Clone, Debug, PartialEq)]
pub struct Judged {
    /// Which.
    pub specimen: SpecimenNumber,
    /// How it stands.
    pub standing: SpecimenStanding,
    /// One reason for each criterion looked at, in the order of [`Demand`].
    pub reasons: Vec<Reason>,
    /// Why it is not judged, or why a criterion could not be.
    pub not_judged_because: Vec<Finding>,
}

words! {
    /// How one specimen stands.
    SpecimenStanding {
        /// It keeps every criterion.
        Meets = "meets",
        /// It breaks at least one.
        DoesNotMeet = "does-not-meet",
        /// At least one is undecided and none is broken.
        Undecided = "undecided",
        /// It is replaced, not judged.
        NotJudged = "not-judged",
    }
}

/// One criterion and how it stood.
#[derive(Clone, Debug, PartialEq)]
pub struct Reason {
    /// What is asked.
    pub demand: Demand,
    /// Of which specimen.
    pub specimen: SpecimenNumber,
    /// Where it is asked.
    pub clause: Clause,
    /// In which file.
    pub source: RulesId,
    /// Under which key.
    pub key: Key,
    /// How the number stands.
    pub number: Standing,
    /// The number as its file writes it.
    pub asked: String,
    /// What it replaces.
    pub replaces: Option<Replaced>,
    /// What was found.
    pub found: Found,
    /// How it stood.
    pub stood: Stood,
    /// By which rule.
    pub rule: DecisionRule,
    /// Probability that the true value keeps the limit; none for what is only seen.
    pub probability_of_conformity: Option<Ratio>,
}

/// What was found, against what.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Found {
    /// A time against its limit.
    Duration {
        /// The time.
        value: Measurement<Duration>,
        /// The limit.
        limit: Limit<Duration>,
        /// Whether it was cut short by hand.
        end: TimedEnd,
    },
    /// A length against its limit.
    Length {
        /// The length.
        value: Measurement<Length>,
        /// The limit.
        limit: Limit<Length>,
    },
    /// What became of the layer.
    Layer(LayerOutcome),
    /// How much of the specimen burnt.
    Burnt(Burnt),
}

fn judge_one(plan: &Plan, run: &Run) -> Judged {
    let specimen = run.specimen();
    let departures = run.departures();
    if !departures.is_empty() {
        let (standing, not_judged_because) = (SpecimenStanding::NotJudged, departures.to_vec());
        return Judged { specimen, standing, reasons: Vec::new(), not_judged_because };
    }
    let mut reasons = Vec::new();
    let mut open = Vec::new();
    for reason in Demand::ALL.iter().filter_map(|demand| criterion(plan, run, *demand)) {
        match reason {
            Ok(reason) => reasons.push(reason),
            Err(finding) => open.push(finding),
        }
    }
    let stood = |how| reasons.iter().any(|reason: &Reason| reason.stood == how);
    let standing = if stood(Stood::Broken) {
        SpecimenStanding::DoesNotMeet
    } else if !open.is_empty() {
        SpecimenStanding::NotJudged
    } else if stood(Stood::Undecided) {
        SpecimenStanding::Undecided
    } else {
        SpecimenStanding::Meets
    };
    Judged { specimen, standing, reasons, not_judged_because: open }
}

/// How one demand stood; none if it is not made.
fn criterion(plan: &Plan, run: &Run, demand: Demand) -> Option<Result<Reason, Finding>> {
    let criteria = &plan.requirement().asked.criteria;
    match demand {
        Demand::DurationOfBurning => {
            criteria.duration_of_burning.as_ref().map(|asked| burning(plan, run, asked))
        }
        Demand::DamagedLength => {
            criteria.damaged_length.as_ref().map(|asked| damaged(plan, run, asked))
        }
        Demand::LayerIgnition => seen(plan, run, demand, criteria.layer_ignition.as_ref()).map(Ok),
        Demand::LayerScorching => {
            seen(plan, run, demand, criteria.layer_scorching.as_ref()).map(Ok)
        }
        Demand::CompleteBurning => {
            seen(plan, run, demand, criteria.complete_burning.as_ref()).map(Ok)
        }
    }
}

/// A criterion that is only seen; none if it is not asked for or disregarded.
fn seen(
    plan: &Plan,
    run: &Run,
    demand: Demand,
    asked: Option<&Provision<Counted>>,
) -> Option<Reason> {
    let asked = asked.filter(|asked| asked.value == Counted::Counts)?;
    let observed = run.observed();
    let (found, broken) = if demand == Demand::CompleteBurning {
        (Found::Burnt(observed.burnt), observed.burnt == Burnt::Completely)
    } else {
        let ignited = matches!(observed.layer, LayerOutcome::Glowed | LayerOutcome::Flamed);
        let scorched = ignited || observed.layer == LayerOutcome::Scorched;
        let broken = if demand == Demand::LayerIgnition { ignited } else { scorched };
        (Found::Layer(observed.layer), broken)
    };
    let stood = if broken { Stood::Broken } else { Stood::Kept };
    Some(reason(plan, run, demand, asked, (found, stood, None)))
}

fn burning(plan: &Plan, run: &Run, asked: &Provision<Limit<Duration>>) -> Result<Reason, Finding> {
    let Timed { time, end } = run.duration_of_burning();
    let decision = decided(plan, run, time, asked.value)?;
    if end == TimedEnd::ByHand && decision.standing != Stood::Broken {
        let text = format!(
            "specimen {} was put out by hand after {}; the limit is {}",
            run.specimen(),
            time.value,
            asked.text
        );
        let hint = "Replace the specimen.";
        return Err(Finding::new(Stage::Verdict, FindingKind::PutOut, text, hint));
    }
    let found = Found::Duration { value: time, limit: asked.value, end };
    let outcome = (found, decision.standing, Some(decision.probability_of_conformity));
    Ok(reason(plan, run, Demand::DurationOfBurning, asked, outcome))
}

fn damaged(plan: &Plan, run: &Run, asked: &Provision<Limit<Length>>) -> Result<Reason, Finding> {
    let Some(value) = run.observed().damaged_length else {
        let text = format!("specimen {} has no damaged length", run.specimen());
        let hint = "Measure the damaged length.";
        return Err(Finding::new(Stage::Verdict, FindingKind::Missing, text, hint));
    };
    let decision = decided(plan, run, value, asked.value)?;
    let found = Found::Length { value, limit: asked.value };
    let outcome = (found, decision.standing, Some(decision.probability_of_conformity));
    Ok(reason(plan, run, Demand::DamagedLength, asked, outcome))
}

fn decided<Q: metrology::Quantity>(
    plan: &Plan,
    run: &Run,
    value: Measurement<Q>,
    limit: Limit<Q>,
) -> Result<Decision<Q>, Finding> {
    decide(value, limit, plan.draft().decision_rule).map_err(|why| {
        let text = format!("specimen {}: {why}", run.specimen());
        let hint = "Record the value with its standard uncertainty.";
        Finding::new(Stage::Verdict, FindingKind::Missing, text, hint)
    })
}

fn reason<T>(
    plan: &Plan,
    run: &Run,
    demand: Demand,
    asked: &Provision<T>,
    (found, stood, probability_of_conformity): (Found, Stood, Option<Ratio>),
) -> Reason {
    Reason {
        demand,
        specimen: run.specimen(),
        clause: asked.clause.clone(),
        source: asked.source.clone(),
        key: asked.key.clone(),
        number: asked.standing,
        asked: asked.text.clone(),
        replaces: asked.replaces.clone(),
        found,
        stood,
        rule: plan.draft().decision_rule,
        probability_of_conformity,
    }
}

/// How the set stands: the first specimens, then the further ones where the rules let them follow.
fn of_set(requirement: &Requirement, judged: &[Judged]) -> VerdictStanding {
    let asked = &requirement.asked.specimens;
    let standings: Vec<SpecimenStanding> = judged
        .iter()
        .map(|judged| judged.standing)
        .filter(|standing| *standing != SpecimenStanding::NotJudged)
        .collect();
    let number = usize::try_from(asked.number.value.number()).unwrap_or(usize::MAX);
    let Some(further) = &asked.further else {
        return of_stage(&standings, number);
    };
    let (first, rest) = standings.split_at(standings.len().min(number));
    let stands = of_stage(first, number);
    if stands != VerdictStanding::DoesNotMeet {
        return stands;
    }
    of_stage(rest, usize::try_from(further.value.number()).unwrap_or(usize::MAX))
}

/// How one stage stands: one that does not meet decides at once, missing ones are asked for before
/// an undecided one is named.
fn of_stage(standings: &[SpecimenStanding], number: usize) -> VerdictStanding {
    if standings.contains(&SpecimenStanding::DoesNotMeet) {
        return VerdictStanding::DoesNotMeet;
    }
    let missing = number.saturating_sub(standings.len());
    if missing > 0 {
        return VerdictStanding::NotYet { further: u64::try_from(missing).unwrap_or(u64::MAX) };
    }
    if standings.contains(&SpecimenStanding::Undecided) {
        return VerdictStanding::Undecided;
    }
    VerdictStanding::Meets
}
