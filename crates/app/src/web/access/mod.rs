//! Who may come in: accounts, one-use links, sessions.
//!
//! They stand in a small file beside the record and not in it: a password's hash must be able to
//! go. Of secrets only hashes are kept.

mod account;
mod authority;
mod challenge;
mod common;
mod device;
mod kept;
mod log;
mod pass;
mod password;
mod proof;
mod rate;
mod second;
mod secret;
mod session;
mod signing;
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
pub(in crate::web) use challenge::HOLDS_SECONDS;
pub(in crate::web) use device::{BenchDevices, Device, Known, Promise, Showing};
pub(in crate::web) use kept::put;
pub(in crate::web) use log::{Log, Who, Written};
pub(crate) use proof::agrees;
pub(in crate::web) use second::SecondFactor;
pub(in crate::web) use secret::{Secret, hash};
pub(in crate::web) use session::{REMEMBERED, Session, Standing};

use challenge::Challenges;
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
    challenges: Challenges,
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
            challenges: Challenges::new()?,
            clock: clock::running(),
        })
    }

    /// The security log.
    pub(in crate::web) const fn log(&self) -> &Log {
        &self.log
    }

    /// The person whose name, password and, where they have a second factor, code these are; and the
    /// enrolled device that they are at.
    ///
    /// # Errors
    ///
    /// [`Refused`] for a wrong name or password, and where there were too many of them; where an enrolled
    /// device does not show that it is there.
    pub(in crate::web) async fn sign_in(
        &self,
        name: &str,
        (password, code, showing): (String, &str, &Showing),
        (from, now): (IpAddr, Timestamp),
    ) -> Result<(PersonName, Option<Known>), Refused> {
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
        let known = self.known(showing, name, now).map_err(|problem| {
            self.log.refusal(Who { name, from }, &problem.text, now);
            Refused::with(problem, StatusCode::UNAUTHORIZED)
        })?;
        self.desk().wrong.forget(name);
        let on = match &known {
            Some(known) => format!(" on {}", known.name),
            None if showing.key.is_empty() => String::new(),
            None => " on a device that is not enrolled, or no longer".to_owned(),
        };
        self.log.note(Who { name: &person.0, from }, &format!("signed in{on}"), now)?;
        Ok((person, known))
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

    /// A challenge for a browser at this address, and the word that it shows with it.
    ///
    /// # Errors
    ///
    /// [`Problem`] where this machine gives no random numbers.
    pub(in crate::web) fn challenge(
        &self,
        origin: &str,
        now: Timestamp,
    ) -> Result<(Secret, String), Problem> {
        self.challenges.make(origin, now)
    }

    fn desk(&self) -> MutexGuard<'_, Desk> {
        let mut desk = self.desk_as_it_is();
        desk.kept.look_again();
        desk
    }

    fn desk_as_it_is(&self) -> MutexGuard<'_, Desk> {
        self.desk.lock().unwrap_or_else(PoisonError::into_inner)
    }
}

#[cfg(test)]
mod tests {
    use std::sync::atomic::{AtomicUsize, Ordering};
    use std::sync::{Arc, Barrier};

    use super::*;

    fn access(folder: &std::path::Path) -> Access {
        Access {
            desk: Mutex::new(Desk { kept: Kept::default(), wrong: Wrong::default() }),
            log: Log::of(folder),
            hashing: Semaphore::new(HASHES_AT_ONCE),
            rates: Mutex::default(),
            challenges: Challenges::new().unwrap(),
            clock: clock::running(),
        }
    }

    #[tokio::test(flavor = "multi_thread", worker_threads = 4)]
    async fn of_eight_passwords_that_come_at_once_two_are_hashed_at_a_time() {
        let folder = tempfile::tempdir().unwrap();
        let access = Arc::new(access(folder.path()));
        let (at_work, most) = (Arc::new(AtomicUsize::new(0)), Arc::new(AtomicUsize::new(0)));
        // Each waits for another: with one at a time none would ever end.
        let two = Arc::new(Barrier::new(2));
        let mut all = tokio::task::JoinSet::new();
        for _ in 0..8 {
            let (access, at_work, most, two) =
                (Arc::clone(&access), Arc::clone(&at_work), Arc::clone(&most), Arc::clone(&two));
            all.spawn(async move {
                let hash = move || {
                    most.fetch_max(at_work.fetch_add(1, Ordering::SeqCst) + 1, Ordering::SeqCst);
                    two.wait();
                    let good = password::agrees("a long enough password", None);
                    at_work.fetch_sub(1, Ordering::SeqCst);
                    good
                };
                access.hashing(hash).await.unwrap()
            });
        }
        assert!(all.join_all().await.iter().all(|good| !good));
        assert_eq!(most.load(Ordering::SeqCst), 2);
    }

    #[tokio::test]
    async fn no_password_is_hashed_without_its_turn() {
        let folder = tempfile::tempdir().unwrap();
        let access = access(folder.path());
        access.hashing.close();
        let when = ("10.0.0.7".parse().unwrap(), "2026-11-25T12:00:00Z".parse().unwrap());
        let password = "three words and a lamp";
        let (person, showing) = (PersonName::from("Ana Ruiz"), Showing::default());
        let text = |refused: Refused| refused.problem().text.clone();
        let fault = "a fault of this program";
        let signed_in = access.sign_in(&person.0, (password.to_owned(), "", &showing), when).await;
        assert_eq!(signed_in.err().map(text).as_deref(), Some(fault));
        let proven = access.proves(&person, password.to_owned(), when).await;
        assert_eq!(proven.err().map(text).as_deref(), Some(fault));
        let chosen = access.hashed(password.to_owned(), &[]).await;
        assert_eq!(chosen.err().map(|it| it.text).as_deref(), Some(fault));
    }
}
