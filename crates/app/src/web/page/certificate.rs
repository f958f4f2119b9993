//! The certificate of the book's own authority, and how devices are told to trust it. It is shown
//! to anybody: who wants to sign in needs it first.

use axum::extract::State;
use axum::http::{StatusCode, header};
use axum::response::IntoResponse;
use axum::routing::get;
use maud::{Markup, html};
use utoipa_axum::router::OpenApiRouter;

use crate::problem::Problem;
use crate::web::access::Authority;
use crate::web::answer::Refused;
use crate::web::shell;
use crate::web::site::Site;

/// Where the file is.
const FILE: &str = "/device/certificate/cinderbook.crt";

/// What to do on each kind of device: three steps after the file was downloaded.
const DEVICES: [(&str, [&str; 3]); 4] = [
    (
        "iPhone, iPad",
        [
            "Allow the download of the profile.",
            "In Settings, open the profile and install it.",
            "In Settings, General, About, Certificate Trust Settings, switch it on.",
        ],
    ),
    (
        "Android",
        [
            "In Settings, look for \u{201c}CA certificate\u{201d}.",
            "Install it, and choose the file.",
            "Open the book again.",
        ],
    ),
    (
        "Windows",
        [
            "Open the file and choose Install Certificate.",
            "Put it into Trusted Root Certification Authorities.",
            "Close the browser and open the book again.",
        ],
    ),
    (
        "macOS",
        [
            "Open the file; Keychain Access adds it.",
            "In its window, under Trust, choose Always Trust.",
            "Close the browser and open the book again.",
        ],
    ),
];

/// The routes.
pub(super) fn routes() -> OpenApiRouter<Site> {
    OpenApiRouter::new().route("/device/certificate", get(page)).route(FILE, get(file))
}

async fn page(State(site): State<Site>) -> Result<Markup, Refused> {
    let authority = authority(&site)?;
    let main = html! {
        p { "Without it this device warns of the book, and keeps no page, no film and no light of the screen." }
        p { a href=(FILE) download { "Download the certificate" } " of " strong { (authority.name()) } ", which holds until " (authority.until) "." }
        p { "Before you trust it, hold its SHA-256 against the one that was written where the book was opened:" }
        p { code { (authority.fingerprint()) } }
        @for (device, steps) in DEVICES {
            h2 { (device) }
            ol { @for step in steps { li { (step) } } }
        }
    };
    let title = "Trust this book";
    Ok(shell::page(title, title, None, &main))
}

async fn file(State(site): State<Site>) -> Result<impl IntoResponse, Refused> {
    // RFC 2585: one certificate, DER.
    let kind = [(header::CONTENT_TYPE, "application/pkix-cert")];
    Ok((kind, authority(&site)?.certificate()))
}

fn authority(site: &Site) -> Result<&Authority, Refused> {
    site.authority().ok_or_else(|| {
        let problem = Problem::used_wrongly("this book is not reached by a certificate of its own")
            .hint("Nothing is to be done on this device.");
        Refused::with(problem, StatusCode::NOT_FOUND)
    })
}
