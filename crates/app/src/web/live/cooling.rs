//! The cooling after a heating: recorded whole as evidence of its own, and foretold.

use acquisition::{Event, Recorder};
use metrology::{Duration, Measurement, Temperature};
use reading::copper_block::{CoolingKnown, CopperBlock, EarlierCoolings, Phases, cooling_time};
use reading::{Point, Trace};

/// A cooling is not followed for longer.
const LONGEST: Duration = Duration::from_seconds(1200.0);

/// A cooling shorter than this tells nothing, and is not kept.
const SHORTEST: Duration = Duration::from_seconds(15.0);

/// It is foretold this often, and from so much of it on.
const FORETOLD: Duration = Duration::from_seconds(1.0);
const SEEN: Duration = Duration::from_seconds(8.0);

/// More readings than this are thinned before it is foretold from them.
const READINGS_MOST: usize = 3000;

/// What is known of the block before it cools.
#[derive(Clone, Debug)]
pub(in crate::web) struct Body {
    /// The block.
    pub(in crate::web) block: CopperBlock,
    /// Its loss and emissivity, as the base line tells them.
    pub(in crate::web) known: CoolingKnown,
    /// Its own earlier coolings.
    pub(in crate::web) earlier: EarlierCoolings,
}

/// A cooling that has ended.
pub(in crate::web) struct Cooled {
    /// When the flame was put on before it, on the source's clock.
    pub(in crate::web) on: Duration,
    /// The recording, from before the flame on.
    pub(in crate::web) bytes: Vec<u8>,
}

/// A heating with the cooling after it, as it goes.
pub(super) struct Cooling {
    on: Duration,
    recorder: Recorder<Vec<u8>>,
    points: Vec<Point>,
    /// When the heating ended; none as long as the flame is on the block.
    since: Option<Duration>,
    foretold: Option<(Duration, Measurement<Duration>)>,
    looked: Duration,
}

impl Cooling {
    /// Begins with the readings before the flame, which comes now.
    pub(super) fn begin(channels: Vec<String>, before: &[Point], on: Duration) -> Option<Self> {
        Some(Self {
            on,
            recorder: Recorder::new(Vec::new(), channels).ok()?,
            points: before.to_vec(),
            since: None,
            foretold: None,
            looked: Duration::ZERO,
        })
    }

    /// The flame is taken away.
    pub(super) const fn away(&mut self, at: Duration) {
        self.since = Some(at);
    }

    /// Takes what the source tells into the recording.
    pub(super) fn record(&mut self, event: &Event) {
        // Writing to memory cannot go wrong.
        drop(self.recorder.keep(event));
    }

    /// Takes a reading of the block.
    pub(super) fn see(&mut self, point: Point) {
        if self.points.last().is_none_or(|last| last.at < point.at) {
            self.points.push(point);
        }
        if self.points.len() > READINGS_MOST {
            let mut keep = false;
            self.points.retain(|_| {
                keep = !keep;
                keep
            });
        }
    }

    /// Foretells the cooling anew, where it is time to.
    pub(super) fn look(
        &mut self,
        at: Duration,
        (below, room): (Temperature, Measurement<Temperature>),
        body: &Body,
    ) {
        let Some(since) = self.since else { return };
        if at - since < SEEN || at - self.looked < FORETOLD {
            return;
        }
        self.looked = at;
        self.foretold = self.foretell(below, room, body);
    }

    /// When the block is below a temperature, on the source's clock.
    fn foretell(
        &self,
        below: Temperature,
        room: Measurement<Temperature>,
        body: &Body,
    ) -> Option<(Duration, Measurement<Duration>)> {
        let trace = Trace::new(self.points.iter().copied()).ok()?;
        let phases = Phases::find(&trace).ok()?;
        let found = cooling_time(&body.block, room, (&trace, &phases), body.known, below).ok()?;
        let found = body.earlier.corrected(found, &body.block, body.known);
        Some((phases.flame_away, found.after))
    }

    /// How long it still takes from `at` on; none as long as that is not foretold.
    pub(super) fn left(&self, at: Duration) -> Option<Measurement<Duration>> {
        let (away, after) = self.foretold?;
        let value = away + after.value - at;
        (value > Duration::ZERO).then_some(Measurement { value, ..after })
    }

    /// Whether it was followed long enough.
    pub(super) fn over(&self, at: Duration) -> bool {
        self.since.is_some_and(|since| at - since > LONGEST)
    }

    /// The recording; nothing where the block was hardly seen to cool.
    pub(super) fn finish(self) -> Option<Cooled> {
        let last = self.points.last()?.at;
        if last - self.since? < SHORTEST {
            return None;
        }
        let on = self.on;
        self.recorder.finish().ok().map(|kept| Cooled { on, bytes: kept.out })
    }
}
