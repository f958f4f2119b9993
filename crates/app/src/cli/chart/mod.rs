//! `chart`: the flame chart, in the terminal and as files; what was done about a call; which results
//! are touched.

mod plain;

use std::path::PathBuf;

use clap::{Args, Subcommand};
use report::csv::Reader;

use super::Global;
use crate::book::OpenBook;
use crate::output::{Form, Output};
use crate::problem::{Exit, Problem};
use crate::step::chart::{ChartSheet, SHOWN, chart, csv, note, pdf};
use crate::step::tested::{TestedSheet, since, tested, tested_csv};

/// Draws the flame chart: whether the flame stays where it was
///
/// Examples:
///   cinderbook chart                          the chart in plain characters
///   cinderbook chart --last 300 --csv         its values, one confirmation a line
///   cinderbook chart --pdf chart.pdf          the chart as PDF
///   cinderbook chart note "tube cleaned, flow set anew"
///   cinderbook chart tested                   what was tested since the last good confirmation
///   cinderbook chart tested C-30 --csv        what was tested since that one
#[derive(Args, Debug)]
#[command(verbatim_doc_comment, args_conflicts_with_subcommands = true)]
pub(crate) struct Chart {
    #[command(subcommand)]
    what: Option<What>,
    /// How many of the last confirmations are shown
    #[arg(long, default_value_t = SHOWN)]
    last: usize,
    /// Write the values as CSV
    #[arg(long, conflicts_with = "pdf")]
    csv: bool,
    /// Write the chart as PDF
    #[arg(long, value_name = "FILE")]
    pdf: Option<PathBuf>,
}

#[derive(Subcommand, Debug)]
enum What {
    /// Notes what was done about the open call, which closes it
    Note {
        /// What was looked at and changed, or why nothing was
        done: String,
    },
    /// Lists what was tested since a confirmation, with the reports issued
    Tested {
        /// The confirmation, such as C-30; the last good one if it is not said
        #[arg(default_value = "")]
        since: String,
        /// Write the list as CSV
        #[arg(long)]
        csv: bool,
    },
}

impl Chart {
    /// Runs the command.
    pub(crate) fn run(&self, global: &Global, output: &mut Output) -> Result<Exit, Problem> {
        let mut book = OpenBook::open(global)?;
        match &self.what {
            Some(What::Note { done }) => {
                note(&mut book, done, output)?;
                output.value("the call is closed");
                output.word("Next: `cinderbook chart`.");
            }
            Some(What::Tested { since: word, csv }) => {
                let sheet = tested(book.history(), since(book.history(), word)?, usize::MAX);
                list(&sheet, *csv, output);
            }
            None => self.show(&book, output)?,
        }
        Ok(Exit::Good)
    }

    fn show(&self, book: &OpenBook, output: &mut Output) -> Result<(), Problem> {
        if let Some(path) = &self.pdf {
            let bytes = pdf(book, self.last, output)?;
            output.file(path, &bytes)?;
            output.value(&format!("{}\t{} bytes", path.display(), bytes.len()));
            return Ok(());
        }
        let sheet = chart(book.history(), self.last);
        if output.form() == Form::Json {
            output.json(&sheet);
        } else if self.csv {
            output.value(&csv(&sheet, Reader::Program));
        } else {
            output.value(&told(&sheet));
            if sheet.call_open {
                output.word("Next: `cinderbook chart tested`, then `cinderbook chart note \"…\"`.");
            }
        }
        Ok(())
    }
}

/// The sentences, the chart in plain characters, and what changed.
fn told(sheet: &ChartSheet) -> String {
    let mut lines = sheet.told.join("\n");
    lines.push_str("\n\n");
    lines.push_str(&plain::drawn(&sheet.chart, sheet.shown.clone()));
    for mark in &sheet.marks {
        let day: String = mark.at.chars().take(10).collect();
        lines.push_str(&format!("{}  {day}  {}\n", mark.letter, mark.what));
    }
    lines
}

fn list(sheet: &TestedSheet, csv: bool, output: &mut Output) {
    if output.form() == Form::Json {
        output.json(sheet);
    } else if csv {
        output.value(&tested_csv(sheet, Reader::Program));
    } else {
        output.value(&sheet.told);
        for it in &sheet.specimens {
            let reports = if it.reports.is_empty() { "none".into() } else { it.reports.join(" ") };
            output.value(&format!(
                "P-{} specimen {}\t{}\t{}\t{}\treports: {reports}",
                it.plan, it.specimen, it.began, it.confirmation, it.job
            ));
        }
        output.word("Whether a result stands is for a person to say.");
    }
}
