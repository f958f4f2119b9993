//! The flame chart: every confirmation, what changed at the bench, and the calls.

mod tested;
mod view;

use axum::Json;
use axum::extract::{Query, State};
use axum::http::StatusCode;
use axum::response::{IntoResponse as _, Redirect, Response};
use axum::routing::get;
use maud::Markup;
use report::csv::Reader;
use serde::{Deserialize, Serialize};
use trial::flame_chart::{ChartRules, FlameChart};
use utoipa::{IntoParams, ToSchema};
use utoipa_axum::router::OpenApiRouter;
use utoipa_axum::routes;

use crate::book::OpenBook;
use crate::form::fields::{Filled, Typed};
use crate::output::Output;
use crate::problem::Problem;
use crate::step::chart::{ChartSheet, SHOWN, SHOWN_MOST, chart, csv, note, pdf};
use crate::web::answer::{ProblemDocument, Refused, RefusedTwin};
use crate::web::asked::{Document, Given};
use crate::web::download::attachment;
use crate::web::site::{Person, Shown, Site};

/// Which confirmations are asked for.
#[derive(Clone, Debug, Default, Deserialize, IntoParams)]
#[into_params(parameter_in = Query)]
#[serde(default)]
struct Asked {
    /// How many of the last confirmations, 1 to 1000; 120 if it is not said
    last: String,
    /// For the file: `spreadsheet` disarms formulas
    r#for: String,
}

impl Asked {
    fn last(&self) -> Result<usize, Problem> {
        let text = self.last.trim();
        if text.is_empty() {
            return Ok(SHOWN);
        }
        let number = text.parse().ok().filter(|number| (1..=SHOWN_MOST).contains(number));
        number.ok_or_else(|| {
            Problem::used_wrongly(format!("`{text}` is no number from 1 to {SHOWN_MOST}"))
                .hint("Say how many of the last confirmations are to be shown.")
        })
    }
}

/// What was done about the open call.
#[derive(Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
struct Note {
    /// What was looked at and changed, or why nothing was.
    done: String,
}

/// The routes.
pub(super) fn routes() -> OpenApiRouter<Site> {
    OpenApiRouter::new()
        .route("/flame/chart", get(page).post(submit))
        .route("/flame/chart.csv", get(table))
        .route("/flame/chart.pdf", get(pages))
        .routes(routes!(twin))
        .routes(routes!(note_twin))
        .merge(tested::routes())
}

/// The one line that Today has of an open call.
pub(super) fn open_call(book: &OpenBook) -> Option<String> {
    let chart = FlameChart::of(book.history(), ChartRules::built_in());
    chart.open_call().is_some().then(|| chart.headline())
}

async fn page(
    State(site): State<Site>,
    person: Person,
    Given(Query(asked)): Given<Query<Asked>>,
) -> Result<Markup, Refused> {
    let last = asked.last()?;
    shown(&site, person, last, Filled { typed: &Typed::default(), wrong: &[] }).await
}

async fn shown(
    site: &Site,
    person: Person,
    last: usize,
    filled: Filled<'_>,
) -> Result<Markup, Refused> {
    let look = move |book: &OpenBook| Ok(chart(book.history(), last));
    let show = |sheet: &ChartSheet| Shown {
        title: filled.title("Flame chart"),
        heading: "Flame chart".to_owned(),
        main: view::main(sheet, filled),
    };
    site.show(person, "/flame", look, show).await
}

async fn submit(
    State(site): State<Site>,
    person: Person,
    typed: Typed,
) -> Result<Response, Refused> {
    let again = Person(person.0.clone());
    let done = typed.text("done").to_owned();
    match site.act(person, move |book, output| note(book, &done, output)).await {
        Ok(()) => Ok(Redirect::to("/flame/chart").into_response()),
        Err(refused) => {
            let wrong = [refused.at("done")?];
            let filled = Filled { typed: &typed, wrong: &wrong };
            let page = shown(&site, again, SHOWN, filled).await?;
            Ok((StatusCode::UNPROCESSABLE_ENTITY, page).into_response())
        }
    }
}

/// The flame chart
#[utoipa::path(get, path = "/api/flame/chart", params(Asked), responses(
    (status = 200, body = ChartSheet),
    (status = "default", body = ProblemDocument, content_type = "application/problem+json"),
))]
async fn twin(
    State(site): State<Site>,
    _: Person,
    Given(Query(asked)): Given<Query<Asked>>,
) -> Result<Json<ChartSheet>, RefusedTwin> {
    let last = asked.last().map_err(Refused::from)?;
    Ok(Json(site.read(move |book| Ok(chart(book.history(), last))).await?))
}

/// Notes what was done about the open call, which closes it
#[utoipa::path(post, path = "/api/flame/chart/note", request_body = Note, responses(
    (status = 200, body = ChartSheet),
    (status = "default", body = ProblemDocument, content_type = "application/problem+json"),
))]
async fn note_twin(
    State(site): State<Site>,
    person: Person,
    Document(asked): Document<Note>,
) -> Result<Json<ChartSheet>, RefusedTwin> {
    let noted = site.act(person, move |book: &mut OpenBook, output: &Output| {
        note(book, &asked.done, output)?;
        Ok(chart(book.history(), SHOWN))
    });
    Ok(Json(noted.await?))
}

/// The chart as CSV.
async fn table(
    State(site): State<Site>,
    _: Person,
    Given(Query(asked)): Given<Query<Asked>>,
) -> Result<Response, Refused> {
    let last = asked.last()?;
    let reader = reader(&asked.r#for);
    let file = site.read(move |book| Ok(csv(&chart(book.history(), last), reader))).await?;
    Ok(attachment("flame-chart.csv", file.into_bytes()))
}

/// For whom a file is meant.
fn reader(word: &str) -> Reader {
    if word == "spreadsheet" { Reader::Spreadsheet } else { Reader::Program }
}

/// The chart as PDF.
async fn pages(
    State(site): State<Site>,
    person: Person,
    Given(Query(asked)): Given<Query<Asked>>,
) -> Result<Response, Refused> {
    let last = asked.last()?;
    let file = site.act(person, move |book, output| pdf(book, last, output)).await?;
    Ok(attachment("flame-chart.pdf", file))
}
