//! The way to a database, enciphered: by the right authority and for the right name alone.

use std::path::{Path, PathBuf};
use std::sync::Arc;

use ledger::store::StoreError;
use ledger::{Book, LedgerError, verify};
use rcgen::{
    BasicConstraints, CertificateParams, CertifiedIssuer, DnType, IsCa, KeyPair, date_time_ymd,
};

use super::server::{BENCH, OWNER, Server};
use super::{Made, made};
use crate::story::tell_into;

/// An authority of the tests' own.
struct Authority(CertifiedIssuer<'static, KeyPair>);

impl Authority {
    fn new() -> Self {
        let mut params = CertificateParams::new([]).unwrap();
        params.is_ca = IsCa::Ca(BasicConstraints::Unconstrained);
        params.distinguished_name.push(DnType::CommonName, "Made-up authority");
        Self(CertifiedIssuer::self_signed(params, KeyPair::generate().unwrap()).unwrap())
    }

    /// Its certificate as a file that an address may name.
    fn file(&self, folder: &Path, name: &str) -> PathBuf {
        let path = folder.join(name);
        std::fs::write(&path, self.0.pem()).unwrap();
        path
    }

    /// A server that it has certified for `host`, until the end of a year.
    fn server(&self, host: &str, until: i32) -> Arc<Server> {
        let mut params = CertificateParams::new([host.to_owned()]).unwrap();
        params.not_after = date_time_ymd(until, 12, 31);
        let key = KeyPair::generate().unwrap();
        let certificate = params.signed_by(&key, &self.0).unwrap();
        Arc::new(Server::enciphered(&certificate.pem(), &key.serialize_pem()))
    }
}

/// An address that asks for a way which this authority answers for.
fn by(address: &Path, authority: &Path) -> PathBuf {
    let way = format!("?sslmode=verify-full&sslrootcert={}", authority.display());
    format!("{}{way}", address.display()).into()
}

fn refused(at: &Path) -> String {
    let refused = Book::open(at).err().unwrap();
    assert!(matches!(refused, LedgerError::Store(StoreError::Untrusted { .. })), "{refused}");
    assert!(refused.hint().unwrap().contains("sslrootcert"));
    let said = refused.to_string();
    said.strip_prefix("the database is not to be trusted: ").unwrap().to_owned()
}

#[test]
fn a_book_is_made_written_and_checked_over_an_enciphered_way() {
    let (authority, place) = (Authority::new(), tempfile::tempdir().unwrap());
    let made = Made::on(authority.server("127.0.0.1", 2999));
    let trusted = authority.file(place.path(), "authority.pem");
    let (owner, bench) = (by(&made.owner(), &trusted), by(&made.bench(), &trusted));
    drop(tell_into(Book::create_on_database(&owner, &made.making()).unwrap()).unwrap());
    let book = Book::open(&bench).unwrap();
    let ways = format!(
        "SELECT bool_and(ssl), min(version) FROM pg_stat_ssl JOIN pg_stat_activity USING (pid)
            WHERE usename = '{BENCH}'"
    );
    assert_eq!(made.server.say("postgres", &ways), "t|TLSv1.3");
    let found = verify(&bench, book.head()).unwrap();
    assert!(found.is_sound(), "{:?}", found.faults);

    let stranger = Authority::new().file(place.path(), "stranger.pem");
    assert_eq!(
        refused(&by(&made.bench(), &stranger)),
        "another authority than that of `sslrootcert` has certified it"
    );
    // The same database by a name that its certificate does not have.
    let port = made.server.port;
    let named = format!("postgres://{BENCH}@localhost:{port}/{}", made.database);
    assert_eq!(
        refused(&by(Path::new(&named), &trusted)),
        "its certificate is for another host than the address names"
    );
}

#[test]
fn a_database_whose_certificate_has_run_out_or_that_does_not_encipher_is_not_asked() {
    let (authority, place) = (Authority::new(), tempfile::tempdir().unwrap());
    let trusted = authority.file(place.path(), "authority.pem");
    let server = authority.server("127.0.0.1", 2020);
    let at = server.address(OWNER, "postgres");
    assert_eq!(refused(&by(&at, &trusted)), "its certificate does not hold at this machine's time");
    let plain = made();
    drop(plain.book());
    assert_eq!(
        refused(&by(&plain.bench(), &trusted)),
        "it does not encipher the way, and the address asks for it"
    );
}
