//! Who comes to the enciphered port with plain http is told where the book is.

use std::io;
use std::pin::Pin;
use std::sync::Arc;
use std::time::Duration;

use axum_server::accept::Accept;
use tokio::io::{AsyncReadExt as _, AsyncWriteExt as _};
use tokio::net::TcpStream;
use tokio::time::timeout;

use super::site::Site;

/// TLS begins with this byte: a handshake (RFC 8446, 5.1). No method of HTTP does.
const HANDSHAKE: u8 = 22;

/// Who says nothing for so long is let go.
const SILENT: Duration = Duration::from_secs(10);

/// A request that is only refused is read so far.
const REQUEST: usize = 16 << 10;

/// Lets through what begins as TLS.
#[derive(Clone)]
pub(super) struct OnlyEnciphered {
    answer: Arc<str>,
}

impl OnlyEnciphered {
    /// For the pages of this site.
    pub(super) fn of(site: &Site) -> Self {
        let body = format!("This book is reached enciphered. Open {}/\n", site.origin());
        let head = "HTTP/1.1 400 Bad Request\r\ncontent-type: text/plain; charset=utf-8\r\n";
        let length = body.len();
        let answer = format!("{head}content-length: {length}\r\nconnection: close\r\n\r\n{body}");
        Self { answer: answer.into() }
    }
}

impl<S: Send + 'static> Accept<TcpStream, S> for OnlyEnciphered {
    type Stream = TcpStream;
    type Service = S;
    type Future = Pin<Box<dyn Future<Output = io::Result<(TcpStream, S)>> + Send>>;

    fn accept(&self, mut stream: TcpStream, service: S) -> Self::Future {
        let answer = Arc::clone(&self.answer);
        Box::pin(async move {
            let mut first = [0];
            let seen = timeout(SILENT, stream.peek(&mut first)).await??;
            if seen == 1 && first != [HANDSHAKE] {
                // What was sent is read first: a connection closed over it would cut the answer.
                let mut request = vec![0; REQUEST];
                timeout(SILENT, stream.read(&mut request)).await??;
                stream.write_all(answer.as_bytes()).await?;
                stream.shutdown().await?;
                return Err(io::Error::other("not enciphered"));
            }
            Ok((stream, service))
        })
    }
}
