//! That a person is who signs: the password is asked again at each signature.

use std::net::IpAddr;

use axum::http::StatusCode;
use jiff::Timestamp;
use ledger::Book;
use trial::number::PersonName;

use super::kept::Kept;
use super::{Access, Who, password};
use crate::problem::Problem;
use crate::web::answer::Refused;

impl Access {
    /// Holds a password against the account of a person who is in.
    ///
    /// # Errors
    ///
    /// [`Refused`] for a wrong password, and where there were too many of them.
    pub(in crate::web) async fn proves(
        &self,
        person: &PersonName,
        password: String,
        (from, now): (IpAddr, Timestamp),
    ) -> Result<(), Refused> {
        let turn = self.desk().wrong.take_turn_of(&person.0, now);
        turn.map_err(|problem| Refused::with(problem, StatusCode::TOO_MANY_REQUESTS))?;
        let hash = self.desk().kept.account(&person.0).map(|(_, hash)| hash);
        let good = self.hashing(move || password::agrees(&password, hash.as_deref())).await?;
        if !good {
            let who = Who { name: &person.0, from };
            self.log.refusal(who, "a wrong password at a signature", now);
            let problem = Problem::used_wrongly("this is not your password")
                .hint("Nothing was signed. Type the password that you sign in with.");
            return Err(Refused::with(problem, StatusCode::UNPROCESSABLE_ENTITY));
        }
        self.desk().wrong.forget(&person.0);
        Ok(())
    }
}

/// Whether a password is the one of a person with an account in the book; none without
/// an account.
///
/// # Errors
///
/// [`Problem`] where the accounts cannot be read.
pub(crate) fn agrees(
    book: &Book,
    person: &PersonName,
    ask: impl FnOnce() -> Result<String, Problem>,
) -> Result<Option<bool>, Problem> {
    match Kept::open(book)?.account(&person.0) {
        None => Ok(None),
        Some((_, hash)) => Ok(Some(password::agrees(&ask()?, Some(&hash)))),
    }
}
