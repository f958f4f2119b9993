//! Issues a report.

use report::content::{Issue, PhotoShown, PhotoTaken, ReadAgain, Supersession, compose};
use report::csv::Reader;
use report::pdf::{Attachments, Curve, smaller};
use trial::confirmation::{Determination, DeterminationSource};
use trial::fact::{Authorisation, EvidenceHash, EvidenceKind, Fact, IssuedReport, Language};
use trial::finding::Stage;
use trial::history::History;
use trial::moment::Moment;
use trial::number::{EntryNumber, PlanNumber, ReportNumber, SpecimenNumber};

use super::confirm::{Heating, read};
use super::{accept, clocks, people, proof, sign};
use crate::book::{OpenBook, from_ledger};
use crate::checked;
use crate::output::Output;
use crate::photo;
use crate::problem::Problem;
use crate::typeset::within;
use crate::words::when;

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

/// Which report is asked for.
#[derive(Debug)]
pub(crate) struct Wanted {
    /// Of which plan.
    pub(crate) plan: PlanNumber,
    /// The report it takes the place of.
    pub(crate) supersedes: Option<Supersession>,
    /// What the clock of the device shows that asks; none where this machine itself asks.
    pub(crate) device_clock: Option<Moment>,
    /// The language it is written in.
    pub(crate) language: Language,
}

/// Issues the report of a plan: composes it from the record, files it, keeps that it was issued.
pub(crate) fn report(
    book: &mut OpenBook,
    wanted: Wanted,
    output: &Output,
) -> Result<Issued, Problem> {
    let Wanted { plan, supersedes, device_clock, language } = wanted;
    clocks::agree(book, device_clock)?;
    people::may(book, Authorisation::Issue, (Stage::Report, plan), output)?;
    names_what_it_replaces(book, plan, supersedes.as_ref())?;
    accept::none_waits(book, plan)?;
    sign::all_stand(book, plan)?;
    checked::may_issue(book.book().folder())?;
    proof::begin_aside(book, output);
    let head = book.book().head().ok_or_else(|| Problem::used_wrongly("the book is empty"))?;
    let tree = book.book().tree_head().map_err(|error| from_ledger(&error))?;
    // The head that the pages print, and, below, one that the report itself is in.
    proof::sign_aside(book, output);
    let head = (EntryNumber(head.number), EvidenceHash(head.hash.0));
    let mut issue = Issue {
        number: next_number(book.history()),
        at: book.now()?,
        by: book.who()?,
        head,
        root: EvidenceHash(tree.root.0),
        made_by: format!("Cinderbook {}", env!("CARGO_PKG_VERSION")),
        language,
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
    let patience = book.patience();
    let pdf = output
        .during("setting the pages", || {
            within(patience, move || {
                report::pdf::render(&content, &shown).map(|pdf| (pdf, content))
            })
        })?
        .map_err(|error| match error.hint() {
            Some(hint) => Problem::used_wrongly(error.to_string()).hint(hint),
            None => unset(&error),
        });
    let (pdf, content) = pdf?;
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
        language,
    };
    book.keep(&Fact::ReportIssued(issued), output)?;
    proof::sign_aside(book, output);
    let csv = report::csv::write(&content, Reader::Program);
    Ok(Issued { number, pdf, json, csv })
}

/// A second report on a plan takes the place of the last one, and says why and what changed.
fn names_what_it_replaces(
    book: &OpenBook,
    plan: PlanNumber,
    supersedes: Option<&Supersession>,
) -> Result<(), Problem> {
    let last = book.history().reports_on(plan).last();
    match (last, supersedes) {
        (None, None) => Ok(()),
        (None, Some(named)) => Err(Problem::conflict(format!(
            "{} is no report on plan {plan}: none was issued yet",
            named.replaces
        ))
        .hint("Issue the first one without `--replaces`.")),
        (Some((at, who, last)), None) => {
            let at = when(*at);
            Err(Problem::conflict(format!("report {} was issued at {at} by {who}", last.number))
                .hint(format!(
                    "Nothing was issued a second time. One that takes its place says why, and what \
                     changed: /reports/new?plan={}, or `--replaces {} --reason … --change …`.",
                    plan.0, last.number.0
                )))
        }
        (Some((.., last)), Some(named)) if named.replaces != last.number => {
            Err(Problem::conflict(format!(
                "{} is not the report that stands on plan {plan}: that is {}",
                named.replaces, last.number
            ))
            .hint("Name the one that stands."))
        }
        (Some(_), Some(named)) if named.changes.iter().all(|change| change.trim().is_empty()) => {
            Err(Problem::used_wrongly("it is not said what changed")
                .hint("Say it in one sentence each: the report prints them."))
        }
        (Some(_), Some(_)) => Ok(()),
    }
}

/// What changed since the last report on a plan, as the record has it, one sentence each.
pub(crate) fn changed_since(history: &History, plan: PlanNumber) -> Vec<String> {
    let Some((.., last)) = history.reports_on(plan).last() else { return Vec::new() };
    let head = last.head.0;
    let later = history.amendments_of(plan).into_iter().filter(|it| it.entry > head);
    let told = later.flat_map(|amendment| {
        let (specimen, entry) = (amendment.specimen, amendment.entry);
        amendment.changes.into_iter().map(move |change| {
            format!(
                "Specimen {specimen}, {}: {} instead of {} (entry {entry}).",
                change.what, change.after, change.before
            )
        })
    });
    told.collect()
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
        let before = before.map(|it| (it, PhotoTaken::Before));
        for (evidence, taken) in before.chain(after.map(|it| (it, PhotoTaken::Later))) {
            let bytes = book.book().evidence(evidence.hash).map_err(|error| from_ledger(&error))?;
            shown.photos.push(printed(book, (&evidence.name, observed.specimen), bytes)?);
            let (evidence, specimen) = (evidence.clone(), observed.specimen);
            issue.photos.push(PhotoShown { evidence, specimen, taken });
        }
    }
    Ok(())
}

/// A photograph as it is printed: one that is large as a smaller copy, within the time for pages.
fn printed(
    book: &OpenBook,
    (name, specimen): (&str, SpecimenNumber),
    photo: Vec<u8>,
) -> Result<Vec<u8>, Problem> {
    let (copy, photo) = within(book.patience(), move || (smaller(&photo), photo))?;
    match copy {
        Ok(copy) => Ok(copy.unwrap_or_else(|| photo::without_place(photo))),
        Err(error) => {
            let text = format!("the photograph `{name}` of specimen {specimen} cannot be printed");
            let hint = "Correct what was seen: another file takes its place.";
            Err(Problem::used_wrongly(text).because(&error).hint(hint))
        }
    }
}
