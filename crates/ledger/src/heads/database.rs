//! The key of a book on a database: a note there, which every machine of the book reads. The machine
//! that began a key has it as a file too, to keep a copy of.
//!
//! The note holds a key a line, in the order in which they were made. The record alone says which of
//! them signs; those made before it are dropped once it is asked for.

use std::path::Path;

use super::read_key as read_file;
use crate::error::LedgerError;
use crate::note::{PublicKey, SecretKey};
use crate::store::StoreError;
use crate::store::postgres::Notes;

/// The name of the note.
const KEY: &str = "key";

/// As [`super::read_key`]. A key that lies in this machine's folder alone is put into the database:
/// it was put back there from a copy.
pub(super) fn read_key(
    notes: &Notes,
    folder: &Path,
    current: Option<&PublicKey>,
) -> Result<Option<SecretKey>, LedgerError> {
    let kept = keys(notes.newer(KEY, 0)?.and_then(|note| note.bytes).as_deref())?;
    let is_current = |key: &SecretKey| current.is_none_or(|current| key.public() == current);
    if let Some(place) = kept.iter().position(is_current) {
        if let (Some(current), 1..) = (current, place) {
            drop_before(notes, current)?;
        }
        // Its file, where this machine began it, takes the place of the one before it.
        drop(read_file(folder, current));
        return Ok(kept.into_iter().nth(place));
    }
    let found = read_file(folder, current)?;
    if let (Some(_), Some(key)) = (current, &found) {
        keep_next_key(notes, key)?;
    }
    Ok(found)
}

/// Keeps the first key, unless there is one of this book, which is given then.
pub(super) fn keep_key(notes: &Notes, key: SecretKey) -> Result<SecretKey, LedgerError> {
    let of_book = |it: &SecretKey| it.public().name() == key.public().name();
    let note = notes.change(KEY, |before| {
        let mut kept = keys(before)?;
        if !kept.iter().any(of_book) {
            kept.push(key.clone());
        }
        Ok::<_, LedgerError>(text(&kept))
    })?;
    Ok(keys(note.bytes.as_deref())?.into_iter().find(of_book).unwrap_or(key))
}

/// Keeps one more key, the last.
pub(super) fn keep_next_key(notes: &Notes, key: &SecretKey) -> Result<(), LedgerError> {
    notes.change(KEY, |before| {
        let mut kept = keys(before)?;
        kept.push(key.clone());
        Ok::<_, LedgerError>(text(&kept))
    })?;
    Ok(())
}

/// Drops the keys that were made before the one that signs: none of them ever will again.
fn drop_before(notes: &Notes, current: &PublicKey) -> Result<(), LedgerError> {
    notes.change(KEY, |before| {
        let kept = keys(before)?;
        let place = kept.iter().position(|key| key.public() == current).unwrap_or_default();
        Ok::<_, LedgerError>(text(kept.get(place..).unwrap_or_default()))
    })?;
    Ok(())
}

/// The keys that the note holds; none where there is no note.
fn keys(note: Option<&[u8]>) -> Result<Vec<SecretKey>, LedgerError> {
    let text = String::from_utf8_lossy(note.unwrap_or_default());
    let keys = text.lines().map(SecretKey::read).collect::<Option<Vec<_>>>();
    let none = || StoreError::Damaged { what: "the note that holds the key holds none".to_owned() };
    Ok(keys.ok_or_else(none)?)
}

fn text(keys: &[SecretKey]) -> Vec<u8> {
    keys.iter().map(|key| key.to_text() + "\n").collect::<String>().into_bytes()
}
