//! The signatures on a plan, and the corrections of what was seen.

use trial::history::{Amendment, Covering, History, RecordedSignature};
use trial::number::PlanNumber;
use trial::signature::Meaning;

use super::second;
use crate::content::{Amended, Covers, Remark, Signature};
use crate::words::Words;

/// The signatures on a plan and its specimens, in order; those too that no longer cover them.
pub(super) fn signatures(history: &History, plan: PlanNumber, words: &Words) -> Vec<Signature> {
    let signed = history.signatures_of(plan).into_iter();
    signed.map(|recorded| signature(history, recorded, words)).collect()
}

fn signature(history: &History, recorded: &RecordedSignature, words: &Words) -> Signature {
    let signed = recorded.signature;
    Signature {
        what: (words.whole.signed)(signed.what),
        meaning: (words.whole.meaning)(signed.meaning).to_owned(),
        name: recorded.who.to_string(),
        at: second(recorded.at),
        identified: signed.identified.word().to_owned(),
        covers: match history.covering(recorded) {
            Covering::Covers => Covers::ThisRecord,
            Covering::NoLonger { .. } => Covers::NoLonger,
        },
        content_sha256: signed.content.to_string(),
        entry: recorded.entry.0,
    }
}

/// The values of a plan's specimens that were corrected, in the order of the record.
pub(super) fn amended(history: &History, plan: PlanNumber) -> Vec<Amended> {
    history.amendments_of(plan).iter().flat_map(of_one).collect()
}

fn of_one(amendment: &Amendment) -> Vec<Amended> {
    let changes = amendment.changes.iter();
    let told = changes.map(|change| Amended {
        specimen: amendment.specimen.0,
        what: change.what.clone(),
        was: change.before.clone(),
        holds: change.after.clone(),
        by: amendment.who.to_string(),
        at: second(amendment.at),
        reason: amendment.reason.clone(),
        entry: amendment.entry.0,
    });
    told.collect()
}

/// What the laboratory set in writing about signatures, where this report makes use of it.
pub(super) fn rule(history: &History, plan: PlanNumber, words: &Words) -> Option<Remark> {
    let set = history.signing_rule()?;
    let testers = history.testers(plan);
    let by_tester = |it: &&RecordedSignature| {
        it.signature.meaning != Meaning::Tested && testers.contains(&it.who)
    };
    let text = if set.rule.asked.is_empty() {
        words.whole.no_signatures_asked
    } else if history.same_person_allowed().is_some()
        && history.signatures_of(plan).iter().any(by_tester)
    {
        words.whole.one_person
    } else {
        return None;
    };
    Some(Remark {
        entry: set.entry.0,
        at: second(set.at),
        who: set.who.to_string(),
        text: format!("{text}: {}.", set.rule.reason.trim_end_matches('.')),
    })
}
