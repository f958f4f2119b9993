//! Who presses: the browser that begins a specimen gets its pass, and one person at two benches at once
//! is told of.

use std::net::SocketAddr;

use axum::extract::{ConnectInfo, FromRequestParts};
use axum::http::request::Parts;
use trial::number::{PersonName, PlanNumber, SpecimenNumber};

use super::bench_before::Check;
use super::sign_in::address;
use crate::book::OpenBook;
use crate::clock;
use crate::form::pressed::times_now;
use crate::web::access::Who;
use crate::web::answer::Refused;
use crate::web::site::{InSession, Site};

/// From which browser presses come: the secret of its session, unless it presses by a pass, and its
/// address.
pub(super) struct Presser {
    session: Option<String>,
    from: Option<SocketAddr>,
}

impl FromRequestParts<Site> for Presser {
    type Rejection = std::convert::Infallible;

    async fn from_request_parts(parts: &mut Parts, _: &Site) -> Result<Self, Self::Rejection> {
        let session = parts.extensions.get::<InSession>().map(|InSession(word)| word.clone());
        let from = parts.extensions.get::<ConnectInfo<SocketAddr>>().map(|ConnectInfo(it)| *it);
        Ok(Self { session, from })
    }
}

impl Presser {
    /// Gives the browser a pass to the specimen that it times, once; then it is also noted if the same
    /// person times another one.
    ///
    /// # Errors
    ///
    /// Where it cannot be kept.
    pub(super) async fn begins(
        self,
        site: &Site,
        (person, of): (PersonName, (u32, u32)),
    ) -> Result<(), Refused> {
        let Some(word) = self.session else { return Ok(()) };
        let now = clock::now()?;
        if site.access().pass(&word, of, now).is_some() {
            return Ok(());
        }
        let whose = person.clone();
        let elsewhere = site.read(move |book| Ok(elsewhere(book, &whose, of))).await?;
        let giving = site.clone();
        site.aside(move || {
            giving.access().give_pass(&word, (&person, of), now)?;
            let (Some(elsewhere), Some(from)) = (elsewhere, self.from) else { return Ok(()) };
            let who = Who { name: &person.0, from: address(from) };
            let what = format!("at two benches at once: {elsewhere}");
            giving.access().log().note(who, &what, now)
        })
        .await
    }
}

/// What else a person times at the bench now, in words.
fn elsewhere(book: &OpenBook, person: &PersonName, of: (u32, u32)) -> Option<String> {
    let here = (PlanNumber(of.0), SpecimenNumber(of.1));
    let (plan, specimen) =
        times_now(book.history(), person).into_iter().find(|other| *other != here)?;
    let since = book.history().sitting(plan, specimen)?.since;
    Some(format!("specimen {specimen} of {plan} since {}", super::when(since)))
}

/// The line before the flame of one who times another specimen now.
pub(super) fn check(book: &OpenBook, person: &PersonName, of: (u32, u32)) -> Option<Check> {
    let elsewhere = elsewhere(book, person, of)?;
    let words = format!("you are timing {elsewhere}: two people under one name?");
    Some(Check::missing("Person", words, ("See your sign-ins", "/setup".to_owned())))
}
