//! The security log, for administrators: who came in, who was refused, what was done about people.

use axum::Json;
use axum::extract::{Query, State};
use maud::{Markup, html};
use serde::{Deserialize, Serialize};
use utoipa::{IntoParams, ToSchema};

use crate::problem::Problem;
use crate::web::access::Written;
use crate::web::answer::{ProblemDocument, Refused, RefusedTwin};
use crate::web::asked::Given;
use crate::web::page::shown;
use crate::web::site::{Person, Place, Site};
use crate::words::when_of;

/// So many lines are shown, the newest; the files have all.
const LINES: usize = 500;

/// Which month is looked at.
#[derive(Deserialize, IntoParams)]
#[into_params(parameter_in = Query)]
pub(super) struct Asked {
    /// Such as `2026-11`; the last one where none is given
    month: Option<String>,
}

/// The security log of a month.
#[derive(Serialize, ToSchema)]
pub(super) struct SecurityLog {
    /// The month; none where nothing was written yet.
    month: Option<String>,
    /// The months that are kept, the newest first.
    months: Vec<String>,
    /// The last lines, the newest first.
    lines: Vec<Written>,
}

async fn look(site: &Site, asked: Asked) -> Result<SecurityLog, Refused> {
    let reading = site.clone();
    site.aside(move || {
        let log = reading.access().log();
        let months = log.months()?;
        let month = match asked.month.filter(|it| !it.is_empty()) {
            Some(month) if months.contains(&month) => Some(month),
            Some(month) => {
                return Err(Problem::used_wrongly(format!("there is no log of `{month}`"))
                    .hint("Choose one of the months."));
            }
            None => months.first().cloned(),
        };
        let lines = month.as_deref().map(|month| log.lines(month, LINES)).transpose()?;
        Ok(SecurityLog { month, months, lines: lines.unwrap_or_default() })
    })
    .await
}

pub(super) async fn page(
    State(site): State<Site>,
    person: Person,
    Given(Query(asked)): Given<Query<Asked>>,
) -> Result<Markup, Refused> {
    let log = look(&site, asked).await?;
    let place = Place { here: "/setup", heading: "Security log" };
    site.page(person, place, move |_| Ok(log), main).await
}

/// The security log of a month
#[utoipa::path(get, path = "/api/setup/log", params(Asked), responses(
    (status = 200, body = SecurityLog),
    (status = 403, body = ProblemDocument, content_type = "application/problem+json"),
    (status = "default", body = ProblemDocument, content_type = "application/problem+json"),
))]
pub(super) async fn twin(
    State(site): State<Site>,
    _person: Person,
    Given(Query(asked)): Given<Query<Asked>>,
) -> Result<Json<SecurityLog>, RefusedTwin> {
    Ok(Json(look(&site, asked).await?))
}

fn main(log: &SecurityLog) -> Markup {
    let table = html! {
        table {
            thead { tr { th scope="col" { "When (UTC)" } th scope="col" { "From" }
                th scope="col" { "Who" } th scope="col" { "What" } } }
            tbody { @for line in &log.lines { tr {
                td.moment { (when_of(&line.when).trim_end_matches(" UTC")) }
                td { (line.from) }
                td { (line.who) }
                td { (line.what) }
            } } }
        }
    };
    html! {
        p { "Apart from the record, and kept for twelve months. "
            a href="/setup" { "Back to Set up" } "." }
        @if log.months.len() > 1 {
            ul { @for month in &log.months {
                li { a href={ "/setup/log?month=" (month) }
                    aria-current=[(log.month.as_ref() == Some(month)).then_some("page")] { (month) } }
            } }
        }
        @if log.lines.is_empty() { p { "Nothing was written yet." } }
        @else { (shown::wide("Security log", &table)) }
        @if log.lines.len() == LINES { p { "The last " (LINES) " lines; the file has all." } }
    }
}
