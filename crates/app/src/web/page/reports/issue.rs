//! Issues a report: first what it will say is checked, then it is issued, once.

use axum::Json;
use axum::extract::{Form, Query, State};
use axum::http::StatusCode;
use axum::response::Redirect;
use axum::routing::{get, post};
use maud::{Markup, html};
use report::content::Supersession;
use serde::{Deserialize, Serialize};
use trial::fact::{IssuedReport, Language};
use trial::moment::Moment;
use trial::number::{PersonName, PlanNumber};
use utoipa::ToSchema;
use utoipa_axum::router::OpenApiRouter;

use crate::book::OpenBook;
use crate::output::Output;
use crate::problem::{Exit, Problem};
use crate::step;
use crate::step::sign::SignatureShown;
use crate::web::answer::{ProblemDocument, Refused, RefusedTwin, sentence};
use crate::web::asked::{Document, Given};
use crate::web::page::{alarm, device, when};
use crate::web::site::{Person, Place, Site};

use super::super::sign::table as signatures;
use super::{Issued, line, replaced};

/// What is to be issued.
#[derive(Debug, Default, Deserialize, ToSchema)]
#[serde(default, deny_unknown_fields)]
pub(super) struct Issuing {
    /// The plan's number.
    plan: u32,
    /// How many reports on this plan were issued before: so that asking twice issues once.
    issued_before: usize,
    /// Why the last one is replaced, where there is one.
    reason: String,
    /// What changed, one sentence a line, where one is replaced.
    changes: String,
    /// What the clock of the device shows that asks, such as `2026-11-25T10:32:00Z`; empty where it
    /// does not say so.
    device_clock: String,
    /// The language it is written in, `en` or `de`; English where it is not said.
    language: String,
}

/// A plan whose report is asked for.
#[derive(Deserialize)]
struct Asked {
    plan: String,
}

/// What is checked before a report is issued.
#[derive(Serialize)]
struct Before {
    plan: u32,
    person: String,
    job: String,
    part: String,
    customer: String,
    verdict: Option<String>,
    /// The specimens whose doubtful times nobody has accepted.
    waits_for: Vec<u32>,
    /// Signatures that are asked for and missing, in words.
    unsigned: Vec<String>,
    /// Those that stand.
    signatures: Vec<SignatureShown>,
    /// What changed since the last report, as the record has it.
    changed: Vec<String>,
    next: u32,
    issued_before: usize,
    last: Option<String>,
    /// What the last check of the record found; then nothing is issued.
    record_alarm: Option<String>,
}

/// The routes.
pub(super) fn routes() -> OpenApiRouter<Site> {
    OpenApiRouter::new().route("/reports/new", get(page)).route("/reports", post(act))
}

async fn page(
    State(site): State<Site>,
    person: Person,
    Given(Query(Asked { plan })): Given<Query<Asked>>,
) -> Result<Markup, Refused> {
    let place = Place { here: "/reports", heading: "Check before issuing" };
    let name = person.0.to_string();
    site.page(person, place, move |book| look(book, &plan, name), main).await
}

async fn act(
    State(site): State<Site>,
    person: Person,
    Given(Form(asked)): Given<Form<Issuing>>,
) -> Result<Redirect, Refused> {
    let issued = issue(&site, person, asked).await?;
    Ok(Redirect::to(&format!("/reports/{}", issued.number)))
}

/// Issues a report
#[utoipa::path(post, path = "/api/reports", request_body = Issuing, responses(
    (status = 201, body = Issued),
    (status = "default", body = ProblemDocument, content_type = "application/problem+json"),
))]
pub(super) async fn twin(
    State(site): State<Site>,
    person: Person,
    Document(asked): Document<Issuing>,
) -> Result<(StatusCode, Json<Issued>), RefusedTwin> {
    Ok((StatusCode::CREATED, Json(issue(&site, person, asked).await?)))
}

async fn issue(site: &Site, person: Person, asked: Issuing) -> Result<Issued, Refused> {
    site.act(person, move |book, output| once(book, output, &asked)).await
}

fn once(book: &mut OpenBook, output: &Output, asked: &Issuing) -> Result<Issued, Problem> {
    let plan = PlanNumber(asked.plan);
    let before = reports(book, plan);
    let supersedes = match before.last() {
        Some((at, by, last)) if before.len() != asked.issued_before => {
            let said = format!("Report {} was issued at {} by {by}", last.number, when(*at));
            let hint = format!(
                "Nothing was issued a second time. Open /reports/{}; a report that takes its \
                 place is issued from there.",
                last.number.0
            );
            return Err(Problem { exit: Exit::Finding, ..Problem::used_wrongly(said).hint(hint) });
        }
        Some((.., last)) => Some(Supersession {
            replaces: last.number,
            reason: said(&asked.reason, "why it is replaced")?,
            changes: lines(&asked.changes)?,
        }),
        None => None,
    };
    let device_clock = step::clocks::told(&asked.device_clock)?;
    let language = language(&asked.language)?;
    let wanted = step::report::Wanted { plan, supersedes, device_clock, language };
    let issued = step::report::report(book, wanted, output)?;
    let found = book.history().report(issued.number);
    let found = found.ok_or_else(|| Problem::surroundings("the report is not in the record"))?;
    Ok(line(book, found, &replaced(book.history().reports())))
}

/// The language that is named; English where none is.
pub(in crate::web::page) fn language(word: &str) -> Result<Language, Problem> {
    let named = if word.is_empty() { Some(Language::English) } else { Language::of_word(word) };
    named.ok_or_else(|| {
        Problem::used_wrongly(format!("`{word}` is no language that reports are written in"))
            .hint("Choose English, `en`, or German, `de`.")
    })
}

/// The choice of a report's language.
pub(in crate::web::page) fn language_choice() -> Markup {
    html! {
        div.field {
            label for="language" { "Language of the report" }
            select #language name="language" {
                @for language in Language::ALL {
                    option value=(language.word()) { (language_told(*language)) }
                }
            }
        }
    }
}

/// The language in words.
pub(in crate::web::page) const fn language_told(language: Language) -> &'static str {
    match language {
        Language::English => "English",
        Language::German => "German",
    }
}

fn said(text: &str, what: &str) -> Result<String, Problem> {
    match text.trim() {
        "" => Err(Problem::used_wrongly(format!("it is not said {what}"))
            .hint("A report that takes another's place says what changed and why.")),
        text => Ok(text.to_owned()),
    }
}

fn lines(text: &str) -> Result<Vec<String>, Problem> {
    let said = said(text, "what changed")?;
    Ok(said.lines().map(|line| line.trim().to_owned()).filter(|line| !line.is_empty()).collect())
}

/// The reports on a plan in the order of issue.
fn reports(book: &OpenBook, plan: PlanNumber) -> Vec<(Moment, PersonName, IssuedReport)> {
    book.history().reports_on(plan).cloned().collect()
}

fn look(book: &OpenBook, plan: &str, person: String) -> Result<Before, Problem> {
    let number: u32 = plan.parse().map_err(|_| {
        Problem::used_wrongly(format!("`{plan}` is no number of a plan"))
            .hint("Choose a plan under Reports.")
    })?;
    let number = PlanNumber(number);
    let draft = book.plan(number)?.draft();
    let history = book.history();
    let before = reports(book, number);
    Ok(Before {
        plan: number.0,
        person,
        job: draft.job.clone(),
        part: draft.part.description.clone(),
        customer: draft.customer.name.clone(),
        verdict: history.verdict(number).map(|it| it.standing.word().replace('-', " ")),
        waits_for: history.times_to_accept(number).iter().map(|(which, _)| which.0).collect(),
        unsigned: history
            .signatures_wanted(number)
            .iter()
            .map(|it| format!("{} is not signed as {}", it.what, it.meaning))
            .collect(),
        signatures: history
            .signatures_of(number)
            .into_iter()
            .map(|it| step::sign::shown(history, it))
            .collect(),
        changed: step::report::changed_since(history, number),
        next: step::report::next_number(history).0,
        issued_before: before.len(),
        last: before.last().map(|it| it.2.number.to_string()),
        record_alarm: alarm::of(book),
    })
}

fn main(before: &Before) -> Markup {
    html! {
        (alarm::shown(before.record_alarm.as_deref()))
        dl {
            dt { "Plan" } dd { a href={ "/plans/" (before.plan) } { "P-" (before.plan) } }
            dt { "Job" } dd { (before.job) }
            dt { "Part" } dd { (before.part) }
            dt { "Customer" } dd { (before.customer) }
            dt { "Verdict" } dd { (before.verdict.as_deref().unwrap_or("not judged yet")) }
            dt { "Number" } dd { "R-" (before.next) }
            @if let Some(last) = &before.last { dt { "In place of" } dd { (last) } }
        }
        @if before.verdict.is_none() {
            p { "A plan is judged before its report is issued. "
                a href={ "/plans/" (before.plan) } { "Go to the plan" } }
        } @else if before.waits_for.is_empty() && before.unsigned.is_empty() { (form(before)) }
        @for specimen in &before.waits_for {
            p { "The times of specimen " (specimen) " are doubtful, and nobody has accepted them. "
                a href={ "/specimens/" (before.plan) "-" (specimen) "#times" } { "Look at them" } }
        }
        @if !before.unsigned.is_empty() {
            p { "It is issued once it is signed:" }
            ul { @for missing in &before.unsigned { li { (sentence(missing)) } } }
            p { a.button href={ "/plans/" (before.plan) "/review" } { "Review of plan P-" (before.plan) } }
        }
        @if !before.signatures.is_empty() {
            h2 { "Signatures" }
            (signatures(&before.signatures))
        }
    }
}

fn form(before: &Before) -> Markup {
    html! {
        form method="post" action="/reports" novalidate {
            input type="hidden" name="plan" value=(before.plan);
            input type="hidden" name="issued_before" value=(before.issued_before);
            (device::clock_shown())
            @if let Some(last) = &before.last {
                div.field {
                    label for="reason" { "Why is " (last) " replaced?" }
                    textarea #reason name="reason" rows="3" {}
                }
                div.field {
                    label for="changes" { "What changed?" }
                    p.hint #changes-hint { "One sentence a line; the report prints them." }
                    textarea #changes name="changes" rows="3" aria-describedby="changes-hint" {
                        (before.changed.join("\n"))
                    }
                }
            }
            (language_choice())
            p { "A report is never changed afterwards. It prints the head of the record, and who \
                issued it." }
            button { "Issue report R-" (before.next) " as " (before.person) }
        }
    }
}
