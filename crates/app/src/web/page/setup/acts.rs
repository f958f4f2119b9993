//! What is done at Set up: people are invited, entrusted, let in and shut out, sign-ins and devices end, a
//! second factor or an enrolled device is asked for, the certificate is renewed. Each act stands in the security log.

use std::net::SocketAddr;

use axum::Json;
use axum::extract::{ConnectInfo, State};
use axum::http::StatusCode;
use axum::response::{IntoResponse as _, Redirect, Response};
use jiff::Timestamp;
use maud::html;
use serde::{Deserialize, Serialize};
use trial::number::PersonName;
use trial::person::Act as Leave;
use utoipa::ToSchema;

use super::person;
use crate::book::OpenBook;
use crate::clock;
use crate::form::fields::Typed;
use crate::output::Output;
use crate::problem::Problem;
use crate::step::people::{Wish, disable, entrust, one};
use crate::web::access::{BenchDevices, Promise, SecondFactor, Who};
use crate::web::answer::{ProblemDocument, Refused, RefusedTwin};
use crate::web::asked::Document;
use crate::web::site::{InSession, Person, Shown, Site};
use crate::web::tls::Enciphered;
use crate::web::today;

/// An act. All but the end of one's own sign-ins are for administrators.
#[derive(Clone, Deserialize, ToSchema)]
#[schema(as = SetupAct)]
#[serde(tag = "act", rename_all = "kebab-case", deny_unknown_fields)]
pub(super) enum Act {
    /// Admits a person to the record, and makes a link to choose a password with.
    Invite {
        /// The name, as reports shall show it.
        person: String,
        /// The roles they hold: `technician`, `engineer`, `quality-manager`, `administrator`.
        roles: Vec<String>,
        /// What they are authorised for: `test`, `review`, `issue`, and where it is limited `by` a
        /// method, `from` a date, `until` a date.
        #[serde(default)]
        may: Vec<String>,
    },
    /// Changes what a person is entrusted with; who was disabled is back.
    Entrust {
        /// Who.
        person: String,
        /// The roles they hold from now on; as before where none are given.
        roles: Option<Vec<String>>,
        /// What they are authorised for from now on; as before where none are given.
        may: Option<Vec<String>>,
        /// Why.
        reason: String,
    },
    /// Disables a person: they do nothing more, their password is let go, and their sign-ins end.
    Disable {
        /// Who.
        person: String,
        /// Why.
        reason: String,
    },
    /// Makes a link with which a person chooses a (new) password. Earlier links end.
    Link {
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
    /// Asks for a second factor of engineers, quality managers and administrators, or no longer.
    SecondFactor {
        /// Whether it is asked for.
        second: SecondFactor,
    },
    /// Takes a person's second factor off: they set up a new one.
    ForgetSecondFactor {
        /// Whose.
        person: String,
    },
    /// Ends an enrolled device, with the sign-ins and the bench passes on it.
    EndDevice {
        /// What it is called.
        device: String,
    },
    /// Opens the bench on enrolled devices alone, or on any.
    BenchDevices {
        /// On which.
        devices: BenchDevices,
    },
    /// Tells browsers to reach the book enciphered alone (HSTS), or that this holds no longer.
    EncipheredAlone {
        /// Whether it is said.
        promise: Promise,
    },
    /// Makes the server's certificate anew, or reads it anew where it is the laboratory's.
    Renew {},
}

/// What came of it.
#[derive(Serialize, ToSchema)]
#[schema(as = SetupDone)]
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
        let all = |field: &str| typed.all(field).map(str::to_owned).collect();
        Some(match typed.text("act") {
            "invite" => Self::Invite { person, roles: all("role"), may: all("may") },
            "link" => Self::Link { person },
            "end" => Self::End { session: some("session"), person: some("person") },
            "second-factor" => Self::SecondFactor { second: SecondFactor::Asked },
            "no-second-factor" => Self::SecondFactor { second: SecondFactor::NotAsked },
            "forget-second-factor" => Self::ForgetSecondFactor { person },
            "end-device" => Self::EndDevice { device: typed.text("device").to_owned() },
            "enrolled-devices" => Self::BenchDevices { devices: BenchDevices::Enrolled },
            "any-device" => Self::BenchDevices { devices: BenchDevices::Any },
            "enciphered-alone" => Self::EncipheredAlone { promise: Promise::Given },
            "no-promise" => Self::EncipheredAlone { promise: Promise::TakenBack },
            "renew" => Self::Renew {},
            _ => return None,
        })
    }

    /// In words, for the security log.
    fn words(&self) -> String {
        let all = |list: &[String]| {
            if list.is_empty() { "nothing".to_owned() } else { list.join(", ") }
        };
        match self {
            Self::Invite { person, roles, may } => {
                let (roles, may) = (all(roles), all(may));
                format!("admitted {person} ({roles}; may: {may}), and made a link")
            }
            Self::Entrust { person, roles, may, reason } => {
                let as_before = |list: &Option<Vec<String>>| {
                    list.as_deref().map_or_else(|| "as before".to_owned(), all)
                };
                let (roles, may) = (as_before(roles), as_before(may));
                format!("changed what {person} is entrusted with ({roles}; may: {may}): {reason}")
            }
            Self::Disable { person, reason } => format!("disabled {person}: {reason}"),
            Self::Link { person } => format!("made a link for {person}"),
            Self::End { session: Some(name), .. } => format!("ended the own sign-in {name}"),
            Self::End { person, .. } => {
                format!("ended the sign-ins of {}", person.as_deref().unwrap_or("nobody"))
            }
            Self::SecondFactor { second: SecondFactor::Asked } => {
                "asks for a second factor from now on".to_owned()
            }
            Self::SecondFactor { second: SecondFactor::NotAsked } => {
                "asks for a second factor no longer".to_owned()
            }
            Self::ForgetSecondFactor { person } => {
                format!("took the second factor of {person} off")
            }
            Self::EndDevice { device } => format!("ended the device {device}"),
            Self::BenchDevices { devices: BenchDevices::Enrolled } => {
                "opens the bench on enrolled devices alone from now on".to_owned()
            }
            Self::BenchDevices { devices: BenchDevices::Any } => {
                "opens the bench on any device from now on".to_owned()
            }
            Self::EncipheredAlone { promise: Promise::Given } => {
                "tells browsers to reach the book enciphered alone".to_owned()
            }
            Self::EncipheredAlone { promise: Promise::Never | Promise::TakenBack } => {
                "tells browsers so no longer: the book may be reached otherwise".to_owned()
            }
            Self::Renew {} => "renewed the certificate".to_owned(),
        }
    }

    /// What it takes to do it.
    fn takes(&self) -> Leave {
        match self {
            Self::End { session: Some(_), person: None } => Leave::OwnSignIn,
            Self::Renew {} | Self::EncipheredAlone { .. } => Leave::LookAfterServer,
            Self::Invite { .. }
            | Self::Entrust { .. }
            | Self::Disable { .. }
            | Self::Link { .. }
            | Self::End { .. }
            | Self::SecondFactor { .. }
            | Self::ForgetSecondFactor { .. }
            | Self::EndDevice { .. }
            | Self::BenchDevices { .. } => Leave::LookAfterPeople,
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
    let back = person::back(&typed);
    match done(&site, (person, from), act).await {
        Ok(Done { link: None, .. }) => Ok(Redirect::to(&back).into_response()),
        Ok(Done { link: Some(link), person }) => Ok(link_page(&site, again, (link, person)).await?),
        Err(refused) if inviting => {
            let wrong = [refused.at("person")?];
            let page = super::shown(&site, (again, session), &typed, &wrong).await?;
            Ok((StatusCode::UNPROCESSABLE_ENTITY, page).into_response())
        }
        Err(refused) => Err(refused),
    }
}

/// Invites, entrusts, disables, links, ends, renews
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
pub(super) async fn done(
    site: &Site,
    (Person(who), from): (Person, SocketAddr),
    act: Act,
) -> Result<Done, Refused> {
    allowed(site, &who, act.takes()).await?;
    recorded(site, Person(who.clone()), &act).await?;
    let (doing, now) = (site.clone(), clock::now()?);
    site.aside(move || {
        let done = did(&doing, &who, (&act, now))?;
        let who = Who { name: &who.0, from: from.ip().to_canonical() };
        doing.access().log().note(who, &act.words(), now)?;
        Ok(done)
    })
    .await
}

/// Whether this person may.
async fn allowed(site: &Site, who: &PersonName, leave: Leave) -> Result<(), Refused> {
    let who = who.clone();
    let asks = move |book: &OpenBook| {
        book.history().may_do(&who, leave).map_err(|why| Problem::may_not(&why))
    };
    site.read(asks).await
}

/// What of an act stands in the record.
async fn recorded(site: &Site, administrator: Person, act: &Act) -> Result<(), Refused> {
    match act.clone() {
        Act::Invite { person, roles, may } => {
            let unknown = PersonName::from(person.trim());
            let wish = Wish { person, roles: Some(roles), may: Some(may), reason: String::new() };
            let admits = move |book: &mut OpenBook, output: &Output| {
                if book.history().person(&unknown).is_some() {
                    return Err(Problem::used_wrongly(format!("{unknown} is in the book already"))
                        .hint("Make a link in the list."));
                }
                entrust(book, wish, output).map(drop)
            };
            site.act(administrator, admits).await
        }
        Act::Entrust { person, roles, may, reason } => {
            let known = PersonName::from(person.as_str());
            site.read(move |book| one(book, &known).map(drop)).await?;
            let wish = Wish { person, roles, may, reason };
            site.act(administrator, |book, output| entrust(book, wish, output).map(drop)).await
        }
        Act::Disable { person, reason } => {
            let person = PersonName::from(person.as_str());
            site.act(administrator, move |book, output| disable(book, (&person, &reason), output))
                .await
        }
        Act::Link { person } | Act::ForgetSecondFactor { person } => {
            let person = PersonName::from(person.as_str());
            site.read(move |book| may_come_in(book, &person)).await
        }
        Act::End { .. }
        | Act::SecondFactor { .. }
        | Act::EndDevice { .. }
        | Act::BenchDevices { .. }
        | Act::EncipheredAlone { .. }
        | Act::Renew {} => Ok(()),
    }
}

/// Whether a person was admitted, and is not disabled.
fn may_come_in(book: &OpenBook, person: &PersonName) -> Result<(), Problem> {
    match one(book, person)?.disabled {
        None => Ok(()),
        Some(disabled) => Err(Problem::used_wrongly(format!("{person} is disabled {disabled}"))
            .hint("Entrust them with a role again first.")),
    }
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
        Act::Entrust { .. } => {}
        Act::Disable { person, .. } => access.close(&PersonName::from(person.as_str()))?,
        Act::End { session: Some(name), .. } => access.end(&who.0, Some(name))?,
        Act::End { person: Some(person), .. } => access.end(person, None)?,
        Act::End { .. } => {
            return Err(Problem::used_wrongly("it is not said whose sign-ins end")
                .hint("Name one of yours, or a person."));
        }
        Act::SecondFactor { second } => access.ask_second(*second)?,
        Act::ForgetSecondFactor { person } => {
            access.forget_second(&PersonName::from(person.as_str()))?;
        }
        Act::EndDevice { device } => access.end_device(device)?,
        Act::BenchDevices { devices } => access.ask_device(*devices)?,
        Act::EncipheredAlone { promise } => {
            access.set_promise(*promise, &enciphered(site)?.by())?;
        }
        Act::Renew {} => enciphered(site)?.renew(today()?)?,
    }
    Ok(done)
}

/// How the pages are enciphered, where they are.
fn enciphered(site: &Site) -> Result<&Enciphered, Problem> {
    site.enciphered().ok_or_else(|| {
        Problem::used_wrongly("the book is not enciphered here")
            .hint("On the network it is: start it with `--listen 0.0.0.0:4160`.")
    })
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
