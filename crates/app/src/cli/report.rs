//! `report`: issues the report of a plan.

use std::path::{Path, PathBuf};

use clap::Args;
use report::content::Supersession;
use trial::fact::Language;
use trial::number::{PlanNumber, ReportNumber};

use super::Global;
use crate::book::OpenBook;
use crate::output::Output;
use crate::problem::{Exit, Problem};
use crate::step::report::{Issued, Wanted, report};

/// Issues the report of a plan as PDF, JSON and CSV
///
/// Examples:
///   cinderbook report 1 --out .
///   cinderbook report 1 --language de
///   cinderbook report 1 --replaces 1 --reason "the part was misnamed" --change "name of the part"
#[derive(Args, Debug)]
#[command(verbatim_doc_comment)]
pub(crate) struct Report {
    /// The plan
    plan: u32,
    /// The folder to write the files to
    #[arg(long, default_value = ".")]
    out: PathBuf,
    /// The language it is written in, en or de; what people typed stays as it is
    #[arg(long, default_value = "en", value_parser = language)]
    language: Language,
    /// The report that this one takes the place of
    #[arg(long, requires = "reason")]
    replaces: Option<u32>,
    /// Why it is replaced
    #[arg(long, requires = "replaces")]
    reason: Option<String>,
    /// What changed; may be given more than once
    #[arg(long, requires = "replaces")]
    change: Vec<String>,
}

impl Report {
    /// Runs the command.
    pub(crate) fn run(&self, global: &Global, output: &mut Output) -> Result<Exit, Problem> {
        let mut book = OpenBook::open(global)?;
        let supersedes = self.replaces.map(|replaces| Supersession {
            replaces: ReportNumber(replaces),
            reason: self.reason.clone().unwrap_or_default(),
            changes: self.change.clone(),
        });
        let plan = PlanNumber(self.plan);
        let wanted = Wanted { plan, supersedes, device_clock: None, language: self.language };
        let issued = report(&mut book, wanted, output)?;
        for path in write(&issued, &self.out, output)? {
            output.value(&path.display().to_string());
        }
        output.word(&format!(
            "Next: `cinderbook export DIR --report {}` gives a bundle that the customer can check.",
            issued.number.0
        ));
        Ok(Exit::Good)
    }
}

fn language(word: &str) -> Result<Language, String> {
    Language::of_word(word).ok_or_else(|| "write en for English, or de for German".to_owned())
}

/// Writes an issued report's files, and gives their paths.
pub(crate) fn write(
    issued: &Issued,
    folder: &Path,
    output: &Output,
) -> Result<Vec<PathBuf>, Problem> {
    let number = issued.number;
    let files: [(&str, &[u8]); 3] =
        [("pdf", &issued.pdf), ("json", &issued.json), ("csv", issued.csv.as_bytes())];
    let mut paths = Vec::new();
    for (ending, bytes) in files {
        let path = folder.join(format!("{number}.{ending}"));
        output.file(&path, bytes)?;
        paths.push(path);
    }
    Ok(paths)
}
