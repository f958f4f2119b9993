//! Record: the trail of all entries, newest first; one entry; the check of the whole.

pub(super) mod telling;
mod told_people;
mod trail;
mod entry;
mod review;
mod check;

use axum::Json;
use axum::extract::{Query, State};
use axum::routing::get;
use maud::{Markup, html};
use serde::{Deserialize, Serialize};
use trial::moment::Moment;
use utoipa::{IntoParams, ToSchema};
use utoipa_axum::router::OpenApiRouter;
use utoipa_axum::routes;

use crate::book::{OpenBook, from_ledger};
use crate::checked::{LastCheck, LastScrub};
use crate::problem::Problem;
use crate::step::proof;
use crate::step::verify::outside;
use crate::web::answer::{ProblemDocument, Refused, RefusedTwin};
use crate::web::asked::Given;
use crate::web::download::encoded;
use crate::web::site::{Person, Place, Site};

use super::when;
use telling::{spaced, words};
use trail::Filter;

/// So many entries stand on a page.
const ENTRIES: usize = 50;

const PLACE: Place = Place { here: "/record", heading: "Record" };

/// Which entries are asked for. What is empty is not asked.
#[derive(Clone, Debug, Default, Serialize, Deserialize, IntoParams)]
#[into_params(parameter_in = Query)]
#[serde(default)]
pub(super) struct Asked {
    /// Entries of this person
    person: String,
    /// Entries of this kind, such as `run-recorded`
    kind: String,
    /// Entries that speak of this: `P-1`, `D-1`, `C-1`, `R-1`, or the mark of a piece or a lot
    thing: String,
    /// Not before this day (UTC)
    from: String,
    /// Not after this day (UTC)
    until: String,
    /// Only entries with a number below this one
    before: String,
    /// For the file: `spreadsheet` disarms formulas
    r#for: String,
}

/// A page of the trail.
#[derive(Serialize, ToSchema)]
struct Trail {
    /// Number of entries and hash of the tree over them: note it outside this machine.
    head: Option<String>,
    /// The key that signs heads now.
    key: Option<String>,
    /// When a head was last seen outside, in words: `never`, or on which report.
    last_head_outside: String,
    /// When the record was last checked, in UTC, and whether it checked.
    last_check: Option<Done>,
    /// When all evidence was last read again, in UTC, and whether each file fitted its hash.
    last_scrub: Option<Done>,
    /// The heads that reports carry out of the house, newest first, at most ten.
    heads_outside: Vec<HeadOutside>,
    /// The entries asked for, newest first.
    entries: Vec<Line>,
    /// More follow: ask again with `before` set to this number.
    before: Option<u64>,
    /// Who has written in this book.
    people: Vec<String>,
    #[serde(skip)]
    asked: Asked,
}

/// A check that was made.
#[derive(Serialize, ToSchema)]
#[schema(as = CheckDone)]
struct Done {
    /// When, in UTC.
    at: String,
    /// Whether nothing was wrong.
    sound: bool,
    #[serde(skip)]
    shown_at: String,
}

impl Done {
    fn of(at: String, sound: bool) -> Self {
        let shown_at = Moment::parse(&at).map_or_else(|_| at.clone(), when);
        Self { at, sound, shown_at }
    }
}

/// A head that a report carries.
#[derive(Serialize, ToSchema)]
struct HeadOutside {
    /// The report.
    report: String,
    /// Number of entries and hash.
    head: String,
}

/// An entry in one line.
#[derive(Serialize, ToSchema)]
#[schema(as = RecordLine)]
struct Line {
    /// Its number.
    entry: u64,
    /// When, in UTC.
    at: String,
    /// Who.
    who: String,
    /// Its kind.
    kind: String,
    /// What it says.
    what: String,
    /// The entries that correct it.
    corrected_by: Vec<u64>,
    #[serde(skip)]
    shown_at: String,
}

/// The routes.
pub(super) fn routes() -> OpenApiRouter<Site> {
    OpenApiRouter::new()
        .route("/record", get(page))
        .routes(routes!(twin))
        .merge(trail::routes())
        .merge(check::routes())
        .merge(review::routes())
        .merge(entry::routes())
}

async fn page(
    State(site): State<Site>,
    person: Person,
    Given(Query(asked)): Given<Query<Asked>>,
) -> Result<Markup, Refused> {
    site.page(person, PLACE, move |book| look(book, asked), main).await
}

/// The trail of entries
#[utoipa::path(get, path = "/api/record", params(Asked), responses(
    (status = 200, body = Trail),
    (status = "default", body = ProblemDocument, content_type = "application/problem+json"),
))]
async fn twin(
    State(site): State<Site>,
    _person: Person,
    Given(Query(asked)): Given<Query<Asked>>,
) -> Result<Json<Trail>, RefusedTwin> {
    Ok(Json(site.read(move |book| look(book, asked)).await?))
}

fn look(book: &OpenBook, asked: Asked) -> Result<Trail, Problem> {
    let history = book.history();
    let filter = Filter::of(&asked)?;
    let mut found = filter.newest_first(history.entries());
    let entries: Vec<Line> = found
        .by_ref()
        .take(ENTRIES)
        .map(|recorded| Line {
            entry: recorded.entry.0,
            at: recorded.at.to_string(),
            shown_at: when(recorded.at),
            who: recorded.who.0.clone(),
            kind: recorded.fact.kind().to_owned(),
            what: words(&recorded.fact),
            corrected_by: history.corrections(recorded.entry).iter().map(|it| it.by.0).collect(),
        })
        .collect();
    let more = found.next().is_some();
    let heads_outside = history.reports().iter().rev().take(10).map(|(_, _, issued)| HeadOutside {
        report: issued.number.to_string(),
        head: proof::printed(book, issued),
    });
    let last = history.reports().last().map(|(at, _, issued)| (issued.number, *at));
    let folder = book.book().folder();
    let tree = book.book().tree_head().map_err(|error| from_ledger(&error))?;
    let keys = proof::keys(book)?;
    Ok(Trail {
        head: Some(tree).filter(|tree| tree.size > 0).map(|tree| tree.to_string()),
        key: keys.and_then(|keys| keys.current().map(ToString::to_string)),
        last_head_outside: outside(last, book.now()?),
        last_check: LastCheck::of(folder).map(|last| Done::of(last.at, last.checked.sound)),
        last_scrub: LastScrub::of(folder).map(|last| Done::of(last.at, last.faults.is_empty())),
        heads_outside: heads_outside.collect(),
        before: entries.last().filter(|_| more).map(|last| last.entry),
        entries,
        people: history.people().keys().map(ToString::to_string).collect(),
        asked,
    })
}

fn main(trail: &Trail) -> Markup {
    html! {
        form method="post" action="/record/check" {
            p { "Every entry is held against its hash and the entry before it, every evidence \
                file against its hash, and every verdict is reached again. Nothing is changed." }
            p { button { "Check the record now" } " "
                a href="/record/review" { "Review of the trail" } }
        }
        (checks(trail))
        (filter(trail))
        @if trail.entries.is_empty() { p { "No entry is as asked. " a href="/record" { "Show all" } } }
        @else { (table(&trail.entries)) }
        (onward(trail))
        h2 { "Head of the record" }
        @match &trail.head {
            Some(head) => p { "Number of entries and hash of the tree over them: " code { (head) } },
            None => p { "The book is empty." },
        }
        @match &trail.key {
            Some(key) => p { "It is signed with the book's key, whose public half customers hold: "
                code { (key) } },
            None => p { "The book has no key yet: one begins with the first report." },
        }
        @if !trail.heads_outside.is_empty() {
            p { "Heads that reports carry out of the house, newest first:" }
            ul { @for outside in &trail.heads_outside {
                li { (outside.report) ": " code { (outside.head) } }
            } }
        }
    }
}

/// What is known of the record's soundness: heads outside, the last check, the last reading.
fn checks(trail: &Trail) -> Markup {
    let done = |done: Option<&Done>, good: &str, bad: &str| match done {
        None => html! { "never" },
        Some(it) if it.sound => html! { (it.shown_at) ": " (good) },
        Some(it) => html! { span.abnormal { "● " (it.shown_at) ": " (bad) } },
    };
    html! {
        dl {
            dt { "Last head seen outside" } dd { (trail.last_head_outside) }
            dt { "Last check" } dd {
                (done(trail.last_check.as_ref(), "it checked", "it did not check")) " "
                a href="/record/check" { "See the check" }
            }
            dt { "All evidence last read again" } dd {
                (done(trail.last_scrub.as_ref(), "every file fitted its hash", "files are damaged"))
            }
        }
    }
}

/// Whose entries, and of which kind: those there are, and the one that is asked for.
fn people_and_kinds<'a>(
    (people, person): (&[String], &str),
    (kinds, kind): (impl Iterator<Item = &'a str>, &str),
) -> Markup {
    html! {
        div.field {
            label for="person" { "Person" }
            select #person name="person" {
                option value="" { "Everyone" }
                @for it in people { option value=(it) selected[it == person] { (it) } }
            }
        }
        div.field {
            label for="kind" { "Kind" }
            select #kind name="kind" {
                option value="" { "All kinds" }
                @for it in kinds { option value=(it) selected[it == kind] { (spaced(it)) } }
            }
        }
    }
}

fn filter(trail: &Trail) -> Markup {
    let asked = &trail.asked;
    html! {
        form.filter method="get" action="/record" role="search" aria-label="Entries" {
            (people_and_kinds(
                (&trail.people, &asked.person),
                (ledger::entry::catalogue().iter().map(|(kind, _)| *kind), &asked.kind),
            ))
            div.field {
                label for="thing" { "Thing" }
                p.hint #thing-hint { "P-1, D-1, C-1, R-1, or a mark" }
                input #thing name="thing" value=(asked.thing) size="8" autocomplete="off"
                    aria-describedby="thing-hint";
            }
            div.field {
                label for="from" { "From" }
                p.hint #from-hint { "a day such as 2026-11-25" }
                input #from name="from" value=(asked.from) size="10" autocomplete="off"
                    aria-describedby="from-hint";
            }
            div.field {
                label for="until" { "Until" }
                p.hint #until-hint { "that day included" }
                input #until name="until" value=(asked.until) size="10" autocomplete="off"
                    aria-describedby="until-hint";
            }
            p { button.second { "Show these" } }
        }
    }
}

fn table(entries: &[Line]) -> Markup {
    html! {
        div.wide role="region" aria-label="Entries" tabindex="0" {
            table {
                thead { tr { th.number { "Entry" } th { "When" } th { "Who" } th { "What" } } }
                tbody {
                    @for line in entries {
                        tr {
                            td.number { a href={ "/record/" (line.entry) } { (line.entry) } }
                            td.moment { (line.shown_at) }
                            td { (line.who) }
                            td {
                                (line.what)
                                @for by in &line.corrected_by {
                                    " " a href={ "/record/" (by) } { "Corrected by entry " (by) "." }
                                }
                            }
                        }
                    }
                }
            }
        }
    }
}

/// The way to older entries, and to the same as a file.
fn onward(trail: &Trail) -> Markup {
    let filter = trail.asked.as_query();
    html! {
        p {
            @if let Some(before) = trail.before {
                a href={ "/record?" (filter) "before=" (before) } { "Older entries" } " · "
            }
            @if !trail.asked.before.is_empty() {
                a href={ "/record?" (filter) } { "Newest entries" } " · "
            }
            a href={ "/record.csv?" (filter) } { "All of these as CSV" } " · "
            a href={ "/record.csv?" (filter) "for=spreadsheet" } { "the same for a spreadsheet" }
        }
    }
}

impl Asked {
    /// The filter as an address carries it, each part ended by `&`.
    fn as_query(&self) -> String {
        [
            ("person", &self.person),
            ("kind", &self.kind),
            ("thing", &self.thing),
            ("from", &self.from),
            ("until", &self.until),
        ]
        .into_iter()
        .filter(|(_, text)| !text.is_empty())
        .map(|(name, text)| format!("{name}={}&", encoded(text)))
        .collect()
    }
}
