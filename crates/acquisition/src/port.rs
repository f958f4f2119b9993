//! Ways to an instrument that bytes come through.

use std::io;

use tokio::io::{AsyncRead, AsyncWrite};
use tokio::net::TcpStream;
use tokio::time::{Duration, timeout};

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
