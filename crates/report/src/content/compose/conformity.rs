//! The statement of conformity, from the verdict's reasons.

use std::cmp::Ordering::Equal;

use metrology::decision::DecisionRule;
use metrology::statistics::proportion_at_least;
use metrology::{Count, Measurement, Quantity, Ratio};
use trial::history::History;
use trial::method::{Counted, Demand};
use trial::plan::Plan;
use trial::rules::{Head, Limit, Provision};
use trial::verdict::{
    Found, Reason as Judged, SpecimenStanding, Verdict, VerdictStanding, shown_beside,
};

use super::{COVERAGE_FACTOR, place, stood};
use crate::content::{Conformity, Criterion, Reason, Standing, Stood, Value};
use crate::words::Words;

/// The confidence at which "so many of so many" is read.
const CONFIDENCE_PERCENT: f64 = 95.0;

/// A record, a plan in it, and its verdict.
type Judgement<'a> = (&'a History, &'a Plan, &'a Verdict);

pub(super) fn conformity(judgement: Judgement<'_>, words: &Words) -> Conformity {
    let (_, plan, verdict) = judgement;
    let standing = match verdict.standing {
        VerdictStanding::Meets => Standing::Meets,
        VerdictStanding::DoesNotMeet => Standing::DoesNotMeet,
        VerdictStanding::Undecided => Standing::Undecided,
        VerdictStanding::NotYet { .. } | VerdictStanding::NotJudged => Standing::NotJudged,
    };
    Conformity {
        standing,
        words: (words.conformity.standing)(standing).to_owned().into(),
        applies_to: applies_to(plan, words),
        decided_by: decided_by(plan, verdict, words),
        decision_rule: (words.conformity.rule)(plan.draft().decision_rule).to_owned(),
        risk: risk(plan.draft().decision_rule, verdict, words),
        criteria: criteria(judgement, words),
        what_it_shows: what_it_shows(verdict, words),
        near_limit: near_limit(verdict, words),
    }
}

fn applies_to(plan: &Plan, words: &Words) -> String {
    let requirement = plan.requirement();
    let named = |head: &Head| (head.cited(words.edition), (words.of_rules)(&head.title));
    let (method, title) = named(&requirement.method);
    let method = format!("{method}, {title}");
    match &requirement.profile {
        Some(profile) => {
            let (profile, title) = named(profile);
            (words.conformity.applies_to)([&profile, &title], &method)
        }
        None => format!("{method}."),
    }
}

/// Which value, or which want, decided.
fn decided_by(plan: &Plan, verdict: &Verdict, words: &Words) -> String {
    let counted = |wanted| verdict.judged.iter().filter(|one| one.standing == wanted).count();
    let met = (words.conformity.met)(counted(SpecimenStanding::Meets), verdict.judged.len());
    let asked = |reason: &Judged| (words.of_rules)(&reason.asked);
    match verdict.standing {
        VerdictStanding::Meets => {
            let worst = nearest(verdict).map(|(reason, value)| {
                let value = (words.shown)(&value.text());
                let (what, specimen) = (reason.demand, reason.specimen.0);
                (words.conformity.nearest)(what, &value, specimen, &asked(reason))
            });
            format!("{met}{}{}", staged(plan, verdict, words), worst.unwrap_or_default())
        }
        VerdictStanding::DoesNotMeet | VerdictStanding::Undecided => {
            let told = |reason: &&Judged| {
                let (found, specimen) = (found(reason, words), reason.specimen.0);
                (words.conformity.found)(specimen, reason.demand, &found, &asked(reason))
            };
            let told: Vec<String> = verdict.decided_by().iter().map(told).collect();
            format!("{met}{}", (words.conformity.decided_by)(&told.join("; ")))
        }
        VerdictStanding::NotYet { further } => (words.conformity.further)(further),
        VerdictStanding::NotJudged => {
            let why: Vec<&str> = verdict.not_judged().map(|it| it.text.as_str()).collect();
            (words.conformity.not_judged)(&why.join("; "))
        }
    }
}

/// Where a failed specimen was followed by further ones: that the rules let these decide.
fn staged(plan: &Plan, verdict: &Verdict, words: &Words) -> String {
    let failed = verdict.judged.iter().any(|one| one.standing == SpecimenStanding::DoesNotMeet);
    match &plan.requirement().asked.specimens.further {
        Some(further) if failed => {
            let place = place(plan, (&further.source, &further.clause), words);
            (words.conformity.staged)(&place, further.value.number())
        }
        _ => String::new(),
    }
}

fn risk(rule: DecisionRule, verdict: &Verdict, words: &Words) -> String {
    let told = &words.conformity;
    let general = match rule {
        DecisionRule::SimpleAcceptance => told.half.to_owned(),
        DecisionRule::GuardBand { ratio, coverage_factor } => {
            (told.guard)(&ratio.to_string(), &coverage_factor.to_string())
        }
    };
    let of_value = |reason: &Judged| {
        let share = share(reason.probability_of_conformity?, words);
        Some((told.of_value)(&share, reason.demand, reason.specimen.0))
    };
    let with = |wanted: Stood| {
        let probable = |reason: &'_ Judged| reason.probability_of_conformity.map(Ratio::fraction);
        let mut found: Vec<&Judged> = all_reasons(verdict)
            .filter(|reason| stood(reason.stood) == wanted && probable(reason).is_some())
            .collect();
        found.sort_by(|one, other| probable(one).partial_cmp(&probable(other)).unwrap_or(Equal));
        found
    };
    let accepted = with(Stood::Kept).first().and_then(|reason| of_value(reason));
    let rejected = with(Stood::NotKept).last().and_then(|reason| of_value(reason));
    let accepted = accepted.map(|value| (told.accepted_risk)(&value));
    let rejected = rejected.map(|value| (told.rejected_risk)(&value));
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
fn share(probability: Ratio, words: &Words) -> String {
    let percent = probability.percent();
    if percent > 99.9 {
        words.conformity.most_sure.into()
    } else if percent < 0.1 {
        words.conformity.least_sure.into()
    } else {
        (words.shown)(&format!("{percent:.1} %"))
    }
}

fn criteria(judgement: Judgement<'_>, words: &Words) -> Vec<Criterion> {
    let (_, plan, _) = judgement;
    let asked = &plan.requirement().asked.criteria;
    let rows = [
        (Demand::DurationOfBurning, asked.duration_of_burning.as_ref().map(Asked::limit)),
        (Demand::DamagedLength, asked.damaged_length.as_ref().map(Asked::limit)),
        (Demand::LayerIgnition, counting(asked.layer_ignition.as_ref())),
        (Demand::LayerScorching, counting(asked.layer_scorching.as_ref())),
        (Demand::CompleteBurning, counting(asked.complete_burning.as_ref())),
    ];
    let asked = rows.into_iter().filter_map(|(demand, asked)| Some((demand, asked?)));
    asked.map(|(demand, asked)| criterion(judgement, (demand, &asked), words)).collect()
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
    (history, plan, verdict): Judgement<'_>,
    (looked_at, asked): (Demand, &Asked<'_>),
    words: &Words,
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
        (words.conformity.in_place_of)(&place(plan, (&replaced.source, &replaced.clause), words))
    });
    let clause = place(plan, (asked.source, asked.clause), words);
    let verified = history.verified(asked.source, asked.key, asked.text);
    Criterion {
        demand: (words.conformity.demanded)(looked_at).into(),
        limit: asked.limit.as_deref().map(words.of_rules),
        clause: format!("{clause}{}", replaced.unwrap_or_default()),
        number_stands: verified.map_or_else(
            || (words.whole.number_stands)(asked.standing).to_owned(),
            |found| (words.conformity.verified)(&found.who.0, &found.at.day().to_string()),
        ),
        stood: stood_in_all,
        decided_by: told(&judged, words),
        reasons: judged.iter().map(|reason| reason_shown(reason)).collect(),
    }
}

/// What was found on each specimen, or on all of them where it is the same.
fn told(judged: &[&Judged], words: &Words) -> String {
    let texts: Vec<String> = judged
        .iter()
        .map(|reason| {
            let broken = stood(reason.stood) == Stood::NotKept;
            let broken = if broken { words.conformity.not_kept } else { "" };
            format!("{}{broken}", found(reason, words))
        })
        .collect();
    match texts.split_first() {
        Some((first, rest)) if !rest.is_empty() && rest.iter().all(|text| text == first) => {
            (words.conformity.all)(texts.len(), first)
        }
        _ => {
            let each = judged.iter().zip(&texts);
            let each = each.map(|(reason, text)| (words.conformity.one)(reason.specimen.0, text));
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
fn found(reason: &Judged, words: &Words) -> String {
    match (&reason.found, value(reason)) {
        (Found::Layer(outcome), _) => (words.conformity.layer)(*outcome),
        (Found::Burnt(burnt), _) => (words.conformity.burnt)(*burnt),
        (_, Some(value)) => (words.shown)(&value.text()),
        (_, None) => (words.shown)(&reason.found_shown(1)),
    }
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
fn what_it_shows(verdict: &Verdict, words: &Words) -> Option<String> {
    let counted = |wanted| {
        let found = verdict.judged.iter().filter(|judged| judged.standing == wanted).count();
        u64::try_from(found).unwrap_or(u64::MAX)
    };
    let met = counted(SpecimenStanding::Meets);
    let all = met + counted(SpecimenStanding::DoesNotMeet) + counted(SpecimenStanding::Undecided);
    let confidence = Ratio::from_percent(CONFIDENCE_PERCENT);
    let share = proportion_at_least(Count::of(met), Count::of(all), confidence).ok()?;
    let share = (words.shown)(&format!("{:.1} %", share.percent()));
    Some((words.conformity.shows)([met, all], [&format!("{CONFIDENCE_PERCENT} %"), &share]))
}

/// A remark where a value lies within a tenth of its limit, or within its own uncertainty of it.
fn near_limit(verdict: &Verdict, words: &Words) -> Option<String> {
    let (reason, value) = nearest(verdict)?;
    let (margin, limit) = margin(reason)?;
    let expanded = value.uncertainty.as_ref().map_or(0.0, |uncertainty| uncertainty.expanded);
    let within = margin * limit <= expanded;
    if margin > 0.1 && !within {
        return None;
    }
    let sure = if within { words.conformity.within_uncertainty } else { "" };
    let away = (words.shown)(&format!("{:.2} {}", margin * limit, value.unit));
    let (value, asked) = ((words.shown)(&value.text()), (words.of_rules)(&reason.asked));
    let near = words.conformity.near_limit;
    let near = near(reason.specimen.0, reason.demand, [&value, &away, &asked]);
    Some(format!("{near}{sure}."))
}
