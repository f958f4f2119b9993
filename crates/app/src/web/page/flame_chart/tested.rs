//! Which specimens were tested since a confirmation, and which reports were issued on them.

use axum::Json;
use axum::extract::{Query, State};
use axum::response::Response;
use axum::routing::get;
use maud::{Markup, html};
use serde::Deserialize;
use utoipa::IntoParams;
use utoipa_axum::router::OpenApiRouter;
use utoipa_axum::routes;

use super::reader;
use crate::book::OpenBook;
use crate::problem::Problem;
use crate::step::tested::{TestedSheet, since, tested, tested_csv};
use crate::web::answer::{ProblemDocument, Refused, RefusedTwin};
use crate::web::asked::Given;
use crate::web::download::attachment;
use crate::web::page::shown::wide;
use crate::web::site::{Person, Shown, Site};

/// So many specimens stand on the page and in its twin.
const LISTED: usize = 500;

/// Since which confirmation.
#[derive(Clone, Debug, Default, Deserialize, IntoParams)]
#[into_params(parameter_in = Query)]
#[serde(default)]
struct Asked {
    /// The confirmation, such as `C-12`; the last good one if it is not said
    since: String,
    /// For the file: `spreadsheet` disarms formulas
    r#for: String,
}

/// The routes.
pub(super) fn routes() -> OpenApiRouter<Site> {
    OpenApiRouter::new()
        .route("/flame/tested", get(page))
        .route("/flame/tested.csv", get(table))
        .routes(routes!(twin))
}

fn look(book: &OpenBook, asked: &Asked, most: usize) -> Result<TestedSheet, Problem> {
    let since = since(book.history(), &asked.since)?;
    Ok(tested(book.history(), since, most))
}

async fn page(
    State(site): State<Site>,
    person: Person,
    Given(Query(asked)): Given<Query<Asked>>,
) -> Result<Markup, Refused> {
    let show =
        |sheet: &TestedSheet| Shown::under(format!("Tested since {}", sheet.since), main(sheet));
    site.show(person, "/flame", move |book| look(book, &asked, LISTED), show).await
}

/// What was tested since a confirmation, and the reports on it
#[utoipa::path(get, path = "/api/flame/tested", params(Asked), responses(
    (status = 200, body = TestedSheet),
    (status = "default", body = ProblemDocument, content_type = "application/problem+json"),
))]
async fn twin(
    State(site): State<Site>,
    _: Person,
    Given(Query(asked)): Given<Query<Asked>>,
) -> Result<Json<TestedSheet>, RefusedTwin> {
    Ok(Json(site.read(move |book| look(book, &asked, LISTED)).await?))
}

/// The same as CSV.
async fn table(
    State(site): State<Site>,
    _: Person,
    Given(Query(asked)): Given<Query<Asked>>,
) -> Result<Response, Refused> {
    let reader = reader(&asked.r#for);
    let sheet = site.read(move |book| look(book, &asked, usize::MAX)).await?;
    let name = format!("tested-since-{}.csv", sheet.since);
    Ok(attachment(&name, tested_csv(&sheet, reader).into_bytes()))
}

fn main(sheet: &TestedSheet) -> Markup {
    html! {
        p.sentence { (sheet.told) }
        p { "Where the flame changed after a confirmation, nobody knows whether before or after the \
             tests under it: they are listed too. Whether a result stands is for a person to say." }
        p {
            a.button href={ "/flame/tested.csv?since=" (sheet.since) } { "Take the list as CSV" } " "
            a.button.second href="/flame/chart" { "Flame chart" }
        }
        @if sheet.specimens.is_empty() { p { "No specimen was tested since." } }
        @else { (wide("Specimens", &specimens(sheet))) }
        @if sheet.more > 0 { p { "And " (sheet.more) " more: the list as CSV has them all." } }
    }
}

fn specimens(sheet: &TestedSheet) -> Markup {
    html! {
        table {
            thead { tr { th scope="col" { "Specimen" } th scope="col" { "Job" }
                th scope="col" { "Tested" } th scope="col" { "Under" }
                th scope="col" { "Reports issued" } } }
            tbody { @for it in &sheet.specimens { tr {
                td { a href={ "/specimens/" (it.plan) "-" (it.specimen) } {
                    "Specimen " (it.specimen) " of P-" (it.plan)
                } }
                td { (it.job) }
                td.moment { (it.began.chars().take(16).collect::<String>().replace('T', " ")) }
                td { (it.confirmation) }
                td { @if it.reports.is_empty() { "none" } @else {
                    @for (place, report) in it.reports.iter().enumerate() {
                        @if place > 0 { ", " }
                        a href={ "/reports/" (report) } { (report) }
                    }
                } }
            } } }
        }
    }
}
