//! One entry: what it says in words and as it is written, its hash, and the files it rests on.

use axum::Json;
use axum::extract::{Path, State};
use axum::http::{HeaderMap, header};
use axum::response::Response;
use axum::routing::get;
use maud::{Markup, html};
use serde::Serialize;
use trial::fact::Recorded;
use utoipa::ToSchema;
use utoipa_axum::router::OpenApiRouter;
use utoipa_axum::routes;

use crate::book::{OpenBook, from_ledger};
use crate::problem::Problem;
use crate::web::answer::{ProblemDocument, Refused, RefusedTwin};
use crate::web::asked::Given;
use crate::web::download::{attachment, disposition, kind};
use crate::web::site::{Person, Place, Site};
use crate::web::streamed::Streamed;
use crate::web::upload::UPLOAD_BYTES;

use super::telling::{rests_on, spaced, words};
use crate::web::page::when;

/// One entry.
#[derive(Serialize, ToSchema)]
struct Entry {
    /// Its number.
    entry: u64,
    /// When, in UTC.
    at: String,
    /// Who.
    who: String,
    /// Its kind.
    kind: String,
    /// What it says.
    what: String,
    /// Its body as it is written: canonical JSON.
    body: String,
    /// Its hash.
    sha256: String,
    /// The files it rests on.
    evidence: Vec<File>,
    /// The entries that correct it.
    corrected_by: Vec<Corrected>,
    /// The number of the last entry.
    last: u64,
    #[serde(skip)]
    shown_at: String,
}

/// A file that an entry rests on.
#[derive(Serialize, ToSchema)]
#[schema(as = EntryFile)]
struct File {
    /// What it is called.
    name: String,
    /// Its SHA-256.
    sha256: String,
}

/// A correction.
#[derive(Serialize, ToSchema)]
struct Corrected {
    /// The entry that corrects.
    entry: u64,
    /// Why.
    reason: String,
}

/// The routes.
pub(super) fn routes() -> OpenApiRouter<Site> {
    OpenApiRouter::new()
        .route("/record/{entry}", get(page))
        .routes(routes!(twin))
        .route("/record/{entry}/evidence/{sha256}", get(evidence))
}

async fn page(
    State(site): State<Site>,
    person: Person,
    Given(Path(entry)): Given<Path<String>>,
) -> Result<Markup, Refused> {
    let place = Place { here: "/record", heading: "An entry of the record" };
    let known = known(&site, &entry).await?;
    site.page(person, place, move |book| look(book, known), main).await
}

/// One entry of the record
#[utoipa::path(get, path = "/api/record/{entry}",
    params(("entry" = u64, Path, description = "Its number")), responses(
    (status = 200, body = Entry),
    (status = "default", body = ProblemDocument, content_type = "application/problem+json"),
))]
async fn twin(
    State(site): State<Site>,
    _person: Person,
    Given(Path(entry)): Given<Path<String>>,
) -> Result<Json<Entry>, RefusedTwin> {
    let known = known(&site, &entry).await?;
    Ok(Json(site.read(move |book| look(book, known)).await?))
}

/// A file that an entry rests on
async fn evidence(
    State(site): State<Site>,
    _person: Person,
    Given(Path((entry, sha256))): Given<Path<(String, String)>>,
    asked_with: HeaderMap,
) -> Result<Response, Refused> {
    let number = known(&site, &entry).await?;
    let asked = sha256.clone();
    let found = site.read(move |book| {
        let files = recorded(book, number).map(|entry| rests_on(&entry.fact)).unwrap_or_default();
        let Some(file) = files.into_iter().find(|file| file.hash.to_string() == asked) else {
            return Ok(None);
        };
        let large = book.book().open_evidence(file.hash).map_err(|error| from_ledger(&error))?;
        if large.metadata().is_ok_and(|about| about.len() > UPLOAD_BYTES as u64) {
            return Ok(Some((file.name, Err(large))));
        }
        let bytes = book.book().evidence(file.hash).map_err(|error| from_ledger(&error))?;
        Ok(Some((file.name, Ok(bytes))))
    });
    match found.await? {
        Some((name, Ok(bytes))) => Ok(attachment(&name, bytes)),
        // A film is not held in memory: `verify` holds it against its hash.
        Some((name, Err(file))) => {
            let headers = vec![
                (header::CONTENT_TYPE, kind(&name)),
                (header::CONTENT_DISPOSITION, disposition(&name)),
            ];
            Streamed { file, sha256, headers }.answer(&asked_with)
        }
        None => Err(Refused::not_found(
            Problem::used_wrongly(format!("entry {number} rests on no file `{sha256}`"))
                .hint("Take one of those that its page lists."),
        )),
    }
}

/// The number of an entry that is in the book.
async fn known(site: &Site, text: &str) -> Result<u64, Refused> {
    let number: Option<u64> = text.parse().ok();
    let last = site.read(|book| Ok(book.history().entries().len() as u64)).await?;
    match number {
        Some(number) if (1..=last).contains(&number) => Ok(number),
        _ => Err(Refused::not_found(
            Problem::used_wrongly(format!("there is no entry {text}; the book has {last}"))
                .hint("Choose one under Record."),
        )),
    }
}

fn recorded(book: &OpenBook, number: u64) -> Option<&Recorded> {
    let index = usize::try_from(number).ok()?.checked_sub(1)?;
    book.history().entries().get(index)
}

fn look(book: &OpenBook, number: u64) -> Result<Entry, Problem> {
    let gone = || Problem::surroundings(format!("entry {number} is no longer on the disk"));
    let recorded = recorded(book, number).ok_or_else(gone)?;
    let stored = book.book().stored(number).map_err(|error| from_ledger(&error))?;
    let stored = stored.ok_or_else(gone)?;
    let history = book.history();
    let files = rests_on(&recorded.fact).into_iter();
    let corrections = history.corrections(recorded.entry).iter();
    Ok(Entry {
        entry: number,
        at: recorded.at.to_string(),
        shown_at: when(recorded.at),
        who: recorded.who.0.clone(),
        kind: recorded.fact.kind().to_owned(),
        what: words(&recorded.fact),
        body: String::from_utf8_lossy(&stored.entry.body).into_owned(),
        sha256: stored.hash.to_string(),
        evidence: files
            .map(|file| File { name: file.name, sha256: file.hash.to_string() })
            .collect(),
        corrected_by: corrections
            .map(|it| Corrected { entry: it.by.0, reason: it.reason.clone() })
            .collect(),
        last: history.entries().len() as u64,
    })
}

fn main(entry: &Entry) -> Markup {
    html! {
        p { (entry.what) }
        @for by in &entry.corrected_by {
            p.abnormal {
                span aria-hidden="true" { "◆ " }
                a href={ "/record/" (by.entry) } { "Corrected by entry " (by.entry) }
                ": " (by.reason)
            }
        }
        dl {
            dt { "Entry" } dd { (entry.entry) " of " (entry.last) }
            dt { "When" } dd { (entry.shown_at) }
            dt { "Who" } dd { (entry.who) }
            dt { "Kind" } dd { (spaced(&entry.kind)) }
            dt { "Hash" } dd { code { (entry.sha256) } }
        }
        h2 { "Files it rests on" }
        @if entry.evidence.is_empty() { p { "It rests on no file." } }
        @else {
            ul { @for file in &entry.evidence {
                li {
                    a href={ "/record/" (entry.entry) "/evidence/" (file.sha256) } { (file.name) }
                    br; code { (file.sha256) }
                }
            } }
        }
        h2 { "As it is written" }
        pre { code { (entry.body) } }
        p {
            @if entry.entry > 1 {
                a href={ "/record/" (entry.entry - 1) } { "Entry before" } " · "
            }
            @if entry.entry < entry.last {
                a href={ "/record/" (entry.entry + 1) } { "Entry after" } " · "
            }
            a href="/record" { "Record" }
        }
    }
}
