//! The list that is gone through before a new bench is used, kept as a record.

use axum::Json;
use axum::extract::State;
use axum::http::StatusCode;
use axum::response::{IntoResponse as _, Redirect, Response};
use axum::routing::get;
use maud::{Markup, html};
use serde::{Deserialize, Serialize};
use trial::commissioning::{DECIDES, Found, Point, points};
use trial::number::EntryNumber;
use trial::signature::Signed;
use utoipa::ToSchema;
use utoipa_axum::router::OpenApiRouter;
use utoipa_axum::routes;

use crate::book::OpenBook;
use crate::form::fields::{Answer, Field, Filled, Typed, Wrong};
use crate::problem::Problem;
use crate::step::care::commissioned;
use crate::step::sign;
use crate::web::answer::{ProblemDocument, Refused, RefusedTwin};
use crate::web::asked::Document;
use crate::web::page::{shown::wide, sign::way, when};
use crate::web::site::{Person, Shown, Site};

/// The benches that were gone through.
#[derive(Serialize, ToSchema)]
struct Commissionings {
    /// What every list says of itself.
    decides: &'static str,
    /// The lists, the last one first.
    lists: Vec<ListShown>,
}

/// One list.
#[derive(Serialize, ToSchema)]
struct ListShown {
    /// The bench.
    bench: String,
    /// When it was recorded, in UTC.
    at: String,
    /// By whom.
    by: String,
    /// Whether nothing was found out of order.
    in_order: bool,
    /// What was found.
    points: Vec<FoundShown>,
    /// The entry of the record.
    entry: u64,
    /// Who signed it, and whether that stands; none if nobody did.
    signature: Option<String>,
}

/// What was found at a point.
#[derive(Serialize, ToSchema)]
struct FoundShown {
    /// Its key.
    key: String,
    /// What was looked at.
    says: String,
    /// in-order, not-in-order or does-not-apply.
    found: &'static str,
    /// A remark.
    note: String,
}

/// A bench that was gone through.
#[derive(Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
struct GoneThrough {
    /// The bench.
    bench: String,
    /// Every point of the list.
    points: Vec<FoundPoint>,
}

/// What was found at a point.
#[derive(Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
struct FoundPoint {
    /// Its key.
    key: String,
    /// in-order, not-in-order or does-not-apply.
    found: String,
    /// A remark, such as a value.
    note: Option<String>,
}

/// The routes.
pub(super) fn routes() -> OpenApiRouter<Site> {
    OpenApiRouter::new()
        .route("/care/commissioning", get(page).post(submit))
        .routes(routes!(twin))
        .routes(routes!(kept_twin))
}

fn look(book: &OpenBook) -> Result<Commissionings, Problem> {
    let lists = book.history().commissionings().iter().rev().map(|it| ListShown {
        bench: it.list.bench.clone(),
        at: it.at.to_string(),
        by: it.who.to_string(),
        in_order: it.list.in_order(),
        points: it
            .list
            .points
            .iter()
            .map(|point| FoundShown {
                key: point.key.clone(),
                says: point.says.clone(),
                found: point.found.word(),
                note: point.note.clone(),
            })
            .collect(),
        entry: it.entry.0,
        signature: sign::line(book.history(), Signed::Commissioning(it.entry)),
    });
    Ok(Commissionings { decides: DECIDES, lists: lists.collect() })
}

async fn page(State(site): State<Site>, person: Person) -> Result<Markup, Refused> {
    shown(&site, person, Filled { typed: &Typed::default(), wrong: &[] }).await
}

async fn shown(site: &Site, person: Person, filled: Filled<'_>) -> Result<Markup, Refused> {
    let show = |sheet: &Commissionings| Shown {
        title: filled.title("A new bench"),
        heading: "A new bench".to_owned(),
        main: main(sheet, filled),
    };
    site.show(person, "/equipment", look, show).await
}

async fn submit(
    State(site): State<Site>,
    person: Person,
    typed: Typed,
) -> Result<Response, Refused> {
    let again = Person(person.0.clone());
    let missing = unanswered(&typed);
    if !missing.is_empty() {
        let page = shown(&site, again, Filled { typed: &typed, wrong: &missing }).await?;
        return Ok((StatusCode::UNPROCESSABLE_ENTITY, page).into_response());
    }
    let found: Vec<(String, Found, String)> = points()
        .iter()
        .filter_map(|point| {
            let found = Found::of_word(typed.text(&point.key))?;
            Some((point.key.clone(), found, typed.text(&note_of(point)).to_owned()))
        })
        .collect();
    let bench = typed.text("bench").to_owned();
    match site.act(person, move |book, output| commissioned(book, &bench, found, output)).await {
        Ok(()) => Ok(Redirect::to("/care/commissioning").into_response()),
        Err(refused) => {
            let wrong = [refused.at("bench")?];
            let page = shown(&site, again, Filled { typed: &typed, wrong: &wrong }).await?;
            Ok((StatusCode::UNPROCESSABLE_ENTITY, page).into_response())
        }
    }
}

/// The points of which nothing was said, and the bench if it has no name.
fn unanswered(typed: &Typed) -> Vec<Wrong> {
    let bench = typed.needed("bench", "Name the bench, such as NB-1 in chamber CH-1.").err();
    let missing = points().iter().filter(|point| Found::of_word(typed.text(&point.key)).is_none());
    let missing =
        missing.map(|point| Wrong::new(&point.key, format!("{}: say what was found.", point.says)));
    bench.into_iter().chain(missing).collect()
}

fn note_of(point: &Point) -> String {
    format!("{}-note", point.key)
}

/// The lists that are gone through before a bench is used
#[utoipa::path(get, path = "/api/care/commissioning", responses(
    (status = 200, body = Commissionings),
    (status = "default", body = ProblemDocument, content_type = "application/problem+json"),
))]
async fn twin(State(site): State<Site>, _: Person) -> Result<Json<Commissionings>, RefusedTwin> {
    Ok(Json(site.read(look).await?))
}

/// Keeps the list of a new bench
#[utoipa::path(post, path = "/api/care/commissioning", request_body = GoneThrough, responses(
    (status = 200, body = Commissionings),
    (status = "default", body = ProblemDocument, content_type = "application/problem+json"),
))]
async fn kept_twin(
    State(site): State<Site>,
    person: Person,
    Document(asked): Document<GoneThrough>,
) -> Result<Json<Commissionings>, RefusedTwin> {
    let found: Result<Vec<_>, Problem> = asked
        .points
        .into_iter()
        .map(|point| {
            let found = Found::of_word(&point.found).ok_or_else(|| {
                Problem::used_wrongly(format!("`{}` is no finding at a point", point.found))
                    .hint("Write in-order, not-in-order or does-not-apply.")
            })?;
            Ok((point.key, found, point.note.unwrap_or_default()))
        })
        .collect();
    let (bench, found) = (asked.bench, found.map_err(Refused::from)?);
    let kept = site.act(person, move |book, output| {
        commissioned(book, &bench, found, output)?;
        look(book)
    });
    Ok(Json(kept.await?))
}

fn main(sheet: &Commissionings, filled: Filled<'_>) -> Markup {
    html! {
        (filled.summary())
        p { "What is looked at before a new bench is used, or one that was moved. " (sheet.decides) }
        form method="post" action="/care/commissioning" novalidate {
            (filled.line(Field {
                name: "bench", label: "Which bench?", hint: "Such as NB-1 in chamber CH-1.",
            }))
            @for point in points() { (asked(point, filled)) }
            button { "Keep this list" }
        }
        @for list in &sheet.lists { (kept(list)) }
    }
}

fn asked(point: &Point, filled: Filled<'_>) -> Markup {
    let answers = [
        Answer { value: Found::InOrder.word(), label: "In order".to_owned() },
        Answer { value: Found::NotInOrder.word(), label: "Not in order".to_owned() },
        Answer { value: Found::DoesNotApply.word(), label: "Does not apply".to_owned() },
    ];
    let note = note_of(point);
    html! {
        (filled.one_of(Field { name: &point.key, label: &point.says, hint: &point.source }, &answers))
        (filled.line(Field { name: &note, label: "Remark (optional)", hint: "" }))
    }
}

fn kept(list: &ListShown) -> Markup {
    let at = trial::moment::Moment::parse(&list.at).map_or_else(|_| list.at.clone(), when);
    html! {
        h2 { (list.bench) }
        p { "Gone through at " (at) " by " (list.by) ", "
            a href={ "/record/" (list.entry) } { "entry " (list.entry) } ". "
            @if list.in_order { "Nothing was out of order." }
            @else { span.abnormal { "◆ Something was out of order." } }
        }
        (wide(&format!("The list of {}", list.bench), &html! {
            table {
                thead { tr { th scope="col" { "Point" } th scope="col" { "Found" }
                    th scope="col" { "Remark" } } }
                tbody { @for point in &list.points { tr {
                    td { (point.says) }
                    td { (point.found.replace('-', " ")) }
                    td { (point.note) }
                } } }
            }
        }))
        p { @match &list.signature {
            Some(signature) => { "Signature of the person responsible: " (signature) "." }
            None => {
                "Signature of the person responsible: none yet. "
                a href=(way(Signed::Commissioning(EntryNumber(list.entry)), "approved", "/care/commissioning")) {
                    "Sign the list of " (list.bench)
                }
            }
        } }
    }
}
