//! Why the flame will not confirm: one determination held against the bench's own accepted ones.
//!
//! Each cause changes the fitted numbers in its own way. How probable the determination is under
//! each, over the stated range of how far a cause may go, gives the probability of the cause
//! (Bayes). Causes that no curve can separate are one group.

use metrology::{Mass, Measurement, Ratio, Temperature};
use thiserror::Error;

use super::fit::{BlockFit, FitError, fit};
use super::phases::{Phases, PhasesError};
use super::seating::Seating;
use super::{CopperBlock, fit::least_squares::real};
use crate::trace::Trace;

mod adjustment;
mod base_line;
mod features;
mod hypothesis;
mod ranges;
mod words;

pub use adjustment::{Adjustment, FlowSensitivity};
pub use base_line::BaseLine;

use features::Features;
use hypothesis::Hypothesis;
use ranges::Ranges;

/// One determination, read whole.
#[derive(Clone, Debug, PartialEq)]
pub struct Determination {
    /// What was fitted.
    pub fit: BlockFit,
    /// How the sensor sits.
    pub seating: Seating,
}

/// Why a determination cannot be read.
#[derive(Clone, Copy, Debug, PartialEq, Error)]
pub enum DeterminationError {
    /// It has no heating.
    #[error(transparent)]
    Phases(#[from] PhasesError),
    /// It cannot be fitted.
    #[error(transparent)]
    Fit(#[from] FitError),
}

impl DeterminationError {
    /// The way out, in the imperative.
    #[must_use]
    pub const fn hint(self) -> &'static str {
        match self {
            Self::Phases(error) => error.hint(),
            Self::Fit(error) => error.hint(),
        }
    }
}

impl Determination {
    /// Reads the one determination that a trace shows: its phases, the fit, the sensor.
    ///
    /// # Errors
    ///
    /// When nothing is heated, or the trace cannot be fitted.
    ///
    /// # Examples
    ///
    /// ```
    /// use metrology::{Area, Duration, Mass, Ratio, Temperature};
    /// use reading::copper_block::{
    ///     Copper, CopperBlock, Determination, Emissivity, Flame, Heat, Surroundings, cooling, heating,
    /// };
    /// use reading::{Point, Trace};
    ///
    /// let block = CopperBlock {
    ///     mass: Mass::from_grams(0.58),
    ///     area: Area::from_square_millimetres(90.0),
    ///     emissivity: Emissivity::constant(Ratio::from_fraction(0.3)),
    ///     copper: Copper::built_in(),
    /// };
    /// let room = Temperature::from_celsius(23.0);
    /// let air = Surroundings { temperature: room, loss_watt_per_square_metre_kelvin: 15.0 };
    /// let temperature = Temperature::from_celsius(1500.0);
    /// let flame = Heat::Flame(Flame { gain_watt_per_kelvin: 7.1e-3, temperature });
    /// let seconds = Duration::from_seconds;
    /// let rise = heating(&block, flame, air, (room, seconds(28.0)));
    /// let fall = cooling(&block, air, (rise.at(seconds(28.0)).unwrap(), seconds(120.0)));
    /// let points = (0..1480).map(|n| f64::from(n) / 10.0).map(|at| Point {
    ///     at: seconds(at),
    ///     temperature: rise.at(seconds(at)).or(fall.at(seconds(at - 28.0))).unwrap(),
    /// });
    /// let read = Determination::read(&block, room, &Trace::new(points)?)?;
    /// assert_eq!(format!("{:.3}", read.fit.emissivity.value), "0.300 1");
    /// # Ok::<(), Box<dyn std::error::Error>>(())
    /// ```
    pub fn read(
        block: &CopperBlock,
        room: Temperature,
        trace: &Trace,
    ) -> Result<Self, DeterminationError> {
        let phases = Phases::find(trace)?;
        let fit = fit(block, room, trace, &phases)?;
        let seating = Seating::of(block, room, trace, &fit);
        Ok(Self { fit, seating })
    }
}

/// What may be the cause.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Cause {
    /// The flame is weaker than it was.
    FlameWeaker,
    /// The flame stands beside the middle of the block.
    FlameOffCentre,
    /// The block hangs too high over the burner.
    BlockTooHigh,
    /// The flame is stronger than it was.
    FlameStronger,
    /// The block hangs too low over the burner.
    BlockTooLow,
    /// The block has lost its polish, or is sooted.
    BlockDull,
    /// The block is lighter than its record says.
    BlockLighter,
    /// The block is heavier than its record says.
    BlockHeavier,
    /// The thermocouple touches the block badly, or the flame reaches it.
    ThermocoupleSeatedBadly,
    /// Air moves around the block.
    Draught,
    /// The block was too warm when the flame came.
    StartedWarm,
}

impl Cause {
    /// What it is, in words.
    #[must_use]
    pub const fn name(self) -> &'static str {
        match self {
            Self::FlameWeaker => "the flame is weaker",
            Self::FlameOffCentre => "the flame is off-centre",
            Self::BlockTooHigh => "the block is too high",
            Self::FlameStronger => "the flame is stronger",
            Self::BlockTooLow => "the block is too low",
            Self::BlockDull => "the block is dull or sooted",
            Self::BlockLighter => "the block is lighter than recorded",
            Self::BlockHeavier => "the block is heavier than recorded",
            Self::ThermocoupleSeatedBadly => "the thermocouple is badly seated",
            Self::Draught => "there is a draught",
            Self::StartedWarm => "the block started warm",
        }
    }
}

/// One group of causes that curves can tell from the others; most have one member.
#[derive(Clone, Debug, PartialEq)]
pub struct Suspected {
    /// The causes; no curve separates those of one group.
    pub causes: &'static [Cause],
    /// How probable it is that it is one of them.
    pub probability: Ratio,
    /// What speaks for it, in one sentence.
    pub evidence: String,
    /// What to do, and the look that tells the members of a group apart.
    pub advice: &'static str,
}

/// What a diagnosis comes to.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Finding {
    /// The determination is as the base line's are.
    Nothing,
    /// The first of the suspected groups is the cause, as far as these causes go.
    Told,
    /// This many of the suspected groups are not told apart.
    NotToldApart(usize),
    /// It is unlike the base line, and unlike what any of the causes makes of it.
    Unlike,
}

/// Why a determination is as it is.
#[derive(Clone, Debug, PartialEq)]
pub struct Diagnosis {
    /// What it comes to.
    pub finding: Finding,
    /// How probable it is that nothing has changed.
    pub nothing: Ratio,
    /// All groups of causes, the most probable first.
    pub suspected: Vec<Suspected>,
    /// By how much the heat from the flame differs from the base line's, relative.
    pub heat_change: Measurement<Ratio>,
    /// The mass that the block would have if its mass were the cause.
    pub mass: Measurement<Mass>,
}

/// Why there is no diagnosis.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Error)]
pub enum DiagnosisError {
    /// There are too few accepted determinations.
    #[error(
        "a base line of {found} determinations is too short; {needed} with a cooling are needed"
    )]
    BaseLine {
        /// How many there are.
        found: usize,
        /// How many it takes.
        needed: usize,
    },
    /// The determination does not show all that is compared.
    #[error("the determination shows no heating and cooling that could be compared")]
    NotWhole,
}

impl DiagnosisError {
    /// The way out, in the imperative.
    #[must_use]
    pub const fn hint(self) -> &'static str {
        match self {
            Self::BaseLine { .. } => {
                "Record the cooling of each determination for a minute or two."
            }
            Self::NotWhole => {
                "Record the cooling for a minute or two after the flame is taken away."
            }
        }
    }
}

/// Looks for what has changed since the base line.
///
/// `warmest` is the temperature that the block may have at most when the flame comes, as the
/// method says.
///
/// # Errors
///
/// When the determination has no heating and cooling that were fitted.
pub fn diagnose(
    base: &BaseLine,
    block: &CopperBlock,
    determination: &Determination,
    warmest: Temperature,
) -> Result<Diagnosis, DiagnosisError> {
    let features = Features::of(determination).ok_or(DiagnosisError::NotWhole)?;
    let ranges = Ranges::built_in();
    let above = above_warmest(determination, warmest);
    let shares: f64 = Hypothesis::ALL[1..].iter().map(|hypothesis| hypothesis.share()).sum();
    let logs = Hypothesis::ALL.map(|hypothesis| {
        let before = if hypothesis == Hypothesis::Nothing {
            ranges.nothing
        } else {
            (1.0 - ranges.nothing) * hypothesis.share() / shares
        };
        let warm = hypothesis == Hypothesis::Warm;
        let start = if warm { above } else { 1.0 - above };
        hypothesis::log_likelihood(hypothesis, base, &features) + libm::log(before * start)
    });
    let most = logs.iter().copied().fold(f64::NEG_INFINITY, f64::max);
    let weights = logs.map(|log| libm::exp(log - most));
    let sum: f64 = weights.iter().sum();
    let probability = |hypothesis: Hypothesis| {
        let place = Hypothesis::ALL.iter().position(|other| *other == hypothesis);
        place.map_or(0.0, |place| weights[place] / sum)
    };
    let facts = words::Facts::new(base, block, determination, &features, warmest);
    let mut suspected: Vec<Suspected> =
        words::groups().map(|group| facts.suspected(group, probability)).collect();
    suspected
        .sort_by(|one, other| other.probability.fraction().total_cmp(&one.probability.fraction()));
    let nothing = probability(Hypothesis::Nothing);
    let unlike = Hypothesis::ALL.iter().all(|hypothesis| {
        hypothesis::nearest(*hypothesis, base, &features) > unlike_square(ranges)
    });
    Ok(Diagnosis {
        finding: if unlike { Finding::Unlike } else { finding(nothing, &suspected, ranges) },
        nothing: Ratio::from_fraction(nothing),
        suspected,
        heat_change: facts.heat_change(),
        mass: facts.mass(),
    })
}

fn finding(nothing: f64, suspected: &[Suspected], ranges: &Ranges) -> Finding {
    if suspected[0].probability.fraction() >= ranges.confident {
        return Finding::Told;
    }
    // What is more probably nothing than something is not called something.
    if nothing >= 0.5 {
        return Finding::Nothing;
    }
    let (mut sum, mut number) = (nothing, 0);
    for group in suspected {
        sum += group.probability.fraction();
        number += 1;
        if sum >= ranges.confident {
            break;
        }
    }
    Finding::NotToldApart(number)
}

/// How probable it is that the block was warmer than allowed when the flame came; never quite
/// certain either way. Without a rest it is not known, and not held against anything.
fn above_warmest(determination: &Determination, warmest: Temperature) -> f64 {
    const NEVER_CERTAIN: f64 = 1e-9;
    let Some(rest) = determination.fit.phases.rest else { return NEVER_CERTAIN };
    let unsure = 0.5 * determination.fit.residuals.scatter.kelvin().max(0.1);
    let above = (rest.temperature - warmest).kelvin() / unsure;
    let probability = metrology::distribution::normal_probability(above);
    probability.clamp(NEVER_CERTAIN, 1.0 - NEVER_CERTAIN)
}

/// The squared distance that one in so many of a hypothesis's own determinations exceeds, for a
/// chi-square of seven degrees of freedom by Wilson and Hilferty's root.
fn unlike_square(ranges: &Ranges) -> f64 {
    let tail = metrology::distribution::normal_quantile(1.0 - 1.0 / ranges.unlike);
    let by = 2.0 / (9.0 * real(features::COUNT));
    let root = 1.0 - by + tail.unwrap_or(5.0) * by.sqrt();
    real(features::COUNT) * root * root * root
}
