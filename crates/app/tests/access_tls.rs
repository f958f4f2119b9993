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
    // Not enciphered nothing is answered.
    let mut plain = TcpStream::connect(format!("127.0.0.1:{port}")).unwrap();
    plain.write_all(b"GET /sign-in HTTP/1.1\r\nhost: 127.0.0.1\r\n\r\n").unwrap();
    let mut answer = Vec::new();
    // The connection may be cut as well as closed.
    drop(plain.read_to_end(&mut answer));
    assert!(!String::from_utf8_lossy(&answer).contains("HTTP/"), "{answer:?}");
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
    let plain = Served::start(again.end(), &[], "2026-11-25T12:00:00Z");
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
    assert_eq!(
        serve(&[certificate, file.as_os_str()]).status.code(),
        Some(2),
        "the key is missing"
    );
}
