//! One report: its files from the evidence, and the head of the record that it prints.

use axum::Json;
use axum::extract::{Path, State};
use axum::response::Response;
use axum::routing::get;
use ledger::blob::BlobError;
use ledger::proof::Part;
use maud::{Markup, html};
use report::csv::Reader;
use trial::number::ReportNumber;
use trial::signature::Signed;
use utoipa_axum::router::OpenApiRouter;
use utoipa_axum::routes;

use crate::book::{OpenBook, from_ledger};
use crate::problem::Problem;
use crate::step::rests::parts;
use crate::web::answer::{ProblemDocument, Refused, RefusedTwin};
use crate::web::archive::Packed;
use crate::web::asked::Given;
use crate::web::download::attachment;
use crate::web::site::{Person, Place, Site};

use super::super::sign::{table as signatures, way};
use super::{Issued, files, line, replaced};

/// The routes.
pub(super) fn routes() -> OpenApiRouter<Site> {
    OpenApiRouter::new()
        .route("/reports/{number}", get(page))
        .routes(routes!(twin))
        .routes(routes!(bundle))
        .route("/reports/{number}/{form}", get(file))
}

async fn page(
    State(site): State<Site>,
    person: Person,
    Given(Path(number)): Given<Path<String>>,
) -> Result<Markup, Refused> {
    let place = Place { here: "/reports", heading: "Report" };
    let number = known(&site, &number).await?;
    site.page(person, place, move |book| look(book, number), main).await
}

/// One report
#[utoipa::path(get, path = "/api/reports/{number}",
    params(("number" = u32, Path, description = "Its number")), responses(
    (status = 200, body = Issued),
    (status = "default", body = ProblemDocument, content_type = "application/problem+json"),
))]
async fn twin(
    State(site): State<Site>,
    _person: Person,
    Given(Path(number)): Given<Path<String>>,
) -> Result<Json<Issued>, RefusedTwin> {
    let number = known(&site, &number).await?;
    Ok(Json(site.read(move |book| look(book, number)).await?))
}

/// One of a report's files.
async fn file(
    State(site): State<Site>,
    _person: Person,
    Given(Path((number, form))): Given<Path<(String, String)>>,
) -> Result<Response, Refused> {
    let number = known(&site, &number).await?;
    if form == "bundle" {
        return packed(&site, number).await;
    }
    let asked = form.clone();
    let found = site.read(move |book| written(book, number, &asked)).await?;
    match found {
        Some((name, bytes)) => Ok(attachment(&name, bytes)),
        None => Err(Refused::not_found(
            Problem::used_wrongly(format!("a report has no form `{form}`"))
                .hint("Ask for pdf, json, csv, spreadsheet or bundle."),
        )),
    }
}

/// What a report rests on, with the proof that it stands in the record: the files of `export
/// --report` as a tar
#[utoipa::path(get, path = "/api/reports/{number}/bundle",
    params(("number" = u32, Path, description = "Its number")), responses(
    (status = 200, body = Vec<u8>, content_type = "application/x-tar"),
    (status = "default", body = ProblemDocument, content_type = "application/problem+json"),
))]
async fn bundle(
    State(site): State<Site>,
    _person: Person,
    Given(Path(number)): Given<Path<String>>,
) -> Result<Response, RefusedTwin> {
    let number = known(&site, &number).await?;
    Ok(packed(&site, number).await?)
}

/// The bundle of a report as one file.
async fn packed(site: &Site, number: ReportNumber) -> Result<Response, Refused> {
    let packed = site.read(move |book| {
        let (parts, blobs) = (parts(book, number)?, book.book().evidence_files());
        let issued = book.history().report(number).map_or(0, |(at, ..)| at.unix_microseconds());
        let at = u64::try_from(issued / 1_000_000).unwrap_or(0);
        Ok(Packed { folder: format!("{number}-bundle"), at, parts, blobs })
    });
    let packed = packed.await?;
    // What is missing is said before the first piece is on its way.
    let checked = site.aside(move || {
        let missing = packed.parts.iter().find_map(|(_, part)| match part {
            Part::Evidence(hash) if !packed.blobs.holds(*hash) => Some(*hash),
            Part::Evidence(_) | Part::Text(_) => None,
        });
        match missing {
            Some(hash) => Err(from_ledger(&BlobError::Missing { hash }.into())),
            None => Ok(packed),
        }
    });
    Ok(checked.await?.answer())
}

/// A report that is in the book.
async fn known(site: &Site, text: &str) -> Result<ReportNumber, Refused> {
    let number = text.strip_prefix("R-").unwrap_or(text).parse().map(ReportNumber).ok();
    let found = match number {
        Some(number) => site.read(move |book| Ok(book.history().report(number).is_some())).await?,
        None => false,
    };
    number.filter(|_| found).ok_or_else(|| {
        Refused::not_found(
            Problem::used_wrongly(format!("there is no report {text} in this book"))
                .hint("Choose one under Reports."),
        )
    })
}

/// One of a report's files: name and bytes.
fn written(
    book: &OpenBook,
    number: ReportNumber,
    form: &str,
) -> Result<Option<(String, Vec<u8>)>, Problem> {
    let Some((.., issued)) = book.history().report(number) else { return Ok(None) };
    let evidence = |hash| book.book().evidence(hash).map_err(|error| from_ledger(&error));
    let table = |reader| -> Result<Vec<u8>, Problem> {
        let content = report::json::read(&evidence(issued.content)?).map_err(|error| {
            Problem::surroundings(format!("the data of report {number} cannot be read"))
                .because(&error)
        })?;
        Ok(report::csv::write(&content, reader).into_bytes())
    };
    Ok(match form {
        "pdf" => Some((format!("{number}.pdf"), evidence(issued.pdf)?)),
        "json" => Some((format!("{number}.json"), evidence(issued.content)?)),
        "csv" => Some((format!("{number}.csv"), table(Reader::Program)?)),
        "spreadsheet" => Some((format!("{number}-spreadsheet.csv"), table(Reader::Spreadsheet)?)),
        _ => None,
    })
}

fn look(book: &OpenBook, number: ReportNumber) -> Result<Issued, Problem> {
    let report = book.history().report(number);
    let report = report.ok_or_else(|| Problem::used_wrongly(format!("there is no {number}")))?;
    Ok(line(book, report, &replaced(book.history().reports())))
}

fn main(report: &Issued) -> Markup {
    html! {
        p.sentence {
            "Report R-" (report.number) " on plan "
            a href={ "/plans/" (report.plan) } { "P-" (report.plan) }
            " was issued at " (report.shown_at) " by " (report.by) "."
        }
        @if let Some(by) = report.replaced_by {
            p.abnormal { "◆ " a href={ "/reports/" (by) } { "Report R-" (by) } " takes its place." }
        }
        @if let Some(earlier) = report.replaces {
            p { "It takes the place of " a href={ "/reports/" (earlier) } { "report R-" (earlier) } "." }
        }
        dl {
            @if let Some(language) = report.in_another_language() { dt { "Language" } dd { (language) } }
            dt { "Job" } dd { (report.job) }
            dt { "Part" } dd { (report.part) }
            dt { "Specimens" } dd { @for (place, specimen) in report.specimens.iter().enumerate() {
                @if place > 0 { ", " }
                a href={ "/specimens/" (report.plan) "-" (specimen) } { "specimen " (specimen) }
            } }
        }
        h2 { "Signatures" }
        @if report.signatures.is_empty() { p { "It was issued without signatures in the record." } }
        @else { (signatures(&report.signatures)) }
        p.onward { a href=(way(Signed::Report(ReportNumber(report.number)), "approved", &format!("/reports/{}", report.number))) {
            "Sign the issued report"
        } }
        h2 { "Files" }
        p { (files(report.number)) " "
            a href={ "/reports/" (report.number) "/spreadsheet" } { "CSV for a spreadsheet" } " "
            a href={ "/reports/" (report.number) "/bundle" } { "Bundle for the customer" } }
        h2 { "Head of the record that it prints" }
        p { code { (report.head) } }
        p { "Whoever holds the printed report can hold the record against this number and hash: "
            a href="/record/check" { "Check the record" } ". The bundle for the customer is what \
            the report rests on, with the proof that it stands in the record: unpack it with "
            code { "tar -xf" } ", check it with " code { "cinderbook verify" } "." }
        @if report.replaced_by.is_none() {
            h2 { "Replace it" }
            p { "A report is never changed. One that takes its place says what changed and why." }
            p { a.button.second href={ "/reports/new?plan=" (report.plan) } { "Issue one in its place" } }
        }
    }
}
