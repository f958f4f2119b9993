//! Plan a test: one question a page, or all on one; then a page to check the answers.

mod questions;

use axum::extract::{Path, Query, State};
use axum::http::StatusCode;
use axum::response::{IntoResponse as _, Redirect, Response};
use axum::routing::get;
use axum::{Extension, Json};
use maud::{Markup, html};
use serde::{Deserialize, Serialize};
use trial::number::PlanNumber;
use trial::profile;
use trial::requirement::resolve;
use utoipa::ToSchema;
use utoipa_axum::router::OpenApiRouter;
use utoipa_axum::routes;

use super::drafts::Drafts;
use crate::book::OpenBook;
use crate::form::fields::{Filled, Typed, Wrong};
use crate::form::plan::PlanForm;
use crate::form::plan_answers;
use crate::problem::{Exit, Problem};
use crate::step;
use crate::web::answer::{ProblemDocument, Refused, RefusedTwin, sentence};
use crate::web::asked::{Document, Given};
use crate::web::site::{Person, Shown, Site};
use questions::{Known, PAGES, Question, known};

/// The routes.
pub(super) fn routes() -> OpenApiRouter<Site> {
    OpenApiRouter::new()
        .route("/plans/new", get(begin))
        .route("/plans/new/{draft}/{page}", get(page).post(answer))
        .routes(routes!(twin))
        .layer(Extension(Drafts::default()))
}

/// Where a new plan begins.
#[derive(Deserialize)]
struct From {
    /// A plan whose answers are offered again.
    from: Option<u32>,
}

/// A plan that was drawn up.
#[derive(Serialize, ToSchema)]
struct DrawnUp {
    /// Its number.
    plan: u32,
}

/// Draws up a plan
///
/// The document has the keys of the form that `cinderbook plan template` prints.
#[utoipa::path(post, path = "/api/plans", request_body = PlanForm, responses(
    (status = 200, body = DrawnUp),
    (status = "default", body = ProblemDocument, content_type = "application/problem+json"),
))]
async fn twin(
    State(site): State<Site>,
    person: Person,
    Document(form): Document<PlanForm>,
) -> Result<Json<DrawnUp>, RefusedTwin> {
    let plan = site.act(person, |book, output| step::plan::plan(book, form, output)).await?;
    Ok(Json(DrawnUp { plan: plan.0 }))
}

async fn begin(
    State(site): State<Site>,
    Extension(drafts): Extension<Drafts>,
    Given(Query(From { from })): Given<Query<From>>,
    Person(who): Person,
) -> Result<Redirect, Refused> {
    let offered = site.read(move |book| Ok(offered(book, from.map(PlanNumber)))).await?;
    let name = drafts.fresh_name(&who);
    drafts.keep(&who, &name, offered);
    Ok(Redirect::to(&format!("/plans/new/{name}/{}", PAGES[0].name)))
}

/// The answers that are offered: those of an earlier plan, or nothing but the rules' own layer.
fn offered(book: &OpenBook, from: Option<PlanNumber>) -> Typed {
    let earlier = from.and_then(|number| book.history().plan(number));
    earlier.map_or_else(plan_answers::blank, |plan| plan_answers::of_draft(plan.draft()))
}

/// The draft, or back to the beginning if it is no longer kept.
fn draft(drafts: &Drafts, person: &Person, name: &str) -> Result<Typed, Refused> {
    drafts.of(&person.0, name).ok_or_else(|| {
        let problem = Problem::used_wrongly("the answers of this plan are no longer kept")
            .hint("Answers are kept until the plan is drawn up or the program ends. Begin again under Plans.");
        Refused::not_found(problem)
    })
}

async fn page(
    State(site): State<Site>,
    Extension(drafts): Extension<Drafts>,
    Given(Path((name, page))): Given<Path<(String, String)>>,
    person: Person,
) -> Result<Markup, Refused> {
    let typed = draft(&drafts, &person, &name)?;
    shown(&site, person, (&name, &page), Filled { typed: &typed, wrong: &[] }).await
}

async fn answer(
    State(site): State<Site>,
    Extension(drafts): Extension<Drafts>,
    Given(Path((name, page))): Given<Path<(String, String)>>,
    person: Person,
    came: Typed,
) -> Result<Response, Refused> {
    let mut typed = draft(&drafts, &person, &name)?;
    if page == "check" {
        return draw_up(&site, &drafts, person, (&name, &typed)).await;
    }
    let asked: Vec<&Question> = asked_on(&page)?;
    for field in asked.iter().flat_map(|question| question.fields) {
        typed.take(field, &came);
    }
    drafts.keep(&person.0, &name, typed.clone());
    let mut wrong = plan_answers::wrong(&typed, |field| {
        asked.iter().any(|question| question.fields.contains(&field))
    });
    if wrong.is_empty() {
        let answers = typed.clone();
        wrong = site.read(move |book| Ok(against_rules(book, &answers))).await?;
        wrong.retain(|it| asked.iter().any(|asked| asked.fields.contains(&it.field.as_str())));
    }
    if !wrong.is_empty() {
        let filled = Filled { typed: &typed, wrong: &wrong };
        let page = shown(&site, person, (&name, &page), filled).await?;
        return Ok((StatusCode::UNPROCESSABLE_ENTITY, page).into_response());
    }
    let to_check = came.text("then") == "check";
    let next = PAGES.iter().position(|it| it.name == page).and_then(|place| PAGES.get(place + 1));
    let next = next.filter(|_| !to_check).map_or("check", |next| next.name);
    Ok(Redirect::to(&format!("/plans/new/{name}/{next}")).into_response())
}

/// Answers that are right by themselves and not together: each of the two fields is named.
fn against_rules(book: &OpenBook, typed: &Typed) -> Vec<Wrong> {
    let Some(ordered) = plan_answers::ordered(typed) else { return Vec::new() };
    let rules = |id| book.library().current(id).map(|(rules, _)| rules);
    let profile = ordered.profile.as_ref().and_then(rules);
    let (fields, words) = match profile.filter(|it| !profile::allows(it, &ordered.method)) {
        Some(profile) => {
            let known: Vec<&str> = profile.head.methods.iter().map(|id| id.0.as_str()).collect();
            let (of, method) = (&profile.head.id, &ordered.method);
            let words = format!("{of} goes with {}, not with {method}.", known.join(" or "));
            (["method", "profile"], vec![words])
        }
        None => {
            let found = resolve(&ordered, book.library()).err().unwrap_or_default();
            let words = found.iter().map(|it| format!("{} {}", sentence(&it.text), it.hint));
            (["duration", "duration-reason"], words.collect())
        }
    };
    let both = |words: String| fields.map(|field| Wrong::new(field, words.clone()));
    words.into_iter().flat_map(both).collect()
}

/// The questions of a page.
fn asked_on(page: &str) -> Result<Vec<&'static Question>, Refused> {
    let asked: Vec<_> = PAGES.iter().filter(|it| page == "all" || it.name == page).collect();
    if asked.is_empty() {
        let problem = Problem::used_wrongly(format!("there is no question called `{page}`"));
        return Err(Refused::not_found(problem.hint("Begin under Plans.")));
    }
    Ok(asked)
}

/// Draws the plan up; what the rules say against it comes back on the page.
async fn draw_up(
    site: &Site,
    drafts: &Drafts,
    person: Person,
    (name, typed): (&str, &Typed),
) -> Result<Response, Refused> {
    let who = person.0.clone();
    let mut wrong = plan_answers::wrong(typed, |_| true);
    if let (Some(form), true) = (plan_answers::form(typed), wrong.is_empty()) {
        let again = Person(who.clone());
        let done = site.act(again, |book, output| Ok(step::plan::plan(book, form, output))).await?;
        match done {
            Ok(plan) => {
                drafts.forget(&who, name);
                return Ok(Redirect::to(&format!("/plans/{}", plan.0)).into_response());
            }
            Err(problem) if problem.exit == Exit::Finding => {
                wrong.extend(problem.findings.iter().map(|found| {
                    let words = format!("{} {}", sentence(&found.text), found.hint);
                    Wrong::new("answers", words)
                }));
            }
            Err(problem) => return Err(problem.into()),
        }
    }
    let page = shown(site, person, (name, "check"), Filled { typed, wrong: &wrong }).await?;
    Ok((StatusCode::UNPROCESSABLE_ENTITY, page).into_response())
}

async fn shown(
    site: &Site,
    person: Person,
    (name, page): (&str, &str),
    filled: Filled<'_>,
) -> Result<Markup, Refused> {
    let asked = if page == "check" { Vec::new() } else { asked_on(page)? };
    let typed = filled.typed.clone();
    let heading = match asked.as_slice() {
        [] => "Check the answers",
        [one] => one.heading,
        _ => "Plan a test",
    };
    let show = |known: &Known| {
        let main = match asked.as_slice() {
            [] => check(name, filled, known),
            asked => questions_page(name, asked, filled, known),
        };
        Shown { title: filled.title(heading), heading: heading.to_owned(), main }
    };
    site.show(person, "/plans", move |book| Ok(known(book, &typed)), show).await
}

fn questions_page(name: &str, asked: &[&Question], filled: Filled<'_>, known: &Known) -> Markup {
    let place = PAGES.iter().position(|it| asked.len() == 1 && it.name == asked[0].name);
    let before = place.and_then(|place| place.checked_sub(1)).map(|place| PAGES[place].name);
    html! {
        p.onward { @match before {
            Some(before) => a href={ "/plans/new/" (name) "/" (before) } { "Back" },
            None => a href="/plans" { "Back to the plans" },
        } }
        (filled.summary())
        form method="post" novalidate {
            @for question in asked {
                @if asked.len() > 1 { h2 { (question.heading) } }
                ((question.show)(filled, known))
            }
            button type="submit" { "Continue" }
            " "
            button.second type="submit" name="then" value="check" { "Continue to the check" }
        }
        @if asked.len() == 1 {
            p.onward { a href={ "/plans/new/" (name) "/all" } { "All questions on one page" } }
        }
    }
}

fn check(name: &str, filled: Filled<'_>, known: &Known) -> Markup {
    html! {
        (filled.summary())
        div #answers {
            @for question in PAGES {
                h2 { (question.heading) }
                dl.said {
                    @for (what, said) in (question.said)(filled.typed, known) {
                        dt { (what) }
                        dd { @if said.is_empty() { "Not given" } @else { (said) } }
                    }
                }
                p.onward { a href={ "/plans/new/" (name) "/" (question.name) } {
                    "Change" span.apart { " " (question.heading) }
                } }
            }
        }
        form method="post" novalidate { button type="submit" { "Give to the bench" } }
    }
}
