//! Evidence in an S3-compatible store: each file once, under its hash, for all programs alike.
//!
//! The library signs; the requests are made here. What a store answers is held against the hash, as
//! what a disk gives. The keys are taken from the environment and are written down nowhere.

#![expect(clippy::disallowed_methods, reason = "the ledger keeps files")]

use std::fs::File;
use std::io::{self, Read};
use std::path::Path;
use std::sync::Arc;
use std::time::Duration;

use rusty_s3::actions::ListObjectsV2;
use rusty_s3::{Bucket, Credentials, S3Action as _, UrlStyle};
use tokio_rustls::rustls::crypto::ring;
use tokio_rustls::rustls::pki_types::CertificateDer;
use tokio_rustls::rustls::pki_types::pem::PemObject as _;
use ureq::Agent;
use ureq::tls::{Certificate, RootCerts, TlsConfig};

use crate::blob::Filed;
use crate::hash::BlobHash;
use crate::store::StoreError;

/// A signed address can be used for so long.
const SIGNED_FOR: Duration = Duration::from_mins(60);

/// A connection, and the beginning of an answer, come within this.
const ANSWERED_WITHIN: Duration = Duration::from_secs(20);

/// A list of names is at most so long, in bytes.
const LIST_BYTES_MOST: u64 = 16 << 20;

/// A place in an S3-compatible store.
pub(crate) struct Remote {
    agent: Agent,
    bucket: Bucket,
    credentials: Credentials,
    prefix: String,
}

impl Remote {
    /// Whether this names a place in such a store.
    pub(crate) fn is_one(place: &str) -> bool {
        place.starts_with("s3://")
    }

    /// Reads `s3://BUCKET[/PREFIX]?endpoint=https://HOST&region=REGION&authority=FILE`.
    pub(crate) fn read(place: &str) -> Result<Self, StoreError> {
        let wrong = |why: &str| StoreError::Address { why: format!("`{place}` {why}") };
        let rest = place.strip_prefix("s3://").unwrap_or(place);
        let (path, query) = rest.split_once('?').unwrap_or((rest, ""));
        let (bucket, prefix) = path.split_once('/').unwrap_or((path, ""));
        let (mut endpoint, mut region, mut authority) = (None, "us-east-1", None);
        for pair in query.split('&').filter(|pair| !pair.is_empty()) {
            match pair.split_once('=') {
                Some(("endpoint", value)) => endpoint = Some(value),
                Some(("region", value)) => region = value,
                Some(("authority", value)) => authority = Some(value),
                _ => return Err(wrong("says something else than endpoint, region and authority")),
            }
        }
        let endpoint = endpoint.ok_or_else(|| wrong("names no endpoint"))?;
        let endpoint =
            endpoint.parse().map_err(|_| wrong("names an endpoint that is no address"))?;
        let (bucket, region) = (bucket.to_owned(), region.to_owned());
        let bucket = Bucket::new(endpoint, UrlStyle::Path, bucket, region)
            .map_err(|why| wrong(&format!("cannot be used: {why}")))?;
        let credentials = Credentials::from_env().ok_or_else(|| {
            wrong("needs AWS_ACCESS_KEY_ID and AWS_SECRET_ACCESS_KEY in the environment")
        })?;
        let roots = match (bucket.base_url().scheme(), authority) {
            ("http", _) => Vec::new(),
            (_, Some(file)) => roots(file)
                .map_err(|why| wrong(&format!("has an authority that cannot be read: {why}")))?,
            (_, None) => return Err(wrong("names no authority that certifies its endpoint")),
        };
        let prefix = prefix.trim_matches('/');
        let prefix = if prefix.is_empty() { String::new() } else { format!("{prefix}/") };
        Ok(Self { agent: agent(&roots), bucket, credentials, prefix })
    }

    fn key(&self, hash: BlobHash) -> String {
        let name = hash.to_string();
        format!("{}{}/{name}", self.prefix, name.get(..2).unwrap_or_default())
    }

    /// Puts a file under its hash, unless it is there.
    pub(crate) fn keep(&self, filed: Filed, path: &Path) -> io::Result<()> {
        let Filed { hash, bytes } = filed;
        if self.bytes(hash)? == Some(bytes) {
            return Ok(());
        }
        let (key, file) = (self.key(hash), File::open(path)?);
        let put = self.bucket.put_object(Some(&self.credentials), &key);
        let sent = self.agent.put(put.sign(SIGNED_FOR).as_str()).send(file);
        said(sent.map_err(io::Error::other)?.status().as_u16())
    }

    /// What lies under a hash; `None` where nothing does.
    pub(crate) fn get(&self, hash: BlobHash) -> io::Result<Option<impl Read + use<>>> {
        let key = self.key(hash);
        let get = self.bucket.get_object(Some(&self.credentials), &key);
        let got = self.agent.get(get.sign(SIGNED_FOR).as_str()).call().map_err(io::Error::other)?;
        match got.status().as_u16() {
            404 => Ok(None),
            status => said(status).map(|()| Some(got.into_body().into_reader())),
        }
    }

    /// How long what lies under a hash is; `None` where nothing does.
    pub(crate) fn bytes(&self, hash: BlobHash) -> io::Result<Option<u64>> {
        let key = self.key(hash);
        let head = self.bucket.head_object(Some(&self.credentials), &key);
        let got =
            self.agent.head(head.sign(SIGNED_FOR).as_str()).call().map_err(io::Error::other)?;
        match got.status().as_u16() {
            404 => Ok(None),
            status => {
                said(status)?;
                let length = got.headers().get("content-length");
                Ok(length.and_then(|length| length.to_str().ok()?.parse().ok()))
            }
        }
    }

    /// The hashes of all that lies there, in order.
    pub(crate) fn list(&self) -> io::Result<Vec<BlobHash>> {
        let mut hashes = Vec::new();
        let mut next = None;
        loop {
            let mut list = self.bucket.list_objects_v2(Some(&self.credentials));
            list.with_prefix(self.prefix.as_str());
            if let Some(next) = next {
                list.with_continuation_token(next);
            }
            let url = list.sign(SIGNED_FOR);
            let got = self.agent.get(url.as_str()).call().map_err(io::Error::other)?;
            said(got.status().as_u16())?;
            let text = got.into_body().into_with_config().limit(LIST_BYTES_MOST).read_to_string();
            let text = text.map_err(io::Error::other)?;
            let page = ListObjectsV2::parse_response(&text).map_err(io::Error::other)?;
            let names = page.contents.iter().filter_map(|it| it.key.rsplit('/').next());
            hashes.extend(names.filter_map(BlobHash::from_hex));
            next = page.next_continuation_token;
            if next.is_none() {
                hashes.sort_unstable();
                return Ok(hashes);
            }
        }
    }
}

fn said(status: u16) -> io::Result<()> {
    match status {
        200..=299 => Ok(()),
        403 => Err(io::Error::other("the store of evidence refuses these keys (403)")),
        404 => Err(io::Error::other("the store of evidence has no such bucket (404)")),
        other => Err(io::Error::other(format!("the store of evidence answers {other}"))),
    }
}

fn roots(file: &str) -> io::Result<Vec<Certificate<'static>>> {
    let found = CertificateDer::pem_file_iter(Path::new(file)).map_err(io::Error::other)?;
    let roots =
        found.map(|root| Ok(Certificate::from_der(&root.map_err(io::Error::other)?).to_owned()));
    roots.collect()
}

/// A client that trusts these authorities alone and follows nothing.
fn agent(roots: &[Certificate<'static>]) -> Agent {
    let trusted = TlsConfig::builder()
        .root_certs(RootCerts::new_with_certs(roots))
        .unversioned_rustls_crypto_provider(Arc::new(ring::default_provider()));
    Agent::config_builder()
        .max_redirects(0)
        .http_status_as_error(false)
        .timeout_connect(Some(ANSWERED_WITHIN))
        .timeout_recv_response(Some(ANSWERED_WITHIN))
        .tls_config(trusted.build())
        .build()
        .into()
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::io::Write as _;
    use std::net::TcpListener;
    use std::thread;

    /// R49: a store that sends elsewhere is not followed there, whatever is asked of it.
    #[test]
    fn a_store_that_sends_elsewhere_is_not_followed() {
        let (store, elsewhere) = (listener(), listener());
        let port = |it: &TcpListener| it.local_addr().unwrap().port();
        let (at, to) = (port(&store), port(&elsewhere));
        thread::spawn(move || {
            for line in store.incoming() {
                let mut line = line.unwrap();
                let mut asked = [0; 4096];
                assert!(line.read(&mut asked).unwrap() > 0);
                let answer = format!(
                    "HTTP/1.1 307 Temporary Redirect\r\nlocation: http://127.0.0.1:{to}/\r\n\
                     content-length: 0\r\nconnection: close\r\n\r\n"
                );
                line.write_all(answer.as_bytes()).unwrap();
            }
        });
        let endpoint = format!("http://127.0.0.1:{at}").parse().unwrap();
        let bucket = Bucket::new(endpoint, UrlStyle::Path, "lab", "us-east-1").unwrap();
        let credentials = Credentials::new("key", "made-up");
        let remote = Remote { agent: agent(&[]), bucket, credentials, prefix: String::new() };
        let hash = BlobHash::of(b"evidence");
        let file = tempfile::NamedTempFile::new().unwrap();
        for refused in [
            remote.get(hash).map(drop),
            remote.bytes(hash).map(drop),
            remote.list().map(drop),
            remote.keep(Filed { hash, bytes: 8 }, file.path()),
        ] {
            assert_eq!(refused.unwrap_err().to_string(), "the store of evidence answers 307");
        }
        elsewhere.set_nonblocking(true).unwrap();
        assert!(elsewhere.accept().is_err(), "elsewhere was asked");
    }

    fn listener() -> TcpListener {
        TcpListener::bind("127.0.0.1:0").unwrap()
    }
}
