//! A trace played again, as if it were measured now.
#![expect(clippy::disallowed_methods, reason = "this room reads files: the one that is played")]

use std::collections::VecDeque;
use std::fs::File;

use metrology::Duration;
use reading::import::{ChannelChoice, ImportError, ImportOptions, import};
use reading::{MissingCause, Trace};
use thiserror::Error;

use crate::clock::{Clock, whole_microseconds};
use crate::pace::Pacer;
use crate::settings::{Replayed, Speed};
use crate::source::{Batch, Event, Pace, Reading, Source, Value};
use crate::watch::OpenWires;

/// Traces that are played again. Their readings keep their own distances in time, whatever the
/// speed, so that a rise time read from them is the one of the file.
#[derive(Debug)]
pub struct Replay {
    channels: Vec<Channel>,
    /// What is added to the times of the traces.
    shift: Duration,
    first: Duration,
    pacer: Pacer,
    wires: OpenWires,
    told: VecDeque<Event>,
}

#[derive(Debug)]
struct Channel {
    name: String,
    trace: Trace,
    next_point: usize,
    next_missing: usize,
}

/// Why a file cannot be played again.
#[derive(Debug, Error)]
pub enum ReplayError {
    /// It cannot be opened.
    #[error("`{path}` cannot be opened")]
    Open {
        /// Its path.
        path: String,
        /// What the system says.
        #[source]
        cause: std::io::Error,
    },
    /// It is no trace.
    #[error("`{path}` cannot be played")]
    Import {
        /// Its path.
        path: String,
        /// Why.
        #[source]
        cause: Box<ImportError>,
    },
}

impl ReplayError {
    /// The way out, in the imperative, where there is one.
    #[must_use]
    pub fn hint(&self) -> Option<String> {
        match self {
            Self::Open { .. } => Some("Check the path in the settings.".to_owned()),
            Self::Import { cause, .. } => cause.hint(),
        }
    }
}

impl Replay {
    /// Plays traces, each under the name of its channel, from what the clock shows now on.
    #[must_use]
    pub fn new(traces: Vec<(String, Trace)>, speed: Speed, clock: &Clock) -> Self {
        let channels: Vec<Channel> = traces
            .into_iter()
            .map(|(name, trace)| Channel { name, trace, next_point: 0, next_missing: 0 })
            .collect();
        let names: Vec<String> = channels.iter().map(|channel| channel.name.clone()).collect();
        let firsts = channels.iter().filter_map(Channel::due);
        let first = firsts.reduce(sooner).unwrap_or(Duration::ZERO);
        Self {
            channels,
            shift: clock.now() - first,
            first,
            pacer: Pacer::new(speed),
            wires: OpenWires::new(&names),
            told: VecDeque::new(),
        }
    }

    /// Plays a file.
    ///
    /// # Errors
    ///
    /// When it cannot be read, or holds no trace.
    pub fn of_file(settings: &Replayed, clock: &Clock) -> Result<Self, ReplayError> {
        let open = |channel: Option<&String>| {
            let path = settings.file.display().to_string();
            let file = match File::open(&settings.file) {
                Ok(file) => file,
                Err(cause) => return Err(ReplayError::Open { path, cause }),
            };
            let channel = channel.map(|name| ChannelChoice::from(name.as_str()));
            let options = ImportOptions { channel, ..ImportOptions::default() };
            let imported = import(file, &options)
                .map_err(|cause| ReplayError::Import { path, cause: Box::new(cause) })?;
            let taken = imported.taken_for.channel;
            let name = if taken.name.is_empty() { format!("{}", taken.number) } else { taken.name };
            Ok((name, imported.trace))
        };
        let traces: Result<Vec<_>, _> = if settings.channels.is_empty() {
            open(None).map(|trace| vec![trace])
        } else {
            settings.channels.iter().map(|name| open(Some(name))).collect()
        };
        Ok(Self::new(traces?, settings.speed, clock))
    }
}

impl Source for Replay {
    fn channels(&self) -> Vec<String> {
        self.channels.iter().map(|channel| channel.name.clone()).collect()
    }

    fn pace(&self) -> Pace {
        Pace::Waits
    }

    async fn next(&mut self) -> Option<Event> {
        if let Some(event) = self.told.pop_front() {
            return Some(event);
        }
        let due = self.channels.iter().filter_map(Channel::due).reduce(sooner)?;
        self.pacer.until(due - self.first).await;
        let at = whole_microseconds(due + self.shift);
        let mut readings = Vec::new();
        for (index, channel) in self.channels.iter_mut().enumerate() {
            if channel.due() == Some(due) {
                readings.push(Reading { channel: index, at, value: channel.take() });
            }
        }
        self.told.extend(self.wires.see(&readings));
        self.told.push_back(Event::Readings(Batch { at, readings, raw: String::new() }));
        self.told.pop_front()
    }
}

impl Channel {
    /// When its next reading is due, on the trace's clock.
    fn due(&self) -> Option<Duration> {
        let point = (self.next_point < self.trace.len()).then(|| self.trace.point(self.next_point));
        let missing = self.trace.missing().get(self.next_missing);
        match (point.map(|it| it.at), missing.map(|it| it.at)) {
            (Some(one), Some(other)) => Some(sooner(one, other)),
            (one, other) => one.or(other),
        }
    }

    /// Its next reading.
    fn take(&mut self) -> Value {
        let due = self.due();
        if let Some(missing) = self.trace.missing().get(self.next_missing)
            && Some(missing.at) == due
        {
            self.next_missing += 1;
            return Value::Missing(missing.cause);
        }
        if self.next_point >= self.trace.len() {
            return Value::Missing(MissingCause::Blank);
        }
        let point = self.trace.point(self.next_point);
        self.next_point += 1;
        Value::Temperature(point.temperature)
    }
}

fn sooner(one: Duration, other: Duration) -> Duration {
    if other < one { other } else { one }
}
