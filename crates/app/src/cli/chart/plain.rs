//! The flame chart in plain characters, for any terminal: a column for each confirmation.

use std::ops::Range;

use report::chart::mark_letter;
use trial::flame_chart::FlameChart;

/// So many columns fit beside the scale.
const COLUMNS: usize = 84;

/// So many rows from the lowest to the highest value.
const ROWS: usize = 21;

/// A line that is drawn where no confirmation stands.
const LINES: [(char, &str); 3] =
    [('=', "the method's limits"), ('-', "three sigma"), ('.', "centre")];

/// The chart of the spots shown, the last ones where they are too many.
pub(super) fn drawn(chart: &FlameChart, shown: Range<usize>) -> String {
    let shown = shown.start.max(shown.end.saturating_sub(COLUMNS))..shown.end;
    let Some(spots) = chart.spots.get(shown.clone()).filter(|spots| !spots.is_empty()) else {
        return String::new();
    };
    let lines = lines(chart);
    let values = spots.iter().map(|spot| spot.mean.seconds());
    let all = values.chain(lines.iter().map(|(value, _)| *value));
    let (low, high) = all.fold((f64::INFINITY, f64::NEG_INFINITY), |(low, high), value| {
        (low.min(value), high.max(value))
    });
    let scale = Scale { low, high };
    let mut rows = vec![vec![' '; spots.len()]; ROWS];
    for (value, sign) in lines.iter().rev() {
        rows[scale.row(*value)].fill(*sign);
    }
    for (column, spot) in spots.iter().enumerate() {
        if let Some(charted) = spot.charted {
            rows[scale.row(charted.weighted.value.seconds())][column] = '+';
        }
        let beyond = spot.charted.is_some_and(|it| it.beyond.is_some());
        rows[scale.row(spot.mean.seconds())][column] = if beyond { 'O' } else { 'o' };
    }
    let mut out = String::new();
    for (row, cells) in rows.iter().enumerate() {
        let value = scale.value(row);
        let cells: String = cells.iter().collect();
        out.push_str(format!("{value:7.2} |{cells}").trim_end());
        out.push('\n');
    }
    out.push_str(&below(chart, &shown));
    out
}

/// The lines across, each with its sign; those named first lie over the others.
fn lines(chart: &FlameChart) -> Vec<(f64, char)> {
    let [method, sigma, centre] = LINES.map(|(sign, _)| sign);
    let band = chart.band.iter().flat_map(|it| [it.limits.low, it.limits.high]);
    let mut lines: Vec<(f64, char)> = band.map(|value| (value.seconds(), method)).collect();
    if let Some(base) = chart.base {
        lines.push((base.limits.low.seconds(), sigma));
        lines.push((base.limits.high.seconds(), sigma));
        lines.push((base.line.centre.seconds(), centre));
    }
    lines
}

/// The letters of what changed, the calls, the days, and what the signs mean.
fn below(chart: &FlameChart, shown: &Range<usize>) -> String {
    let width = shown.len();
    let (mut letters, mut calls) = (vec![' '; width], vec![' '; width]);
    for (place, mark) in chart.marks.iter().enumerate() {
        if shown.contains(&mark.after)
            && let Some(letter) = mark_letter(place).chars().last()
        {
            letters[mark.after - shown.start] = letter;
        }
    }
    for call in chart.calls.iter().filter(|call| shown.contains(&call.place)) {
        calls[call.place - shown.start] = '^';
    }
    let line = |name: &str, cells: &[char]| {
        let cells: String = cells.iter().collect();
        format!("{}\n", format!("{name:>7} |{cells}").trim_end())
    };
    let day = |place: usize| {
        chart.spots.get(place).map_or_else(String::new, |it| it.at.day().to_string())
    };
    let mut out = format!("{:>7} +{}\n", "s", "-".repeat(width));
    out.push_str(&line("changed", &letters));
    if !chart.calls.is_empty() {
        out.push_str(&line("call", &calls));
    }
    let (first, last) = (day(shown.start), day(shown.end.saturating_sub(1)));
    let between = width.saturating_sub(first.len() + last.len());
    let days = if between > 0 { format!("{first}{}{last}", " ".repeat(between)) } else { first };
    out.push_str(&format!("{:>7}  {days}\n", ""));
    let meant: Vec<String> = LINES.iter().map(|(sign, name)| format!("{sign} {name}")).collect();
    out.push_str(&format!(
        "o a confirmation (O beyond three sigma)   + weighted mean   {}\n",
        meant.join("   ")
    ));
    out
}

/// From a value to a row: the highest value stands on top.
struct Scale {
    low: f64,
    high: f64,
}

impl Scale {
    #[expect(clippy::cast_precision_loss, reason = "a few rows")]
    fn step(&self) -> f64 {
        ((self.high - self.low) / (ROWS - 1) as f64).max(f64::MIN_POSITIVE)
    }

    #[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "within the rows")]
    fn row(&self, value: f64) -> usize {
        let from_top = ((self.high - value.clamp(self.low, self.high)) / self.step()).round();
        (from_top as usize).min(ROWS - 1)
    }

    #[expect(clippy::cast_precision_loss, reason = "a few rows")]
    fn value(&self, row: usize) -> f64 {
        self.high - row as f64 * self.step()
    }
}
