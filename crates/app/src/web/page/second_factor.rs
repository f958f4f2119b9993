//! One's own second factor: the secret for an authenticator, and the first code of it.

use std::net::SocketAddr;

use axum::Json;
use axum::extract::{ConnectInfo, State};
use axum::http::StatusCode;
use axum::response::{IntoResponse as _, Redirect, Response};
use axum::routing::get;
use maud::{Markup, html};
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;
use utoipa_axum::router::OpenApiRouter;
use utoipa_axum::routes;

use super::sign_in::address;
use crate::clock;
use crate::form::fields::{Field, Filled, Typed};
use crate::web::access::Who;
use crate::web::answer::{ProblemDocument, Refused, RefusedTwin};
use crate::web::asked::Document;
use crate::web::guard::in_a_query;
use crate::web::site::{InSession, Person, Shown, Site};

/// Where it is.
pub(in crate::web) const SECOND_FACTOR: &str = "/second-factor";

/// How one's own second factor stands.
#[derive(Serialize, ToSchema)]
struct Own {
    /// Whether one is asked for.
    asked: bool,
    /// Since when there is one.
    since: Option<String>,
    /// The secret for an authenticator (base 32), as long as there is none.
    secret: Option<String>,
    /// The same as an address that authenticators open (RFC 6238: SHA-1, six digits, 30 s).
    address: Option<String>,
}

/// The first code of an authenticator.
#[derive(Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
struct FirstCode {
    /// Six digits.
    code: String,
}

/// The routes.
pub(super) fn routes() -> OpenApiRouter<Site> {
    OpenApiRouter::new()
        .route(SECOND_FACTOR, get(page).post(submit))
        .routes(routes!(twin))
        .routes(routes!(code_twin))
}

async fn look(site: &Site, Person(person): Person) -> Result<Own, Refused> {
    let reading = site.clone();
    site.aside(move || {
        let stands = reading.access().second(&person)?;
        let address = stands.secret.as_ref().map(|secret| {
            let name = in_a_query(&person.0);
            format!("otpauth://totp/Cinderbook:{name}?secret={secret}&issuer=Cinderbook")
        });
        let since = stands.since.map(|at| at.strftime("%Y-%m-%d %H:%M UTC").to_string());
        Ok(Own { asked: reading.access().asks_second(), since, secret: stands.secret, address })
    })
    .await
}

/// Takes the first code.
async fn taken(
    site: &Site,
    (Person(person), InSession(word)): (Person, InSession),
    (code, from): (String, SocketAddr),
) -> Result<(), Refused> {
    let (taking, now) = (site.clone(), clock::now()?);
    site.aside(move || {
        taking.access().begin_second(&person, (&code, &word), now)?;
        let who = Who { name: &person.0, from: address(from) };
        taking.access().log().note(who, "set up a second factor", now)
    })
    .await
}

async fn page(State(site): State<Site>, person: Person) -> Result<Markup, Refused> {
    shown(&site, person, Filled { typed: &Typed::default(), wrong: &[] }).await
}

async fn submit(
    State(site): State<Site>,
    ConnectInfo(from): ConnectInfo<SocketAddr>,
    person: Person,
    session: InSession,
    typed: Typed,
) -> Result<Response, Refused> {
    let again = Person(person.0.clone());
    let code = typed.text("code").to_owned();
    match taken(&site, (person, session), (code, from)).await {
        Ok(()) => Ok(Redirect::to(SECOND_FACTOR).into_response()),
        Err(refused) => {
            let wrong = [refused.at("code")?];
            // What was typed is not shown again: the next code is another.
            let filled = Filled { typed: &Typed::default(), wrong: &wrong };
            let page = shown(&site, again, filled).await?;
            Ok((StatusCode::UNPROCESSABLE_ENTITY, page).into_response())
        }
    }
}

/// One's own second factor
#[utoipa::path(get, path = "/api/second-factor", responses(
    (status = 200, body = Own),
    (status = "default", body = ProblemDocument, content_type = "application/problem+json"),
))]
async fn twin(State(site): State<Site>, person: Person) -> Result<Json<Own>, RefusedTwin> {
    Ok(Json(look(&site, person).await?))
}

/// Takes the first code of one's authenticator
#[utoipa::path(post, path = "/api/second-factor", request_body = FirstCode, responses(
    (status = 200, body = Own),
    (status = "default", body = ProblemDocument, content_type = "application/problem+json"),
))]
async fn code_twin(
    State(site): State<Site>,
    ConnectInfo(from): ConnectInfo<SocketAddr>,
    person: Person,
    session: InSession,
    Document(first): Document<FirstCode>,
) -> Result<Json<Own>, RefusedTwin> {
    let again = Person(person.0.clone());
    taken(&site, (person, session), (first.code, from)).await?;
    Ok(Json(look(&site, again).await?))
}

async fn shown(site: &Site, person: Person, filled: Filled<'_>) -> Result<Markup, Refused> {
    let own = look(site, Person(person.0.clone())).await?;
    let show = |own: &Own| Shown {
        title: filled.title("Second factor"),
        heading: "Second factor".to_owned(),
        main: main(own, filled),
    };
    site.show(person, "/setup", move |_| Ok(own), show).await
}

fn main(own: &Own, filled: Filled<'_>) -> Markup {
    let hint = "Six digits, as the authenticator shows them now.";
    let code = Field { name: "code", label: "Its code", hint };
    html! {
        (filled.summary())
        @if let Some(since) = &own.since {
            p { "You have had one since " strong { (since) } ": a code is asked for at sign-in." }
            p { "A lost authenticator is taken off by who looks after people; you then set up another." }
            p { a.button href="/" { "Go on to Today" } }
        } @else {
            p { @if own.asked { "A second factor is asked for of you. " }
                "An authenticator on your phone shows a code of six digits that changes every 30 s. Give "
                "it this secret, then type the code that it shows." }
            dl.said {
                dt { "The secret" }
                dd { code #secret { (in_fours(own.secret.as_deref().unwrap_or_default())) } }
            }
            @if let Some(address) = &own.address {
                p.onward { a href=(address) { "Open in an authenticator on this device" } }
            }
            form method="post" action=(SECOND_FACTOR) novalidate {
                (filled.number(code))
                button { "Set it up" }
            }
        }
    }
}

/// As it is read and typed: four letters at a time.
fn in_fours(secret: &str) -> String {
    let letters: Vec<char> = secret.chars().collect();
    let fours: Vec<String> = letters.chunks(4).map(|four| four.iter().collect()).collect();
    fours.join(" ")
}
