//! One plan: what was planned, how it stands, what is missing, and one row a specimen.

mod acts;
mod next;
mod sheet;
mod view;

use axum::Json;
use axum::extract::{Path, State};
use axum::http::StatusCode;
use axum::response::{IntoResponse as _, Redirect, Response};
use axum::routing::get;
use maud::Markup;
use trial::number::PlanNumber;
use trial::readiness;
use utoipa_axum::router::OpenApiRouter;
use utoipa_axum::routes;

use super::shown;
use crate::book::OpenBook;
use crate::form::fields::{Filled, Typed, Wrong};
use crate::output::Output;
use crate::problem::{Exit, Problem};
use crate::web::answer::{ProblemDocument, Refused, RefusedTwin};
use crate::web::asked::{Document, Given};
use crate::web::site::{Person, Shown, Site};
use acts::{Deed, deed};
use sheet::{PlanSheet, look};

/// The routes.
pub(super) fn routes() -> OpenApiRouter<Site> {
    OpenApiRouter::new()
        .route("/plans/{plan}", get(page).post(act))
        .routes(routes!(twin))
        .routes(routes!(act_twin))
}

async fn page(
    State(site): State<Site>,
    Given(Path(plan)): Given<Path<String>>,
    person: Person,
) -> Result<Markup, Refused> {
    let plan = shown::plan_at(&site, &plan).await?;
    sheet_page(&site, person, plan, Filled { typed: &Typed::default(), wrong: &[] }).await
}

async fn sheet_page(
    site: &Site,
    person: Person,
    plan: PlanNumber,
    filled: Filled<'_>,
) -> Result<Markup, Refused> {
    let who = person.0.clone();
    let show = |sheet: &PlanSheet| {
        let heading = format!("Plan {plan}: {}", sheet.job);
        Shown { title: filled.title(&heading), heading, main: view::main(sheet, filled) }
    };
    site.show(person, "/plans", move |book| look(book, plan, &who), show).await
}

/// One plan
#[utoipa::path(get, path = "/api/plans/{plan}", params(("plan" = u32, Path)), responses(
    (status = 200, body = PlanSheet),
    (status = "default", body = ProblemDocument, content_type = "application/problem+json"),
))]
async fn twin(
    State(site): State<Site>,
    Given(Path(plan)): Given<Path<String>>,
    Person(who): Person,
) -> Result<Json<PlanSheet>, RefusedTwin> {
    let plan = shown::plan_at(&site, &plan).await?;
    Ok(Json(site.read(move |book| look(book, plan, &who)).await?))
}

/// What a form of the page asks to do; then back to the page.
async fn act(
    State(site): State<Site>,
    Given(Path(plan)): Given<Path<String>>,
    person: Person,
    typed: Typed,
) -> Result<Response, Refused> {
    let plan = shown::plan_at(&site, &plan).await?;
    let asked = match acts::of_form(&typed) {
        Ok(asked) => asked,
        Err(wrong) => return shown_again(&site, person, plan, (&typed, &wrong)).await,
    };
    let looks_for_gaps = matches!(asked, Deed::Readiness {});
    let issues = matches!(asked, Deed::Report { .. });
    let done = site.act(person, move |book, output| Ok(done(book, output, plan, asked))).await?;
    match done {
        // The page says what is missing better than a page about the refusal would.
        Err(problem) if looks_for_gaps && problem.exit == Exit::Finding => {}
        done => done?,
    }
    let issued = site.read(move |book| {
        let last = book.history().reports_on(plan).last();
        Ok(last.map(|(.., report)| report.number.0).filter(|_| issues))
    });
    let to = match issued.await? {
        Some(report) => format!("/reports/{report}"),
        None => format!("/plans/{}", plan.0),
    };
    Ok(Redirect::to(&to).into_response())
}

/// Does what a form of the page asks. Where the cautions were the last thing missing, the plan is
/// found ready with them.
fn done(
    book: &mut OpenBook,
    output: &Output,
    plan: PlanNumber,
    asked: Deed,
) -> Result<(), Problem> {
    let cautions = matches!(asked, Deed::Cautions {});
    deed(book, output, plan, asked)?;
    if !cautions || book.history().is_ready(plan) {
        return Ok(());
    }
    let (who, now) = (book.who()?, book.now()?);
    let missing = readiness::check(book.plan(plan)?, book.history(), &who, now).is_err();
    if missing { Ok(()) } else { deed(book, output, plan, Deed::Readiness {}) }
}

async fn shown_again(
    site: &Site,
    person: Person,
    plan: PlanNumber,
    (typed, wrong): (&Typed, &[Wrong]),
) -> Result<Response, Refused> {
    let page = sheet_page(site, person, plan, Filled { typed, wrong }).await?;
    Ok((StatusCode::UNPROCESSABLE_ENTITY, page).into_response())
}

/// Acts on a plan
///
/// Answers with the plan as it stands after the act, which is kept by then.
#[utoipa::path(post, path = "/api/plans/{plan}/acts", params(("plan" = u32, Path)),
    request_body = Deed, responses(
    (status = 200, body = PlanSheet),
    (status = "default", body = ProblemDocument, content_type = "application/problem+json"),
))]
async fn act_twin(
    State(site): State<Site>,
    Given(Path(plan)): Given<Path<String>>,
    person: Person,
    Document(asked): Document<Deed>,
) -> Result<Json<PlanSheet>, RefusedTwin> {
    let plan = shown::plan_at(&site, &plan).await?;
    let who = person.0.clone();
    let done = site
        .act(person, move |book, output| {
            deed(book, output, plan, asked)?;
            look(book, plan, &who)
        })
        .await?;
    Ok(Json(done))
}
