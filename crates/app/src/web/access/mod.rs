//! Who may come in: accounts, one-use links, sessions.
//!
//! They stand in a small file beside the record and not in it: a password's hash must be able to
//! go. Of secrets only hashes are kept.

mod account;
mod authority;
mod kept;
mod log;
mod password;
mod secret;
mod session;
mod wrong;

use std::net::IpAddr;
use std::sync::{Mutex, MutexGuard, PoisonError};

use axum::http::StatusCode;
use jiff::Timestamp;
use ledger::Book;
use tokio::sync::Semaphore;
use trial::number::PersonName;

use super::answer::Refused;
use crate::problem::Problem;

pub(in crate::web) use account::LinkState;
pub(in crate::web) use authority::Authority;
pub(in crate::web) use kept::put;
pub(in crate::web) use log::{Log, Who};
pub(in crate::web) use secret::{Secret, hash};
pub(in crate::web) use session::{REMEMBERED, Session, Standing};

use kept::Kept;
use wrong::Wrong;

/// So many passwords are hashed at a time; each takes 46 MiB (R54).
const HASHES_AT_ONCE: usize = 2;

/// Who may come in.
pub(in crate::web) struct Access {
    desk: Mutex<Desk>,
    log: Log,
    hashing: Semaphore,
}

/// What is known of people who come in.
struct Desk {
    kept: Kept,
    wrong: Wrong,
}

impl Access {
    /// The accounts of a book.
    ///
    /// # Errors
    ///
    /// [`Problem`] where their file cannot be read.
    pub(in crate::web) fn open(book: &Book) -> Result<Self, Problem> {
        let folder = book.folder();
        let kept = Kept::open(book)?;
        let desk = Mutex::new(Desk { kept, wrong: Wrong::default() });
        Ok(Self { desk, log: Log::of(folder), hashing: Semaphore::new(HASHES_AT_ONCE) })
    }

    /// The security log.
    pub(in crate::web) const fn log(&self) -> &Log {
        &self.log
    }

    /// The person whose name and password these are.
    ///
    /// # Errors
    ///
    /// [`Refused`] for a wrong name or password, and where there were too many of them.
    pub(in crate::web) async fn sign_in(
        &self,
        name: &str,
        password: String,
        (from, now): (IpAddr, Timestamp),
    ) -> Result<PersonName, Refused> {
        let turn = self.desk().wrong.take_turn(name, from, now);
        turn.map_err(|problem| Refused::with(problem, StatusCode::TOO_MANY_REQUESTS))?;
        let (person, hash) = self.desk().kept.account(name).unzip();
        let good = self.hashing(move || password::agrees(&password, hash.as_deref())).await?;
        let person = person.filter(|_| good).ok_or_else(|| {
            self.log.refusal(Who { name, from }, "a wrong name or password", now);
            let problem = Problem::used_wrongly("the name and the password do not belong together")
                .hint("Check both. For a forgotten password ask for a link at Set up.");
            Refused::with(problem, StatusCode::UNAUTHORIZED)
        })?;
        self.desk().wrong.forget(name);
        self.log.note(Who { name: &person.0, from }, "signed in", now)?;
        Ok(person)
    }

    /// What is kept of a new password.
    ///
    /// # Errors
    ///
    /// [`Problem`] where it is too short or too long.
    pub(in crate::web) async fn hashed(&self, password: String) -> Result<String, Problem> {
        password::fit(&password)?;
        self.hashing(move || password::hashed(&password)).await?
    }

    async fn hashing<T: Send + 'static>(
        &self,
        work: impl FnOnce() -> T + Send + 'static,
    ) -> Result<T, Problem> {
        let fault = |error: &dyn std::error::Error| {
            Problem::surroundings("a fault of this program").because(error)
        };
        let _turn = self.hashing.acquire().await.map_err(|error| fault(&error))?;
        tokio::task::spawn_blocking(work).await.map_err(|error| fault(&error))
    }

    fn desk(&self) -> MutexGuard<'_, Desk> {
        let mut desk = self.desk.lock().unwrap_or_else(PoisonError::into_inner);
        desk.kept.look_again();
        desk
    }
}
