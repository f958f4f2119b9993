//! A source at work: read at its own pace, written down, and shown to one who watches.

use std::io::{self, Write};

use thiserror::Error;
use tokio::sync::mpsc::error::TrySendError;
use tokio::sync::mpsc::{Receiver, Sender, channel};
use tokio::task::JoinHandle;

use crate::recording::{Kept, Recorder};
use crate::source::{Event, Pace, Source};
use crate::trouble::Trouble;

/// Events that may wait to be taken.
pub const QUEUE: usize = 1024;

/// A source at work. Dropped, it stops, and its recording ends where it is.
#[derive(Debug)]
pub struct Live<W> {
    channels: Vec<String>,
    events: Receiver<Event>,
    task: JoinHandle<io::Result<Kept<W>>>,
}

/// Why a recording has no proper end.
#[derive(Debug, Error)]
pub enum LiveError {
    /// It could not be written.
    #[error("the recording cannot be written")]
    NotKept(#[source] io::Error),
    /// The loop that reads was stopped from outside.
    #[error("the loop that reads the source was stopped")]
    Stopped,
}

/// Sets `source` to work, its recording written to `out`. Needs a runtime of `tokio`.
///
/// # Errors
///
/// When the recording cannot be begun.
pub fn start<W>(source: impl Source + 'static, out: W) -> io::Result<Live<W>>
where
    W: Write + Send + 'static,
{
    let channels = source.channels();
    let recorder = Recorder::new(out, channels.clone())?;
    let room = match source.pace() {
        // Read no further than it is taken: who moves the flame of the practice bench moves it now.
        Pace::Waits => 1,
        Pace::GoesOn => QUEUE,
    };
    let (sender, events) = channel(room);
    let queue = Queue { sender, pace: source.pace(), missed: 0 };
    Ok(Live { channels, events, task: tokio::spawn(read(source, recorder, queue)) })
}

impl<W> Live<W> {
    /// The names of the channels.
    #[must_use]
    pub fn channels(&self) -> &[String] {
        &self.channels
    }

    /// The next event, or nothing when the source has ended.
    pub async fn next(&mut self) -> Option<Event> {
        self.events.recv().await
    }

    /// How many events wait to be taken; never more than [`QUEUE`].
    #[must_use]
    pub fn waiting(&self) -> usize {
        self.events.len()
    }

    /// Stops the source and ends its recording.
    ///
    /// # Errors
    ///
    /// When the recording could not be written.
    pub async fn stop(self) -> Result<Kept<W>, LiveError> {
        drop(self.events);
        self.task.await.map_err(|_| LiveError::Stopped)?.map_err(LiveError::NotKept)
    }
}

async fn read<W: Write>(
    mut source: impl Source,
    mut recorder: Recorder<W>,
    mut queue: Queue,
) -> io::Result<Kept<W>> {
    let mut unwritten: Option<io::Error> = None;
    loop {
        let next = tokio::select! {
            event = source.next() => event,
            () = queue.sender.closed() => None,
        };
        let Some(event) = next else { break };
        if unwritten.is_none()
            && let Err(error) = recorder.keep(&event)
        {
            let trouble = Trouble::NotKept { cause: error.to_string() };
            queue.put(Event::Trouble { at: event.at(), trouble }).await;
            unwritten = Some(error);
        }
        queue.put(event).await;
    }
    unwritten.map_or_else(|| recorder.finish(), Err)
}

/// The way to whoever watches.
struct Queue {
    sender: Sender<Event>,
    pace: Pace,
    /// Readings that found no room.
    missed: u64,
}

impl Queue {
    /// Hands `event` over. The one who watches may be gone: the loop sees that by itself.
    async fn put(&mut self, event: Event) {
        match self.pace {
            Pace::Waits => drop(self.sender.send(event).await),
            Pace::GoesOn => self.put_or_count(event),
        }
    }

    /// An instrument goes on while nobody takes its readings: they are in the recording, and it
    /// is told how many were not shown.
    fn put_or_count(&mut self, event: Event) {
        if self.missed > 0 {
            let trouble = Trouble::NotShown { readings: self.missed };
            let told = Event::Trouble { at: event.at(), trouble };
            if self.sender.capacity() >= 2 && self.sender.try_send(told).is_ok() {
                self.missed = 0;
            }
        }
        let refused = if self.missed > 0 { Some(event) } else { self.try_put(event) };
        if let Some(Event::Readings(batch)) = refused {
            self.missed += batch.readings.len() as u64;
        }
    }

    /// The event comes back where there is no room for it.
    fn try_put(&self, event: Event) -> Option<Event> {
        match self.sender.try_send(event) {
            Ok(()) | Err(TrySendError::Closed(_)) => None,
            Err(TrySendError::Full(event)) => Some(event),
        }
    }
}
