//! `plan`: what will be tested.

use std::path::PathBuf;

use clap::{Args, Subcommand};
use trial::fact::Fact;
use trial::number::{PlanNumber, SpecimenNumber};
use trial::rules::Standing;

use super::Global;
use crate::book::OpenBook;
use crate::form::{self, plan::TEMPLATE};
use crate::output::Output;
use crate::problem::{Exit, Problem};
use crate::step;

/// Draws up what will be tested
///
/// Examples:
///   cinderbook plan template > plan.toml     a form to fill in
///   cinderbook plan new plan.toml            draw it up
///   cinderbook plan show 1                   what it asks, number by number
#[derive(Args, Debug)]
#[command(verbatim_doc_comment)]
pub(crate) struct Plan {
    #[command(subcommand)]
    what: What,
}

#[derive(Subcommand, Debug)]
enum What {
    /// Prints a form to fill in
    Template,
    /// Draws up the plan of a form
    New {
        /// The form, filled in
        file: PathBuf,
    },
    /// Lists the plans
    List,
    /// Shows what a plan asks, each number with its clause and how it stands
    Show {
        /// The plan
        plan: u32,
    },
    /// Adds further specimens, where the rules ask for them
    Add {
        /// The plan
        plan: u32,
        /// Their numbers
        #[arg(required = true)]
        specimens: Vec<u32>,
        /// Why
        #[arg(long)]
        reason: String,
    },
}

impl Plan {
    /// Runs the command.
    pub(crate) fn run(&self, global: &Global, output: &mut Output) -> Result<Exit, Problem> {
        if let What::Template = self.what {
            output.value(TEMPLATE);
            output.word("Next: fill it in, then `cinderbook plan new FILE`.");
            return Ok(Exit::Good);
        }
        let mut book = OpenBook::open(global)?;
        match &self.what {
            What::Template => {}
            What::New { file } => {
                let form = form::fill(file, "plan template")?;
                let plan = step::plan::plan(&mut book, form, output)?;
                output.value(&plan.to_string());
                output.word(&format!("Next: `cinderbook ready check {}`.", plan.0));
            }
            What::List => {
                for number in book.history().plans() {
                    let draft = book.plan(number)?.draft();
                    let rules = draft.ordered.profile.as_ref().unwrap_or(&draft.ordered.method);
                    output.value(&format!(
                        "{number}\t{}\t{rules}\t{}",
                        draft.job, draft.part.description
                    ));
                }
            }
            What::Show { plan } => show(&book, PlanNumber(*plan), output)?,
            What::Add { plan, specimens, reason } => {
                let specimens = specimens.iter().copied().map(SpecimenNumber).collect();
                let (plan, reason) = (PlanNumber(*plan), reason.clone());
                book.keep(&Fact::SpecimensAdded { plan, specimens, reason }, output)?;
                output.word(&format!("Next: `cinderbook ready check {}`.", plan.0));
            }
        }
        Ok(Exit::Good)
    }
}

fn show(book: &OpenBook, number: PlanNumber, output: &mut Output) -> Result<(), Problem> {
    let plan = book.plan(number)?;
    let draft = plan.draft();
    output.value(&format!("{number}: {}, {}", draft.job, draft.part.description));
    for (key, entry) in &plan.requirement().entries {
        let clause = &entry.clause;
        let place = match entry.standing {
            Standing::Ours => "the plan".to_owned(),
            Standing::Seen | Standing::Memory => format!("{} {clause}", entry.source),
        };
        output.value(&format!("{key}\t{}\t{place}\t{}", entry.text(), entry.standing));
    }
    Ok(())
}
