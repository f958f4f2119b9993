//! The device in the hand as the book may know it: a challenge for its key, and its enrolment.

use std::net::{IpAddr, SocketAddr};

use axum::Json;
use axum::extract::rejection::ExtensionRejection;
use axum::extract::{ConnectInfo, FromRequestParts, State};
use axum::http::request::Parts;
use axum::response::IntoResponse;
use serde::{Deserialize, Serialize};
use trial::person::Act;
use utoipa::ToSchema;
use utoipa_axum::router::OpenApiRouter;
use utoipa_axum::routes;

use super::sign_in::{address, cookie};
use crate::book::OpenBook;
use crate::clock;
use crate::problem::Problem;
use crate::web::access::{HOLDS_SECONDS, Showing, Who};
use crate::web::answer::{ProblemDocument, Refused, RefusedTwin};
use crate::web::asked::Document;
use crate::web::guard;
use crate::web::site::{InSession, Person, Site};
use crate::web::tls::Enciphered;

/// The routes.
pub(super) fn routes() -> OpenApiRouter<Site> {
    OpenApiRouter::new().routes(routes!(challenge)).routes(routes!(enrol))
}

/// Where a browser asks, from which address, and the word that came with the challenge it was given.
pub(super) struct At {
    origin: String,
    word: String,
    certificate: Option<String>,
    from: IpAddr,
}

impl FromRequestParts<Site> for At {
    type Rejection = ExtensionRejection;

    async fn from_request_parts(parts: &mut Parts, site: &Site) -> Result<Self, Self::Rejection> {
        let ConnectInfo::<SocketAddr>(from) = ConnectInfo::from_request_parts(parts, site).await?;
        let host = guard::host(&parts.uri, &parts.headers);
        let word = guard::cookie(&parts.headers, &cookie_name(site)).unwrap_or_default();
        let certificate = site.enciphered().map(Enciphered::by);
        Ok(Self {
            origin: format!("{}://{host}", site.scheme()),
            word,
            certificate,
            from: address(from),
        })
    }
}

impl At {
    /// What the browser shows there of its device.
    pub(super) fn showing(self, key: String, challenge: String, signature: String) -> Showing {
        let Self { origin, word, certificate, from: _ } = self;
        Showing { key, challenge, signature, word, origin, certificate, trusted: false }
    }
}

fn cookie_name(site: &Site) -> String {
    format!("{}-challenge", site.cookie())
}

/// What a device signs to show that it is there.
#[derive(Serialize, ToSchema)]
struct Challenge {
    /// It is signed once, within 2 min.
    challenge: String,
}

/// A challenge for the key of this device
#[utoipa::path(get, path = "/api/device/challenge", responses(
    (status = 200, body = Challenge, description = "the answer sets the cookie that is shown with it"),
    (status = "default", body = ProblemDocument, content_type = "application/problem+json"),
))]
async fn challenge(State(site): State<Site>, at: At) -> Result<impl IntoResponse, RefusedTwin> {
    let now = clock::now().map_err(Refused::from)?;
    let (word, challenge) = site.access().challenge(&at.origin, now).map_err(Refused::from)?;
    let cookie = cookie((&site, &cookie_name(&site)), word.word(), HOLDS_SECONDS);
    Ok(([cookie.map_err(Refused::from)?], Json(Challenge { challenge })))
}

/// A device to be enrolled.
#[derive(Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
struct Enrolment {
    /// What it is to be called.
    name: String,
    /// Its public key of P-256: an uncompressed point as hexadecimal digits.
    key: String,
    /// The challenge.
    challenge: String,
    /// Its signature by ECDSA with SHA-256 over `cinderbook enrol`, the origin of the page, the challenge and
    /// the name, a line each: r and s as hexadecimal digits.
    signature: String,
}

/// What it is called from now on.
#[derive(Serialize, ToSchema)]
struct Enrolled {
    /// The name.
    name: String,
}

/// Enrols the device that asks
#[utoipa::path(post, path = "/api/device/enrol", request_body = Enrolment, responses(
    (status = 200, body = Enrolled, description = "the sign-in that asked is on it from now on"),
    (status = 403, body = ProblemDocument, content_type = "application/problem+json"),
    (status = "default", body = ProblemDocument, content_type = "application/problem+json"),
))]
async fn enrol(
    State(site): State<Site>,
    at: At,
    Person(who): Person,
    InSession(word): InSession,
    Document(Enrolment { name, key, challenge, signature }): Document<Enrolment>,
) -> Result<Json<Enrolled>, RefusedTwin> {
    let person = who.clone();
    let may = move |book: &OpenBook| {
        let may = book.history().may_do(&person, Act::LookAfterPeople);
        may.map_err(|why| Problem::may_not(&why))
    };
    site.read(may).await?;
    let from = at.from;
    let showing = at.showing(key, challenge, signature);
    let (doing, now) = (site.clone(), clock::now().map_err(Refused::from)?);
    let enrolled = site.aside(move || {
        doing.access().enrol((&showing, &name), (&who, &word), now)?;
        let name = name.trim().to_owned();
        let said = format!("enrolled the device {name}");
        doing.access().log().note(Who { name: &who.0, from }, &said, now)?;
        Ok(Enrolled { name })
    });
    Ok(Json(enrolled.await?))
}
