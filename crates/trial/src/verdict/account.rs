//! A verdict in words: an exact account for the record, and sentences for people.

use super::{Found, Judged, Reason, Verdict, VerdictStanding};
use crate::finding::Finding;
use crate::method::Demand;
use crate::rules::Limit;
use crate::run::TimedEnd;
use metrology::decision::{DecisionRule, Standing as Stood};
use metrology::statistics::{ProportionError, proportion_at_least};
use metrology::{Count, Measurement, Quantity, Ratio};

impl Verdict {
    /// The verdict as text, exact to the last digit: judging the same runs again must give the
    /// same bytes.
    #[must_use]
    pub fn account(&self) -> String {
        let mut lines = vec![format!("verdict {}", exact_standing(self.standing))];
        for judged in &self.judged {
            lines.push(format!("specimen {} {}", judged.specimen, judged.standing));
            lines.extend(judged.reasons.iter().map(exact_reason));
            lines.extend(judged.not_judged_because.iter().map(|finding| format!("  {finding}")));
        }
        lines.push(String::new());
        lines.join("\n")
    }

    /// The verdict as one sentence.
    #[must_use]
    pub fn sentence(&self) -> String {
        let meeting = self
            .judged
            .iter()
            .filter(|judged| judged.standing == super::SpecimenStanding::Meets)
            .count();
        match self.standing {
            VerdictStanding::Meets if meeting == 1 => {
                "meets the requirement: 1 specimen keeps it".to_owned()
            }
            VerdictStanding::Meets => format!("meets the requirement: {meeting} specimens keep it"),
            VerdictStanding::DoesNotMeet => "does not meet the requirement".to_owned(),
            VerdictStanding::Undecided => {
                "undecided: a value lies too near to its limit for the decision rule".to_owned()
            }
            VerdictStanding::NotYet { further: 1 } => {
                "not yet: 1 further specimen is needed".to_owned()
            }
            VerdictStanding::NotYet { further } => {
                format!("not yet: {further} further specimens are needed")
            }
            VerdictStanding::NotJudged => "not judged".to_owned(),
        }
    }

    /// The reasons that decided: the broken ones, else the undecided ones, else all.
    #[must_use]
    pub fn decided_by(&self) -> Vec<&Reason> {
        let reasons = || self.judged.iter().flat_map(|judged: &Judged| &judged.reasons);
        let wanted = match self.standing {
            VerdictStanding::DoesNotMeet | VerdictStanding::NotYet { .. } => Stood::Broken,
            VerdictStanding::Undecided => Stood::Undecided,
            VerdictStanding::Meets | VerdictStanding::NotJudged => return reasons().collect(),
        };
        reasons().filter(|reason| reason.stood == wanted).collect()
    }

    /// Why specimens were not judged, in order.
    pub fn not_judged(&self) -> impl Iterator<Item = &Finding> {
        self.findings.iter()
    }
}

fn exact_standing(standing: VerdictStanding) -> String {
    if let VerdictStanding::NotYet { further } = standing {
        return format!("{} further {further}", standing.word());
    }
    standing.word().to_owned()
}

fn exact_reason(reason: &Reason) -> String {
    let found = match &reason.found {
        Found::Duration { value, end: TimedEnd::ByHand, .. } => format!("{} by hand", exact(value)),
        Found::Duration { value, end: TimedEnd::ByItself, .. } => exact(value),
        Found::Length { value, .. } => exact(value),
        Found::Layer(outcome) => outcome.word().to_owned(),
        Found::Burnt(burnt) => burnt.word().to_owned(),
    };
    let probability = match reason.probability_of_conformity {
        Some(probability) => format!(" probability {}", probability.fraction()),
        None => String::new(),
    };
    format!(
        "  {} {} `{}` asked {} by {} clause {} ({}): found {found}{probability} rule {}",
        reason.demand,
        stood(reason.stood),
        reason.key,
        reason.asked,
        reason.source,
        reason.clause,
        reason.number,
        rule(reason.rule),
    )
}

fn exact<Q: Quantity>(measurement: &Measurement<Q>) -> String {
    format!("{} u {}", measurement.value, measurement.uncertainty)
}

/// The word for how a criterion stood.
const fn stood(stood: Stood) -> &'static str {
    match stood {
        Stood::Kept => "kept",
        Stood::Broken => "broken",
        Stood::Undecided => "undecided",
    }
}

/// A decision rule in words.
fn rule(rule: DecisionRule) -> String {
    match rule {
        DecisionRule::SimpleAcceptance => "simple acceptance".to_owned(),
        DecisionRule::GuardBand { ratio, coverage_factor } => {
            format!("guard band w = {ratio} U, k = {coverage_factor}")
        }
    }
}

impl Reason {
    /// What was found, rounded once and for the eye only: to the decimals given, or to as many
    /// more as it takes to show on which side of the limit it lies.
    #[must_use]
    pub fn found_shown(&self, decimals: usize) -> String {
        match &self.found {
            Found::Duration { value, limit, end } => {
                let shown = shown_beside(value.value, *limit, decimals);
                match end {
                    TimedEnd::ByItself => shown,
                    TimedEnd::ByHand => format!("over {shown}, put out by hand"),
                }
            }
            Found::Length { value, limit } => shown_beside(value.value, *limit, decimals),
            Found::Layer(outcome) => format!("layer {outcome}"),
            Found::Burnt(burnt) => format!("burnt {burnt}"),
        }
    }

    /// The reason as one sentence: what was found, what was asked and where, and how it stood.
    #[must_use]
    pub fn sentence(&self) -> String {
        let found = self.found_shown(1);
        let said = match self.demand {
            Demand::DurationOfBurning => {
                format!("duration of burning {found}, asked {}", self.asked)
            }
            Demand::DamagedLength => format!("damaged length {found}, asked {}", self.asked),
            Demand::LayerIgnition => format!("{found}, asked not to catch fire"),
            Demand::LayerScorching => format!("{found}, asked not to be scorched"),
            Demand::CompleteBurning => format!("{found}, asked not to burn completely"),
        };
        let (source, clause, number) = (&self.source, &self.clause, self.number);
        let stood = match self.stood {
            Stood::Broken => "not kept",
            Stood::Kept | Stood::Undecided => stood(self.stood),
        };
        format!("specimen {}: {said} ({source} {clause}, {number}): {stood}", self.specimen)
    }
}

/// A value rounded for the eye so that it is on the same side of its limit as the value itself.
///
/// ```
/// use metrology::Duration;
/// use trial::rules::Limit;
/// use trial::verdict::shown_beside;
/// let limit = Limit::AtMost(Duration::from_seconds(30.0));
/// assert_eq!(shown_beside(Duration::from_microseconds(29_960_000), limit, 1), "30.0 s");
/// assert_eq!(shown_beside(Duration::from_microseconds(30_000_001), limit, 1), "30.000001 s");
/// ```
#[must_use]
pub fn shown_beside<Q: Quantity>(value: Q, limit: Limit<Q>, decimals: usize) -> String {
    let kept = limit.is_kept_by(value);
    let same_side = |decimals: &usize| {
        let digits = format!("{:.1$}", value.in_unit(), *decimals);
        digits.parse().is_ok_and(|rounded| limit.is_kept_by(Q::of_unit(rounded)) == kept)
    };
    match (decimals..=9).find(same_side) {
        Some(decimals) => format!("{value:.decimals$}"),
        None => value.to_string(),
    }
}

/// What `n` specimens that all meet a requirement really show: the least share of all such
/// specimens that meets it, with this confidence (Clopper-Pearson, one-sided).
///
/// # Errors
///
/// [`ProportionError`] for no specimens, or a confidence that is none.
///
/// ```
/// use metrology::{Count, Ratio};
/// let share = trial::verdict::shown_by_all(Count::of(3), Ratio::from_percent(95.0))?;
/// assert_eq!(format!("{:.1}", share.percent()), "36.8");
/// # Ok::<(), metrology::statistics::ProportionError>(())
/// ```
pub fn shown_by_all(n: Count, confidence: Ratio) -> Result<Ratio, ProportionError> {
    proportion_at_least(n, n, confidence)
}
