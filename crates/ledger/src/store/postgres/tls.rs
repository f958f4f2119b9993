//! The way to a database, enciphered, and the other end looked at: TLS by rustls.

use std::fmt;
use std::io;
use std::path::Path;
use std::pin::Pin;
use std::sync::Arc;
use std::task::{Context, Poll};

use tokio::io::{AsyncRead, AsyncWrite, ReadBuf};
use tokio_postgres::tls::{ChannelBinding, MakeTlsConnect, TlsConnect, TlsStream};
use tokio_postgres::{Error, Socket};
use tokio_rustls::TlsConnector;
use tokio_rustls::client::TlsStream as Stream;
use tokio_rustls::rustls::pki_types::pem::PemObject as _;
use tokio_rustls::rustls::pki_types::{CertificateDer, ServerName};
use tokio_rustls::rustls::{
    CertificateError, ClientConfig, Error as TlsError, RootCertStore, crypto::ring,
};

use crate::store::StoreError;

/// Whom the other end must be certified by.
#[derive(Clone)]
pub(super) struct Enciphered(Arc<ClientConfig>);

impl fmt::Debug for Enciphered {
    fn fmt(&self, out: &mut fmt::Formatter<'_>) -> fmt::Result {
        out.write_str("Enciphered")
    }
}

impl Enciphered {
    /// By the authorities in this file (PEM), and nobody else.
    pub(super) fn by(file: &Path) -> Result<Self, StoreError> {
        let wrong = |why: String| StoreError::Address {
            why: format!("`{}` holds no certificate of an authority: {why}", file.display()),
        };
        let mut roots = RootCertStore::empty();
        for found in CertificateDer::pem_file_iter(file).map_err(|why| wrong(why.to_string()))? {
            let certificate = found.map_err(|why| wrong(why.to_string()))?;
            roots.add(certificate).map_err(|why| wrong(why.to_string()))?;
        }
        if roots.is_empty() {
            return Err(wrong("it is empty".to_owned()));
        }
        let config = ClientConfig::builder_with_provider(Arc::new(ring::default_provider()))
            .with_safe_default_protocol_versions()
            .map_err(|why| wrong(why.to_string()))?
            .with_root_certificates(roots)
            .with_no_client_auth();
        Ok(Self(Arc::new(config)))
    }
}

/// Why a database that answers is not to be trusted, where that is it: to ask again would not help.
#[expect(clippy::wildcard_enum_match_arm, reason = "what is left is told as the library tells it")]
pub(super) fn untrusted(error: &Error) -> Option<String> {
    let below = std::error::Error::source(error)?;
    if below.to_string() == "server does not support TLS" {
        return Some("it does not encipher the way, and the address asks for it".to_owned());
    }
    let told = below.downcast_ref::<io::Error>()?.get_ref()?.downcast_ref::<TlsError>()?;
    let TlsError::InvalidCertificate(why) = told else { return None };
    let why = match why {
        CertificateError::UnknownIssuer | CertificateError::BadSignature => {
            "another authority than that of `sslrootcert` has certified it".to_owned()
        }
        CertificateError::NotValidForName | CertificateError::NotValidForNameContext { .. } => {
            "its certificate is for another host than the address names".to_owned()
        }
        CertificateError::Expired
        | CertificateError::ExpiredContext { .. }
        | CertificateError::NotValidYet
        | CertificateError::NotValidYetContext { .. } => {
            "its certificate does not hold at this machine's time".to_owned()
        }
        other => format!("its certificate does not hold ({other})"),
    };
    Some(why)
}

impl MakeTlsConnect<Socket> for Enciphered {
    type Stream = Line;
    type TlsConnect = Hello;
    type Error = io::Error;

    fn make_tls_connect(&mut self, host: &str) -> Result<Hello, io::Error> {
        let name = ServerName::try_from(host.to_owned()).map_err(io::Error::other)?;
        Ok(Hello { connector: TlsConnector::from(Arc::clone(&self.0)), name })
    }
}

/// One greeting.
pub(super) struct Hello {
    connector: TlsConnector,
    name: ServerName<'static>,
}

impl TlsConnect<Socket> for Hello {
    type Stream = Line;
    type Error = io::Error;
    type Future = Pin<Box<dyn Future<Output = io::Result<Line>> + Send>>;

    fn connect(self, stream: Socket) -> Self::Future {
        Box::pin(
            async move { Ok(Line(Box::new(self.connector.connect(self.name, stream).await?))) },
        )
    }
}

/// An enciphered line.
pub(super) struct Line(Box<Stream<Socket>>);

impl TlsStream for Line {
    fn channel_binding(&self) -> ChannelBinding {
        ChannelBinding::none()
    }
}

impl AsyncRead for Line {
    fn poll_read(
        mut self: Pin<&mut Self>,
        context: &mut Context<'_>,
        buffer: &mut ReadBuf<'_>,
    ) -> Poll<io::Result<()>> {
        Pin::new(&mut self.0).poll_read(context, buffer)
    }
}

impl AsyncWrite for Line {
    fn poll_write(
        mut self: Pin<&mut Self>,
        context: &mut Context<'_>,
        bytes: &[u8],
    ) -> Poll<io::Result<usize>> {
        Pin::new(&mut self.0).poll_write(context, bytes)
    }

    fn poll_flush(mut self: Pin<&mut Self>, context: &mut Context<'_>) -> Poll<io::Result<()>> {
        Pin::new(&mut self.0).poll_flush(context)
    }

    fn poll_shutdown(mut self: Pin<&mut Self>, context: &mut Context<'_>) -> Poll<io::Result<()>> {
        Pin::new(&mut self.0).poll_shutdown(context)
    }
}
