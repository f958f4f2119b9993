//! Plans: every test that was planned, the last one first.

use axum::Json;
use axum::extract::{Query, State};
use axum::routing::get;
use maud::{Markup, html};
use serde::{Deserialize, Serialize};
use trial::history::History;
use trial::number::PlanNumber;
use trial::signature::Signed;
use trial::verdict::VerdictStanding;
use utoipa::{IntoParams, ToSchema};
use utoipa_axum::router::OpenApiRouter;
use utoipa_axum::routes;

use super::shown;
use crate::book::OpenBook;
use crate::problem::Problem;
use crate::web::answer::{ProblemDocument, Refused, RefusedTwin};
use crate::web::asked::Given;
use crate::web::site::{Person, Place, Site};

/// So many plans stand on one page.
const ON_ONE_PAGE: usize = 50;

/// Plans, the last one first.
#[derive(Serialize, ToSchema)]
struct Plans {
    /// How many there are in the book.
    in_all: usize,
    /// Those of this page.
    plans: Vec<PlanLine>,
    /// Ask for `?after=` this number to go on; none at the end.
    next: Option<u32>,
}

/// A plan in one line.
#[derive(Serialize, ToSchema)]
struct PlanLine {
    /// Its number.
    plan: u32,
    /// The laboratory's job.
    job: String,
    /// The part under test.
    part: String,
    /// The rules, such as `iec-60335-1/5`.
    rules: String,
    /// How long the flame is applied, as planned.
    duration_of_application: String,
    /// How many specimens it has, further ones included.
    specimens: usize,
    /// How many of them were in the flame or spoilt.
    used: usize,
    /// How it stands, in words.
    state: String,
}

/// Where to go on.
#[derive(Deserialize, IntoParams)]
struct After {
    /// Go on behind this plan.
    after: Option<u32>,
}

/// The routes.
pub(super) fn routes() -> OpenApiRouter<Site> {
    OpenApiRouter::new().route("/plans", get(page)).routes(routes!(twin))
}

async fn page(
    State(site): State<Site>,
    Given(Query(After { after })): Given<Query<After>>,
    person: Person,
) -> Result<Markup, Refused> {
    let place = Place { here: "/plans", heading: "Plans" };
    site.page(person, place, move |book| Ok(look(book, after)), main).await
}

/// Plans, the last one first
#[utoipa::path(get, path = "/api/plans", params(After), responses(
    (status = 200, body = Plans),
    (status = "default", body = ProblemDocument, content_type = "application/problem+json"),
))]
async fn twin(
    State(site): State<Site>,
    Given(Query(After { after })): Given<Query<After>>,
    _person: Person,
) -> Result<Json<Plans>, RefusedTwin> {
    let read = move |book: &OpenBook| -> Result<Plans, Problem> { Ok(look(book, after)) };
    Ok(Json(site.read(read).await?))
}

fn look(book: &OpenBook, after: Option<u32>) -> Plans {
    let history = book.history();
    let numbers: Vec<PlanNumber> = history.plans().collect();
    let before = match after {
        Some(after) => numbers.partition_point(|number| number.0 < after),
        None => numbers.len(),
    };
    let first = before.saturating_sub(ON_ONE_PAGE);
    let shown = &numbers[first..before];
    let line = |number: &PlanNumber| line(history, *number);
    Plans {
        in_all: numbers.len(),
        plans: shown.iter().rev().filter_map(line).collect(),
        next: shown.first().filter(|_| first > 0).map(|number| number.0),
    }
}

fn line(history: &History, number: PlanNumber) -> Option<PlanLine> {
    let plan = history.plan(number)?;
    let draft = plan.draft();
    let (specimens, used) = (history.specimens(number).len(), history.used_specimens(number).len());
    Some(PlanLine {
        plan: number.0,
        job: draft.job.clone(),
        part: draft.part.description.clone(),
        rules: draft.ordered.profile.as_ref().unwrap_or(&draft.ordered.method).to_string(),
        duration_of_application: plan.requirement().duration_of_application.text.clone(),
        specimens,
        used,
        state: state(history, number, specimens.saturating_sub(used)),
    })
}

/// How a plan stands, in words; `untested` specimens are left.
pub(super) fn state(history: &History, number: PlanNumber, untested: usize) -> String {
    if history.reports_on(number).next().is_some() {
        return "reported".to_owned();
    }
    if let Some(verdict) = history.verdict(number) {
        let judged = format!("judged: {}", shown::standing(verdict.standing));
        let waits = match history.signatures_wanted(number).first().map(|it| it.what) {
            _ if matches!(verdict.standing, VerdictStanding::NotYet { .. }) => "",
            Some(Signed::Specimen { .. }) => "; to be signed as tested",
            Some(_) => "; waits for review",
            None => "",
        };
        return judged + waits;
    }
    if !history.is_ready(number) {
        return "drawn up, not found ready".to_owned();
    }
    match untested {
        0 => "tested, not judged".to_owned(),
        left => format!("ready, {left} to test"),
    }
}

fn main(plans: &Plans) -> Markup {
    html! {
        p { a.button href="/plans/new" { "Plan a test" } }
        @if plans.plans.is_empty() {
            p { "No test is planned." }
        } @else {
            (shown::wide("Plans", &table(&plans.plans)))
            p { (plans.in_all) @if plans.in_all == 1 { " plan in all." } @else { " plans in all." } }
        }
        @if let Some(next) = plans.next {
            p.onward { a href={ "/plans?after=" (next) } rel="next" { "Earlier plans" } }
        }
    }
}

fn table(plans: &[PlanLine]) -> Markup {
    html! {
        table {
            thead { tr {
                th scope="col" { "Plan" } th scope="col" { "Job" } th scope="col" { "Part" }
                th scope="col" { "Rules" } th scope="col" { "Flame" }
                th.number scope="col" { "Specimens" } th scope="col" { "State" }
            } }
            tbody {
                @for plan in plans {
                    tr {
                        td { a href={ "/plans/" (plan.plan) } { "P-" (plan.plan) } }
                        td { (plan.job) }
                        td { (plan.part) }
                        td { (plan.rules) }
                        td { (plan.duration_of_application) }
                        td.number { (plan.specimens) }
                        td { (plan.state) }
                    }
                }
            }
        }
    }
}
