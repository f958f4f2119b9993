//! Reading a record ahead: while the facts of some entries are followed, a second thread holds the
//! next ones against their hashes and reads what they say.

use std::sync::mpsc;
use std::thread;

use trial::fact::Recorded;

use crate::chain::Stored;
use crate::error::LedgerError;
use crate::hash::TreeHash;
use crate::store::StoreError;
use crate::walk::recorded;

/// So many entries go to the other thread at a time, or fewer with this many bytes of bodies.
const ENTRIES: usize = 512;
const BYTES: usize = 4 << 20;

/// So many such batches are under way at a time.
const UNDER_WAY: usize = 3;

/// Some facts in their order, each with its entry's leaf in the tree, and the fault at which they
/// end, where they do.
type Facts = (Vec<(Recorded, TreeHash)>, Option<LedgerError>);

/// Lets `follow` have each fact of a record in order, with its entry's leaf in the tree; each entry
/// is held against its hash and the one before it.
///
/// # Errors
///
/// The first fault, of the record or of `follow`.
pub(crate) fn each_fact(
    walk: impl Iterator<Item = Result<Stored, StoreError>>,
    mut follow: impl FnMut(Recorded, TreeHash) -> Result<(), LedgerError>,
) -> Result<(), LedgerError> {
    let mut walk = walk.peekable();
    thread::scope(|scope| {
        let (hand_out, taken) = mpsc::channel::<Vec<Stored>>();
        let (give_back, read) = mpsc::channel::<Facts>();
        scope.spawn(move || {
            let mut before = None;
            for batch in taken {
                let facts = facts(batch, &mut before);
                let ends = facts.1.is_some();
                if give_back.send(facts).is_err() || ends {
                    return;
                }
            }
        });
        let mut under_way = 0;
        loop {
            while under_way < UNDER_WAY && walk.peek().is_some_and(Result::is_ok) {
                // A thread that has ended has told why, and that comes below.
                drop(hand_out.send(batch(&mut walk)));
                under_way += 1;
            }
            let Some((facts, fault)) = (under_way > 0).then(|| read.recv().ok()).flatten() else {
                break;
            };
            under_way -= 1;
            facts.into_iter().try_for_each(|(fact, leaf)| follow(fact, leaf))?;
            fault.map_or(Ok(()), Err)?;
        }
        match walk.next() {
            Some(Err(cause)) => Err(cause.into()),
            Some(Ok(_)) | None => Ok(()),
        }
    })
}

/// The next entries that can be read, one at least.
fn batch(
    walk: &mut std::iter::Peekable<impl Iterator<Item = Result<Stored, StoreError>>>,
) -> Vec<Stored> {
    let (mut batch, mut bytes) = (Vec::new(), 0);
    while batch.len() < ENTRIES && bytes < BYTES {
        let Some(Ok(stored)) = walk.next_if(Result::is_ok) else { break };
        bytes += stored.entry.body.len();
        batch.push(stored);
    }
    batch
}

/// What the entries say, up to the first fault.
fn facts(batch: Vec<Stored>, before: &mut Option<Stored>) -> Facts {
    let mut facts = Vec::with_capacity(batch.len());
    for stored in batch {
        match fact(&stored, before.as_ref()) {
            Ok(fact) => facts.push((fact, stored.leaf())),
            Err(fault) => return (facts, Some(fault)),
        }
        *before = Some(stored);
    }
    (facts, None)
}

fn fact(stored: &Stored, before: Option<&Stored>) -> Result<Recorded, LedgerError> {
    stored.check()?;
    stored.entry.follows(before)?;
    recorded(stored)
}
