//! Today: what is at the bench, what is ready, what waits, and what falls due.

use axum::Json;
use axum::extract::State;
use axum::routing::get;
use jiff::ToSpan as _;
use jiff::civil::Date;
use maud::{Markup, html};
use serde::Serialize;
use trial::number::PlanNumber;
use utoipa::ToSchema;
use utoipa_axum::router::OpenApiRouter;
use utoipa_axum::routes;

use super::plans::state;
use crate::book::OpenBook;
use crate::problem::Problem;
use crate::web::answer::{ProblemDocument, Refused, RefusedTwin};
use crate::web::site::{Person, Place, Site};

/// So long before its day something falls due.
const SOON_DAYS: i32 = 30;

/// What there is to do.
#[derive(Serialize, ToSchema)]
struct Today {
    /// Plans found ready, with specimens that were not tested yet.
    ready_to_test: Vec<Job>,
    /// Plans that wait for something else.
    waiting: Vec<Job>,
    /// Equipment whose calibration ends soon, or has ended.
    falls_due: Vec<Due>,
}

/// A plan in one line.
#[derive(Serialize, ToSchema)]
struct Job {
    /// Its number.
    plan: u32,
    /// The laboratory's job.
    job: String,
    /// The part under test.
    part: String,
    /// How it stands, in words.
    state: String,
}

/// A piece of equipment that falls due.
#[derive(Serialize, ToSchema)]
struct Due {
    /// Its mark.
    equipment: String,
    /// What it is.
    description: String,
    /// The last day its calibration holds; none if it has none.
    on: Option<String>,
}

/// The routes.
pub(super) fn routes() -> OpenApiRouter<Site> {
    OpenApiRouter::new().route("/", get(page)).routes(routes!(twin))
}

async fn page(State(site): State<Site>, person: Person) -> Result<Markup, Refused> {
    site.page(person, Place { here: "/", heading: "Today" }, look, main).await
}

/// What there is to do
#[utoipa::path(get, path = "/api/today", responses(
    (status = 200, body = Today),
    (status = "default", body = ProblemDocument, content_type = "application/problem+json"),
))]
async fn twin(State(site): State<Site>, _person: Person) -> Result<Json<Today>, RefusedTwin> {
    Ok(Json(site.read(look).await?))
}

fn look(book: &OpenBook) -> Result<Today, Problem> {
    let history = book.history();
    let today = book.now()?.day();
    let mut ready_to_test = Vec::new();
    let mut waiting = Vec::new();
    for number in history.plans() {
        let untested = history.specimens(number).len() - history.used_specimens(number).len();
        let Some(job) = job(book, number, untested) else { continue };
        if history.ready(number).is_some() && untested > 0 {
            ready_to_test.push(job);
        } else if history.reports_on(number).next().is_none() {
            waiting.push(job);
        }
    }
    Ok(Today { ready_to_test, waiting, falls_due: due(book, today) })
}

fn job(book: &OpenBook, number: PlanNumber, untested: usize) -> Option<Job> {
    let history = book.history();
    let draft = history.plan(number)?.draft();
    let (job, part) = (draft.job.clone(), draft.part.description.clone());
    let state = state(history, number, untested);
    Some(Job { plan: number.0, job, part, state })
}

fn due(book: &OpenBook, today: Date) -> Vec<Due> {
    let history = book.history();
    let soon = today.saturating_add(SOON_DAYS.days());
    let in_service = history.all_equipment().values().filter(|equipment| {
        equipment.calibration == trial::fact::CalibrationNeed::Needed
            && history.withdrawn(&equipment.number).is_none()
    });
    let mut due: Vec<Due> = in_service
        .filter_map(|equipment| {
            let holds = history.calibration(&equipment.number, today).map(|it| it.due);
            holds.is_none_or(|last| last <= soon).then(|| Due {
                equipment: equipment.number.to_string(),
                description: equipment.description.clone(),
                on: holds.map(|day| day.to_string()),
            })
        })
        .collect();
    due.sort_by(|one, other| one.on.cmp(&other.on));
    due
}

fn main(today: &Today) -> Markup {
    html! {
        h2 { "Ready to test" }
        (jobs(&today.ready_to_test, "No plan is ready."))
        h2 { "Waiting for you" }
        (jobs(&today.waiting, "Nothing waits."))
        h2 { "Falls due" }
        @if today.falls_due.is_empty() {
            p { "Nothing falls due within " (SOON_DAYS) " days." }
        } @else {
            table {
                thead { tr { th { "Equipment" } th { "What it is" } th { "Calibration holds till" } } }
                tbody {
                    @for due in &today.falls_due {
                        tr {
                            td { (due.equipment) }
                            td { (due.description) }
                            td { (due.on.as_deref().unwrap_or("not in calibration")) }
                        }
                    }
                }
            }
        }
    }
}

fn jobs(jobs: &[Job], none: &str) -> Markup {
    html! {
        @if jobs.is_empty() { p { (none) } }
        @else {
            table {
                thead { tr { th { "Plan" } th { "Job" } th { "Part" } th { "State" } } }
                tbody {
                    @for job in jobs {
                        tr {
                            td { a href={ "/plans/" (job.plan) } { "P-" (job.plan) } }
                            td { (job.job) }
                            td { (job.part) }
                            td { (job.state) }
                        }
                    }
                }
            }
        }
    }
}
