//! The pages on the network: enciphered by the book's own authority, for the right names alone.

use std::io::{Read as _, Write as _};
use std::net::TcpStream;

use crate::served::{PASSWORD, PERSON, Served, kept, new_book};

fn port(served: &Served) -> &str {
    served.origin.rsplit(':').next().unwrap()
}

#[test]
fn on_the_network_the_pages_are_enciphered_for_the_right_names() {
    let served = Served::enciphered(new_book(), &["--name", "bench.lab.example"]);
    let port = port(&served);
    assert_eq!(served.origin, format!("https://bench.lab.example:{port}"));
    for name in ["127.0.0.1", "localhost"] {
        assert_eq!(served.reached(&format!("https://{name}:{port}/sign-in")), Ok(200), "{name}");
    }
    // The same server by a name that the certificate does not carry.
    let wrong = served.reached(&format!("https://127.0.0.2:{port}/sign-in")).unwrap_err();
    assert!(wrong.contains("certificate"), "{wrong}");
    // Not enciphered it is said where the book is, and nothing else.
    let mut plain = TcpStream::connect(format!("127.0.0.1:{port}")).unwrap();
    plain.write_all(b"GET /sign-in HTTP/1.1\r\nhost: 127.0.0.1\r\n\r\n").unwrap();
    let mut answer = String::new();
    plain.read_to_string(&mut answer).unwrap();
    let (head, body) = answer.split_once("\r\n\r\n").unwrap();
    assert!(head.starts_with("HTTP/1.1 400 "), "{head}");
    assert_eq!(body, format!("This book is reached enciphered. Open {}/\n", served.origin));
}

#[test]
fn enciphered_the_cookie_is_for_this_host_alone() {
    let mut served = Served::enciphered(new_book(), &[]);
    served.come_in();
    let form = [("name", PERSON), ("password", PASSWORD), ("to", "/")];
    let answer = served.fill("/sign-in", &form);
    let (pair, attributes) = answer.header("set-cookie").split_once("; ").unwrap();
    assert!(pair.starts_with(&format!("__Host-cinderbook-{}=", port(&served))), "{pair}");
    assert_eq!(attributes, "Path=/; Max-Age=259200; HttpOnly; SameSite=Strict; Secure");
    assert_eq!(served.get("/").status, 200);
    // Whoever cannot pass the browser's warning could not pass it ever after.
    assert!(served.get("/").header("strict-transport-security").is_empty());
    let refused = served.fill_from("/sign-out", &[], &served.origin.replace("https", "http"));
    assert_eq!(refused.status, 403);
}

#[test]
fn the_certificate_of_the_authority_is_had_without_sign_in_and_stays() {
    let served = Served::enciphered(new_book(), &[]);
    let page = served.page("/device/certificate");
    let file = served.bytes("/device/certificate/cinderbook.crt");
    let authority: serde_json::Value =
        serde_json::from_str(&kept(&served.book(), "access/authority.json")).unwrap();
    assert_eq!(hex::encode(&file), authority["certificate"].as_str().unwrap());
    assert!(page.contains(authority["name"].as_str().unwrap()));
    assert!(!page.contains("PRIVATE KEY") && page.matches("<ol>").count() == 4);
    let again = Served::enciphered(served.end(), &[]);
    assert_eq!(again.bytes("/device/certificate/cinderbook.crt"), file, "devices go on trusting");
    // It may certify private networks and the names it was made for; for another it is made anew.
    let other = Served::enciphered(again.end(), &["--name", "bench.lab.example"]);
    // Nobody here finds that name, so its certificate is read where it is kept.
    let authority: serde_json::Value =
        serde_json::from_str(&kept(&other.book(), "access/authority.json")).unwrap();
    let named = hex::decode(authority["certificate"].as_str().unwrap()).unwrap();
    assert_ne!(named, file);
    let name = b"bench.lab.example";
    assert!(named.windows(name.len()).any(|it| it == name), "among what it may certify");
    let plain = Served::start(other.end(), &[], "2026-11-25T12:00:00Z");
    assert_eq!(plain.get("/device/certificate").status, 404, "not enciphered, nothing to trust");
}

#[test]
fn a_certificate_that_cannot_be_used_is_named() {
    let folder = new_book();
    let file = folder.path().join("lab.pem");
    #[expect(clippy::disallowed_methods, reason = "a file for the test")]
    std::fs::write(&file, "no certificate").unwrap();
    let serve = |arguments: &[&std::ffi::OsStr]| {
        let mut program = crate::served::program();
        program.arg("--book").arg(folder.path().join("book")).args(["serve", "--listen"]);
        program.arg("127.0.0.1:0").args(arguments).output().unwrap()
    };
    let (certificate, key) = ("--certificate".as_ref(), "--key".as_ref());
    let refused = serve(&[certificate, file.as_os_str(), key, file.as_os_str()]);
    let said = String::from_utf8_lossy(&refused.stderr);
    assert!(said.contains("lab.pem` holds no PEM block `CERTIFICATE`"), "{said}");
    assert_eq!(refused.status.code(), Some(2));
    assert!(refused.stdout.is_empty(), "no link to a book that nobody reaches");
    assert_eq!(
        serve(&[certificate, file.as_os_str()]).status.code(),
        Some(2),
        "the key is missing"
    );
}

/// A laboratory's authority, and a certificate of it for this machine till the end of a year.
pub(crate) struct Laboratory {
    key: rcgen::KeyPair,
    params: rcgen::CertificateParams,
}

impl Laboratory {
    pub(crate) fn new() -> Self {
        let mut params = rcgen::CertificateParams::default();
        params.distinguished_name.push(rcgen::DnType::CommonName, "Made-up authority");
        params.is_ca = rcgen::IsCa::Ca(rcgen::BasicConstraints::Unconstrained);
        Self { key: rcgen::KeyPair::generate().unwrap(), params }
    }

    pub(crate) fn der(&self) -> Vec<u8> {
        self.params.self_signed(&self.key).unwrap().der().to_vec()
    }

    /// Writes certificate and key; the public half of the key, DER.
    #[expect(clippy::disallowed_methods, reason = "files for the test")]
    pub(crate) fn issue(&self, folder: &std::path::Path, year: i32) -> Vec<u8> {
        let mut server = rcgen::CertificateParams::new(["127.0.0.1".to_owned()]).unwrap();
        server.not_after = rcgen::date_time_ymd(year, 12, 31);
        let key = rcgen::KeyPair::generate().unwrap();
        let issuer = rcgen::Issuer::from_params(&self.params, &self.key);
        let certificate = server.signed_by(&key, &issuer).unwrap();
        std::fs::write(folder.join("lab.pem"), certificate.pem()).unwrap();
        std::fs::write(folder.join("lab.key"), key.serialize_pem()).unwrap();
        rcgen::PublicKeyData::subject_public_key_info(&key)
    }
}

#[test]
fn a_laboratorys_certificate_serves_and_is_renewed_while_the_book_is_open() {
    let (folder, laboratory) = (new_book(), Laboratory::new());
    laboratory.issue(folder.path(), 2090);
    let path = |name: &str| folder.path().join(name).display().to_string();
    let (certificate, key) = (path("lab.pem"), path("lab.key"));
    let wanted = ["--listen", "127.0.0.1:0", "--certificate", &certificate, "--key", &key];
    let mut served = Served::enciphered_by(folder, &wanted, &laboratory.der());
    served.come_in();
    let ends = |day: &str| {
        let said = format!("Made-up authority</strong>, which ends on <strong>{day}</strong>");
        crate::served::holds(&served.page("/setup"), &[&said]);
    };
    ends("2090-12-31");
    assert_eq!(served.get("/device/certificate").status, 404, "there is none of the book's");
    laboratory.issue(served.folder.path(), 2091);
    ends("2090-12-31");
    let renew = || served.fill("/setup", &[("act", "renew")]);
    assert_eq!(renew().status, 303);
    ends("2091-12-31");
    // One that has ended is not taken: the one before stays.
    laboratory.issue(served.folder.path(), 2020);
    let refused = renew();
    assert_eq!(refused.status, 422);
    let said = "The certificate of Made-up authority ended on 2020-12-31.";
    crate::served::holds(&refused.body, &[said, "Give one that still holds."]);
    ends("2091-12-31");
}
