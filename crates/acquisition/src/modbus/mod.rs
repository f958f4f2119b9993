//! Modbus: registers that are asked for at an interval, over a serial line or the network.
//!
//! The questions are those of functions 3 and 4, which read. No question that writes is ever
//! made.

mod question;
mod register;

use std::collections::VecDeque;
use std::io::ErrorKind;

use metrology::Duration;
use tokio::time::{Instant, sleep, sleep_until, timeout};
use tokio_modbus::Slave;
use tokio_modbus::client::{Client as _, Context, rtu, tcp};

use crate::clock::{Clock, whole_microseconds};
use crate::lines::{TRY_EVERY, wait};
use crate::port::Port;
use crate::settings::{ModbusForm, RegisterChannel};
use crate::source::{Batch, Event, Pace, Reading, Source};
use crate::trouble::Trouble;
use crate::watch::Watch;

use question::Question;

/// How questions are wrapped on their way.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Framing {
    /// With a check sum, and a pause of this long between them.
    Rtu {
        /// The pause.
        pause: Duration,
    },
    /// With a number for each question.
    Tcp,
}

/// An instrument that is asked for its registers.
pub struct Modbus<P: Port> {
    port: P,
    framing: Framing,
    form: ModbusForm,
    channels: Vec<RegisterChannel>,
    questions: Vec<Asked>,
    /// The way to the instrument, while there is one.
    way: Option<Context>,
    /// It was told that there is none.
    lost: bool,
    watch: Watch,
    clock: Clock,
    due: Option<Instant>,
    told: VecDeque<Event>,
}

/// A question, and whether it was told that it has no answer.
struct Asked {
    question: Question,
    unanswered: bool,
}

/// How a question ended without an answer.
enum Failure {
    /// The instrument said no.
    Refused(String),
    /// What came, or did not come, leaves the way in doubt: it is opened anew, so that no late
    /// answer is taken for one to the next question.
    Doubtful(String),
    /// The way is gone.
    Gone(String),
}

impl<P: Port> Modbus<P> {
    /// An instrument behind `port`, which is opened already as `stream`.
    #[must_use]
    pub fn new(
        port: P,
        stream: P::Stream,
        framing: Framing,
        (form, channels): (ModbusForm, Vec<RegisterChannel>),
        clock: Clock,
    ) -> Self {
        let names: Vec<String> = channels.iter().map(|channel| channel.name.clone()).collect();
        let mut watch = Watch::new(form.rhythm, &names);
        watch.opened(clock.now());
        let asked = |question| Asked { question, unanswered: false };
        Self {
            port,
            framing,
            questions: Question::all(&channels).into_iter().map(asked).collect(),
            way: Some(attached(stream, framing, form.unit_number)),
            form,
            channels,
            lost: false,
            watch,
            clock,
            due: None,
            told: VecDeque::new(),
        }
    }

    /// Asks all questions once, when the time for it has come.
    async fn ask_all(&mut self) {
        let now = Instant::now();
        let due = self.due.unwrap_or(now);
        let interval = wait(self.form.rhythm.interval);
        // A round that took too long moves those after it; they are not asked in a hurry.
        self.due = Some(if due + interval > now { due + interval } else { now + interval });
        sleep_until(due).await;
        for index in 0..self.questions.len() {
            if self.way.is_none() && !self.open_again().await {
                break;
            }
            if let Framing::Rtu { pause } = self.framing {
                sleep(wait(pause)).await;
            }
            self.ask_one(index).await;
        }
        self.told.extend(self.watch.silence(self.clock.now()));
    }

    async fn ask_one(&mut self, index: usize) {
        let asked = self.clock.now();
        let question = self.questions[index].question.clone();
        match self.answer(&question).await {
            Ok(words) => {
                // Between question and answer: that is when the registers were read.
                let now = self.clock.now();
                let middle = whole_microseconds(asked + (now - asked) * 0.5);
                self.take(index, self.watch.stamp(middle), &words);
            }
            Err(Failure::Refused(why)) => self.unanswered(index, why),
            Err(Failure::Doubtful(why)) => {
                self.way = None;
                self.unanswered(index, why);
                // A late answer must not be taken for one to the next question: it is waited out
                // here, and thrown away when the port is opened anew.
                if matches!(self.framing, Framing::Rtu { .. }) {
                    sleep(wait(self.form.answer_within)).await;
                }
            }
            Err(Failure::Gone(cause)) => {
                self.way = None;
                self.tell_lost(cause);
            }
        }
    }

    async fn answer(&mut self, question: &Question) -> Result<Vec<u16>, Failure> {
        use tokio_modbus::Error;
        let Some(way) = &mut self.way else {
            return Err(Failure::Gone("there is no way to it".to_owned()));
        };
        let within = self.form.answer_within;
        let Ok(answer) = timeout(wait(within), way.call(question.request())).await else {
            return Err(Failure::Doubtful(format!("no answer came within {within}")));
        };
        let response = match answer {
            Ok(Ok(response)) => response,
            Ok(Err(exception)) => return Err(Failure::Refused(said(exception))),
            Err(Error::Protocol(_)) => {
                return Err(Failure::Doubtful("the answer belongs to another question".to_owned()));
            }
            Err(Error::Transport(error)) if error.kind() == ErrorKind::InvalidData => {
                return Err(Failure::Doubtful(format!("the answer is garbage ({error})")));
            }
            Err(Error::Transport(error)) => return Err(Failure::Gone(error.to_string())),
        };
        let short = || Failure::Doubtful("the answer has another number of registers".to_owned());
        question.words(response).ok_or_else(short)
    }

    /// Takes the words of an answer.
    fn take(&mut self, index: usize, at: Duration, words: &[u16]) {
        let question = &self.questions[index].question;
        let mut readings = Vec::new();
        let mut refused = None;
        for (channel, first) in &question.channels {
            let known = &self.channels[*channel];
            let last = first + usize::from(known.number.words());
            match register::value(known, &words[*first..last]) {
                Ok(value) => readings.push(Reading { channel: *channel, at, value }),
                Err(found) => {
                    let name = &known.name;
                    refused = Some(format!("{name} is {found}, which lies below absolute zero"));
                }
            }
        }
        let hexadecimal: Vec<String> = words.iter().map(|word| format!("{word:04X}")).collect();
        let (table, first) = (question.table.word(), question.register);
        let raw = format!("{table} {first}: {}", hexadecimal.join(" "));
        match refused {
            Some(why) => self.unanswered(index, why),
            None => self.questions[index].unanswered = false,
        }
        if !readings.is_empty() {
            self.lost = false;
            self.told.extend(self.watch.arrived(at, &readings));
        }
        self.told.push_back(Event::Readings(Batch { at, readings, raw }));
    }

    /// Tells that a question has no answer, once until it has one.
    fn unanswered(&mut self, index: usize, why: String) {
        let Some(asked) = self.questions.get_mut(index) else { return };
        if !std::mem::replace(&mut asked.unanswered, true) {
            let trouble = Trouble::NoValue { what: asked.question.to_string(), why };
            self.told.push_back(Event::Trouble { at: self.clock.now(), trouble });
        }
    }

    fn tell_lost(&mut self, cause: String) {
        if !std::mem::replace(&mut self.lost, true) {
            let event = self.watch.unplugged(self.clock.now(), &self.port.name(), cause);
            self.told.push_back(event);
        }
    }

    /// Whether the way could be opened again.
    async fn open_again(&mut self) -> bool {
        match self.port.open().await {
            Ok(stream) => {
                self.way = Some(attached(stream, self.framing, self.form.unit_number));
                true
            }
            Err(error) => {
                self.tell_lost(error.to_string());
                sleep(TRY_EVERY).await;
                false
            }
        }
    }
}

fn attached<S>(stream: S, framing: Framing, unit_number: u8) -> Context
where
    S: tokio::io::AsyncRead + tokio::io::AsyncWrite + std::fmt::Debug + Send + Unpin + 'static,
{
    match framing {
        Framing::Rtu { .. } => rtu::attach_slave(stream, Slave(unit_number)),
        Framing::Tcp => tcp::attach_slave(stream, Slave(unit_number)),
    }
}

/// What an instrument says when it refuses a question, in words of ours.
fn said(exception: tokio_modbus::ExceptionCode) -> String {
    use tokio_modbus::ExceptionCode as Code;
    let words = match exception {
        Code::IllegalFunction => "it does not know this kind of question",
        Code::IllegalDataAddress => "it has no such register",
        Code::IllegalDataValue => "it does not give so many registers at once",
        Code::ServerDeviceFailure => "it is out of order",
        Code::Acknowledge | Code::ServerDeviceBusy => "it is busy",
        Code::MemoryParityError => "its memory is faulty",
        Code::GatewayPathUnavailable => "the gateway has no way to this unit",
        Code::GatewayTargetDevice => "the unit behind the gateway does not answer",
        Code::Custom(code) => return format!("it answers with code {code}"),
    };
    words.to_owned()
}

impl<P: Port> std::fmt::Debug for Modbus<P> {
    fn fmt(&self, out: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        write!(out, "Modbus({})", self.port.name())
    }
}

impl<P: Port> Source for Modbus<P> {
    fn channels(&self) -> Vec<String> {
        self.channels.iter().map(|channel| channel.name.clone()).collect()
    }

    fn pace(&self) -> Pace {
        Pace::GoesOn
    }

    async fn next(&mut self) -> Option<Event> {
        loop {
            if let Some(event) = self.told.pop_front() {
                return Some(event);
            }
            self.ask_all().await;
        }
    }
}

/// The silence between two questions of Modbus over a serial line: three and a half characters of
/// eleven bits, and 1.75 ms at the least (Modbus over serial line V1.02, 2.5.1.1; memory).
#[must_use]
pub fn pause_at(baud: u32) -> Duration {
    let characters = 3.5 * 11.0 / f64::from(baud);
    Duration::from_seconds(characters.max(0.00175))
}
