//! The review of the trail: once a month somebody looks at what was changed and why, and signs; the
//! next one begins there.

use axum::Json;
use axum::extract::{Query, State};
use axum::routing::get;
use maud::{Markup, html};
use serde::Deserialize;
use trial::signature::Signed;
use utoipa::IntoParams;
use utoipa_axum::router::OpenApiRouter;
use utoipa_axum::routes;

use super::super::help;
use super::super::shown::wide;
use super::super::sign::{table as signatures, way};
use super::people_and_kinds;
use super::telling::spaced;
use crate::book::OpenBook;
use crate::problem::Problem;
use crate::step::trail::{ChangeShown, TrailSheet, Wanted, look};
use crate::web::answer::{ProblemDocument, Refused, RefusedTwin};
use crate::web::asked::Given;
use crate::web::site::{Person, Place, Site};

/// Which changes are asked for. What is empty is not asked.
#[derive(Clone, Debug, Default, Deserialize, IntoParams)]
#[into_params(parameter_in = Query)]
#[serde(default)]
struct Asked {
    /// Changes by this person
    person: String,
    /// Changes of this kind, such as `corrected`
    kind: String,
    /// The last day that is reviewed (UTC)
    until: String,
}

impl Asked {
    fn wanted(self) -> Result<Wanted, Problem> {
        let until = match self.until.trim() {
            "" => None,
            text => Some(text.parse().map_err(|_| {
                Problem::used_wrongly(format!("`{text}` is no day"))
                    .hint("Write it as year, month and day, such as 2026-11-30.")
            })?),
        };
        Ok(Wanted { person: self.person, kind: self.kind, until })
    }
}

/// The trail, and how it was asked for.
struct Reviewed {
    sheet: TrailSheet,
    people: Vec<String>,
    asked: Asked,
}

/// The routes.
pub(super) fn routes() -> OpenApiRouter<Site> {
    OpenApiRouter::new().route("/record/review", get(page)).routes(routes!(twin))
}

async fn page(
    State(site): State<Site>,
    person: Person,
    Given(Query(asked)): Given<Query<Asked>>,
) -> Result<Markup, Refused> {
    let place = Place { here: "/record", heading: "Review of the trail" };
    let look = move |book: &OpenBook| {
        let people = book.history().people().keys().map(ToString::to_string).collect();
        let sheet = look(book.history(), &asked.clone().wanted()?);
        Ok(Reviewed { sheet, people, asked })
    };
    site.page(person, place, look, main).await
}

/// The trail since the last review: entries, changes, and how many of them say why
#[utoipa::path(get, path = "/api/record/review", params(Asked), responses(
    (status = 200, body = TrailSheet),
    (status = "default", body = ProblemDocument, content_type = "application/problem+json"),
))]
async fn twin(
    State(site): State<Site>,
    _person: Person,
    Given(Query(asked)): Given<Query<Asked>>,
) -> Result<Json<TrailSheet>, RefusedTwin> {
    let wanted = asked.wanted().map_err(Refused::from)?;
    Ok(Json(site.read(move |book| Ok(look(book.history(), &wanted))).await?))
}

fn main(reviewed: &Reviewed) -> Markup {
    let sheet = &reviewed.sheet;
    html! {
        p.sentence { (sheet.told) }
        @if let Some(what) = sheet.what.as_deref().and_then(Signed::of_word) {
            p { (sheet.entries) " entries. Changes of what stood there: " (sheet.changes)
                "; " (sheet.with_reason) " of them say why (" (sheet.share) ")." }
            p { a.button href=(way(what, "reviewed", "/record/review")) {
                "Sign the review up to entry " (sheet.until.unwrap_or(0))
            } }
        }
        (filter(reviewed))
        h2 { "Changes" }
        @if sheet.listed.is_empty() { p { "No change is as asked." } }
        @else { (wide("Changes", &changes(&sheet.listed))) }
        @if sheet.more > 0 { p { "And " (sheet.more) " more." } }
        @if !sheet.kinds.is_empty() {
            h2 { "Entries by kind" }
            (wide("Entries by kind", &html! {
                table {
                    thead { tr { th scope="col" { "Kind" } th.number scope="col" { "Entries" } } }
                    tbody { @for it in &sheet.kinds {
                        tr { td { (spaced(&it.kind)) } td.number { (it.count) } }
                    } }
                }
            }))
        }
        (help::way("record-review"))
        h2 { "Reviews before" }
        @if sheet.before.is_empty() { p { "The trail was not reviewed yet." } }
        @else { (signatures(&sheet.before)) }
        p.onward { a href="/record" { "Record" } }
    }
}

fn filter(reviewed: &Reviewed) -> Markup {
    let asked = &reviewed.asked;
    html! {
        form.filter method="get" action="/record/review" role="search" aria-label="Changes" {
            (people_and_kinds(
                (&reviewed.people, &asked.person),
                (reviewed.sheet.kinds.iter().map(|it| it.kind.as_str()), &asked.kind),
            ))
            div.field {
                label for="until" { "Up to" }
                p.hint #until-hint { "that day included, such as 2026-11-30" }
                input #until name="until" value=(asked.until) size="10" autocomplete="off"
                    aria-describedby="until-hint";
            }
            p { button.second { "Show these" } }
        }
    }
}

fn changes(changes: &[ChangeShown]) -> Markup {
    html! {
        table {
            thead { tr { th.number scope="col" { "Entry" } th scope="col" { "When" }
                th scope="col" { "Who" } th scope="col" { "What" } th scope="col" { "Why" } } }
            tbody { @for it in changes { tr {
                td.number { a href={ "/record/" (it.entry) } { (it.entry) } }
                td.moment { (it.shown_at) }
                td { (it.who) }
                td { (spaced(&it.kind)) }
                td { @if it.reason.trim().is_empty() { span.abnormal { "◆ no reason" } }
                    @else { (it.reason) } }
            } } }
        }
    }
}
