//! Who may come in: accounts, one-use links, sessions.
//!
//! They stand in a small file beside the record and not in it: a password's hash must be able to
//! go. Of secrets only hashes are kept.

mod account;
mod authority;
mod common;
mod kept;
mod log;
mod pass;
mod password;
mod proof;
mod rate;
mod second;
mod secret;
mod session;
mod wrong;

use std::net::IpAddr;
use std::sync::{Mutex, MutexGuard, PoisonError};

use acquisition::Clock;
use axum::http::StatusCode;
use jiff::Timestamp;
use ledger::Book;
use tokio::sync::Semaphore;
use trial::number::PersonName;

use super::answer::Refused;
use crate::clock;
use crate::problem::Problem;

pub(in crate::web) use account::LinkState;
pub(in crate::web) use authority::Authority;
pub(in crate::web) use kept::put;
pub(in crate::web) use log::{Log, Who, Written};
pub(crate) use proof::agrees;
pub(in crate::web) use second::SecondFactor;
pub(in crate::web) use secret::{Secret, hash};
pub(in crate::web) use session::{REMEMBERED, Session, Standing};

use kept::Kept;
use rate::Rates;
use wrong::Wrong;

/// So many passwords are hashed at a time; each takes 46 MiB (R54).
const HASHES_AT_ONCE: usize = 2;

/// Who may come in.
pub(in crate::web) struct Access {
    desk: Mutex<Desk>,
    log: Log,
    hashing: Semaphore,
    rates: Mutex<Rates>,
    clock: Clock,
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
        Ok(Self {
            desk,
            log: Log::of(folder),
            hashing: Semaphore::new(HASHES_AT_ONCE),
            rates: Mutex::default(),
            clock: clock::running(),
        })
    }

    /// The security log.
    pub(in crate::web) const fn log(&self) -> &Log {
        &self.log
    }

    /// The person whose name, password and, where they have a second factor, code these are.
    ///
    /// # Errors
    ///
    /// [`Refused`] for a wrong name or password, and where there were too many of them.
    pub(in crate::web) async fn sign_in(
        &self,
        name: &str,
        (password, code): (String, &str),
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
        self.take_second(&person, code, now).map_err(|problem| {
            self.log.refusal(Who { name, from }, "no right code of the second factor", now);
            Refused::with(problem, StatusCode::UNAUTHORIZED)
        })?;
        self.desk().wrong.forget(name);
        self.log.note(Who { name: &person.0, from }, "signed in", now)?;
        Ok(person)
    }

    /// What is kept of a new password of one with these names.
    ///
    /// # Errors
    ///
    /// [`Problem`] where it is too short or too long, or one of those that are tried first.
    pub(in crate::web) async fn hashed(
        &self,
        password: String,
        names: &[&str],
    ) -> Result<String, Problem> {
        password::fit(&password, names)?;
        self.hashing(move || password::hashed(&password)).await?
    }

    async fn hashing<T: Send + 'static>(
        &self,
        work: impl FnOnce() -> T + Send + 'static,
    ) -> Result<T, Problem> {
        let fault = || Problem::surroundings("a fault of this program");
        let _turn = self.hashing.acquire().await.map_err(|_| fault())?;
        tokio::task::spawn_blocking(work).await.map_err(|_| fault())
    }

    /// Whether one more request of this session is answered now.
    pub(super) fn takes(&self, session: &str) -> bool {
        let now_s = self.clock.now().seconds();
        let mut rates = self.rates.lock().unwrap_or_else(PoisonError::into_inner);
        rates.take(session, now_s)
    }

    fn desk(&self) -> MutexGuard<'_, Desk> {
        let mut desk = self.desk.lock().unwrap_or_else(PoisonError::into_inner);
        desk.kept.look_again();
        desk
    }
}
