//! Doubtful times of a specimen, and who accepts them.

use axum::Json;
use axum::extract::{Path, State};
use axum::response::{IntoResponse as _, Redirect, Response};
use axum::routing::post;
use maud::{Markup, html};
use serde::{Deserialize, Serialize};
use trial::history::History;
use trial::number::{PlanNumber, SpecimenNumber};
use utoipa::ToSchema;
use utoipa_axum::router::OpenApiRouter;
use utoipa_axum::routes;

use super::super::{shown, when};
use super::Specimen;
use crate::form::fields::{Field, Filled, Typed};
use crate::step;
use crate::web::answer::{ProblemDocument, Refused, RefusedTwin};
use crate::web::asked::{Document, Given};
use crate::web::site::{Person, Site};

/// Why the times of a specimen are doubtful, and who accepted them all the same.
#[derive(Serialize, ToSchema)]
pub(super) struct Doubtful {
    /// What makes them doubtful, as the device told it; empty where nothing does.
    because: Vec<String>,
    /// Who accepted them, if anybody did.
    accepted: Option<Accepted>,
}

/// That somebody accepted doubtful times.
#[derive(Serialize, ToSchema)]
pub(super) struct Accepted {
    /// Who.
    who: String,
    /// When.
    at: String,
    /// Why.
    reason: String,
}

/// Why doubtful times are accepted.
#[derive(Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
struct Accepting {
    /// Why they hold.
    reason: String,
}

/// The routes.
pub(super) fn routes() -> OpenApiRouter<Site> {
    OpenApiRouter::new().route("/specimens/{specimen}/times", post(accept)).routes(routes!(twin))
}

/// Accepts doubtful times from the specimen's page.
async fn accept(
    State(site): State<Site>,
    Given(Path(named)): Given<Path<String>>,
    person: Person,
    typed: Typed,
) -> Result<Response, Refused> {
    let of = shown::specimen_at(&site, &named).await?;
    match typed.needed("reason", "Say why the times hold.") {
        Ok(reason) => {
            kept(&site, person, of, reason.to_owned()).await?;
            Ok(Redirect::to(&format!("/specimens/{named}#times")).into_response())
        }
        Err(wrong) => {
            let wrong = [wrong];
            super::drawn(&site, person, of, (&typed, &wrong)).await
        }
    }
}

/// Accepts the doubtful times of a specimen: its report waits for that
#[utoipa::path(post, path = "/api/specimens/{specimen}/times", params(("specimen" = String, Path)),
    request_body = Accepting, responses(
    (status = 200, body = Doubtful),
    (status = "default", body = ProblemDocument, content_type = "application/problem+json"),
))]
async fn twin(
    State(site): State<Site>,
    Given(Path(named)): Given<Path<String>>,
    person: Person,
    Document(said): Document<Accepting>,
) -> Result<Json<Doubtful>, RefusedTwin> {
    let of = shown::specimen_at(&site, &named).await?;
    kept(&site, person, of, said.reason).await?;
    Ok(Json(site.read(move |book| Ok(look(book.history(), of))).await?))
}

async fn kept(
    site: &Site,
    person: Person,
    of: (PlanNumber, SpecimenNumber),
    reason: String,
) -> Result<(), Refused> {
    site.act(person, move |book, output| step::accept::times(book, of, &reason, output)).await
}

/// What is doubtful about a specimen's times.
pub(super) fn look(history: &History, (plan, specimen): (PlanNumber, SpecimenNumber)) -> Doubtful {
    let accepted = history.times_accepted(plan, specimen).map(|accepted| Accepted {
        who: accepted.who.to_string(),
        at: when(accepted.at),
        reason: accepted.reason.clone(),
    });
    Doubtful { because: history.doubts(plan, specimen), accepted }
}

/// What is doubtful, and the form that accepts it.
pub(super) fn shown(specimen: &Specimen, filled: Filled<'_>) -> Markup {
    let Doubtful { because, accepted } = &specimen.doubtful;
    let own = format!("/specimens/{}-{}/times", specimen.plan, specimen.specimen);
    html! {
        @if !because.is_empty() {
            h2 #times { "Doubtful times" }
            ul { @for doubt in because { li { (crate::web::answer::sentence(doubt)) } } }
        }
        @match accepted {
            Some(Accepted { who, at, reason }) => {
                p { "Accepted by " (who) ", " (at) ": " (crate::web::answer::sentence(reason)) }
            }
            None if !because.is_empty() && specimen.tested => {
                form method="post" novalidate action=(own) {
                    (filled.line(Field {
                        name: "reason",
                        label: "Why do the times hold all the same?",
                        hint: "The report prints who accepted them, and why. It waits until then.",
                    }))
                    button { "Accept the times" }
                }
            }
            None => {}
        }
    }
}
