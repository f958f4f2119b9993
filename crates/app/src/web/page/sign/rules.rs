//! Which signatures the laboratory asks for, and whether one person may test and approve.

use axum::Json;
use axum::extract::State;
use axum::http::StatusCode;
use axum::response::{IntoResponse as _, Redirect, Response};
use axum::routing::get;
use maud::{Markup, html};
use serde::{Deserialize, Serialize};
use trial::signature::{Meaning, SamePerson, SigningRule};
use utoipa::ToSchema;
use utoipa_axum::router::OpenApiRouter;
use utoipa_axum::routes;

use crate::book::OpenBook;
use crate::form::fields::{Answer, Field, Filled, Typed, Wrong};
use crate::problem::Problem;
use crate::step::sign;
use crate::web::answer::{ProblemDocument, Refused, RefusedTwin};
use crate::web::asked::Document;
use crate::web::page::when;
use crate::web::site::{Person, Shown, Site};

/// What is asked for.
#[derive(Serialize, ToSchema)]
struct Rules {
    /// In which meanings a plan is signed before its report.
    asked: Vec<&'static str>,
    /// `refused` or `allowed`: one person who tests and approves.
    same_person: &'static str,
    /// Where that comes from, in words.
    told: String,
}

/// What the laboratory sets.
#[derive(Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
struct Setting {
    /// `tested`, `reviewed`, `approved`; none if reports are signed elsewhere.
    asked: Vec<String>,
    /// `refused` or `allowed`.
    same_person: String,
    /// Why.
    reason: String,
}

/// The routes.
pub(super) fn routes() -> OpenApiRouter<Site> {
    OpenApiRouter::new().route("/sign/rules", get(page).post(submit)).routes(routes!(twin, set))
}

async fn page(State(site): State<Site>, person: Person) -> Result<Markup, Refused> {
    let asked = site.read(|book| Ok(look(book))).await?;
    let mut typed = Typed::default();
    asked.asked.iter().for_each(|meaning| typed.add("asked", meaning));
    typed.put("same-person", asked.same_person);
    drawn(&site, person, Filled { typed: &typed, wrong: &[] }).await
}

async fn drawn(site: &Site, person: Person, filled: Filled<'_>) -> Result<Markup, Refused> {
    let heading = "Signatures";
    let show = |rules: &Rules| Shown {
        title: filled.title(heading),
        heading: heading.to_owned(),
        main: main(rules, filled),
    };
    site.show(person, "/setup", |book| Ok(look(book)), show).await
}

/// Which signatures are asked for before a report
#[utoipa::path(get, path = "/api/sign/rules", responses(
    (status = 200, body = Rules),
    (status = "default", body = ProblemDocument, content_type = "application/problem+json"),
))]
async fn twin(State(site): State<Site>, _: Person) -> Result<Json<Rules>, RefusedTwin> {
    Ok(Json(site.read(|book| Ok(look(book))).await?))
}

/// Sets which signatures are asked for before a report
#[utoipa::path(post, path = "/api/sign/rules", request_body = Setting, responses(
    (status = 200, body = Rules),
    (status = "default", body = ProblemDocument, content_type = "application/problem+json"),
))]
async fn set(
    State(site): State<Site>,
    person: Person,
    Document(said): Document<Setting>,
) -> Result<Json<Rules>, RefusedTwin> {
    let rule = rule(said.asked.iter().map(String::as_str), &said.same_person, &said.reason);
    let rule = rule.map_err(Refused::from)?;
    let done = site.act(person, move |book, output| {
        sign::rule(book, rule, output)?;
        Ok(look(book))
    });
    Ok(Json(done.await?))
}

async fn submit(
    State(site): State<Site>,
    person: Person,
    typed: Typed,
) -> Result<Response, Refused> {
    let again = Person(person.0.clone());
    let rule = rule(typed.all("asked"), typed.text("same-person"), typed.text("reason"))?;
    match site.act(person, move |book, output| sign::rule(book, rule, output)).await {
        Ok(()) => Ok(Redirect::to("/sign/rules").into_response()),
        Err(refused) => {
            let wrong: [Wrong; 1] = [refused.at("reason")?];
            let page = drawn(&site, again, Filled { typed: &typed, wrong: &wrong }).await?;
            Ok((StatusCode::UNPROCESSABLE_ENTITY, page).into_response())
        }
    }
}

fn rule<'a>(
    asked: impl Iterator<Item = &'a str>,
    same_person: &str,
    reason: &str,
) -> Result<SigningRule, Problem> {
    let meaning = |word: &str| {
        Meaning::of_word(word).ok_or_else(|| {
            Problem::used_wrongly(format!("`{word}` is no meaning of a signature"))
                .hint("Say tested, reviewed or approved.")
        })
    };
    let same_person = SamePerson::of_word(same_person).ok_or_else(|| {
        Problem::used_wrongly(format!("`{same_person}` is neither refused nor allowed"))
            .hint("Say whether one person may test and approve.")
    })?;
    let asked = asked.map(meaning).collect::<Result<Vec<_>, _>>()?;
    Ok(SigningRule { asked, same_person, reason: reason.to_owned() })
}

fn look(book: &OpenBook) -> Rules {
    let history = book.history();
    let told = match history.signing_rule() {
        Some(set) => format!(
            "Set by {} at {} (entry {}): {}.",
            set.who,
            when(set.at),
            set.entry,
            set.rule.reason.trim_end_matches('.')
        ),
        None if history.signatures_asked().is_empty() => "Nothing was set, and the book does not \
            say that one person tests and another one reviews: reports are issued without \
            signatures."
            .to_owned(),
        None => "Nothing was set. Since one person tests and another one reviews or issues, each \
                 specimen is signed as tested, and the plan as approved."
            .to_owned(),
    };
    let same = history.same_person_allowed().map_or(SamePerson::Refused, |_| SamePerson::Allowed);
    Rules {
        asked: history.signatures_asked().into_iter().map(Meaning::word).collect(),
        same_person: same.word(),
        told,
    }
}

fn main(rules: &Rules, filled: Filled<'_>) -> Markup {
    let answer = |value, label: &str| Answer { value, label: label.to_owned() };
    let asked = [
        answer("tested", "Each specimen as tested, by the person who tested it"),
        answer("reviewed", "The plan as reviewed"),
        answer("approved", "The plan as approved"),
    ];
    let same = [
        answer("refused", "No: another person reviews and approves"),
        answer("allowed", "Yes: the laboratory allows it, for the reason below"),
    ];
    html! {
        (filled.summary())
        p.sentence { (rules.told) }
        p { @if rules.asked.is_empty() { "Asked for before a report: none." }
            @else { "Asked for before a report: " (rules.asked.join(", ")) "." } }
        form method="post" novalidate {
            (filled.any_of(Field { name: "asked", label: "Which signatures does a report need?", hint: "None, where reports are signed elsewhere: the report then says so." }, &asked))
            (filled.one_of(Field { name: "same-person", label: "May one person test and approve?", hint: "" }, &same))
            (filled.words(Field { name: "reason", label: "Why?", hint: "It is recorded with your name, and prints on reports that make use of it." }))
            button { "Set this" }
        }
    }
}
