//! Ways to an instrument that bytes come through.

use std::io;

use serial2_tokio::{CharSize, SerialPort, Settings, StopBits};
use tokio::io::{AsyncRead, AsyncWrite};
use tokio::net::TcpStream;
use tokio::time::{Duration, timeout};

use crate::settings::{Parity, SerialForm};

/// A way to an instrument, opened again when it was lost.
pub trait Port: Send {
    /// What bytes come through while it is open.
    type Stream: AsyncRead + AsyncWrite + Unpin + Send + std::fmt::Debug + 'static;

    /// What it is called in messages: an address, the path of a device.
    fn name(&self) -> String;

    /// Opens it.
    fn open(&mut self) -> impl Future<Output = io::Result<Self::Stream>> + Send;

    /// Whether silence may mean that the connection is dead and nobody was told.
    fn may_die_unseen(&self) -> bool;
}

/// An address on the network.
#[derive(Clone, Debug)]
pub struct TcpPort {
    /// Host and port.
    pub address: String,
}

/// A host that does not answer is given up after this time.
const CONNECT_WITHIN: Duration = Duration::from_secs(3);

impl Port for TcpPort {
    type Stream = TcpStream;

    fn name(&self) -> String {
        self.address.clone()
    }

    async fn open(&mut self) -> io::Result<TcpStream> {
        let connecting = TcpStream::connect(self.address.as_str());
        let stream = timeout(CONNECT_WITHIN, connecting).await.map_err(|_| {
            io::Error::new(io::ErrorKind::TimedOut, "nothing answers at this address within 3 s")
        })??;
        stream.set_nodelay(true)?;
        Ok(stream)
    }

    fn may_die_unseen(&self) -> bool {
        true
    }
}

impl Port for SerialForm {
    type Stream = SerialPort;

    fn name(&self) -> String {
        self.path.clone()
    }

    async fn open(&mut self) -> io::Result<SerialPort> {
        let port = SerialPort::open(&self.path, |set| self.set(set))?;
        // What came before belongs to nobody's question.
        port.discard_input_buffer()?;
        Ok(port)
    }

    fn may_die_unseen(&self) -> bool {
        false
    }
}

impl SerialForm {
    fn set(&self, mut settings: Settings) -> io::Result<Settings> {
        settings.set_raw();
        settings.set_baud_rate(self.baud)?;
        settings.set_char_size(if self.data_bits == 7 { CharSize::Bits7 } else { CharSize::Bits8 });
        settings.set_parity(match self.parity {
            Parity::None => serial2_tokio::Parity::None,
            Parity::Even => serial2_tokio::Parity::Even,
            Parity::Odd => serial2_tokio::Parity::Odd,
        });
        settings.set_stop_bits(if self.stop_bits == 2 { StopBits::Two } else { StopBits::One });
        Ok(settings)
    }
}

/// The serial ports of this machine, in one line.
#[must_use]
pub fn serial_ports() -> String {
    let ports = SerialPort::available_ports().unwrap_or_default();
    let names: Vec<String> = ports.iter().map(|port| port.display().to_string()).collect();
    names.join(", ")
}
