//! The book as pages: one file a page, and its JSON twin made from the same struct.
//!
//! A page parses, calls one stage, shows the result; no rule lives here. Every changing act is a
//! POST and calls the same `step` as the command line.

mod access;
mod answer;
mod asked;
mod assets;
mod description;
mod download;
mod guard;
mod page;
mod picture;
mod shell;
mod site;
mod upload;

use std::net::SocketAddr;

use axum::Router;
use axum::middleware;
use tokio::net::TcpListener;
use tokio::runtime::Runtime;

use trial::number::PersonName;

use crate::book::OpenBook;
use crate::clock;
use crate::output::Output;
use crate::problem::Problem;

use access::Access;
use site::{Reached, Site};

/// What `serve` is asked for.
#[derive(Clone, Debug)]
pub(crate) struct Wanted {
    /// The address to listen on.
    pub(crate) listen: SocketAddr,
    /// The person for whom a link is wanted.
    pub(crate) link: Option<String>,
}

/// Serves the book until the process is told to end.
///
/// # Errors
///
/// [`Problem`] where the address cannot be listened on.
pub(crate) fn serve(book: OpenBook, output: Output, wanted: &Wanted) -> Result<(), Problem> {
    let runtime = Runtime::new().map_err(|error| {
        Problem::surroundings("this machine gives no thread to serve with").because(&error)
    })?;
    let listen = wanted.listen;
    let access = Access::open(book.book().folder())?;
    runtime.block_on(async {
        let listener = TcpListener::bind(listen).await.map_err(|error| {
            Problem::surroundings(format!("cannot listen on {listen}"))
                .because(&error)
                .hint("Name another port with `--listen 127.0.0.1:PORT`.")
        })?;
        let address = listener.local_addr().unwrap_or(listen);
        let port = address.port();
        let reached = Reached {
            scheme: "http",
            names: vec![address.to_string(), format!("localhost:{port}")],
            cookie: format!("cinderbook-{port}"),
        };
        let site = Site::new((book, output), reached, access);
        tell_link(&site, wanted.link.as_deref())?;
        site.say(&format!("The book is open at {}/ until Ctrl-C.", site.origin()));
        axum::serve(listener, router(site.clone()))
            .with_graceful_shutdown(told_to_end())
            .await
            .map_err(|error| Problem::surroundings("the pages stopped").because(&error))
    })
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
    let (pages, description) = description::described(page::routes().merge(upload::routes()));
    pages
        .merge(description::routes(description))
        .merge(assets::routes())
        .fallback(answer::no_such_page)
        .method_not_allowed_fallback(answer::no_such_act)
        .layer(middleware::from_fn_with_state(site.clone(), guard::guard))
        .layer(tower_http::compression::CompressionLayer::new())
        .with_state(site)
}

/// Waits for Ctrl-C.
async fn told_to_end() {
    if tokio::signal::ctrl_c().await.is_err() {
        // No signal will come on this machine: it is then ended from outside.
        std::future::pending::<()>().await;
    }
}
