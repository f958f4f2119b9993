//! `judge`: what the runs mean.

use clap::Args;
use serde::Serialize;
use trial::number::PlanNumber;
use trial::verdict::{Verdict, VerdictStanding};

use super::Global;
use crate::book::OpenBook;
use crate::output::{Form, Output};
use crate::problem::{Exit, Problem};
use crate::step;

/// Judges a plan's runs by its rules, reason by reason
#[derive(Args, Debug)]
pub(crate) struct Judge {
    /// The plan
    plan: u32,
}

/// A verdict as JSON.
#[derive(Serialize)]
struct Sheet<'a> {
    verdict: &'a str,
    sentence: String,
    reasons: Vec<String>,
    account: String,
}

impl Judge {
    /// Runs the command.
    pub(crate) fn run(&self, global: &Global, output: &mut Output) -> Result<Exit, Problem> {
        let mut book = OpenBook::open(global)?;
        let plan = PlanNumber(self.plan);
        let verdict = step::judge::judge(&mut book, plan, output)?;
        let reasons: Vec<String> = told(&verdict);
        match output.form() {
            Form::Json => output.json(&Sheet {
                verdict: verdict.standing.word(),
                sentence: verdict.sentence(),
                account: verdict.account(),
                reasons,
            }),
            Form::Text => {
                output.value(&format!("plan {plan} {}", verdict.sentence()));
                for reason in reasons {
                    output.value(&format!("  {reason}"));
                }
            }
        }
        Ok(self.next(&verdict, output))
    }

    fn next(&self, verdict: &Verdict, output: &Output) -> Exit {
        let plan = self.plan;
        match verdict.standing {
            VerdictStanding::NotYet { further } => {
                output.word(&format!(
                    "Next: `cinderbook plan add {plan} …` with {further} further specimens, and test them."
                ));
                Exit::Finding
            }
            VerdictStanding::Meets => {
                output.word(&format!("Next: `cinderbook report {plan}`."));
                Exit::Good
            }
            VerdictStanding::DoesNotMeet
            | VerdictStanding::Undecided
            | VerdictStanding::NotJudged => {
                output.word(&format!("Next: `cinderbook report {plan}` reports it as it is."));
                Exit::Finding
            }
        }
    }
}

/// Each reason as a sentence, specimen by specimen.
pub(crate) fn told(verdict: &Verdict) -> Vec<String> {
    let judged = verdict.judged.iter().flat_map(|judged| &judged.reasons);
    let judged = judged.map(trial::verdict::Reason::sentence);
    judged.chain(verdict.not_judged().map(|finding| finding.text.clone())).collect()
}
