//! How the pages of a plan show what they share: verdicts in words, wide tables, acts.

use axum::http::StatusCode;
use maud::{Markup, html};
use metrology::decision::DecisionRule;
use trial::number::{PlanNumber, SpecimenNumber};
use trial::rules::Standing;
use trial::run::{LayerOutcome, Mark, MarkKind, Observed, Timed, TimedEnd};
use trial::verdict::{SpecimenStanding, VerdictStanding};

use crate::form::pressed::tenths;
use crate::problem::Problem;
use crate::web::answer::Refused;
use crate::web::site::Site;

/// How a set of specimens stands, in words.
pub(super) const fn standing(standing: VerdictStanding) -> &'static str {
    match standing {
        VerdictStanding::Meets => "meets the requirement",
        VerdictStanding::DoesNotMeet => "does not meet the requirement",
        VerdictStanding::Undecided => "undecided",
        VerdictStanding::NotYet { .. } => "further specimens are needed",
        VerdictStanding::NotJudged => "not judged",
    }
}

/// How one specimen stands: a shape and words, never a colour.
pub(super) fn specimen_standing(standing: SpecimenStanding) -> Markup {
    match standing {
        SpecimenStanding::Meets => {
            html! { span aria-hidden="true" { "■ " } "Meets the requirement" }
        }
        SpecimenStanding::DoesNotMeet => html! {
            b { span aria-hidden="true" { "□ " } "Does not meet the requirement" }
        },
        SpecimenStanding::Undecided => html! { span aria-hidden="true" { "– " } "Undecided" },
        SpecimenStanding::NotJudged => html! { span aria-hidden="true" { "– " } "Not judged" },
    }
}

/// A time with its unit, and whether it was cut short.
pub(super) fn timed(timed: Timed) -> String {
    let value = timed.time.value;
    match timed.end {
        TimedEnd::ByItself => format!("{value:.1}"),
        TimedEnd::ByHand => format!("over {value:.1}, put out by hand"),
    }
}

/// How uncertainty enters a verdict, in words.
pub(super) fn decision_rule(rule: DecisionRule) -> String {
    match rule {
        DecisionRule::SimpleAcceptance => "simple acceptance".to_owned(),
        DecisionRule::GuardBand { ratio, coverage_factor } => {
            format!("guard band of {ratio} times U, with k = {coverage_factor}")
        }
    }
}

/// How a number of the rules stands, in words.
pub(super) const fn number_standing(standing: Standing) -> &'static str {
    match standing {
        Standing::Seen => "seen in the edition",
        Standing::Memory => "from memory: check it against your own copy",
        Standing::Ours => "chosen in the plan",
    }
}

/// What became of the layer below, in words.
pub(super) const fn layer(outcome: LayerOutcome) -> &'static str {
    match outcome {
        LayerOutcome::Unchanged => "unchanged",
        LayerOutcome::Scorched => "scorched",
        LayerOutcome::Glowed => "glowed",
        LayerOutcome::Flamed => "flamed",
        LayerOutcome::NotUsed => "not used",
    }
}

/// What a mark says, in words.
pub(super) const fn mark_kind(kind: MarkKind) -> &'static str {
    match kind {
        MarkKind::Ignited => "the specimen caught fire",
        MarkKind::Drop => "a drop fell",
        MarkKind::BurningDrop => "a burning drop fell",
        MarkKind::LayerCaught => "the layer below caught fire",
        MarkKind::Other => "other",
    }
}

/// A mark in one line.
pub(super) fn mark(mark: &Mark) -> String {
    let (at, kind) = (tenths(mark.at), mark_kind(mark.kind));
    match (mark.kind, mark.words.as_str()) {
        (_, "") => format!("{at}: {kind}"),
        (MarkKind::Other, words) => format!("{at}: {words}"),
        (_, words) => format!("{at}: {kind}, {words}"),
    }
}

/// What happened when, one line each.
pub(super) fn marks(observed: &Observed) -> Vec<String> {
    observed.marks.iter().map(mark).collect()
}

/// A table that may be wider than the screen: it scrolls in its own box.
pub(super) fn wide(name: &str, table: &Markup) -> Markup {
    html! { div.wide role="region" aria-label=(name) tabindex="0" { (table) } }
}

/// The plan that an address names.
///
/// # Errors
///
/// [`Refused`] as not found, with the plans that there are.
pub(super) async fn plan_at(site: &Site, text: &str) -> Result<PlanNumber, Refused> {
    let Ok(number) = text.parse() else {
        let problem = Problem::used_wrongly(format!("`{text}` is no number of a plan"));
        return Err(Refused::not_found(problem.hint("Choose one under Plans.")));
    };
    let number = PlanNumber(number);
    let there = site.read(move |book| Ok(book.history().plan(number).is_some())).await?;
    if there { Ok(number) } else { Err(no_such(&format!("plan {number}"))) }
}

/// The specimen that an address such as `7-2` names.
///
/// # Errors
///
/// [`Refused`] as not found.
pub(super) async fn specimen_at(
    site: &Site,
    text: &str,
) -> Result<(PlanNumber, SpecimenNumber), Refused> {
    let parts = text.split_once('-');
    let named = parts.and_then(|(plan, specimen)| Some((plan, specimen.parse().ok()?)));
    let Some((plan, specimen)) = named else {
        let problem = Problem::used_wrongly(format!("`{text}` is no specimen"));
        let refused = Refused::with(problem.hint("Choose one on its plan."), StatusCode::NOT_FOUND);
        return Err(refused);
    };
    let (plan, specimen) = (plan_at(site, plan).await?, SpecimenNumber(specimen));
    let there =
        site.read(move |book| Ok(book.history().specimens(plan).contains(&specimen))).await?;
    if there {
        Ok((plan, specimen))
    } else {
        Err(no_such(&format!("specimen {specimen} of plan {plan}")))
    }
}

fn no_such(what: &str) -> Refused {
    let problem = Problem::used_wrongly(format!("{what} is not in this book"));
    Refused::not_found(problem.hint("Choose one under Plans."))
}
