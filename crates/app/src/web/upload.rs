//! Files that come in: each is filed as evidence as it comes, and a form then names it by its hash,
//! so that a form that comes back need not be handed the file again.

use axum::Json;
use axum::body::Bytes;
use axum::extract::multipart::MultipartError;
use axum::extract::{DefaultBodyLimit, FromRequest, Multipart, Query, Request, State};
use axum::http::header;
use axum::response::Response;
use serde::{Deserialize, Serialize};
use tokio::sync::{Semaphore, SemaphorePermit};
use trial::fact::{Evidence, EvidenceHash, EvidenceKind};
use utoipa::{IntoParams, ToSchema};
use utoipa_axum::router::OpenApiRouter;
use utoipa_axum::routes;

use super::answer::{ProblemDocument, Refused, RefusedTwin};
use super::asked::{Given, unread};
use super::download::safe;
use super::kind;
use super::picture;
use super::site::{Person, Site};
use crate::book::OpenBook;
use crate::form::fields::{Typed, Wrong};
use crate::form::run::word;
use crate::problem::Problem;

/// The most bytes of all files of one form.
pub(super) const UPLOAD_BYTES: usize = 64 << 20;

/// The same in words.
pub(super) const UPLOAD_LIMIT: &str = "All files together: at most 64 MB.";

/// So many forms and documents with files are read at once; the next ones wait (R52).
const AT_ONCE: usize = 2;

/// Room for those that are read.
static ROOM: Semaphore = Semaphore::const_new(AT_ONCE);

/// Waits for a turn to read files and file them; it ends with its value. The limit of an answer ends the
/// waiting.
pub(super) async fn turn() -> Option<SemaphorePermit<'static>> {
    // The room is never closed.
    ROOM.acquire().await.ok()
}

/// Bytes as they were sent, with the turn in which they are read and filed.
struct Sent(Option<SemaphorePermit<'static>>, Bytes);

impl FromRequest<Site> for Sent {
    type Rejection = Response;

    async fn from_request(request: Request, site: &Site) -> Result<Self, Response> {
        let turn = turn().await;
        let Given(bytes) = Given::<Bytes>::from_request(request, site).await?;
        Ok(Self(turn, bytes))
    }
}

/// A form with files, or without: what was typed, and for each file its hash and its name.
pub(super) struct Filled(pub(super) Typed);

impl FromRequest<Site> for Filled {
    type Rejection = Response;

    async fn from_request(request: Request, site: &Site) -> Result<Self, Response> {
        let path = request.uri().path().to_owned();
        let kind = request.headers().get(header::CONTENT_TYPE);
        let kind = kind.and_then(|kind| kind.to_str().ok()).unwrap_or_default();
        if !kind.starts_with("multipart/") {
            return Ok(Self(Typed::from_request(request, site).await?));
        }
        let Given(parts) = Given::<Multipart>::from_request(request, site).await?;
        let _turn = turn().await;
        Self::of(parts, site).await.map_err(|refused| refused.to(&path))
    }
}

impl Filled {
    async fn of(mut parts: Multipart, site: &Site) -> Result<Self, Refused> {
        let mut pairs = Vec::new();
        while let Some(part) = parts.next_field().await.map_err(|error| broken(&error))? {
            let name = part.name().unwrap_or_default().to_owned();
            let Some(file) = part.file_name().map(safe) else {
                pairs.push((name, part.text().await.map_err(|error| broken(&error))?));
                continue;
            };
            let sent = part.content_type().map(str::to_owned);
            let bytes = part.bytes().await.map_err(|error| broken(&error))?;
            if !bytes.is_empty() {
                fits(kind::sent_as(&file, sent.as_deref(), &bytes))?;
                let kind = kind_of(&file);
                let filed = site.read(move |book| book.file_bytes(&file, kind, &mut &*bytes));
                let filed = filed.await?;
                pairs.push((name, format!("{} {}", filed.hash, filed.name)));
            }
        }
        Ok(Self(Typed::new(pairs)))
    }
}

/// A form whose files break off, or are too large.
pub(super) fn broken(error: &MultipartError) -> Refused {
    unread(error.body_text(), error.status())
}

/// Refuses a file that is not what it is said to be.
pub(super) fn fits(agrees: Result<(), String>) -> Result<(), Refused> {
    agrees.map_err(|why| {
        Problem::used_wrongly(why).hint("Choose the file as it came from its device.").into()
    })
}

/// What a file is taken for by its name.
fn kind_of(name: &str) -> EvidenceKind {
    match name.rsplit_once('.').map(|(_, ending)| ending.to_ascii_lowercase()).as_deref() {
        Some("pdf") => EvidenceKind::Certificate,
        Some("png" | "jpg" | "jpeg") => EvidenceKind::Photo,
        Some("csv" | "txt" | "tsv" | "dat" | "log") => EvidenceKind::Trace,
        _ => EvidenceKind::Other,
    }
}

/// The file that a form names in `field` by its hash and its name; none if it names none.
///
/// # Errors
///
/// [`Wrong`] where no such file was filed.
pub(super) fn named(
    book: &OpenBook,
    (field, text): (&str, &str),
    kind: EvidenceKind,
) -> Result<Option<(Evidence, Vec<u8>)>, Wrong> {
    if text.is_empty() {
        return Ok(None);
    }
    let (hash, name) = text.split_once(' ').unwrap_or((text, "file"));
    let gone = || Wrong::new(field, format!("The file `{name}` was not filed. Choose it again."));
    let hash = ledger::hash::BlobHash::from_hex(hash).ok_or_else(gone)?;
    let hash = EvidenceHash(hash.0);
    let bytes = book.book().evidence(hash).map_err(|_| gone())?;
    Ok(Some((Evidence { name: safe(name), hash, bytes: bytes.len() as u64, kind }, bytes)))
}

/// A document of a program as the form that a person would have filled in.
pub(super) fn typed(document: &impl Serialize) -> Typed {
    let mut pairs = Vec::new();
    if let Ok(serde_json::Value::Object(fields)) = serde_json::to_value(document) {
        for (name, value) in fields {
            match value {
                serde_json::Value::String(text) => pairs.push((name, text)),
                serde_json::Value::Array(items) => {
                    let texts = items.iter().filter_map(|item| item.as_str());
                    pairs.extend(texts.map(|text| (name.clone(), text.to_owned())));
                }
                serde_json::Value::Bool(_) | serde_json::Value::Number(_) => {
                    pairs.push((name, value.to_string()));
                }
                serde_json::Value::Null | serde_json::Value::Object(_) => {}
            }
        }
    }
    Typed::new(pairs)
}

/// What is wrong with a form, as a problem.
pub(super) fn refused(wrong: &[Wrong]) -> Problem {
    let found = |wrong: &Wrong| crate::problem::Found {
        kind: wrong.field.clone(),
        text: wrong.words.clone(),
        hint: String::new(),
    };
    Problem {
        findings: wrong.iter().map(found).collect(),
        ..Problem::used_wrongly("what was sent cannot be used as it is")
    }
}

/// What a file is.
#[derive(Deserialize, IntoParams)]
#[into_params(parameter_in = Query)]
struct About {
    /// Its name
    name: String,
    /// trace, photo, film, certificate or other
    kind: String,
}

/// A file that was filed.
#[derive(Serialize, ToSchema)]
struct Filed {
    /// Its SHA-256: what other documents name it by.
    sha256: String,
    /// Its name.
    name: String,
    /// Its size.
    bytes: u64,
}

/// The routes.
pub(super) fn routes() -> OpenApiRouter<Site> {
    OpenApiRouter::new().routes(routes!(file)).layer(DefaultBodyLimit::max(UPLOAD_BYTES))
}

/// Files bytes as evidence, to be named by another document
#[utoipa::path(post, path = "/api/evidence", params(About),
    request_body(content = Vec<u8>, content_type = "application/octet-stream"), responses(
    (status = 200, body = Filed),
    (status = "default", body = ProblemDocument, content_type = "application/problem+json"),
))]
async fn file(
    State(site): State<Site>,
    _person: Person,
    Given(Query(about)): Given<Query<About>>,
    Sent(_turn, bytes): Sent,
) -> Result<Json<Filed>, RefusedTwin> {
    let name = safe(&about.name);
    fits(kind::named_as(&name, &bytes))?;
    let kind = word("kind of file", &about.kind, EvidenceKind::of_word, EvidenceKind::ALL);
    let kind = kind.map_err(Refused::from)?;
    if kind == EvidenceKind::Photo {
        fits(picture::fit(&name, &bytes))?;
    }
    let filed = site.read(move |book| book.file_bytes(&name, kind, &mut &*bytes));
    let Evidence { name, hash, bytes, .. } = filed.await.map_err(RefusedTwin::from)?;
    Ok(Json(Filed { sha256: hash.to_string(), name, bytes }))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[tokio::test]
    async fn two_are_read_at_once_and_the_third_waits_for_one_of_them() {
        let (first, second) = (turn().await, turn().await);
        let mut third = Box::pin(turn());
        let waits = std::future::poll_fn(|context| {
            std::task::Poll::Ready(third.as_mut().poll(context).is_pending())
        });
        assert!(waits.await);
        drop(first);
        assert!(third.await.is_some());
        drop(second);
    }
}
