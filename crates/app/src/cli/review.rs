//! `review`: what is odd about the specimens of a plan; sends it back; the review of the trail.

use clap::Args;
use trial::number::{PlanNumber, SpecimenNumber};
use trial::signature::SentBack;

use super::Global;
use crate::book::OpenBook;
use crate::output::{Form, Output};
use crate::problem::{Exit, Problem};
use crate::step::review::{Review as Sheet, look};
use crate::step::sign::send_back;
use crate::step::trail;

/// Shows what is odd about the specimens of a plan, odd ones first, or sends the plan back
///
/// Examples:
///   cinderbook review 1
///   cinderbook review 1 --send-back "was the flame removed late?" --specimens 2
///   cinderbook review --trail                 what was changed since the last review of the trail
#[derive(Args, Debug)]
#[command(verbatim_doc_comment)]
pub(crate) struct Review {
    /// The plan
    #[arg(required_unless_present = "trail")]
    plan: Option<u32>,
    /// Sends it back to who tested it, with this note
    #[arg(long, value_name = "NOTE", requires = "plan")]
    send_back: Option<String>,
    /// The specimens to look at again; all, if none is named
    #[arg(long, value_delimiter = ',', value_name = "NUMBER", requires = "send_back")]
    specimens: Vec<u32>,
    /// Shows the trail since its last review
    #[arg(long, conflicts_with = "plan")]
    trail: bool,
}

impl Review {
    /// Runs the command.
    pub(crate) fn run(&self, global: &Global, output: &mut Output) -> Result<Exit, Problem> {
        let mut book = OpenBook::open(global)?;
        if self.trail {
            return show_trail(&book, output);
        }
        let plan = PlanNumber(self.plan.unwrap_or_default());
        if let Some(note) = &self.send_back {
            let specimens = self.specimens.iter().map(|number| SpecimenNumber(*number)).collect();
            send_back(&mut book, SentBack { plan, specimens, note: note.clone() }, output)?;
            output.word("Next: who tested it corrects it with `run amend`, and signs again.");
            return Ok(Exit::Good);
        }
        let sheet = look(&book, plan, &std::collections::BTreeMap::new())?;
        match output.form() {
            Form::Json => output.json(&sheet),
            Form::Text => output.value(&lines(&sheet)),
        }
        output.word(&format!(
            "Next: `sign plan-{} --meaning approved --seen NUMBER,…`, or `review {} --send-back …`.",
            plan.0, plan.0
        ));
        Ok(Exit::Good)
    }
}

fn lines(sheet: &Sheet) -> String {
    let mut lines = String::new();
    for row in &sheet.specimens {
        let verdict = row.verdict.as_deref().unwrap_or("not judged");
        lines.push_str(&format!(
            "specimen {}: {}, burning {}\n",
            row.specimen, verdict, row.burning
        ));
        for odd in &row.odd {
            lines.push_str(&format!("  odd: {odd}\n"));
        }
        let tested = row.tested_by.as_deref().unwrap_or("nobody");
        lines.push_str(&format!("  signed as tested by {tested}\n"));
    }
    for it in &sheet.signatures {
        lines.push_str(&format!("{} {}, {}: {}\n", it.meaning_told, it.name, it.shown_at, it.told));
    }
    for wanted in &sheet.wanted {
        lines.push_str(&format!("not signed yet: {wanted}\n"));
    }
    if let Some(back) = &sheet.sent_back {
        lines.push_str(&format!("sent back by {back}\n"));
    }
    lines
}

fn show_trail(book: &OpenBook, output: &mut Output) -> Result<Exit, Problem> {
    let sheet = trail::look(book.history(), &trail::Wanted::default());
    match output.form() {
        Form::Json => output.json(&sheet),
        Form::Text => {
            let mut lines = format!("{}\n", sheet.told);
            lines.push_str(&format!(
                "changes: {}, with a reason: {} ({})\n",
                sheet.changes, sheet.with_reason, sheet.share
            ));
            for it in &sheet.listed {
                lines.push_str(&format!(
                    "{}\t{}\t{}\t{}\t{}\n",
                    it.entry, it.at, it.who, it.kind, it.reason
                ));
            }
            output.value(&lines);
        }
    }
    output.word("Next: `sign trail` signs the review; the next one begins after it.");
    Ok(Exit::Good)
}
