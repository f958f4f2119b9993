//! Signing in and out, and the one-use link with which a person chooses a password.

use std::net::{IpAddr, SocketAddr};

use axum::extract::{ConnectInfo, Form, Path, Query, State};
use axum::http::{HeaderMap, StatusCode, header};
use axum::response::{IntoResponse, Redirect, Response};
use axum::routing::{get, post};
use axum::{Json, http::HeaderValue};
use maud::{Markup, html};
use serde::{Deserialize, Serialize};
use trial::fact::{Authorisation, Fact};
use trial::number::PersonName;
use utoipa::ToSchema;
use utoipa_axum::router::OpenApiRouter;
use utoipa_axum::routes;

use crate::clock;
use crate::problem::Problem;
use crate::web::access::{LinkState, REMEMBERED, Secret, Who};
use crate::web::answer::{ProblemDocument, Refused, RefusedTwin, sentence};
use crate::web::asked::Given;
use crate::web::shell;
use crate::web::site::{InSession, Person, Site};

/// The routes.
pub(super) fn routes() -> OpenApiRouter<Site> {
    OpenApiRouter::new()
        .route("/sign-in", get(page).post(sign_in))
        .route("/sign-out", post(sign_out))
        .route("/link/{word}", get(link).post(choose))
        .routes(routes!(twin))
        .routes(routes!(twin_out))
}

/// Name and password.
#[derive(Deserialize, ToSchema)]
struct Credentials {
    /// The name the record knows.
    #[serde(default)]
    name: String,
    /// The password.
    #[serde(default)]
    password: String,
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

async fn page(Given(Query(Back { to })): Given<Query<Back>>, State(_): State<Site>) -> Markup {
    sign_in_page("", &to, None)
}

#[derive(Deserialize)]
struct SignIn {
    #[serde(flatten)]
    credentials: Credentials,
    #[serde(flatten)]
    back: Back,
}

async fn sign_in(
    State(site): State<Site>,
    ConnectInfo(from): ConnectInfo<SocketAddr>,
    headers: HeaderMap,
    Given(Form(form)): Given<Form<SignIn>>,
) -> Response {
    let SignIn { credentials, back: Back { to } } = form;
    let name = credentials.name.clone();
    match comes_in(&site, credentials, (&headers, from)).await {
        Ok((_, cookie)) => ([cookie], Redirect::to(own_page(&to))).into_response(),
        Err(refused) => {
            (refused.status(), sign_in_page(&name, &to, Some(refused.problem()))).into_response()
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
    headers: HeaderMap,
    Given(Json(credentials)): Given<Json<Credentials>>,
) -> Result<impl IntoResponse, RefusedTwin> {
    let (person, cookie) = comes_in(&site, credentials, (&headers, from)).await?;
    Ok(([cookie], Json(SignedIn { person: person.to_string() })))
}

type Cookie = (header::HeaderName, HeaderValue);

/// Checks name and password, and begins a session.
async fn comes_in(
    site: &Site,
    Credentials { name, password }: Credentials,
    (headers, from): (&HeaderMap, SocketAddr),
) -> Result<(PersonName, Cookie), Refused> {
    let when = (address(from), clock::now()?);
    let person = site.access().sign_in(&name, password, when).await?;
    let cookie = begin(site, &person, headers).await?;
    Ok((person, cookie))
}

/// From where, as one writes it.
fn address(from: SocketAddr) -> IpAddr {
    from.ip().to_canonical()
}

/// Begins a session, and gives the cookie that holds it.
async fn begin(site: &Site, person: &PersonName, headers: &HeaderMap) -> Result<Cookie, Refused> {
    let agent = headers.get(header::USER_AGENT).and_then(|agent| agent.to_str().ok());
    let (agent, person, now) =
        (agent.unwrap_or_default().to_owned(), person.clone(), clock::now()?);
    let beginning = site.clone();
    let secret: Secret = site.aside(move || beginning.access().begin(&person, &agent, now)).await?;
    cookie(site, secret.word(), REMEMBERED.as_secs())
}

/// A cookie that no script can read and no other site can send (R41).
fn cookie(site: &Site, word: &str, seconds: i64) -> Result<Cookie, Refused> {
    let secure = if site.scheme() == "https" { "; Secure" } else { "" };
    let name = site.cookie();
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
    let work = move || {
        ending.access().sign_out(&word)?;
        let who = Who { name: &person.0, from: address(from) };
        ending.access().log().note(who, "signed out", now)
    };
    site.aside(work).await?;
    cookie(site, "", 0)
}

/// An address of this book, whatever was asked for.
fn own_page(to: &str) -> &str {
    let ours =
        to.starts_with('/') && !to.starts_with("//") && !to.contains(['\\', '\r', '\n', '\t']);
    if ours { to } else { "/" }
}

fn sign_in_page(name: &str, to: &str, problem: Option<&Problem>) -> Markup {
    let form = html! {
        (summary(problem, "name"))
        form method="post" action="/sign-in" novalidate {
            input type="hidden" name="to" value=(own_page(to));
            div.field {
                label for="name" { "Name" }
                input #name name="name" value=(name) autocomplete="username" spellcheck="false" autofocus[problem.is_none()];
            }
            div.field {
                label for="password" { "Password" }
                input #password name="password" type="password" autocomplete="current-password";
            }
            button { "Sign in" }
        }
    };
    shell::page(&titled("Sign in", problem), "Sign in", None, &form)
}

fn titled(title: &str, problem: Option<&Problem>) -> String {
    if problem.is_some() { format!("Error: {title}") } else { title.to_owned() }
}

/// What is wrong, at the head of the page, with a link to the field.
fn summary(problem: Option<&Problem>, field: &str) -> Markup {
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

/// A password as chosen with a link.
#[derive(Deserialize)]
struct Choice {
    #[serde(default)]
    person: String,
    #[serde(default)]
    password: String,
    #[serde(default)]
    again: String,
}

async fn link(
    State(site): State<Site>,
    Given(Path(word)): Given<Path<String>>,
) -> Result<Markup, Refused> {
    let people = whose(&site, &word).await?;
    Ok(choice_page(&people, "", None))
}

async fn choose(
    State(site): State<Site>,
    Given(Path(word)): Given<Path<String>>,
    ConnectInfo(from): ConnectInfo<SocketAddr>,
    headers: HeaderMap,
    Given(Form(choice)): Given<Form<Choice>>,
) -> Result<Response, Refused> {
    let people = whose(&site, &word).await?;
    let person = choice.person.clone();
    match chosen(&site, (word, from), &people, choice).await {
        Ok(person) => {
            let cookie = begin(&site, &person, &headers).await?;
            Ok(([cookie], Redirect::to("/")).into_response())
        }
        Err(refused) => {
            let page = choice_page(&people, &person, Some(refused.problem()));
            Ok((refused.status(), page).into_response())
        }
    }
}

/// The people that the link with this word is good for; nobody where the record has none yet.
async fn whose(site: &Site, word: &str) -> Result<Vec<String>, Refused> {
    let gone = |problem| Refused::with(problem, StatusCode::GONE);
    match site.access().look_at_link(word, clock::now()?).map_err(gone)? {
        LinkState::For(person) => Ok(vec![person.0]),
        LinkState::ForTheFirst => {
            site.read(|book| Ok(book.history().people().keys().map(|it| it.0.clone()).collect()))
                .await
        }
    }
}

/// Takes the password; one who is not in the record yet is admitted to it.
async fn chosen(
    site: &Site,
    (word, from): (String, SocketAddr),
    people: &[String],
    choice: Choice,
) -> Result<PersonName, Refused> {
    let name = match people {
        [only] => only.clone(),
        _ => choice.person.trim().to_owned(),
    };
    if name.is_empty() {
        return Err(Problem::used_wrongly("it is not said who you are")
            .hint("Give your name.")
            .into());
    }
    if !people.is_empty() && !people.contains(&name) {
        let problem = format!("`{name}` is not admitted to this book");
        return Err(Problem::used_wrongly(problem).hint("Choose one of the names.").into());
    }
    if choice.password != choice.again {
        return Err(Problem::used_wrongly("the two passwords are not the same")
            .hint("Type the same password twice.")
            .into());
    }
    let hash = site.access().hashed(choice.password).await?;
    let person = PersonName(name);
    if people.is_empty() {
        admit_first(site, person.clone()).await?;
    }
    let (using, kept, now) = (site.clone(), person.clone(), clock::now()?);
    let work = move || {
        using.access().use_link(&word, &kept, (hash, now))?;
        let who = Who { name: &kept.0, from: address(from) };
        using.access().log().note(who, "chose a password with a link", now)
    };
    site.aside(work).await?;
    Ok(person)
}

async fn admit_first(site: &Site, person: PersonName) -> Result<(), Refused> {
    let authorisations = Authorisation::ALL.to_vec();
    let fact = Fact::PersonAdmitted { person: person.clone(), authorisations };
    site.act(Person(person), move |book, output| book.keep(&fact, output).map(drop)).await
}

fn choice_page(people: &[String], person: &str, problem: Option<&Problem>) -> Markup {
    let (title, form) = (
        "Choose a password",
        html! {
            (summary(problem, "password"))
            form method="post" novalidate {
                @match people {
                    [] => div.field {
                        label for="person" { "Your name" }
                        p.hint { "As reports shall show it." }
                        input #person name="person" value=(person) autocomplete="name";
                    },
                    [only] => {
                        p { "For " strong { (only) } ". The link is used up with it." }
                        input type="hidden" name="person" autocomplete="username" value=(only);
                    },
                    several => div.field {
                        label for="person" { "Your name" }
                        select #person name="person" {
                            @for name in several { option selected[name == person] { (name) } }
                        }
                    },
                }
                div.field {
                    label for="password" { "Password" }
                    p.hint { "12 characters at least. Several words are good; spaces count." }
                    input #password name="password" type="password" autocomplete="new-password";
                }
                div.field {
                    label for="again" { "The same password again" }
                    input #again name="again" type="password" autocomplete="new-password";
                }
                button { "Choose this password" }
            }
        },
    );
    shell::page(&titled(title, problem), title, None, &form)
}
