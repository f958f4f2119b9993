//! Care of the bench: each act with its interval, recorded in one press; what an engineer lets through.

mod commission;
mod view;

use axum::Json;
use axum::extract::{Query, State};
use axum::http::StatusCode;
use axum::response::{IntoResponse as _, Redirect, Response};
use axum::routing::get;
use maud::Markup;
use serde::{Deserialize, Serialize};
use trial::care::{CareInterval, CareNeed};
use trial::number::PlanNumber;
use utoipa::ToSchema;
use utoipa_axum::router::OpenApiRouter;
use utoipa_axum::routes;

use crate::book::OpenBook;
use crate::form::fields::{Filled, Typed};
use crate::output::Output;
use crate::problem::Problem;
use crate::step::care::{
    CareShown, done, every, in_the_way, item, item_word, let_through, list, task,
};
use crate::web::answer::{ProblemDocument, Refused, RefusedTwin};
use crate::web::asked::{Document, Given};
use crate::web::site::{Person, Shown, Site};

/// So many things in the way of plans are offered, those of the plans drawn up first.
const OFFERED: usize = 100;

/// Care of the bench.
#[derive(Serialize, ToSchema)]
struct CareSheet {
    /// Each act as it stands.
    acts: Vec<CareShown>,
    /// What is due and stands in the way of plans that are not reported yet.
    in_the_way: Vec<InTheWay>,
    #[serde(skip)]
    pieces: Vec<(String, String)>,
}

/// Something due that stands in the way of a plan.
#[derive(Serialize, ToSchema)]
struct InTheWay {
    /// The plan.
    plan: u32,
    /// What is due: an act's word, or the mark of a piece.
    item: String,
    /// The same in words.
    what: String,
}

/// An act that was done now.
#[derive(Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
struct CareAct {
    /// The act, such as burner-cleaned.
    task: String,
    /// The mark of the piece, where one is meant.
    piece: Option<String>,
    /// What was found.
    note: Option<String>,
}

/// How often the laboratory wants an act done.
#[derive(Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
struct CareEvery {
    /// The act, such as burner-cleaned.
    task: String,
    /// After so many days.
    days: Option<u32>,
    /// After so many specimens.
    specimens: Option<u32>,
    /// Whether no plan is ready while it is due.
    for_ready: bool,
}

/// That a plan is tested although something is due.
#[derive(Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
struct CareLet {
    /// The plan.
    plan: u32,
    /// What is due: an act's word, or the mark of a piece that is not in calibration.
    item: String,
    /// Why it may wait; it prints on the report.
    reason: String,
}

/// The routes.
pub(super) fn routes() -> OpenApiRouter<Site> {
    OpenApiRouter::new()
        .route("/care", get(page).post(submit))
        .routes(routes!(twin))
        .routes(routes!(done_twin))
        .routes(routes!(every_twin))
        .routes(routes!(let_twin))
        .merge(commission::routes())
}

fn look(book: &OpenBook) -> Result<CareSheet, Problem> {
    let history = book.history();
    let mut due = Vec::new();
    for plan in history.open_plans() {
        due.extend(in_the_way(book, plan)?.into_iter().map(|item| InTheWay {
            plan: plan.0,
            item: item_word(&item),
            what: item.to_string(),
        }));
    }
    let pieces =
        history.all_equipment().values().filter(|it| history.withdrawn(&it.number).is_none());
    let pieces = pieces.map(|it| {
        (it.number.to_string(), format!("{}, {}", it.number, it.kind.word().replace('-', " ")))
    });
    due.truncate(OFFERED);
    Ok(CareSheet { acts: list(book)?, in_the_way: due, pieces: pieces.collect() })
}

async fn page(
    State(site): State<Site>,
    person: Person,
    Given(Query(pairs)): Given<Query<Vec<(String, String)>>>,
) -> Result<Markup, Refused> {
    let typed = Typed::new(pairs);
    shown(&site, person, Filled { typed: &typed, wrong: &[] }).await
}

async fn shown(site: &Site, person: Person, filled: Filled<'_>) -> Result<Markup, Refused> {
    let show = |sheet: &CareSheet| Shown {
        title: filled.title("Care of the bench"),
        heading: "Care of the bench".to_owned(),
        main: view::main(sheet, filled),
    };
    site.show(person, "/equipment", look, show).await
}

async fn submit(
    State(site): State<Site>,
    person: Person,
    typed: Typed,
) -> Result<Response, Refused> {
    let again = Person(person.0.clone());
    let sent = typed.clone();
    match site.act(person, move |book, output| acted(book, &sent, output)).await {
        Ok(()) => Ok(Redirect::to("/care").into_response()),
        Err(refused) => {
            let field = match typed.text("act") {
                "every" => "every-task",
                "let" => "reason",
                _ => "task",
            };
            let wrong = [refused.at(field)?];
            let page = shown(&site, again, Filled { typed: &typed, wrong: &wrong }).await?;
            Ok((StatusCode::UNPROCESSABLE_ENTITY, page).into_response())
        }
    }
}

/// Does what one of the page's forms asks for.
fn acted(book: &mut OpenBook, typed: &Typed, output: &Output) -> Result<(), Problem> {
    match typed.text("act") {
        "every" => {
            let need = match typed.text("for-ready") {
                "yes" => CareNeed::ForReady,
                _ => CareNeed::Reminded,
            };
            let task = task(typed.text("every-task"))?;
            let (days, specimens) = (count(typed, "days")?, count(typed, "specimens")?);
            every(book, CareInterval { task, days, specimens, need }, output)
        }
        "let" => {
            let chosen = typed.text("let").split_once(' ');
            let chosen = chosen.and_then(|(plan, word)| Some((plan.parse().ok()?, item(word))));
            let (plan, item) = chosen.ok_or_else(|| {
                Problem::used_wrongly("it is not said what is let through").hint("Choose one.")
            })?;
            let_through(book, (PlanNumber(plan), item), typed.text("reason"), output)
        }
        _ => {
            let task = task(typed.text("task"))?;
            done(book, task, (typed.text("piece"), typed.text("note")), output)
        }
    }
}

/// A whole number that may be left out.
fn count(typed: &Typed, field: &str) -> Result<Option<u32>, Problem> {
    let text = typed.text(field);
    if text.is_empty() {
        return Ok(None);
    }
    text.parse().map(Some).map_err(|_| {
        Problem::used_wrongly(format!("`{text}` is no whole number of {field}"))
            .hint("Write it in digits, such as 30, or leave it out.")
    })
}

/// Care of the bench: each act as it stands
#[utoipa::path(get, path = "/api/care", responses(
    (status = 200, body = CareSheet),
    (status = "default", body = ProblemDocument, content_type = "application/problem+json"),
))]
async fn twin(State(site): State<Site>, _: Person) -> Result<Json<CareSheet>, RefusedTwin> {
    Ok(Json(site.read(look).await?))
}

/// Does something, and gives how the care stands then.
async fn acting(
    site: Site,
    person: Person,
    act: impl FnOnce(&mut OpenBook, &Output) -> Result<(), Problem> + Send + 'static,
) -> Result<Json<CareSheet>, RefusedTwin> {
    let acted = site.act(person, move |book, output| {
        act(book, output)?;
        look(book)
    });
    Ok(Json(acted.await?))
}

/// Records that an act of care was done now
#[utoipa::path(post, path = "/api/care/done", request_body = CareAct, responses(
    (status = 200, body = CareSheet),
    (status = "default", body = ProblemDocument, content_type = "application/problem+json"),
))]
async fn done_twin(
    State(site): State<Site>,
    person: Person,
    Document(asked): Document<CareAct>,
) -> Result<Json<CareSheet>, RefusedTwin> {
    let CareAct { task: word, piece, note } = asked;
    acting(site, person, move |book, output| {
        let said = (piece.as_deref().unwrap_or_default(), note.as_deref().unwrap_or_default());
        done(book, task(&word)?, said, output)
    })
    .await
}

/// Sets how often the laboratory wants an act of care done
#[utoipa::path(post, path = "/api/care/every", request_body = CareEvery, responses(
    (status = 200, body = CareSheet),
    (status = "default", body = ProblemDocument, content_type = "application/problem+json"),
))]
async fn every_twin(
    State(site): State<Site>,
    person: Person,
    Document(asked): Document<CareEvery>,
) -> Result<Json<CareSheet>, RefusedTwin> {
    let CareEvery { task: word, days, specimens, for_ready } = asked;
    let need = if for_ready { CareNeed::ForReady } else { CareNeed::Reminded };
    acting(site, person, move |book, output| {
        every(book, CareInterval { task: task(&word)?, days, specimens, need }, output)
    })
    .await
}

/// Lets a plan be tested although something is due; the reason prints on its report
#[utoipa::path(post, path = "/api/care/let", request_body = CareLet, responses(
    (status = 200, body = CareSheet),
    (status = "default", body = ProblemDocument, content_type = "application/problem+json"),
))]
async fn let_twin(
    State(site): State<Site>,
    person: Person,
    Document(asked): Document<CareLet>,
) -> Result<Json<CareSheet>, RefusedTwin> {
    let CareLet { plan, item: word, reason } = asked;
    acting(site, person, move |book, output| {
        let_through(book, (PlanNumber(plan), item(&word)), &reason, output)
    })
    .await
}
