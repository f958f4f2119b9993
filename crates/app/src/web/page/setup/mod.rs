//! Set up: who may come in, one's own sign-ins, the devices, how the book is reached and kept, and its rules.

mod acts;
mod devices;
mod log;
mod people;
mod person;
mod server;

use axum::Json;
use axum::extract::State;
use axum::routing::get;
use jiff::Timestamp;
use maud::{Markup, html};
use serde::Serialize;
use trial::number::PersonName;
use trial::person::{Act, Role};
use utoipa::ToSchema;
use utoipa_axum::router::OpenApiRouter;
use utoipa_axum::routes;

use super::shown;
use crate::book::OpenBook;
use crate::clock;
use crate::form::fields::{Filled, Typed, Wrong};
use crate::problem::Problem;
use crate::web::access::Session;
use crate::web::answer::{ProblemDocument, Refused, RefusedTwin};
use crate::web::site::{InSession, Person, Shown, Site};
use devices::EnrolledDevice;
use people::OfTheBook;
use server::{Method, Reached};

/// What is set up.
#[derive(Serialize, ToSchema)]
struct Setup {
    /// Who looks after people: the administrators.
    looked_after_by: Vec<String>,
    /// Whether one of them asks.
    mine: bool,
    /// Whether a second factor is asked for.
    second_factor_asked: bool,
    /// Whether the one who asks has one.
    second_factor: bool,
    /// The sign-ins of the one who asks that hold.
    sessions: Vec<SignIn>,
    /// Whether the bench opens on enrolled devices alone.
    enrolled_devices_alone: bool,
    /// The enrolled devices; told to the one who looks after people alone.
    devices: Vec<EnrolledDevice>,
    /// The people of the book; told to the one who looks after them alone.
    people: Vec<OfTheBook>,
    #[serde(skip)]
    by_method: Vec<String>,
    /// How the book is reached, and how it is kept.
    reached: Reached,
    /// The rules that are built in.
    methods: Vec<Method>,
}

/// A person on one browser.
#[derive(Serialize, ToSchema)]
struct SignIn {
    /// What it is called.
    session: String,
    /// On what kind of device.
    device: String,
    /// Since when.
    since: String,
    /// The last request, to the minute.
    last_seen: String,
    /// The enrolled device that it is on.
    enrolled: Option<String>,
    /// Whether this was asked for with it.
    this_one: bool,
}

/// Who asks, and what does not stand in the book.
struct Asked {
    who: PersonName,
    word: String,
    can_sign_in: Vec<PersonName>,
    sessions: Vec<Session>,
    site: Site,
}

/// The routes.
pub(super) fn routes() -> OpenApiRouter<Site> {
    OpenApiRouter::new()
        .route("/setup", get(page).post(acts::submit))
        .route("/setup/person", get(person::page).post(person::submit))
        .route("/setup/log", get(log::page))
        .routes(routes!(log::twin))
        .routes(routes!(twin))
        .routes(routes!(acts::twin))
}

async fn page(
    State(site): State<Site>,
    person: Person,
    session: InSession,
) -> Result<Markup, Refused> {
    shown(&site, (person, session), &Typed::default(), &[]).await
}

/// What is set up
#[utoipa::path(get, path = "/api/setup", responses(
    (status = 200, body = Setup),
    (status = "default", body = ProblemDocument, content_type = "application/problem+json"),
))]
async fn twin(
    State(site): State<Site>,
    person: Person,
    session: InSession,
) -> Result<Json<Setup>, RefusedTwin> {
    let asked = asked(&site, person, session).map_err(Refused::from)?;
    Ok(Json(site.read(move |book| look(book, &asked)).await?))
}

/// The page, with what was typed and what is wrong with it.
async fn shown(
    site: &Site,
    (person, session): (Person, InSession),
    typed: &Typed,
    wrong: &[Wrong],
) -> Result<Markup, Refused> {
    let asked = asked(site, Person(person.0.clone()), session)?;
    let filled = Filled { typed, wrong };
    let show = |setup: &Setup| Shown {
        title: filled.title("Set up"),
        heading: "Set up".to_owned(),
        main: main(setup, filled),
    };
    site.show(person, "/setup", move |book| look(book, &asked), show).await
}

fn asked(site: &Site, Person(who): Person, InSession(word): InSession) -> Result<Asked, Problem> {
    let (can_sign_in, sessions) = (site.access().people(), site.access().sessions(clock::now()?));
    Ok(Asked { who, word, can_sign_in, sessions, site: site.clone() })
}

fn look(book: &OpenBook, asked: &Asked) -> Result<Setup, Problem> {
    let Asked { who, word, sessions, site, .. } = asked;
    let (history, access) = (book.history(), site.access());
    let mine = history.may_do(who, Act::LookAfterPeople).is_ok();
    let own = sessions.iter().filter(|session| session.person == who.0);
    Ok(Setup {
        looked_after_by: history.holders(Role::Administrator).map(|it| it.0.clone()).collect(),
        mine,
        second_factor_asked: access.asks_second(),
        second_factor: access.has_second(who),
        sessions: own.map(|session| signed_in(session, word)).collect(),
        enrolled_devices_alone: access.asks_device(),
        devices: if mine {
            access.devices().into_iter().map(EnrolledDevice::from).collect()
        } else {
            Vec::new()
        },
        people: if mine { people::look(book, asked) } else { Vec::new() },
        by_method: people::known_methods(book),
        reached: server::reached(site, book),
        methods: server::methods(book),
    })
}

fn signed_in(session: &Session, word: &str) -> SignIn {
    SignIn {
        session: session.name().to_owned(),
        device: session.device.clone(),
        since: moment(session.began),
        last_seen: moment(session.seen),
        enrolled: session.enrolled.clone(),
        this_one: session.has(word),
    }
}

/// As it is read, to the minute.
fn moment(at: Timestamp) -> String {
    at.strftime("%Y-%m-%d %H:%M UTC").to_string()
}

fn main(setup: &Setup, filled: Filled<'_>) -> Markup {
    html! {
        (filled.summary())
        h2 { "Your sign-ins" }
        (shown::wide("Your sign-ins", &sessions(&setup.sessions)))
        (second_factor(setup))
        (devices::main(&setup.devices, (setup.enrolled_devices_alone, setup.mine)))
        h2 { "People" }
        @if setup.mine {
            (people::table(&setup.people))
            p.hint {
                "A link lets one person choose a password. Roles and authorisations are changed, and a "
                "person is disabled, on the page behind the name."
            }
            (people::invitation(filled, &setup.by_method))
        } @else {
            p { strong { (setup.looked_after_by.join(" and ")) }
                @if setup.looked_after_by.len() == 1 { " looks" } @else { " look" }
                " after people: ask there for a link, or for a change." }
        }
        (server::main(&setup.reached, setup.mine))
        (server::rules(&setup.methods))
    }
}

/// A button that does one act; `of` is what it is done with.
fn act(act: &str, of: &[(&str, &str)], words: &str, about: &str) -> Markup {
    html! {
        form.inline method="post" action="/setup" {
            input type="hidden" name="act" value=(act);
            @for (name, value) in of { input type="hidden" name=(name) value=(value); }
            button.second { (words) @if !about.is_empty() { span.apart { " " (about) } } }
        }
    }
}

fn sessions(sessions: &[SignIn]) -> Markup {
    html! {
        table {
            thead { tr { th scope="col" { "On" } th scope="col" { "Since" }
                th scope="col" { "Last seen" } th scope="col" { "Act" } } }
            tbody { @for it in sessions { tr {
                td { (it.enrolled.as_deref().unwrap_or(&it.device)) @if it.this_one { ", this one" } }
                td.moment { (it.since) }
                td.moment { (it.last_seen) }
                td { (act("end", &[("session", &it.session)], "End",
                    &format!("the sign-in on {} since {}", it.device, it.since))) }
            } } }
        }
    }
}

/// The second factor: one's own, and whether it is asked for.
fn second_factor(setup: &Setup) -> Markup {
    html! {
        h2 { "Second factor" }
        p {
            @if setup.second_factor { "You have one: a code of six digits is asked for at sign-in. " }
            @else { "You have none. " a href="/second-factor" { "Set one up" } ". " }
            @if setup.second_factor_asked {
                "It is asked for of engineers, quality managers and administrators."
            } @else { "It is asked for of nobody; who has one gives it." }
        }
        @if setup.mine {
            @if setup.second_factor_asked {
                (act("no-second-factor", &[], "Ask for it no longer", ""))
            } @else {
                (act("second-factor", &[], "Ask for a second factor",
                    "of engineers, quality managers and administrators"))
            }
        }
    }
}
