//! What one determination tells, as JSON. The keys are stable; `docs/manual/read-block.md` lists
//! them.

use serde::Serialize;

use super::Found;
use crate::problem::Problem;
use crate::step::block::{BlockSheet, DiagnosisSheet};
use crate::step::budget::BudgetSheet;

/// The whole object.
#[derive(Serialize)]
pub(super) struct Sheet<'a> {
    file: &'a str,
    taken_for: String,
    #[serde(flatten)]
    block: &'a BlockSheet,
    diagnosis: Option<&'a DiagnosisSheet>,
    not_diagnosed: Option<&'a Problem>,
    budget: Option<&'a BudgetSheet>,
}

impl<'a> Sheet<'a> {
    pub(super) fn of(found: &'a Found) -> Self {
        let diagnosis = found.diagnosis.as_ref();
        Self {
            file: &found.name,
            taken_for: found.imported.taken_for.to_string(),
            block: &found.sheet,
            diagnosis: diagnosis.and_then(|it| it.as_ref().ok()),
            not_diagnosed: diagnosis.and_then(|it| it.as_ref().err()),
            budget: found.budget.as_ref(),
        }
    }
}
