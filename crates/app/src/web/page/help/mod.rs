//! Help: one page a screen, in the words of the screen; read by whoever asks, signed in or not.

mod texts;

use axum::Extension;
use axum::extract::{Path, State};
use axum::routing::get;
use maud::{Markup, html};
use utoipa_axum::router::OpenApiRouter;

use crate::problem::Problem;
use crate::web::answer::Refused;
use crate::web::asked::Given;
use crate::web::shell;
use crate::web::site::{Person, Shown, Site};
use texts::TEXTS;

/// Help on one screen.
struct Text {
    /// The screen's address without its numbers; of a page in the bar, its address there.
    of: &'static str,
    /// The last part of the address of this help.
    name: &'static str,
    /// What the screen is called.
    title: &'static str,
    /// What it is for: a sentence or two.
    what: &'static str,
    /// Words that stand on the screen, each with what it does.
    words: &'static [(&'static str, &'static str)],
    /// What may be in the way, each with the way out.
    ways_out: &'static [(&'static str, &'static str)],
}

/// The routes.
pub(super) fn routes() -> OpenApiRouter<Site> {
    OpenApiRouter::new().route("/help", get(index)).route("/help/{name}", get(page))
}

async fn index(
    State(site): State<Site>,
    person: Option<Extension<Person>>,
) -> Result<Markup, Refused> {
    let main = html! {
        p { "One page for each screen, in its own words. Each prints on paper." }
        ul { @for text in TEXTS {
            li.onward { a href={ "/help/" (text.name) } { (text.title) } }
        } }
        (safety())
        p { "The keys of the bench stand on its own page: press " kbd { "?" } " there." }
    };
    shown(&site, person, "Help", main).await
}

async fn page(
    State(site): State<Site>,
    Given(Path(name)): Given<Path<String>>,
    person: Option<Extension<Person>>,
) -> Result<Markup, Refused> {
    let text = TEXTS.iter().find(|text| text.name == name).ok_or_else(|| {
        let problem = Problem::used_wrongly(format!("there is no help called `{name}`"));
        Refused::not_found(problem.hint("Choose one at Help."))
    })?;
    shown(&site, person, &format!("Help: {}", text.title), main(text)).await
}

async fn shown(
    site: &Site,
    person: Option<Extension<Person>>,
    heading: &str,
    main: Markup,
) -> Result<Markup, Refused> {
    match person {
        Some(Extension(person)) => {
            let show = |(): &()| Shown::under(heading, main);
            site.show(person, shell::HELP, |_| Ok(()), show).await
        }
        None => Ok(shell::page(heading, heading, None, &main)),
    }
}

fn main(text: &Text) -> Markup {
    html! {
        p { (text.what) }
        @if !text.of.contains('{') && text.of != "/sign-in" {
            p.onward { a href=(text.of) { "Go to " (text.title) } }
        }
        h2 { "The words on it" }
        dl.findings { @for (word, does) in text.words { dt { (word) } dd { (does) } } }
        @if !text.ways_out.is_empty() {
            h2 { "What may be in the way" }
            dl.findings { @for (what, way_out) in text.ways_out { dt { (what) } dd { (way_out) } } }
        }
        @if matches!(text.name, "bench" | "flame" | "plan") { (safety()) }
        p.onward { a href="/help" { "All pages of help" } }
    }
}

/// What every page that leads to a flame says (`SAFETY.md`).
fn safety() -> Markup {
    html! {
        p {
            strong { "Before the first flame: " }
            "this program observes and records. It drives nothing, it cannot put out a fire, and no "
            "message of it says that it is safe to begin. The local code, the laboratory's own "
            "safety rules and people who are licensed for it come first. The plan shows the "
            "cautions, and asks whether they were read."
        }
    }
}

/// A way from where a question arises to the help with this name.
pub(super) fn way(name: &str) -> Markup {
    let title = TEXTS.iter().find(|text| text.name == name).map_or("", |text| text.title);
    html! { p.onward { a href={ "/help/" (name) } { "Help: " (title) } } }
}

/// The address of the help on the screen at this line of the bar.
pub(in crate::web) fn on(here: &str) -> String {
    let text = TEXTS.iter().find(|text| text.of == here);
    text.map_or_else(|| shell::HELP.to_owned(), |text| format!("/help/{}", text.name))
}
