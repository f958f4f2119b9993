//! The flame chart as PDF, in the same archive form as a report.

use serde::Serialize;

use super::world::{Files, ReportWorld};
use super::{PdfError, glyphs, options, pages};
use crate::chart::Chart;

const TEMPLATE: &str = include_str!("chart.typ");

/// What the pages of a flame chart say.
#[derive(Clone, Debug)]
pub struct ChartPages<'a, Data> {
    /// The laboratory.
    pub laboratory: &'a str,
    /// The band of a book that is made up; nothing for a real one.
    pub made_up: Option<&'a str>,
    /// The record up to here, as number and hash of its last entry.
    pub head: &'a str,
    /// The time of that entry in UTC, such as 2026-11-25T10:32:00Z.
    pub at: &'a str,
    /// The program and its version.
    pub made_by: &'a str,
    /// The chart's values, which are attached too.
    pub data: &'a Data,
    /// The picture.
    pub picture: Option<&'a Chart>,
}

/// The flame chart as PDF/A. The same pages give the same bytes.
///
/// # Errors
///
/// When the time cannot be read, the data cannot be written, or the typesetter refuses.
pub fn flame_chart<Data: Serialize>(chart: &ChartPages<'_, Data>) -> Result<Vec<u8>, PdfError> {
    let ident = format!("{} flame chart {}", chart.laboratory, chart.head);
    let options = options(ident, chart.made_by, chart.at)?;
    let look = serde_json::json!({
        "laboratory": chart.laboratory,
        "made_up": chart.made_up,
        "head": chart.head,
        "at": chart.at,
        "made_by": chart.made_by,
        "chart": serde_json::to_value(chart.data)?,
        "picture": chart.picture.map(|picture| &picture.told),
    });
    let (look, replaced) = glyphs::printable(look);
    let mut files = Files::default();
    files.add(
        "data.json",
        serde_json::to_vec(&serde_json::json!({
            "look": look,
            "replaced": replaced,
        }))?,
    );
    files.add("flame-chart.json", serde_json::to_vec_pretty(chart.data)?);
    if let Some(picture) = chart.picture {
        files.add("chart.svg", picture.svg.clone().into_bytes());
    }
    pages(&ReportWorld::new(files, TEMPLATE), &options)
}
