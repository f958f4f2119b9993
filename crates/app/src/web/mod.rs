//! The book as pages: one file a page, and its JSON twin made from the same struct.
//!
//! A page parses, calls one stage, shows the result; no rule lives here. Every changing act is a
//! POST and calls the same `step` as the command line.

mod answer;
mod asked;
mod assets;
mod description;
mod download;
mod guard;
mod page;
mod shell;
mod site;
mod upload;

use std::net::SocketAddr;

use axum::Router;
use axum::middleware;
use tokio::net::TcpListener;
use tokio::runtime::Runtime;

use crate::book::OpenBook;
use crate::output::Output;
use crate::problem::Problem;

use site::Site;

/// Serves the book until the process is told to end.
///
/// # Errors
///
/// [`Problem`] where the address cannot be listened on.
pub(crate) fn serve(book: OpenBook, output: Output, listen: SocketAddr) -> Result<(), Problem> {
    let runtime = Runtime::new().map_err(|error| {
        Problem::surroundings("this machine gives no thread to serve with").because(&error)
    })?;
    runtime.block_on(async {
        let listener = TcpListener::bind(listen).await.map_err(|error| {
            Problem::surroundings(format!("cannot listen on {listen}"))
                .because(&error)
                .hint("Name another port with `--listen 127.0.0.1:PORT`.")
        })?;
        let address = listener.local_addr().unwrap_or(listen);
        let site = Site::new(book, output, address);
        site.say(&format!("The book is open at http://{address}/ until Ctrl-C."));
        axum::serve(listener, router(site.clone()))
            .with_graceful_shutdown(told_to_end())
            .await
            .map_err(|error| Problem::surroundings("the pages stopped").because(&error))
    })
}

/// All routes behind the guard.
fn router(site: Site) -> Router {
    let (pages, description) = description::described(page::routes().merge(upload::routes()));
    pages
        .merge(description::routes(description))
        .merge(assets::routes())
        .fallback(answer::no_such_page)
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
