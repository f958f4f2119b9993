//! A description as a document of a program: the same answers, the same checks, the same run.

use axum::Json;
use axum::extract::{Path, State};
use serde::{Deserialize, Serialize};
use trial::fact::{Evidence, EvidenceKind};
use trial::run::Observed;
use utoipa::ToSchema;

use super::place::Place;
use super::{known, seen};
use crate::book::OpenBook;
use crate::form::fields::{Typed, Wrong};
use crate::form::run_answers::offered;
use crate::step;
use crate::web::answer::{ProblemDocument, RefusedTwin};
use crate::web::asked::{Document, Given};
use crate::web::site::{Person, Site};
use crate::web::upload;

/// What was seen on a specimen, written as on the pages. Times that were pressed at the bench hold
/// where none is given.
#[derive(Deserialize, Serialize, ToSchema)]
#[serde(deny_unknown_fields, rename_all = "kebab-case")]
pub(super) struct Description {
    /// When the first flame touched it, such as `2026-11-25T09:40:00Z`; where nothing was pressed.
    began: Option<String>,
    /// Each application; where nothing was pressed, or against what was.
    #[serde(default)]
    applications: Vec<Applied>,
    /// How the flames ended after the last removal: `none`, `out` or `by-hand`.
    flames: Option<String>,
    /// When, such as `41.7 s`.
    flames_at: Option<String>,
    /// How the glow ended.
    glow: Option<String>,
    /// When.
    glow_at: Option<String>,
    /// How flames or glow of the layer and the surroundings ended.
    surroundings: Option<String>,
    /// When.
    surroundings_at: Option<String>,
    /// Why a time departs from what was pressed.
    times_reason: Option<String>,
    /// Whether there was any flame or glow, where both were pressed at once: `yes` or `no`.
    any: Option<String>,
    /// What fell or caught: the marks that were pressed, in order, or those of a stop-watch.
    #[serde(default)]
    marks: Vec<Marked>,
    /// What became of the layer: `unchanged`, `scorched`, `glowed`, `flamed` or `not-used`.
    layer: String,
    /// How much of it burnt: `partly` or `completely`.
    burnt: String,
    /// The damaged length, such as `23 mm`.
    damaged_length: Option<String>,
    /// Its standard uncertainty.
    damaged_uncertainty: Option<String>,
    /// The temperature of the air, such as `23 °C`.
    temperature: String,
    /// Its relative humidity, such as `50 %`.
    humidity: String,
    /// Photographs that were filed: the SHA-256 of each and its name.
    #[serde(default)]
    photos: Vec<String>,
    /// Anything unusual.
    note: Option<String>,
    /// Why it is written so long after the flame, where it is.
    later_reason: Option<String>,
    /// Why the specimen is spoilt, if it is.
    spoilt: Option<String>,
}

/// One application of the flame, in seconds from the first.
#[derive(Deserialize, Serialize, ToSchema)]
#[serde(deny_unknown_fields)]
struct Applied {
    /// Flame on specimen.
    on: String,
    /// Flame removed.
    removed: String,
}

/// A mark.
#[derive(Deserialize, Serialize, ToSchema)]
#[serde(deny_unknown_fields)]
struct Marked {
    /// When; where nothing was pressed.
    at: Option<String>,
    /// `drop`, `burning-drop`, `layer-caught`, `ignited`, `other` or `by-mistake`.
    kind: String,
    /// In words.
    words: Option<String>,
}

/// A run that was recorded.
#[derive(Serialize, ToSchema)]
pub(super) struct Signed {
    /// Its plan.
    plan: u32,
    /// Its specimen.
    specimen: u32,
}

/// Describes a specimen, and records its run as tested by the one who asks
#[utoipa::path(post, path = "/api/specimens/{specimen}/description",
    params(("specimen" = String, Path)), request_body = Description, responses(
    (status = 200, body = Signed),
    (status = "default", body = ProblemDocument, content_type = "application/problem+json"),
))]
pub(super) async fn describe(
    State(site): State<Site>,
    person: Person,
    Given(Path(named)): Given<Path<String>>,
    Document(said): Document<Description>,
) -> Result<Json<Signed>, RefusedTwin> {
    let place = Place::at(&site, &named).await?;
    let signed = Signed { plan: place.plan.0, specimen: place.specimen.0 };
    let who = Person(person.0.clone());
    let done = site.act(person, move |book, output| {
        let seen = answered(book, &place, &who, &said).map_err(|wrong| upload::refused(&wrong))?;
        let why_later = said.later_reason.as_deref().unwrap_or_default();
        step::run::run(book, place.plan, (seen, why_later), output)
    });
    done.await?;
    Ok(Json(signed))
}

/// What was seen by a document.
fn answered(
    book: &OpenBook,
    place: &Place,
    who: &Person,
    said: &Description,
) -> Result<Observed, Vec<Wrong>> {
    let mut photos: Vec<Evidence> = Vec::new();
    for text in &said.photos {
        let photo = upload::named(book, ("photos", text), EvidenceKind::Photo);
        photos.extend(photo.map_err(|wrong| vec![wrong])?.map(|(evidence, _)| evidence));
    }
    let typed = answers(place, said);
    let mut known = known(place, who, &typed);
    known.evidence = photos;
    seen(&typed, known, place)
}

/// A document as the answers of the pages.
fn answers(place: &Place, said: &Description) -> Typed {
    let mut typed = offered(place.pressed.as_ref());
    let came = upload::typed(said);
    for field in Place::pages().iter().flat_map(|(page, _)| place.fields(page)) {
        if came.all(&field).next().is_some() {
            typed.take(&field, &came);
        }
    }
    for (application, nth) in said.applications.iter().zip(1..) {
        typed.put(&format!("on-{nth}"), &application.on);
        typed.put(&format!("removed-{nth}"), &application.removed);
    }
    for (mark, nth) in said.marks.iter().zip(1..) {
        typed.put(&format!("mark-{nth}"), &mark.kind);
        typed.put(&format!("mark-{nth}-at"), mark.at.as_deref().unwrap_or_default());
        typed.put(&format!("mark-{nth}-words"), mark.words.as_deref().unwrap_or_default());
    }
    typed
}
