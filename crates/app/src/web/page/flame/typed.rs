//! Two times from a stop-watch, typed by one person and checked by another under their own name.

use axum::Json;
use axum::extract::State;
use axum::http::StatusCode;
use axum::response::{IntoResponse as _, Redirect, Response};
use axum::routing::get;
use maud::{Markup, html};
use metrology::{DegreesOfFreedom, Duration, Measurement, Temperature};
use serde::{Deserialize, Serialize};
use trial::confirmation::{Determination, DeterminationSource};
use trial::fact::Fact;
use trial::number::{DeterminationNumber, EntryNumber, PersonName};
use utoipa::ToSchema;
use utoipa_axum::router::OpenApiRouter;
use utoipa_axum::routes;

use super::bring::height;
use super::offered::{Offered, offered, pick_plan, plan};
use super::{FlameSheet, after, held, under};
use crate::book::OpenBook;
use crate::form::fields::{Field, Filled as Form, Typed, Wrong};
use crate::form::number::{self, CELSIUS, Kind, SECONDS};
use crate::output::Output;
use crate::problem::Problem;
use crate::step::confirm::{Heating, told, typed as kept_typed};
use crate::web::answer::{ProblemDocument, Refused, RefusedTwin};
use crate::web::asked::Document;
use crate::web::site::{Person, Shown, Site};
use crate::web::upload;

/// Two times from a stop-watch: all are texts, as they are typed.
#[derive(Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
struct Stopped {
    /// The plan for which the flame is confirmed.
    plan: u32,
    /// When the block passed the bottom of the window, in seconds.
    bottom: String,
    /// When it passed the top.
    top: String,
    /// The standard uncertainty of their difference, in seconds.
    uncertainty: String,
    /// How warm the block was at the start, in °C.
    start: String,
    /// The visible height of the flame in mm, where it was measured.
    height: Option<String>,
}

/// That the typed times of a determination were checked.
#[derive(Deserialize, ToSchema)]
#[schema(as = TypedChecked)]
#[serde(deny_unknown_fields)]
struct Checked {
    /// Which.
    determination: u32,
}

/// What waits to be checked.
struct Waiting {
    plans: Offered,
    unchecked: Vec<(DeterminationNumber, PersonName, String)>,
}

/// The routes.
pub(super) fn routes() -> OpenApiRouter<Site> {
    OpenApiRouter::new()
        .route("/flame/type", get(page).post(submit))
        .routes(routes!(twin))
        .routes(routes!(check_twin))
}

async fn page(State(site): State<Site>, person: Person) -> Result<Markup, Refused> {
    shown(&site, person, Form { typed: &Typed::default(), wrong: &[] }).await
}

async fn submit(
    State(site): State<Site>,
    person: Person,
    typed: Typed,
) -> Result<Response, Refused> {
    let again = Person(person.0.clone());
    let sent = typed.clone();
    let done = site.act(person, move |book, output| match sent.text("act") {
        "check" => match sent.text("determination").parse() {
            Ok(number) => checked(book, output, DeterminationNumber(number)),
            Err(_) => Ok(Err(vec![Wrong::new("determination", "Say which one.")])),
        },
        _ => kept(book, output, &sent),
    });
    let Err(wrong) = done.await? else { return Ok(Redirect::to("/flame").into_response()) };
    let page = shown(&site, again, Form { typed: &typed, wrong: &wrong }).await?;
    Ok((StatusCode::UNPROCESSABLE_ENTITY, page).into_response())
}

/// Records two times from a stop-watch; another person checks them
#[utoipa::path(post, path = "/api/flame/times", request_body = Stopped, responses(
    (status = 200, body = FlameSheet),
    (status = "default", body = ProblemDocument, content_type = "application/problem+json"),
))]
async fn twin(
    State(site): State<Site>,
    person: Person,
    Document(stopped): Document<Stopped>,
) -> Result<Json<FlameSheet>, RefusedTwin> {
    let typed = upload::typed(&stopped);
    let done = site.act(person, move |book, output| {
        let done = kept(book, output, &typed)?;
        after(book, done)
    });
    Ok(Json(done.await?))
}

/// Says that the times another person typed were checked
#[utoipa::path(post, path = "/api/flame/times/check", request_body = Checked, responses(
    (status = 200, body = FlameSheet),
    (status = "default", body = ProblemDocument, content_type = "application/problem+json"),
))]
async fn check_twin(
    State(site): State<Site>,
    person: Person,
    Document(asked): Document<Checked>,
) -> Result<Json<FlameSheet>, RefusedTwin> {
    let number = DeterminationNumber(asked.determination);
    let done = site.act(person, move |book, output| {
        let done = checked(book, output, number)?;
        after(book, done)
    });
    Ok(Json(done.await?))
}

/// A number of the form, or what is wrong with it.
fn read(typed: &Typed, field: &str, what: &str, kind: &Kind) -> Result<f64, Wrong> {
    let text = typed.text(field);
    let read = number::read(text, kind);
    read.map(number::Number::value)
        .map_err(|fault| Wrong::new(field, fault.words(what, text, kind)))
}

/// Records the typed times, checked by nobody yet.
fn kept(
    book: &mut OpenBook,
    output: &Output,
    typed: &Typed,
) -> Result<Result<(), Vec<Wrong>>, Problem> {
    let mut wrong = Vec::new();
    let plan = plan(book, typed).map_err(|one| wrong.push(one)).ok();
    let mut number = |field, what, kind: &Kind| {
        read(typed, field, what, kind).map_err(|one| wrong.push(one)).ok()
    };
    let bottom = number("bottom", "The time at the bottom", &SECONDS);
    let top = number("top", "The time at the top", &SECONDS);
    let uncertainty = number("uncertainty", "The uncertainty", &SECONDS);
    let start = number("start", "The temperature at the start", &CELSIUS);
    let height = height(typed).map_err(|one| wrong.push(one)).ok();
    if let (Some(bottom), Some(top)) = (bottom, top)
        && top <= bottom
    {
        let words = format!("The block passed the top at {top} s, not after {bottom} s.");
        wrong.push(Wrong::new("top", words));
    }
    if uncertainty.is_some_and(|it| it <= 0.0) {
        let words = "No stop-watch is free of uncertainty. Type one, such as 0.3.";
        wrong.push(Wrong::new("uncertainty", words));
    }
    let (Some(plan), Some(bottom), Some(top), Some(uncertainty), Some(start), true) =
        (plan, bottom, top, uncertainty, start, wrong.is_empty())
    else {
        return Ok(Err(wrong));
    };
    book.ready(plan)?;
    let heating = Heating { plan, read_as: &[], flame_height: height.flatten() };
    let rise = Measurement {
        value: Duration::from_seconds(((top - bottom) * 1e6).round() / 1e6),
        uncertainty: Duration::from_seconds(uncertainty),
        degrees_of_freedom: DegreesOfFreedom::Infinite,
    };
    let start = Temperature::from_celsius(start);
    kept_typed(book, &heating, (rise, start), None, output).map(|_| Ok(()))
}

/// The entry of a determination of typed times, and who typed them.
fn entry(book: &OpenBook, number: DeterminationNumber) -> Option<(EntryNumber, Determination)> {
    let open = book.history().open_determinations();
    let made = open.into_iter().find(|made| made.number == number)?;
    let entries = book.history().entries().iter().rev();
    let entry = entries.clone().find(
        |it| matches!(&it.fact, Fact::DeterminationRecorded(recorded) if recorded.number == number),
    )?;
    Some((entry.entry, made))
}

/// The typed times stand with the name of whoever checked them, which is another than who typed.
fn checked(
    book: &mut OpenBook,
    output: &Output,
    number: DeterminationNumber,
) -> Result<Result<(), Vec<Wrong>>, Problem> {
    let wrong = |words: String| Ok(Err(vec![Wrong::new("determination", words)]));
    let Some((entry, made)) = entry(book, number) else {
        return wrong(format!("{number} does not wait to be checked."));
    };
    let second = book.who()?;
    let by = match &made.source {
        DeterminationSource::Typed { by, seconded: None } if *by == second => {
            return wrong(format!(
                "{number} was typed by {by}. Another person than who typed it must check it."
            ));
        }
        DeterminationSource::Typed { by, seconded: None } => by.clone(),
        DeterminationSource::Typed { .. } | DeterminationSource::Trace { .. } => {
            return wrong(format!("{number} does not wait to be checked."));
        }
    };
    let reason = format!("checked by {second}");
    let source = DeterminationSource::Typed { by, seconded: Some(second) };
    let plan = under(book.history(), &made);
    let holds = Fact::DeterminationRecorded(Box::new(Determination { source, ..made }));
    book.keep(&Fact::Corrected { entry, reason, by: Some(Box::new(holds)) }, output)?;
    let unchecked = !waiting(book)?.unchecked.is_empty();
    let (Some(plan), false) = (plan, unchecked) else { return Ok(Ok(())) };
    held(book, plan, output).map(Ok)
}

fn waiting(book: &OpenBook) -> Result<Waiting, Problem> {
    let open = book.history().open_determinations();
    let unchecked = open.iter().filter_map(|made| match &made.source {
        DeterminationSource::Typed { by, seconded: None } if made.void.is_none() => {
            Some((made.number, by.clone(), told(made)))
        }
        DeterminationSource::Typed { .. } | DeterminationSource::Trace { .. } => None,
    });
    Ok(Waiting { unchecked: unchecked.collect(), plans: offered(book.history()) })
}

async fn shown(site: &Site, person: Person, form: Form<'_>) -> Result<Markup, Refused> {
    let who = person.0.clone();
    let show = |waiting: &Waiting| Shown {
        title: form.title("Type the two times"),
        heading: "Type the two times".to_owned(),
        main: html! {
            (form.summary())
            (to_check(waiting, &who))
            (fields(waiting, form))
        },
    };
    site.show(person, "/flame", waiting, show).await
}

/// What another person typed, to be checked.
fn to_check(waiting: &Waiting, who: &PersonName) -> Markup {
    html! {
        @if !waiting.unchecked.is_empty() {
            h2 #determination { "To be checked" }
            @for (number, by, told) in &waiting.unchecked {
                p { (told) ", typed by " (by) "." }
                @if by == who { p.hint { "Another person than who typed it must check it." } }
                @else {
                    form method="post" action="/flame/type" {
                        input type="hidden" name="determination" value=(number.0);
                        button name="act" value="check" { "I have checked " (number) }
                    }
                }
            }
            h2 { "Another heating" }
        }
    }
}

fn fields(waiting: &Waiting, form: Form<'_>) -> Markup {
    let field = |name, label, hint| Field { name, label, hint };
    html! {
        @if waiting.plans.plans.is_empty() {
            p { "No plan was found ready; the flame is confirmed for one. "
                a href="/plans" { "Look at the plans" } "." }
        } @else {
            p { "Without a recording, the times at which the block passes the bottom and the top of the window are taken with a stop-watch. They count once another person has checked them under their own name." }
            form method="post" action="/flame/type" novalidate {
                (pick_plan(form, &waiting.plans))
                (form.number(field("bottom", "When it passed the bottom, in seconds", "Such as 3.2.")))
                (form.number(field("top", "When it passed the top, in seconds", "Such as 26.6.")))
                (form.number(field("uncertainty", "Standard uncertainty of their difference, in seconds", "Reading and pressing, such as 0.3.")))
                (form.number(field("start", "How warm the block was at the start, in °C", "")))
                (form.number(field("height", "Height of the flame, in mm (optional)", "By the gauge, where it was measured.")))
                button name="act" value="type" { "Record the two times" }
            }
        }
    }
}
