//! `read live`: one source as it comes, with no book.

use std::collections::VecDeque;
use std::fmt::Write as _;
use std::io::{self, Write};
use std::path::PathBuf;

use acquisition::{Event, Kept, OpenError, Opened, SourceSettings, Value, open};
use clap::Args;
use metrology::Duration;
use metrology::fit::{LinePoint, Weighting, fit_line};
use serde::Serialize;

use crate::output::{Form, Output};
use crate::problem::{Exit, Problem};
use crate::{clock, input};

/// Shows the readings of an instrument, or of the practice bench, as they come
///
/// Examples:
///   cinderbook read live practice.toml
///   cinderbook read live logger.toml --recording run.csv
///
/// Prints each channel's temperature and its slope once a second, and says what is wrong with the
/// source. The recording holds all that came, as it came, and `read trace` reads it. Ends with
/// Ctrl-C, or with the source. The manual's page on sources shows what the settings hold.
#[derive(Args, Debug)]
#[command(verbatim_doc_comment)]
pub(crate) struct ReadLive {
    /// The settings of the source, a TOML file
    settings: PathBuf,
    /// Write all that comes into this file, which must not be there yet
    #[arg(long, value_name = "FILE.csv")]
    recording: Option<PathBuf>,
}

/// What came, as JSON.
#[derive(Serialize)]
struct Came<'a> {
    channels: &'a [String],
    readings: u64,
    troubles: u64,
    recording: Option<String>,
}

impl ReadLive {
    /// Runs the command.
    pub(crate) fn run(&self, output: &mut Output) -> Result<Exit, Problem> {
        let name = self.settings.display();
        let settings =
            SourceSettings::from_toml(&input::text(&self.settings)?).map_err(|error| {
                Problem::used_wrongly(format!("cannot use `{name}`: {error}")).hint(error.hint())
            })?;
        let out: Box<dyn Write + Send> = match &self.recording {
            Some(path) => Box::new(io::BufWriter::new(output.new_file(path)?)),
            None => Box::new(io::sink()),
        };
        let runtime = tokio::runtime::Builder::new_current_thread().enable_all().build();
        let runtime = runtime.map_err(|error| {
            Problem::surroundings("this machine gives no thread to read with").because(&error)
        })?;
        runtime.block_on(self.watch(&settings, out, output))
    }

    async fn watch(
        &self,
        settings: &SourceSettings,
        out: Box<dyn Write + Send>,
        output: &mut Output,
    ) -> Result<Exit, Problem> {
        let opened = open(settings, clock::running(), out).await;
        let Opened { mut live, .. } = opened.map_err(|error| not_opened(&error))?;
        let mut shown = Shown::new(live.channels());
        let mut stopped = std::pin::pin!(tokio::signal::ctrl_c());
        loop {
            let event = tokio::select! {
                event = live.next() => event,
                _ = &mut stopped => None,
            };
            let Some(event) = event else { break };
            shown.take(&event, output);
        }
        let channels = live.channels().to_vec();
        let kept = live.stop().await.map_err(|error| {
            let problem = Problem::surroundings(error.to_string());
            match std::error::Error::source(&error) {
                Some(cause) => problem.because(cause),
                None => problem,
            }
            .hint("Make room on the disk, and record again.")
        })?;
        self.end(&channels, &kept, output);
        Ok(Exit::Good)
    }

    fn end<W>(&self, channels: &[String], kept: &Kept<W>, output: &mut Output) {
        let (readings, troubles) = (kept.readings, kept.troubles);
        let recording = self.recording.as_ref().map(|path| path.display().to_string());
        if output.form() == Form::Json {
            output.json(&Came { channels, readings, troubles, recording });
            return;
        }
        let wrong = match troubles {
            0 => "nothing was wrong".to_owned(),
            1 => "something was wrong once".to_owned(),
            more => format!("something was wrong {more} times"),
        };
        output.value(&format!("{readings} readings; {wrong}"));
        if let Some(path) = recording {
            output.word(&format!("Next: `cinderbook read trace {path}` reads the rise time."));
        }
    }
}

fn not_opened(error: &OpenError) -> Problem {
    let problem = match error {
        OpenError::Settings(_) | OpenError::Replay(_) => Problem::used_wrongly(error.to_string()),
        OpenError::Port { .. } | OpenError::Recording(_) => {
            Problem::surroundings(error.to_string())
        }
    };
    let problem = match std::error::Error::source(error) {
        Some(cause) => problem.because(cause),
        None => problem,
    };
    match error.hint() {
        Some(hint) => problem.hint(hint),
        None => problem,
    }
}

/// The lines that are shown.
struct Shown {
    channels: Vec<Channel>,
    first: Option<Duration>,
    /// When the next line is due, since the first event.
    due: Duration,
}

struct Channel {
    name: String,
    /// The readings of the last second: seconds and degrees Celsius.
    recent: VecDeque<LinePoint>,
}

/// The slope is that of the readings this long back, and a line is shown this often.
const SECOND: Duration = Duration::from_seconds(1.0);

impl Shown {
    fn new(names: &[String]) -> Self {
        let channel = |name: &String| Channel { name: name.clone(), recent: VecDeque::new() };
        let channels = names.iter().map(channel).collect();
        Self { channels, first: None, due: Duration::ZERO }
    }

    fn take(&mut self, event: &Event, output: &mut Output) {
        let first = *self.first.get_or_insert(event.at());
        let since = between(first, event.at());
        match event {
            Event::Trouble { trouble, .. } => {
                output.word(&format!("{since:.1}: {trouble} {}", trouble.hint()));
            }
            Event::Returned { channel, after, .. } => {
                let name = channel.and_then(|index| self.channels.get(index));
                let name = name.map_or("the source", |channel| channel.name.as_str());
                output.word(&format!("{since:.1}: Readings of {name} are back after {after:.1}."));
            }
            Event::Readings(batch) => {
                for reading in &batch.readings {
                    if let Some(channel) = self.channels.get_mut(reading.channel) {
                        channel.take(between(first, reading.at), reading.value);
                    }
                }
                if since >= self.due && output.form() == Form::Text {
                    output.value(&self.line(since));
                    self.due = Duration::from_seconds(since.seconds().floor()) + SECOND;
                }
            }
        }
    }

    fn line(&self, since: Duration) -> String {
        let mut line = format!("{:>8.1} s", since.seconds());
        for channel in &self.channels {
            let _ = write!(line, "  {} {}", channel.name, channel.now());
        }
        line
    }
}

/// Times are whole microseconds; what the subtraction adds to them is none of theirs.
fn between(first: Duration, at: Duration) -> Duration {
    Duration::from_seconds(((at - first).seconds() * 1e6).round() / 1e6)
}

impl Channel {
    fn take(&mut self, at: Duration, value: Value) {
        let Value::Temperature(temperature) = value else { return self.recent.clear() };
        let at = at.seconds();
        self.recent.push_back(LinePoint { x: at, y: temperature.celsius() });
        while self.recent.front().is_some_and(|first| at - first.x > SECOND.seconds()) {
            self.recent.pop_front();
        }
    }

    /// The last temperature and the slope, as far as there are any.
    fn now(&self) -> String {
        let Some(last) = self.recent.back() else { return "no value".to_owned() };
        let points: Vec<LinePoint> = self.recent.iter().copied().collect();
        match fit_line(&points, Weighting::Equal) {
            Ok(line) => format!("{:>6.1} °C {:>+6.1} K/s", last.y, line.slope),
            Err(_) => format!("{:>6.1} °C", last.y),
        }
    }
}
