//! `confirm why` and `confirm budget`: one determination of the book, understood.

use clap::Args;
use trial::number::DeterminationNumber;

use super::Global;
use super::read::{BudgetOptions, not_diagnosed, of_block, of_diagnosis};
use crate::book::OpenBook;
use crate::output::{Form, Output};
use crate::problem::{Exit, Problem};
use crate::step::why::{NotTold, WhySheet, budget, why};
use crate::words::labelled;

/// Says why a determination is as it is: flame, air, block and thermocouple
///
/// Examples:
///   cinderbook confirm why 7
///   cinderbook confirm why 7 --json
///
/// Its curve is fitted, heating and cooling together, and held against the frozen base line. Each
/// cause has its evidence and its probability. Exit code 1: something is the matter, or nothing
/// can be told.
#[derive(Args, Debug)]
#[command(verbatim_doc_comment)]
pub(super) struct Why {
    /// The determination
    determination: u32,
}

impl Why {
    /// Runs the command.
    pub(super) fn run(&self, global: &Global, output: &mut Output) -> Result<Exit, Problem> {
        let book = OpenBook::open(global)?;
        let number = DeterminationNumber(self.determination);
        let sheet = output.during("reading the base line", || why(&book, number))?;
        match output.form() {
            Form::Json => output.json(&sheet),
            Form::Text => output.value(&lines(&sheet)),
        }
        output.word("Next: `confirm budget N` shows what its uncertainty is made of.");
        let good = sheet.diagnosis.as_ref().is_some_and(|it| it.finding == "nothing");
        Ok(if good { Exit::Good } else { Exit::Finding })
    }
}

fn lines(sheet: &WhySheet) -> String {
    let mut lines = labelled("rise time", &sheet.told);
    if let Some(diagnosis) = &sheet.diagnosis {
        lines.push_str(&of_diagnosis(diagnosis));
    }
    for why in [&sheet.not_diagnosed, &sheet.not_told].into_iter().flatten() {
        lines.push_str(&not_diagnosed(&problem(why)));
    }
    if let Some(base) = &sheet.base_line {
        let told = format!(
            "B-{}, frozen at {} by {}; {} of its {} determinations show a cooling and count",
            base.base_line, base.at, base.by, base.used, base.of
        );
        lines.push_str(&labelled("base line", &told));
    }
    if let Some(block) = &sheet.block {
        lines.push_str(&of_block(block));
    }
    lines
}

fn problem(why: &NotTold) -> Problem {
    let problem = Problem::conflict(why.text.clone());
    match &why.hint {
        Some(hint) => problem.hint(hint.clone()),
        None => problem,
    }
}

/// Shows what the uncertainty of a rise time is made of, block and sensor included
///
/// Examples:
///   cinderbook confirm budget 7
///   cinderbook confirm budget 7 --calibrated 0.5 1.0 --correlation 0.8
///
/// First order against Monte Carlo trials, the decision rules side by side, and what would halve
/// it. The block's mass is the one recorded with `equipment weighed`; what is not stated is taken
/// as usual, and named.
#[derive(Args, Debug)]
#[command(verbatim_doc_comment)]
pub(super) struct BudgetOf {
    /// The determination
    determination: u32,
    #[command(flatten)]
    certificate: BudgetOptions,
}

impl BudgetOf {
    /// Runs the command.
    pub(super) fn run(&self, global: &Global, output: &mut Output) -> Result<Exit, Problem> {
        let book = OpenBook::open(global)?;
        let number = DeterminationNumber(self.determination);
        let sheet = output.during("drawing trials", || budget(&book, number, &self.certificate))?;
        match output.form() {
            Form::Json => output.json(&sheet),
            Form::Text => output.value(&sheet.lines()),
        }
        Ok(Exit::Good)
    }
}
