//! Checks the whole record, beside the work that goes on: the book is not held meanwhile.

use std::path::Path;
use std::sync::{Arc, Mutex, PoisonError};
use std::time::Duration;

use axum::Json;
use axum::extract::{Extension, Form, State};
use axum::response::Redirect;
use axum::routing::{get, post};
use ledger::{Seen, verify_by};
use maud::{Markup, html};
use serde::{Deserialize, Serialize};
use trial::moment::Moment;
use utoipa::ToSchema;
use utoipa_axum::router::OpenApiRouter;
use utoipa_axum::routes;

use crate::book::{OpenBook, from_ledger};
use crate::checked::LastCheck;
use crate::problem::Problem;
use crate::step;
use crate::step::verify::Checked;
use crate::web::answer::{ProblemDocument, Refused, RefusedTwin};
use crate::web::asked::{Document, Given};
use crate::web::page::when;
use crate::web::site::{Person, Place, Site};

/// So long an answer waits for the check, so that a short one is shown at once.
const PATIENCE: Duration = Duration::from_secs(1);

/// What is asked of a check.
#[derive(Default, Deserialize, ToSchema)]
#[schema(as = CheckAsked)]
#[serde(default, deny_unknown_fields)]
struct Asked {
    /// A head seen elsewhere, such as one printed on a report: number, blank, hash. The record
    /// must continue it.
    head: String,
}

/// The last check.
#[derive(Clone, Default, Serialize, ToSchema)]
#[schema(as = RecordCheck)]
struct Check {
    /// `none`, `going on` or `done`.
    state: &'static str,
    /// When it began, in UTC.
    began: Option<String>,
    /// Who asked for it.
    who: Option<String>,
    /// What came of it.
    result: Option<Sheet>,
    #[serde(skip)]
    began_at: Option<Moment>,
}

/// What came of a check.
#[derive(Clone, Serialize, ToSchema)]
struct Sheet {
    #[serde(flatten)]
    checked: Checked,
    /// What to do about it.
    hint: Option<String>,
}

/// The check that is remembered until the program ends.
#[derive(Clone, Default)]
struct Checks(Arc<Mutex<Check>>);

impl Checks {
    fn change<T>(&self, change: impl FnOnce(&mut Check) -> T) -> T {
        change(&mut self.0.lock().unwrap_or_else(PoisonError::into_inner))
    }

    /// The check that goes on, or the last one of the book in `folder`.
    fn last(&self, folder: &Path) -> Check {
        let check = self.change(|check| Check { state: check.state(), ..check.clone() });
        match LastCheck::of(folder) {
            // A later one may have come from the command line, or from reading the evidence again.
            Some(last)
                if check.state != "going on"
                    && check.began.as_deref() <= Some(last.at.as_str()) =>
            {
                Check {
                    state: "done",
                    began_at: Moment::parse(&last.at).ok(),
                    began: Some(last.at),
                    who: Some(last.who),
                    result: Some(Sheet { checked: last.checked, hint: last.hint }),
                }
            }
            _ => check,
        }
    }
}

impl Check {
    fn state(&self) -> &'static str {
        match (&self.began, &self.result) {
            (None, _) => "none",
            (Some(_), None) => "going on",
            (Some(_), Some(_)) => "done",
        }
    }
}

/// The routes.
pub(super) fn routes() -> OpenApiRouter<Site> {
    OpenApiRouter::new()
        .route("/record/check", get(page))
        .route("/record/check", post(act))
        .routes(routes!(twin, act_twin))
        .layer(Extension(Checks::default()))
}

async fn page(
    State(site): State<Site>,
    person: Person,
    Extension(checks): Extension<Checks>,
) -> Result<Markup, Refused> {
    let place = Place { here: "/record", heading: "Check of the record" };
    site.page(person, place, move |book| Ok(checks.last(book.book().folder())), main).await
}

/// The last check
#[utoipa::path(get, path = "/api/record/check", responses(
    (status = 200, body = Check),
    (status = "default", body = ProblemDocument, content_type = "application/problem+json"),
))]
async fn twin(
    State(site): State<Site>,
    _person: Person,
    Extension(checks): Extension<Checks>,
) -> Json<Check> {
    Json(checks.last(site.folder()))
}

async fn act(
    State(site): State<Site>,
    person: Person,
    Extension(checks): Extension<Checks>,
    Given(Form(asked)): Given<Form<Asked>>,
) -> Result<Redirect, Refused> {
    check(&site, person, &checks, &asked).await?;
    Ok(Redirect::to("/record/check"))
}

/// Checks the record now
#[utoipa::path(post, path = "/api/record/check", request_body = Asked, responses(
    (status = 200, body = Check),
    (status = "default", body = ProblemDocument, content_type = "application/problem+json"),
))]
async fn act_twin(
    State(site): State<Site>,
    person: Person,
    Extension(checks): Extension<Checks>,
    Document(asked): Document<Asked>,
) -> Result<Json<Check>, RefusedTwin> {
    check(&site, person, &checks, &asked).await?;
    Ok(Json(checks.last(site.folder())))
}

/// Begins a check, unless one is going on, and waits a moment for its end.
async fn check(
    site: &Site,
    Person(person): Person,
    checks: &Checks,
    asked: &Asked,
) -> Result<(), Refused> {
    let mut heads = match asked.head.trim() {
        "" => Vec::new(),
        text => vec![step::verify::head(text)?],
    };
    // The head as this program has it: a record that was put back beside it does not reach it.
    let look =
        |book: &OpenBook| Ok((book.book().place().to_owned(), book.now()?, book.book().head()));
    let (place, now, held) = site.read(look).await?;
    heads.extend(held);
    let (folder, seen) = (site.folder().to_owned(), Seen { heads, key: None });
    let begins = checks.change(|check| {
        let free = check.state() != "going on";
        if free {
            *check = Check {
                began: Some(now.to_string()),
                began_at: Some(now),
                who: Some(person.to_string()),
                ..Check::default()
            };
        }
        free
    });
    if !begins {
        return Ok(());
    }
    let (checks, who) = (checks.clone(), person.to_string());
    let work = tokio::task::spawn_blocking(move || {
        let mut sheet = verify_by(&place, &seen).map_or_else(
            |error| Sheet::refused(&from_ledger(&error)),
            |found| Sheet { checked: Checked::of(&found, now), hint: found.hint() },
        );
        let Sheet { checked, hint } = sheet.clone();
        if let Err(error) = (LastCheck { at: now.to_string(), who, checked, hint }).note(&folder) {
            let unnoted = format!("what came of the check cannot be noted: {error}");
            sheet.checked.faults.push(unnoted);
            sheet.checked.sound = false;
        }
        checks.change(|check| check.result = Some(sheet));
    });
    // One that takes longer goes on, and its page tells.
    drop(tokio::time::timeout(PATIENCE, work).await);
    Ok(())
}

impl Sheet {
    /// The record could not be opened to be checked.
    fn refused(problem: &Problem) -> Self {
        let faults = vec![problem.text.clone()];
        Self { checked: Checked { faults, ..Checked::default() }, hint: problem.hint.clone() }
    }
}

fn main(check: &Check) -> Markup {
    let began = check.began_at.map(when).unwrap_or_default();
    let who = check.who.as_deref().unwrap_or_default();
    html! {
        @match (&check.began, &check.result) {
            (None, _) => p { "The record was not checked yet." },
            (Some(_), None) => {
                p role="status" { "The check that " (who) " began at " (began) " goes on. " }
                p { a href="/record/check" { "Look again" } }
            },
            (Some(_), Some(sheet)) => {
                p { "Checked at " (began) " for " (who) "." }
                (result(sheet))
            },
        }
        form method="post" action="/record/check" novalidate {
            div.field {
                label for="head" { "A head seen elsewhere (optional)" }
                p.hint #head-hint { "As a report prints it: the number of entries, a blank, the hash. \
                    The record must continue it." }
                input #head name="head" size="40" autocomplete="off" aria-describedby="head-hint";
            }
            button { "Check the record now" }
        }
    }
}

fn result(Sheet { checked, hint }: &Sheet) -> Markup {
    html! {
        @if checked.sound {
            p role="status" {
                b { "The record checks. " }
                (checked.entries) " entries, " (checked.evidence) " evidence files, "
                (checked.verdicts_reached_again) " verdicts reached again."
            }
        } @else {
            div.problems role="alert" {
                h2 { span aria-hidden="true" { "● " } "The record does not check" }
                ul { @for fault in &checked.faults { li { (fault) } } }
                @if let Some(hint) = &hint { p { (hint) } }
                p { "No report is issued until it checks. Call the quality manager." }
            }
        }
        @if !checked.tree.is_empty() {
            p { "Head, as a report would print it: " code { (checked.tree) } }
            p { (checked.signed_heads) " signed heads were held against the entries." }
        }
        @for entry in &checked.keys_lost {
            p.abnormal { "◆ " a href={ "/record/" (entry) } { "Entry " (entry) }
                " began a key without the signature of the one before it." }
        }
    }
}
