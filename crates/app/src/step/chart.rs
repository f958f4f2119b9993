//! The flame chart of a book: what it shows and says, its files, and the act that closes a call.

use std::ops::Range;
use std::sync::LazyLock;

use metrology::control_chart::{Side, cusum_run_length, ewma_run_length, individuals_run_length};
use report::chart::{Look, flame_chart, mark_letter};
use report::csv::{Reader, cell};
use report::pdf::ChartPages;
use serde::Serialize;
use trial::fact::Fact;
use trial::flame_chart::{Call, ChartRules, FlameChart, Spot};
use trial::history::History;
use trial::signature::Signed;
use utoipa::ToSchema;

use super::sign;
use crate::book::OpenBook;
use crate::output::Output;
use crate::problem::Problem;

/// So many confirmations are shown unless another number is asked for.
pub(crate) const SHOWN: usize = 120;

/// So many at most: a line for each, and a chart that can still be read.
pub(crate) const SHOWN_MOST: usize = 1000;

/// The flame chart.
#[derive(Serialize, ToSchema)]
pub(crate) struct ChartSheet {
    /// How the flame stands, in sentences; the first says what matters most.
    pub(crate) told: Vec<String>,
    /// Whether a call is open, to be closed by noting what was done.
    pub(crate) call_open: bool,
    /// How many confirmations lie before those shown.
    pub(crate) earlier: usize,
    /// The confirmations shown, in order.
    pub(crate) spots: Vec<SpotShown>,
    /// The base line.
    pub(crate) base_line: Option<BaseLineShown>,
    /// The method's own limits of the rise time.
    pub(crate) method: Option<MethodLimits>,
    /// What changed at the bench.
    pub(crate) marks: Vec<MarkShown>,
    /// The calls, the last one last.
    pub(crate) calls: Vec<CallShown>,
    /// The numbers by which it is charted, each with its source.
    pub(crate) numbers: Vec<NumberShown>,
    /// How soon these numbers call, in sentences.
    pub(crate) run_lengths: Vec<String>,
    #[serde(skip)]
    pub(crate) chart: FlameChart,
    #[serde(skip)]
    pub(crate) shown: Range<usize>,
}

/// One confirmation of the chart.
#[derive(Serialize, ToSchema)]
pub(crate) struct SpotShown {
    /// Its number, such as `C-12`.
    pub(crate) confirmation: String,
    /// When it was recorded, in UTC.
    pub(crate) at: String,
    /// The mean rise time, in seconds.
    pub(crate) mean_s: f64,
    /// Of how many determinations.
    pub(crate) determinations: usize,
    /// The weighted mean, in seconds.
    pub(crate) weighted_s: Option<f64>,
    /// The lower limit of the weighted mean, in seconds.
    pub(crate) weighted_low_s: Option<f64>,
    /// Its upper limit, in seconds.
    pub(crate) weighted_high_s: Option<f64>,
    /// The sum of what was slower, in sigma.
    pub(crate) slower_sigma: Option<f64>,
    /// The sum of what was faster, in sigma.
    pub(crate) faster_sigma: Option<f64>,
    /// The block.
    pub(crate) block: String,
    /// The thermocouple.
    pub(crate) thermocouple: String,
    /// The gas.
    pub(crate) gas: String,
    /// What is to be said of it; often nothing.
    pub(crate) remark: String,
    /// The same numbers as they are printed.
    pub(crate) shown: SpotPrinted,
}

/// The numbers of a confirmation as they are printed.
#[derive(Serialize, ToSchema)]
pub(crate) struct SpotPrinted {
    /// The mean rise time.
    pub(crate) mean: String,
    /// The weighted mean.
    pub(crate) weighted: Option<String>,
    /// Its limits.
    pub(crate) limits: Option<String>,
    /// The sum of what was slower.
    pub(crate) slower: Option<String>,
    /// The sum of what was faster.
    pub(crate) faster: Option<String>,
}

/// The base line.
#[derive(Serialize, ToSchema)]
pub(crate) struct BaseLineShown {
    /// Its first confirmation.
    first: String,
    /// Its last one.
    last: String,
    /// Its centre, in seconds.
    centre_s: f64,
    /// One sigma, in seconds.
    sigma_s: f64,
    /// Three sigma below, in seconds.
    low_s: f64,
    /// Three sigma above, in seconds.
    high_s: f64,
    /// When a person froze it; none where nobody did.
    frozen: Option<String>,
}

/// The method's own limits.
#[derive(Serialize, ToSchema)]
pub(crate) struct MethodLimits {
    /// The lower one, in seconds.
    low_s: f64,
    /// The upper one, in seconds.
    high_s: f64,
    /// Document and clause.
    source: String,
}

/// What changed at the bench.
#[derive(Serialize, ToSchema)]
pub(crate) struct MarkShown {
    /// The letter by which the picture shows it.
    pub(crate) letter: String,
    /// When, in UTC.
    pub(crate) at: String,
    /// What.
    pub(crate) what: String,
    /// The last confirmation before it.
    pub(crate) confirmation: Option<String>,
}

/// A call of the weighted mean.
#[derive(Serialize, ToSchema)]
pub(crate) struct CallShown {
    /// The confirmation at which it left its limits.
    pub(crate) confirmation: String,
    /// `slower` or `faster`.
    pub(crate) way: &'static str,
    /// The last good confirmation: no earlier beginning of the change agrees with the values.
    pub(crate) last_good: Option<String>,
    /// When it was answered, in UTC.
    pub(crate) answered: Option<String>,
    /// By whom.
    pub(crate) by: Option<String>,
    /// What was done.
    pub(crate) done: Option<String>,
    /// Who signed that, and whether it stands; none if nobody did.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub(crate) signature: Option<String>,
}

/// A number by which it is charted.
#[derive(Serialize, ToSchema)]
pub(crate) struct NumberShown {
    /// What it is for.
    pub(crate) says: String,
    /// Its value.
    value: f64,
    /// The same as it is printed.
    pub(crate) shown: String,
    /// Where it comes from.
    pub(crate) source: String,
    /// How it is known: seen, memory or ours.
    pub(crate) standing: &'static str,
}

/// The chart of a book, its last confirmations shown.
pub(crate) fn chart(history: &History, last: usize) -> ChartSheet {
    let rules = ChartRules::built_in();
    let chart = FlameChart::of(history, rules);
    let all = chart.spots.len();
    let shown = all.saturating_sub(last.clamp(1, SHOWN_MOST))..all;
    let number = |place: usize| chart.spots.get(place).map(|spot| spot.number.to_string());
    ChartSheet {
        told: chart.told(),
        call_open: chart.open_call().is_some(),
        earlier: shown.start,
        spots: chart.spots[shown.clone()].iter().map(|spot| spot_shown(&chart, spot)).collect(),
        base_line: chart.base.map(|base| BaseLineShown {
            first: number(base.first).unwrap_or_default(),
            last: number(base.last).unwrap_or_default(),
            centre_s: base.line.centre.seconds(),
            sigma_s: base.line.sigma.seconds(),
            low_s: base.limits.low.seconds(),
            high_s: base.limits.high.seconds(),
            frozen: base.frozen.map(|at| at.to_string()),
        }),
        method: chart.band.as_ref().map(|band| MethodLimits {
            low_s: band.limits.low.seconds(),
            high_s: band.limits.high.seconds(),
            source: band.source.clone(),
        }),
        marks: marks(&chart, &shown),
        calls: chart.calls.iter().map(|call| call_shown(history, &chart, call)).collect(),
        numbers: rules
            .numbers
            .iter()
            .map(|it| NumberShown {
                says: it.says.clone(),
                value: it.value,
                shown: it.value.to_string(),
                source: it.source.clone(),
                standing: it.standing.word(),
            })
            .collect(),
        run_lengths: RUN_LENGTHS.clone(),
        chart,
        shown,
    }
}

fn spot_shown(chart: &FlameChart, spot: &Spot) -> SpotShown {
    let charted = spot.charted.as_ref();
    let weighted = charted.map(|it| it.weighted);
    let sums = charted.map(|it| it.sums);
    let two = |value: f64| format!("{value:.2}");
    SpotShown {
        confirmation: spot.number.to_string(),
        at: spot.at.to_string(),
        mean_s: spot.mean.seconds(),
        determinations: spot.determinations,
        weighted_s: weighted.map(|it| it.value.seconds()),
        weighted_low_s: weighted.map(|it| it.limits.low.seconds()),
        weighted_high_s: weighted.map(|it| it.limits.high.seconds()),
        slower_sigma: sums.map(|it| it.above_sigma),
        faster_sigma: sums.map(|it| it.below_sigma),
        block: spot.block.to_string(),
        thermocouple: spot.thermocouple.to_string(),
        gas: spot.gas.to_string(),
        remark: remark(chart, spot),
        shown: SpotPrinted {
            mean: two(spot.mean.seconds()),
            weighted: weighted.map(|it| two(it.value.seconds())),
            limits: weighted.map(|it| {
                format!("{:.2} to {:.2}", it.limits.low.seconds(), it.limits.high.seconds())
            }),
            slower: sums.map(|it| format!("{:.1}", it.above_sigma)),
            faster: sums.map(|it| format!("{:.1}", it.below_sigma)),
        },
    }
}

/// What is to be said of a confirmation.
fn remark(chart: &FlameChart, spot: &Spot) -> String {
    let at = |place: usize| chart.spots.get(place).is_some_and(|it| it.number == spot.number);
    let mut said = Vec::new();
    if chart.calls.iter().any(|call| at(call.place)) {
        said.push("the weighted mean left its limits");
    }
    if chart.calls.iter().any(|call| call.last_good.is_some_and(at)) {
        said.push("the last good one");
    }
    if spot.charted.is_some_and(|it| it.beyond.is_some()) {
        said.push("beyond three sigma");
    }
    if spot.charted.is_some_and(|it| it.signal.is_some()) {
        said.push("the sum signals");
    }
    said.join("; ")
}

/// What changed from the first confirmation shown on.
fn marks(chart: &FlameChart, shown: &Range<usize>) -> Vec<MarkShown> {
    let before = |after: usize| {
        let place = after.checked_sub(1)?;
        chart.spots.get(place).map(|spot| spot.number.to_string())
    };
    let all = chart.marks.iter().enumerate().filter(|(_, mark)| mark.after >= shown.start);
    all.map(|(place, mark)| MarkShown {
        letter: mark_letter(place),
        at: mark.at.to_string(),
        what: mark.words.clone(),
        confirmation: before(mark.after),
    })
    .collect()
}

fn call_shown(history: &History, chart: &FlameChart, call: &Call) -> CallShown {
    let answer = call.answer.as_ref();
    let signed = answer.and_then(|it| sign::line(history, Signed::FlameCall(it.confirmation)));
    CallShown {
        confirmation: chart
            .spots
            .get(call.place)
            .map_or_else(String::new, |it| it.number.to_string()),
        way: match call.side {
            Side::Above => "slower",
            Side::Below => "faster",
        },
        last_good: chart.last_good(call).map(|spot| spot.number.to_string()),
        answered: answer.map(|it| it.at.to_string()),
        by: answer.map(|it| it.who.to_string()),
        done: answer.map(|it| it.done.clone()),
        signature: signed,
    }
}

/// How soon the numbers call: worked out once, it is the same for every book.
static RUN_LENGTHS: LazyLock<Vec<String>> = LazyLock::new(|| {
    let rules = ChartRules::built_in();
    let said = |name: &str, length: &dyn Fn(f64) -> f64| {
        format!(
            "{name} on average once in {:.0} confirmations where nothing is wrong, and {:.0} \
             confirmations after a step of one sigma.",
            length(0.0),
            length(1.0)
        )
    };
    vec![
        said("The weighted mean calls", &|shift| ewma_run_length(rules.ewma, shift)),
        said("The sums signal", &|shift| cusum_run_length(rules.cusum, shift)),
        said("A single confirmation leaves its limits", &|shift| {
            individuals_run_length(rules.single_sigma, shift)
        }),
    ]
});

/// The chart as CSV, a line for each confirmation shown.
pub(crate) fn csv(sheet: &ChartSheet, reader: Reader) -> String {
    let mark = if reader == Reader::Spreadsheet { "\u{feff}" } else { "" };
    let mut file = format!(
        "{mark}confirmation,at,mean_s,determinations,weighted_s,weighted_low_s,weighted_high_s,\
         slower_sigma,faster_sigma,block,thermocouple,gas,remark\r\n"
    );
    let number = |value: Option<f64>| value.map_or_else(String::new, |value| value.to_string());
    for spot in &sheet.spots {
        let cells = [
            spot.confirmation.clone(),
            spot.at.clone(),
            spot.mean_s.to_string(),
            spot.determinations.to_string(),
            number(spot.weighted_s),
            number(spot.weighted_low_s),
            number(spot.weighted_high_s),
            number(spot.slower_sigma),
            number(spot.faster_sigma),
            cell(&spot.block, reader),
            cell(&spot.thermocouple, reader),
            cell(&spot.gas, reader),
            spot.remark.clone(),
        ];
        file.push_str(&cells.join(","));
        file.push_str("\r\n");
    }
    file
}

/// The chart as PDF. The same record gives the same bytes: it bears the time of its last entry.
pub(crate) fn pdf(book: &OpenBook, last: usize, output: &Output) -> Result<Vec<u8>, Problem> {
    let history = book.history();
    let sheet = chart(history, last);
    let empty = || Problem::used_wrongly("the book is empty").hint("Open it with `new`.");
    let head = book.book().head().ok_or_else(empty)?.to_string();
    let entry = history.entries().last().ok_or_else(empty)?;
    let laboratory = history.laboratory().map_or("", |it| it.name.as_str());
    let rules = ChartRules::built_in();
    let picture = flame_chart(&sheet.chart, rules, sheet.shown.clone(), Look::Paper);
    let at = second(&entry.at.to_string());
    let made_by = format!("Cinderbook {}", env!("CARGO_PKG_VERSION"));
    let pages = ChartPages {
        laboratory,
        made_up: history.made_up().then_some(report::content::MADE_UP),
        head: &head,
        at: &at,
        made_by: &made_by,
        data: &sheet,
        picture: picture.as_ref(),
    };
    output.during("setting the pages", || report::pdf::flame_chart(&pages)).map_err(|error| {
        Problem::surroundings("cannot set the flame chart: this is a bug of ours").because(&error)
    })
}

/// A moment to the second.
fn second(at: &str) -> String {
    let whole = at.split(['.', 'Z']).next().unwrap_or_default();
    format!("{whole}Z")
}

/// Notes what was done about the open call, which closes it.
pub(crate) fn note(book: &mut OpenBook, done: &str, output: &Output) -> Result<(), Problem> {
    let done = done.trim();
    if done.is_empty() {
        return Err(Problem::used_wrongly("it is not said what was done")
            .hint("Say what was looked at and what was changed, or why nothing was."));
    }
    let chart = FlameChart::of(book.history(), ChartRules::built_in());
    let call = chart.open_call().and_then(|call| chart.spots.get(call.place));
    let Some(spot) = call else {
        return Err(Problem::conflict("no call of the flame chart is open")
            .hint("There is nothing to be answered; look at the chart."));
    };
    let fact = Fact::FlameCallAnswered { confirmation: spot.number, done: done.to_owned() };
    book.keep(&fact, output).map(drop)
}
