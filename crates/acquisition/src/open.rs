//! From settings to a source at work.

use std::io::{self, ErrorKind, Write};

use thiserror::Error;

use crate::clock::Clock;
use crate::lines::{Lines, Pattern, Reader};
use crate::live::{Live, start};
use crate::modbus::{Framing, Modbus, pause_at};
use crate::port::{Port, TcpPort, serial_ports};
use crate::practice::{Practice, PracticeFlame};
use crate::replay::{Replay, ReplayError};
use crate::settings::{SettingsError, SourceSettings};

/// A source at work, and the flame where it is the practice bench.
#[derive(Debug)]
pub struct Opened<W> {
    /// The source at work.
    pub live: Live<W>,
    /// The flame of the practice bench.
    pub flame: Option<PracticeFlame>,
}

/// Why a source cannot be opened.
#[derive(Debug, Error)]
pub enum OpenError {
    /// Its settings cannot be used.
    #[error(transparent)]
    Settings(#[from] SettingsError),
    /// The instrument cannot be reached.
    #[error("{port} cannot be opened")]
    Port {
        /// Which port or address.
        port: String,
        /// What the system says.
        #[source]
        cause: io::Error,
    },
    /// The file cannot be played.
    #[error(transparent)]
    Replay(#[from] ReplayError),
    /// The recording cannot be begun.
    #[error("the recording cannot be written")]
    Recording(#[source] io::Error),
}

impl OpenError {
    /// The way out, in the imperative.
    #[must_use]
    pub fn hint(&self) -> Option<String> {
        let words = match self {
            Self::Settings(error) => error.hint(),
            Self::Replay(error) => return error.hint(),
            Self::Recording(_) => "Make room on the disk, or record in another folder.",
            Self::Port { cause, .. } if cause.kind() == ErrorKind::PermissionDenied => {
                "Add this user to the group that may use serial ports (`dialout` on most systems), \
                 and sign in anew."
            }
            Self::Port { port, .. } if port.contains(':') => {
                "See whether the instrument is on, the network up, and the address right."
            }
            Self::Port { .. } => {
                let ports = serial_ports();
                return Some(if ports.is_empty() {
                    "Plug in the instrument's cable: there is no serial port.".to_owned()
                } else {
                    format!("Name a port that is there: {ports}.")
                });
            }
        };
        Some(words.to_owned())
    }
}

/// Opens the source that `settings` describe and sets it to work, its recording written to `out`.
///
/// Times of readings are those of `clock`. Needs a runtime of `tokio` with its time and its
/// input and output switched on.
///
/// # Errors
///
/// When the instrument cannot be reached, the file not played, or the recording not begun.
pub async fn open<W>(
    settings: &SourceSettings,
    clock: Clock,
    out: W,
) -> Result<Opened<W>, OpenError>
where
    W: Write + Send + 'static,
{
    let mut flame = None;
    let live = match settings {
        SourceSettings::TcpLines(lines) => {
            let mut port = TcpPort { address: lines.address.clone() };
            let stream = opened(&mut port).await?;
            let pattern = Pattern::new(lines.line, lines.channels.clone());
            let reader = Reader::new(pattern, lines.rhythm()?, None);
            start(Lines::new(port, stream, reader, clock), out)
        }
        SourceSettings::SerialLines(lines) => {
            let mut port = lines.port.clone();
            let stream = opened(&mut port).await?;
            let pattern = Pattern::new(lines.line, lines.channels.clone());
            let reader = Reader::new(pattern, lines.rhythm()?, Some(port.baud));
            start(Lines::new(port, stream, reader, clock), out)
        }
        SourceSettings::ModbusRtu(instrument) => {
            let mut port = instrument.port.clone();
            let stream = opened(&mut port).await?;
            let framing = Framing::Rtu { pause: pause_at(port.baud) };
            let asked = (instrument.form()?, instrument.channels.clone());
            start(Modbus::new(port, stream, framing, asked, clock), out)
        }
        SourceSettings::ModbusTcp(instrument) => {
            let mut port = TcpPort { address: instrument.address.clone() };
            let stream = opened(&mut port).await?;
            let asked = (instrument.form()?, instrument.channels.clone());
            start(Modbus::new(port, stream, Framing::Tcp, asked, clock), out)
        }
        SourceSettings::Replay(replayed) => start(Replay::of_file(replayed, &clock)?, out),
        SourceSettings::Practice(bench) => {
            let practice = Practice::new(bench.clone(), &clock);
            flame = Some(practice.flame());
            start(practice, out)
        }
    };
    Ok(Opened { live: live.map_err(OpenError::Recording)?, flame })
}

async fn opened<P: Port>(port: &mut P) -> Result<P::Stream, OpenError> {
    port.open().await.map_err(|cause| OpenError::Port { port: port.name(), cause })
}
