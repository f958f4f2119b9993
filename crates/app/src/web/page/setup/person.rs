//! One person at Set up: roles, authorisations by method, how they come in, and whether they still do.

use std::net::SocketAddr;

use axum::extract::{ConnectInfo, Query, State};
use axum::http::StatusCode;
use axum::response::{IntoResponse as _, Redirect, Response};
use maud::{Markup, html};
use serde::Deserialize;
use trial::fact::Authorisation;
use trial::number::PersonName;

use super::acts::{self, Act};
use super::people::{OfTheBook, comes_in, may_words, of, roles};
use super::{act, asked};
use crate::book::OpenBook;
use crate::form::fields::{Answer, Field, Filled, Typed, Wrong};
use crate::problem::Problem;
use crate::step::people::{methods, one};
use crate::web::answer::Refused;
use crate::web::asked::Given;
use crate::web::guard::in_a_query;
use crate::web::site::{InSession, Person, Shown, Site};

/// Which person is looked at.
#[derive(Deserialize)]
pub(super) struct Named {
    #[serde(default)]
    name: String,
}

/// What the page shows.
struct Seen {
    person: OfTheBook,
    may: Vec<String>,
    methods: Vec<String>,
}

/// The address of a person's page.
pub(super) fn address(person: &str) -> String {
    format!("/setup/person?name={}", in_a_query(person))
}

/// Where an act's form leads back to.
pub(super) fn back(typed: &Typed) -> String {
    match typed.text("back") {
        "person" => address(typed.text("person")),
        _ => "/setup".to_owned(),
    }
}

/// The page.
pub(super) async fn page(
    State(site): State<Site>,
    person: Person,
    session: InSession,
    Given(Query(Named { name })): Given<Query<Named>>,
) -> Result<Markup, Refused> {
    shown(&site, (person, session), &name, Filled { typed: &Typed::default(), wrong: &[] }).await
}

/// Changes what a person is entrusted with, or disables them.
pub(super) async fn submit(
    State(site): State<Site>,
    ConnectInfo(from): ConnectInfo<SocketAddr>,
    person: Person,
    session: InSession,
    typed: Typed,
) -> Result<Response, Refused> {
    let again = Person(person.0.clone());
    let name = typed.text("person").to_owned();
    let whose = PersonName(name.clone());
    let before = site.read(move |book| one(book, &whose).map(|it| it.may)).await?;
    let done = match of_form(&typed, before) {
        Ok((field, act)) => match acts::done(&site, (person, from), act).await {
            Ok(_) => Ok(()),
            Err(refused) => Err(refused.at(field)?),
        },
        Err(wrong) => Err(wrong),
    };
    match done {
        Ok(()) => Ok(Redirect::to(&address(&name)).into_response()),
        Err(wrong) => {
            let filled = Filled { typed: &typed, wrong: &[wrong] };
            let page = shown(&site, (again, session), &name, filled).await?;
            Ok((StatusCode::UNPROCESSABLE_ENTITY, page).into_response())
        }
    }
}

/// The act that a form of the page asks for, and the field at which its refusal stands; `before` is what
/// the person is authorised for.
fn of_form(typed: &Typed, before: Vec<String>) -> Result<(&'static str, Act), Wrong> {
    let person = typed.text("person").to_owned();
    let reason = |field: &str| {
        typed.needed(field, "Write the reason: it stays in the record.").map(str::to_owned)
    };
    match typed.text("act") {
        "roles" => {
            let reason = reason("reason-roles")?;
            let roles = Some(typed.all("role").map(str::to_owned).collect());
            Ok(("role", Act::Entrust { person, roles, may: None, reason }))
        }
        "authorise" => {
            let fresh = written(typed);
            let reason = reason("reason-authorise")?;
            let may = Some(before.into_iter().chain([fresh]).collect());
            Ok(("of", Act::Entrust { person, roles: None, may, reason }))
        }
        "withdraw" => {
            let ask = "Choose the authorisation that ends.";
            let gone = typed.needed("gone", ask)?.to_owned();
            let reason = reason("reason-withdraw")?;
            let may = Some(before.into_iter().filter(|it| *it != gone).collect());
            Ok(("gone", Act::Entrust { person, roles: None, may, reason }))
        }
        "disable" => {
            let reason = reason("reason-disable")?;
            Ok(("reason-disable", Act::Disable { person, reason }))
        }
        other => Err(Wrong::new("role", format!("`{other}` is nothing that this page does."))),
    }
}

/// An authorisation as it is written, from the fields of its form.
fn written(typed: &Typed) -> String {
    let mut text = typed.text("of").to_owned();
    for (field, word) in [("method", "by"), ("from", "from"), ("until", "until")] {
        if !typed.text(field).is_empty() {
            text = format!("{text} {word} {}", typed.text(field));
        }
    }
    text
}

async fn shown(
    site: &Site,
    (person, session): (Person, InSession),
    name: &str,
    filled: Filled<'_>,
) -> Result<Markup, Refused> {
    let asked = asked(site, Person(person.0.clone()), session)?;
    let whose = PersonName::from(name);
    let look = move |book: &OpenBook| -> Result<Seen, Problem> {
        let said = one(book, &whose)?;
        let (may, methods) = (said.may.clone(), methods(book.library()));
        Ok(Seen { person: of(said, &asked), may, methods })
    };
    let show = |seen: &Seen| Shown {
        title: filled.title(name),
        heading: name.to_owned(),
        main: main(seen, name, filled),
    };
    site.show(person, "/setup", look, show).await
}

fn main(seen: &Seen, name: &str, filled: Filled<'_>) -> Markup {
    html! {
        (filled.summary())
        p { "Signs in: " (comes_in(&seen.person)) ". " a href="/setup" { "Back to Set up" } "." }
        (held(seen, name, filled))
        (authorised(seen, name, filled))
        h2 { "Let in, and shut out" }
        @if seen.person.disabled() {
            p { "To let them in again, entrust them with a role, then make a link." }
        } @else {
            (act("link", &[("person", name)], "Make a link", ""))
            @if seen.person.is_in() {
                (act("end", &[("person", name), ("back", "person")], "End sign-ins", ""))
            }
            @if seen.person.has_second() {
                (act("forget-second-factor", &[("person", name), ("back", "person")],
                    "Take the second factor off", ""))
            }
            (form(name, "disable", &html! {
                p.hint { "From then on they do nothing more, at the bench neither; their sign-ins end "
                    "at once. What they recorded stays." }
                (filled.line(reason("reason-disable", "Why are they disabled?")))
                button.second { "Disable" }
            }))
        }
    }
}

/// A form of the page.
fn form(name: &str, act: &str, fields: &Markup) -> Markup {
    html! {
        form method="post" action="/setup/person" novalidate {
            input type="hidden" name="act" value=(act);
            input type="hidden" name="person" value=(name);
            (fields)
        }
    }
}

const fn reason<'a>(name: &'a str, label: &'a str) -> Field<'a> {
    Field { name, label, hint: "It stays in the record." }
}

fn held(seen: &Seen, name: &str, filled: Filled<'_>) -> Markup {
    let mut now = filled.typed.clone();
    if now.text("act") != "roles" {
        for role in seen.person.roles() {
            now.add("role", role);
        }
    }
    let filled = Filled { typed: &now, wrong: filled.wrong };
    let role = Field { name: "role", label: "Roles they hold", hint: "" };
    html! {
        h2 { "Roles" }
        (form(name, "roles", &html! {
            (filled.any_of(role, &roles()))
            (filled.line(reason("reason-roles", "Why do they change?")))
            button { "Change the roles" }
        }))
    }
}

fn authorised(seen: &Seen, name: &str, filled: Filled<'_>) -> Markup {
    let gone = Field { name: "gone", label: "Which ends?", hint: "" };
    let each: Vec<Answer<'_>> =
        seen.may.iter().map(|it| Answer { value: it, label: it.clone() }).collect();
    let of = Field { name: "of", label: "For what?", hint: "" };
    let acts: Vec<Answer<'_>> = Authorisation::ALL
        .iter()
        .map(|it| Answer { value: it.word(), label: may_words(*it).to_owned() })
        .collect();
    let method = Field { name: "method", label: "By which method?", hint: "" };
    let every = Answer { value: "", label: "every method".to_owned() };
    let by = seen.methods.iter().map(|it| Answer { value: it, label: it.clone() });
    let by: Vec<Answer<'_>> = std::iter::once(every).chain(by).collect();
    let day = |name, label| Field { name, label, hint: "Such as 2026-11-25. May be left empty." };
    html! {
        h2 { "Authorisations" }
        @if seen.may.is_empty() { p { "None." } } @else {
            (form(name, "withdraw", &html! {
                (filled.one_of(gone, &each))
                (filled.line(reason("reason-withdraw", "Why does it end?")))
                button.second { "Take it away" }
            }))
        }
        h3 { "One more" }
        (form(name, "authorise", &html! {
            (filled.one_of(of, &acts))
            (filled.pick(method, &by))
            (filled.line(day("from", "First day")))
            (filled.line(day("until", "Last day")))
            (filled.line(reason("reason-authorise", "On what does it rest?")))
            button { "Authorise" }
        }))
    }
}
