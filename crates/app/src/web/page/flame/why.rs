//! Why the flame will not confirm: one determination understood, and what its uncertainty is made
//! of.

use axum::Json;
use axum::extract::{Path, Query, State};
use axum::routing::get;
use maud::Markup;
use serde::Deserialize;
use trial::number::DeterminationNumber;
use utoipa::{IntoParams, ToSchema};
use utoipa_axum::router::OpenApiRouter;
use utoipa_axum::routes;

use super::{budget_view, why_view};
use crate::cli::read::BudgetOptions;
use crate::form::fields::{Filled, Typed, Wrong};
use crate::problem::Problem;
use crate::step::budget::BudgetSheet;
use crate::step::why::{WhySheet, budget, made, why};
use crate::web::answer::{ProblemDocument, Refused, RefusedTwin};
use crate::web::asked::Given;
use crate::web::site::{Person, Shown, Site};
use crate::web::upload;

/// What a thermocouple's certificate says; all are texts, as they are typed.
#[derive(Default, Deserialize, serde::Serialize, IntoParams, ToSchema)]
#[serde(default)]
#[into_params(parameter_in = Query)]
struct Certificate {
    /// Its standard uncertainty by calibration at the bottom of the window, in K.
    bottom: String,
    /// The same at the top.
    top: String,
    /// How closely its errors at bottom and top go together, from −1 to 1.
    correlation: String,
    /// The standard uncertainty of the reference junction, in K.
    junction: String,
}

/// A budget, or why there is none.
pub(super) struct Budgeted {
    pub(super) number: u32,
    pub(super) sheet: Result<BudgetSheet, Problem>,
}

/// The routes.
pub(super) fn routes() -> OpenApiRouter<Site> {
    OpenApiRouter::new()
        .route("/flame/determinations/{number}", get(page))
        .route("/flame/determinations/{number}/budget", get(budget_page))
        .routes(routes!(twin))
        .routes(routes!(budget_twin))
}

async fn page(
    State(site): State<Site>,
    person: Person,
    Given(Path(number)): Given<Path<u32>>,
) -> Result<Markup, Refused> {
    known(&site, number).await?;
    let show = |sheet: &WhySheet| {
        let heading = format!("Why will it not confirm? D-{}", sheet.determination);
        Shown::under(heading, why_view::main(sheet))
    };
    site.show(person, "/flame", move |book| why(book, DeterminationNumber(number)), show).await
}

/// Why a determination is as it is: flame, air, block and thermocouple
#[utoipa::path(get, path = "/api/flame/determinations/{number}",
    params(("number" = u32, Path, description = "Its number")), responses(
    (status = 200, body = WhySheet),
    (status = "default", body = ProblemDocument, content_type = "application/problem+json"),
))]
async fn twin(
    State(site): State<Site>,
    _: Person,
    Given(Path(number)): Given<Path<u32>>,
) -> Result<Json<WhySheet>, RefusedTwin> {
    known(&site, number).await?;
    Ok(Json(site.read(move |book| why(book, DeterminationNumber(number))).await?))
}

/// A determination that is in the book.
async fn known(site: &Site, number: u32) -> Result<(), Refused> {
    let found = site.read(move |book| Ok(made(book, DeterminationNumber(number)).err())).await?;
    found.map_or(Ok(()), |problem| Err(Refused::not_found(problem)))
}

async fn budget_page(
    State(site): State<Site>,
    person: Person,
    Given(Path(number)): Given<Path<u32>>,
    Given(Query(typed)): Given<Query<Vec<(String, String)>>>,
) -> Result<Markup, Refused> {
    known(&site, number).await?;
    let typed = Typed::new(typed);
    let (certificate, wrong) = match read(&typed) {
        Ok(certificate) => (certificate, Vec::new()),
        Err(wrong) => (BudgetOptions::default(), wrong),
    };
    let filled = Filled { typed: &typed, wrong: &wrong };
    let heading = format!("Budget of D-{number}");
    let look = move |book: &crate::book::OpenBook| {
        let sheet = budget(book, DeterminationNumber(number), &certificate);
        Ok(Budgeted { number, sheet })
    };
    let show = |found: &Budgeted| Shown {
        title: filled.title(&heading),
        heading: heading.clone(),
        main: budget_view::main(found, filled),
    };
    site.show(person, "/flame", look, show).await
}

/// What the uncertainty of a rise time is made of, block and sensor included
#[utoipa::path(get, path = "/api/flame/determinations/{number}/budget",
    params(("number" = u32, Path, description = "Its number"), Certificate), responses(
    (status = 200, body = BudgetSheet),
    (status = "default", body = ProblemDocument, content_type = "application/problem+json"),
))]
async fn budget_twin(
    State(site): State<Site>,
    _: Person,
    Given(Path(number)): Given<Path<u32>>,
    Given(Query(stated)): Given<Query<Certificate>>,
) -> Result<Json<BudgetSheet>, RefusedTwin> {
    known(&site, number).await?;
    let certificate = read(&upload::typed(&stated));
    let certificate = certificate.map_err(|wrong| Refused::from(upload::refused(&wrong)))?;
    let found = site.read(move |book| budget(book, DeterminationNumber(number), &certificate));
    Ok(Json(found.await?))
}

/// What is stated of the thermocouple.
fn read(typed: &Typed) -> Result<BudgetOptions, Vec<Wrong>> {
    let mut wrong = Vec::new();
    let mut number = |field: &str, (least, most): (f64, f64)| match typed.text(field) {
        "" => None,
        text => {
            let read = text.replace(',', ".").parse::<f64>().ok();
            let read = read.filter(|it| (least..=most).contains(it));
            if read.is_none() {
                let words = format!("`{text}` is no number from {least} to {most}. Write one.");
                wrong.push(Wrong::new(field, words));
            }
            read
        }
    };
    let (bottom, top) = (number("bottom", (0.0, 100.0)), number("top", (0.0, 100.0)));
    let correlation = number("correlation", (-1.0, 1.0));
    let junction = number("junction", (0.0, 100.0));
    for (field, one, other) in [("bottom", bottom, top), ("top", top, bottom)] {
        if one.is_none() && other.is_some() && typed.text(field).is_empty() {
            wrong.push(Wrong::new(field, "Write it for both ends of the window."));
        }
    }
    if wrong.is_empty() {
        Ok(BudgetOptions::of(bottom.zip(top), correlation, junction))
    } else {
        Err(wrong)
    }
}
