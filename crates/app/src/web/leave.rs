//! Whether who is signed in may ask for what is asked: by the table of acts and roles, as often as one
//! session may, with a second factor where one is asked for, and at the bench on an enrolled device where the
//! laboratory wants it so.

use std::net::SocketAddr;

use axum::extract::{ConnectInfo, MatchedPath, Request};
use axum::http::{Method, StatusCode, Uri};
use axum::response::{IntoResponse as _, Redirect, Response};
use trial::history::History;
use trial::number::PersonName;
use trial::person::{Act, MayNot, Role};

use super::access::{Who, hash};
use super::acts;
use super::answer::{Refused, no_such_act};
use super::guard::by_pass;
use super::page::{ENROLMENT, SECOND_FACTOR};
use super::site::{InSession, Person, Site};
use crate::clock;
use crate::problem::Problem;

/// What of a request says who asks for what.
pub(super) struct Asking {
    method: Method,
    uri: Uri,
    route: Option<MatchedPath>,
    session: Option<InSession>,
    person: Option<Person>,
    from: Option<ConnectInfo<SocketAddr>>,
}

impl Asking {
    /// Reads it off.
    pub(super) fn of(request: &Request) -> Self {
        let with = request.extensions();
        Self {
            method: request.method().clone(),
            uri: request.uri().clone(),
            route: with.get().cloned(),
            session: with.get().cloned(),
            person: with.get().cloned(),
            from: with.get().copied(),
        }
    }
}

/// Lets the request of one who is signed in through, or gives the answer that says why not.
pub(super) async fn leave(site: &Site, asking: Asking) -> Result<(), Response> {
    let path = asking.uri.path();
    // Of what there is no page, the answer says so.
    let Some(route) = &asking.route else { return Ok(()) };
    let Some(asked) = acts::asked(&asking.method, route.as_str()) else {
        return Err(no_such_act(asking.method.clone(), asking.uri.clone()).await);
    };
    if asking.session.as_ref().is_some_and(|InSession(word)| !site.access().takes(&hash(word))) {
        let problem = Problem::used_wrongly("this sign-in asked for more than 50 things a second")
            .hint("Wait a second, then ask again.");
        return Err(Refused::with(problem, StatusCode::TOO_MANY_REQUESTS).to(path));
    }
    let Some(Person(who)) = &asking.person else { return Ok(()) };
    let person = who.clone();
    let found = site.read(move |book| Ok(found(book.history(), &person, asked))).await;
    match found.map_err(|refused| refused.to(path))? {
        Err(why) => {
            let problem = Problem::may_not(&why);
            note(site, &asking, (who, &problem.text));
            Err(Refused::from(problem).to(path))
        }
        Ok(answers) if answers && lacks_second(site, who) && !asked.contains(&Act::OwnSignIn) => {
            Err(second_first(path))
        }
        Ok(_) => match at_a_strange_device(site, &asking).await {
            Ok(None) => Ok(()),
            Ok(Some(problem)) => {
                note(site, &asking, (who, &problem.text));
                Err(enrolled_first(problem, path))
            }
            Err(refused) => Err(refused.to(path)),
        },
    }
}

/// Why the bench does not open on this device, where it does not. A specimen that was begun by a pass is
/// timed to its end.
async fn at_a_strange_device(site: &Site, asking: &Asking) -> Result<Option<Problem>, Refused> {
    let (Some(InSession(word)), Some(route)) = (&asking.session, &asking.route) else {
        return Ok(None);
    };
    let access = site.access();
    if !acts::at_the_bench(route.as_str())
        || !access.asks_device()
        || access.device_of(word).is_some()
    {
        return Ok(None);
    }
    if let Some(of) = acts::by_pass(route.as_str(), asking.uri.path())
        && by_pass(site, word, of).await?.is_some()
    {
        return Ok(None);
    }
    let enrols = site.read(|book| {
        let people = book.history().holders(Role::Administrator);
        Ok(people.map(|it| it.0.clone()).collect::<Vec<_>>().join(" or "))
    });
    let hint = format!(
        "Sign in on an enrolled device, or have this one enrolled by {} at /device.",
        enrols.await?
    );
    let text = "the bench opens on enrolled devices alone, and this sign-in is on none";
    Ok(Some(Problem::used_wrongly(text).hint(hint)))
}

/// Whether a person may do one of the acts; then whether they answer for more than their own work.
fn found(history: &History, who: &PersonName, asked: &[Act]) -> Result<bool, MayNot> {
    let mut refused = None;
    for act in asked {
        match history.may_do(who, *act) {
            Ok(()) => {
                let answers = [Role::Engineer, Role::QualityManager, Role::Administrator];
                let person = history.person(who);
                return Ok(person.is_some_and(|it| answers.iter().any(|role| it.is(*role))));
            }
            Err(why) => refused = refused.or(Some(why)),
        }
    }
    refused.map_or(Ok(false), Err)
}

fn lacks_second(site: &Site, who: &PersonName) -> bool {
    site.access().asks_second() && !site.access().has_second(who)
}

/// The answer to one who has no second factor yet: the way to it.
fn second_first(path: &str) -> Response {
    if path.starts_with("/api/") {
        let problem = Problem::used_wrongly("a second factor is asked for, and there is none yet")
            .hint("Set it up at /second-factor, or at /api/second-factor.");
        return Refused::with(problem, StatusCode::FORBIDDEN).to(path);
    }
    Redirect::to(SECOND_FACTOR).into_response()
}

/// The answer to one whose device may not open the bench: the way to its enrolment.
fn enrolled_first(problem: Problem, path: &str) -> Response {
    if path.starts_with("/api/") {
        return Refused::with(problem, StatusCode::FORBIDDEN).to(path);
    }
    Redirect::to(ENROLMENT).into_response()
}

/// Writes into the security log what a person was refused.
fn note(site: &Site, asking: &Asking, (who, what): (&PersonName, &str)) {
    if let (Some(ConnectInfo(from)), Ok(now)) = (&asking.from, clock::now()) {
        let who = Who { name: &who.0, from: from.ip().to_canonical() };
        let what = format!("refused {}: {what}", asking.uri.path());
        site.access().log().refusal(who, &what, now);
    }
}
