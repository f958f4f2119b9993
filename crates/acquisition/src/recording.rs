//! The recording: all that a source told, as a table that [`reading::import`] reads again.
//!
//! ```text
//! time (s),Block (°C),Air (°C),raw
//! 12.000000,23.9,22.5,"T=23.9;22.5"
//! # 13.000000 s, silence: No reading has come for 1.0 s.
//! 14.200000,,22.5,"T=OL;22.5"
//! ```
//!
//! Each row holds the readings of one time; rows that begin with `#` tell what happened. A cell
//! with no number holds the reason: `OL` for an open wire, nothing for nothing.

use std::io::{self, Write};

use metrology::Duration;
use reading::{MissingCause, cell};

use crate::source::{Batch, Event, Value};

/// Writes down what a source tells.
#[derive(Debug)]
pub struct Recorder<W> {
    out: W,
    channels: Vec<String>,
    /// The cells of the row at hand.
    cells: Vec<Option<Value>>,
    flushed: Duration,
    readings: u64,
    troubles: u64,
}

/// A recording that has come to its end.
#[derive(Debug)]
pub struct Kept<W> {
    /// Where it was written to.
    pub out: W,
    /// How many readings it holds.
    pub readings: u64,
    /// How often something was wrong.
    pub troubles: u64,
}

/// What is written is handed to the system this often, so that a program that is stopped loses
/// no more.
const FLUSH_EVERY: Duration = Duration::from_seconds(1.0);

impl<W: Write> Recorder<W> {
    /// Begins a recording of these channels.
    ///
    /// # Errors
    ///
    /// When it cannot be written.
    pub fn new(mut out: W, channels: Vec<String>) -> io::Result<Self> {
        write!(out, "time (s)")?;
        for name in &channels {
            write!(out, ",{}", cell(&format!("{name} (°C)")))?;
        }
        writeln!(out, ",raw")?;
        out.flush()?;
        Ok(Self {
            out,
            cells: vec![None; channels.len()],
            channels,
            flushed: Duration::ZERO,
            readings: 0,
            troubles: 0,
        })
    }

    /// Writes `event` down.
    ///
    /// # Errors
    ///
    /// When it cannot be written.
    pub fn keep(&mut self, event: &Event) -> io::Result<()> {
        match event {
            Event::Readings(batch) if batch.readings.is_empty() => {
                self.remark(batch.at, &format!("not used: {}", batch.raw))?;
            }
            Event::Readings(batch) => self.rows(batch)?,
            Event::Trouble { at, trouble } => {
                self.troubles += 1;
                self.remark(*at, &format!("{}: {trouble}", trouble.name()))?;
            }
            Event::Returned { at, channel, after } => {
                let name = channel.and_then(|it| self.channels.get(it)).map(String::as_str);
                let what = name.unwrap_or("the source").to_owned();
                self.remark(*at, &format!("returned: {what} after {after:.3}"))?;
            }
        }
        if event.at() - self.flushed >= FLUSH_EVERY {
            self.flushed = event.at();
            self.out.flush()?;
        }
        Ok(())
    }

    /// One row for the readings of each time.
    fn rows(&mut self, batch: &Batch) -> io::Result<()> {
        let mut raw = batch.raw.as_str();
        for together in batch.readings.chunk_by(|one, other| one.at == other.at) {
            self.cells.fill(None);
            for reading in together {
                if let Some(cell) = self.cells.get_mut(reading.channel) {
                    *cell = Some(reading.value);
                    self.readings += 1;
                }
            }
            write!(self.out, "{:.6}", together[0].at.seconds())?;
            for cell in &self.cells {
                match cell {
                    Some(Value::Temperature(found)) => write!(self.out, ",{}", found.celsius())?,
                    Some(Value::Missing(MissingCause::OpenCircuit)) => write!(self.out, ",OL")?,
                    Some(Value::Missing(MissingCause::Blank | MissingCause::Code)) | None => {
                        write!(self.out, ",")?;
                    }
                }
            }
            writeln!(self.out, ",{}", cell(raw))?;
            raw = "";
        }
        Ok(())
    }

    fn remark(&mut self, at: Duration, text: &str) -> io::Result<()> {
        writeln!(self.out, "# {:.6} s, {text}", at.seconds())
    }

    /// Ends the recording.
    ///
    /// # Errors
    ///
    /// When the rest of it cannot be written.
    pub fn finish(mut self) -> io::Result<Kept<W>> {
        self.out.flush()?;
        let Self { out, readings, troubles, .. } = self;
        Ok(Kept { out, readings, troubles })
    }
}

/// Bytes as text on one line: what is no text is written `\x1F`, a backslash twice.
pub(crate) fn readable(bytes: &[u8]) -> String {
    let mut text = String::with_capacity(bytes.len());
    for chunk in bytes.utf8_chunks() {
        for letter in chunk.valid().chars() {
            match letter {
                '\\' => text.push_str("\\\\"),
                '\t' => text.push_str("\\t"),
                control if control.is_control() => {
                    text.push_str(&format!("\\x{:02X}", u32::from(control)));
                }
                plain => text.push(plain),
            }
        }
        for byte in chunk.invalid() {
            text.push_str(&format!("\\x{byte:02X}"));
        }
    }
    text
}
