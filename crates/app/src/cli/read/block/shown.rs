//! What one determination tells, as lines to read.

use super::Found;
use crate::output::Output;
use crate::problem::Problem;
use crate::step::block::{BlockSheet, DiagnosisSheet};
use crate::words::labelled;

/// Writes the lines.
pub(super) fn show(found: &Found, output: &mut Output) {
    let mut lines = of_block(&found.sheet);
    lines.push_str(&labelled("taken for", &found.imported.taken_for.to_string()));
    match &found.diagnosis {
        Some(Ok(diagnosis)) => {
            lines.push('\n');
            lines.push_str(&of_diagnosis(diagnosis));
        }
        Some(Err(problem)) => {
            lines.push('\n');
            lines.push_str(&not_diagnosed(problem));
        }
        None => {}
    }
    if let Some(budget) = &found.budget {
        lines.push('\n');
        lines.push_str(&budget.lines());
    }
    output.value(&lines);
}

/// What a determination tells, line by line.
pub(crate) fn of_block(sheet: &BlockSheet) -> String {
    let mut lines = String::new();
    let mut line = |label: &str, text: &str| lines.push_str(&labelled(label, text));
    if let (Some(gain), Some(flame)) = (&sheet.gain, &sheet.flame) {
        line("gain", &format!("{} of heat from the flame, for each kelvin", gain.text));
        line("flame", &format!("{}, as the block sees it", flame.text));
    }
    line("loss", &format!("{} to the air", sheet.loss.text));
    line("emissivity", &format!("{} (all ± are k = 2)", sheet.emissivity.text));
    for (place, sentence) in sheet.not_told_apart.iter().enumerate() {
        line(if place == 0 { "not told" } else { "" }, sentence);
    }
    if let Some(missing) = &sheet.cooling_missing {
        line("cooling", missing);
    }
    for (place, sentence) in sheet.seating.iter().enumerate() {
        line(if place == 0 { "sensor" } else { "" }, sentence);
    }
    line("left over", &sheet.residuals);
    line("model", &sheet.one_temperature);
    line("block", &sheet.block);
    lines
}

/// The causes, line by line.
pub(crate) fn of_diagnosis(sheet: &DiagnosisSheet) -> String {
    let mut lines = labelled("why", &sheet.sentence);
    for cause in sheet.causes.iter().filter(|cause| cause.named) {
        lines.push_str(&labelled("cause", &format!("{}: {}", cause.said, cause.probability_said)));
        lines.push_str(&labelled("", &cause.evidence));
        lines.push_str(&labelled("", &format!("hint: {}", cause.advice)));
    }
    if let Some(flow) = &sheet.flow {
        lines.push_str(&labelled("flow", &flow.sentence));
    }
    lines
}

/// Why no cause is looked for.
pub(crate) fn not_diagnosed(problem: &Problem) -> String {
    let mut lines = labelled("why", &format!("no cause is looked for: {}", problem.text));
    if let Some(hint) = &problem.hint {
        lines.push_str(&labelled("", &format!("hint: {hint}")));
    }
    lines
}
