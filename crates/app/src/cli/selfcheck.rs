//! `selfcheck`: published and hand-calculated numbers, computed again on this machine.

mod sheet;

use std::path::PathBuf;

use clap::Args;
use metrology::reference_cases::ReferenceCase;
use serde::Serialize;

use sheet::Sheet;

use super::Global;
use crate::book::OpenBook;
use crate::output::{Form, Output};
use crate::problem::{Exit, Problem};

/// Computes the built-in reference cases on this machine
///
/// Examples:
///   cinderbook selfcheck                            each case: ours, published, tolerance
///   cinderbook selfcheck --markdown > VALIDATION.md the cases alone, the same on every machine
///   cinderbook selfcheck --sheet validation.pdf     the validation sheet of this machine, to be signed
///   cinderbook --book my-book --as "Name" selfcheck --keep
///                                                   the same as an entry, the sheet as evidence
///
/// Exit code 1 when any case lies outside its tolerance.
#[derive(Args, Debug)]
#[command(verbatim_doc_comment)]
pub(crate) struct Selfcheck {
    /// Write the cases as Markdown
    #[arg(long, conflicts_with = "json")]
    markdown: bool,
    /// Write the validation sheet of this machine: .pdf, .txt or .json
    #[arg(long, value_name = "FILE")]
    sheet: Option<PathBuf>,
    /// Keep in the book that the program was validated on this machine
    #[arg(long)]
    keep: bool,
}

/// One case as JSON.
#[derive(Serialize)]
struct Case<'a> {
    name: &'a str,
    source: &'a str,
    unit: &'a str,
    ours: f64,
    published: f64,
    difference: f64,
    tolerance: f64,
    agrees: bool,
    remark: Option<&'a str>,
}

impl Selfcheck {
    /// Runs the command.
    pub(crate) fn run(&self, global: &Global, output: &mut Output) -> Result<Exit, Problem> {
        let mut book = if self.keep { Some(OpenBook::open(global)?) } else { None };
        let cases = output.during("computing the reference cases", all);
        let off = cases.iter().filter(|case| !case.agrees()).count();
        if self.markdown {
            output.value(&page(&cases));
        } else if output.form() == Form::Json {
            output.json(&cases.iter().map(Case::of).collect::<Vec<_>>());
        } else {
            output.value(&lines(&cases));
        }
        let by = match &book {
            Some(book) => Some(book.who()?.0),
            None => global.person.clone(),
        };
        if self.sheet.is_some() || self.keep {
            let sheet = Sheet::of(&cases, by.as_deref())?;
            if let Some(path) = &self.sheet {
                output.file(path, &sheet.written(path)?)?;
                output.word(&format!("The sheet is in {}.", path.display()));
            }
            if let Some(book) = &mut book {
                sheet.keep(book, output)?;
            }
        }
        if off > 0 {
            output.word(&format!("{off} of {} cases lie outside their tolerance.", cases.len()));
            output.word("Measure nothing with this program here, and report this sheet.");
            return Ok(Exit::Finding);
        }
        output.word(&format!("All {} cases lie within their tolerance.", cases.len()));
        output.word("Next: `cinderbook demo` walks a made-up test from plan to report.");
        Ok(Exit::Good)
    }
}

/// The cases of every room that has some.
fn all() -> Vec<ReferenceCase> {
    let mut cases = metrology::reference_cases::reference_cases();
    cases.extend(reading::reference_cases::reference_cases());
    cases.extend(trial::reference_cases::reference_cases());
    cases
}

fn lines(cases: &[ReferenceCase]) -> String {
    let mut lines = String::new();
    let mut source = "";
    for case in cases {
        if case.source != source {
            source = case.source;
            lines.push_str(&format!("{source}\n"));
        }
        let [ours, theirs, difference, tolerance] = shown(case);
        let mark = if case.agrees() { "agrees" } else { "IS OFF" };
        lines.push_str(&format!(
            "  {mark}  {}: {ours} against {theirs} {} (difference {difference}, tolerance {tolerance})\n",
            case.name,
            unit(case)
        ));
    }
    lines
}

/// The cases as the page VALIDATION.md has them.
fn page(cases: &[ReferenceCase]) -> String {
    let off = cases.iter().filter(|case| !case.agrees()).count();
    let mut page = format!(
        "# Validation\n\nPublished and hand-calculated numbers, computed again by `cinderbook selfcheck --markdown`, \
         which made this page; a test holds the two together. {} cases, {off} outside their \
         tolerance. The tolerance follows from the digits that were printed; for trials it adds \
         four standard deviations of their own scatter. A source *from memory* was not at hand \
         when its number was written down; REFERENCES.md says how each document is known.\n\n\
         The arithmetic is the same on every machine, so a laboratory that runs the command gets \
         this page again, bit for bit.\n",
        cases.len()
    );
    let mut source = "";
    for case in cases {
        if case.source != source {
            source = case.source;
            page.push_str(&format!(
                "\n## {source}\n\n| case | ours | published | unit | difference | tolerance | |\n\
                 | --- | --- | --- | --- | --- | --- | --- |\n"
            ));
        }
        let [ours, theirs, difference, tolerance] = shown(case);
        let mark = if case.agrees() { "agrees" } else { "**is off**" };
        let remark = case.remark.map_or_else(String::new, |remark| format!("; {remark}"));
        page.push_str(&format!(
            "| {} | {ours} | {theirs} | {} | {difference} | {tolerance} | {mark}{remark} |\n",
            case.name, case.unit
        ));
    }
    page
}

/// Ours, theirs, difference and tolerance, with one digit more than the tolerance needs.
fn shown(case: &ReferenceCase) -> [String; 4] {
    let decimals = crate::words::decimals(case.tolerance).min(12);
    [
        format!("{:.*}", decimals + 1, case.ours),
        format!("{:.*}", decimals, case.theirs),
        format!("{:+.*}", decimals + 1, case.difference()),
        format!("{:.*}", decimals, case.tolerance),
    ]
}

fn unit(case: &ReferenceCase) -> &'static str {
    if case.unit == "1" { "" } else { case.unit }
}

impl<'a> Case<'a> {
    fn of(case: &'a ReferenceCase) -> Self {
        Self {
            name: &case.name,
            source: case.source,
            unit: case.unit,
            ours: case.ours,
            published: case.theirs,
            difference: case.difference(),
            tolerance: case.tolerance,
            agrees: case.agrees(),
            remark: case.remark,
        }
    }
}
