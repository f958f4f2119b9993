//! Going through a record in order, a few entries at a time.

use trial::fact::Recorded;
use trial::moment::Moment;
use trial::number::{EntryNumber, PersonName};

use crate::chain::Stored;
use crate::entry;
use crate::error::LedgerError;
use crate::store::{Store, StoreError};

/// How many entries are held in memory at a time.
const BATCH: usize = 16;

/// The entries of a store in order, as they are there: not checked.
pub(crate) struct Walk<'a> {
    store: &'a dyn Store,
    batch: std::vec::IntoIter<Stored>,
    reached: Option<u64>,
}

impl<'a> Walk<'a> {
    pub(crate) fn of(store: &'a dyn Store) -> Self {
        Self { store, batch: Vec::new().into_iter(), reached: Some(0) }
    }

    /// The same entries, each held against its hash and the entry before it, up to the first
    /// fault.
    pub(crate) fn checked(self) -> impl Iterator<Item = Result<Stored, LedgerError>> + 'a {
        let mut before: Option<Stored> = None;
        let mut broken = false;
        self.map(move |stored| {
            let stored = stored?;
            stored.check()?;
            stored.entry.follows(before.as_ref())?;
            before = Some(stored.clone());
            Ok(stored)
        })
        .take_while(move |stored| !std::mem::replace(&mut broken, stored.is_err()))
    }
}

impl Iterator for Walk<'_> {
    type Item = Result<Stored, StoreError>;

    fn next(&mut self) -> Option<Self::Item> {
        let reached = self.reached.take()?;
        let next = match self.batch.next() {
            Some(stored) => stored,
            // If one of several cannot be read, those before it still can.
            None => {
                match self.store.after(reached, BATCH).or_else(|_| self.store.after(reached, 1)) {
                    Ok(batch) => self.batch = batch.into_iter(),
                    Err(cause) => return Some(Err(cause)),
                }
                self.batch.next()?
            }
        };
        // A damaged file can give a number anew, and would be gone through without an end.
        let number = next.entry.number;
        if number <= reached {
            let what = format!("entry {number} stands behind entry {reached}");
            return Some(Err(StoreError::Damaged { what }));
        }
        self.reached = Some(number);
        Some(Ok(next))
    }
}

/// An entry as a fact.
pub(crate) fn recorded(stored: &Stored) -> Result<Recorded, LedgerError> {
    let entry = &stored.entry;
    let unreadable = |why: String| LedgerError::Unreadable { number: entry.number, why };
    let fact = entry::read(&entry.kind, entry.form, &entry.body)
        .map_err(|why| unreadable(why.to_string()))?;
    let named: Vec<_> = entry::evidence(&fact).iter().map(|hash| hash.0).collect();
    if named != entry.evidence.iter().map(|blob| blob.0).collect::<Vec<_>>() {
        return Err(unreadable("it names other evidence than its body does".to_owned()));
    }
    let at = Moment::from_unix_microseconds(entry.at.microseconds())
        .map_err(|why| unreadable(why.to_string()))?;
    Ok(Recorded { entry: EntryNumber(entry.number), at, who: PersonName(entry.who.clone()), fact })
}
