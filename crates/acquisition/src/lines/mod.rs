//! Lines of text from an instrument that sends by itself.

mod pattern;
mod reader;

use std::collections::VecDeque;

use tokio::io::AsyncReadExt;
use tokio::time::{Duration as Wait, sleep};

pub use pattern::{Pattern, Unreadable};
pub use reader::Reader;

use crate::clock::Clock;
use crate::port::Port;
use crate::source::{Event, Pace, Source};

/// Lines that come through a port.
#[derive(Debug)]
pub struct Lines<P: Port> {
    port: P,
    stream: Option<P::Stream>,
    reader: Reader,
    clock: Clock,
    told: VecDeque<Event>,
    bytes: Vec<u8>,
}

/// A port that was lost is tried again this often.
pub(crate) const TRY_EVERY: Wait = Wait::from_secs(1);

/// A connection that stays silent may be dead without a word; it is made anew this often.
const BELIEVED_FOR: Wait = Wait::from_secs(30);

/// Bytes taken at once.
const CHUNK: usize = 4096;

impl<P: Port> Lines<P> {
    /// Lines through `port`, which is opened already as `stream`.
    #[must_use]
    pub fn new(port: P, stream: P::Stream, mut reader: Reader, clock: Clock) -> Self {
        reader.opened(clock.now());
        let told = VecDeque::new();
        Self { port, stream: Some(stream), reader, clock, told, bytes: vec![0; CHUNK] }
    }

    async fn open_again(&mut self) {
        sleep(TRY_EVERY).await;
        if let Ok(stream) = self.port.open().await {
            self.reader.opened(self.clock.now());
            self.stream = Some(stream);
        }
    }

    /// Waits for bytes, or for the silence to become worth telling.
    async fn listen(&mut self) {
        let Some(stream) = &mut self.stream else { return self.open_again().await };
        let dies_unseen = self.port.may_die_unseen();
        let patience = match self.reader.silent_from() {
            Some(from) => Some(wait(from - self.clock.now())),
            None => dies_unseen.then_some(BELIEVED_FOR),
        };
        let read = tokio::select! {
            read = stream.read(&mut self.bytes) => read,
            () = sleep(patience.unwrap_or_default()), if patience.is_some() => {
                if dies_unseen {
                    self.stream = None;
                }
                return self.told.extend(self.reader.silence(self.clock.now()));
            }
        };
        let now = self.clock.now();
        let cause = match read {
            Ok(0) => "the other end was closed".to_owned(),
            Ok(count) => return self.told.extend(self.reader.take(now, &self.bytes[..count])),
            Err(error) => error.to_string(),
        };
        self.stream = None;
        self.told.extend(self.reader.unplugged(now, &self.port.name(), cause));
    }
}

impl<P: Port> Source for Lines<P> {
    fn channels(&self) -> Vec<String> {
        self.reader.channels()
    }

    fn pace(&self) -> Pace {
        Pace::GoesOn
    }

    async fn next(&mut self) -> Option<Event> {
        loop {
            if let Some(event) = self.told.pop_front() {
                return Some(event);
            }
            self.listen().await;
        }
    }
}

/// A time to wait, for the runtime: nothing where it is past, and a year at the most.
pub(crate) fn wait(time: metrology::Duration) -> Wait {
    const YEAR: f64 = 365.0 * 86_400.0;
    Wait::try_from_secs_f64(time.seconds().min(YEAR)).unwrap_or_default()
}
