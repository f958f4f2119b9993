//! The one-use link: a person chooses a password with it. With the first one of an empty book the
//! laboratory is named too, or one is made up to try the book with.

use std::net::SocketAddr;

use axum::extract::{ConnectInfo, Form, Path, State};
use axum::http::{HeaderMap, StatusCode};
use axum::response::{IntoResponse, Redirect, Response};
use axum::routing::get;
use maud::{Markup, html};
use serde::Deserialize;
use trial::fact::{Authorisation, BookKind, Fact, Laboratory};
use trial::number::PersonName;
use utoipa_axum::router::OpenApiRouter;

use super::sign_in::{address, begin, summary, titled};
use crate::book::OpenBook;
use crate::clock;
use crate::demo;
use crate::output::Output;
use crate::problem::Problem;
use crate::step;
use crate::web::access::{LinkState, Who};
use crate::web::answer::Refused;
use crate::web::asked::Given;
use crate::web::shell;
use crate::web::site::{Person, Site};

/// The routes.
pub(super) fn routes() -> OpenApiRouter<Site> {
    OpenApiRouter::new().route("/link/{word}", get(link).post(choose))
}

/// What is chosen with a link.
#[derive(Clone, Default, Deserialize)]
#[serde(default)]
struct Choice {
    person: String,
    password: String,
    again: String,
    laboratory: String,
    address: String,
    kind: String,
}

/// What a link is good for.
struct Good {
    /// Whom it may be for; nobody where the record has none yet.
    people: Vec<String>,
    /// Whether the book is empty: its laboratory is to be named.
    empty: bool,
}

/// What is wrong, and with which field.
struct Wrong(&'static str, Box<Refused>);

impl Wrong {
    fn said(field: &'static str, text: impl Into<String>, hint: &str) -> Self {
        Self::of(field, Problem::used_wrongly(text).hint(hint))
    }

    fn of(field: &'static str, refused: impl Into<Refused>) -> Self {
        Self(field, Box::new(refused.into()))
    }
}

async fn link(
    State(site): State<Site>,
    Given(Path(word)): Given<Path<String>>,
) -> Result<Markup, Refused> {
    let good = look(&site, &word).await?;
    Ok(choice_page(&good, &Choice::default(), None))
}

async fn choose(
    State(site): State<Site>,
    Given(Path(word)): Given<Path<String>>,
    ConnectInfo(from): ConnectInfo<SocketAddr>,
    headers: HeaderMap,
    Given(Form(choice)): Given<Form<Choice>>,
) -> Result<Response, Refused> {
    let good = look(&site, &word).await?;
    match chosen(&site, (word, from), &good, &choice).await {
        Ok(person) => {
            // A second factor is asked for at sign-in, whoever has the link.
            if site.access().has_second(&person) {
                return Ok(Redirect::to("/sign-in").into_response());
            }
            let cookie = begin(&site, &person, (&headers, None)).await?;
            Ok(([cookie], Redirect::to("/")).into_response())
        }
        Err(Wrong(field, refused)) => {
            let page = choice_page(&good, &choice, Some((field, refused.problem())));
            Ok((refused.status(), page).into_response())
        }
    }
}

/// What the link with this word is good for.
async fn look(site: &Site, word: &str) -> Result<Good, Refused> {
    let gone = |problem| Refused::with(problem, StatusCode::GONE);
    match site.access().look_at_link(word, clock::now()?).map_err(gone)? {
        LinkState::For(person) => Ok(Good { people: vec![person.0], empty: false }),
        LinkState::ForTheFirst => {
            site.read(|book| {
                let people = book.history().people().keys().map(|it| it.0.clone()).collect();
                Ok(Good { people, empty: book.history().laboratory().is_none() })
            })
            .await
        }
    }
}

/// Takes the password. An empty book is opened with it; one who is not in the record yet is
/// admitted to it.
async fn chosen(
    site: &Site,
    (word, from): (String, SocketAddr),
    good: &Good,
    choice: &Choice,
) -> Result<PersonName, Wrong> {
    let laboratory = good.empty.then(|| choice.laboratory()).transpose()?;
    let person = PersonName(choice.name(&good.people)?);
    if choice.password != choice.again {
        return Err(Wrong::said(
            "again",
            "the two passwords are not the same",
            "Type the same password twice.",
        ));
    }
    let wrong = |problem: Problem| Wrong::of("password", problem);
    let names = [person.0.as_str(), choice.laboratory.as_str()];
    let hash = site.access().hashed(choice.password.clone(), &names).await.map_err(wrong)?;
    let of_the_book = |refused: Refused| Wrong::of("person", refused);
    if good.people.is_empty() {
        let admitted = person.clone();
        let opens =
            move |book: &mut OpenBook, output: &Output| opened(book, output, laboratory, admitted);
        site.act(Person(person.clone()), opens).await.map_err(of_the_book)?;
    }
    let (using, kept, now) = (site.clone(), person.clone(), clock::now().map_err(wrong)?);
    let work = move || {
        using.access().use_link(&word, &kept, (hash, now))?;
        let who = Who { name: &kept.0, from: address(from) };
        using.access().log().note(who, "chose a password with a link", now)
    };
    site.aside(work).await.map_err(of_the_book)?;
    Ok(person)
}

/// Opens an empty book, and admits its first person.
fn opened(
    book: &mut OpenBook,
    output: &Output,
    laboratory: Option<(Laboratory, BookKind)>,
    person: PersonName,
) -> Result<(), Problem> {
    let made_up = laboratory.as_ref().is_some_and(|(_, kind)| *kind == BookKind::MadeUp);
    if let Some((laboratory, kind)) = laboratory {
        book.keep(&Fact::BookOpened { laboratory, kind }, output)?;
    }
    let authorisations = Authorisation::ALL.to_vec();
    book.keep(&Fact::PersonAdmitted { person, authorisations }, output)?;
    step::proof::begin_aside(book, output);
    if made_up { demo::found(book, output) } else { Ok(()) }
}

impl Choice {
    /// Who chooses.
    fn name(&self, people: &[String]) -> Result<String, Wrong> {
        let name = match people {
            [only] => only.clone(),
            _ => self.person.trim().to_owned(),
        };
        if name.is_empty() {
            return Err(Wrong::said("person", "it is not said who you are", "Give your name."));
        }
        if !people.is_empty() && !people.contains(&name) {
            let text = format!("`{name}` is not admitted to this book");
            return Err(Wrong::said("person", text, "Choose one of the names."));
        }
        Ok(name)
    }

    /// The laboratory of an empty book. A made-up one need not be named.
    fn laboratory(&self) -> Result<(Laboratory, BookKind), Wrong> {
        let kind = BookKind::of_word(&self.kind).ok_or_else(|| {
            let text = "it is not said what the book is for";
            Wrong::said("laboratory", text, "Choose tests, or trying out.")
        })?;
        let typed = (self.laboratory.trim(), self.address.trim());
        let (name, address) = match (kind, typed) {
            (BookKind::MadeUp, ("", "")) => demo::LABORATORY,
            (BookKind::MadeUp, (name, "")) => (name, demo::LABORATORY.1),
            (BookKind::MadeUp, ("", address)) => (demo::LABORATORY.0, address),
            (_, typed) => typed,
        };
        if name.is_empty() {
            let text = "the laboratory has no name";
            return Err(Wrong::said("laboratory", text, "Give the name that reports shall show."));
        }
        if address.is_empty() {
            let text = "the laboratory has no address";
            return Err(Wrong::said("address", text, "Give the address that reports shall show."));
        }
        let (name, address) = (name.to_owned(), address.to_owned());
        Ok((Laboratory { name, place: address.clone(), address }, kind))
    }
}

fn choice_page(good: &Good, choice: &Choice, wrong: Option<(&str, &Problem)>) -> Markup {
    let title = "Choose a password";
    let (field, problem) = wrong.map_or(("", None), |(field, problem)| (field, Some(problem)));
    let form = html! {
        (summary(problem, field))
        form method="post" novalidate {
            @if good.empty { (the_laboratory(choice)) }
            (who(&good.people, choice))
            div.field {
                label for="password" { "Password" }
                p.hint { "12 characters at least. Several words are good; spaces count." }
                input #password name="password" type="password" autocomplete="new-password";
            }
            div.field {
                label for="again" { "The same password again" }
                input #again name="again" type="password" autocomplete="new-password";
            }
            @if good.empty {
                button name="kind" value=(BookKind::Real.word()) { "Open the book" }
                h2 { "Or try it first" }
                p { "A made-up laboratory is ready for its first test: equipment, a plan and a "
                    "conditioned specimen are there. Every page and report says that it is made "
                    "up. It needs your name and a password." }
                button.second name="kind" value=(BookKind::MadeUp.word()) {
                    "Try with a made-up laboratory"
                }
            } @else { button { "Choose this password" } }
        }
    };
    shell::page(&titled(title, problem), title, None, &form)
}

/// The laboratory of an empty book.
fn the_laboratory(choice: &Choice) -> Markup {
    html! {
        p { "This book is empty. It is opened for one laboratory, or tried with a made-up one: see the end of this page." }
        div.field {
            label for="laboratory" { "Name of the laboratory" }
            input #laboratory name="laboratory" value=(choice.laboratory) autocomplete="organization";
        }
        div.field {
            label for="address" { "Its address" }
            input #address name="address" value=(choice.address) autocomplete="street-address";
        }
    }
}

fn who(people: &[String], choice: &Choice) -> Markup {
    html! {
        @match people {
            [] => div.field {
                label for="person" { "Your name" }
                p.hint { "As reports shall show it." }
                input #person name="person" value=(choice.person) autocomplete="name";
            },
            [only] => {
                p { "For " strong { (only) } ". The link is used up with it." }
                input type="hidden" name="person" autocomplete="username" value=(only);
            },
            several => div.field {
                label for="person" { "Your name" }
                select #person name="person" {
                    @for name in several { option selected[*name == choice.person] { (name) } }
                }
            },
        }
    }
}
