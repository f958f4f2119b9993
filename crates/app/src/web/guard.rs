//! What every request passes: only our own address is answered, only our own pages may act, and
//! what an answer may do in a browser is said in its headers.

use std::fmt::Write as _;
use std::net::SocketAddr;

use axum::extract::{ConnectInfo, MatchedPath, Request, State};
use axum::http::{HeaderMap, HeaderName, HeaderValue, Method, StatusCode, Uri, header};
use axum::middleware::Next;
use axum::response::{IntoResponse, Redirect, Response};
use trial::number::PersonName;

use super::access::{Standing, Who, hash};
use super::acts;
use super::answer::Refused;
use super::leave::{self, Asking};
use super::site::{InSession, Person, Site};
use crate::clock;
use crate::problem::Problem;

/// What a page may load, and from where: nothing but from here.
const POLICY: &str = "default-src 'none'; script-src 'self'; style-src 'self'; \
    img-src 'self' blob:; media-src 'self' blob:; connect-src 'self'; manifest-src 'self'; \
    worker-src 'self'; object-src 'none'; base-uri 'none'; frame-ancestors 'none'; \
    form-action 'self'";

const HEADERS: [(HeaderName, &str); 5] = [
    (header::CONTENT_SECURITY_POLICY, POLICY),
    (header::X_CONTENT_TYPE_OPTIONS, "nosniff"),
    // Without any referrer a browser would not say either where a form of ours comes from.
    (header::REFERRER_POLICY, "same-origin"),
    (HeaderName::from_static("cross-origin-opener-policy"), "same-origin"),
    (HeaderName::from_static("cross-origin-resource-policy"), "same-origin"),
];

/// What is answered without a session; all else asks for one.
const OPEN: [&str; 7] = [
    "/sign-in",
    "/api/sign-in",
    "/api/clock",
    "/api/device/challenge",
    "/device/certificate",
    "/sw.js",
    "/help",
];

/// The same, for all that lies below.
const OPEN_BELOW: [&str; 4] = ["/assets/", "/link/", "/device/certificate/", "/help/"];

/// Lets a request through, or says why not.
pub(super) async fn guard(State(site): State<Site>, mut request: Request, next: Next) -> Response {
    let path = request.uri().path().to_owned();
    let person = match refused(&site, &request) {
        Some(refused) => {
            note(&site, &request, &refused.problem().text);
            Err(refused.to(&path))
        }
        None => person(&site, &mut request).await.map_err(|refused| refused.to(&path)),
    };
    let mut response = match person {
        Err(refused) => refused,
        Ok(None) if !is_open(&path) => {
            if !request.method().is_safe() && cookie(request.headers(), site.cookie()).is_some() {
                note(&site, &request, "a change was asked for after its sign-in had ended");
            }
            sign_in_first(request.method(), request.uri())
        }
        Ok(Some(())) if !is_open(&path) => match leave::leave(&site, Asking::of(&request)).await {
            Ok(()) => site.answer(&path, next.run(request)).await,
            Err(refused) => refused,
        },
        Ok(_) => site.answer(&path, next.run(request)).await,
    };
    let headers = response.headers_mut();
    for (name, value) in HEADERS {
        // A file of a person may be shown under a stricter policy of its own.
        headers.entry(name).or_insert(HeaderValue::from_static(value));
    }
    let promised = site.enciphered().and_then(|it| site.access().promised(&it.by()));
    if let Some(promised) = promised {
        headers.insert(header::STRICT_TRANSPORT_SECURITY, HeaderValue::from_static(promised));
    }
    headers.entry(header::CACHE_CONTROL).or_insert(HeaderValue::from_static("no-store"));
    response
}

/// Writes into the security log what a stranger was refused.
fn note(site: &Site, request: &Request, what: &str) {
    let from = request.extensions().get::<ConnectInfo<SocketAddr>>();
    if let (Some(ConnectInfo(from)), Ok(now)) = (from, clock::now()) {
        let who = Who { name: "", from: from.ip().to_canonical() };
        site.access().log().refusal(who, what, now);
    }
}

/// Whether an address is answered without a session.
pub(super) fn is_open(path: &str) -> bool {
    OPEN.contains(&path) || OPEN_BELOW.iter().any(|above| path.starts_with(above))
}

/// Who asks, by their session; they and its secret are then with the request.
async fn person(site: &Site, request: &mut Request) -> Result<Option<()>, Refused> {
    let Some(word) = cookie(request.headers(), site.cookie()) else { return Ok(None) };
    let now = clock::now()?;
    let at_the_block = at_the_block(request.uri().path());
    let standing = site.access().standing(&word, now);
    if !matches!(standing, Standing::Holds(_))
        && let Some(of) = at_the_bench(request)
        && let Some(person) = by_pass(site, &word, of).await?
    {
        // No session goes with a pass: nothing but the bench is open.
        request.extensions_mut().insert(Person(person));
        return Ok(Some(()));
    }
    let (person, noted) = match standing {
        Standing::Holds(person) => {
            if at_the_block {
                site.seat().came(hash(&word));
            }
            (person, !by_itself(request.uri()))
        }
        // A sitting at the block holds its own pages and no others, and lengthens no session.
        Standing::Over(person) if at_the_block && site.seat().holds(&hash(&word), now) => {
            (person, false)
        }
        Standing::Over(_) | Standing::None => return Ok(None),
    };
    if noted {
        let (noting, word) = (site.clone(), word.clone());
        site.aside(move || noting.access().note(&word, now)).await?;
    }
    request.extensions_mut().insert(Person(person));
    request.extensions_mut().insert(InSession(word));
    Ok(Some(()))
}

/// The specimen whose pass opens this address, if one does.
fn at_the_bench(request: &Request) -> Option<(u32, u32)> {
    let route = request.extensions().get::<MatchedPath>()?;
    acts::by_pass(route.as_str(), request.uri().path())
}

/// Who has the pass to a specimen from this browser: while it is open its bench is held (U10).
pub(super) async fn by_pass(
    site: &Site,
    word: &str,
    of: (u32, u32),
) -> Result<Option<PersonName>, Refused> {
    let Some(person) = site.access().pass(word, of, clock::now()?) else { return Ok(None) };
    let open = site.specimen_open(&person, of).await?;
    Ok(open.then_some(person))
}

/// The pages of a sitting at the block: decision 20 says why they alone are held.
const AT_THE_BLOCK: [&str; 4] =
    ["/flame/run", "/api/flame/run", "/api/flame/run/events", "/api/flame/run/acts"];

fn at_the_block(path: &str) -> bool {
    AT_THE_BLOCK.contains(&path)
}

/// Whether a page asks by itself, without any person: that is no sign that one is there.
fn by_itself(uri: &Uri) -> bool {
    uri.path() == "/api/flame/run/events" || uri.query() == Some("by=itself")
}

/// The answer to one who is not signed in: for people the way there and back.
pub(super) fn sign_in_first(method: &Method, uri: &Uri) -> Response {
    if uri.path().starts_with("/api/") {
        let problem = Problem::used_wrongly("nobody is signed in").hint("Sign in at /api/sign-in.");
        return Refused::with(problem, StatusCode::UNAUTHORIZED).to(uri.path());
    }
    let back =
        if method.is_safe() { uri.path_and_query().map_or("/", |it| it.as_str()) } else { "/" };
    let to = format!("/sign-in?to={}", in_a_query(back));
    Redirect::to(&to).into_response()
}

/// Text as it stands in a query.
pub(super) fn in_a_query(text: &str) -> String {
    text.bytes().fold(String::new(), |mut written, byte| {
        if byte.is_ascii_alphanumeric() || b"/-._~".contains(&byte) {
            written.push(char::from(byte));
        } else {
            // Writing to a string cannot go wrong.
            let _ = write!(written, "%{byte:02X}");
        }
        written
    })
}

/// The value of a cookie.
pub(super) fn cookie(headers: &HeaderMap, name: &str) -> Option<String> {
    let cookies = headers.get_all(header::COOKIE).iter().filter_map(|value| value.to_str().ok());
    let mut pairs =
        cookies.flat_map(|line| line.split(';')).filter_map(|it| it.trim().split_once('='));
    pairs.find(|(key, _)| *key == name).map(|(_, value)| value.to_owned())
}

/// The host that a request names. Over HTTP/2 it stands in the address.
pub(super) fn host<'a>(uri: &'a Uri, headers: &'a HeaderMap) -> &'a str {
    let named = uri.authority().map(axum::http::uri::Authority::as_str);
    named.or_else(|| text(headers, &header::HOST)).unwrap_or_default()
}

fn refused(site: &Site, request: &Request) -> Option<Refused> {
    let headers = request.headers();
    let host = host(request.uri(), headers);
    if !site.names().iter().any(|name| name == host) {
        let problem = Problem::used_wrongly(format!("`{host}` is no name of this book"))
            .hint(format!("Open {}/.", site.origin()));
        return Some(Refused::with(problem, StatusCode::MISDIRECTED_REQUEST));
    }
    if request.method().is_safe() {
        return None;
    }
    // A browser says where a form or a script comes from; a program of the laboratory's need not.
    let from_here = match (
        headers.get("sec-fetch-site").and_then(|value| value.to_str().ok()),
        text(headers, &header::ORIGIN),
    ) {
        (Some(site), _) => site == "same-origin" || site == "none",
        (None, Some(origin)) => site.names().iter().any(|name| {
            origin.strip_prefix(site.scheme()).and_then(|rest| rest.strip_prefix("://"))
                == Some(name)
        }),
        (None, None) => true,
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
