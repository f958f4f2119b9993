//! What one file came to, as lines to read.

use metrology::ToleranceClass;
use metrology::decision::{DecisionRule, Standing};

use super::judged::{Verdict, cited};
use super::measured::{Measured, Sensor, Value};
use crate::output::Output;
use crate::words::{decimals, labelled, percent};

/// Probabilities of lying in the band at which an edge is near enough to speak of it.
const NEAR_AN_EDGE: std::ops::RangeInclusive<f64> = 0.001..=0.999;

/// Writes the lines.
pub(super) fn show(measured: &Measured, budget: bool, output: &mut Output) {
    let mut lines = String::new();
    let mut line = |label: &str, text: &str| lines.push_str(&labelled(label, text));
    match &measured.read {
        Ok(value) => {
            line("rise time", &rise_time(measured, value));
            line("", &coverage(value));
        }
        Err(_) => line("rise time", "none can be read from this trace"),
    }
    line("verdict", &verdict(measured));
    if let Some(risk) = risk(measured) {
        line("", &risk);
    }
    for finding in &measured.findings {
        line("finding", &format!("{}: {}", finding.kind, finding.text));
        line("", &format!("hint: {}", finding.hint));
    }
    if measured.read.is_ok() {
        line("sensor", &sensor(measured));
    }
    line("taken for", &measured.taken_for.to_string());
    if let (true, Ok(value)) = (budget, &measured.read) {
        lines.push_str(&budget_lines(value));
    }
    output.value(&lines);
}

/// Value and expanded uncertainty, rounded once: two digits of U decide.
pub(super) fn rounded(value: &Value) -> String {
    let expanded = value.expanded.uncertainty;
    let decimals = decimals(expanded.seconds());
    format!(
        "{:.decimals$} s ± {:.decimals$} s",
        value.rise.value.value.seconds(),
        expanded.seconds()
    )
}

fn rise_time(measured: &Measured, value: &Value) -> String {
    let (bottom, top) = (measured.window.bottom(), measured.window.top());
    format!("{} from {bottom} to {top}", rounded(value))
}

fn coverage(value: &Value) -> String {
    format!(
        "expanded uncertainty, k = {:.2} for {} coverage; {:.3} s to {:.3} s on the trace's clock",
        value.expanded.coverage_factor,
        percent(value.expanded.probability),
        value.rise.start.at.seconds(),
        value.rise.end.at.seconds()
    )
}

fn verdict(measured: &Measured) -> String {
    let judged = &measured.judged;
    if let Some(why) = &judged.why_not {
        return format!("{}: {why}", judged.verdict);
    }
    let band = &judged.asked.confirmation.rise_time;
    let relation = match judged.verdict {
        Verdict::Meets => "lies in",
        Verdict::DoesNotMeet => "lies outside",
        Verdict::Undecided => "cannot be told from the edge of",
        Verdict::NotJudged => "is not held against",
    };
    format!(
        "{}: it {relation} {}, that is {:.1} to {:.1} ({}, {}; this number: {})",
        judged.verdict,
        band.text,
        band.value.low,
        band.value.high,
        cited(&judged.asked.method),
        band.clause,
        standing(band.standing)
    )
}

/// How a number stands, in words.
fn standing(standing: trial::rules::Standing) -> &'static str {
    match standing {
        trial::rules::Standing::Seen => "seen in the edition",
        trial::rules::Standing::Memory => "from memory, hold it against your copy",
        trial::rules::Standing::Ours => "ours",
    }
}

fn risk(measured: &Measured) -> Option<String> {
    let decision = measured.judged.decision?;
    let by = measured.judged.rule();
    if let Some(sentence) = decision.no_acceptance_zone() {
        return Some(format!("by {by}: {sentence}"));
    }
    let inside = percent(decision.probability_of_conformity);
    let worst = match (decision.rule, decision.standing) {
        (DecisionRule::SimpleAcceptance, Standing::Kept | Standing::Broken)
            if NEAR_AN_EDGE.contains(&decision.probability_of_conformity.fraction()) =>
        {
            "; at an edge of the band this rule may be wrong half the time"
        }
        _ => "",
    };
    Some(format!("by {by}; the true time lies in the band with a probability of {inside}{worst}"))
}

fn sensor(measured: &Measured) -> String {
    match &measured.sensor {
        Sensor::Counted { class, origin } => format!(
            "class {} counted as unused wire, both ends of the window independent ({origin})",
            class.number()
        ),
        Sensor::LeftOut(with_one) => {
            let with = with_one.map_or_else(String::new, |uncertainty| {
                let seconds = uncertainty.seconds();
                let decimals = decimals(seconds);
                format!(
                    "; with `--class {}` it would be ± {seconds:.decimals$} s",
                    ToleranceClass::One.number()
                )
            });
            let guard = match measured.judged.decision.map(|decision| decision.rule) {
                Some(DecisionRule::GuardBand { .. }) => {
                    ", and the guard band is too narrow by that"
                }
                Some(DecisionRule::SimpleAcceptance) | None => "",
            };
            format!(
                "the thermocouple is not in the uncertainty, only the readings are{guard}{with}"
            )
        }
    }
}

fn budget_lines(value: &Value) -> String {
    let budget = &value.rise.budget;
    let mut lines = format!(
        "\n{:<42}{:>14}{:>16}{:>12}{:>8}\n",
        "budget", "standard u", "sensitivity", "share in s", "of u²"
    );
    for line in budget.lines.iter().filter(|line| line.contribution != 0.0) {
        lines.push_str(&format!(
            "{:<42}{:>14}{:>16}{:>12.4}{:>7.1} %\n",
            line.input.name,
            format!("{:.4} {}", line.input.standard_uncertainty, line.input.uncertainty_unit),
            format!("{:.4}", line.sensitivity),
            line.contribution.abs(),
            100.0 * line.share
        ));
    }
    lines.push_str(&format!(
        "{:<42}{:>14}{:>16}{:>12.4}{:>7.1} %\n",
        "together", "", "", budget.standard_uncertainty, 100.0
    ));
    lines.push_str(&trials_line(value));
    lines
}

/// Whether the first-order interval stands against the one by trials.
fn trials_line(value: &Value) -> String {
    let by_trials = match value.by_trials() {
        Ok(by_trials) => by_trials,
        Err(error) => return format!("not held against Monte Carlo trials: {error}\n"),
    };
    let decimals = decimals(value.rise.budget.standard_uncertainty);
    let verdict = if by_trials.validated {
        "the first-order interval is validated to two digits"
    } else {
        "the first-order interval is not validated to two digits: take this one"
    };
    format!(
        "{} Monte Carlo trials: {:.decimals$} s to {:.decimals$} s for 95 %; {verdict}\n",
        by_trials.trials, by_trials.low_s, by_trials.high_s
    )
}
