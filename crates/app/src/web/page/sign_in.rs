//! Signing in and out.

use std::net::{IpAddr, SocketAddr};

use axum::extract::{ConnectInfo, Form, Query, State};
use axum::http::{HeaderMap, StatusCode, header};
use axum::response::{IntoResponse, Redirect, Response};
use axum::routing::{get, post};
use axum::{Json, http::HeaderValue};
use maud::{Markup, html};
use serde::{Deserialize, Serialize};
use trial::number::PersonName;
use trial::person::Act;
use utoipa::ToSchema;
use utoipa_axum::router::OpenApiRouter;
use utoipa_axum::routes;

use super::enrol::At;
use crate::book::OpenBook;
use crate::clock;
use crate::problem::Problem;
use crate::web::access::{Known, REMEMBERED, Secret, Showing, Who};
use crate::web::answer::{ProblemDocument, Refused, RefusedTwin, sentence};
use crate::web::asked::Given;
use crate::web::shell;
use crate::web::site::{InSession, Person, Site};

/// The routes.
pub(super) fn routes() -> OpenApiRouter<Site> {
    OpenApiRouter::new()
        .route("/sign-in", get(page).post(sign_in))
        .route("/sign-out", post(sign_out))
        .routes(routes!(twin))
        .routes(routes!(twin_out))
}

/// Name and password.
#[derive(Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
struct Credentials {
    /// The name the record knows.
    #[serde(default)]
    name: String,
    /// The password.
    #[serde(default)]
    password: String,
    /// The code of the second factor, for one who has one.
    #[serde(default)]
    code: String,
    /// On an enrolled device its public key: an uncompressed point of P-256 as hexadecimal digits.
    #[serde(default)]
    key: String,
    /// The challenge that the device signed.
    #[serde(default)]
    challenge: String,
    /// Its signature by ECDSA with SHA-256 over `cinderbook sign-in`, the origin of the page, the challenge
    /// and the name as typed, a line each: r and s as hexadecimal digits.
    #[serde(default)]
    signature: String,
    /// `yes` where the browser trusts the book's certificate; then `cinderbook sign-in trusted` is signed.
    #[serde(default)]
    trusted: String,
}

/// Who came in.
#[derive(Serialize, ToSchema)]
struct SignedIn {
    /// The name the record knows.
    person: String,
}

/// Where to go afterwards.
#[derive(Deserialize)]
struct Back {
    #[serde(default)]
    to: String,
}

async fn page(Given(Query(Back { to })): Given<Query<Back>>, State(site): State<Site>) -> Markup {
    sign_in_page(&site, ("", &to), None)
}

#[derive(Default, Deserialize)]
#[serde(default)]
struct SignIn {
    name: String,
    password: String,
    code: String,
    key: String,
    challenge: String,
    signature: String,
    trusted: String,
    to: String,
}

async fn sign_in(
    State(site): State<Site>,
    ConnectInfo(from): ConnectInfo<SocketAddr>,
    at: At,
    headers: HeaderMap,
    Given(Form(form)): Given<Form<SignIn>>,
) -> Response {
    let SignIn { name, password, code, key, challenge, signature, trusted, to } = form;
    let credentials =
        Credentials { name: name.clone(), password, code, key, challenge, signature, trusted };
    match comes_in(&site, credentials, (at, &headers, from)).await {
        Ok((_, cookie)) => ([cookie], Redirect::to(own_page(&to))).into_response(),
        Err(refused) => {
            (refused.status(), sign_in_page(&site, (&name, &to), Some(refused.problem())))
                .into_response()
        }
    }
}

/// Sign in
#[utoipa::path(post, path = "/api/sign-in", request_body = Credentials, responses(
    (status = 200, body = SignedIn, description = "the answer sets the cookie of the session"),
    (status = 401, body = ProblemDocument, content_type = "application/problem+json"),
    (status = 429, body = ProblemDocument, content_type = "application/problem+json"),
    (status = "default", body = ProblemDocument, content_type = "application/problem+json"),
))]
async fn twin(
    State(site): State<Site>,
    ConnectInfo(from): ConnectInfo<SocketAddr>,
    at: At,
    headers: HeaderMap,
    Given(Json(credentials)): Given<Json<Credentials>>,
) -> Result<impl IntoResponse, RefusedTwin> {
    let (person, cookie) = comes_in(&site, credentials, (at, &headers, from)).await?;
    Ok(([cookie], Json(SignedIn { person: person.to_string() })))
}

type Cookie = (header::HeaderName, HeaderValue);

/// Checks name and password, and begins a session.
async fn comes_in(
    site: &Site,
    Credentials { name, password, code, key, challenge, signature, trusted }: Credentials,
    (at, headers, from): (At, &HeaderMap, SocketAddr),
) -> Result<(PersonName, Cookie), Refused> {
    let when = (address(from), clock::now()?);
    let shown = at.showing(key, challenge, signature);
    let showing = Showing { trusted: trusted == "yes", ..shown };
    let (person, known) = site.access().sign_in(&name, (password, &code, &showing), when).await?;
    let whose = person.clone();
    // Who was disabled may not even look.
    let may_look = move |book: &OpenBook| {
        book.history().may_do(&whose, Act::Look).map_err(|why| Problem::may_not(&why))
    };
    site.read(may_look).await?;
    let cookie = begin(site, &person, (headers, known)).await?;
    Ok((person, cookie))
}

/// From where, as one writes it.
pub(super) fn address(from: SocketAddr) -> IpAddr {
    from.ip().to_canonical()
}

/// Begins a session, on the enrolled device that has shown itself, and gives the cookie that holds it.
pub(super) async fn begin(
    site: &Site,
    person: &PersonName,
    (headers, known): (&HeaderMap, Option<Known>),
) -> Result<Cookie, Refused> {
    let agent = headers.get(header::USER_AGENT).and_then(|agent| agent.to_str().ok());
    let (agent, person, now) =
        (agent.unwrap_or_default().to_owned(), person.clone(), clock::now()?);
    let beginning = site.clone();
    let secret: Secret =
        site.aside(move || beginning.access().begin(&person, (&agent, known), now)).await?;
    Ok(cookie((site, site.cookie()), secret.word(), REMEMBERED.as_secs())?)
}

/// A cookie that no script can read and no other site can send (R41).
pub(super) fn cookie(
    (site, name): (&Site, &str),
    word: &str,
    seconds: i64,
) -> Result<Cookie, Problem> {
    let secure = if site.scheme() == "https" { "; Secure" } else { "" };
    let text =
        format!("{name}={word}; Path=/; Max-Age={seconds}; HttpOnly; SameSite=Strict{secure}");
    let value = HeaderValue::from_str(&text).map_err(|error| {
        Problem::surroundings("a session cannot be put into a cookie").because(&error)
    })?;
    Ok((header::SET_COOKIE, value))
}

async fn sign_out(
    State(site): State<Site>,
    ConnectInfo(from): ConnectInfo<SocketAddr>,
    person: Person,
    session: InSession,
) -> Result<Response, Refused> {
    Ok(([goes_out(&site, (person, from), session).await?], Redirect::to("/sign-in"))
        .into_response())
}

/// Sign out
#[utoipa::path(post, path = "/api/sign-out", responses(
    (status = 204, description = "the session has ended"),
    (status = "default", body = ProblemDocument, content_type = "application/problem+json"),
))]
async fn twin_out(
    State(site): State<Site>,
    ConnectInfo(from): ConnectInfo<SocketAddr>,
    person: Person,
    session: InSession,
) -> Result<impl IntoResponse, RefusedTwin> {
    Ok((StatusCode::NO_CONTENT, [goes_out(&site, (person, from), session).await?]))
}

async fn goes_out(
    site: &Site,
    (Person(person), from): (Person, SocketAddr),
    InSession(word): InSession,
) -> Result<Cookie, Refused> {
    let (ending, now) = (site.clone(), clock::now()?);
    let (whose, pass) = (person.clone(), word.clone());
    let work = move || {
        let held = ending.access().passes(&word, now);
        ending.access().sign_out(&word)?;
        let who = Who { name: &person.0, from: address(from) };
        ending.access().log().note(who, "signed out", now)?;
        Ok(held)
    };
    let held = site.aside(work).await?;
    // At an open specimen the browser keeps its pass, which opens the bench alone.
    for of in held {
        if site.specimen_open(&whose, of).await? {
            return Ok(cookie((site, site.cookie()), &pass, REMEMBERED.as_secs())?);
        }
    }
    Ok(cookie((site, site.cookie()), "", 0)?)
}

/// An address of this book, whatever was asked for.
pub(super) fn own_page(to: &str) -> &str {
    let ours =
        to.starts_with('/') && !to.starts_with("//") && !to.contains(['\\', '\r', '\n', '\t']);
    if ours { to } else { "/" }
}

fn sign_in_page(site: &Site, (name, to): (&str, &str), problem: Option<&Problem>) -> Markup {
    let form = html! {
        script type="module" src="/assets/device/sign_in.js" {}
        (summary(problem, "name"))
        form #sign-in method="post" action="/sign-in" novalidate {
            input type="hidden" name="to" value=(own_page(to));
            // On an enrolled device the script fills these in.
            @for name in ["key", "challenge", "signature", "trusted"] { input type="hidden" name=(name); }
            div.field {
                label for="name" { "Name" }
                input #name name="name" value=(name) autocomplete="username" spellcheck="false" autofocus[problem.is_none()];
            }
            div.field {
                label for="password" { "Password" }
                input #password name="password" type="password" autocomplete="current-password";
            }
            @if site.access().any_second() {
                div.field {
                    label for="code" { "Code of your second factor" }
                    p.hint { "Six digits, for one who has a second factor." }
                    input #code name="code" inputmode="numeric" autocomplete="one-time-code";
                }
            }
            button { "Sign in" }
        }
    };
    shell::page(&titled("Sign in", problem), "Sign in", None, &form)
}

pub(super) fn titled(title: &str, problem: Option<&Problem>) -> String {
    if problem.is_some() { format!("Error: {title}") } else { title.to_owned() }
}

/// What is wrong, at the head of the page, with a link to the field.
pub(super) fn summary(problem: Option<&Problem>, field: &str) -> Markup {
    html! {
        @if let Some(problem) = problem {
            div.problems role="alert" tabindex="-1" autofocus {
                h2 { "There is a problem" }
                p { a href={ "#" (field) } { (sentence(&problem.text)) } }
                @if let Some(hint) = &problem.hint { p { (hint) } }
            }
        }
    }
}
