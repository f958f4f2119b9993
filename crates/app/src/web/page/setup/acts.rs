//! What is done at Set up: people are invited, let in and shut out, sign-ins end, the certificate
//! is renewed. Each act stands in the security log.

use std::net::SocketAddr;

use axum::Json;
use axum::extract::{ConnectInfo, State};
use axum::http::StatusCode;
use axum::response::{IntoResponse as _, Redirect, Response};
use jiff::Timestamp;
use maud::html;
use serde::{Deserialize, Serialize};
use trial::fact::{Authorisation, Fact};
use trial::number::PersonName;
use utoipa::ToSchema;

use super::looked_after_by;
use crate::book::OpenBook;
use crate::clock;
use crate::form::fields::Typed;
use crate::output::Output;
use crate::problem::Problem;
use crate::web::access::Who;
use crate::web::answer::{ProblemDocument, Refused, RefusedTwin};
use crate::web::asked::Document;
use crate::web::site::{InSession, Person, Shown, Site};
use crate::web::today;

/// The longest name that is taken.
const CHARACTERS_AT_MOST: usize = 100;

/// An act. All but the end of one's own sign-ins are for the one who looks after people.
#[derive(Clone, Deserialize, ToSchema)]
#[serde(tag = "act", rename_all = "kebab-case", deny_unknown_fields)]
pub(super) enum Act {
    /// Admits a person to the record, and makes a link to choose a password with.
    Invite {
        /// The name, as reports shall show it.
        person: String,
        /// What they may do: `test`, `review`, `issue`.
        #[serde(default)]
        may: Vec<String>,
    },
    /// Makes a link with which a person chooses a (new) password. Earlier links end.
    Link {
        /// Who.
        person: String,
    },
    /// Lets go of a person's password, and ends all their sign-ins.
    Close {
        /// Who.
        person: String,
    },
    /// Ends one of one's own sign-ins, or all of a person's.
    End {
        /// Which of one's own, as its list calls it.
        session: Option<String>,
        /// Whose, to end all.
        person: Option<String>,
    },
    /// Makes the server's certificate anew, or reads it anew where it is the laboratory's.
    Renew,
}

/// What came of it.
#[derive(Serialize, ToSchema)]
pub(super) struct Done {
    /// The link that was made. It is shown this once.
    link: Option<String>,
    #[serde(skip)]
    person: String,
}

impl Act {
    /// The act that a form asks for.
    fn typed(typed: &Typed) -> Option<Self> {
        let person = typed.text("person").to_owned();
        let some = |field: &str| Some(typed.text(field).to_owned()).filter(|it| !it.is_empty());
        Some(match typed.text("act") {
            "invite" => Self::Invite { person, may: typed.all("may").map(str::to_owned).collect() },
            "link" => Self::Link { person },
            "close" => Self::Close { person },
            "end" => Self::End { session: some("session"), person: some("person") },
            "renew" => Self::Renew,
            _ => return None,
        })
    }

    /// In words, for the security log.
    fn words(&self) -> String {
        match self {
            Self::Invite { person, may } => {
                format!("admitted {person} (may: {}), and made a link", may.join(", "))
            }
            Self::Link { person } => format!("made a link for {person}"),
            Self::Close { person } => format!("closed the account of {person}"),
            Self::End { session: Some(name), .. } => format!("ended the own sign-in {name}"),
            Self::End { person, .. } => {
                format!("ended the sign-ins of {}", person.as_deref().unwrap_or("nobody"))
            }
            Self::Renew => "renewed the certificate".to_owned(),
        }
    }
}

/// An act from the page.
pub(super) async fn submit(
    State(site): State<Site>,
    ConnectInfo(from): ConnectInfo<SocketAddr>,
    person: Person,
    session: InSession,
    typed: Typed,
) -> Result<Response, Refused> {
    let act = Act::typed(&typed).ok_or_else(|| {
        Problem::used_wrongly(format!("`{}` is no act of this page", typed.text("act")))
            .hint("Use the page's own buttons.")
    })?;
    let again = Person(person.0.clone());
    let inviting = matches!(act, Act::Invite { .. });
    match done(&site, (person, from), act).await {
        Ok(Done { link: None, .. }) => Ok(Redirect::to("/setup").into_response()),
        Ok(Done { link: Some(link), person }) => Ok(link_page(&site, again, (link, person)).await?),
        Err(refused) if inviting => {
            let wrong = [refused.at("person")?];
            let page = super::shown(&site, (again, session), &typed, &wrong).await?;
            Ok((StatusCode::UNPROCESSABLE_ENTITY, page).into_response())
        }
        Err(refused) => Err(refused),
    }
}

/// Invites, links, closes, ends, renews
#[utoipa::path(post, path = "/api/setup/acts", request_body = Act, responses(
    (status = 200, body = Done),
    (status = 403, body = ProblemDocument, content_type = "application/problem+json"),
    (status = "default", body = ProblemDocument, content_type = "application/problem+json"),
))]
pub(super) async fn twin(
    State(site): State<Site>,
    ConnectInfo(from): ConnectInfo<SocketAddr>,
    person: Person,
    Document(act): Document<Act>,
) -> Result<Json<Done>, RefusedTwin> {
    Ok(Json(done(&site, (person, from), act).await?))
}

/// Does it, and writes it into the security log.
async fn done(
    site: &Site,
    (Person(who), from): (Person, SocketAddr),
    act: Act,
) -> Result<Done, Refused> {
    if !matches!(act, Act::End { session: Some(_), person: None }) {
        allowed(site, &who).await?;
    }
    if let Act::Invite { person, may } = &act {
        admit(site, Person(who.clone()), (person.trim(), may)).await?;
    }
    if let Act::Link { person } = &act {
        let person = PersonName::from(person.as_str());
        site.read(move |book| admitted(book, &person)).await?;
    }
    let (doing, now) = (site.clone(), clock::now()?);
    site.aside(move || {
        let done = did(&doing, &who, (&act, now))?;
        let who = Who { name: &who.0, from: from.ip().to_canonical() };
        doing.access().log().note(who, &act.words(), now)?;
        Ok(done)
    })
    .await
}

/// Whether this person looks after people.
async fn allowed(site: &Site, who: &PersonName) -> Result<(), Refused> {
    let can_sign_in = site.access().people();
    let after = site.read(move |book| Ok(looked_after_by(book.history(), &can_sign_in))).await?;
    if after.as_ref() == Some(who) {
        return Ok(());
    }
    let whom = after.map_or_else(|| "nobody".to_owned(), |person| person.0);
    let problem = Problem::used_wrongly(format!("{whom} looks after people, not {who}"))
        .hint(format!("Ask {whom}. You can end your own sign-ins."));
    Err(Refused::with(problem, StatusCode::FORBIDDEN))
}

/// Admits a person to the record.
async fn admit(
    site: &Site,
    administrator: Person,
    (person, may): (&str, &[String]),
) -> Result<(), Refused> {
    let long = person.chars().count();
    if person.is_empty() {
        return Err(Problem::used_wrongly("it is not said who is invited")
            .hint("Type a name.")
            .into());
    }
    if long > CHARACTERS_AT_MOST || person.contains(char::is_control) {
        return Err(Problem::used_wrongly(format!("the name has {long} characters"))
            .hint(format!("Type one line of at most {CHARACTERS_AT_MOST} characters."))
            .into());
    }
    let known = |word: &String| {
        Authorisation::of_word(word).ok_or_else(|| {
            let words: Vec<&str> = Authorisation::ALL.iter().map(|it| it.word()).collect();
            Problem::used_wrongly(format!("`{word}` is nothing that a person may do"))
                .hint(format!("Name {}.", words.join(", ")))
        })
    };
    let authorisations = may.iter().map(known).collect::<Result<Vec<_>, _>>()?;
    let person = PersonName::from(person);
    let fact = Fact::PersonAdmitted { person: person.clone(), authorisations };
    let admits = move |book: &mut OpenBook, output: &Output| {
        let alike = |known: &&PersonName| known.0.to_lowercase() == person.0.to_lowercase();
        if let Some(known) = book.history().people().keys().find(alike) {
            return Err(Problem::used_wrongly(format!("{known} is in the book already"))
                .hint("Make a link in the list."));
        }
        book.keep(&fact, output).map(drop)
    };
    site.act(administrator, admits).await
}

/// Whether a person was admitted.
fn admitted(book: &OpenBook, person: &PersonName) -> Result<(), Problem> {
    if book.history().people().contains_key(person) {
        return Ok(());
    }
    Err(Problem::used_wrongly(format!("`{person}` is not admitted to this book"))
        .hint("Invite them first."))
}

/// What does not stand in the book.
fn did(site: &Site, who: &PersonName, (act, now): (&Act, Timestamp)) -> Result<Done, Problem> {
    let access = site.access();
    let mut done = Done { link: None, person: String::new() };
    match act {
        Act::Invite { person, .. } | Act::Link { person } => {
            let person = PersonName::from(person.trim());
            let secret = access.link(Some(&person), now)?;
            done.link = Some(format!("{}/link/{}", site.origin(), secret.word()));
            done.person = person.0;
        }
        Act::Close { person } => access.close(&PersonName::from(person.as_str()))?,
        Act::End { session: Some(name), .. } => access.end(&who.0, Some(name))?,
        Act::End { person: Some(person), .. } => access.end(person, None)?,
        Act::End { .. } => {
            return Err(Problem::used_wrongly("it is not said whose sign-ins end")
                .hint("Name one of yours, or a person."));
        }
        Act::Renew => match site.enciphered() {
            Some(enciphered) => enciphered.renew(today()?)?,
            None => {
                return Err(Problem::used_wrongly("the book is not enciphered here")
                    .hint("On the network it is: start it with `--listen 0.0.0.0:4160`."));
            }
        },
    }
    Ok(done)
}

/// The link, shown this once.
async fn link_page(
    site: &Site,
    person: Person,
    (link, whose): (String, String),
) -> Result<Response, Refused> {
    let main = html! {
        p { "Give it to " strong { (whose) } ". It can be used once, within 15 min, and is not shown again." }
        div.field {
            label for="link" { "The link" }
            input.long #link readonly value=(link) spellcheck="false";
        }
        p { a.button href="/setup" { "Back to Set up" } }
    };
    let heading = format!("A link for {whose}");
    let page = site.show(person, "/setup", |_| Ok(()), |()| Shown::under(heading, main)).await?;
    Ok(page.into_response())
}
