//! Set up: who may come in, one's own sign-ins, how the book is reached and kept, and its rules.

mod acts;
mod server;

use axum::Json;
use axum::extract::State;
use axum::routing::get;
use jiff::Timestamp;
use maud::{Markup, html};
use serde::Serialize;
use trial::fact::{Authorisation, Fact};
use trial::history::History;
use trial::number::PersonName;
use utoipa::ToSchema;
use utoipa_axum::router::OpenApiRouter;
use utoipa_axum::routes;

use super::shown;
use crate::book::OpenBook;
use crate::clock;
use crate::form::fields::{Answer, Field, Filled, Typed, Wrong};
use crate::problem::Problem;
use crate::web::access::Session;
use crate::web::answer::{ProblemDocument, Refused, RefusedTwin};
use crate::web::site::{InSession, Person, Shown, Site};
use server::{Method, Reached};

/// What is set up.
#[derive(Serialize, ToSchema)]
struct Setup {
    /// Who looks after people: the first admitted of those who can sign in.
    looked_after_by: Option<String>,
    /// Whether that is the one who asks.
    mine: bool,
    /// The sign-ins of the one who asks that hold.
    sessions: Vec<SignIn>,
    /// The people of the book; told to the one who looks after them alone.
    people: Vec<OfTheBook>,
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
    /// Whether this was asked for with it.
    this_one: bool,
}

/// One of the people.
#[derive(Serialize, ToSchema)]
struct OfTheBook {
    /// The name that the record knows.
    person: String,
    /// What the record says they may do.
    may: Vec<&'static str>,
    /// Whether they have a password.
    can_sign_in: bool,
    /// On how many browsers they are in.
    sessions: usize,
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

/// Who looks after people: the first admitted of those who can sign in.
fn looked_after_by(history: &History, can_sign_in: &[PersonName]) -> Option<PersonName> {
    history.entries().iter().find_map(|recorded| {
        let Fact::PersonAdmitted { person, .. } = &recorded.fact else { return None };
        can_sign_in.contains(person).then(|| person.clone())
    })
}

fn look(book: &OpenBook, asked: &Asked) -> Result<Setup, Problem> {
    let Asked { who, word, can_sign_in, sessions, site } = asked;
    let history = book.history();
    let after = looked_after_by(history, can_sign_in);
    let mine = after.as_ref() == Some(who);
    let own = sessions.iter().filter(|session| session.person == who.0);
    let people = history.people().iter().filter(|_| mine);
    Ok(Setup {
        looked_after_by: after.map(|person| person.0),
        mine,
        sessions: own.map(|session| signed_in(session, word)).collect(),
        people: people
            .map(|(person, may)| OfTheBook {
                person: person.0.clone(),
                may: may.iter().map(|it| it.word()).collect(),
                can_sign_in: can_sign_in.contains(person),
                sessions: sessions.iter().filter(|session| session.person == person.0).count(),
            })
            .collect(),
        reached: server::reached(site, book.book().folder()),
        methods: server::methods(book),
    })
}

fn signed_in(session: &Session, word: &str) -> SignIn {
    SignIn {
        session: session.name().to_owned(),
        device: session.device.clone(),
        since: moment(session.began),
        last_seen: moment(session.seen),
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
        h2 { "People" }
        @if setup.mine {
            (shown::wide("People", &people(&setup.people)))
            p.hint {
                "A link lets one person choose a password. To close an account lets go of the "
                "password and ends its sign-ins at once; the record is not touched."
            }
            (invitation(filled))
        } @else if let Some(person) = &setup.looked_after_by {
            p { strong { (person) } " looks after people: ask there for a link, or for a change." }
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
                td { (it.device) @if it.this_one { ", this one" } }
                td.moment { (it.since) }
                td.moment { (it.last_seen) }
                td { (act("end", &[("session", &it.session)], "End",
                    &format!("the sign-in on {} since {}", it.device, it.since))) }
            } } }
        }
    }
}

fn people(people: &[OfTheBook]) -> Markup {
    html! {
        table {
            thead { tr { th scope="col" { "Name" } th scope="col" { "May" }
                th scope="col" { "Signs in" } th scope="col" { "Acts" } } }
            tbody { @for it in people {
                @let of = [("person", it.person.as_str())];
                tr {
                    td { (it.person) }
                    td { @if it.may.is_empty() { "nothing stated" } @else { (it.may.join(", ")) } }
                    td { @match (it.can_sign_in, it.sessions) {
                        (false, _) => "no password",
                        (true, 0) => "is not in",
                        (true, 1) => "is in, on one browser",
                        (true, several) => { "is in, on " (several) " browsers" }
                    } }
                    td {
                        (act("link", &of, "Make a link", &format!("for {}", it.person)))
                        @if it.sessions > 0 {
                            (act("end", &of, "End sign-ins", &format!("of {}", it.person)))
                        }
                        @if it.can_sign_in {
                            (act("close", &of, "Close", &format!("the account of {}", it.person)))
                        }
                    }
                }
            } }
        }
    }
}

fn invitation(filled: Filled<'_>) -> Markup {
    let name = Field { name: "person", label: "Name", hint: "As reports shall show it." };
    let may = Field { name: "may", label: "What may they do?", hint: "It is kept in the record." };
    let answers: Vec<Answer<'_>> = Authorisation::ALL
        .iter()
        .map(|it| Answer { value: it.word(), label: may_words(*it).to_owned() })
        .collect();
    html! {
        h3 { "Invite a person" }
        form method="post" action="/setup" novalidate {
            input type="hidden" name="act" value="invite";
            (filled.line(name))
            (filled.any_of(may, &answers))
            button { "Invite" }
        }
    }
}

const fn may_words(authorisation: Authorisation) -> &'static str {
    match authorisation {
        Authorisation::Test => "Test at the bench",
        Authorisation::Review => "Review",
        Authorisation::Issue => "Issue reports",
    }
}
