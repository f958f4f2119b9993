//! A heating of the block at work: its readings, and when it has come to its end. No rule of a fault
//! lives here: `reading` finds them.

use acquisition::{Event, Recorder, Value};
use metrology::{Duration, Temperature};
use reading::{
    Circumstances, Effect, FaultKind, Missing, Point, SensorUncertainty, Trace, Window, rise_time,
};
use trial::moment::Moment;
use trial::number::PersonName;

/// A fault must stand this long, but for an open wire: a spike is no fault once it is over.
const STANDS: Duration = Duration::from_seconds(0.25);

/// A trace that passed the top this long ago and has no rise time will have none.
const GIVEN_UP: Duration = Duration::from_seconds(3.0);

/// The fit of a crossing reaches half a second beyond it.
pub(super) const AFTER_TOP: Duration = Duration::from_seconds(0.8);

/// A heating at work.
pub(in crate::web) struct Heating {
    /// When the flame was put on, on the source's clock.
    pub(in crate::web) on: Duration,
    /// The same on the calendar.
    pub(in crate::web) moment: Moment,
    /// By whom.
    pub(in crate::web) by: PersonName,
    /// Whether it is the first of the sitting: the block rested before it.
    pub(in crate::web) first: bool,
    /// The block's readings since a little before.
    pub(in crate::web) points: Vec<Point>,
    pub(super) missing: Vec<Missing>,
    pub(super) recorder: Recorder<Vec<u8>>,
    /// How warm the block was then.
    pub(in crate::web) start: Temperature,
    pub(super) looked: Duration,
    pub(super) suspected: Option<(FaultKind, Duration)>,
    pub(super) topped: Option<Duration>,
}

/// A heating that has come to its end.
pub(in crate::web) struct Ended {
    /// Who put the flame on.
    pub(in crate::web) by: PersonName,
    /// When.
    pub(in crate::web) moment: Moment,
    /// Whether it was the first of the sitting: the block rested before it.
    pub(in crate::web) first: bool,
    /// The same on the source's clock.
    pub(in crate::web) on: Duration,
    /// How warm the block was then.
    pub(in crate::web) start: Temperature,
    /// All that the source told, as a recording.
    pub(in crate::web) bytes: Vec<u8>,
    /// Why it is void, where it was found so at the block.
    pub(in crate::web) void: Option<String>,
}

impl Heating {
    /// Whether it has come to its end: with a value to read, or void for a reason.
    #[expect(clippy::option_option, reason = "no end yet, an end to read, an end that is void")]
    pub(super) fn look(
        &mut self,
        at: Duration,
        window: Window,
        start: Temperature,
    ) -> Option<Option<String>> {
        let trace = Trace::with_missing(self.points.iter().copied(), self.missing.clone()).ok()?;
        let known = Circumstances {
            flame_on: Some(self.on),
            start_limit: Some(start),
            ..Circumstances::default()
        };
        let error = match rise_time(&trace, window, SensorUncertainty::NONE, &known) {
            Ok(rise) => return (at - rise.end.at > AFTER_TOP).then_some(None),
            Err(error) => error,
        };
        let voids = error.faults.iter().find(|fault| fault.effect == Effect::Void);
        let Some(fault) = voids else {
            self.suspected = None;
            let over = self.topped.is_some_and(|topped| at - topped > GIVEN_UP);
            return over.then_some(None);
        };
        let since = match self.suspected {
            Some((kind, since)) if kind == fault.kind => since,
            _ => at,
        };
        self.suspected = Some((fault.kind, since));
        let stands = at - since >= STANDS || fault.kind == FaultKind::OpenCircuit;
        stands.then(|| Some(fault.text.clone()))
    }
}

/// The block's readings of an event; one that is not later than the one before counts once.
pub(super) fn take(
    event: &Event,
    block: usize,
    points: &mut Vec<Point>,
    missing: &mut Vec<Missing>,
) {
    let Event::Readings(batch) = event else { return };
    for reading in batch.readings.iter().filter(|reading| reading.channel == block) {
        let at = reading.at;
        match reading.value {
            Value::Temperature(temperature) => {
                if points.last().is_none_or(|last| last.at < at) {
                    points.push(Point { at, temperature });
                }
            }
            Value::Missing(cause) => missing.push(Missing { at, cause }),
        }
    }
}
