//! What every request passes: only our own address is answered, only our own pages may act, and
//! what an answer may do in a browser is said in its headers.

use axum::extract::{Request, State};
use axum::http::{HeaderMap, HeaderName, HeaderValue, Method, StatusCode, header};
use axum::middleware::Next;
use axum::response::{IntoResponse, Response};

use super::answer::Refused;
use super::site::Site;
use crate::problem::Problem;

/// What a page may load, and from where: nothing but from here.
const POLICY: &str = "default-src 'none'; script-src 'self'; style-src 'self'; \
    img-src 'self' blob:; media-src 'self' blob:; connect-src 'self'; manifest-src 'self'; \
    worker-src 'self'; object-src 'none'; base-uri 'none'; frame-ancestors 'none'; \
    form-action 'self'";

const HEADERS: [(HeaderName, &str); 5] = [
    (header::CONTENT_SECURITY_POLICY, POLICY),
    (header::X_CONTENT_TYPE_OPTIONS, "nosniff"),
    (header::REFERRER_POLICY, "no-referrer"),
    (HeaderName::from_static("cross-origin-opener-policy"), "same-origin"),
    (HeaderName::from_static("cross-origin-resource-policy"), "same-origin"),
];

/// Lets a request through, or says why not.
pub(super) async fn guard(State(site): State<Site>, request: Request, next: Next) -> Response {
    let mut response = match refused(&site, request.method(), request.headers()) {
        Some(refused) => refused.into_response(),
        None => next.run(request).await,
    };
    let headers = response.headers_mut();
    for (name, value) in HEADERS {
        headers.insert(name, HeaderValue::from_static(value));
    }
    headers.entry(header::CACHE_CONTROL).or_insert(HeaderValue::from_static("no-store"));
    response
}

fn refused(site: &Site, method: &Method, headers: &HeaderMap) -> Option<Refused> {
    let host = text(headers, &header::HOST).unwrap_or_default();
    if !site.names().iter().any(|name| name == host) {
        let problem = Problem::used_wrongly(format!("`{host}` is no name of this book"))
            .hint(format!("Open {}/.", site.origin()));
        return Some(Refused::with(problem, StatusCode::MISDIRECTED_REQUEST));
    }
    if method.is_safe() {
        return None;
    }
    // A browser says where a form or a script comes from; a program of the laboratory's need not.
    let from_here = match (
        headers.get("sec-fetch-site").and_then(|value| value.to_str().ok()),
        text(headers, &header::ORIGIN),
    ) {
        (Some(site), _) if site != "same-origin" && site != "none" => false,
        (_, Some(origin)) => site.names().iter().any(|name| {
            origin.strip_prefix(site.scheme()).and_then(|rest| rest.strip_prefix("://"))
                == Some(name)
        }),
        (_, None) => true,
    };
    (!from_here).then(|| {
        let problem = Problem::used_wrongly("another site asked for a change in this book")
            .hint("Nothing was changed. Do it from the book's own pages.");
        Refused::with(problem, StatusCode::FORBIDDEN)
    })
}

fn text<'a>(headers: &'a HeaderMap, name: &HeaderName) -> Option<&'a str> {
    headers.get(name).and_then(|value| value.to_str().ok())
}
