//! How the pages are reached, and how what goes over the network is enciphered.
#![expect(clippy::disallowed_methods, reason = "reads the laboratory's certificate")]

use std::fs;
use std::net::{IpAddr, Ipv4Addr, SocketAddr, UdpSocket};
use std::path::{Path, PathBuf};
use std::sync::{Arc, Mutex, PoisonError};

use axum_server::tls_rustls::RustlsConfig;
use jiff::civil::Date;
use rustls::ServerConfig;
use rustls::pki_types::pem::PemObject as _;
use rustls::pki_types::{CertificateDer, PrivateKeyDer};

use super::access::Authority;
use super::certificate::Certificate;
use crate::problem::Problem;

/// A certificate of the laboratory's own.
#[derive(Clone, Debug)]
pub(crate) struct Own {
    /// The chain, PEM, the server's certificate first.
    pub(crate) certificate: PathBuf,
    /// Its key, PEM.
    pub(crate) key: PathBuf,
}

/// Where certificates come from.
pub(super) enum Certifier {
    /// The book's own authority, for these names.
    Authority(Box<Authority>, Vec<String>),
    /// The laboratory.
    Own(Own),
}

/// How the pages are enciphered, from the certificate of today on.
pub(super) struct Enciphered {
    certifier: Certifier,
    config: RustlsConfig,
    shown: Mutex<Certificate>,
}

impl Enciphered {
    /// By the certificate that `certifier` has today.
    ///
    /// # Errors
    ///
    /// [`Problem`] where there is no usable certificate.
    pub(super) fn new(certifier: Certifier, today: Date) -> Result<Self, Problem> {
        let (config, shown) = certifier.config(today)?;
        let config = RustlsConfig::from_config(config);
        Ok(Self { certifier, config, shown: Mutex::new(shown) })
    }

    /// What the server takes connections with; it follows each renewal.
    pub(super) fn config(&self) -> RustlsConfig {
        self.config.clone()
    }

    /// Makes the certificate anew, or reads it anew where it is the laboratory's. Connections that
    /// are open stay open.
    ///
    /// # Errors
    ///
    /// [`Problem`] where there is no usable one: then the old one stays.
    pub(super) fn renew(&self, today: Date) -> Result<(), Problem> {
        let (config, shown) = self.certifier.config(today)?;
        self.config.reload_from_config(config);
        *self.shown.lock().unwrap_or_else(PoisonError::into_inner) = shown;
        Ok(())
    }

    /// What the certificate says that is shown now.
    pub(super) fn certificate(&self) -> Certificate {
        self.shown.lock().unwrap_or_else(PoisonError::into_inner).clone()
    }

    /// Who certifies, by what stays the same when the certificate is made anew: the fingerprint of the
    /// book's own authority, or the name of the laboratory's.
    pub(super) fn by(&self) -> String {
        self.authority().map_or_else(|| self.certificate().issuer, Authority::fingerprint)
    }

    /// The book's own authority, where it certifies.
    pub(super) fn authority(&self) -> Option<&Authority> {
        match &self.certifier {
            Certifier::Authority(authority, _) => Some(authority),
            Certifier::Own(_) => None,
        }
    }
}

impl Certifier {
    /// What the server shows from today on, and what its certificate says. Made or read anew each
    /// time.
    fn config(&self, today: Date) -> Result<(Arc<ServerConfig>, Certificate), Problem> {
        let (chain, key) = match self {
            Self::Authority(authority, names) => {
                let issued = authority.issue(names, today)?;
                (vec![issued.certificate], issued.key)
            }
            Self::Own(own) => read(own)?,
        };
        let shown = chain.first().and_then(|first| Certificate::read(first)).ok_or_else(|| {
            Problem::used_wrongly("the certificate says neither who issued it nor till when")
                .hint("Give the server's own certificate first, then its chain.")
        })?;
        if shown.until < today {
            let (by, day) = (&shown.issuer, shown.until);
            return Err(Problem::used_wrongly(format!("the certificate of {by} ended on {day}"))
                .hint("Give one that still holds."));
        }
        let provider = Arc::new(rustls::crypto::ring::default_provider());
        let config = ServerConfig::builder_with_provider(provider)
            .with_safe_default_protocol_versions()
            .and_then(|builder| builder.with_no_client_auth().with_single_cert(chain, key));
        let mut config = config.map_err(|error| {
            Problem::used_wrongly("the certificate and the key cannot be used together")
                .because(&error)
                .hint("Give the key that belongs to the certificate.")
        })?;
        config.alpn_protocols = vec![b"h2".to_vec(), b"http/1.1".to_vec()];
        Ok((Arc::new(config), shown))
    }
}

fn read(own: &Own) -> Result<(Vec<CertificateDer<'static>>, PrivateKeyDer<'static>), Problem> {
    let chain = CertificateDer::pem_slice_iter(&bytes(&own.certificate)?)
        .collect::<Result<Vec<_>, _>>()
        .ok()
        .filter(|chain| !chain.is_empty());
    let chain = chain.ok_or_else(|| no_pem(&own.certificate, "CERTIFICATE"))?;
    let key = PrivateKeyDer::from_pem_slice(&bytes(&own.key)?);
    Ok((chain, key.map_err(|_| no_pem(&own.key, "PRIVATE KEY"))?))
}

fn bytes(path: &Path) -> Result<Vec<u8>, Problem> {
    fs::read(path).map_err(|error| {
        Problem::used_wrongly(format!("cannot open `{}`", path.display()))
            .because(&error)
            .hint("Check the name and the folder.")
    })
}

fn no_pem(path: &Path, word: &str) -> Problem {
    Problem::used_wrongly(format!("`{}` holds no PEM block `{word}`", path.display()))
        .hint("Give the certificate with `--certificate` and its key with `--key`, both as PEM.")
}

/// The hosts by which a server that listens on `address` is reached, as people type them; the
/// one to show comes first.
pub(super) fn hosts(address: SocketAddr, names: &[String]) -> Vec<String> {
    let mut hosts: Vec<String> = names.iter().map(|name| name.to_lowercase()).collect();
    let ip = address.ip();
    if ip.is_unspecified() {
        hosts.extend(on_the_network().map(|ip| ip.to_string()));
        hosts.push(Ipv4Addr::LOCALHOST.to_string());
    } else {
        hosts.push(ip.to_string());
    }
    if ip.is_unspecified() || ip.is_loopback() {
        hosts.push("localhost".to_owned());
    }
    hosts
}

/// A host and port as they stand in an address; the scheme's own port may be left out.
pub(super) fn with_port(hosts: &[String], scheme: &str, port: u16) -> Vec<String> {
    let bracketed = hosts.iter().map(|host| match host.parse() {
        Ok(IpAddr::V6(ip)) => format!("[{ip}]"),
        Ok(IpAddr::V4(_)) | Err(_) => host.clone(),
    });
    let own = (scheme, port) == ("https", 443) || (scheme, port) == ("http", 80);
    bracketed
        .flat_map(|host| {
            let plain = own.then(|| host.clone());
            plain.into_iter().chain([format!("{host}:{port}")])
        })
        .collect()
}

/// This machine's address on its network. Nothing is sent: the system only says from where it
/// would (192.0.2.1 is set aside for documents, RFC 5737).
fn on_the_network() -> Option<IpAddr> {
    let socket = UdpSocket::bind((Ipv4Addr::UNSPECIFIED, 0)).ok()?;
    socket.connect((Ipv4Addr::new(192, 0, 2, 1), 9)).ok()?;
    socket.local_addr().ok().map(|address| address.ip()).filter(|ip| !ip.is_unspecified())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn hosts_are_those_that_people_type() {
        let check = |address: &str, names: &[&str], scheme: &str, expected: &[&str]| {
            let address: SocketAddr = address.parse().unwrap();
            let names: Vec<String> = names.iter().map(|name| (*name).to_owned()).collect();
            let hosts = with_port(&hosts(address, &names), scheme, address.port());
            assert_eq!(hosts, expected);
        };
        check("127.0.0.1:4160", &[], "http", &["127.0.0.1:4160", "localhost:4160"]);
        check("10.0.0.7:4160", &["Bench"], "https", &["bench:4160", "10.0.0.7:4160"]);
        check("[fd00::7]:443", &[], "https", &["[fd00::7]", "[fd00::7]:443"]);
    }
}
