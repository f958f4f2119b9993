//! Review: the specimens of a plan in rows, odd things first.

use axum::Json;
use axum::extract::{Path, State};
use axum::routing::get;
use maud::{Markup, html};
use metrology::Duration;
use serde::Serialize;
use trial::history::RecordedRun;
use trial::number::PlanNumber;
use trial::plan::Plan;
use trial::verdict::SpecimenStanding;
use utoipa::ToSchema;
use utoipa_axum::router::OpenApiRouter;
use utoipa_axum::routes;

use super::{help, shown};
use crate::book::OpenBook;
use crate::problem::Problem;
use crate::web::answer::{ProblemDocument, Refused, RefusedTwin, sentence};
use crate::web::asked::Given;
use crate::web::site::{Person, Shown, Site};

/// A plan's specimens for review.
#[derive(Serialize, ToSchema)]
struct Review {
    /// The plan.
    plan: u32,
    /// The specimens, those with odd things first.
    specimens: Vec<Reviewed>,
}

/// One specimen.
#[derive(Serialize, ToSchema)]
struct Reviewed {
    /// Its number.
    specimen: u32,
    /// What a reviewer should open.
    odd: Vec<String>,
    /// Its duration of burning.
    burning: String,
    /// How it stands by the rules now: `meets`, `does-not-meet`, `undecided`, `not-judged`.
    verdict: Option<String>,
}

/// The routes.
pub(super) fn routes() -> OpenApiRouter<Site> {
    OpenApiRouter::new().route("/plans/{plan}/review", get(page)).routes(routes!(twin))
}

async fn page(
    State(site): State<Site>,
    Given(Path(plan)): Given<Path<String>>,
    person: Person,
) -> Result<Markup, Refused> {
    let plan = shown::plan_at(&site, &plan).await?;
    let show = |review: &Review| Shown::under(format!("Review of plan {plan}"), main(review));
    site.show(person, "/plans", move |book| look(book, plan), show).await
}

/// A plan's specimens for review, odd things first
#[utoipa::path(get, path = "/api/plans/{plan}/review", params(("plan" = u32, Path)), responses(
    (status = 200, body = Review),
    (status = "default", body = ProblemDocument, content_type = "application/problem+json"),
))]
async fn twin(
    State(site): State<Site>,
    Given(Path(plan)): Given<Path<String>>,
    _person: Person,
) -> Result<Json<Review>, RefusedTwin> {
    let plan = shown::plan_at(&site, &plan).await?;
    Ok(Json(site.read(move |book| look(book, plan)).await?))
}

fn look(book: &OpenBook, number: PlanNumber) -> Result<Review, Problem> {
    let (history, plan) = (book.history(), book.plan(number)?);
    let (verdict, waiting) = (history.judge(number), history.times_to_accept(number));
    let mut specimens: Vec<Reviewed> = history
        .runs(number)
        .iter()
        .map(|recorded| {
            let specimen = recorded.run.specimen();
            let judged = verdict.as_ref().and_then(|verdict| {
                verdict.judged.iter().find(|judged| judged.specimen == specimen)
            });
            let mut odd = odd(plan, recorded);
            let waits = waiting.iter().find(|(which, _)| *which == specimen);
            odd.extend(waits.map(|(_, doubts)| {
                format!("its times are doubtful and not accepted: {}", doubts.join("; "))
            }));
            odd.extend(history.corrections(recorded.entry).iter().map(|correction| {
                format!("corrected by entry {}: {}", correction.by, correction.reason)
            }));
            Reviewed {
                specimen: specimen.0,
                odd,
                burning: shown::timed(recorded.run.duration_of_burning()),
                verdict: judged.map(|judged| judged.standing.word().to_owned()),
            }
        })
        .collect();
    specimens.sort_by_key(|row| (std::cmp::Reverse(row.odd.len()), row.specimen));
    Ok(Review { plan: number.0, specimens })
}

/// What is odd about a run: departures, a late removal, a stated ±, no photograph.
fn odd(plan: &Plan, recorded: &RecordedRun) -> Vec<String> {
    let (run, observed) = (&recorded.run, recorded.run.observed());
    let mut odd: Vec<String> = run.departures().iter().map(|it| it.text.clone()).collect();
    let planned = plan.requirement().duration_of_application.value;
    for applied in run.durations_of_application() {
        let late = format!("{:.1}", *applied - planned);
        if *applied > planned && late != "0.0 s" {
            odd.push(format!("the flame was removed {late} late"));
        }
    }
    if observed.clock_offset > Duration::ZERO {
        odd.push(format!("the device's clock may be off by ± {:.3}", observed.clock_offset));
    }
    if observed.evidence.is_empty() {
        odd.push("there is no photograph and no film".to_owned());
    }
    if !observed.note.is_empty() {
        odd.push(format!("noted: {}", observed.note));
    }
    odd
}

fn main(review: &Review) -> Markup {
    html! {
        @if review.specimens.is_empty() { p { "No specimen was tested yet." } }
        @else { (shown::wide("Specimens for review", &html! {
            table {
                thead { tr { th scope="col" { "Specimen" } th scope="col" { "Odd things" }
                    th.number scope="col" { "Burning" } th scope="col" { "Verdict by the rules" } } }
                tbody { @for row in &review.specimens { tr {
                    td { a href={ "/specimens/" (review.plan) "-" (row.specimen) } { (row.specimen) } }
                    td { @if row.odd.is_empty() { "None" }
                        @for odd in &row.odd { p { (sentence(odd)) } } }
                    td.number { (row.burning) }
                    td { @match row.verdict.as_deref().and_then(SpecimenStanding::of_word) {
                        Some(standing) => (shown::specimen_standing(standing)),
                        None => "Not judged",
                    } }
                } } }
            }
        })) }
        (help::way("review"))
        h2 { "Signatures" }
        p { "This version signs nothing: sign the printed report." }
        p.onward { a href={ "/plans/" (review.plan) } { "Plan P-" (review.plan) } }
    }
}
