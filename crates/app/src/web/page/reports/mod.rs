//! Reports: what was issued, each as PDF, as data and as a table; what may be issued.

pub(super) mod issue;
mod one;

use std::collections::BTreeMap;

use axum::Json;
use axum::extract::{Query, State};
use axum::routing::get;
use maud::{Markup, html};
use serde::{Deserialize, Serialize};
use trial::fact::{IssuedReport, Language};
use trial::history::History;
use trial::moment::Moment;
use trial::number::{PersonName, PlanNumber, ReportNumber};
use trial::signature::Signed;
use utoipa::{IntoParams, ToSchema};
use utoipa_axum::router::OpenApiRouter;
use utoipa_axum::routes;

use crate::book::OpenBook;
use crate::problem::Problem;
use crate::step::proof;
use crate::step::sign::{self, SignatureShown};
use crate::web::answer::{ProblemDocument, Refused, RefusedTwin};
use crate::web::asked::Given;
use crate::web::page::{alarm, when};
use crate::web::site::{Person, Place, Site};

/// So many reports, and so many plans, stand on a page.
const LINES: usize = 50;

const PLACE: Place = Place { here: "/reports", heading: "Reports" };

/// Which reports are asked for.
#[derive(Clone, Debug, Default, Deserialize, IntoParams)]
#[into_params(parameter_in = Query)]
#[serde(default)]
struct Asked {
    /// Only reports with a number below this one
    before: String,
}

/// What was issued, and what may be.
#[derive(Serialize, ToSchema)]
struct Reports {
    /// What the last check of the record found; then no report is issued.
    record_alarm: Option<String>,
    /// Plans that were judged and have no report yet, at most 50.
    to_issue: Vec<Judged>,
    /// How many more of them there are.
    more_to_issue: usize,
    /// Reports, newest first.
    issued: Vec<Issued>,
    /// More follow: ask again with `before` set to this number.
    before: Option<u32>,
}

/// A plan that was judged.
#[derive(Serialize, ToSchema)]
struct Judged {
    /// Its number.
    plan: u32,
    /// The laboratory's job.
    job: String,
    /// The part under test.
    part: String,
    /// The verdict, in words.
    verdict: String,
}

/// A report in one line.
#[derive(Serialize, ToSchema)]
pub(super) struct Issued {
    /// Its number.
    number: u32,
    /// On which plan.
    plan: u32,
    /// The laboratory's job.
    job: String,
    /// The part under test.
    part: String,
    /// The specimens that were tested under the plan.
    specimens: Vec<u32>,
    /// When it was issued, in UTC.
    at: String,
    /// By whom.
    by: String,
    /// The language it is written in, such as `de`.
    language: &'static str,
    /// The report it takes the place of.
    replaces: Option<u32>,
    /// The report that takes its place.
    replaced_by: Option<u32>,
    /// The head of the record that it prints: number of entries and hash.
    head: String,
    /// The signatures on its plan and its specimens, and on itself, as they stand now.
    signatures: Vec<SignatureShown>,
    #[serde(skip)]
    shown_at: String,
}

impl Issued {
    /// The language, where it is not that of the pages.
    fn in_another_language(&self) -> Option<&'static str> {
        let language = Language::of_word(self.language)?;
        (language != Language::English).then(|| issue::language_told(language))
    }
}

/// The routes.
pub(super) fn routes() -> OpenApiRouter<Site> {
    OpenApiRouter::new()
        .route("/reports", get(page))
        .routes(routes!(twin, issue::twin))
        .merge(issue::routes())
        .merge(one::routes())
}

async fn page(
    State(site): State<Site>,
    person: Person,
    Given(Query(asked)): Given<Query<Asked>>,
) -> Result<Markup, Refused> {
    site.page(person, PLACE, move |book| look(book, &asked), main).await
}

/// The reports
#[utoipa::path(get, path = "/api/reports", params(Asked), responses(
    (status = 200, body = Reports),
    (status = "default", body = ProblemDocument, content_type = "application/problem+json"),
))]
async fn twin(
    State(site): State<Site>,
    _person: Person,
    Given(Query(asked)): Given<Query<Asked>>,
) -> Result<Json<Reports>, RefusedTwin> {
    Ok(Json(site.read(move |book| look(book, &asked)).await?))
}

fn look(book: &OpenBook, asked: &Asked) -> Result<Reports, Problem> {
    let before = match asked.before.trim() {
        "" => u32::MAX,
        text => text.parse().map_err(|_| {
            Problem::used_wrongly(format!("`{text}` is no number of a report"))
                .hint("Give `before` a whole number, such as the last one shown.")
        })?,
    };
    let history = book.history();
    let replaced = replaced(history.reports());
    let older = history.reports().iter().rev().filter(|(.., it)| it.number.0 < before);
    let mut older = older.map(|report| line(book, report, &replaced));
    let issued: Vec<Issued> = older.by_ref().take(LINES).collect();
    let more = older.next().is_some();
    let waiting = history.open_plans().filter(|plan| history.reports_on(*plan).next().is_none());
    let mut to_issue: Vec<Judged> = waiting.filter_map(|plan| judged(book, plan)).collect();
    let more_to_issue = to_issue.len().saturating_sub(LINES);
    to_issue.truncate(LINES);
    let before = issued.last().filter(|_| more).map(|last| last.number);
    let record_alarm = alarm::of(book);
    Ok(Reports { record_alarm, to_issue, more_to_issue, issued, before })
}

/// Which report takes the place of which.
pub(super) fn replaced(
    reports: &[(Moment, PersonName, IssuedReport)],
) -> BTreeMap<ReportNumber, ReportNumber> {
    reports.iter().filter_map(|(.., later)| Some((later.supersedes?, later.number))).collect()
}

/// A report in one line.
pub(super) fn line(
    book: &OpenBook,
    (at, by, report): &(Moment, PersonName, IssuedReport),
    replaced: &BTreeMap<ReportNumber, ReportNumber>,
) -> Issued {
    let draft = book.history().plan(report.plan).map(trial::plan::Plan::draft);
    let runs = book.history().runs(report.plan).iter();
    Issued {
        specimens: runs.map(|recorded| recorded.run.specimen().0).collect(),
        number: report.number.0,
        plan: report.plan.0,
        job: draft.map(|it| it.job.clone()).unwrap_or_default(),
        part: draft.map(|it| it.part.description.clone()).unwrap_or_default(),
        at: at.to_string(),
        shown_at: when(*at),
        by: by.to_string(),
        language: report.language.word(),
        replaces: report.supersedes.map(|it| it.0),
        replaced_by: replaced.get(&report.number).map(|it| it.0),
        head: proof::printed(book, report),
        signatures: signatures(book.history(), report),
    }
}

/// The signatures that a report was issued on, and those on itself, as they stand now.
fn signatures(history: &History, report: &IssuedReport) -> Vec<SignatureShown> {
    let before = history.signatures_of(report.plan).into_iter();
    let before = before.filter(|it| it.entry <= report.head.0);
    let own = history.signatures_on(Signed::Report(report.number));
    before.chain(own).map(|it| sign::shown(history, it)).collect()
}

fn judged(book: &OpenBook, plan: PlanNumber) -> Option<Judged> {
    let verdict = book.history().verdict(plan)?;
    let draft = book.history().plan(plan)?.draft();
    Some(Judged {
        plan: plan.0,
        job: draft.job.clone(),
        part: draft.part.description.clone(),
        verdict: verdict.standing.word().replace('-', " "),
    })
}

fn main(reports: &Reports) -> Markup {
    html! {
        (alarm::shown(reports.record_alarm.as_deref()))
        h2 { "Judged, no report yet" }
        @if reports.to_issue.is_empty() { p { "No judged plan waits for its report." } }
        @else {
            div.wide role="region" aria-label="Plans without a report" tabindex="0" {
                table {
                    thead { tr { th { "Plan" } th { "Job" } th { "Part" } th { "Verdict" } th { "" } } }
                    tbody { @for plan in &reports.to_issue {
                        tr {
                            td { a href={ "/plans/" (plan.plan) } { "P-" (plan.plan) } }
                            td { (plan.job) }
                            td { (plan.part) }
                            td { (plan.verdict) }
                            td { a.button href={ "/reports/new?plan=" (plan.plan) } { "Issue report" } }
                        }
                    } }
                }
            }
            @if reports.more_to_issue > 0 { p { "And " (reports.more_to_issue) " more." } }
        }
        h2 { "Issued" }
        @if reports.issued.is_empty() { p { "No report is as asked." } }
        @else { (table(&reports.issued)) }
        @if let Some(before) = reports.before {
            p { a href={ "/reports?before=" (before) } { "Older reports" } }
        }
    }
}

fn table(issued: &[Issued]) -> Markup {
    html! {
        div.wide role="region" aria-label="Issued reports" tabindex="0" {
            table {
                thead { tr {
                    th { "Report" } th { "Job" } th { "Part" } th { "Issued" } th { "By" } th { "Files" }
                } }
                tbody { @for report in issued {
                    tr {
                        td {
                            a href={ "/reports/" (report.number) } { "R-" (report.number) }
                            @if let Some(by) = report.replaced_by {
                                br; span.abnormal { "◆ replaced by " span.whole { "R-" (by) } }
                            }
                            @if let Some(earlier) = report.replaces {
                                br; "in place of " span.whole { "R-" (earlier) }
                            }
                            @if let Some(language) = report.in_another_language() { br; "in " (language) }
                        }
                        td { (report.job) }
                        td { (report.part) }
                        td.moment { (report.shown_at) }
                        td { (report.by) }
                        td { (files(report.number)) }
                    }
                } }
            }
        }
    }
}

/// The files of a report.
pub(super) fn files(number: u32) -> Markup {
    html! {
        a href={ "/reports/" (number) "/pdf" } { "PDF" } " "
        a href={ "/reports/" (number) "/json" } { "JSON" } " "
        a href={ "/reports/" (number) "/csv" } { "CSV" }
    }
}
