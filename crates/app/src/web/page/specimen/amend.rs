//! Corrects what was seen of a specimen: every value as it stands, a reason, and both are kept.

use std::collections::BTreeMap;

use axum::Json;
use axum::extract::{Path, State};
use axum::http::StatusCode;
use axum::response::{IntoResponse as _, Redirect, Response};
use axum::routing::get;
use maud::{Markup, html};
use serde::Deserialize;
use trial::number::{PlanNumber, SpecimenNumber};
use trial::run::Observed;
use utoipa::ToSchema;
use utoipa_axum::router::OpenApiRouter;
use utoipa_axum::routes;

use super::super::describe::again as questions;
use super::super::shown;
use super::{Specimen, look, run};
use crate::form::amend::{REASON, amended, offered, size};
use crate::form::fields::{Field, Filled, Typed, Wrong};
use crate::problem::{Exit, Problem};
use crate::step;
use crate::web::answer::{ProblemDocument, Refused, RefusedTwin, sentence};
use crate::web::asked::{Document, Given};
use crate::web::site::{Person, Shown, Site};
use crate::web::upload;

/// What holds instead of what was recorded.
#[derive(Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
struct Amending {
    /// Why.
    reason: String,
    /// The fields that change, named and written as on the page: `removed-1`, `flames-at`,
    /// `layer`, `note` and the like.
    values: BTreeMap<String, String>,
}

/// The routes.
pub(super) fn routes() -> OpenApiRouter<Site> {
    OpenApiRouter::new()
        .route("/specimens/{specimen}/amend", get(page).post(submit))
        .routes(routes!(twin))
}

type Of = (PlanNumber, SpecimenNumber);

/// What stands now of a specimen that was described.
async fn stands(site: &Site, (plan, specimen): Of) -> Result<Observed, Refused> {
    let found = site.read(move |book| {
        Ok(run(book.history(), plan, specimen).map(|recorded| recorded.run.observed().clone()))
    });
    found.await?.ok_or_else(|| {
        Problem::conflict(format!("specimen {specimen} of plan {plan} was not described yet"))
            .hint("Describe it first; there is nothing to correct.")
            .into()
    })
}

async fn page(
    State(site): State<Site>,
    Given(Path(named)): Given<Path<String>>,
    person: Person,
) -> Result<Markup, Refused> {
    let of = shown::specimen_at(&site, &named).await?;
    let seen = stands(&site, of).await?;
    let typed = offered(&seen);
    drawn(&site, person, (of, &seen), Filled { typed: &typed, wrong: &[] }).await
}

async fn drawn(
    site: &Site,
    person: Person,
    ((plan, specimen), seen): (Of, &Observed),
    filled: Filled<'_>,
) -> Result<Markup, Refused> {
    let heading = format!("Correct specimen {specimen} of plan {plan}");
    let main = html! {
        (filled.summary())
        p { a href={ "/specimens/" (plan.0) "-" (specimen) } { "Back" }
            " · What stands here first stays in the record beside what you write." }
        form method="post" novalidate {
            (filled.words(Field { name: REASON, label: "Why is it corrected?", hint: "It stands beside the old value, and prints on the report." }))
            (questions(filled, size(seen)))
            button type="submit" { "Correct it" }
        }
    };
    let show = |(): &()| Shown { title: filled.title(&heading), heading: heading.clone(), main };
    site.show(person, "/plans", |_| Ok(()), show).await
}

async fn submit(
    State(site): State<Site>,
    Given(Path(named)): Given<Path<String>>,
    person: Person,
    typed: Typed,
) -> Result<Response, Refused> {
    let of = shown::specimen_at(&site, &named).await?;
    let seen = stands(&site, of).await?;
    let again = Person(person.0.clone());
    let wrong = match kept(&site, person, (of, &seen), &typed).await {
        Ok(()) => return Ok(Redirect::to(&format!("/specimens/{named}")).into_response()),
        Err(wrong) => wrong?,
    };
    let page = drawn(&site, again, (of, &seen), Filled { typed: &typed, wrong: &wrong }).await?;
    Ok((StatusCode::UNPROCESSABLE_ENTITY, page).into_response())
}

/// Keeps the correction; what is wrong with it comes back for its fields.
async fn kept(
    site: &Site,
    person: Person,
    ((plan, _), seen): (Of, &Observed),
    typed: &Typed,
) -> Result<(), Result<Vec<Wrong>, Refused>> {
    let holds = amended(typed, seen).map_err(Ok)?;
    let reason = typed.text(REASON).to_owned();
    let act = site.act(person, move |book, output| {
        Ok(step::amend::amend(book, plan, (holds, &reason), output))
    });
    match act.await {
        Err(refused) => Err(Err(refused)),
        Ok(Ok(())) => Ok(()),
        Ok(Err(problem)) if problem.exit == Exit::Finding && !problem.findings.is_empty() => {
            let found = problem.findings.iter();
            let words = |text: &str, hint: &str| format!("{} {hint}", sentence(text));
            Err(Ok(found.map(|it| Wrong::new(REASON, words(&it.text, &it.hint))).collect()))
        }
        Ok(Err(problem)) => Err(Refused::from(problem).at(REASON).map(|wrong| vec![wrong])),
    }
}

/// Corrects what was seen of a specimen; the old values stay in the record
#[utoipa::path(post, path = "/api/specimens/{specimen}/amend", params(("specimen" = String, Path)),
    request_body = Amending, responses(
    (status = 200, body = Specimen),
    (status = "default", body = ProblemDocument, content_type = "application/problem+json"),
))]
async fn twin(
    State(site): State<Site>,
    Given(Path(named)): Given<Path<String>>,
    person: Person,
    Document(said): Document<Amending>,
) -> Result<Json<Specimen>, RefusedTwin> {
    let of = shown::specimen_at(&site, &named).await?;
    let seen = stands(&site, of).await?;
    let mut typed = offered(&seen);
    for (field, text) in &said.values {
        typed.put(field, text.as_str());
    }
    typed.put(REASON, said.reason);
    match kept(&site, person, (of, &seen), &typed).await {
        Ok(()) => Ok(Json(site.read(move |book| look(book, of.0, of.1)).await?)),
        Err(Ok(wrong)) => Err(Refused::from(upload::refused(&wrong)).into()),
        Err(Err(refused)) => Err(refused.into()),
    }
}
