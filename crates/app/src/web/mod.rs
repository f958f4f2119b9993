//! The book as pages: one file a page, and its JSON twin made from the same struct.
//!
//! A page parses, calls one stage, shows the result; no rule lives here. Every changing act is a
//! POST and calls the same `step` as the command line.

mod access;
mod acts;
mod answer;
mod archive;
mod asked;
mod assets;
mod certificate;
mod description;
mod download;
mod film;
#[cfg(test)]
mod fuzz;
mod pieces;
mod guard;
mod kind;
mod leave;
mod live;
mod page;
mod picture;
mod plain;
mod shell;
mod site;
mod stacked;
mod streamed;
mod tls;
mod waiting;
mod watch;
mod upload;

use std::net::SocketAddr;
use std::time::Duration;

use axum::Router;
use axum::middleware;
use axum_server::Handle;
use axum_server::tls_rustls::RustlsAcceptor;
use jiff::civil::Date;
use jiff::tz::TimeZone;
use tokio::net::TcpListener;
use tokio::runtime::Runtime;
use tower_http::compression::CompressionLayer;
use tower_http::compression::predicate::{DefaultPredicate, NotForContentType, Predicate as _};
use tower_http::timeout::RequestBodyTimeoutLayer;

use trial::number::PersonName;

use crate::book::OpenBook;
use crate::clock;
use crate::output::Output;
use crate::problem::Problem;
use crate::{room, typeset};

use access::{Access, Authority};
use plain::OnlyEnciphered;
use site::{Reached, Site};
use tls::{Certifier, Enciphered};

pub(crate) use access::agrees;
pub(crate) use pieces::drop_all as drop_films;
pub(crate) use tls::Own;

/// What is under way may end for so long when the program is told to end.
const TO_END: Duration = Duration::from_secs(10);

/// The certificate is made or read anew so often.
const RENEWED_EVERY: Duration = Duration::from_hours(24);

/// What `serve` is asked for.
#[derive(Clone, Debug)]
pub(crate) struct Wanted {
    /// The address to listen on.
    pub(crate) listen: SocketAddr,
    /// The person for whom a link is wanted.
    pub(crate) link: Option<String>,
    /// The host names by which the pages are reached besides the address.
    pub(crate) names: Vec<String>,
    /// The laboratory's certificate, where it gives one.
    pub(crate) own: Option<Own>,
}

/// Serves the book until the process is told to end: enciphered, but on this machine alone.
///
/// # Errors
///
/// [`Problem`] where the address cannot be listened on, or there is no usable certificate.
pub(crate) fn serve(mut book: OpenBook, output: Output, wanted: &Wanted) -> Result<(), Problem> {
    let runtime = Runtime::new().map_err(|error| {
        Problem::surroundings("this machine gives no thread to serve with").because(&error)
    })?;
    let folder = book.book().folder().to_owned();
    let access = Access::open(book.book())?;
    book.take_place()?;
    book.set_pages_within(typeset::ANSWERED);
    if !book.book().is_shared() {
        room::set_aside(&folder);
    }
    runtime.block_on(async {
        let (listener, address) = listen(wanted.listen).await?;
        let hosts = tls::hosts(address, &wanted.names);
        let certifier = match &wanted.own {
            Some(own) => Some(Certifier::Own(own.clone())),
            None if address.ip().is_loopback() => None,
            None => {
                let authority = Authority::of_or_new(&folder, &hosts, today()?)?;
                Some(Certifier::Authority(Box::new(authority), hosts.clone()))
            }
        };
        // Whoever is told of the book can reach it: a certificate that is none ends it here.
        let certifier = certifier.map(|certifier| Enciphered::new(certifier, today()?));
        let reached = reached(address, &hosts, certifier.transpose()?);
        let site = Site::new((book, output), reached, access);
        live::settled(&site).await;
        tell_link(&site, wanted.link.as_deref())?;
        if let Some(authority) = site.authority() {
            let (at, print) = (site.origin(), authority.fingerprint());
            site.say(&format!("Devices trust it by {at}/device/certificate, SHA-256 {print}"));
        }
        watch::begin(site.clone());
        site.say(&format!("The book is open at {}/ until Ctrl-C.", site.origin()));
        answer_all(listener, site).await
    })
}

/// Takes the address.
async fn listen(wanted: SocketAddr) -> Result<(std::net::TcpListener, SocketAddr), Problem> {
    let cannot = |error: &dyn std::error::Error| {
        Problem::surroundings(format!("cannot listen on {wanted}"))
            .because(error)
            .hint("Name another port with `--listen 127.0.0.1:PORT`.")
    };
    let listener = TcpListener::bind(wanted).await.map_err(|error| cannot(&error))?;
    let address = listener.local_addr().unwrap_or(wanted);
    Ok((listener.into_std().map_err(|error| cannot(&error))?, address))
}

/// How the pages are reached by these hosts.
fn reached(address: SocketAddr, hosts: &[String], enciphered: Option<Enciphered>) -> Reached {
    let port = address.port();
    let (scheme, cookie) = match &enciphered {
        None => ("http", format!("cinderbook-{port}")),
        // RFC 6265bis: a browser takes this name only enciphered, for this host and all its paths.
        Some(_) => ("https", format!("__Host-cinderbook-{port}")),
    };
    Reached { scheme, names: tls::with_port(hosts, scheme, port), cookie, enciphered }
}

/// Answers until the process is told to end; what is under way then is ended first.
async fn answer_all(listener: std::net::TcpListener, site: Site) -> Result<(), Problem> {
    let stopped =
        |error: &dyn std::error::Error| Problem::surroundings("the pages stopped").because(error);
    let handle = Handle::new();
    let ending = handle.clone();
    tokio::spawn(async move {
        told_to_end().await;
        ending.graceful_shutdown(Some(TO_END));
    });
    let pages = router(site.clone()).into_make_service_with_connect_info::<SocketAddr>();
    let mut server =
        axum_server::from_tcp(listener).map_err(|error| stopped(&error))?.handle(handle);
    server.http_builder().http1().header_read_timeout(waiting::SILENT);
    let server = server.first_request_timeout(waiting::SILENT);
    match site.enciphered() {
        None => server.serve(pages).await,
        Some(enciphered) => {
            let acceptor = RustlsAcceptor::new(enciphered.config());
            tokio::spawn(renew(site.clone()));
            server.acceptor(acceptor.acceptor(OnlyEnciphered::of(&site))).serve(pages).await
        }
    }
    .map_err(|error| stopped(&error))
}

/// Makes or reads the certificate anew every day, long before it ends.
async fn renew(site: Site) {
    while let Some(enciphered) = site.enciphered() {
        tokio::time::sleep(RENEWED_EVERY).await;
        if let Err(problem) = today().and_then(|today| enciphered.renew(today)) {
            site.say(&format!("The old certificate stays: {}", problem.text));
        }
    }
}

/// The day now, in UTC.
pub(in crate::web) fn today() -> Result<Date, Problem> {
    Ok(TimeZone::UTC.to_datetime(clock::now()?).date())
}

/// Writes the one-use link that was asked for, or that the first person needs, on standard output.
fn tell_link(site: &Site, wanted: Option<&str>) -> Result<(), Problem> {
    let now = clock::now()?;
    let whose = match wanted {
        Some(name) => format!("with which {name} chooses a password"),
        None if site.access().nobody() => "for the first person".to_owned(),
        None => return Ok(()),
    };
    let link = site.access().link(wanted.map(PersonName::from).as_ref(), now)?;
    site.say(&format!("A link {whose}; it can be used once, within 15 min:"));
    site.value(&format!("{}/link/{}", site.origin(), link.word()));
    Ok(())
}

/// All routes behind the guard.
fn router(site: Site) -> Router {
    // A film is packed already, and is asked for by its parts; a bundle is mostly of such files.
    let packed = DefaultPredicate::new()
        .and(NotForContentType::const_new("video/"))
        .and(NotForContentType::const_new(archive::KIND));
    let (pages, description) = description::described(page::routes().merge(upload::routes()));
    pages
        .merge(description::routes(description))
        .merge(assets::routes())
        .fallback(answer::no_such_page)
        .method_not_allowed_fallback(answer::no_such_act)
        .layer(middleware::from_fn_with_state(site.clone(), guard::guard))
        .layer(CompressionLayer::new().compress_when(packed))
        .layer(middleware::from_fn(waiting::answered))
        .layer(RequestBodyTimeoutLayer::new(waiting::SILENT))
        .with_state(site)
}

/// Waits for Ctrl-C.
async fn told_to_end() {
    if tokio::signal::ctrl_c().await.is_err() {
        // No signal will come on this machine: it is then ended from outside.
        std::future::pending::<()>().await;
    }
}
