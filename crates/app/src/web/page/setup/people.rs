//! The people of the book as Set up shows them, and the form that invites one more.

use maud::{Markup, html};
use serde::Serialize;
use trial::fact::Authorisation;
use trial::number::PersonName;
use trial::person::Role;
use utoipa::ToSchema;

use super::{Asked, act};
use crate::book::OpenBook;
use crate::form::fields::{Answer, Field, Filled};
use crate::step::people::{PersonShown, list, methods};
use crate::web::page::shown;

/// One of the people.
#[derive(Serialize, ToSchema)]
pub(super) struct OfTheBook {
    /// What the record says of them.
    #[serde(flatten)]
    said: PersonShown,
    /// Whether they have a password.
    can_sign_in: bool,
    /// Whether they have a second factor.
    second_factor: bool,
    /// On how many browsers they are in.
    sessions: usize,
}

/// The people, by name.
pub(super) fn look(book: &OpenBook, asked: &Asked) -> Vec<OfTheBook> {
    list(book).into_iter().map(|said| of(said, asked)).collect()
}

/// How one of them comes in.
pub(super) fn of(said: PersonShown, asked: &Asked) -> OfTheBook {
    let person = PersonName(said.person.clone());
    let own = asked.sessions.iter().filter(|session| session.person == said.person);
    OfTheBook {
        can_sign_in: asked.can_sign_in.contains(&person),
        second_factor: asked.site.access().has_second(&person),
        sessions: own.count(),
        said,
    }
}

impl OfTheBook {
    /// The roles they hold.
    pub(super) fn roles(&self) -> &[&'static str] {
        &self.said.roles
    }

    /// Whether they are disabled.
    pub(super) const fn disabled(&self) -> bool {
        self.said.disabled.is_some()
    }

    /// Whether they are in on any browser.
    pub(super) const fn is_in(&self) -> bool {
        self.sessions > 0
    }

    /// Whether they have a second factor.
    pub(super) const fn has_second(&self) -> bool {
        self.second_factor
    }
}

/// A role as it is read.
pub(super) fn role_words(word: &str) -> String {
    word.replace('-', " ")
}

/// What the laboratory calls what one may be authorised for.
pub(super) const fn may_words(authorisation: Authorisation) -> &'static str {
    match authorisation {
        Authorisation::Test => "Test at the bench",
        Authorisation::Review => "Review",
        Authorisation::Issue => "Issue reports",
    }
}

/// The roles to choose from.
pub(super) fn roles<'a>() -> Vec<Answer<'a>> {
    let label = |role: Role| match role {
        Role::Technician => "Technician: stands at the flame",
        Role::Engineer => "Engineer: plans, reviews, issues",
        Role::QualityManager => "Quality manager: watches equipment, drift and trail",
        Role::Administrator => "Administrator: looks after people and the server",
    };
    let answer = |role: &Role| Answer { value: role.word(), label: label(*role).to_owned() };
    Role::ALL.iter().map(answer).collect()
}

pub(super) fn table(people: &[OfTheBook]) -> Markup {
    let table = html! {
        table {
            thead { tr { th scope="col" { "Name" } th scope="col" { "Roles" }
                th scope="col" { "Authorised to" } th scope="col" { "Signs in" }
                th scope="col" { "Act" } } }
            tbody { @for it in people { tr {
                td { a href=(super::person::address(&it.said.person)) { (it.said.person) } }
                td { @if it.said.roles.is_empty() { "none" }
                    @else { (it.said.roles.iter().map(|it| role_words(it)).collect::<Vec<_>>().join(", ")) } }
                td { @if it.said.may.is_empty() { "nothing" } @else { (it.said.may.join("; ")) } }
                td { (comes_in(it)) }
                td { @if it.said.disabled.is_none() {
                    (act("link", &[("person", &it.said.person)], "Make a link",
                        &format!("for {}", it.said.person)))
                } }
            } } }
        }
    };
    shown::wide("People", &table)
}

/// How one comes in, in words.
pub(super) fn comes_in(it: &OfTheBook) -> String {
    let second = if it.second_factor { ", with a second factor" } else { "" };
    match (&it.said.disabled, it.can_sign_in, it.sessions) {
        (Some(disabled), ..) => format!("disabled {disabled}"),
        (None, false, _) => "no password".to_owned(),
        (None, true, 0) => format!("is not in{second}"),
        (None, true, 1) => format!("is in, on one browser{second}"),
        (None, true, several) => format!("is in, on {several} browsers{second}"),
    }
}

/// The form that invites one more.
pub(super) fn invitation(filled: Filled<'_>, methods: &[String]) -> Markup {
    let name = Field { name: "person", label: "Name", hint: "As reports shall show it." };
    let hint = "A person may hold several.";
    let role = Field { name: "role", label: "Roles", hint };
    let hint = "It is kept in the record. Dates are set on the person's own page.";
    let may = Field { name: "may", label: "What are they authorised for, by which method?", hint };
    let mut grants: Vec<(String, String)> = Vec::new();
    for it in Authorisation::ALL {
        grants.push((it.to_string(), format!("{}, by every method", may_words(*it))));
        let by = methods.iter().map(|method| {
            (format!("{it} by {method}"), format!("{}, by {method}", may_words(*it)))
        });
        grants.extend(by);
    }
    let answers: Vec<Answer<'_>> =
        grants.iter().map(|(value, label)| Answer { value, label: label.clone() }).collect();
    html! {
        h3 { "Invite a person" }
        form method="post" action="/setup" novalidate {
            input type="hidden" name="act" value="invite";
            (filled.line(name))
            (filled.any_of(role, &roles()))
            (filled.any_of(may, &answers))
            button { "Invite" }
        }
    }
}

/// The methods that are built in.
pub(super) fn known_methods(book: &OpenBook) -> Vec<String> {
    methods(book.library())
}
