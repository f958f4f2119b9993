//! Where in a trace the block is at rest, is heated, and cools.

use metrology::{Duration, Temperature};
use thiserror::Error;

use crate::fit::{Reading, line};
use crate::trace::Trace;

/// When the flame was put to the block and when it was taken away, on the trace's own clock.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Phases {
    /// The block at rest before the flame, if the trace shows it.
    pub rest: Option<Rest>,
    /// When the heating begins: where the climb, run back, meets the rest; without a rest, the
    /// first reading.
    pub flame_on: Duration,
    /// The hottest reading.
    pub flame_away: Duration,
    /// Where the cooling ends: the last reading, or the coldest one before another climb.
    pub end: Duration,
}

/// A block before the flame.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Rest {
    /// When it is first seen.
    pub from: Duration,
    /// Its temperature just before the flame.
    pub temperature: Temperature,
}

/// Why a trace does not show a determination.
#[derive(Clone, Copy, Debug, PartialEq, Error)]
pub enum PhasesError {
    /// Nothing is heated.
    #[error("the trace climbs by {climb:.0} at most; a heated block climbs by {needed:.0} or more")]
    NoClimb {
        /// From the coldest reading before the hottest.
        climb: metrology::TemperatureDifference,
        /// What is taken for a heating.
        needed: metrology::TemperatureDifference,
    },
}

impl PhasesError {
    /// The way out, in the imperative.
    #[must_use]
    pub const fn hint(self) -> &'static str {
        match self {
            Self::NoClimb { .. } => "Choose the part of the trace that holds a heating.",
        }
    }
}

/// A climb by less is no heating, in kelvin.
const CLIMB: f64 = 100.0;

/// Before the flame the block is colder than the coldest reading and this, in kelvin.
const RESTING: f64 = 6.0;

/// Further back than where the trace was this much hotter, it shows another determination.
const BEFORE: f64 = 50.0;

/// A climb by this much, after the cooling, is another determination.
const AGAIN: f64 = 20.0;

/// The temperature at rest is taken from this long before the flame, in seconds.
const REST: f64 = 2.0;

/// The foot of the climb, above the rest, from which the line is run back, in kelvin.
const FOOT: (f64, f64) = (15.0, 75.0);

impl Phases {
    /// The phases of the one determination that a trace shows.
    ///
    /// A spike of one reading does not matter.
    ///
    /// # Errors
    ///
    /// When nothing climbs.
    pub fn find(trace: &Trace) -> Result<Self, PhasesError> {
        let readings: Vec<Reading> =
            trace.points().map(|point| (point.at.seconds(), point.temperature.celsius())).collect();
        let smooth = medians_of_three(&readings);
        let hottest = |best: usize, n: usize| if smooth[n] > smooth[best] { n } else { best };
        let peak = (0..smooth.len()).fold(0, hottest);
        let (mut coldest, mut from) = (smooth[peak], peak);
        for n in (0..peak).rev() {
            if smooth[n] > coldest + BEFORE {
                break;
            }
            coldest = coldest.min(smooth[n]);
            from = n;
        }
        if smooth[peak] - coldest < CLIMB {
            let kelvin = metrology::TemperatureDifference::from_kelvin;
            return Err(PhasesError::NoClimb {
                climb: kelvin(smooth[peak] - coldest),
                needed: kelvin(CLIMB),
            });
        }
        let seconds = Duration::from_seconds;
        let rests = (from..peak).rev().find(|n| smooth[*n] <= coldest + RESTING).unwrap_or(from);
        let rest = at_rest(&readings[from..=rests]);
        let flame_on = rest
            .and_then(|rest| foot(&readings[rests..=peak], rest.temperature.celsius()))
            .unwrap_or(readings[rests].0);
        Ok(Self {
            rest,
            flame_on: seconds(flame_on),
            flame_away: seconds(readings[peak].0),
            end: seconds(readings[last_of_cooling(&smooth, peak)].0),
        })
    }
}

/// Each reading's median with its neighbours.
fn medians_of_three(readings: &[Reading]) -> Vec<f64> {
    let value = |n: usize| readings[n].1;
    (0..readings.len())
        .map(|n| {
            let (before, after) =
                (value(n.saturating_sub(1)), value((n + 1).min(readings.len() - 1)));
            let (low, high) = (before.min(after), before.max(after));
            value(n).clamp(low, high)
        })
        .collect()
}

fn at_rest(readings: &[Reading]) -> Option<Rest> {
    let (from, last) = (readings.first()?.0, readings.last()?.0);
    let mut near: Vec<f64> =
        readings.iter().filter(|(at, _)| *at >= last - REST).map(|(_, celsius)| *celsius).collect();
    near.sort_unstable_by(f64::total_cmp);
    let temperature = Temperature::from_celsius(near[near.len() / 2]);
    (near.len() >= 3).then(|| Rest { from: Duration::from_seconds(from), temperature })
}

/// When the line through the foot of the climb is at the temperature of the rest.
fn foot(readings: &[Reading], rest: f64) -> Option<f64> {
    let above = |celsius: f64| celsius - rest;
    let first = readings.iter().position(|(_, celsius)| above(*celsius) > FOOT.0)?;
    let lasting = readings[first..].iter().take_while(|(_, celsius)| above(*celsius) < FOOT.1);
    let count = lasting.count().max(2);
    let line = line(readings[first..].iter().copied().take(count))?;
    let at = line.middle - above(line.level) / line.slope;
    (readings[0].0..=readings[first].0).contains(&at).then_some(at)
}

fn last_of_cooling(smooth: &[f64], peak: usize) -> usize {
    let mut coldest = peak;
    for n in peak..smooth.len() {
        if smooth[n] > smooth[coldest] + AGAIN {
            return coldest;
        }
        if smooth[n] < smooth[coldest] {
            coldest = n;
        }
    }
    smooth.len() - 1
}
