//! Films of a specimen: taken in as they come, shown under the strip, and laid on its scale by the
//! second at which the flame is removed in them.

use std::collections::BTreeMap;
use std::sync::{Mutex, PoisonError};

use axum::Json;
use axum::body::Bytes;
use axum::extract::{DefaultBodyLimit, Multipart, Path, Query, Request, State};
use axum::http::{HeaderMap, StatusCode, header};
use axum::response::{IntoResponse as _, Redirect, Response};
use axum::routing::post;
use futures_util::{Stream, StreamExt as _};
use serde::{Deserialize, Serialize};
use tokio::sync::{Semaphore, SemaphorePermit};
use trial::fact::{Evidence, EvidenceHash, EvidenceKind};
use trial::film::Film;
use trial::moment::Elapsed;
use trial::number::{PlanNumber, SpecimenNumber};
use utoipa::{IntoParams, ToSchema};
use utoipa_axum::router::OpenApiRouter;
use utoipa_axum::routes;

use super::super::record::telling;
use super::super::{shown, when};
use super::heard::{self, Heard};
use crate::book::{OpenBook, from_ledger};
use crate::form::fields::{Typed, Wrong};
use crate::form::number::{self, SECONDS};
use crate::problem::Problem;
use crate::room;
use crate::step;
use crate::step::film::Placing;
use crate::web::answer::{ProblemDocument, Refused, RefusedTwin};
use crate::web::asked::{Document, Given, unread};
use crate::web::download::safe;
use crate::web::film::{self, FILM_BYTES, HEAD_BYTES, Seen, Standing};
use crate::web::kind::sent_as;
use crate::web::site::{Person, Site};
use crate::web::upload::broken;

/// So many films may come in at once (R52).
const AT_ONCE: usize = 2;

/// So much of a file that is no film is still read, so that its sender hears why it is refused.
const HEARD_BYTES: u64 = 64 << 20;

/// So much may stand around a film in a form.
const AROUND_BYTES: u64 = 64 << 10;

/// What may be handed in.
pub(super) const LIMITS: &str =
    "MP4, MOV, WebM or Matroska, at most 2 GB. It is kept as it is, and comes in while it is sent.";

/// What was asked when in a film the flame is removed.
const REMOVED: &str = "Flame removed at this second of the film";

/// A film of a specimen.
#[derive(Serialize, ToSchema)]
pub(super) struct FilmShown {
    /// Its name when it came.
    pub(super) name: String,
    /// Its SHA-256.
    pub(super) sha256: String,
    /// Its size in bytes.
    pub(super) bytes: u64,
    /// How long it can be shown, in seconds, where it says so.
    pub(super) seconds: Option<f64>,
    /// What is missing of it, in words.
    pub(super) missing: Option<String>,
    /// Whether a player can show any of it.
    pub(super) can_be_shown: bool,
    /// Who kept it.
    pub(super) who: String,
    /// When.
    pub(super) at: String,
    /// When it begins, in seconds from the first flame: by what was seen in it, else by the clock
    /// of the device that recorded it.
    pub(super) begins_s: Option<f64>,
    /// The same by the clock of the device that recorded it.
    pub(super) begins_by_clock_s: Option<f64>,
    /// How far that may be off, either way.
    pub(super) within_s: Option<f64>,
    /// What was seen in it.
    pub(super) placed: Option<PlacedShown>,
    /// What its sound proposed last.
    pub(super) heard: Option<HeardShown>,
    /// How long a frame of it lasts on average, in seconds, where it says so.
    pub(super) frame_s: Option<f64>,
    /// When in it its sound begins, in seconds, where it has one and says so.
    pub(super) sound_begins_s: Option<f64>,
}

/// Where a film would lie by the bench's tones in its sound.
#[derive(Serialize, ToSchema)]
pub(super) struct HeardShown {
    /// The time of the film at which the flame would be removed.
    pub(super) removed_s: f64,
    /// When it would begin, in seconds from the first flame.
    pub(super) begins_s: Option<f64>,
    /// How surely, in words.
    pub(super) words: String,
    /// Who had it listened to.
    pub(super) who: String,
    /// When.
    pub(super) at: String,
}

/// When in a film the flame is removed.
#[derive(Serialize, ToSchema)]
pub(super) struct PlacedShown {
    /// The time of the film.
    pub(super) removed_s: f64,
    /// Who says so.
    pub(super) who: String,
    /// When it was said.
    pub(super) at: String,
}

/// What a film is called.
#[derive(Deserialize, IntoParams)]
#[into_params(parameter_in = Query)]
struct Named {
    /// Its name, with an ending that fits it
    name: String,
}

/// A film that was kept.
#[derive(Serialize, ToSchema)]
#[schema(as = FilmsKept)]
struct Kept {
    /// Its SHA-256.
    sha256: String,
    /// Its name.
    name: String,
    /// Its size.
    bytes: u64,
}

/// When in a film the flame is removed.
#[derive(Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
struct Seconds {
    /// The time of the film at which the flame is removed, the last time, such as `31.23 s`.
    removed: String,
    /// What the sound of the film proposed, where it was listened to.
    heard: Option<Heard>,
}

/// Room for the films that are coming in.
static ROOM: Semaphore = Semaphore::const_new(AT_ONCE);

/// The routes.
pub(super) fn routes() -> OpenApiRouter<Site> {
    OpenApiRouter::new()
        .route("/specimens/{specimen}/films", post(take))
        .route("/specimens/{specimen}/films/{sha256}", post(place))
        .routes(routes!(take_twin))
        .routes(routes!(place_twin))
        .layer(DefaultBodyLimit::disable())
}

/// Takes a film up from the specimen's page.
async fn take(
    State(site): State<Site>,
    Given(Path(named)): Given<Path<String>>,
    person: Person,
    headers: HeaderMap,
    Given(mut parts): Given<Multipart>,
) -> Result<Response, Refused> {
    let of = shown::specimen_at(&site, &named).await?;
    not_too_large(&headers)?;
    let _permit = permit()?;
    let mut film = Err(no_film());
    while let Some(part) = parts.next_field().await.map_err(|error| broken(&error))? {
        let Some(name) = part.file_name().map(str::to_owned) else { continue };
        let sent = part.content_type().map(str::to_owned);
        let pieces = part.map(|piece| piece.map_err(|error| broken(&error)));
        film = taken_in(&site, (&name, sent.as_deref()), pieces).await;
        break;
    }
    match film {
        Ok(film) => {
            keep(&site, person, of, film).await?;
            Ok(Redirect::to(&format!("/specimens/{named}#films")).into_response())
        }
        Err(refused) => {
            let wrong = [refused.at("film")?];
            super::drawn(&site, person, of, (&Typed::new(Vec::new()), &wrong)).await
        }
    }
}

/// Keeps a film of a specimen, which is sent as it is
#[utoipa::path(post, path = "/api/specimens/{specimen}/films",
    params(("specimen" = String, Path), Named),
    request_body(content = Vec<u8>, content_type = "application/octet-stream"), responses(
    (status = 200, body = Kept),
    (status = "default", body = ProblemDocument, content_type = "application/problem+json"),
))]
async fn take_twin(
    State(site): State<Site>,
    Given(Path(named)): Given<Path<String>>,
    Given(Query(about)): Given<Query<Named>>,
    person: Person,
    request: Request,
) -> Result<Json<Kept>, RefusedTwin> {
    let of = shown::specimen_at(&site, &named).await?;
    not_too_large(request.headers())?;
    let _permit = permit()?;
    let pieces = request
        .into_body()
        .into_data_stream()
        .map(|piece| piece.map_err(|error| unread(error.to_string(), StatusCode::BAD_REQUEST)));
    let film = taken_in(&site, (&about.name, None), pieces).await?;
    let kept = Kept { sha256: film.hash.to_string(), name: film.name.clone(), bytes: film.bytes };
    keep(&site, person, of, film).await?;
    Ok(Json(kept))
}

/// Refuses what says itself that it is too large before any of it comes.
fn not_too_large(headers: &HeaderMap) -> Result<(), Refused> {
    let said =
        headers.get(header::CONTENT_LENGTH).and_then(|length| length.to_str().ok()?.parse().ok());
    if said.is_some_and(|bytes: u64| bytes > FILM_BYTES + AROUND_BYTES) {
        return Err(too_large("the film"));
    }
    Ok(())
}

fn too_large(what: &str) -> Refused {
    let problem = Problem::used_wrongly(format!("{what} has more than 2 GB")).hint(LIMITS);
    Refused::with(problem, StatusCode::PAYLOAD_TOO_LARGE)
}

/// Room for one more film, if there is.
fn permit() -> Result<SemaphorePermit<'static>, Refused> {
    ROOM.try_acquire().map_err(|_| {
        let problem = Problem::used_wrongly(format!("{AT_ONCE} films are coming in already"))
            .hint("Send it again when one of them is there.");
        Refused::with(problem, StatusCode::TOO_MANY_REQUESTS)
    })
}

fn no_film() -> Refused {
    Problem::used_wrongly("no film came").hint("Choose a film first.").into()
}

/// Takes a film in as it comes: to the disk, a piece at a time.
async fn taken_in(
    site: &Site,
    (name, sent): (&str, Option<&str>),
    mut pieces: impl Stream<Item = Result<Bytes, Refused>> + Unpin,
) -> Result<Evidence, Refused> {
    let name = safe(name);
    room::enough(site.folder(), "a film")?;
    let mut incoming = site.read(|book| book.incoming()).await?;
    let (mut head, mut came) = (Vec::with_capacity(HEAD_BYTES), 0);
    while let Some(piece) = pieces.next().await {
        let piece = piece?;
        came += piece.len() as u64;
        let open = head.len() < HEAD_BYTES;
        head.extend(piece.iter().take(HEAD_BYTES - head.len()));
        let refused = head.len() == HEAD_BYTES && film::fit(&name, &head).is_err();
        if refused && came > HEARD_BYTES {
            break;
        }
        if refused && !open {
            continue;
        }
        if came > FILM_BYTES {
            return Err(too_large(&format!("`{name}`")));
        }
        let written = site.aside(move || {
            incoming.write(&piece).map_err(|error| from_ledger(&error))?;
            Ok(incoming)
        });
        incoming = written.await?;
    }
    if came == 0 {
        return Err(no_film());
    }
    film::fit(&name, &head)
        .and_then(|_| sent_as(&name, sent, &head))
        .map_err(|why| Problem::used_wrongly(why).hint(LIMITS))?;
    let filed = site.aside(move || {
        incoming.file(&name, EvidenceKind::Film).map_err(|error| from_ledger(&error))
    });
    filed.await
}

/// Keeps that a film is of a specimen.
async fn keep(
    site: &Site,
    person: Person,
    of: (PlanNumber, SpecimenNumber),
    film: Evidence,
) -> Result<(), Refused> {
    let kept =
        site.act(person, move |book, output| step::film::keep(book, of, (film, None), output));
    kept.await
}

/// Lays a film on the scale of the strip, from the specimen's page.
async fn place(
    State(site): State<Site>,
    Given(Path((named, sha256))): Given<Path<(String, String)>>,
    person: Person,
    typed: Typed,
) -> Result<Response, Refused> {
    let of = shown::specimen_at(&site, &named).await?;
    let field = field(&sha256);
    let said = seconds(typed.text(&field)).and_then(|removed| {
        Ok(Placing { removed, heard: heard::typed(typed.text(heard::FIELD))? })
    });
    match said {
        Ok(placing) => {
            lay(&site, person, of, (sha256, placing)).await?;
            Ok(Redirect::to(&format!("/specimens/{named}#films")).into_response())
        }
        Err(words) => {
            let wrong = [Wrong::new(field, words)];
            super::drawn(&site, person, of, (&typed, &wrong)).await
        }
    }
}

/// Says when in a film the flame is removed: film and presses share one scale then
#[utoipa::path(post, path = "/api/specimens/{specimen}/films/{sha256}/place",
    params(("specimen" = String, Path), ("sha256" = String, Path)), request_body = Seconds,
    responses(
    (status = 200, body = FilmShown),
    (status = "default", body = ProblemDocument, content_type = "application/problem+json"),
))]
async fn place_twin(
    State(site): State<Site>,
    Given(Path((named, sha256))): Given<Path<(String, String)>>,
    person: Person,
    Document(said): Document<Seconds>,
) -> Result<Json<FilmShown>, RefusedTwin> {
    let of = shown::specimen_at(&site, &named).await?;
    let wrong = |words| Refused::from(Problem::used_wrongly(words));
    let removed = seconds(&said.removed).map_err(wrong)?;
    let heard = said.heard.map(Heard::heard).transpose().map_err(wrong)?;
    let hash = sha256.clone();
    lay(&site, person, of, (sha256, Placing { removed, heard })).await?;
    let films = site.read(move |book| Ok(films(book, of))).await?;
    let film = films.into_iter().find(|film| film.sha256 == hash).ok_or_else(|| gone(&hash))?;
    Ok(Json(film))
}

/// The name of the field that asks for a film's place.
pub(super) fn field(sha256: &str) -> String {
    format!("removed-{}", sha256.get(..8).unwrap_or(sha256))
}

/// A time of a film as it was typed.
pub(super) fn seconds(typed: &str) -> Result<Elapsed, String> {
    let number = number::read(typed, &SECONDS);
    let number = number.map_err(|fault| fault.words(REMOVED, typed, &SECONDS))?;
    Ok(Elapsed::from_microseconds(number.millionths))
}

/// Keeps what was said of a film's place.
async fn lay(
    site: &Site,
    person: Person,
    of: (PlanNumber, SpecimenNumber),
    (sha256, placing): (String, Placing),
) -> Result<(), Refused> {
    let asked = sha256.clone();
    let kept = site
        .act(person, move |book, output| step::film::place(book, of, (&sha256, placing), output));
    if kept.await? { Ok(()) } else { Err(gone(&asked)) }
}

fn gone(sha256: &str) -> Refused {
    let problem = Problem::used_wrongly(format!("the specimen has no film `{sha256}`"));
    Refused::not_found(problem.hint("Take one of those on its page."))
}

/// The films of a specimen as they are shown.
pub(super) fn films(
    book: &OpenBook,
    (plan, specimen): (PlanNumber, SpecimenNumber),
) -> Vec<FilmShown> {
    let removed = super::removed(book.history(), plan, specimen);
    let films = book.history().films(plan, specimen).iter();
    films.map(|film| shown_film(book, (plan, specimen), (film, removed))).collect()
}

fn shown_film(
    book: &OpenBook,
    of: (PlanNumber, SpecimenNumber),
    (film, removed): (&Film, Option<Elapsed>),
) -> FilmShown {
    let Film { at, who, film: file, recorded, heard, placed, .. } = film;
    let seconds = |at: Elapsed| at.since(Elapsed::ZERO).seconds();
    let seen = look(book, file);
    let by_clock = recorded.as_ref().and_then(|recorded| {
        book.history().from_first_flame(of, (recorded.sitting, recorded.began))
    });
    let by_eye = placed.as_ref().zip(removed).map(|(placed, removed)| placed.begins(removed));
    FilmShown {
        name: file.name.clone(),
        sha256: file.hash.to_string(),
        bytes: file.bytes,
        seconds: seen.and_then(|seen| seen.seconds),
        missing: match seen {
            Some(seen) => seen.words(),
            None => Some("The film is not where it was kept: check the record.".to_owned()),
        },
        can_be_shown: seen.is_some_and(|seen| seen.standing != Standing::NotShown),
        who: who.to_string(),
        at: when(*at),
        begins_s: by_eye.or(by_clock).map(seconds),
        begins_by_clock_s: by_clock.map(seconds),
        within_s: recorded.as_ref().map(|recorded| recorded.within.seconds()),
        placed: placed.as_ref().map(|placed| PlacedShown {
            removed_s: seconds(placed.removed),
            who: placed.who.to_string(),
            at: when(placed.at),
        }),
        heard: heard.as_ref().map(|heard| HeardShown {
            removed_s: seconds(heard.removed),
            begins_s: removed.map(|removed| seconds(heard.begins(removed))),
            words: telling::heard(&heard.tones),
            who: heard.who.to_string(),
            at: when(heard.at),
        }),
        frame_s: seen.and_then(|seen| seen.frame_seconds),
        sound_begins_s: seen.and_then(|seen| seen.sound_begins_seconds),
    }
}

/// What films were found to be: what is filed under a hash does not change.
static SEEN: Mutex<BTreeMap<EvidenceHash, Seen>> = Mutex::new(BTreeMap::new());

/// So many are remembered at most; then they are looked through again.
const SEEN_MOST: usize = 1000;

/// What a film is found to be; none of one that cannot be read.
fn look(book: &OpenBook, film: &Evidence) -> Option<Seen> {
    let file = book.open_evidence(film).ok()?;
    if let Some(seen) = SEEN.lock().unwrap_or_else(PoisonError::into_inner).get(&film.hash) {
        return Some(*seen);
    }
    let (file, kind) = film::kind_of(file).ok()?;
    let seen = film::look(file, kind?).ok()?;
    let mut all = SEEN.lock().unwrap_or_else(PoisonError::into_inner);
    if all.len() >= SEEN_MOST {
        all.clear();
    }
    all.insert(film.hash, seen);
    Some(seen)
}
