//! Review: the specimens of a plan in rows, odd things first; approved once each odd thing was
//! opened, or sent back with a note.

use axum::Json;
use axum::extract::{Path, State};
use axum::http::StatusCode;
use axum::response::{IntoResponse as _, Redirect, Response};
use axum::routing::get;
use maud::{Markup, html};
use serde::{Deserialize, Serialize};
use trial::number::{PersonName, PlanNumber, SpecimenNumber};
use trial::signature::{Meaning, SentBack, Signed};
use trial::verdict::SpecimenStanding;
use utoipa::ToSchema;
use utoipa_axum::router::OpenApiRouter;
use utoipa_axum::routes;

use super::sign::{table as signatures, way};
use super::{help, shown};
use crate::book::OpenBook;
use crate::form::fields::{Answer, Field, Filled, Typed};
use crate::problem::Problem;
use crate::step::review::{Review, Reviewed, look, upto};
use crate::step::sign::{self, send_back};
use crate::web::answer::{ProblemDocument, Refused, RefusedTwin, sentence};
use crate::web::asked::{Document, Given};
use crate::web::site::{Person, Shown, Site};

/// A review for one who asks.
#[derive(Serialize, ToSchema)]
struct ForPerson {
    /// The plan and its specimens.
    #[serde(flatten)]
    review: Review,
    /// The meanings in which the person may sign the plan now.
    may_sign: Vec<&'static str>,
    /// What stands against their signing it as approved.
    against: Option<String>,
}

/// An act of review.
#[derive(Deserialize, ToSchema)]
#[schema(as = ReviewAct)]
#[serde(tag = "act", rename_all = "kebab-case", deny_unknown_fields)]
enum Act {
    /// Opens a specimen: what is odd about it was looked at.
    Open {
        /// Which.
        specimen: u32,
    },
    /// Sends the plan back to who tested it.
    SendBack {
        /// The specimens to look at again; all, if none is named.
        specimens: Vec<u32>,
        /// What is to be looked at.
        note: String,
    },
}

/// The routes.
pub(super) fn routes() -> OpenApiRouter<Site> {
    OpenApiRouter::new()
        .route("/plans/{plan}/review", get(page).post(submit))
        .routes(routes!(twin))
        .routes(routes!(act_twin))
}

async fn page(
    State(site): State<Site>,
    Given(Path(plan)): Given<Path<String>>,
    person: Person,
) -> Result<Markup, Refused> {
    let plan = shown::plan_at(&site, &plan).await?;
    drawn(&site, person, plan, Filled { typed: &Typed::default(), wrong: &[] }).await
}

async fn drawn(
    site: &Site,
    person: Person,
    plan: PlanNumber,
    filled: Filled<'_>,
) -> Result<Markup, Refused> {
    let show = |it: &ForPerson| {
        let heading = format!("Review of plan {plan}: {}", it.review.job);
        Shown { title: filled.title(&heading), heading, main: main(it, filled) }
    };
    let (who, looking) = (person.0.clone(), site.clone());
    site.show(person, "/plans", move |book| for_person(&looking, book, plan, &who), show).await
}

/// A plan's specimens for review, odd things first
#[utoipa::path(get, path = "/api/plans/{plan}/review", params(("plan" = u32, Path)), responses(
    (status = 200, body = ForPerson),
    (status = "default", body = ProblemDocument, content_type = "application/problem+json"),
))]
async fn twin(
    State(site): State<Site>,
    Given(Path(plan)): Given<Path<String>>,
    Person(who): Person,
) -> Result<Json<ForPerson>, RefusedTwin> {
    let plan = shown::plan_at(&site, &plan).await?;
    let looking = site.clone();
    Ok(Json(site.read(move |book| for_person(&looking, book, plan, &who)).await?))
}

/// Opens a specimen, or sends the plan back
#[utoipa::path(post, path = "/api/plans/{plan}/review/acts", params(("plan" = u32, Path)),
    request_body = Act, responses(
    (status = 200, body = ForPerson),
    (status = "default", body = ProblemDocument, content_type = "application/problem+json"),
))]
async fn act_twin(
    State(site): State<Site>,
    Given(Path(plan)): Given<Path<String>>,
    person: Person,
    Document(act): Document<Act>,
) -> Result<Json<ForPerson>, RefusedTwin> {
    let plan = shown::plan_at(&site, &plan).await?;
    let who = person.0.clone();
    done(&site, person, plan, act).await?;
    let looking = site.clone();
    Ok(Json(site.read(move |book| for_person(&looking, book, plan, &who)).await?))
}

async fn submit(
    State(site): State<Site>,
    Given(Path(plan)): Given<Path<String>>,
    person: Person,
    typed: Typed,
) -> Result<Response, Refused> {
    let plan = shown::plan_at(&site, &plan).await?;
    let numbers = typed.all("specimen").filter_map(|text| text.parse().ok());
    let numbers: Vec<u32> = numbers.collect();
    let (act, to) = match (typed.text("act"), numbers.first()) {
        ("open", Some(specimen)) => {
            (Act::Open { specimen: *specimen }, format!("/specimens/{}-{specimen}", plan.0))
        }
        ("send-back", _) => {
            let note = typed.text("note").to_owned();
            (Act::SendBack { specimens: numbers, note }, format!("/plans/{}/review", plan.0))
        }
        (other, _) => {
            return Err(Problem::used_wrongly(format!("`{other}` is nothing a review does"))
                .hint("Use the page's own buttons.")
                .into());
        }
    };
    let again = Person(person.0.clone());
    match done(&site, person, plan, act).await {
        Ok(()) => Ok(Redirect::to(&to).into_response()),
        Err(refused) => {
            let wrong = [refused.at("note")?];
            let filled = Filled { typed: &typed, wrong: &wrong };
            let page = drawn(&site, again, plan, filled).await?;
            Ok((StatusCode::UNPROCESSABLE_ENTITY, page).into_response())
        }
    }
}

async fn done(site: &Site, person: Person, plan: PlanNumber, act: Act) -> Result<(), Refused> {
    match act {
        Act::Open { specimen } => {
            let specimen = SpecimenNumber(specimen);
            let upto = site.read(move |book| {
                book.plan_of(plan, specimen)?;
                Ok(upto(book.history(), plan, specimen))
            });
            if let Some(upto) = upto.await? {
                let opening = site.clone();
                let opens =
                    move || opening.access().open_specimen(&person.0, (plan, specimen), upto);
                site.aside(opens).await?;
            }
            Ok(())
        }
        Act::SendBack { specimens, note } => {
            let specimens = specimens.into_iter().map(SpecimenNumber).collect();
            let back = SentBack { plan, specimens, note };
            site.act(person, move |book, output| send_back(book, back, output)).await
        }
    }
}

fn for_person(
    site: &Site,
    book: &OpenBook,
    plan: PlanNumber,
    who: &PersonName,
) -> Result<ForPerson, Problem> {
    let opened = site.access().opened(who, plan);
    let review = look(book, plan, &opened)?;
    let history = book.history();
    let what = Signed::Plan(plan);
    let closed = review.specimens.iter().any(|row| !row.odd.is_empty() && !row.opened);
    let may = |meaning: &&Meaning| {
        !closed
            && history.may_sign(who, what, **meaning).is_ok()
            && sign::standing(history, who, (what, **meaning)).is_none()
    };
    let may_sign = what.meanings().iter().filter(may).map(|meaning| meaning.word()).collect();
    let against = history.may_sign(who, what, Meaning::Approved).err();
    let against = against.map(|why| format!("{} {}", sentence(&why.to_string()), why.hint()));
    Ok(ForPerson { review, may_sign, against })
}

fn main(it: &ForPerson, filled: Filled<'_>) -> Markup {
    let review = &it.review;
    let own = format!("/plans/{}/review", review.plan);
    html! {
        (filled.summary())
        @if let Some(note) = &review.sent_back {
            p.abnormal { "◆ Sent back by " (note) }
        }
        @if review.specimens.is_empty() { p { "No specimen was tested yet." } }
        @else {
            (shown::wide("Specimens for review", &rows(review)))
            (help::way("review"))
            h2 #signatures { "Signatures" }
            @if review.signatures.is_empty() { p { "Nothing is signed yet." } }
            @else { (signatures(&review.signatures)) }
            @if !review.wanted.is_empty() {
                p { "A report still needs: " (review.wanted.join("; ")) "." }
            }
            (approve(it, &own))
            (back(review, filled))
        }
        p.onward { a href={ "/plans/" (review.plan) } { "Plan P-" (review.plan) } " · "
            a href="/sign/rules" { "Which signatures are asked for" } }
    }
}

/// The way to sign, once each odd thing was opened.
fn approve(it: &ForPerson, own: &str) -> Markup {
    let closed: Vec<String> = it
        .review
        .specimens
        .iter()
        .filter(|row| !row.odd.is_empty() && !row.opened)
        .map(|row| row.specimen.to_string())
        .collect();
    let what = Signed::Plan(PlanNumber(it.review.plan));
    html! {
        @if !closed.is_empty() {
            p { "Open each odd thing before you sign: specimen"
                @if closed.len() > 1 { "s" } " " (closed.join(", ")) "." }
        } @else {
            @if it.may_sign.contains(&"approved") {
                p { a.button href=(way(what, "approved", own)) { "Approve and sign" } }
            }
            @if it.may_sign.contains(&"reviewed") {
                p { a.button.second href=(way(what, "reviewed", own)) { "Sign as reviewed" } }
            }
        }
        @if let Some(against) = &it.against { p { (against) } }
    }
}

fn back(review: &Review, filled: Filled<'_>) -> Markup {
    let numbers: Vec<String> =
        review.specimens.iter().map(|row| row.specimen.to_string()).collect();
    let answers: Vec<Answer<'_>> = numbers
        .iter()
        .map(|number| Answer { value: number, label: format!("Specimen {number}") })
        .collect();
    html! {
        details open[!filled.wrong.is_empty()] {
            summary { "Send back" }
            form method="post" novalidate {
                (filled.any_of(Field { name: "specimen", label: "Which specimens? (optional)", hint: "All, if none is chosen." }, &answers))
                (filled.words(Field { name: "note", label: "What is to be looked at?", hint: "Who tested them reads it first at Today. What was signed before no longer covers them." }))
                button.second type="submit" name="act" value="send-back" { "Send back" }
            }
        }
    }
}

fn rows(review: &Review) -> Markup {
    html! {
        table {
            thead { tr { th scope="col" { "Specimen" } th scope="col" { "Odd things" }
                th.number scope="col" { "Burning" } th scope="col" { "Verdict by the rules" }
                th scope="col" { "Tested by" } th scope="col" { "Opened" } } }
            tbody { @for row in &review.specimens { (one(review.plan, row)) } }
        }
    }
}

fn one(plan: u32, row: &Reviewed) -> Markup {
    html! {
        tr {
            td { a href={ "/specimens/" (plan) "-" (row.specimen) } { (row.specimen) } }
            td { @if row.odd.is_empty() { "None" } @for odd in &row.odd { p { (sentence(odd)) } } }
            td.number { (row.burning) }
            td { @match row.verdict.as_deref().and_then(SpecimenStanding::of_word) {
                Some(standing) => (shown::specimen_standing(standing)),
                None => "Not judged",
            } }
            td { (row.tested_by.as_deref().unwrap_or("not signed")) }
            td { @if row.odd.is_empty() { "–" } @else if row.opened { "Opened" } @else {
                form method="post" novalidate {
                    input type="hidden" name="specimen" value=(row.specimen);
                    button.second type="submit" name="act" value="open" {
                        "Open" span.apart { " specimen " (row.specimen) }
                    }
                }
            } }
        }
    }
}
