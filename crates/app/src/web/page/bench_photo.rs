//! A photograph of a specimen before the flame, taken up from the bench's list.

use axum::Json;
use axum::body::Bytes;
use axum::extract::{DefaultBodyLimit, Path, Query, State};
use axum::http::StatusCode;
use serde::{Deserialize, Serialize};
use trial::fact::EvidenceKind;
use trial::number::{PlanNumber, SpecimenNumber};
use utoipa::{IntoParams, ToSchema};
use utoipa_axum::router::OpenApiRouter;
use utoipa_axum::routes;

use crate::problem::Problem;
use crate::step;
use crate::web::answer::{ProblemDocument, Refused, RefusedTwin};
use crate::web::asked::Given;
use crate::web::download::safe;
use crate::web::picture;
use crate::web::site::{Person, Site};

/// The most bytes of one photograph.
const PHOTO_BYTES: usize = 30 << 20;

/// What may be handed in.
const LIMITS: &str = "JPEG, PNG or WebP, at most 30 MB and 50 million picture elements.";

/// What a photograph is called.
#[derive(Deserialize, IntoParams)]
#[into_params(parameter_in = Query)]
struct Named {
    /// Its name, with an ending that fits it
    name: String,
}

/// A photograph that was kept.
#[derive(Serialize, ToSchema)]
struct PhotoKept {
    /// Its SHA-256.
    sha256: String,
    /// Its name.
    name: String,
    /// How many there are of the specimen before the flame.
    photos: usize,
}

/// The routes.
pub(super) fn routes() -> OpenApiRouter<Site> {
    // A little more is heard, so that the words say which limit it is.
    OpenApiRouter::new().routes(routes!(keep)).layer(DefaultBodyLimit::max(PHOTO_BYTES + 1024))
}

/// Keeps a photograph of a specimen before the flame comes to it
#[utoipa::path(post, path = "/api/bench/{plan}/{specimen}/photos",
    params(("plan" = u32, Path), ("specimen" = u32, Path), Named),
    request_body(content = Vec<u8>, content_type = "application/octet-stream"), responses(
    (status = 200, body = PhotoKept),
    (status = "default", body = ProblemDocument, content_type = "application/problem+json"),
))]
async fn keep(
    State(site): State<Site>,
    person: Person,
    Given(Path((plan, specimen))): Given<Path<(u32, u32)>>,
    Given(Query(about)): Given<Query<Named>>,
    Given(bytes): Given<Bytes>,
) -> Result<Json<PhotoKept>, RefusedTwin> {
    let of = (PlanNumber(plan), SpecimenNumber(specimen));
    let name = safe(&about.name);
    if bytes.is_empty() {
        return Err(Refused::from(Problem::used_wrongly("no photograph came")).into());
    }
    if bytes.len() > PHOTO_BYTES {
        let problem = Problem::used_wrongly(format!("`{name}` has more than 30 MB")).hint(LIMITS);
        return Err(Refused::with(problem, StatusCode::PAYLOAD_TOO_LARGE).into());
    }
    picture::fit(&name, &bytes)
        .map_err(|why| Refused::from(Problem::used_wrongly(why).hint(LIMITS)))?;
    let filed = site
        .read(move |book| {
            step::photo::may_come(book, of)?;
            book.file_bytes(&name, EvidenceKind::Photo, &mut &*bytes)
        })
        .await?;
    let (sha256, name) = (filed.hash.to_string(), filed.name.clone());
    let photos =
        site.act(person, move |book, output| step::photo::keep(book, of, filed, output)).await?;
    Ok(Json(PhotoKept { sha256, name, photos }))
}
