//! Describe what you saw: short pages of questions in the light, then a page to check the answers.
//! What was pressed at the bench is taken from there and not asked again.

mod check;
mod photos;
mod place;
mod questions;
mod twin;

use axum::Extension;
use axum::extract::{DefaultBodyLimit, Path, State};
use axum::http::StatusCode;
use axum::response::{IntoResponse as _, Redirect, Response};
use axum::routing::{get, post};
use maud::{Markup, html};
use trial::fact::Fact;
use trial::run::Observed;
use utoipa_axum::router::OpenApiRouter;
use utoipa_axum::routes;

use super::drafts::Drafts;
use crate::form::fields::{Filled, Typed, Wrong};
use crate::form::run_answers::{Known, observed};
use crate::problem::{Exit, Problem};
use crate::step;
use crate::web::answer::{Refused, sentence};
use crate::web::asked::Given;
use crate::web::site::{Person, Shown, Site};
use place::{Place, WHY_LATER};
pub(super) use questions::again;

/// The routes.
pub(super) fn routes() -> OpenApiRouter<Site> {
    OpenApiRouter::new()
        .route("/specimens/{specimen}/describe", get(begin))
        .route("/specimens/{specimen}/describe/{page}", get(page).post(answer))
        .route("/specimens/{specimen}/photos", post(photos::take))
        .routes(routes!(twin::describe))
        .layer(DefaultBodyLimit::max(photos::PAGE_BYTES))
        .layer(Extension(Drafts::default()))
}

async fn begin(
    State(site): State<Site>,
    Given(Path(named)): Given<Path<String>>,
    _person: Person,
) -> Result<Redirect, Refused> {
    let place = Place::at(&site, &named).await?;
    Ok(Redirect::to(&place.address(place.first())))
}

async fn page(
    State(site): State<Site>,
    Extension(drafts): Extension<Drafts>,
    Given(Path((named, page))): Given<Path<(String, String)>>,
    person: Person,
) -> Result<Markup, Refused> {
    let place = Place::at(&site, &named).await?;
    let typed = place.draft(&drafts, &person.0);
    drawn(&site, person, (&place, &page), Filled { typed: &typed, wrong: &[] }).await
}

async fn answer(
    State(site): State<Site>,
    Extension(drafts): Extension<Drafts>,
    Given(Path((named, page))): Given<Path<(String, String)>>,
    person: Person,
    came: Typed,
) -> Result<Response, Refused> {
    let place = Place::at(&site, &named).await?;
    let mut typed = place.draft(&drafts, &person.0);
    if page == "check" {
        return sign(&site, &drafts, person, (&place, &typed)).await;
    }
    let fields = place.fields(&page);
    for field in &fields {
        typed.take(field, &came);
    }
    drafts.keep(&person.0, &place.draft_name(), typed.clone());
    let wrong = if page == "spoilt" {
        typed.needed("spoilt", "Say what happened.").err().into_iter().collect()
    } else {
        let mut wrong =
            seen(&typed, known(&place, &person, &typed), &place).err().unwrap_or_default();
        wrong.retain(|wrong| fields.contains(&wrong.field));
        wrong
    };
    if !wrong.is_empty() {
        let page = drawn(&site, person, (&place, &page), Filled { typed: &typed, wrong: &wrong });
        return Ok((StatusCode::UNPROCESSABLE_ENTITY, page.await?).into_response());
    }
    if page == "spoilt" {
        return set_aside(&site, &drafts, person, (&place, &typed)).await;
    }
    if page == "all" {
        return sign(&site, &drafts, person, (&place, &typed)).await;
    }
    let next = if came.text("then") == "check" { "check" } else { place.after(&page) };
    Ok(Redirect::to(&place.address(next)).into_response())
}

/// Records the run; what speaks against it comes back on the page.
async fn sign(
    site: &Site,
    drafts: &Drafts,
    person: Person,
    (place, typed): (&Place, &Typed),
) -> Result<Response, Refused> {
    let who = person.0.clone();
    let wrong = match seen(typed, known(place, &person, typed), place) {
        Err(wrong) => wrong,
        Ok(seen) => {
            let (plan, why_later) = (place.plan, typed.text(WHY_LATER).to_owned());
            let again = Person(who.clone());
            let done = site.act(again, move |book, output| {
                Ok(step::run::run(book, plan, (seen, &why_later), output))
            });
            match done.await? {
                Ok(()) => {
                    drafts.forget(&who, &place.draft_name());
                    return Ok(Redirect::to(&place.once_recorded()).into_response());
                }
                Err(problem) if problem.exit == Exit::Finding => {
                    let words = |text: &str, hint: &str| format!("{} {hint}", sentence(text));
                    let found = problem.findings.iter();
                    found.map(|it| Wrong::new("answers", words(&it.text, &it.hint))).collect()
                }
                Err(problem) => return Err(problem.into()),
            }
        }
    };
    let page = drawn(site, person, (place, "check"), Filled { typed, wrong: &wrong }).await?;
    Ok((StatusCode::UNPROCESSABLE_ENTITY, page).into_response())
}

/// Records that a specimen is spoilt: it is replaced, not judged. Its presses stay in the record.
async fn set_aside(
    site: &Site,
    drafts: &Drafts,
    person: Person,
    (place, typed): (&Place, &Typed),
) -> Result<Response, Refused> {
    let who = person.0.clone();
    let (plan, specimen) = (place.plan, place.specimen);
    let reason = typed.text("spoilt").to_owned();
    let fact = Fact::SpecimenSpoilt { plan, specimen, reason };
    site.act(person, move |book, output| book.keep(&fact, output)).await?;
    drafts.forget(&who, &place.draft_name());
    Ok(Redirect::to(&place.specimen_address()).into_response())
}

/// What was observed by these answers; where they come later they say why.
fn seen(typed: &Typed, known: Known, place: &Place) -> Result<Observed, Vec<Wrong>> {
    match (observed(typed, known), place.unexplained(typed)) {
        (Ok(seen), None) => Ok(seen),
        (Ok(_), Some(wrong)) => Err(vec![wrong]),
        (Err(wrong), unexplained) => Err(wrong.into_iter().chain(unexplained).collect()),
    }
}

/// What a description rests on besides its answers.
fn known(place: &Place, person: &Person, typed: &Typed) -> Known {
    Known {
        specimen: place.specimen,
        applications: place.applications,
        describer: person.0.clone(),
        evidence: typed.all("photo").filter_map(photos::kept).collect(),
        pressed: place.pressed.clone(),
    }
}

async fn drawn(
    site: &Site,
    person: Person,
    (place, page): (&Place, &str),
    filled: Filled<'_>,
) -> Result<Markup, Refused> {
    let (heading, body) = match place.page(page) {
        Some((_, heading)) => (heading, questions::page(place, page, (filled, &person.0))),
        None if page == "check" => ("Check the answers", check::page(place, &person, filled)),
        None => {
            let problem = Problem::used_wrongly(format!("there is no question called `{page}`"));
            return Err(Refused::not_found(problem.hint("Begin on the specimen's page.")));
        }
    };
    let back = place.before(page).map(|before| place.address(before));
    let main = html! {
        p { a href=(back.unwrap_or_else(|| place.specimen_address())) { "Back" }
            " · Specimen " (place.specimen) " of plan " (place.plan) }
        (filled.summary())
        (body)
    };
    let show = |(): &()| Shown { title: filled.title(heading), heading: heading.to_owned(), main };
    site.show(person, "/plans", |_| Ok(()), show).await
}
