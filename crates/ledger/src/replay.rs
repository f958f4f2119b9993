//! Replaying a record with the rules of its day, and reaching its verdicts again.

use std::error::Error;

use trial::fact::{Fact, Recorded};
use trial::history::{History, HistoryError};
use trial::rules::{Library, RulesError, RulesUsed};

use crate::blob::Blobs;
use crate::error::LedgerError;
use crate::hash::{BlobHash, sha256};
use crate::signed::content;
use crate::verify::Fault;

/// A history that grows entry by entry, with the rules that each plan used.
pub(crate) struct Replay<'a> {
    pub(crate) history: History,
    library: Library,
    blobs: &'a Blobs,
}

impl<'a> Replay<'a> {
    /// Begins with the built-in rules.
    pub(crate) fn begin(blobs: &'a Blobs) -> Result<Self, LedgerError> {
        Ok(Self { history: History::default(), library: library()?, blobs })
    }

    /// Lets one more entry follow.
    pub(crate) fn follow(&mut self, next: Recorded) -> Result<(), LedgerError> {
        if let Fact::PlanDrawnUp { rules, .. } = &next.fact {
            for used in rules {
                self.fetch(used)?;
            }
        }
        Ok(self.history.follow(&self.library, next)?)
    }

    /// Puts the rules of an older plan beside the built-in ones.
    fn fetch(&mut self, used: &RulesUsed) -> Result<(), LedgerError> {
        if self.library.rules(used).is_some() {
            return Ok(());
        }
        let bytes = self.blobs.read(BlobHash(used.hash.0))?;
        let text = String::from_utf8_lossy(&bytes);
        self.library.add(&used.id.to_string(), &text, used.hash)?;
        Ok(())
    }
}

/// The built-in rules, under the hashes by which they are filed as evidence.
///
/// # Errors
///
/// [`RulesError`] if a built-in file is unsound, which its own test rules out.
pub fn library() -> Result<Library, RulesError> {
    Library::built_in(sha256)
}

/// What came of judging again.
pub(crate) struct Rejudged {
    /// How many verdicts were reached again.
    pub(crate) reached: usize,
    /// Where something else came out.
    pub(crate) faults: Vec<Fault>,
}

/// Replays the facts and reaches each verdict again from what was known then.
pub(crate) fn judge_again(facts: Vec<Recorded>, blobs: &Blobs) -> Rejudged {
    let mut rejudged = Rejudged { reached: 0, faults: Vec::new() };
    let untold = |why: LedgerError| Fault::History { why: causes(&why) };
    let mut replay = match Replay::begin(blobs) {
        Ok(replay) => replay,
        Err(why) => {
            rejudged.faults.push(untold(why));
            return rejudged;
        }
    };
    for recorded in facts {
        let number = recorded.entry.0;
        rejudged.faults.extend(unlike(&replay.history, &recorded));
        let reached = if let Fact::VerdictReached { plan, account, .. } = &recorded.fact {
            Some((*plan, account.clone()))
        } else {
            None
        };
        if let Err(why) = replay.follow(recorded) {
            rejudged.faults.push(untold(why));
            return rejudged;
        }
        let Some((plan, account)) = reached else { continue };
        rejudged.reached += 1;
        let again = replay.history.judge(plan).map(|verdict| verdict.account()).unwrap_or_default();
        if again != account {
            let difference = difference(&account, &again);
            rejudged.faults.push(Fault::Verdict { number, difference });
        }
    }
    rejudged
}

/// A signature that is not of the content that stood there when it was given.
fn unlike(history: &History, recorded: &Recorded) -> Option<Fault> {
    let Fact::Signed(signature) = &recorded.fact else { return None };
    let there = content(history, signature.what).map(|content| content.hash);
    let what = signature.what.to_string();
    (there != Some(signature.content))
        .then_some(Fault::Signature { number: recorded.entry.0, what })
}

/// An error with its causes, the outermost first.
fn causes(error: &dyn Error) -> String {
    error.source().map_or(error.to_string(), |cause| format!("{error}: {}", causes(cause)))
}

/// The first line in which two accounts differ.
fn difference(recorded: &str, again: &str) -> String {
    let mut again = again.lines();
    for line in recorded.lines() {
        match again.next() {
            Some(other) if other == line => {}
            Some(other) => return format!("recorded is `{line}`, and now it is `{other}`"),
            None => return format!("recorded is `{line}`, and now there is nothing"),
        }
    }
    format!("now there is also `{}`", again.next().unwrap_or_default())
}

impl From<HistoryError> for LedgerError {
    fn from(cause: HistoryError) -> Self {
        Self::History(Box::new(cause))
    }
}

impl From<RulesError> for LedgerError {
    fn from(cause: RulesError) -> Self {
        Self::Rules(Box::new(cause))
    }
}
