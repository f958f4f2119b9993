//! Sign: what is signed, in which meaning and by which content; then the password. One page for all
//! that is signed.

mod rules;
mod view;

pub(super) use view::{capital, table, way};

use std::net::SocketAddr;

use axum::Json;
use axum::extract::{ConnectInfo, Form, Query, State};
use axum::http::StatusCode;
use axum::response::{IntoResponse as _, Redirect, Response};
use axum::routing::get;
use maud::Markup;
use serde::{Deserialize, Serialize};
use trial::number::PersonName;
use trial::signature::{Identified, Signed};
use utoipa::{IntoParams, ToSchema};
use utoipa_axum::router::OpenApiRouter;
use utoipa_axum::routes;

use super::sign_in::{address, own_page};
use crate::book::OpenBook;
use crate::clock;
use crate::form::fields::Wrong;
use crate::problem::{Exit, Problem};
use crate::step::review::all_opened;
use crate::step::sign::{self, SignatureShown};
use crate::web::answer::{ProblemDocument, Refused, RefusedTwin};
use crate::web::asked::{Document, Given};
use crate::web::site::{InSession, Person, Shown, Site};

/// What is to be signed.
#[derive(Clone, Debug, Default, Deserialize, IntoParams)]
#[into_params(parameter_in = Query)]
#[serde(default)]
struct Asked {
    /// What, such as `specimen-1-2`, `plan-1`, `report-1`, `base-line-1`, `flame-call-1`,
    /// `commissioning-46` or `trail-1-80`
    what: String,
    /// `tested`, `reviewed` or `approved`; empty for the usual one
    meaning: String,
    /// The page to go to afterwards
    to: String,
}

/// A signature that is given.
#[derive(Clone, Default, Deserialize, ToSchema)]
#[serde(default, deny_unknown_fields)]
struct Giving {
    /// What, as in the query.
    what: String,
    /// In which meaning; empty for the usual one.
    meaning: String,
    /// The name, asked for at the first signature of a sitting.
    name: String,
    /// The password, asked for at each.
    password: String,
    /// The page to go to afterwards.
    to: String,
}

/// What would be signed.
#[derive(Serialize, ToSchema)]
struct SignSheet {
    /// What, by its word.
    what: String,
    /// In words.
    what_told: String,
    /// `tested`, `reviewed` or `approved`.
    meaning: &'static str,
    /// As it stands before a name.
    meaning_told: &'static str,
    /// Who would sign.
    person: String,
    /// The entries that the signature would cover.
    entries: Vec<u64>,
    /// What they hash to.
    content_sha256: Option<String>,
    /// What stands against it.
    against: Option<Against>,
    /// The own signature that stands already.
    already: Option<SignatureShown>,
    /// All signatures on it.
    signatures: Vec<SignatureShown>,
    /// Whether the name is asked for beside the password.
    asks_name: bool,
    #[serde(skip)]
    to: String,
}

/// What stands against a signature.
#[derive(Serialize, ToSchema)]
#[schema(as = SignAgainst)]
struct Against {
    /// The facts.
    text: String,
    /// Each of them, where there are several.
    found: Vec<String>,
    /// The way out.
    hint: String,
}

/// The routes.
pub(super) fn routes() -> OpenApiRouter<Site> {
    OpenApiRouter::new()
        .route("/sign", get(page).post(submit))
        .routes(routes!(twin, give))
        .merge(rules::routes())
}

async fn page(
    State(site): State<Site>,
    Given(Query(asked)): Given<Query<Asked>>,
    person: Person,
    session: InSession,
) -> Result<Markup, Refused> {
    drawn(&site, (person, &session), asked, &[]).await
}

async fn drawn(
    site: &Site,
    (person, session): (Person, &InSession),
    asked: Asked,
    wrong: &[Wrong],
) -> Result<Markup, Refused> {
    let who = person.0.clone();
    let looking = site.clone();
    let asks_name = site.access().asks_both(&session.0);
    let show = |sheet: &SignSheet| {
        let heading = "Sign".to_owned();
        let title = if wrong.is_empty() { heading.clone() } else { format!("Error: {heading}") };
        Shown { title, heading, main: view::main(sheet, wrong) }
    };
    let look = move |book: &OpenBook| look(&looking, book, (&who, asks_name), &asked);
    site.show(person, "/plans", look, show).await
}

/// What would be signed, and what stands against it
#[utoipa::path(get, path = "/api/sign", params(Asked), responses(
    (status = 200, body = SignSheet),
    (status = "default", body = ProblemDocument, content_type = "application/problem+json"),
))]
async fn twin(
    State(site): State<Site>,
    Given(Query(asked)): Given<Query<Asked>>,
    Person(who): Person,
    session: InSession,
) -> Result<Json<SignSheet>, RefusedTwin> {
    let asks_name = site.access().asks_both(&session.0);
    let looking = site.clone();
    let look = move |book: &OpenBook| look(&looking, book, (&who, asks_name), &asked);
    Ok(Json(site.read(look).await?))
}

/// Signs
#[utoipa::path(post, path = "/api/sign", request_body = Giving, responses(
    (status = 201, body = SignatureShown),
    (status = "default", body = ProblemDocument, content_type = "application/problem+json"),
))]
async fn give(
    State(site): State<Site>,
    ConnectInfo(from): ConnectInfo<SocketAddr>,
    person: Person,
    session: InSession,
    Document(giving): Document<Giving>,
) -> Result<(StatusCode, Json<SignatureShown>), RefusedTwin> {
    let given = given(&site, (person, from), &session, giving).await?;
    Ok((StatusCode::CREATED, Json(given)))
}

async fn submit(
    State(site): State<Site>,
    ConnectInfo(from): ConnectInfo<SocketAddr>,
    person: Person,
    session: InSession,
    Given(Form(giving)): Given<Form<Giving>>,
) -> Result<Response, Refused> {
    let again = Person(person.0.clone());
    let Giving { what, meaning, to, .. } = giving.clone();
    match given(&site, (person, from), &session, giving).await {
        Ok(signed) => {
            let to = if to.is_empty() { view::leads_to(&signed.what) } else { to };
            Ok(Redirect::to(own_page(&to)).into_response())
        }
        Err(refused) => {
            let status = refused.status();
            let field = if refused.problem().text.contains("name") { "name" } else { "password" };
            let wrong = [refused.at(field)?];
            let asked = Asked { what, meaning, to };
            let page = drawn(&site, (again, &session), asked, &wrong).await?;
            Ok((status, page).into_response())
        }
    }
}

/// Holds name and password, then signs.
async fn given(
    site: &Site,
    (Person(person), from): (Person, SocketAddr),
    InSession(word): &InSession,
    giving: Giving,
) -> Result<SignatureShown, Refused> {
    let what = sign::what(&giving.what)?;
    let meaning = sign::meaning(what, &giving.meaning)?;
    let same = |name: &str| name.trim().to_lowercase() == person.0.to_lowercase();
    if site.access().asks_both(word) && !same(&giving.name) {
        return Err(Problem::used_wrongly(format!("this is not the name of {person}"))
            .hint("The first signature of a sitting takes both: the name you signed in with, and the password.")
            .into());
    }
    site.access().proves(&person, giving.password, (address(from), clock::now()?)).await?;
    let (signing, both) = (site.clone(), word.clone());
    site.aside(move || signing.access().gave_both(&both)).await?;
    let signing = site.clone();
    let who = person.clone();
    let act = move |book: &mut OpenBook, output: &crate::output::Output| {
        let already = sign::standing(book.history(), &who, (what, meaning)).is_some();
        if let (Signed::Plan(plan), false) = (what, already) {
            all_opened(book, plan, &signing.access().opened(&who, plan))?;
        }
        sign::sign(book, (what, meaning), Identified::Password, output)
    };
    site.act(Person(person), act).await
}

fn look(
    site: &Site,
    book: &OpenBook,
    (who, asks_name): (&PersonName, bool),
    asked: &Asked,
) -> Result<SignSheet, Problem> {
    let what = sign::what(&asked.what)?;
    let meaning = sign::meaning(what, &asked.meaning)?;
    let history = book.history();
    let content = ledger::signed::content(history, what);
    let against = history.may_sign(who, what, meaning).err().map(|why| sign::refused(&why));
    let closed = match what {
        Signed::Plan(plan) => all_opened(book, plan, &site.access().opened(who, plan)).err(),
        Signed::Specimen { .. }
        | Signed::Report(_)
        | Signed::BaseLine(_)
        | Signed::FlameCall(_)
        | Signed::Commissioning(_)
        | Signed::Trail { .. } => None,
    };
    let against = against.or(closed.filter(|problem| problem.exit == Exit::Finding));
    Ok(SignSheet {
        what: what.word(),
        what_told: what.to_string(),
        meaning: meaning.word(),
        meaning_told: meaning.told(),
        person: who.to_string(),
        entries: content
            .iter()
            .flat_map(|content| content.entries.iter().map(|entry| entry.0))
            .collect(),
        content_sha256: content.map(|content| content.hash.to_string()),
        against: against.map(|problem| Against {
            text: problem.text,
            found: problem.findings.into_iter().map(|found| found.text).collect(),
            hint: problem.hint.unwrap_or_default(),
        }),
        already: sign::standing(history, who, (what, meaning)),
        signatures: sign::on(history, what),
        asks_name,
        to: asked.to.clone(),
    })
}
