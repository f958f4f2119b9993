//! What a block's own earlier coolings say of one that is going on: how they came against what
//! would have been foretold of them.

use metrology::statistics::{mean, standard_deviation};
use metrology::{DegreesOfFreedom, Duration, Measurement, Ratio, Temperature};

use super::CopperBlock;
use super::beforehand::Beforehand;
use super::cooling_clock::{CoolingKnown, CoolingTime, cooling_time};
use super::fit::least_squares::real;
use super::phases::Phases;
use crate::fit::line;
use crate::trace::{Point, Trace};

/// More earlier coolings than this tell little more.
const MOST: usize = 8;

/// Of what comes later after the flame, in seconds, every so-many-th reading is kept.
const WHOLE: f64 = 120.0;
const THINNED: usize = 10;

/// The moment of being cold is read from a line through the readings this near to it, in kelvin.
const NEAR: f64 = 6.0;

/// Coolings of one block that were recorded until it was cold.
#[derive(Clone, Debug)]
pub struct EarlierCoolings {
    below: Temperature,
    coolings: Vec<Earlier>,
}

#[derive(Clone, Debug)]
struct Earlier {
    room: Measurement<Temperature>,
    points: Vec<Point>,
    on: Duration,
    away: Duration,
    /// When it was cold, on the trace's own clock.
    cold: Duration,
}

impl EarlierCoolings {
    /// Of recordings that reach from a heating to below a temperature, the newest first, each with
    /// the temperature of its room. Others are left out.
    #[must_use]
    pub fn of<'a>(
        below: Temperature,
        recordings: impl IntoIterator<Item = (Measurement<Temperature>, &'a Trace)>,
    ) -> Self {
        let found = recordings.into_iter().filter_map(|(room, trace)| {
            let phases = Phases::find(trace).ok()?;
            let cold = cold(trace, &phases, below)?;
            let whole = phases.flame_away + Duration::from_seconds(WHOLE);
            let kept = |(n, point): &(usize, Point)| point.at <= whole || n % THINNED == 0;
            let points = trace.points().enumerate().filter(kept).map(|(_, point)| point).collect();
            Some(Earlier { room, points, on: phases.flame_on, away: phases.flame_away, cold })
        });
        Self { below, coolings: found.take(MOST).collect() }
    }

    /// What was foretold of a cooling that is going on, corrected by how each earlier one came against
    /// what is foretold of it from as many seconds; as it was where there are too few.
    ///
    /// # Uncertainty
    ///
    /// How much they differ among each other: all that makes one cooling unlike the next is in it,
    /// and so is what the model lacks.
    #[must_use]
    pub fn corrected(
        &self,
        found: CoolingTime,
        block: &CopperBlock,
        known: CoolingKnown,
    ) -> CoolingTime {
        let ratios = self.coolings.iter().filter_map(|it| it.came(found, (block, known)));
        let ratios: Vec<Ratio> = ratios.collect();
        let number = real(ratios.len());
        let (Some(mean), Some(scatter)) = (mean(&ratios), standard_deviation(&ratios)) else {
            return found;
        };
        if ratios.len() < Beforehand::built_in().fewest_coolings || found.below != self.below {
            return found;
        }
        let left = (found.after.value - found.seen).seconds() * mean.fraction();
        // The variance of Student's distribution with as many degrees of freedom.
        let few = ((number - 1.0) / (number - 3.0)).sqrt();
        let unsure = scatter.fraction() / mean.fraction() * (1.0 + 1.0 / number).sqrt() * few;
        CoolingTime {
            after: Measurement {
                value: found.seen + Duration::from_seconds(left),
                uncertainty: Duration::from_seconds(left.abs() * unsure),
                degrees_of_freedom: DegreesOfFreedom::Infinite,
            },
            ..found
        }
    }
}

impl Earlier {
    /// The time that it still took, as a part of what is foretold from as much of it as was seen of
    /// another one.
    fn came(
        &self,
        like: CoolingTime,
        (block, known): (&CopperBlock, CoolingKnown),
    ) -> Option<Ratio> {
        let end = self.away + like.seen;
        let trace = Trace::new(self.points.iter().copied().filter(|it| it.at <= end)).ok()?;
        let phases = Phases { rest: None, flame_on: self.on, flame_away: self.away, end };
        let found = cooling_time(block, self.room, (&trace, &phases), known, like.below).ok()?;
        let foretold = (found.after.value - found.seen).seconds();
        let came = (self.cold - self.away - found.seen).seconds();
        (foretold > 0.0 && came > 0.0).then(|| Ratio::from_fraction(came / foretold))
    }
}

/// When the block was below a temperature, by a straight line through its last readings above; none
/// where the trace ends before.
fn cold(trace: &Trace, phases: &Phases, below: Temperature) -> Option<Duration> {
    let above = |point: &Point| (point.temperature - below).kelvin();
    let after = trace.points().skip_while(|point| point.at <= phases.flame_away);
    let cooling = after.take_while(|point| point.at <= phases.end);
    let near = cooling.skip_while(|point| above(point) > NEAR);
    let last: Vec<Point> = near.take_while(|point| above(point) > -NEAR).collect();
    let readings = last.iter().map(|point| (point.at.seconds(), point.temperature.celsius()));
    let line = line(readings)?;
    let (first, end) = (last.first()?.at.seconds(), last.last()?.at.seconds());
    let at = first + (below.celsius() - line.at(first)) / line.slope;
    // A recording that ends once the block is cold ends about here.
    let reached = (first..=end + 0.1 * (end - first)).contains(&at);
    (line.slope < 0.0 && reached).then(|| Duration::from_seconds(at))
}
