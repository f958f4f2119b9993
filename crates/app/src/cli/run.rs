//! `run`: one specimen in the flame.

use std::path::{Path, PathBuf};

use clap::{Args, Subcommand};
use trial::fact::{EvidenceKind, Fact};
use trial::number::{PlanNumber, SpecimenNumber};

use super::Global;
use crate::book::OpenBook;
use crate::form;
use crate::form::run::{RunForm, TEMPLATE};
use crate::output::Output;
use crate::problem::{Exit, Problem};
use crate::step;

/// Records what was seen on a specimen
///
/// Examples:
///   cinderbook run template > specimen-1.toml     a form to fill in
///   cinderbook run new 1 specimen-1.toml          record it for plan 1
///   cinderbook run spoilt 1 2 --reason "draught"  specimen 2 cannot be judged
///   cinderbook run accept 1 2 --reason "0.01 s"   its doubtful times hold
///   cinderbook run amend 1 specimen-2.toml --reason "misread"   what was seen is corrected
#[derive(Args, Debug)]
#[command(verbatim_doc_comment)]
pub(crate) struct Run {
    #[command(subcommand)]
    what: What,
}

#[derive(Subcommand, Debug)]
enum What {
    /// Prints a form to fill in
    Template,
    /// Records the run of a form
    New {
        /// The plan
        plan: u32,
        /// The form, filled in; photographs are named beside it
        file: PathBuf,
        /// Why it is written so long after the flame, where it is
        #[arg(long)]
        reason: Option<String>,
    },
    /// Accepts the times of a specimen that its device doubted: a report waits for it
    Accept {
        /// The plan
        plan: u32,
        /// The specimen
        specimen: u32,
        /// Why they hold
        #[arg(long)]
        reason: String,
    },
    /// Corrects what was seen of a specimen: the form as it should have been; both are kept
    Amend {
        /// The plan
        plan: u32,
        /// The form, filled in; without photographs in it those on file stay
        file: PathBuf,
        /// Why
        #[arg(long)]
        reason: String,
    },
    /// Sets a specimen aside: it is replaced, not judged
    Spoilt {
        /// The plan
        plan: u32,
        /// The specimen
        specimen: u32,
        /// Why
        #[arg(long)]
        reason: String,
    },
}

impl Run {
    /// Runs the command.
    pub(crate) fn run(&self, global: &Global, output: &mut Output) -> Result<Exit, Problem> {
        if let What::Template = self.what {
            output.value(TEMPLATE);
            output.word("Next: fill it in, then `cinderbook run new PLAN FILE`.");
            return Ok(Exit::Good);
        }
        let mut book = OpenBook::open(global)?;
        match &self.what {
            What::Template => {}
            What::New { plan, file, reason } => {
                let form: RunForm = form::fill(file, "run template")?;
                let beside = file.parent().unwrap_or(Path::new("."));
                let photos = form.photos.iter();
                let evidence = photos
                    .map(|photo| book.file(&beside.join(photo), EvidenceKind::Photo))
                    .collect::<Result<_, _>>()?;
                let observed = form.observed(&book.who()?, evidence)?;
                let seen = (observed, reason.as_deref().unwrap_or_default());
                step::run::run(&mut book, PlanNumber(*plan), seen, output)?;
                output.word(&format!("Next: the next specimen, or `cinderbook judge {plan}`."));
            }
            What::Accept { plan, specimen, reason } => {
                let of = (PlanNumber(*plan), SpecimenNumber(*specimen));
                step::accept::times(&mut book, of, reason, output)?;
                output.word(&format!("Next: `cinderbook report {plan}`."));
            }
            What::Amend { plan, file, reason } => {
                amend(&mut book, *plan, (file.as_path(), reason.as_str()), output)?;
            }
            What::Spoilt { plan, specimen, reason } => {
                let (specimen, reason) = (SpecimenNumber(*specimen), reason.clone());
                let plan = PlanNumber(*plan);
                book.keep(&Fact::SpecimenSpoilt { plan, specimen, reason }, output)?;
                output.word(&format!(
                    "Next: `cinderbook plan add {} NUMBER --reason …` for its replacement.",
                    plan.0
                ));
            }
        }
        Ok(Exit::Good)
    }
}

/// Corrects a specimen by a form; who watched and its files stay where the form does not say.
fn amend(
    book: &mut OpenBook,
    plan: u32,
    (file, reason): (&Path, &str),
    output: &Output,
) -> Result<(), Problem> {
    let form: RunForm = form::fill(file, "run template")?;
    let beside = file.parent().unwrap_or(Path::new("."));
    let photos = form.photos.iter();
    let evidence: Vec<_> = photos
        .map(|photo| book.file(&beside.join(photo), EvidenceKind::Photo))
        .collect::<Result<_, _>>()?;
    let number = PlanNumber(plan);
    let runs = book.history().runs(number).iter();
    let before = form.specimen();
    let before = runs.map(|it| it.run.observed()).find(|it| it.specimen == before).cloned();
    let observer = before.as_ref().map_or(book.who()?, |it| it.observer.clone());
    let mut observed = form.observed(&observer, evidence)?;
    if let Some(before) = before.filter(|_| observed.evidence.is_empty()) {
        observed.evidence = before.evidence;
    }
    step::amend::amend(book, number, (observed, reason), output)?;
    output.word(&format!("Next: `cinderbook judge {plan}`; signatures are given again."));
    Ok(())
}
