//! Which results are touched since a confirmation: the specimens tested since then, and the reports
//! issued on them.

use report::csv::{Reader, cell};
use serde::Serialize;
use trial::flame_chart::{ChartRules, FlameChart, Tested, tested_since};
use trial::history::History;
use trial::number::ConfirmationNumber;
use utoipa::ToSchema;

use crate::problem::Problem;

/// What was tested since a confirmation.
#[derive(Serialize, ToSchema)]
pub(crate) struct TestedSheet {
    /// Since which confirmation.
    pub(crate) since: String,
    /// When it was recorded, in UTC.
    pub(crate) since_at: String,
    /// That in words, with the counts.
    pub(crate) told: String,
    /// The specimens, in the order of testing; the first of them where they are many.
    pub(crate) specimens: Vec<TestedShown>,
    /// How many more there are: the file has them all.
    pub(crate) more: usize,
    /// The reports that were issued on their plans.
    pub(crate) reports: Vec<String>,
}

/// A specimen that was tested since.
#[derive(Serialize, ToSchema)]
pub(crate) struct TestedShown {
    /// Its plan.
    pub(crate) plan: u32,
    /// Its number.
    pub(crate) specimen: u32,
    /// The laboratory's job.
    pub(crate) job: String,
    /// When its flame began, in UTC.
    pub(crate) began: String,
    /// Under which confirmation.
    pub(crate) confirmation: String,
    /// The reports that were issued on its plan.
    pub(crate) reports: Vec<String>,
}

/// Which confirmation is meant by `C-12` or `12`; without a word the last good one.
pub(crate) fn since(history: &History, word: &str) -> Result<ConfirmationNumber, Problem> {
    let word = word.trim();
    if word.is_empty() {
        let chart = FlameChart::of(history, ChartRules::built_in());
        return chart.touched_since().ok_or_else(|| {
            Problem::used_wrongly("the flame was not confirmed yet").hint("Nothing was tested.")
        });
    }
    let digits = word.strip_prefix("C-").unwrap_or(word);
    let number = digits.parse().map(ConfirmationNumber).map_err(|_| {
        Problem::used_wrongly(format!("`{word}` is no number of a confirmation"))
            .hint("Write it as C-12.")
    })?;
    let there = history.confirmation(number).is_some();
    there.then_some(number).ok_or_else(|| {
        Problem::used_wrongly(format!("confirmation {number} is not in this book"))
            .hint("Choose one of the flame chart.")
    })
}

/// What was tested since that confirmation; at most so many specimens are listed.
pub(crate) fn tested(history: &History, since: ConfirmationNumber, most: usize) -> TestedSheet {
    let all = tested_since(history, since).unwrap_or_default();
    let mut reports: Vec<_> = all.iter().flat_map(|it| it.reports.iter().copied()).collect();
    reports.sort_unstable();
    reports.dedup();
    let at = history.confirmation(since).map_or_else(String::new, |it| it.at.to_string());
    let many =
        |count: usize, one: &str| format!("{count} {one}{}", if count == 1 { "" } else { "s" });
    TestedSheet {
        told: format!(
            "{} tested since {since}, those under it included; {} issued on their plans.",
            many(all.len(), "specimen"),
            many(reports.len(), "report")
        ),
        since: since.to_string(),
        since_at: at,
        reports: reports.iter().map(ToString::to_string).collect(),
        more: all.len().saturating_sub(most),
        specimens: all.into_iter().take(most).map(tested_shown).collect(),
    }
}

fn tested_shown(tested: Tested) -> TestedShown {
    TestedShown {
        plan: tested.plan.0,
        specimen: tested.specimen.0,
        job: tested.job,
        began: tested.began.to_string(),
        confirmation: tested.confirmation.to_string(),
        reports: tested.reports.iter().map(ToString::to_string).collect(),
    }
}

/// The same as CSV.
pub(crate) fn tested_csv(sheet: &TestedSheet, reader: Reader) -> String {
    let mark = if reader == Reader::Spreadsheet { "\u{feff}" } else { "" };
    let mut file = format!("{mark}plan,specimen,job,began,confirmation,reports\r\n");
    for it in &sheet.specimens {
        file.push_str(&format!(
            "P-{},{},{},{},{},{}\r\n",
            it.plan,
            it.specimen,
            cell(&it.job, reader),
            it.began,
            it.confirmation,
            it.reports.join(" ")
        ));
    }
    file
}
