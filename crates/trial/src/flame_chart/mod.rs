//! Whether the flame stays where it was: every confirmation on one chart, with what changed at the
//! bench between them.
//!
//! A confirmation is the mean rise time of those of its determinations that are not void. A base
//! line says where the flame lay while nothing was wrong; the weighted mean calls a slow change
//! before a single value leaves any limit. A call stays open until a person notes what was done;
//! the mean then begins anew.

mod rules;
mod told;
mod tested;

use crate::confirmation::Determination;
use crate::fact::{EquipmentKind, LotKind};
use crate::history::{FlameAnswer, History, RecordedBaseLine, RecordedConfirmation};
use crate::moment::Moment;
use crate::number::{ConfirmationNumber, EquipmentNumber, LotNumber, PlanNumber};
use metrology::Duration;
use metrology::control_chart::{BaseLine, Limits, Side, Smoothed, Sums, Turn, cusum, ewma, turn};
use metrology::statistics::mean;

pub use rules::{ChartNumber, ChartRules, NumberStanding};
pub use tested::{Tested, tested_since};
pub use told::day_in_words;

/// The chart of a book's confirmations.
#[derive(Clone, Debug, PartialEq)]
pub struct FlameChart {
    /// The confirmations in their order. One of which every determination was found void since is
    /// not among them.
    pub spots: Vec<Spot>,
    /// How many must make a base line.
    pub fewest: usize,
    /// The base line, once there are enough.
    pub base: Option<Base>,
    /// The method's own limits of the rise time, as the plan of the last confirmation has them.
    pub band: Option<MethodBand>,
    /// What changed at the bench, in order.
    pub marks: Vec<ChartMark>,
    /// The calls of the weighted mean, in order.
    pub calls: Vec<Call>,
}

/// One confirmation.
#[derive(Clone, Debug, PartialEq)]
pub struct Spot {
    /// Its number.
    pub number: ConfirmationNumber,
    /// When it was recorded.
    pub at: Moment,
    /// Under which plan.
    pub plan: PlanNumber,
    /// The mean rise time of its determinations.
    pub mean: Duration,
    /// Of how many.
    pub determinations: usize,
    /// The burner, as the plan names it.
    pub burner: Option<EquipmentNumber>,
    /// The block of the last of them.
    pub block: EquipmentNumber,
    /// Its thermocouple.
    pub thermocouple: EquipmentNumber,
    /// Its gas.
    pub gas: LotNumber,
    /// What the chart makes of it; none before there is a base line.
    pub charted: Option<Charted>,
}

/// What the chart makes of a confirmation.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Charted {
    /// The weighted mean with its limits.
    pub weighted: Smoothed<Duration>,
    /// The cumulative sums: above is slower.
    pub sums: Sums,
    /// On which side it lies beyond the limits of single confirmations.
    pub beyond: Option<Side>,
    /// On which side the sums signal.
    pub signal: Option<Side>,
}

/// Where the flame lay while nothing was wrong.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Base {
    /// Its centre and its scatter.
    pub line: BaseLine<Duration>,
    /// The limits of single confirmations.
    pub limits: Limits<Duration>,
    /// The place of its first confirmation among the spots.
    pub first: usize,
    /// The place of its last one.
    pub last: usize,
    /// Whether a person froze it by a recorded act.
    pub frozen: Option<Moment>,
}

/// The method's own limits.
#[derive(Clone, Debug, PartialEq)]
pub struct MethodBand {
    /// From where to where.
    pub limits: Limits<Duration>,
    /// Document and clause.
    pub source: String,
}

/// What changed at the bench.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct ChartMark {
    /// When.
    pub at: Moment,
    /// So many spots lie before it.
    pub after: usize,
    /// What, in a few words.
    pub words: String,
}

/// The weighted mean left its limits.
#[derive(Clone, Debug, PartialEq)]
pub struct Call {
    /// On which side: above is slower.
    pub side: Side,
    /// The place of the spot at which it left.
    pub place: usize,
    /// Since when the flame is most likely no longer where it was.
    pub turn: Turn,
    /// The place of the first spot after that turn.
    pub since: usize,
    /// The place of the last spot before the earliest turn that is not ruled out, if there is one: the
    /// last good confirmation.
    pub last_good: Option<usize>,
    /// What was done about it.
    pub answer: Option<FlameAnswer>,
}

impl FlameChart {
    /// The chart of a book.
    #[must_use]
    pub fn of(history: &History, rules: &ChartRules) -> Self {
        let mut spots: Vec<Spot> =
            history.confirmations().iter().filter_map(|it| spot(history, it)).collect();
        let base = base_line(history, &spots, rules);
        let calls = base.map(|base| charted(&mut spots, base, history.flame_answers(), rules));
        let marks = marks(history, &spots);
        let last = history.last_confirmation();
        let band = last.and_then(|last| band(history, last.plan));
        let calls = calls.unwrap_or_default();
        Self { spots, fewest: rules.fewest, base, band, marks, calls }
    }

    /// The call that nobody has answered yet.
    #[must_use]
    pub fn open_call(&self) -> Option<&Call> {
        self.calls.last().filter(|call| call.answer.is_none())
    }

    /// The last good confirmation before a call.
    #[must_use]
    pub fn last_good(&self, call: &Call) -> Option<&Spot> {
        self.spots.get(call.last_good?)
    }
}

/// A confirmation as the record has it now; none where nothing of it counts any more.
fn spot(history: &History, confirmation: &RecordedConfirmation) -> Option<Spot> {
    let counted: Vec<&Determination> = confirmation
        .counted
        .iter()
        .filter_map(|number| history.determination(*number))
        .filter(|made| made.void.is_none())
        .collect();
    let rises: Vec<Duration> =
        counted.iter().filter_map(|made| made.rise_time).map(|rise| rise.value).collect();
    let last = counted.last()?;
    let named = history.plan(confirmation.plan).map(|plan| plan.draft().equipment.as_slice());
    let burner = named.unwrap_or_default().iter().find(|number| {
        history.equipment(number).is_some_and(|piece| piece.kind == EquipmentKind::Burner)
    });
    Some(Spot {
        number: confirmation.number,
        at: confirmation.at,
        plan: confirmation.plan,
        mean: mean(&rises)?,
        determinations: rises.len(),
        burner: burner.cloned(),
        block: last.block.clone(),
        thermocouple: last.thermocouple.clone(),
        gas: last.gas.clone(),
        charted: None,
    })
}

/// The base line that was frozen, or the first confirmations, as many as make one.
fn base_line(history: &History, spots: &[Spot], rules: &ChartRules) -> Option<Base> {
    if let Some(frozen) = history.base_line().and_then(|it| frozen(it, spots, rules)) {
        return Some(frozen);
    }
    let first: Vec<Duration> = spots.get(..rules.fewest)?.iter().map(|spot| spot.mean).collect();
    let line = BaseLine::of(&first)?;
    let limits = line.limits(rules.single_sigma);
    Some(Base { line, limits, first: 0, last: rules.fewest - 1, frozen: None })
}

/// The frozen base line, from its confirmations that still count.
fn frozen(recorded: &RecordedBaseLine, spots: &[Spot], rules: &ChartRules) -> Option<Base> {
    let of_it = |spot: &Spot| recorded.base_line.confirmations.contains(&spot.number);
    let (first, last) = (spots.iter().position(of_it)?, spots.iter().rposition(of_it)?);
    let means: Vec<Duration> =
        spots.iter().filter(|spot| of_it(spot)).map(|spot| spot.mean).collect();
    let line = BaseLine::of(&means)?;
    let limits = line.limits(rules.single_sigma);
    Some(Base { line, limits, first, last, frozen: Some(recorded.at) })
}

/// Charts the spots from the base line on, and gives the calls. What was done about a call begins
/// mean and sums anew.
fn charted(
    spots: &mut [Spot],
    base: Base,
    answers: &[FlameAnswer],
    rules: &ChartRules,
) -> Vec<Call> {
    let mut calls = Vec::new();
    let mut begin = base.first;
    while begin < spots.len() {
        let values: Vec<Duration> = spots[begin..].iter().map(|spot| spot.mean).collect();
        let weighted = ewma(&values, &base.line, rules.ewma);
        let sums = cusum(&values, &base.line, rules.cusum);
        let left = |(place, it): (usize, &Smoothed<Duration>)| {
            let side = it.limits.left_by(it.value)?;
            (begin + place > base.last).then_some((begin + place, side))
        };
        let called = weighted.iter().enumerate().find_map(left);
        let answer = called
            .and_then(|(place, _)| answers.iter().find(|answer| answer.at >= spots[place].at));
        let until = answer.map_or(spots.len(), |answer| {
            begin + spots[begin..].partition_point(|spot| spot.at <= answer.at)
        });
        for ((spot, weighted), sums) in spots[begin..until].iter_mut().zip(weighted).zip(sums) {
            let beyond = base.limits.left_by(spot.mean);
            let signal = sums.signal(rules.cusum);
            spot.charted = Some(Charted { weighted, sums, beyond, signal });
        }
        if let Some((place, side)) = called
            && let Some(turn) = turn(&values[..until - begin], &base.line, side, rules.turn_margin)
        {
            let since = begin + turn.still_good;
            let last_good = (begin + turn.surely_good).checked_sub(1);
            calls.push(Call { side, place, turn, since, last_good, answer: answer.cloned() });
        }
        begin = until;
    }
    calls
}

fn band(history: &History, plan: PlanNumber) -> Option<MethodBand> {
    let requirement = history.plan(plan)?.requirement();
    let asked = &requirement.asked.confirmation.rise_time;
    let limits = Limits { low: asked.value.low, high: asked.value.high };
    let cited = requirement.head(&asked.source).map(|head| head.cited(" ed. "));
    let cited = cited.unwrap_or_else(|| asked.source.to_string());
    Some(MethodBand { limits, source: format!("{cited}, {}", asked.clause) })
}

/// Lots of gas, pieces that took the place of others, care of the bench, and answers.
fn marks(history: &History, spots: &[Spot]) -> Vec<ChartMark> {
    let mut marks = Vec::new();
    let mut put = |at: Moment, words: String| {
        let after = spots.partition_point(|spot| spot.at < at);
        marks.push(ChartMark { at, after, words });
    };
    for (at, lot) in history.lots().iter().filter(|(_, lot)| lot.kind == LotKind::Gas) {
        put(*at, format!("gas lot {}", lot.number));
    }
    for pair in spots.windows(2) {
        let [before, now] = pair else { continue };
        if let (Some(old), Some(new)) = (&before.burner, &now.burner)
            && old != new
        {
            put(now.at, format!("burner {new}"));
        }
        if before.block != now.block {
            put(now.at, format!("block {}", now.block));
        }
        if before.thermocouple != now.thermocouple {
            put(now.at, format!("thermocouple {}", now.thermocouple));
        }
    }
    for done in history.care() {
        let piece = done.care.equipment.as_ref().map(|number| format!(" {number}"));
        put(done.at, format!("{}{}", done.care.task.told(), piece.unwrap_or_default()));
    }
    for answer in history.flame_answers() {
        put(answer.at, format!("done: {}", answer.done));
    }
    marks.sort_by_key(|mark| mark.at);
    marks
}
