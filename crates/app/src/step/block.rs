//! What one determination tells of flame, air and block, and why it is as it is: the same sheet for
//! a file alone, for the book's command and for the page.

use metrology::{Measurement, Quantity, Ratio, Temperature};
use reading::copper_block::{
    Adjustment, BaseLine, BlockFit, Copper, CopperBlock, Determination, Diagnosis, DiagnosisError,
    Emissivity, Finding, FlowSensitivity, Parameter, Suspected, diagnose,
};
use reading::rise_time::Beginnings;
use reading::{Point, Trace};
use serde::Serialize;
use utoipa::ToSchema;

use crate::problem::Problem;
use crate::words::{decimals, percent};

/// Points of a curve that are drawn at most.
const DRAWN_MOST: usize = 400;

/// What a determination tells.
#[derive(Clone, Debug, Serialize, ToSchema)]
pub(crate) struct BlockSheet {
    /// The block that was taken, and from where.
    pub(crate) block: String,
    /// The heat that a difference of 1 K brings from the flame into the block.
    pub(crate) gain: Option<FittedValue>,
    /// The temperature of the flame, as the block sees it.
    pub(crate) flame: Option<FittedValue>,
    /// The heat that the block gives to the air.
    pub(crate) loss: FittedValue,
    /// The emissivity of its surface.
    pub(crate) emissivity: FittedValue,
    /// What the readings do not tell apart, in sentences.
    pub(crate) not_told_apart: Vec<String>,
    /// How closely each two of the four go together, from −1 to 1.
    pub(crate) correlations: Vec<Together>,
    /// What cannot be told because no cooling was recorded.
    pub(crate) cooling_missing: Option<String>,
    /// How long the cooling was read, in seconds.
    pub(crate) cooling_s: f64,
    /// How warm the block was at rest before the flame, in degrees Celsius.
    pub(crate) rest_celsius: Option<f64>,
    /// How the thermocouple follows the block.
    pub(crate) seating: Vec<String>,
    /// How the readings lie about the fit.
    pub(crate) residuals: String,
    /// Whether one temperature may stand for the block.
    pub(crate) one_temperature: String,
    /// The readings, the fitted course and what is left over.
    pub(crate) curve: BlockCurve,
}

/// A fitted value with its expanded uncertainty (k = 2).
#[derive(Clone, Debug, Serialize, ToSchema)]
pub(crate) struct FittedValue {
    /// In `unit`.
    pub(crate) value: f64,
    /// In `unit`, or in K for a temperature.
    pub(crate) expanded: f64,
    /// The unit.
    pub(crate) unit: &'static str,
    /// Both as they are read.
    pub(crate) text: String,
}

/// How closely two fitted values go together.
#[derive(Clone, Debug, Serialize, ToSchema)]
pub(crate) struct Together {
    /// The one.
    pub(crate) one: &'static str,
    /// The other.
    pub(crate) other: &'static str,
    /// From −1 to 1.
    pub(crate) correlation: f64,
}

/// A curve to draw. All times are in seconds since the flame came.
#[derive(Clone, Debug, Serialize, ToSchema)]
pub(crate) struct BlockCurve {
    /// The readings in degrees Celsius.
    pub(crate) read: Vec<Place>,
    /// The fitted course, heating and cooling, in degrees Celsius.
    pub(crate) fitted: Vec<Vec<Place>>,
    /// Readings less the fit, in kelvin, as the fitted course.
    pub(crate) left: Vec<Vec<Place>>,
}

/// A place on a curve.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, ToSchema)]
pub(crate) struct Place {
    /// Seconds.
    pub(crate) s: f64,
    /// Degrees Celsius, or kelvin.
    pub(crate) value: f64,
}

/// Why a determination is as it is.
#[derive(Clone, Debug, Serialize, ToSchema)]
pub(crate) struct DiagnosisSheet {
    /// `nothing`, `told`, `not-told-apart` or `unlike`.
    pub(crate) finding: &'static str,
    /// The same in a sentence.
    pub(crate) sentence: String,
    /// How probable it is that nothing has changed.
    pub(crate) nothing: f64,
    /// All causes in their groups, the most probable first.
    pub(crate) causes: Vec<CauseShown>,
    /// By how much the flame's heat differs from the base line's, in per cent, with its expanded
    /// uncertainty (k = 2).
    pub(crate) heat_percent: (f64, f64),
    /// Which way to turn the flow, and how far, where that may be the cause.
    pub(crate) flow: Option<FlowShown>,
}

/// A group of causes that no curve tells apart; most have one member.
#[derive(Clone, Debug, Serialize, ToSchema)]
pub(crate) struct CauseShown {
    /// Its members.
    pub(crate) causes: Vec<&'static str>,
    /// The members as they are read.
    pub(crate) said: String,
    /// How probable it is, from 0 to 1.
    pub(crate) probability: f64,
    /// The same as it is read.
    pub(crate) probability_said: String,
    /// Whether it is among those that are named.
    pub(crate) named: bool,
    /// What speaks for it.
    pub(crate) evidence: String,
    /// What to do, and the look that tells its members apart.
    pub(crate) advice: &'static str,
}

/// How far to turn the flow, so that the flame gives what it gave in the base line.
#[derive(Clone, Debug, Serialize, ToSchema)]
pub(crate) struct FlowShown {
    /// In per cent; positive is up. With its expanded uncertainty (k = 2).
    pub(crate) percent: (f64, f64),
    /// As a change of the flame's height in mm, likewise.
    pub(crate) height_mm: (f64, f64),
    /// The same in a sentence.
    pub(crate) sentence: String,
}

/// The block that is taken where none was weighed: the method's.
pub(crate) fn block_of(
    mass: Option<metrology::Mass>,
    area: Option<metrology::Area>,
) -> CopperBlock {
    let begin = Beginnings::built_in();
    CopperBlock {
        mass: mass.unwrap_or(begin.mass),
        area: area.unwrap_or(begin.area),
        // A start for the fit, which finds it.
        emissivity: Emissivity::constant(Ratio::from_fraction(0.3)),
        copper: Copper::built_in(),
    }
}

/// Reads what a trace tells of flame, air and block.
///
/// # Errors
///
/// When nothing is heated in it, or no flame gives such a trace.
pub(crate) fn determination(
    block: &CopperBlock,
    room: Temperature,
    trace: &Trace,
) -> Result<Determination, Problem> {
    Determination::read(block, room, trace).map_err(|error| {
        let problem = Problem::conflict(format!("nothing is told of flame and block: {error}"));
        problem.hint(error.hint())
    })
}

/// What cannot be told from a heating alone.
const WITHOUT_COOLING: &str = "No cooling was recorded. Loss to the air and emissivity are told by \
    it alone: without it, gain and flame temperature rest on the usual loss to still air, a dull \
    block cannot be told from a weaker flame, and no cause is looked for.";

impl BlockSheet {
    /// What a determination tells; `block` says which block was taken.
    pub(crate) fn of(determination: &Determination, trace: &Trace, block: String) -> Self {
        let fit = &determination.fit;
        let phases = &fit.phases;
        let pairs = pairs().filter(|_| fit.has_cooling() && fit.flame.is_some());
        let biot = &fit.validity;
        let relation = if biot.holds { "below" } else { "not below" };
        let residuals = &fit.residuals;
        Self {
            block,
            gain: fit.flame.map(|flame| told(scaled(flame.gain, 1e3), "mW/K")),
            flame: fit.flame.map(|flame| told(flame.temperature, "°C")),
            loss: told(fit.loss, "W/(m² K)"),
            emissivity: told(fit.emissivity, ""),
            not_told_apart: fit.not_told_apart.iter().map(ToString::to_string).collect(),
            correlations: pairs
                .map(|(one, other)| Together {
                    one: one.name(),
                    other: other.name(),
                    correlation: fit.correlation(one, other).fraction(),
                })
                .collect(),
            cooling_missing: (!fit.has_cooling()).then(|| WITHOUT_COOLING.to_owned()),
            cooling_s: (phases.end - phases.flame_away).seconds(),
            rest_celsius: phases.rest.map(|rest| rest.temperature.celsius()),
            seating: seating(determination),
            residuals: format!(
                "{} readings were fitted; they scatter by {:.2}, {} counted less, and what is left \
                 wanders {:.1} times as much as chance lets it.",
                residuals.points.len(),
                residuals.scatter,
                residuals.wild,
                residuals.wander.fraction()
            ),
            one_temperature: format!(
                "The Biot number is {:.5}, {relation} {}: one temperature {} stand for the block.",
                biot.biot.fraction(),
                biot.limit.fraction(),
                if biot.holds { "may" } else { "may not" }
            ),
            curve: BlockCurve::of(fit, trace),
        }
    }
}

/// Each two of the four parameters.
fn pairs() -> impl Iterator<Item = (Parameter, Parameter)> {
    let all = Parameter::ALL.into_iter().enumerate();
    all.flat_map(|(place, one)| {
        Parameter::ALL.into_iter().skip(place + 1).map(move |other| (one, other))
    })
}

/// A value a thousand times as large, in a smaller unit.
fn scaled<Q: Quantity<Difference = Q>>(measured: Measurement<Q>, times: f64) -> Measurement<Q> {
    Measurement {
        value: Q::of_unit(measured.value.in_unit() * times),
        uncertainty: Q::of_unit(measured.uncertainty.in_unit() * times),
        ..measured
    }
}

fn told<Q: Quantity>(measured: Measurement<Q>, unit: &'static str) -> FittedValue {
    let (value, expanded) = (measured.value.in_unit(), 2.0 * measured.uncertainty.in_unit());
    let decimals = decimals(expanded).min(4);
    let of = if unit == "°C" { "K" } else { unit };
    let text = format!("{value:.decimals$} {unit} ± {expanded:.decimals$} {of}");
    let text = text.replace("  ", " ").trim_end().to_owned();
    FittedValue { value, expanded, unit, text }
}

fn seating(determination: &Determination) -> Vec<String> {
    let seating = &determination.seating;
    [("comes", seating.flame_comes), ("goes", seating.flame_goes)]
        .into_iter()
        .filter_map(|(how, lag)| {
            let lag = lag?;
            let (seconds, expanded) = (lag.value.seconds(), 2.0 * lag.uncertainty.seconds());
            let side = if seconds < 0.0 { "ahead" } else { "late" };
            Some(format!(
                "Where the flame {how} the readings are {:.2} s ± {expanded:.2} s {side}.",
                seconds.abs()
            ))
        })
        .collect()
}

impl BlockCurve {
    fn of(fit: &BlockFit, trace: &Trace) -> Self {
        let zero = fit.phases.flame_on.seconds();
        let place = |at: metrology::Duration, value: f64| Place {
            s: ((at.seconds() - zero) * 1e3).round() / 1e3,
            value: (value * 1e3).round() / 1e3,
        };
        let away = fit.phases.flame_away;
        let course = fit.course(trace);
        let cooling = course.partition_point(|point: &Point| point.at < away);
        let (heated, cooled) = course.split_at(cooling);
        let residuals = &fit.residuals.points;
        let (left_heated, left_cooled) = residuals.split_at(cooling);
        let drawn = |points: &[Point]| {
            thinned(points.iter().map(|it| place(it.at, it.temperature.celsius())))
        };
        let left = |points: &[reading::copper_block::Residual]| {
            thinned(points.iter().map(|it| place(it.at, it.difference.kelvin())))
        };
        let present = |pieces: [Vec<Place>; 2]| {
            pieces.into_iter().filter(|piece| !piece.is_empty()).collect::<Vec<_>>()
        };
        Self {
            read: thinned(trace.points().map(|it| place(it.at, it.temperature.celsius()))),
            fitted: present([drawn(heated), drawn(cooled)]),
            left: present([left(left_heated), left(left_cooled)]),
        }
    }
}

/// Every so many-th place, and the last.
fn thinned(places: impl Iterator<Item = Place>) -> Vec<Place> {
    let places: Vec<Place> = places.collect();
    let stride = places.len().div_ceil(DRAWN_MOST).max(1);
    let last = places.len().saturating_sub(1);
    let kept = places.iter().enumerate().filter(|(n, _)| n % stride == 0 || *n == last);
    kept.map(|(_, place)| *place).collect()
}

/// What a determination is held against, and what is known besides.
pub(crate) struct Against<'a> {
    /// What is usual on the bench.
    pub(crate) base: &'a BaseLine,
    /// How warm the block may be when the flame comes.
    pub(crate) warmest: Temperature,
    /// How the flame's heat goes with its gas.
    pub(crate) sensitivity: FlowSensitivity,
    /// How high the flame is now.
    pub(crate) height: metrology::Length,
}

impl DiagnosisSheet {
    /// Holds a determination against the base line.
    ///
    /// # Errors
    ///
    /// When it shows no heating and cooling to compare.
    pub(crate) fn of(
        block: &CopperBlock,
        determination: &Determination,
        against: &Against<'_>,
    ) -> Result<Self, DiagnosisError> {
        let found = diagnose(against.base, block, determination, against.warmest)?;
        let named = named(&found);
        let causes: Vec<CauseShown> = found
            .suspected
            .iter()
            .enumerate()
            .map(|(place, suspected)| cause(suspected, place < named))
            .collect();
        let change = found.heat_change;
        let heat_may_be_it = causes.iter().any(|cause| {
            cause.named && (cause.said.contains("weaker") || cause.said.contains("stronger"))
        });
        let flow = Adjustment::of(&found, against.sensitivity, against.height);
        Ok(Self {
            finding: match found.finding {
                Finding::Nothing => "nothing",
                Finding::Told => "told",
                Finding::NotToldApart(_) => "not-told-apart",
                Finding::Unlike => "unlike",
            },
            sentence: sentence(&found, &causes, against.base.number()),
            nothing: found.nothing.fraction(),
            causes,
            heat_percent: (change.value.percent(), 2.0 * change.uncertainty.percent()),
            flow: flow.filter(|_| heat_may_be_it).map(|it| flow_shown(&it)),
        })
    }
}

/// How many of the suspected groups are named.
fn named(found: &Diagnosis) -> usize {
    match found.finding {
        Finding::Nothing | Finding::Unlike => 0,
        Finding::Told => 1,
        Finding::NotToldApart(number) => number,
    }
}

fn cause(suspected: &Suspected, named: bool) -> CauseShown {
    let causes: Vec<&'static str> = suspected.causes.iter().map(|cause| cause.name()).collect();
    CauseShown {
        said: causes.join(", or "),
        causes,
        probability: suspected.probability.fraction(),
        probability_said: percent(suspected.probability),
        named,
        evidence: suspected.evidence.clone(),
        advice: suspected.advice,
    }
}

fn sentence(found: &Diagnosis, causes: &[CauseShown], number: usize) -> String {
    match found.finding {
        Finding::Nothing => format!(
            "Nothing differs from the base line's {number} determinations by more than they differ \
             among themselves."
        ),
        Finding::Told => {
            let first = causes.first().map_or("", |cause| cause.said.as_str());
            let group = if causes.first().is_some_and(|cause| cause.causes.len() > 1) {
                " No curve tells these apart; a look does."
            } else {
                ""
            };
            format!("As far as the curve tells, {first}.{group}")
        }
        Finding::NotToldApart(_) => {
            let named: Vec<&str> = causes
                .iter()
                .filter(|cause| cause.named)
                .map(|cause| cause.said.as_str())
                .collect();
            let nothing = if found.nothing.fraction() >= 0.05 {
                format!(" That nothing has changed has {}.", percent(found.nothing))
            } else {
                String::new()
            };
            format!("Not told apart: {}.{nothing}", named.join("; "))
        }
        Finding::Unlike => "It is unlike the base line, and unlike what any of the known causes \
                            makes of it. Look at the curve, the block and the thermocouple."
            .to_owned(),
    }
}

fn flow_shown(it: &Adjustment) -> FlowShown {
    let both = |value: f64, uncertainty: f64| (value, 2.0 * uncertainty);
    let percent = both(it.flow.value.percent(), it.flow.uncertainty.percent());
    let height_mm = both(it.height.value.millimetres(), it.height.uncertainty.millimetres());
    let (way, higher) = if percent.0 < 0.0 { ("down", "lower") } else { ("up", "higher") };
    let sentence = format!(
        "If it is the flame, turn the flow {way} by {:.0} % ± {:.0} %: it then stands {:.1} mm ± \
         {:.1} mm {higher}. Measure its height, and make another determination.",
        percent.0.abs(),
        percent.1,
        height_mm.0.abs(),
        height_mm.1
    );
    FlowShown { percent, height_mm, sentence }
}
