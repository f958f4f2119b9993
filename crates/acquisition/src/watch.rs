//! The rhythm of readings: what is late, what came twice, when silence begins and ends.

use metrology::Duration;

use crate::settings::Rhythm;
use crate::source::{Event, Reading, Value};
use crate::trouble::Trouble;
use reading::MissingCause;

/// Watches the readings of one source go by.
#[derive(Debug)]
pub(crate) struct Watch {
    rhythm: Rhythm,
    wires: OpenWires,
    /// When the last reading came, or the waiting began.
    last: Duration,
    state: State,
    /// How many readings are due: one more each interval, one less with each that comes. Readings
    /// that were held up on their way come in a bunch; they are due, a line sent twice is not.
    due: f64,
    before: String,
}

/// Which wires are open, as the instrument says.
#[derive(Debug)]
pub(crate) struct OpenWires(Vec<Wire>);

#[derive(Debug)]
struct Wire {
    name: String,
    open_since: Option<Duration>,
}

#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum State {
    /// Waiting for the first reading.
    Begun,
    Reading,
    /// It was told that readings stay away.
    Away,
}

/// A reading may come this much later than the interval before it is told: what a system that is
/// shared needs now and then (common practice).
const LEEWAY: Duration = Duration::from_seconds(0.05);

/// Readings that may come in one bunch.
const BUNCH: f64 = 64.0;

impl Watch {
    pub(crate) fn new(rhythm: Rhythm, channels: &[String]) -> Self {
        Self {
            rhythm,
            wires: OpenWires::new(channels),
            last: Duration::ZERO,
            state: State::Begun,
            due: 0.0,
            before: String::new(),
        }
    }

    /// Readings may come from now on.
    pub(crate) fn opened(&mut self, now: Duration) {
        if self.state == State::Begun {
            self.last = now;
        }
    }

    /// A time for what comes now: later than anything before.
    pub(crate) fn stamp(&self, now: Duration) -> Duration {
        let least = self.last + Duration::from_microseconds(1);
        if self.state == State::Begun || now >= least {
            now
        } else {
            crate::clock::whole_microseconds(least)
        }
    }

    /// Whether `raw` at `at` is what came before, sent a second time.
    pub(crate) fn came_twice(&mut self, at: Duration, raw: &str) -> bool {
        let passed = (at - self.last).seconds() / self.rhythm.interval.seconds();
        let due = self.due + passed;
        if self.state == State::Reading && due < 0.5 && raw == self.before {
            return true;
        }
        raw.clone_into(&mut self.before);
        false
    }

    /// Sees readings that came at `at`; tells what is to be said before them.
    pub(crate) fn arrived(&mut self, at: Duration, readings: &[Reading]) -> Vec<Event> {
        let mut events = Vec::new();
        let gap = at - self.last;
        let interval = self.rhythm.interval;
        let half = interval * 0.5;
        let leeway = if half < LEEWAY { LEEWAY } else { half };
        match self.state {
            State::Begun => {}
            State::Away => events.push(Event::Returned { at, channel: None, after: gap }),
            State::Reading if gap > interval + leeway => {
                let trouble = Trouble::Late { by: gap - interval };
                events.push(Event::Trouble { at, trouble });
            }
            State::Reading => {}
        }
        let passed = gap.seconds() / interval.seconds();
        // After a pause, what had not come with its bunch becomes ever less likely to come.
        let carried = if passed > 0.5 { self.due * 0.5 } else { self.due };
        self.due = (carried + passed - 1.0).clamp(0.0, BUNCH);
        (self.last, self.state) = (at, State::Reading);
        events.extend(self.wires.see(readings));
        events
    }

    /// When silence begins if nothing comes, or nothing where that has been told.
    pub(crate) fn silent_from(&self) -> Option<Duration> {
        (self.state != State::Away).then(|| self.last + self.rhythm.silence)
    }

    /// Silence is told, when it has come to that.
    pub(crate) fn silence(&mut self, at: Duration) -> Option<Event> {
        let begun = self.silent_from().filter(|from| at >= *from)?;
        self.state = State::Away;
        let lasting = at - (begun - self.rhythm.silence);
        Some(Event::Trouble { at, trouble: Trouble::Silence { lasting } })
    }

    /// The port is gone.
    pub(crate) fn unplugged(&mut self, at: Duration, port: &str, cause: String) -> Event {
        self.state = State::Away;
        Event::Trouble { at, trouble: Trouble::Unplugged { port: port.to_owned(), cause } }
    }
}

impl OpenWires {
    pub(crate) fn new(channels: &[String]) -> Self {
        let wire = |name: &String| Wire { name: name.clone(), open_since: None };
        Self(channels.iter().map(wire).collect())
    }

    /// Tells which wires have opened, and which are whole again.
    pub(crate) fn see(&mut self, readings: &[Reading]) -> Vec<Event> {
        let told = |reading: &Reading| self.0.get_mut(reading.channel)?.see(reading);
        readings.iter().filter_map(told).collect()
    }
}

impl Wire {
    fn see(&mut self, reading: &Reading) -> Option<Event> {
        let at = reading.at;
        match (reading.value, self.open_since) {
            (Value::Missing(MissingCause::OpenCircuit), None) => {
                self.open_since = Some(at);
                let trouble = Trouble::OpenCircuit { channel: self.name.clone() };
                Some(Event::Trouble { at, trouble })
            }
            (Value::Temperature(_), Some(since)) => {
                self.open_since = None;
                let channel = Some(reading.channel);
                Some(Event::Returned { at, channel, after: at - since })
            }
            (Value::Missing(_), _) | (Value::Temperature(_), None) => None,
        }
    }
}
