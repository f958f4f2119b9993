//! One line to the database, made again where it was lost.
//!
//! The ledger waits for its answers; the library does not. Each question is therefore put on a
//! thread of its own, so that it may also be asked where others must not wait.

#![expect(clippy::disallowed_methods, reason = "patience is measured")]

use std::error::Error as _;
use std::io;
use std::panic::resume_unwind;
use std::thread;
use std::time::{Duration, Instant};

use tokio::runtime::{Builder, Runtime};
use tokio::time::timeout;
use tokio_postgres::error::SqlState;
use tokio_postgres::{Client, Config, Error, NoTls, Statement};

use super::address::{Address, cause};
use super::{schema, tls};
use crate::store::StoreError;

/// An answer comes within this, or the line is lost. Longer than the database's own limit.
const ANSWERED_WITHIN: Duration = Duration::from_secs(20);

/// Between two tries.
const PAUSE: Duration = Duration::from_millis(50);

/// A line, and how long it is tried to make it again.
pub(super) struct Line {
    address: Address,
    runtime: Option<Runtime>,
    connected: Option<Connected>,
    patience: Duration,
}

/// A line that is up, with what is asked often.
pub(super) struct Connected {
    pub(super) client: Client,
    pub(super) append: Statement,
    pub(super) last: Statement,
    pub(super) after: Statement,
}

/// Why there is no answer.
#[derive(Debug)]
pub(super) enum Trouble {
    /// The question was not put.
    NotAsked(String),
    /// The question was put, and what came of it is not known.
    Unknown(String),
    /// The database says no.
    Refused(Error),
    /// The record is not as it was made, or a setting is wrong.
    Unfit(StoreError),
}

impl From<Trouble> for StoreError {
    fn from(trouble: Trouble) -> Self {
        match trouble {
            Trouble::NotAsked(why) | Trouble::Unknown(why) => Self::Away { why },
            Trouble::Refused(error) => error.into(),
            Trouble::Unfit(why) => why,
        }
    }
}

/// So long is it tried.
pub(super) struct Patience(Instant, Duration);

impl Patience {
    /// Whether there is some left; then a moment has passed.
    pub(super) fn is_left(&self) -> bool {
        if self.0.elapsed() >= self.1 {
            return false;
        }
        thread::sleep(PAUSE);
        true
    }
}

impl Line {
    /// A line that is made when it is first needed.
    pub(super) fn to(address: Address, patience: Duration) -> Result<Self, StoreError> {
        let runtime = Builder::new_current_thread().enable_all().build()?;
        Ok(Self { address, runtime: Some(runtime), connected: None, patience })
    }

    /// How long it may be tried from now on.
    pub(super) fn patience(&self) -> Patience {
        Patience(Instant::now(), self.patience)
    }

    /// Asks until there is an answer, as long as there is patience. Only for what may be asked
    /// twice.
    pub(super) fn ask<T: Send>(
        &mut self,
        question: impl AsyncFn(&Connected) -> Result<T, Error> + Send + Sync,
    ) -> Result<T, StoreError> {
        let patience = self.patience();
        loop {
            match self.once(&question) {
                Ok(answer) => return Ok(answer),
                Err(Trouble::NotAsked(_) | Trouble::Unknown(_)) if patience.is_left() => {}
                Err(trouble) => return Err(trouble.into()),
            }
        }
    }

    /// Asks once.
    pub(super) fn once<T: Send>(
        &mut self,
        question: &(impl AsyncFn(&Connected) -> Result<T, Error> + Send + Sync),
    ) -> Result<T, Trouble> {
        let Self { address, runtime, connected, .. } = self;
        let Some(runtime) = runtime else { return Err(Trouble::NotAsked(String::new())) };
        let runtime = &*runtime;
        aside(move || {
            runtime.block_on(async {
                let there = match connected.take().filter(|there| !there.client.is_closed()) {
                    Some(there) => there,
                    None => connect(address).await?,
                };
                let answer = timeout(ANSWERED_WITHIN, question(&there)).await;
                match answer {
                    Err(_) => Err(Trouble::Unknown("it does not answer".to_owned())),
                    Ok(Err(error)) if is_lost(&error) => Err(Trouble::Unknown(cause(&error))),
                    Ok(Err(error)) => {
                        *connected = Some(there);
                        Err(Trouble::Refused(error))
                    }
                    Ok(Ok(answer)) => {
                        *connected = Some(there);
                        Ok(answer)
                    }
                }
            })
        })
    }

    /// Says several statements at once, in one transaction where they say so.
    pub(super) fn say(&mut self, statements: &str) -> Result<(), StoreError> {
        let Self { address, runtime, .. } = self;
        let Some(runtime) = runtime else { return Ok(()) };
        let runtime = &*runtime;
        aside(move || {
            runtime.block_on(async {
                let client = plain(address).await?;
                client.batch_execute(statements).await.map_err(Trouble::Refused)
            })
        })
        .map_err(StoreError::from)
    }
}

impl Drop for Line {
    fn drop(&mut self) {
        self.connected = None;
        if let Some(runtime) = self.runtime.take() {
            // The place where this is dropped may be one that must not wait.
            runtime.shutdown_background();
        }
    }
}

/// Does something on a thread of its own, and waits for it.
fn aside<T: Send>(work: impl FnOnce() -> T + Send) -> T {
    thread::scope(|scope| {
        let done = scope.spawn(work).join();
        done.unwrap_or_else(|bug| resume_unwind(bug))
    })
}

/// A line, with nothing said on it yet.
async fn plain(address: &Address) -> Result<Client, Trouble> {
    let not_asked = |error: Error| {
        if error.as_db_error().is_some() && !is_lost(&error) {
            return Trouble::Refused(error);
        }
        match tls::untrusted(&error) {
            Some(why) => Trouble::Unfit(StoreError::Untrusted { why }),
            None => Trouble::NotAsked(cause(&error)),
        }
    };
    let config: &Config = &address.config;
    match &address.enciphered {
        None => {
            let (client, line) = config.connect(NoTls).await.map_err(not_asked)?;
            tokio::spawn(line);
            Ok(client)
        }
        Some(enciphered) => {
            let (client, line) = config.connect(enciphered.clone()).await.map_err(not_asked)?;
            tokio::spawn(line);
            Ok(client)
        }
    }
}

/// A line on which the record was found as it was made, and the settings right.
async fn connect(address: &Address) -> Result<Connected, Trouble> {
    let client = plain(address).await?;
    let lost = |error: Error| {
        if is_lost(&error) { Trouble::NotAsked(cause(&error)) } else { Trouble::Refused(error) }
    };
    schema::settle(&client).await.map_err(lost)?.map_err(Trouble::Unfit)?;
    schema::check(&client).await.map_err(lost)?.map_err(Trouble::Unfit)?;
    let prepare = async |statement| client.prepare(statement).await.map_err(lost);
    let append = prepare(schema::APPEND).await?;
    let last = prepare(schema::LAST).await?;
    let after = prepare(schema::AFTER).await?;
    Ok(Connected { client, append, last, after })
}

/// Whether this is the end of a line rather than a refusal: it broke, or the database is being
/// stopped, started or made to let go of us.
fn is_lost(error: &Error) -> bool {
    let ending = [
        SqlState::ADMIN_SHUTDOWN,
        SqlState::CRASH_SHUTDOWN,
        SqlState::CANNOT_CONNECT_NOW,
        SqlState::IDLE_SESSION_TIMEOUT,
        SqlState::TOO_MANY_CONNECTIONS,
    ];
    match error.code() {
        Some(code) => ending.contains(code) || code.code().starts_with("08"),
        None => error.is_closed() || error.source().is_some_and(|below| below.is::<io::Error>()),
    }
}
