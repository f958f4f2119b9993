//! The book's key and its signed heads. Nothing waits for a key: without one a report prints its
//! head all the same, and it is said that nobody signed it.

use ledger::heads::KeptHead;
use ledger::key::{BookKeys, Earlier, begun};
use ledger::note::{Note, PublicKey, SecretKey};
use trial::fact::{BookKey, Fact, IssuedReport};

use crate::book::{OpenBook, from_ledger};
use crate::output::Output;
use crate::problem::Problem;

/// The keys that the record tells of; `None` for a book without entries.
pub(crate) fn keys(book: &OpenBook) -> Result<Option<BookKeys>, Problem> {
    let name = book.book().origin().map_err(|error| from_ledger(&error))?;
    let Some(mut keys) = name.map(BookKeys::of) else { return Ok(None) };
    for recorded in book.history().entries() {
        if let Fact::KeyBegun(key) = &recorded.fact {
            keys.follow(recorded.entry.0, key).map_err(|why| {
                Problem::surroundings(format!("entry {} is broken: {why}", recorded.entry))
                    .hint("Run `cinderbook verify` on the book.")
            })?;
        }
    }
    Ok(Some(keys))
}

/// Begins the first key of a book that has none.
pub(crate) fn begin(book: &mut OpenBook, output: &Output) -> Result<(), Problem> {
    let Some(keys) = keys(book)? else { return Ok(()) };
    if keys.current().is_some() {
        return Ok(());
    }
    let found = book.book().key(None).map_err(|error| from_ledger(&error))?;
    let key = match found.filter(|key| key.public().name() == keys.name()) {
        Some(key) => key,
        None => made(book, keys.name())?,
    };
    let key = book.book().keep_key(key).map_err(|error| from_ledger(&error))?;
    match book.keep(&Fact::KeyBegun(Box::new(begun(&key, None, ""))), output) {
        // Another program came before with the same key.
        Err(_) if has_key(book) => Ok(()),
        kept => kept.map(|_| ()),
    }
}

/// Whether the record names a key.
fn has_key(book: &OpenBook) -> bool {
    keys(book).ok().flatten().is_some_and(|keys| keys.current().is_some())
}

/// Whether a key may begin now: another program may have begun one since it was made.
pub(crate) fn may_begin(book: &OpenBook, begun: &BookKey) -> Result<(), Problem> {
    let current = keys(book)?.and_then(|keys| keys.current().map(PublicKey::bytes));
    if begun.in_place_of.map(|earlier| earlier.0) == current {
        return Ok(());
    }
    Err(Problem::conflict("another key of the book began meanwhile")
        .hint("Look at it with `key show`, and renew that one if need be."))
}

/// As [`begin`], beside work that does not wait for it: what stands in the way is said.
pub(crate) fn begin_aside(book: &mut OpenBook, output: &Output) {
    if let Err(problem) = begin(book, output) {
        output.word(&format!("The book has no key yet: {}.", problem.text));
    }
}

/// Lets a new key take the place of the book's: signed by both, or, where the earlier one is
/// lost, by the new one alone. Gives the new one's public half.
pub(crate) fn renew(
    book: &mut OpenBook,
    reason: &str,
    lost: Lost,
    output: &Output,
) -> Result<String, Problem> {
    let none = || {
        Problem::used_wrongly("the book has no key yet")
            .hint("One begins by itself with the first report or with `record head`.")
    };
    let keys = keys(book)?.ok_or_else(none)?;
    let current = keys.current().ok_or_else(none)?;
    let at_hand = book.book().key(Some(current)).map_err(|error| from_ledger(&error));
    let earlier = match lost {
        Lost::No => Some(at_hand?.ok_or_else(|| {
            Problem::used_wrongly(format!("the key {current} is not in the book's folder"))
                .hint("Put its file back from a copy, or say `--lost` and why.")
        })?),
        Lost::Yes => None,
    };
    let key = made(book, keys.name())?;
    book.book().keep_next_key(&key).map_err(|error| from_ledger(&error))?;
    let earlier = earlier.as_ref().map_or(Earlier::Lost(current), Earlier::AtHand);
    book.keep(&Fact::KeyBegun(Box::new(begun(&key, Some(earlier), reason))), output)?;
    // Now it is the one that the record names, and takes the other's place.
    book.book().key(Some(key.public())).map_err(|error| from_ledger(&error))?;
    Ok(key.public().to_string())
}

/// Whether the earlier key is lost.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Lost {
    /// It is not, and signs.
    No,
    /// It is.
    Yes,
}

/// A new key. That of a story is no secret: the story gives the same bytes on every machine.
fn made(book: &OpenBook, name: &str) -> Result<SecretKey, Problem> {
    let mut seed = [0x5e; 32];
    if !book.is_story() {
        getrandom::fill(&mut seed).map_err(|error| {
            Problem::surroundings("this machine gives no random numbers").because(&error)
        })?;
    }
    SecretKey::of(name, &seed)
        .ok_or_else(|| Problem::surroundings("the key has no name: this is a bug of ours"))
}

/// Signs the head as it is now, and keeps it; `None` where the book has no key, or its key is not
/// in its folder.
pub(crate) fn sign(book: &OpenBook) -> Result<Option<KeptHead>, Problem> {
    let Some(keys) = keys(book)? else { return Ok(None) };
    let Some(current) = keys.current() else { return Ok(None) };
    let key = book.book().key(Some(current)).map_err(|error| from_ledger(&error))?;
    let Some(key) = key else { return Ok(None) };
    book.book().sign_head(&key).map(Some).map_err(|error| from_ledger(&error))
}

/// As [`sign`], beside work that does not wait for it: what stands in the way is said.
pub(crate) fn sign_aside(book: &OpenBook, output: &Output) {
    match sign(book) {
        Ok(Some(_)) => {}
        Ok(None) => {
            if has_key(book) {
                output.word(
                    "The head of the record is not signed: the book's key is not in its folder. Put \
                     it back, or begin another with `key renew --lost`.",
                );
            }
        }
        Err(problem) => {
            output.word(&format!("The head of the record is not signed: {}.", problem.text));
        }
    }
}

/// The head that a report prints: number of entries and hash. Where that head was not signed, the
/// number and hash of the last entry, which stand for the same.
pub(crate) fn printed(book: &OpenBook, issued: &IssuedReport) -> String {
    let (last, hash) = &issued.head;
    let kept = book.book().signed_head(last.0).ok().flatten();
    let head = kept.and_then(|kept| Some(Note::read(&kept.note).ok()?.head().ok()?.1.to_string()));
    head.unwrap_or_else(|| format!("{last} {hash}"))
}

/// Signs the head if entries of an earlier day are not covered by a signed one yet.
pub(crate) fn sign_daily(book: &OpenBook, output: &Output) -> Result<(), Problem> {
    let today = book.now()?.day();
    let entries = book.history().entries();
    let before = entries.partition_point(|recorded| recorded.at.day() < today);
    let signed = book.book().signed_sizes().map_err(|error| from_ledger(&error))?;
    if before > 0 && signed.last().copied().unwrap_or_default() < before as u64 {
        sign_aside(book, output);
    }
    Ok(())
}
