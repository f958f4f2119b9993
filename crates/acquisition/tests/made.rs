//! Clocks, settings and sinks that the tests share.

use std::io::{self, Write};
use std::sync::{Arc, Mutex};

use acquisition::{Clock, Event, Live, SourceSettings, Value};
use metrology::Duration;
use reading::import::{ImportOptions, Imported, import};
use tokio::time::{Instant, timeout};

/// A clock that goes with the runtime's time, which a test may have stopped.
pub(crate) fn clock() -> Clock {
    let begun = Instant::now();
    Clock::new(move || Duration::from_seconds(begun.elapsed().as_secs_f64()))
}

pub(crate) fn settings(text: &str) -> SourceSettings {
    SourceSettings::from_toml(text).unwrap()
}

/// A file that others may look into while it is written.
#[derive(Clone, Debug, Default)]
pub(crate) struct Paper(Arc<Mutex<Vec<u8>>>);

impl Paper {
    pub(crate) fn text(&self) -> String {
        String::from_utf8(self.0.lock().unwrap().clone()).unwrap()
    }
}

impl Write for Paper {
    fn write(&mut self, bytes: &[u8]) -> io::Result<usize> {
        self.0.lock().unwrap().write(bytes)
    }

    fn flush(&mut self) -> io::Result<()> {
        Ok(())
    }
}

/// All events until the source ends.
pub(crate) async fn all<W>(live: &mut Live<W>) -> Vec<Event> {
    let mut events = Vec::new();
    while let Some(event) = live.next().await {
        events.push(event);
    }
    events
}

/// A test gives up here instead of standing still.
const PATIENCE: std::time::Duration = std::time::Duration::from_secs(30);

/// The events up to the first that `is_last` takes.
pub(crate) async fn until<W>(live: &mut Live<W>, is_last: impl Fn(&Event) -> bool) -> Vec<Event> {
    let mut events = Vec::new();
    loop {
        let next = timeout(PATIENCE, live.next()).await.expect("nothing comes any more");
        let event = next.expect("the source has ended before that");
        let last = is_last(&event);
        events.push(event);
        if last {
            return events;
        }
    }
}

/// What an event is, in a word.
pub(crate) fn word(event: &Event) -> &'static str {
    match event {
        Event::Readings(batch) if batch.readings.is_empty() => "not-used",
        Event::Readings(_) => "readings",
        Event::Trouble { trouble, .. } => trouble.name(),
        Event::Returned { .. } => "returned",
    }
}

pub(crate) fn words(events: &[Event]) -> Vec<&'static str> {
    events.iter().map(word).collect()
}

/// The words without lateness, which a busy machine adds where real time passes.
pub(crate) fn words_on_time(events: &[Event]) -> Vec<&'static str> {
    events.iter().map(word).filter(|word| *word != "late").collect()
}

/// The temperatures of one channel in degrees Celsius; an open wire is no number.
pub(crate) fn celsius(events: &[Event], channel: usize) -> Vec<f64> {
    let batches = events.iter().filter_map(|event| match event {
        Event::Readings(batch) => Some(&batch.readings),
        Event::Trouble { .. } | Event::Returned { .. } => None,
    });
    let readings = batches.flatten().filter(|reading| reading.channel == channel);
    readings
        .map(|reading| match reading.value {
            Value::Temperature(found) => found.celsius(),
            Value::Missing(_) => f64::NAN,
        })
        .collect()
}

/// A recording read again.
pub(crate) fn imported(text: &str, channel: &str) -> Imported {
    let channel = Some(channel.into());
    import(text.as_bytes(), &ImportOptions { channel, ..ImportOptions::default() }).unwrap()
}
