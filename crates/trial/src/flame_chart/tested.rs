//! Which results are touched where the flame may have changed.

use super::FlameChart;
use crate::history::History;
use crate::moment::Moment;
use crate::number::{ConfirmationNumber, PlanNumber, ReportNumber, SpecimenNumber};
use std::collections::BTreeMap;

/// A specimen that was tested since a confirmation.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Tested {
    /// Its plan.
    pub plan: PlanNumber,
    /// Its number.
    pub specimen: SpecimenNumber,
    /// The laboratory's job.
    pub job: String,
    /// When its flame began.
    pub began: Moment,
    /// Under which confirmation.
    pub confirmation: ConfirmationNumber,
    /// The reports that were issued on its plan, in the order of issue.
    pub reports: Vec<ReportNumber>,
}

/// The specimens tested since a confirmation, those under it included, in the order of testing;
/// none if the record has no such confirmation.
///
/// What was tested under the last good confirmation itself is listed too: when the flame changed
/// after it, nobody knows whether before or after those tests.
#[must_use]
pub fn tested_since(history: &History, since: ConfirmationNumber) -> Option<Vec<Tested>> {
    let all = history.confirmations();
    let first = all.iter().position(|it| it.number == since)?;
    let places: BTreeMap<ConfirmationNumber, usize> =
        all.iter().enumerate().map(|(place, it)| (it.number, place)).collect();
    let mut tested = Vec::new();
    for plan in history.plans() {
        let touched = history
            .runs(plan)
            .iter()
            .filter(|run| places.get(&run.confirmation).is_some_and(|place| *place >= first));
        for run in touched {
            let job = history.plan(plan).map(|it| it.draft().job.clone()).unwrap_or_default();
            tested.push(Tested {
                plan,
                specimen: run.run.specimen(),
                job,
                began: run.run.observed().began,
                confirmation: run.confirmation,
                reports: history.reports_on(plan).map(|(.., report)| report.number).collect(),
            });
        }
    }
    tested.sort_by_key(|it| (it.began, it.plan, it.specimen));
    Some(tested)
}

impl FlameChart {
    /// Since which confirmation results are touched: the last good one before the open call, or
    /// before the last call; else the last confirmation of all.
    #[must_use]
    pub fn touched_since(&self) -> Option<ConfirmationNumber> {
        let call = self.calls.last().and_then(|call| {
            let place = call.last_good.unwrap_or(0);
            self.spots.get(place)
        });
        call.or_else(|| self.spots.last()).map(|spot| spot.number)
    }
}
