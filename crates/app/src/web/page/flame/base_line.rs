//! The base line of the flame: what is usual on the bench, frozen by a person's act.

use axum::Json;
use axum::extract::State;
use axum::http::StatusCode;
use axum::response::{IntoResponse as _, Redirect, Response};
use axum::routing::get;
use maud::{Markup, html};
use serde::{Deserialize, Serialize};
use trial::base_line::{FreezeFinding, Restart, RestartCause};
use trial::number::{BaseLineNumber, ConfirmationNumber};
use trial::signature::Signed;
use utoipa::ToSchema;
use utoipa_axum::router::OpenApiRouter;
use utoipa_axum::routes;

use crate::form::fields::{Answer, Field, Filled, Typed, Wrong};
use crate::step::base_line::{
    BaseLineSheet, FrozenBaseLine, LimitsShown, Wanted, freeze, look, refused,
};
use crate::web::answer::{ProblemDocument, Refused, RefusedTwin, sentence};
use crate::web::asked::Document;
use crate::web::page::sign::way;
use crate::web::site::{Person, Shown, Site};
use crate::web::upload;

/// A base line to freeze; all are texts, as they are typed.
#[derive(Default, Serialize, Deserialize, ToSchema)]
#[serde(default, deny_unknown_fields)]
struct Freeze {
    /// The first confirmation, such as `C-1`; empty: as proposed.
    from: String,
    /// The last one.
    to: String,
    /// Confirmations to leave out, such as `C-7, C-9`.
    without: String,
    /// What was changed since the one before: `new-burner`, `new-block`, `new-thermocouple` or
    /// `other`.
    cause: String,
    /// Why another one is frozen.
    reason: String,
}

/// The routes.
pub(super) fn routes() -> OpenApiRouter<Site> {
    OpenApiRouter::new()
        .route("/flame/base-line", get(page).post(act))
        .routes(routes!(twin, act_twin))
}

async fn page(State(site): State<Site>, person: Person) -> Result<Markup, Refused> {
    shown(&site, person, Filled { typed: &Typed::default(), wrong: &[] }).await
}

async fn shown(site: &Site, person: Person, filled: Filled<'_>) -> Result<Markup, Refused> {
    let heading = "Base line of the flame";
    let show = |sheet: &BaseLineSheet| Shown {
        title: filled.title(heading),
        heading: heading.to_owned(),
        main: main(sheet, filled),
    };
    site.show(person, "/flame", |book| Ok(look(book)), show).await
}

/// The base line of the flame
#[utoipa::path(get, path = "/api/flame/base-line", responses(
    (status = 200, body = BaseLineSheet),
    (status = "default", body = ProblemDocument, content_type = "application/problem+json"),
))]
async fn twin(State(site): State<Site>, _: Person) -> Result<Json<BaseLineSheet>, RefusedTwin> {
    Ok(Json(site.read(|book| Ok(look(book))).await?))
}

async fn act(State(site): State<Site>, person: Person, typed: Typed) -> Result<Response, Refused> {
    let again = Person(person.0.clone());
    let wrong = match wanted(&typed) {
        Err(wrong) => wrong,
        Ok(wanted) => {
            let done = site.act(person, move |book, output| freeze(book, &wanted, output)).await?;
            let Err(findings) = done else {
                return Ok(Redirect::to("/flame/base-line").into_response());
            };
            findings.iter().map(at_field).collect()
        }
    };
    let page = shown(&site, again, Filled { typed: &typed, wrong: &wrong }).await?;
    Ok((StatusCode::UNPROCESSABLE_ENTITY, page).into_response())
}

/// Freezes the base line of the flame
#[utoipa::path(post, path = "/api/flame/base-line", request_body = Freeze, responses(
    (status = 200, body = BaseLineSheet),
    (status = "default", body = ProblemDocument, content_type = "application/problem+json"),
))]
async fn act_twin(
    State(site): State<Site>,
    person: Person,
    Document(asked): Document<Freeze>,
) -> Result<Json<BaseLineSheet>, RefusedTwin> {
    let wanted = wanted(&upload::typed(&asked)).map_err(|wrong| upload::refused(&wrong));
    let wanted = wanted.map_err(Refused::from)?;
    let done = site.act(person, move |book, output| {
        freeze(book, &wanted, output)?.map_err(|findings| refused(&findings))?;
        Ok(look(book))
    });
    Ok(Json(done.await?))
}

/// What stands against it, at the field that puts it right.
fn at_field(finding: &FreezeFinding) -> Wrong {
    let field = match finding {
        FreezeFinding::ReasonNeeded { .. } => "reason",
        FreezeFinding::Void { .. } | FreezeFinding::OutOfControl { .. } => "without",
        FreezeFinding::TooFew { .. }
        | FreezeFinding::Unknown { .. }
        | FreezeFinding::OtherPiece { .. } => "from",
    };
    Wrong::new(field, format!("{} {}", sentence(&finding.to_string()), finding.hint()))
}

/// What the form asks for.
fn wanted(typed: &Typed) -> Result<Wanted, Vec<Wrong>> {
    let mut wrong = Vec::new();
    let mut one = |field| match typed.text(field) {
        "" => None,
        text => confirmation(field, text).map_err(|it| wrong.push(it)).ok(),
    };
    let (from, to) = (one("from"), one("to"));
    let listed = typed.text("without").split([',', ' ', ';']).filter(|text| !text.is_empty());
    let without: Result<Vec<ConfirmationNumber>, Wrong> =
        listed.map(|text| confirmation("without", text)).collect();
    let without = without.map_err(|it| wrong.push(it)).unwrap_or_default();
    let cause = match typed.text("cause") {
        "" => Some(RestartCause::Other),
        word => RestartCause::of_word(word),
    };
    if cause.is_none() {
        wrong.push(Wrong::new("cause", "Choose what was changed."));
    }
    let reason = typed.text("reason");
    let restart = cause.filter(|_| !reason.is_empty());
    let restart = restart.map(|cause| Restart { cause, reason: reason.to_owned() });
    if wrong.is_empty() { Ok(Wanted { from, to, without, restart }) } else { Err(wrong) }
}

fn confirmation(field: &str, text: &str) -> Result<ConfirmationNumber, Wrong> {
    let number = text.trim_start_matches("C-").parse();
    number.map(ConfirmationNumber).map_err(|_| {
        let words = format!("`{text}` is no confirmation. Write a number such as C-12.");
        Wrong::new(field, words)
    })
}

fn main(sheet: &BaseLineSheet, filled: Filled<'_>) -> Markup {
    html! {
        (filled.summary())
        p.sentence { (sheet.sentence) }
        p { "Later determinations and confirmations are held against it: the flame's chart draws its limits from it, and the causes of a flame that will not confirm are told by it." }
        @if let Some(holds) = &sheet.holds { (one(holds)) }
        h2 { @if sheet.holds.is_some() { "Freeze another one" } @else { "Freeze it" } }
        (proposal(sheet))
        (form(sheet, filled))
        @if !sheet.earlier.is_empty() {
            h2 { "Before" }
            @for earlier in &sheet.earlier { h3 { "B-" (earlier.base_line) } (one(earlier)) }
        }
    }
}

fn one(it: &FrozenBaseLine) -> Markup {
    html! {
        dl {
            dt { "Frozen" }
            dd { "at " (it.at) " by " (it.by) ", " a href={ "/record/" (it.entry) } { "entry " (it.entry) } }
            dt { "Signature" }
            dd { @match &it.signature {
                Some(signature) => (signature),
                None => {
                    "none: " a href=(way(Signed::BaseLine(BaseLineNumber(it.base_line)), "approved", "/flame/base-line")) {
                        "Sign base line B-" (it.base_line)
                    }
                }
            } }
            dt { "Confirmations" } dd { (listed("C-", &it.confirmations)) }
            dt { "Determinations" } dd { (listed("D-", &it.determinations)) }
            @if let Some(limits) = it.limits { dt { "In control" } dd { (within(limits)) } }
            @if let (Some(cause), Some(reason)) = (&it.cause, &it.reason) {
                dt { "Why" } dd { (cause.replace('-', " ")) ": " (reason) }
            }
        }
        @if !it.void_since.is_empty() {
            p.abnormal { "◆ Found void since: " (listed("D-", &it.void_since)) ". They no longer count in it." }
        }
    }
}

fn within(limits: LimitsShown) -> String {
    format!(
        "mean rise times from {:.2} s to {:.2} s, about {:.2} s",
        limits.low_s, limits.high_s, limits.middle_s
    )
}

/// What one would rest on now.
fn proposal(sheet: &BaseLineSheet) -> Markup {
    html! {
        p {
            "In a row with " (sheet.equipment.join(", "))
            @if sheet.equipment.is_empty() { "no equipment" }
            ": " (listed("C-", &sheet.proposed)) "."
            @if let Some(limits) = sheet.limits { " In control are " (within(limits)) "." }
        }
        @if !sheet.against.is_empty() {
            p { "As it stands, it cannot be frozen:" }
            ul { @for against in &sheet.against {
                li { (sentence(&against.text)) " " (against.hint) }
            } }
        }
    }
}

fn form(sheet: &BaseLineSheet, filled: Filled<'_>) -> Markup {
    let field = |name, label, hint| Field { name, label, hint };
    let causes: Vec<Answer<'_>> = RestartCause::ALL
        .iter()
        .map(|cause| Answer { value: cause.word(), label: label(*cause).to_owned() })
        .collect();
    html! {
        form method="post" action="/flame/base-line" novalidate {
            (filled.line(field("from", "From confirmation (optional)", "Such as C-31. Empty: the first of those above.")))
            (filled.line(field("to", "To confirmation (optional)", "Empty: the last one.")))
            (filled.line(field("without", "Without (optional)", "Such as C-37, C-40.")))
            @if sheet.holds.is_some() {
                (filled.one_of(field("cause", "What was changed?", ""), &causes))
                (filled.line(field("reason", "Why is another one frozen?", "It stays in the record with your name.")))
            }
            button type="submit" { "Freeze the base line" }
        }
    }
}

const fn label(cause: RestartCause) -> &'static str {
    match cause {
        RestartCause::Burner => "Another burner",
        RestartCause::Block => "Another block",
        RestartCause::Thermocouple => "Another thermocouple",
        RestartCause::Other => "Something else",
    }
}

/// Numbers in a row are said by their ends.
fn listed(letter: &str, numbers: &[u32]) -> String {
    if numbers.is_empty() {
        return "none".to_owned();
    }
    let rows = numbers.chunk_by(|one, next| one + 1 == *next);
    let said = rows.map(|row| match row {
        [first, .., last] => format!("{letter}{first} to {letter}{last}"),
        [only] => format!("{letter}{only}"),
        [] => String::new(),
    });
    said.collect::<Vec<_>>().join(", ")
}
