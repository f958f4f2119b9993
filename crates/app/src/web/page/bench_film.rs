//! A film that is recorded at the bench: its pieces as they come, then the whole of it as evidence.

use axum::Json;
use axum::body::Bytes;
use axum::extract::{DefaultBodyLimit, Path, Query, State};
use axum::http::StatusCode;
use metrology::Duration;
use serde::{Deserialize, Serialize};
use trial::bench::{DeviceId, SittingId};
use trial::fact::{Evidence, EvidenceKind};
use trial::film::FilmRecorded;
use trial::moment::Elapsed;
use trial::number::{PlanNumber, SpecimenNumber};
use utoipa::{IntoParams, ToSchema};
use utoipa_axum::router::OpenApiRouter;
use utoipa_axum::routes;

use super::bench::no_id;
use crate::book::from_ledger;
use crate::problem::Problem;
use crate::room;
use crate::step;
use crate::web::answer::{ProblemDocument, Refused, RefusedTwin};
use crate::web::asked::{Document, Given};
use crate::web::film::{self, FILM_BYTES, HEAD_BYTES};
use crate::web::pieces::{Came, Pieces, hash};
use crate::web::site::{Person, Site};

/// The most bytes of one piece: a second of film has a tenth of them.
const PIECE_BYTES: usize = 8 << 20;

/// The most pieces of a film: two hours.
const PIECES_MOST: u32 = 7200;

/// The hash of a piece.
#[derive(Deserialize, IntoParams)]
#[into_params(parameter_in = Query)]
struct Hashed {
    /// The SHA-256 of the piece
    sha256: String,
}

/// That a piece is kept.
#[derive(Serialize, ToSchema)]
struct PieceKept {
    /// Its number.
    kept: u32,
}

/// A film of which no further piece comes.
#[derive(Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
struct Whole {
    /// The device: 32 hexadecimal digits.
    device: String,
    /// How many pieces it has.
    pieces: u32,
    /// How far off its begin may be, either way, in microseconds.
    within_us: u32,
    /// What it is, such as `video/webm`.
    media: String,
}

/// What became of a film.
#[derive(Serialize, ToSchema)]
struct Ended {
    /// The numbers of pieces that did not come: send them, then ask again.
    missing: Vec<u32>,
    /// The SHA-256 of the film, once it is kept.
    sha256: Option<String>,
}

/// A film by its address.
#[derive(Clone)]
struct Place {
    plan: PlanNumber,
    specimen: SpecimenNumber,
    sitting: SittingId,
    /// When it begins, on the clock of the sitting.
    began: Elapsed,
    pieces: Pieces,
    /// The whole film, where it is evidence already.
    kept: Option<Evidence>,
}

/// The routes.
pub(super) fn routes() -> OpenApiRouter<Site> {
    OpenApiRouter::new()
        .routes(routes!(keep_piece))
        .routes(routes!(end))
        .layer(DefaultBodyLimit::max(PIECE_BYTES))
}

/// Keeps a piece of a film that is recorded at the bench
///
/// The film is named by its sitting and by when it begins, in microseconds of the sitting's clock.
/// Pieces may come again and in any order.
#[utoipa::path(post, path = "/api/bench/{plan}/{specimen}/films/{film}/pieces/{piece}",
    params(("plan" = u32, Path), ("specimen" = u32, Path), ("film" = String, Path),
        ("piece" = u32, Path, description = "Its number, from 1 on"), Hashed),
    request_body(content = Vec<u8>, content_type = "application/octet-stream"), responses(
    (status = 200, body = PieceKept),
    (status = "default", body = ProblemDocument, content_type = "application/problem+json"),
))]
async fn keep_piece(
    State(site): State<Site>,
    _person: Person,
    Given(Path((plan, specimen, film, piece))): Given<Path<(u32, u32, String, u32)>>,
    Given(Query(about)): Given<Query<Hashed>>,
    Given(bytes): Given<Bytes>,
) -> Result<Json<PieceKept>, RefusedTwin> {
    let place = place(&site, (plan, specimen), film).await?;
    if !(1..=PIECES_MOST).contains(&piece) {
        let text = format!("{piece} is no piece of a film: they count from 1 to {PIECES_MOST}");
        return Err(Refused::from(Problem::used_wrongly(text)).into());
    }
    if place.kept.is_some() {
        return Ok(Json(PieceKept { kept: piece }));
    }
    let folder = site.folder().to_owned();
    let came = site.aside(move || {
        room::enough(&folder, "a film")?;
        let found = hash(&bytes);
        if found != about.sha256 {
            let text = format!("piece {piece} came with hash {found}, not as it is said");
            return Err(Problem::used_wrongly(text).hint("Send it again."));
        }
        place.pieces.keep((piece, &found), &bytes, FILM_BYTES).map_err(|error| disk(&error))
    });
    match came.await? {
        Came::Kept => Ok(Json(PieceKept { kept: piece })),
        Came::Differs => {
            let problem = Problem::conflict(format!("piece {piece} is there and differs"))
                .hint("Nothing was changed. Name another film.");
            Err(Refused::from(problem).into())
        }
        Came::TooLarge => {
            let problem = Problem::used_wrongly("the film has more than 2 GB");
            let problem = problem.hint("End it with the pieces that are there.");
            Err(Refused::with(problem, StatusCode::PAYLOAD_TOO_LARGE).into())
        }
    }
}

/// Ends a film that was recorded at the bench: joined from its pieces it is kept as evidence
#[utoipa::path(post, path = "/api/bench/{plan}/{specimen}/films/{film}",
    params(("plan" = u32, Path), ("specimen" = u32, Path), ("film" = String, Path)),
    request_body = Whole, responses(
    (status = 200, body = Ended),
    (status = "default", body = ProblemDocument, content_type = "application/problem+json"),
))]
async fn end(
    State(site): State<Site>,
    person: Person,
    Given(Path((plan, specimen, film))): Given<Path<(u32, u32, String)>>,
    Document(whole): Document<Whole>,
) -> Result<Json<Ended>, RefusedTwin> {
    let place = place(&site, (plan, specimen), film).await?;
    if let Some(kept) = place.kept {
        return Ok(Json(Ended { missing: Vec::new(), sha256: Some(kept.hash.to_string()) }));
    }
    let device = DeviceId::parse(&whole.device).ok_or_else(|| no_id("device", &whole.device));
    let recorded = FilmRecorded {
        device: device.map_err(Refused::from)?,
        sitting: place.sitting,
        began: place.began,
        within: Duration::from_microseconds(i64::from(whole.within_us)),
    };
    let film = match joined(&site, &place, whole).await? {
        Ok(film) => film,
        Err(missing) => return Ok(Json(Ended { missing, sha256: None })),
    };
    let sha256 = Some(film.hash.to_string());
    let of = (place.plan, place.specimen);
    let kept = site.act(person, move |book, output| {
        step::film::keep(book, of, (film, Some(recorded)), output)
    });
    kept.await?;
    site.aside(move || {
        place.pieces.forget();
        Ok(())
    })
    .await?;
    Ok(Json(Ended { missing: Vec::new(), sha256 }))
}

/// The film that an address names.
async fn place(site: &Site, (plan, specimen): (u32, u32), film: String) -> Result<Place, Refused> {
    let (plan, specimen) = (PlanNumber(plan), SpecimenNumber(specimen));
    let named = film.split_once('-').and_then(|(sitting, began)| {
        Some((SittingId::parse(sitting)?, began.parse().ok().filter(|began| *began >= 0)?))
    });
    let Some((sitting, began)) = named else {
        let problem = Problem::used_wrongly(format!("`{film}` is no film of the bench"));
        let hint = "Name it by its sitting and its begin, as 32 hexadecimal digits, a hyphen, and \
                    microseconds.";
        return Err(Refused::not_found(problem.hint(hint)));
    };
    let began = Elapsed::from_microseconds(began);
    site.read(move |book| {
        book.plan_of(plan, specimen)?;
        let name = format!("{plan}-{specimen}-{sitting}-{}", began.microseconds());
        let pieces = Pieces::of(book.book().folder(), &name);
        let mut films = book.history().films(plan, specimen).iter();
        let kept = films.find(|film| {
            let recorded = film.recorded.as_ref();
            recorded.is_some_and(|it| it.sitting == sitting && it.began == began)
        });
        let kept = kept.map(|film| film.film.clone());
        Ok(Place { plan, specimen, sitting, began, pieces, kept })
    })
    .await
}

/// The whole film as evidence; the numbers of what is missing of it, if anything is.
async fn joined(
    site: &Site,
    place: &Place,
    whole: Whole,
) -> Result<Result<Evidence, Vec<u32>>, Refused> {
    if !(1..=PIECES_MOST).contains(&whole.pieces) {
        let text = format!("a film has 1 to {PIECES_MOST} pieces, not {}", whole.pieces);
        return Err(Problem::used_wrongly(text).into());
    }
    let (plan, specimen) = (place.plan, place.specimen);
    let (incoming, nth) = site
        .read(move |book| Ok((book.incoming()?, book.history().films(plan, specimen).len() + 1)))
        .await?;
    let pieces = place.pieces.clone();
    let joined = site.aside(move || {
        let missing = pieces.missing(whole.pieces).map_err(|error| disk(&error))?;
        if !missing.is_empty() {
            return Ok(Err(missing));
        }
        let (mut incoming, mut head, mut broken) = (incoming, Vec::new(), Vec::new());
        for number in 1..=whole.pieces {
            match pieces.piece(number).map_err(|error| disk(&error))? {
                None => broken.push(number),
                Some(bytes) => {
                    head.extend(bytes.iter().take(HEAD_BYTES.saturating_sub(head.len())));
                    incoming.write(&bytes).map_err(|error| from_ledger(&error))?;
                }
            }
        }
        if !broken.is_empty() {
            return Ok(Err(broken));
        }
        let Some(kind) = film::kind(&head).filter(|kind| kind.media == whole.media) else {
            let text = format!("the pieces come to no film of kind `{}`", whole.media);
            return Err(Problem::used_wrongly(text).hint("Add the film on the specimen's page."));
        };
        let name = format!("bench-{}-{specimen}-{nth}.{}", plan.0, kind.ending());
        let film = incoming.file(&name, EvidenceKind::Film);
        Ok(Ok(film.map_err(|error| from_ledger(&error))?))
    });
    joined.await
}

fn disk(error: &std::io::Error) -> Problem {
    Problem::surroundings("a piece of a film cannot be kept on this disk").because(error)
}
