//! Small things beside the record that several programs change, such as who may come in. A note is
//! replaced as a whole; whoever changes it has seen it as it was.

use std::sync::{Mutex, MutexGuard, PoisonError};
use std::time::Duration;

use super::Address;
use super::line::{Connected, Line, Trouble};
use crate::store::StoreError;

/// So long a lost line is tried again. Pages wait for this.
const PATIENCE: Duration = Duration::from_secs(2);

/// Takes the turn to change notes, and gives it back. It only keeps changes from meeting: what is
/// written rests on the version.
const TURN: &str = "SELECT pg_advisory_lock(1130717035)"; // "CiBk"
const TURN_OVER: &str = "SELECT pg_advisory_unlock(1130717035)";

/// The notes of a book on a database.
pub struct Notes(Mutex<Line>);

/// A note, and how often it was changed.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Note {
    /// What it says; `None` for one that was never written.
    pub bytes: Option<Vec<u8>>,
    /// How often it was written.
    pub version: i64,
}

impl Notes {
    /// The notes of the book at this address.
    ///
    /// # Errors
    ///
    /// Where this machine gives no way to wait for answers.
    pub fn of(address: &Address) -> Result<Self, StoreError> {
        Ok(Self(Mutex::new(Line::to(address.clone(), PATIENCE)?)))
    }

    /// A note, if it was changed since it had this version.
    ///
    /// # Errors
    ///
    /// As the database says.
    pub fn newer(&self, name: &str, version: i64) -> Result<Option<Note>, StoreError> {
        newer(&mut self.line(), name, version)
    }

    /// Changes a note: `change` is told what it says and gives what it is to say, or refuses. One
    /// program at a time changes a note; should the line break meanwhile, so that another comes
    /// before, nothing is written.
    ///
    /// # Errors
    ///
    /// As `change` says, or the database.
    pub fn change<E: From<StoreError>>(
        &self,
        name: &str,
        change: impl FnOnce(Option<&[u8]>) -> Result<Vec<u8>, E>,
    ) -> Result<Note, E> {
        let mut line = self.line();
        line.ask(async |there| there.client.execute(TURN, &[]).await)?;
        let changed = self.changed(&mut line, name, change);
        // A line that broke has given its turn back.
        drop(line.once(&async |there: &Connected| there.client.execute(TURN_OVER, &[]).await));
        changed
    }

    fn changed<E: From<StoreError>>(
        &self,
        line: &mut Line,
        name: &str,
        change: impl FnOnce(Option<&[u8]>) -> Result<Vec<u8>, E>,
    ) -> Result<Note, E> {
        let before = newer(line, name, 0)?.unwrap_or_default();
        let bytes = change(before.bytes.as_deref())?;
        let note = Note { bytes: Some(bytes), version: before.version + 1 };
        match write(line, name, &note) {
            Ok(true) => Ok(note),
            Ok(false) => Err(StoreError::Overtaken.into()),
            // The answer was lost: whether it was written is seen when it is read again.
            Err(Trouble::Unknown(why)) => match newer(line, name, before.version)? {
                Some(found) if found == note => Ok(note),
                _ => Err(StoreError::Unsure { why }.into()),
            },
            Err(trouble) => Err(StoreError::from(trouble).into()),
        }
    }

    pub(super) fn line(&self) -> MutexGuard<'_, Line> {
        self.0.lock().unwrap_or_else(PoisonError::into_inner)
    }
}

fn newer(line: &mut Line, name: &str, version: i64) -> Result<Option<Note>, StoreError> {
    let question = "SELECT version, bytes FROM cinderbook.note WHERE name = $1 AND version > $2";
    let row = line.ask(async |there| there.client.query_opt(question, &[&name, &version]).await)?;
    let Some(row) = row else { return Ok(None) };
    Ok(Some(Note { version: row.try_get(0)?, bytes: Some(row.try_get(1)?) }))
}

/// Writes the next version of a note, if no other program has.
fn write(line: &mut Line, name: &str, note: &Note) -> Result<bool, Trouble> {
    let Note { bytes, version } = note;
    let statement = if *version == 1 {
        "INSERT INTO cinderbook.note (name, version, bytes) VALUES ($1, $2, $3)
            ON CONFLICT DO NOTHING"
    } else {
        "UPDATE cinderbook.note SET version = $2, bytes = $3 WHERE name = $1 AND version = $2::bigint - 1"
    };
    let written = line.once(&async |there: &Connected| {
        there.client.execute(statement, &[&name, version, bytes]).await
    })?;
    Ok(written == 1)
}
