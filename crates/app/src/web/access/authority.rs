//! The book's own small authority: a certificate that the laboratory's devices are told to trust,
//! and its key, which nobody but the owner of the book's folder may read.
#![expect(clippy::disallowed_methods, reason = "keeps a file beside the record")]

use std::fs;
use std::io::ErrorKind;
use std::net::{IpAddr, Ipv6Addr};
use std::path::Path;

use jiff::ToSpan as _;
use jiff::civil::Date;
use rcgen::{
    BasicConstraints, CertificateParams, CidrSubnet, DistinguishedName, DnType,
    ExtendedKeyUsagePurpose, GeneralSubtree, IsCa, Issuer, KeyPair, KeyUsagePurpose,
    NameConstraints,
};
use rustls::pki_types::{CertificateDer, PrivateKeyDer, PrivatePkcs8KeyDer};
use serde::{Deserialize, Serialize};
use sha2::{Digest as _, Sha256};

use super::kept::{FOLDER, put};
use crate::problem::Problem;

const FILE: &str = "authority.json";

/// An authority holds for so many years.
const YEARS: i32 = 10;

/// A certificate of the server holds for so many days. Browsers take no more than 398.
const SERVER_DAYS: i32 = 397;

/// The authority, as kept.
#[derive(Clone, Serialize, Deserialize)]
pub(in crate::web) struct Authority {
    /// What it is called on devices.
    name: String,
    /// The last day it holds.
    pub(in crate::web) until: Date,
    /// Its certificate, DER in hexadecimal digits.
    certificate: String,
    /// Its key, PKCS #8 in PEM.
    key: String,
    /// The hosts that it may certify besides those of private networks; none where it was made before
    /// authorities were so limited.
    #[serde(default)]
    hosts: Option<Vec<String>>,
}

/// A certificate of the server with its key.
pub(in crate::web) struct Issued {
    pub(in crate::web) certificate: CertificateDer<'static>,
    pub(in crate::web) key: PrivateKeyDer<'static>,
}

impl Authority {
    /// The authority of the book in `folder`, if it has one.
    ///
    /// # Errors
    ///
    /// [`Problem`] where its file cannot be read.
    pub(in crate::web) fn of(folder: &Path) -> Result<Option<Self>, Problem> {
        let file = folder.join(FOLDER).join(FILE);
        let unreadable = |error: &dyn std::error::Error| {
            Problem::surroundings(format!("cannot read `{}`", file.display()))
                .because(error)
                .hint("Put it back from a copy, or remove it: devices then need a new certificate.")
        };
        match fs::read(&file) {
            Ok(bytes) => {
                serde_json::from_slice(&bytes).map(Some).map_err(|error| unreadable(&error))
            }
            Err(error) if error.kind() == ErrorKind::NotFound => Ok(None),
            Err(error) => Err(unreadable(&error)),
        }
    }

    /// The same, made anew where there is none, it is near its end, or it may not certify one of
    /// `hosts`. It then issues nothing that outlasts it.
    ///
    /// # Errors
    ///
    /// As [`Authority::of`], and where it cannot be kept.
    pub(in crate::web) fn of_or_new(
        folder: &Path,
        hosts: &[String],
        today: Date,
    ) -> Result<Self, Problem> {
        let kept = Self::of(folder)?;
        let lasts = today.saturating_add(SERVER_DAYS.days());
        if let Some(kept) = kept.filter(|kept| kept.until > lasts && kept.may_certify(hosts)) {
            return Ok(kept);
        }
        let made = Self::new(hosts, today).map_err(|error| cannot("make an authority", &error))?;
        let file = folder.join(FOLDER).join(FILE);
        let bytes = serde_json::to_vec_pretty(&made).unwrap_or_default();
        put(&file, &bytes).map_err(|error| {
            Problem::surroundings(format!("cannot write `{}`", file.display()))
                .because(&error)
                .hint("Check that the book's folder may be written to and has room.")
        })?;
        Ok(made)
    }

    fn new(hosts: &[String], today: Date) -> Result<Self, rcgen::Error> {
        let key = KeyPair::generate()?;
        let short: String = fingerprint(key.public_key_raw()).chars().take(11).collect();
        let name = format!("Cinderbook authority {short}");
        let until = today.saturating_add(YEARS.years());
        let hosts = hosts.to_vec();
        let mut params = params(&name, today, until);
        params.name_constraints = Some(limits(&hosts));
        let certificate = params.self_signed(&key)?;
        let certificate = hex::encode(certificate.der());
        let key = key.serialize_pem();
        Ok(Self { name, until, certificate, key, hosts: Some(hosts) })
    }

    /// Whether it may certify all these hosts.
    fn may_certify(&self, hosts: &[String]) -> bool {
        let named = |host: &String| self.hosts.as_ref().is_none_or(|known| known.contains(host));
        hosts.iter().all(|host| named(host) || is_private(host))
    }

    /// Its certificate (DER).
    pub(in crate::web) fn certificate(&self) -> Vec<u8> {
        // What is no hexadecimal digits was not written by us; devices then refuse it.
        hex::decode(&self.certificate).unwrap_or_default()
    }

    /// What it is called on devices.
    pub(in crate::web) fn name(&self) -> &str {
        &self.name
    }

    /// The SHA-256 of its certificate, as devices show it.
    pub(in crate::web) fn fingerprint(&self) -> String {
        fingerprint(&self.certificate())
    }

    /// A certificate for a server with these names, each a host name or an address.
    ///
    /// # Errors
    ///
    /// [`Problem`] for a name that no certificate can carry.
    pub(in crate::web) fn issue(&self, names: &[String], today: Date) -> Result<Issued, Problem> {
        self.issued(names, today).map_err(|error| {
            cannot(&format!("make a certificate for {}", names.join(", ")), &error)
                .hint("Check the names given with `--name`.")
        })
    }

    fn issued(&self, names: &[String], today: Date) -> Result<Issued, rcgen::Error> {
        let issuer =
            Issuer::new(params(&self.name, today, self.until), KeyPair::from_pem(&self.key)?);
        let mut server = CertificateParams::new(names)?;
        server.distinguished_name = called("Cinderbook");
        server.key_usages = vec![KeyUsagePurpose::DigitalSignature];
        server.extended_key_usages = vec![ExtendedKeyUsagePurpose::ServerAuth];
        server.use_authority_key_identifier_extension = true;
        hold(&mut server, today, today.saturating_add(SERVER_DAYS.days()));
        let key = KeyPair::generate()?;
        let certificate = server.signed_by(&key, &issuer)?.der().clone();
        Ok(Issued { certificate, key: PrivatePkcs8KeyDer::from(key.serialize_der()).into() })
    }
}

/// Networks that are nobody's on the internet (RFC 1918, RFC 4193), this machine, and the link.
const PRIVATE: [([u8; 4], u8); 5] = [
    ([10, 0, 0, 0], 8),
    ([172, 16, 0, 0], 12),
    ([192, 168, 0, 0], 16),
    ([169, 254, 0, 0], 16),
    ([127, 0, 0, 0], 8),
];

fn is_private(host: &str) -> bool {
    match host.parse() {
        Ok(IpAddr::V4(address)) => {
            address.is_private() || address.is_loopback() || address.is_link_local()
        }
        Ok(IpAddr::V6(address)) => {
            address.is_loopback() || address.is_unique_local() || address.is_unicast_link_local()
        }
        Err(_) => host == "localhost",
    }
}

/// What the authority may certify: whoever steals its key certifies nobody else (RFC 5280, 4.2.1.10).
fn limits(hosts: &[String]) -> NameConstraints {
    let private = PRIVATE.iter().map(|(network, bits)| CidrSubnet::from_v4_prefix(*network, *bits));
    let six = [("::1", 128), ("fc00::", 7), ("fe80::", 10)].into_iter().filter_map(|(at, bits)| {
        let at: Ipv6Addr = at.parse().ok()?;
        Some(CidrSubnet::from_v6_prefix(at.octets(), bits))
    });
    let private = private.chain(six).map(GeneralSubtree::IpAddress);
    let own = hosts.iter().map(|host| match host.parse() {
        Ok(IpAddr::V4(at)) => {
            GeneralSubtree::IpAddress(CidrSubnet::from_v4_prefix(at.octets(), 32))
        }
        Ok(IpAddr::V6(at)) => {
            GeneralSubtree::IpAddress(CidrSubnet::from_v6_prefix(at.octets(), 128))
        }
        Err(_) => GeneralSubtree::DnsName(host.clone()),
    });
    let localhost = GeneralSubtree::DnsName("localhost".to_owned());
    NameConstraints {
        permitted_subtrees: private.chain(own).chain([localhost]).collect(),
        excluded_subtrees: Vec::new(),
    }
}

fn params(name: &str, today: Date, until: Date) -> CertificateParams {
    let mut params = CertificateParams::default();
    params.distinguished_name = called(name);
    params.is_ca = IsCa::Ca(BasicConstraints::Constrained(0));
    params.key_usages = vec![KeyUsagePurpose::KeyCertSign, KeyUsagePurpose::CrlSign];
    hold(&mut params, today, until);
    params
}

fn called(name: &str) -> DistinguishedName {
    let mut called = DistinguishedName::new();
    called.push(DnType::CommonName, name);
    called
}

/// States how long a certificate holds: from the day before, for a device whose clock is behind.
fn hold(params: &mut CertificateParams, from: Date, until: Date) {
    let start = |day: Date| {
        let (month, day_of_month) = (day.month().unsigned_abs(), day.day().unsigned_abs());
        rcgen::date_time_ymd(day.year().into(), month, day_of_month)
    };
    params.not_before = start(from.saturating_sub(1.day()));
    params.not_after = start(until);
}

fn cannot(what: &str, error: &rcgen::Error) -> Problem {
    Problem::surroundings(format!("cannot {what}")).because(error)
}

/// The SHA-256 of bytes, as devices show it: pairs of digits with colons.
fn fingerprint(bytes: &[u8]) -> String {
    let pairs: Vec<String> =
        Sha256::digest(bytes).iter().map(|byte| format!("{byte:02X}")).collect();
    pairs.join(":")
}
