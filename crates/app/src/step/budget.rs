//! The whole budget of a rise time, to be read by whoever must defend it: the same sheet for a file
//! alone, for the book's command and for the page.

use metrology::decision::{Decision, DecisionRule, Limit, Standing, decide};
use metrology::uncertainty::{FractionalDegrees, Line, Outcome, Trials, expand, validate};
use metrology::{DegreesOfFreedom, Duration, Measurement, Ratio};
use reading::RiseTime;
use reading::copper_block::{CopperBlock, Determination};
use reading::rise_time::{Stated, WholeBudget, whole_budget};
use serde::Serialize;
use utoipa::ToSchema;

use crate::problem::Problem;
use crate::words::{decimals, percent};

/// The probability that an expanded uncertainty covers the truth with.
const COVERAGE_PERCENT: f64 = 95.0;

/// Trials that the first order is held against, and the seed they are drawn with.
const TRIALS: usize = 1_000_000;
const SEED: u64 = 101;

/// Guard bands that are shown beside simple acceptance, in expanded uncertainties: with the first a
/// value at its edge is outside the band with less than 5 %, with the second less than 2.5 %
/// (ILAC-G8).
const GUARD_BANDS: [f64; 2] = [0.83, 1.0];

/// The whole budget of one rise time.
#[derive(Clone, Debug, Serialize, ToSchema)]
pub(crate) struct BudgetSheet {
    /// What was read, with the whole expanded uncertainty.
    pub(crate) read: String,
    /// The value in seconds.
    pub(crate) read_s: f64,
    /// Its standard uncertainty.
    pub(crate) uncertainty_s: f64,
    /// Its expanded uncertainty.
    pub(crate) expanded_s: f64,
    /// The coverage factor of that, and what it covers.
    pub(crate) coverage: String,
    /// What the block that the method describes would have taken, by a sensor that does not lag.
    pub(crate) corrected: String,
    /// The same in seconds.
    pub(crate) corrected_s: f64,
    /// Line by line, the largest first.
    pub(crate) lines: Vec<BudgetLine>,
    /// What holds lines together.
    pub(crate) together: Vec<String>,
    /// What was taken, since nothing was stated.
    pub(crate) taken: Vec<String>,
    /// The first order against the trials.
    pub(crate) trials: TrialsShown,
    /// How the value stands by each decision rule.
    pub(crate) rules: Vec<RuleShown>,
    /// What would make it smaller, the most first.
    pub(crate) improvements: Vec<ImprovementShown>,
    /// What would halve it.
    pub(crate) halving: String,
}

/// One line of a budget.
#[derive(Clone, Debug, Serialize, ToSchema)]
pub(crate) struct BudgetLine {
    /// What it is called.
    pub(crate) name: String,
    /// Why it is there.
    pub(crate) why: &'static str,
    /// The standard uncertainty, in `unit`.
    pub(crate) standard_uncertainty: f64,
    /// Its unit.
    pub(crate) unit: String,
    /// Seconds for each unit.
    pub(crate) sensitivity: f64,
    /// What it adds, in seconds.
    pub(crate) contribution_s: f64,
    /// Its part of the variance.
    pub(crate) share: f64,
}

/// The interval to first order, and by trials.
#[derive(Clone, Debug, Serialize, ToSchema)]
pub(crate) struct TrialsShown {
    /// How many trials.
    pub(crate) number: usize,
    /// The seed they are drawn with.
    pub(crate) seed: u64,
    /// The interval to first order, in seconds.
    pub(crate) first_order_s: (f64, f64),
    /// The interval by trials, in seconds.
    pub(crate) trials_s: Option<(f64, f64)>,
    /// The standard uncertainty by trials, in seconds.
    pub(crate) trials_uncertainty_s: Option<f64>,
    /// Whether the two agree to two digits of the uncertainty.
    pub(crate) validated: bool,
    /// All of it in a sentence.
    pub(crate) sentence: String,
}

/// A decision rule, and what the value comes to by it.
#[derive(Clone, Debug, Serialize, ToSchema)]
pub(crate) struct RuleShown {
    /// Which rule.
    pub(crate) rule: String,
    /// `kept`, `broken` or `undecided`.
    pub(crate) standing: &'static str,
    /// The zone in which a value is accepted, in seconds.
    pub(crate) accepted_s: Option<(f64, f64)>,
    /// The probability that the true time lies in the band.
    pub(crate) in_band: f64,
    /// The risk at the edge of what is accepted.
    pub(crate) worst_risk: Option<f64>,
}

/// Something that would make the uncertainty smaller.
#[derive(Clone, Debug, Serialize, ToSchema)]
pub(crate) struct ImprovementShown {
    /// What to do.
    pub(crate) says: String,
    /// The expanded uncertainty with it alone, in seconds.
    pub(crate) expanded_s: f64,
}

/// What a budget is made from.
pub(crate) struct Read<'a> {
    /// The rise time as read.
    pub(crate) rise: &'a RiseTime,
    /// What the curve tells of flame and block.
    pub(crate) determination: &'a Determination,
    /// The block.
    pub(crate) block: &'a CopperBlock,
    /// What is stated of block, sensor and room.
    pub(crate) stated: Stated,
    /// What was taken for the thermocouple, where nothing was stated.
    pub(crate) thermocouple_taken: Option<String>,
    /// The accepted band.
    pub(crate) band: Limit<Duration>,
}

/// Puts the whole budget together.
///
/// # Errors
///
/// When the curve tells no flame, or what is stated cannot be.
pub(crate) fn budget(from: &Read<'_>) -> Result<BudgetSheet, Problem> {
    let whole = whole_budget(from.rise, from.determination, from.block, &from.stated);
    let whole = whole.map_err(|error| {
        Problem::conflict("the budget of this rise time cannot be put together")
            .because(&error)
            .hint(error.hint())
    })?;
    let probability = Ratio::from_percent(COVERAGE_PERCENT);
    let expanded = expand(&whole.read, probability, FractionalDegrees::Truncated);
    let expanded = expanded.map_err(|error| {
        Problem::conflict("the uncertainty of this rise time cannot be expanded")
            .because(&error)
            .hint("Record with more readings a second.")
    })?;
    let k = expanded.coverage_factor;
    let mut lines: Vec<BudgetLine> = whole.budget.lines.iter().map(line).collect();
    lines.sort_by(|one, other| other.contribution_s.abs().total_cmp(&one.contribution_s.abs()));
    let mut taken: Vec<String> = from.thermocouple_taken.iter().cloned().collect();
    taken.extend(whole.taken.iter().map(|name| (*name).to_owned()));
    Ok(BudgetSheet {
        read: both(whole.read, k),
        read_s: whole.read.value.seconds(),
        uncertainty_s: whole.read.uncertainty.seconds(),
        expanded_s: k * whole.read.uncertainty.seconds(),
        coverage: format!("k = {k:.2} for {}{}", percent(probability), degrees(&whole.read)),
        corrected: both(whole.corrected, k),
        corrected_s: whole.corrected.value.seconds(),
        lines,
        together: together(&whole),
        taken,
        trials: trials(&whole, k),
        rules: rules(whole.read, from.band, k)?,
        improvements: whole
            .improvements
            .iter()
            .map(|it| ImprovementShown {
                says: it.says.clone(),
                expanded_s: k * it.uncertainty.seconds(),
            })
            .collect(),
        halving: halving(&whole, k),
    })
}

fn both(measured: Measurement<Duration>, k: f64) -> String {
    let expanded = k * measured.uncertainty.seconds();
    let decimals = decimals(expanded);
    format!("{:.decimals$} s ± {expanded:.decimals$} s", measured.value.seconds())
}

fn degrees(measured: &Measurement<Duration>) -> String {
    match measured.degrees_of_freedom {
        DegreesOfFreedom::Of(number) if number < 1000.0 => {
            format!(", {number:.0} degrees of freedom")
        }
        DegreesOfFreedom::Of(_) | DegreesOfFreedom::Infinite => String::new(),
    }
}

fn line(line: &Line) -> BudgetLine {
    BudgetLine {
        name: line.input.name.clone(),
        why: why(&line.input.name),
        standard_uncertainty: line.input.standard_uncertainty,
        unit: line.input.uncertainty_unit.clone(),
        sensitivity: line.sensitivity,
        contribution_s: line.contribution,
        share: line.share,
    }
}

/// Why a line is there, for each by its name.
const WHY: [(&str, &str); 11] = [
    ("climbed through", "The readings scatter about the line that places the crossing."),
    ("bend left out", "A straight line leaves out the bend of the climb."),
    ("last digit", "The readings end at a digit, where that does not average out."),
    ("time stamp", "The logger rounds its times to a step."),
    ("sensor at", "The thermocouple's class or calibration there."),
    ("rate of the clock", "A clock that is fast makes every time long, and with it this one."),
    ("mass of the block", "A heavier block takes as much longer as it is heavier."),
    ("lag of the sensor", "Late alike at both ends; what is left goes with the bend of the climb."),
    ("flame that the sensor", "Heat along the sheath shows more than the block has."),
    ("reference junction", "Off alike at both ends, but the climb is slower at the top."),
    ("room", "A warmer room takes less heat from the block."),
];

fn why(name: &str) -> &'static str {
    let found = WHY.iter().find(|(part, _)| name.contains(part));
    found.map_or("Only a sensor that lags remembers how warm the block began.", |(_, why)| why)
}

fn together(whole: &WholeBudget) -> Vec<String> {
    let mut said = Vec::new();
    let r = whole.sensor_correlation().fraction();
    said.push(if r == 0.0 {
        "The thermocouple's errors at bottom and top are taken as independent: that is too much \
         rather than too little, since errors that share a sign partly cancel."
            .to_owned()
    } else {
        format!(
            "The thermocouple's errors at bottom and top go together by {r:.2}: they partly cancel."
        )
    });
    let neighbours = whole.neighbours.fraction();
    if neighbours > 0.0 {
        let times = ((1.0 + neighbours) / (1.0 - neighbours)).sqrt();
        said.push(format!(
            "Neighbouring readings go along with each other by {neighbours:.2}, as behind a \
             filter: what they tell is counted {times:.1} times as unsure."
        ));
    }
    said
}

fn trials(whole: &WholeBudget, k: f64) -> TrialsShown {
    let coverage = Ratio::from_percent(COVERAGE_PERCENT);
    let expanded = k * whole.budget.standard_uncertainty;
    let first_order_s = (whole.budget.value - expanded, whole.budget.value + expanded);
    let decimals = decimals(whole.budget.standard_uncertainty);
    let (number, seed) = (TRIALS, SEED);
    match whole.by_trials(Trials { number, seed, coverage }) {
        Ok(found) => {
            let interval = found.symmetric;
            let held = validate(&whole.budget, k, interval, 2);
            let validated = held.outcome == Outcome::Validated;
            let verdict = if validated {
                "the first order is validated to two digits"
            } else {
                "the first order is not validated to two digits: take the trials"
            };
            let sentence = format!(
                "First order {:.decimals$} s to {:.decimals$} s, {number} Monte Carlo trials \
                 {:.decimals$} s to {:.decimals$} s for 95 %: {verdict}.",
                first_order_s.0, first_order_s.1, interval.low, interval.high
            );
            TrialsShown {
                number,
                seed,
                first_order_s,
                trials_s: Some((interval.low, interval.high)),
                trials_uncertainty_s: Some(found.standard_uncertainty),
                validated,
                sentence,
            }
        }
        Err(error) => TrialsShown {
            number,
            seed,
            first_order_s,
            trials_s: None,
            trials_uncertainty_s: None,
            validated: false,
            sentence: format!("Not held against Monte Carlo trials: {error}."),
        },
    }
}

fn rules(
    read: Measurement<Duration>,
    band: Limit<Duration>,
    k: f64,
) -> Result<Vec<RuleShown>, Problem> {
    let guarded = GUARD_BANDS.map(|ratio| DecisionRule::GuardBand { ratio, coverage_factor: k });
    let all = std::iter::once(DecisionRule::SimpleAcceptance).chain(guarded);
    all.map(|rule| {
        let decision = decide(read, band, rule).map_err(|error| {
            Problem::conflict("this rise time cannot be held against the band").because(&error)
        })?;
        Ok(rule_shown(&decision))
    })
    .collect()
}

fn rule_shown(decision: &Decision<Duration>) -> RuleShown {
    let rule = match decision.rule {
        DecisionRule::SimpleAcceptance => "simple acceptance".to_owned(),
        DecisionRule::GuardBand { ratio, .. } => {
            format!("guard band of {ratio} × U, that is {:.2}", decision.guard_band)
        }
    };
    let accepted_s = match decision.acceptance {
        Some(Limit::Between { low, high }) => Some((low.seconds(), high.seconds())),
        Some(Limit::AtMost(_) | Limit::LessThan(_) | Limit::AtLeast(_) | Limit::MoreThan(_))
        | None => None,
    };
    RuleShown {
        rule,
        standing: match decision.standing {
            Standing::Kept => "kept",
            Standing::Broken => "broken",
            Standing::Undecided => "undecided",
        },
        accepted_s,
        in_band: decision.probability_of_conformity.fraction(),
        worst_risk: decision.worst_false_acceptance.map(Ratio::fraction),
    }
}

fn halving(whole: &WholeBudget, k: f64) -> String {
    let now = k * whole.budget.standard_uncertainty;
    let then = k * whole.halving.uncertainty.seconds();
    let decimals = decimals(then);
    let steps = whole.halving.steps.join(" ");
    if whole.halving.reached {
        format!("To halve ± {now:.2} s: {steps} Then it is ± {then:.decimals$} s.")
    } else if steps.is_empty() {
        "Nothing that is known here makes it much smaller.".to_owned()
    } else {
        format!(
            "Half of ± {now:.2} s is not reached by what is known here. {steps} Then it is \
             ± {then:.decimals$} s."
        )
    }
}

impl BudgetSheet {
    /// The sheet as lines to read.
    pub(crate) fn lines(&self) -> String {
        let mut lines = format!(
            "{:<42}{:>16}{:>16}{:>10}{:>10}\n",
            "budget", "standard u", "sensitivity", "in s", "of u²"
        );
        for line in self.lines.iter().filter(|line| line.contribution_s != 0.0) {
            lines.push_str(&format!(
                "{:<42}{:>16}{:>16}{:>10.4}{:>8.1} %\n",
                line.name,
                format!("{:.4} {}", line.standard_uncertainty, line.unit),
                format!("{:.4}", line.sensitivity),
                line.contribution_s.abs(),
                100.0 * line.share
            ));
        }
        lines.push_str(&format!(
            "{:<42}{:>16}{:>16}{:>10.4}{:>8.1} %\n",
            "together", "", "", self.uncertainty_s, 100.0
        ));
        let mut say = |label: &str, text: &str| {
            lines.push_str(&crate::words::labelled(label, text));
        };
        say("rise time", &format!("{}, {}", self.read, self.coverage));
        say("corrected", &format!("{}, for the block that the method describes", self.corrected));
        self.together.iter().for_each(|it| say("", it));
        if !self.taken.is_empty() {
            say("not stated", &format!("taken as usual: {}", self.taken.join("; ")));
        }
        say("trials", &self.trials.sentence);
        for rule in &self.rules {
            let zone = rule.accepted_s.map_or_else(
                || "accepts nothing".to_owned(),
                |(low, high)| format!("accepts {low:.2} s to {high:.2} s"),
            );
            say("rule", &format!("{}: {}; {zone}", rule.rule, rule.standing));
        }
        let inside = self.rules.first().map_or(0.0, |rule| rule.in_band);
        let inside = percent(Ratio::from_fraction(inside));
        say("", &format!("the true time lies in the band with a probability of {inside}"));
        for improvement in &self.improvements {
            let expanded = improvement.expanded_s;
            let decimals = decimals(expanded);
            say("smaller", &format!("{} ± {expanded:.decimals$} s", improvement.says));
        }
        say("half", &self.halving);
        lines
    }
}
