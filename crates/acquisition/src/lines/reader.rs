//! From bytes to readings: lines are cut, read, and held against the rhythm.

use metrology::Duration;

use super::pattern::Pattern;
use crate::recording::readable;
use crate::settings::Rhythm;
use crate::source::{Batch, Event};
use crate::trouble::Trouble;
use crate::watch::Watch;

/// Reads lines from bytes as they come. It knows the time only as it is told.
#[derive(Debug)]
pub struct Reader {
    pattern: Pattern,
    watch: Watch,
    /// Where the bytes come from over a serial line.
    baud: Option<u32>,
    /// The line that has not ended yet.
    begun: Vec<u8>,
    /// The first line may have lost its beginning.
    cut_off: bool,
    /// Lines in a row that were no text.
    no_text: u32,
}

/// A line ends here at the latest: noise has no ends.
const LINE_BYTES_MOST: usize = 1024;

/// From this many lines of no text in a row on, it is said that what comes is none.
const NO_TEXT_LINES: u32 = 3;

impl Reader {
    /// A reader of lines of this pattern; the baud rate where they come over a serial line.
    #[must_use]
    pub fn new(pattern: Pattern, rhythm: Rhythm, baud: Option<u32>) -> Self {
        let watch = Watch::new(rhythm, &pattern.names());
        Self { pattern, watch, baud, begun: Vec::new(), cut_off: true, no_text: 0 }
    }

    /// The names of the channels.
    #[must_use]
    pub fn channels(&self) -> Vec<String> {
        self.pattern.names()
    }

    /// The port was opened: what comes now may begin in the middle of a line.
    pub fn opened(&mut self, at: Duration) {
        self.begun.clear();
        self.cut_off = true;
        self.no_text = 0;
        self.watch.opened(at);
    }

    /// Takes bytes that came at `now`.
    pub fn take(&mut self, now: Duration, bytes: &[u8]) -> Vec<Event> {
        let mut events = Vec::new();
        for byte in bytes {
            match byte {
                b'\n' | b'\r' => self.end_of_line(now, &mut events),
                _ => self.begun.push(*byte),
            }
            if self.begun.len() >= LINE_BYTES_MOST {
                self.end_of_line(now, &mut events);
            }
        }
        events
    }

    /// When silence begins if nothing comes.
    #[must_use]
    pub fn silent_from(&self) -> Option<Duration> {
        self.watch.silent_from()
    }

    /// Tells silence, when it has come to that.
    pub fn silence(&mut self, now: Duration) -> Option<Event> {
        self.watch.silence(now)
    }

    /// Tells that the port is gone. What of a line had come is kept.
    pub fn unplugged(&mut self, now: Duration, port: &str, cause: String) -> Vec<Event> {
        let mut events = Vec::new();
        if !self.begun.is_empty() {
            let raw = readable(&std::mem::take(&mut self.begun));
            events.push(Event::Readings(Batch { at: now, readings: Vec::new(), raw }));
        }
        events.push(self.watch.unplugged(now, port, cause));
        events
    }

    fn end_of_line(&mut self, now: Duration, events: &mut Vec<Event>) {
        let line = std::mem::take(&mut self.begun);
        let blank = line.iter().all(u8::is_ascii_whitespace);
        let cut_off = std::mem::replace(&mut self.cut_off, false);
        if blank {
            return;
        }
        let at = self.watch.stamp(now);
        let raw = readable(&line);
        let not_used = |raw| Event::Readings(Batch { at, readings: Vec::new(), raw });
        match self.pattern.read(at, &line) {
            // It may have lost digits at its front and read well all the same.
            _ if cut_off && is_text(&line) => events.push(not_used(raw)),
            Ok(_) if self.watch.came_twice(at, &raw) => {
                events.push(not_used(raw.clone()));
                events.push(Event::Trouble { at, trouble: Trouble::Doubled { line: raw } });
            }
            Ok(readings) => {
                self.no_text = 0;
                events.extend(self.watch.arrived(at, &readings));
                events.push(Event::Readings(Batch { at, readings, raw }));
            }
            Err(error) => {
                let reason = error.to_string();
                let trouble = Trouble::GarbageLine { line: raw, reason };
                events.push(Event::Trouble { at, trouble });
                self.suspect(at, &line, events);
            }
        }
    }

    /// Says so when several lines in a row were no text.
    fn suspect(&mut self, at: Duration, line: &[u8], events: &mut Vec<Event>) {
        if is_text(line) {
            self.no_text = 0;
            return;
        }
        self.no_text += 1;
        if self.no_text == NO_TEXT_LINES {
            let trouble = Trouble::NotText { baud: self.baud };
            events.push(Event::Trouble { at, trouble });
        }
    }
}

/// Whether at least three in four bytes of `line` are printed characters.
fn is_text(line: &[u8]) -> bool {
    let printed = line.iter().filter(|byte| matches!(byte, b' '..=b'~' | b'\t')).count();
    printed * 4 >= line.len() * 3
}
