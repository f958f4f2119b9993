//! Issues a report.

use report::content::{Issue, PhotoShown, ReadAgain, Supersession, compose};
use report::csv::Reader;
use report::pdf::{Attachments, Curve};
use trial::confirmation::{Determination, DeterminationSource};
use trial::fact::{EvidenceHash, EvidenceKind, Fact, IssuedReport};
use trial::history::History;
use trial::number::{EntryNumber, PlanNumber, ReportNumber};

use super::accept;
use super::confirm::{Heating, read};
use crate::book::{OpenBook, from_ledger};
use crate::output::Output;
use crate::problem::Problem;

/// A report as it was issued.
pub(crate) struct Issued {
    /// Its number.
    pub(crate) number: ReportNumber,
    /// The pages.
    pub(crate) pdf: Vec<u8>,
    /// The same as data.
    pub(crate) json: Vec<u8>,
    /// Its values, one a row.
    pub(crate) csv: String,
}

/// The number that the next report gets.
pub(crate) fn next_number(history: &History) -> ReportNumber {
    ReportNumber(history.reports().iter().map(|(_, _, it)| it.number.0).max().unwrap_or(0) + 1)
}

/// Issues the report of a plan: composes it from the record, files it, keeps that it was issued.
pub(crate) fn report(
    book: &mut OpenBook,
    plan: PlanNumber,
    supersedes: Option<Supersession>,
    output: &Output,
) -> Result<Issued, Problem> {
    book.plan(plan)?;
    accept::none_waits(book, plan)?;
    let head = book.book().head().ok_or_else(|| Problem::used_wrongly("the book is empty"))?;
    let head = (EntryNumber(head.number), EvidenceHash(head.hash.0));
    let mut issue = Issue {
        number: next_number(book.history()),
        at: book.now()?,
        by: book.who()?,
        head,
        made_by: format!("Cinderbook {}", env!("CARGO_PKG_VERSION")),
        supersedes,
        read_again: Vec::new(),
        photos: Vec::new(),
    };
    let mut shown = Attachments::default();
    traces(book, plan, &mut issue, &mut shown)?;
    photographs(book, plan, &mut issue, &mut shown)?;
    let content = compose(book.history(), plan, &issue)
        .map_err(|error| Problem::used_wrongly(error.to_string()).hint(error.hint()))?;
    let json = report::json::write(&content).map_err(|error| unset(&error))?.into_bytes();
    let pdf = output
        .during("setting the pages", || report::pdf::render(&content, &shown))
        .map_err(|error| match error.hint() {
            Some(hint) => Problem::used_wrongly(error.to_string()).hint(hint),
            None => unset(&error),
        })?;
    let number = issue.number;
    let kind = EvidenceKind::Report;
    let filed_content = book.file_bytes(&format!("{number}.json"), kind, &mut json.as_slice())?;
    let filed_pdf = book.file_bytes(&format!("{number}.pdf"), kind, &mut pdf.as_slice())?;
    let issued = IssuedReport {
        number,
        plan,
        supersedes: issue.supersedes.map(|earlier| earlier.replaces),
        content: filed_content.hash,
        pdf: filed_pdf.hash,
        head,
    };
    book.keep(&Fact::ReportIssued(issued), output)?;
    let csv = report::csv::write(&content, Reader::Program);
    Ok(Issued { number, pdf, json, csv })
}

fn unset(error: &dyn std::error::Error) -> Problem {
    Problem::surroundings("cannot set the report: this is a bug of ours").because(error)
}

/// The traces of the confirmations that the plan's runs were made under, read again from the
/// evidence as they were read then.
fn traces(
    book: &OpenBook,
    plan: PlanNumber,
    issue: &mut Issue,
    shown: &mut Attachments,
) -> Result<(), Problem> {
    let mut confirmations: Vec<_> =
        book.history().runs(plan).iter().map(|run| run.confirmation).collect();
    confirmations.dedup();
    let made: Vec<&Determination> = confirmations
        .iter()
        .filter_map(|number| book.history().confirmation(*number))
        .flat_map(|confirmation| &confirmation.determinations)
        .collect();
    for made in made {
        let DeterminationSource::Trace { evidence, read_as } = &made.source else { continue };
        let bytes = book.book().evidence(evidence.hash).map_err(|error| from_ledger(&error))?;
        let heating = Heating { plan, read_as, flame_height: None };
        let read = read(book, &heating, &evidence.name, bytes.as_slice())?;
        if let Ok(rise) = read.found {
            let (start, end) = (rise.start, rise.end);
            issue.read_again.push(ReadAgain { determination: made.number, start, end });
        }
        shown.curves.push(Curve { determination: made.number.0, trace: read.trace });
    }
    Ok(())
}

/// The photographs of the plan's specimens, those from before the flame first.
fn photographs(
    book: &OpenBook,
    plan: PlanNumber,
    issue: &mut Issue,
    shown: &mut Attachments,
) -> Result<(), Problem> {
    for recorded in book.history().runs(plan) {
        let observed = recorded.run.observed();
        let before = book.history().photos_before(plan, observed.specimen).iter();
        let after = observed.evidence.iter().filter(|it| it.kind == EvidenceKind::Photo);
        let all = before.map(|it| (it, ", before the flame")).chain(after.map(|it| (it, "")));
        for (evidence, when) in all {
            let bytes = book.book().evidence(evidence.hash).map_err(|error| from_ledger(&error))?;
            let caption = format!("Specimen {}{when}: {}", observed.specimen, evidence.name);
            issue.photos.push(PhotoShown { evidence: evidence.clone(), caption });
            shown.photos.push(bytes);
        }
    }
    Ok(())
}
