//! All evidence read again, and what was found noted beside the record.

use std::collections::BTreeMap;
use std::path::Path;
use std::sync::Arc;

use ledger::blob::Blobs;
use ledger::hash::BlobHash;
use ledger::scrub::scrub as read_again;
use trial::moment::Moment;

use super::verify::Checked;
use crate::book::moment_now;
use crate::checked::{LastCheck, LastScrub};
use crate::problem::Problem;

/// Evidence is read again once it was not for so many days.
pub(crate) const EVERY_DAYS: i32 = 30;

/// Whether the evidence of the book in `folder` is to be read again.
pub(crate) fn is_due(folder: &Path, now: Moment) -> bool {
    let last = LastScrub::of(folder).and_then(|last| Moment::parse(&last.at).ok());
    last.is_none_or(|last| (now.day() - last.day()).get_days() >= EVERY_DAYS)
}

/// Evidence files, and the entry that names each first.
pub(crate) struct Evidence {
    pub(crate) files: Arc<Blobs>,
    pub(crate) named: BTreeMap<BlobHash, u64>,
}

/// Reads evidence again, and notes what came of it in the book's folder; a fault counts as one of
/// the last check. `None` where `go_on`, which is told how many bytes were
/// read, ended it.
pub(crate) fn scrub(
    folder: &Path,
    evidence: &Evidence,
    who: &str,
    go_on: &mut dyn FnMut(usize) -> bool,
) -> Result<Option<LastScrub>, Problem> {
    let found = read_again(&evidence.files, &evidence.named, go_on);
    if !found.whole {
        return Ok(None);
    }
    let at = moment_now()?.to_string();
    let faults: Vec<String> =
        found.faults.iter().map(|(entry, why)| format!("a file of entry {entry}: {why}")).collect();
    let last = LastScrub { at, files: found.files, bytes: found.bytes, faults };
    let unnoted = |error| {
        Problem::surroundings("what was found cannot be noted in the book's folder").because(&error)
    };
    last.note(folder).map_err(unnoted)?;
    if !last.faults.is_empty() {
        let (at, who, faults) = (last.at.clone(), who.to_owned(), last.faults.clone());
        let checked = Checked { faults, ..Checked::default() };
        let hint = Some("Put the file back from a backup, then check the record.".to_owned());
        LastCheck { at, who, checked, hint }.note(folder).map_err(unnoted)?;
    }
    Ok(Some(last))
}
