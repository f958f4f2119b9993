//! `serve`: the book as pages.

use std::net::SocketAddr;

use clap::Args;

use super::Global;
use crate::book::OpenBook;
use crate::problem::{Exit, Problem};
use crate::web;

/// Opens the book as pages on this machine
///
/// Examples:
///   cinderbook --book my-book serve
///   cinderbook --book my-book serve --listen 127.0.0.1:8000
///
/// Ends with Ctrl-C; what was kept is kept. The pages ask no other machine for anything.
#[derive(Args, Debug)]
#[command(verbatim_doc_comment)]
pub(crate) struct Serve {
    /// The address and port to listen on; port 0 takes a free one
    #[arg(long, default_value = "127.0.0.1:4160")]
    listen: SocketAddr,
}

impl Serve {
    /// Runs the command.
    pub(crate) fn run(&self, global: &Global) -> Result<Exit, Problem> {
        if !self.listen.ip().is_loopback() {
            return Err(Problem::used_wrongly(format!(
                "{} is open to the network, and the pages are not enciphered",
                self.listen
            ))
            .hint("Listen on 127.0.0.1."));
        }
        web::serve(OpenBook::open(global)?, global.door(), self.listen)?;
        Ok(Exit::Good)
    }
}
