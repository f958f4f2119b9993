//! The statement of conformity, from the verdict's reasons.

use std::cmp::Ordering::Equal;

use metrology::decision::DecisionRule;
use metrology::statistics::proportion_at_least;
use metrology::{Count, Measurement, Quantity, Ratio};
use trial::history::History;
use trial::method::{Counted, Demand};
use trial::plan::Plan;
use trial::rules::{Limit, Provision};
use trial::verdict::{
    Found, Reason as Judged, SpecimenStanding, Verdict, VerdictStanding, shown_beside,
};

use super::{COVERAGE_FACTOR, edition, number_stands, place, stood};
use crate::content::{Conformity, Criterion, Reason, Standing, Stood, Value};

/// The confidence at which "so many of so many" is read.
const CONFIDENCE_PERCENT: f64 = 95.0;

pub(super) fn conformity(history: &History, plan: &Plan, verdict: &Verdict) -> Conformity {
    let standing = match verdict.standing {
        VerdictStanding::Meets => Standing::Meets,
        VerdictStanding::DoesNotMeet => Standing::DoesNotMeet,
        VerdictStanding::Undecided => Standing::Undecided,
        VerdictStanding::NotYet { .. } | VerdictStanding::NotJudged => Standing::NotJudged,
    };
    Conformity {
        standing,
        words: standing.words().into(),
        applies_to: applies_to(plan),
        decided_by: decided_by(plan, verdict),
        decision_rule: rule(plan.draft().decision_rule).to_owned(),
        risk: risk(plan.draft().decision_rule, verdict),
        criteria: criteria(history, plan, verdict),
        what_it_shows: what_it_shows(verdict),
        near_limit: near_limit(verdict),
    }
}

fn applies_to(plan: &Plan) -> String {
    let requirement = plan.requirement();
    let method = format!("{}, {}", edition(&requirement.method), requirement.method.title);
    match &requirement.profile {
        Some(profile) => {
            format!("{}, {}, tested by {method}.", edition(profile), profile.title)
        }
        None => format!("{method}."),
    }
}

/// Which value, or which want, decided.
fn decided_by(plan: &Plan, verdict: &Verdict) -> String {
    let counted = |wanted| verdict.judged.iter().filter(|one| one.standing == wanted).count();
    let (met, of) = (counted(SpecimenStanding::Meets), verdict.judged.len());
    let reasons = verdict.decided_by();
    match verdict.standing {
        VerdictStanding::Meets => {
            let worst = nearest(verdict).map(|(reason, value)| {
                format!(
                    " The {} nearest to its limit is {} (specimen {}), asked {}.",
                    demand(reason.demand),
                    value.text(),
                    reason.specimen,
                    reason.asked
                )
            });
            let worst = worst.unwrap_or_default();
            format!("{met} of {of} specimens met every criterion.{}{worst}", staged(plan, verdict))
        }
        VerdictStanding::DoesNotMeet | VerdictStanding::Undecided => {
            let told: Vec<String> = reasons
                .iter()
                .map(|reason| {
                    format!(
                        "specimen {}: {} {}, asked {}",
                        reason.specimen,
                        demand(reason.demand),
                        found(reason),
                        reason.asked
                    )
                })
                .collect();
            format!("{met} of {of} specimens met every criterion. Decided by {}.", told.join("; "))
        }
        VerdictStanding::NotYet { further: 1 } => "One further specimen is to be tested.".into(),
        VerdictStanding::NotYet { further } => {
            format!("{further} further specimens are to be tested.")
        }
        VerdictStanding::NotJudged => {
            let why: Vec<&str> = verdict.not_judged().map(|it| it.text.as_str()).collect();
            format!("Not judged: {}.", why.join("; "))
        }
    }
}

/// Where a failed specimen was followed by further ones: that the rules let these decide.
fn staged(plan: &Plan, verdict: &Verdict) -> String {
    let failed = verdict.judged.iter().any(|one| one.standing == SpecimenStanding::DoesNotMeet);
    match &plan.requirement().asked.specimens.further {
        Some(further) if failed => format!(
            " The first did not; {} lets {} more decide, and all of them met.",
            place(plan, &further.source, &further.clause),
            further.value
        ),
        _ => String::new(),
    }
}

const fn rule(rule: DecisionRule) -> &'static str {
    match rule {
        DecisionRule::SimpleAcceptance => {
            "Simple acceptance: the value found is held against its limit as it stands; its \
             uncertainty is shown beside it."
        }
        DecisionRule::GuardBand { .. } => {
            "Guard band: a value is accepted only if it keeps its limit with the guard band taken \
             off, rejected only if it breaks it with the guard band added, and undecided between."
        }
    }
}

fn risk(rule: DecisionRule, verdict: &Verdict) -> String {
    let general = match rule {
        DecisionRule::SimpleAcceptance => {
            "A value exactly at its limit would be accepted wrongly with a probability of up to \
             50 %."
                .to_owned()
        }
        DecisionRule::GuardBand { ratio, coverage_factor } => {
            format!("The guard band is w = {ratio} · U with k = {coverage_factor}.")
        }
    };
    let told = |reason: &Judged, probability| {
        format!("{} ({}, specimen {})", share(probability), demand(reason.demand), reason.specimen)
    };
    let with = |wanted: Stood| {
        let probable = |reason: &'_ Judged| reason.probability_of_conformity.map(Ratio::fraction);
        let mut found: Vec<&Judged> = all_reasons(verdict)
            .filter(|reason| stood(reason.stood) == wanted && probable(reason).is_some())
            .collect();
        found.sort_by(|one, other| probable(one).partial_cmp(&probable(other)).unwrap_or(Equal));
        found
    };
    let accepted = with(Stood::Kept).first().and_then(|reason| {
        let probability = reason.probability_of_conformity?;
        Some(format!(
            " Of the values accepted here, the one most at risk conforms with a probability of {}.",
            told(reason, probability)
        ))
    });
    let rejected = with(Stood::NotKept).last().and_then(|reason| {
        let probability = reason.probability_of_conformity?;
        Some(format!(
            " Of the values not accepted, the one most at risk conforms all the same with a \
             probability of {}.",
            told(reason, probability)
        ))
    });
    format!("{general}{}{}", accepted.unwrap_or_default(), rejected.unwrap_or_default())
}

fn all_reasons(verdict: &Verdict) -> impl Iterator<Item = &Judged> {
    verdict.judged.iter().flat_map(|judged| &judged.reasons)
}

/// The reasons that count: where further specimens decided, those of the failed one do not.
fn deciding(verdict: &Verdict) -> impl Iterator<Item = &Judged> {
    let met = verdict.standing == VerdictStanding::Meets;
    let counts = move |judged: &&trial::verdict::Judged| {
        !met || judged.standing != SpecimenStanding::DoesNotMeet
    };
    verdict.judged.iter().filter(counts).flat_map(|judged| &judged.reasons)
}

/// A probability as printed: never rounded to certainty.
fn share(probability: Ratio) -> String {
    let percent = probability.percent();
    if percent > 99.9 {
        "above 99.9 %".into()
    } else if percent < 0.1 {
        "below 0.1 %".into()
    } else {
        format!("{percent:.1} %")
    }
}

fn criteria(history: &History, plan: &Plan, verdict: &Verdict) -> Vec<Criterion> {
    let asked = &plan.requirement().asked.criteria;
    let rows = [
        (Demand::DurationOfBurning, asked.duration_of_burning.as_ref().map(Asked::limit)),
        (Demand::DamagedLength, asked.damaged_length.as_ref().map(Asked::limit)),
        (Demand::LayerIgnition, counting(asked.layer_ignition.as_ref())),
        (Demand::LayerScorching, counting(asked.layer_scorching.as_ref())),
        (Demand::CompleteBurning, counting(asked.complete_burning.as_ref())),
    ];
    let asked = rows.into_iter().filter_map(|(demand, asked)| Some((demand, asked?)));
    asked.map(|(demand, asked)| criterion((history, plan, verdict), demand, &asked)).collect()
}

fn counting(provision: Option<&Provision<Counted>>) -> Option<Asked<'_>> {
    provision.filter(|it| it.value == Counted::Counts).map(Asked::seen)
}

/// One provision without the type of its value.
struct Asked<'a> {
    limit: Option<String>,
    text: &'a str,
    clause: &'a trial::rules::Clause,
    source: &'a trial::rules::RulesId,
    key: &'a trial::rules::Key,
    standing: trial::rules::Standing,
    replaces: Option<&'a trial::rules::Replaced>,
}

impl<'a> Asked<'a> {
    fn of<T>(provision: &'a Provision<T>, limit: Option<String>) -> Self {
        Self {
            limit,
            text: &provision.text,
            clause: &provision.clause,
            source: &provision.source,
            key: &provision.key,
            standing: provision.standing,
            replaces: provision.replaces.as_ref(),
        }
    }

    fn limit<T>(provision: &'a Provision<T>) -> Self {
        Self::of(provision, Some(provision.text.clone()))
    }

    fn seen(provision: &'a Provision<Counted>) -> Self {
        Self::of(provision, None)
    }
}

fn criterion(
    (history, plan, verdict): (&History, &Plan, &Verdict),
    looked_at: Demand,
    asked: &Asked<'_>,
) -> Criterion {
    let judged: Vec<&Judged> =
        all_reasons(verdict).filter(|reason| reason.demand == looked_at).collect();
    let how = |wanted| {
        deciding(verdict).any(|reason| reason.demand == looked_at && stood(reason.stood) == wanted)
    };
    let stood_in_all = match (how(Stood::NotKept), how(Stood::Undecided), judged.is_empty()) {
        (true, ..) => Stood::NotKept,
        (_, true, _) => Stood::Undecided,
        (.., true) => Stood::NotJudged,
        (false, false, false) => Stood::Kept,
    };
    let replaced = asked.replaces.map(|replaced| {
        format!(" in place of {}", place(plan, &replaced.source, &replaced.clause))
    });
    let clause = place(plan, asked.source, asked.clause);
    let verified = history.verified(asked.source, asked.key, asked.text);
    Criterion {
        demand: demanded(looked_at).into(),
        limit: asked.limit.clone(),
        clause: format!("{clause}{}", replaced.unwrap_or_default()),
        number_stands: verified.map_or_else(
            || number_stands(asked.standing).to_owned(),
            |found| format!("verified by this laboratory ({}, {})", found.who, found.at.day()),
        ),
        stood: stood_in_all,
        decided_by: told(&judged),
        reasons: judged.iter().map(|reason| reason_shown(reason)).collect(),
    }
}

/// What was found on each specimen, or on all of them where it is the same.
fn told(judged: &[&Judged]) -> String {
    let texts: Vec<String> = judged
        .iter()
        .map(|reason| {
            let broken = if stood(reason.stood) == Stood::NotKept { ", not kept" } else { "" };
            format!("{}{broken}", found(reason))
        })
        .collect();
    match texts.split_first() {
        Some((first, rest)) if !rest.is_empty() && rest.iter().all(|text| text == first) => {
            format!("all {}: {first}", texts.len())
        }
        _ => {
            let each = judged.iter().zip(&texts);
            let each = each.map(|(reason, text)| format!("no. {}: {text}", reason.specimen));
            each.collect::<Vec<_>>().join("; ")
        }
    }
}

fn reason_shown(reason: &Judged) -> Reason {
    Reason {
        specimen: reason.specimen.0,
        value: value(reason),
        stood: stood(reason.stood),
        probability_of_conformity: reason.probability_of_conformity.map(Ratio::fraction),
    }
}

/// What was found, with its uncertainty where it is a number.
fn found(reason: &Judged) -> String {
    value(reason).map_or_else(|| reason.found_shown(1), |value| value.text())
}

fn value(reason: &Judged) -> Option<Value> {
    match &reason.found {
        Found::Duration { value, limit, .. } => Some(beside(value, *limit)),
        Found::Length { value, limit } => Some(beside(value, *limit)),
        Found::Layer(_) | Found::Burnt(_) => None,
    }
}

/// A value rounded so that it stands on its own side of its limit.
fn beside<Q: Quantity>(measurement: &Measurement<Q>, limit: Limit<Q>) -> Value {
    let shown = shown_beside(measurement.value, limit, 1);
    let digits = shown.split(' ').next().unwrap_or(&shown).to_owned();
    Value { shown: digits, ..Value::measured(measurement, COVERAGE_FACTOR, 1) }
}

/// The value nearest to its limit, as a share of the limit.
fn nearest(verdict: &Verdict) -> Option<(&Judged, Value)> {
    let with_value =
        deciding(verdict).filter_map(|reason| Some((margin(reason)?.0, reason, value(reason)?)));
    with_value
        .min_by(|one, other| one.0.total_cmp(&other.0))
        .map(|(_, reason, value)| (reason, value))
}

/// How far a value lies from its limit as a share of the limit, and the limit in its unit.
fn margin(reason: &Judged) -> Option<(f64, f64)> {
    let (value, limit) = match &reason.found {
        Found::Duration { value, limit, .. } => (value.value.seconds(), edge(*limit)?),
        Found::Length { value, limit } => (value.value.millimetres(), edge(*limit)?),
        Found::Layer(_) | Found::Burnt(_) => return None,
    };
    Some(((limit - value).abs() / limit.abs().max(f64::MIN_POSITIVE), limit.abs()))
}

fn edge<Q: Quantity>(limit: Limit<Q>) -> Option<f64> {
    match limit {
        Limit::AtMost(edge)
        | Limit::LessThan(edge)
        | Limit::AtLeast(edge)
        | Limit::MoreThan(edge) => Some(edge.in_unit()),
        Limit::Between { .. } => None,
    }
}

/// What so many of so many really show.
fn what_it_shows(verdict: &Verdict) -> Option<String> {
    let counted = |wanted| {
        let found = verdict.judged.iter().filter(|judged| judged.standing == wanted).count();
        u64::try_from(found).unwrap_or(u64::MAX)
    };
    let met = counted(SpecimenStanding::Meets);
    let all = met + counted(SpecimenStanding::DoesNotMeet) + counted(SpecimenStanding::Undecided);
    let confidence = Ratio::from_percent(CONFIDENCE_PERCENT);
    let share = proportion_at_least(Count::of(met), Count::of(all), confidence).ok()?;
    Some(format!(
        "{met} of {all} specimens met every criterion. At a confidence of {CONFIDENCE_PERCENT} % \
         this alone shows no more than that at least {:.1} % of such parts would (Clopper and \
         Pearson, one-sided).",
        share.percent()
    ))
}

/// A remark where a value lies within a tenth of its limit, or within its own uncertainty of it.
fn near_limit(verdict: &Verdict) -> Option<String> {
    let (reason, value) = nearest(verdict)?;
    let (margin, limit) = margin(reason)?;
    let expanded = value.uncertainty.as_ref().map_or(0.0, |uncertainty| uncertainty.expanded);
    let within = margin * limit <= expanded;
    if margin > 0.1 && !within {
        return None;
    }
    let sure = if within { ": less than its expanded uncertainty" } else { "" };
    Some(format!(
        "Specimen {}: {} {} is {:.2} {} away from its limit (asked {}){sure}.",
        reason.specimen,
        demand(reason.demand),
        value.text(),
        margin * limit,
        value.unit,
        reason.asked
    ))
}

/// The name of what is looked at.
const fn demand(demand: Demand) -> &'static str {
    match demand {
        Demand::DurationOfBurning => "duration of burning",
        Demand::DamagedLength => "damaged length",
        Demand::LayerIgnition => "ignition of the layer",
        Demand::LayerScorching => "scorching of the layer",
        Demand::CompleteBurning => "complete burning",
    }
}

/// What is asked, as a row of a table says it.
const fn demanded(demand: Demand) -> &'static str {
    match demand {
        Demand::DurationOfBurning => "Duration of burning, each specimen",
        Demand::DamagedLength => "Damaged length, each specimen",
        Demand::LayerIgnition => "The layer below does not catch fire",
        Demand::LayerScorching => "The layer below is not scorched",
        Demand::CompleteBurning => "The specimen is not burnt completely",
    }
}
