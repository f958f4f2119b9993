//! The review of the trail: what was changed since the last one, who changed it, and why.

use jiff::civil::Date;
use serde::Serialize;
use trial::fact::{Fact, Recorded};
use trial::history::History;
use trial::number::EntryNumber;
use trial::signature::Signed;
use utoipa::ToSchema;

use super::sign::{self, SignatureShown};
use crate::words::when;

/// So many changes are listed at most; the sums are of all.
const LISTED: usize = 200;

/// The trail since the last review.
#[derive(Serialize, ToSchema)]
pub(crate) struct TrailSheet {
    /// The first entry that was not reviewed.
    pub(crate) from: u64,
    /// The last one that is reviewed now; none if there is nothing new.
    pub(crate) until: Option<u64>,
    /// From when to when, in words.
    pub(crate) told: String,
    /// Entries there are.
    pub(crate) entries: usize,
    /// How many of each kind.
    pub(crate) kinds: Vec<Kind>,
    /// Changes of what stood there: corrections, withdrawals, what was set aside or let through.
    pub(crate) changes: usize,
    /// How many of them say why.
    pub(crate) with_reason: usize,
    /// The same as a share, such as `100 %`.
    pub(crate) share: String,
    /// The changes, newest first, those that are asked for.
    pub(crate) listed: Vec<ChangeShown>,
    /// How many more are not listed.
    pub(crate) more: usize,
    /// What is signed: the word for it.
    pub(crate) what: Option<String>,
    /// The reviews before, the last one first.
    pub(crate) before: Vec<SignatureShown>,
}

/// How many entries of a kind there are.
#[derive(Serialize, ToSchema)]
pub(crate) struct Kind {
    /// The kind.
    pub(crate) kind: String,
    /// How many.
    pub(crate) count: usize,
}

/// A change.
#[derive(Serialize, ToSchema)]
pub(crate) struct ChangeShown {
    /// The entry.
    pub(crate) entry: u64,
    /// When, in UTC.
    pub(crate) at: String,
    #[serde(skip)]
    pub(crate) shown_at: String,
    /// Who.
    pub(crate) who: String,
    /// Its kind.
    pub(crate) kind: String,
    /// Why; nothing if it is not said.
    pub(crate) reason: String,
}

/// Which of the changes are asked for. What is empty is not asked.
#[derive(Clone, Debug, Default)]
pub(crate) struct Wanted {
    /// By this person.
    pub(crate) person: String,
    /// Of this kind.
    pub(crate) kind: String,
    /// The last day that is reviewed; today, if none is named.
    pub(crate) until: Option<Date>,
}

/// The trail that was not reviewed yet.
pub(crate) fn look(history: &History, wanted: &Wanted) -> TrailSheet {
    let from = history.trail_to_review();
    let first = usize::try_from(from.0.saturating_sub(1)).unwrap_or(usize::MAX);
    let all = history.entries();
    let end = wanted.until.map_or(all.len(), |day| all.partition_point(|it| it.at.day() <= day));
    let entries = all.get(first..end).unwrap_or_default();
    let until = entries.last().map(|it| it.entry);
    let changes: Vec<(&Recorded, &str)> =
        entries.iter().filter_map(|it| Some((it, reason(&it.fact)?))).collect();
    let with_reason = changes.iter().filter(|(_, reason)| !reason.trim().is_empty()).count();
    let asked = changes.iter().rev().filter(|(it, _)| {
        (wanted.person.is_empty() || it.who.0 == wanted.person)
            && (wanted.kind.is_empty() || it.fact.kind() == wanted.kind)
    });
    let mut listed: Vec<ChangeShown> = asked.map(|(it, reason)| shown(it, reason)).collect();
    let more = listed.len().saturating_sub(LISTED);
    listed.truncate(LISTED);
    let what = until.map(|until| Signed::Trail { from, until }.word());
    TrailSheet {
        from: from.0,
        until: until.map(|it| it.0),
        told: told(entries, from),
        entries: entries.len(),
        kinds: kinds(entries),
        changes: changes.len(),
        with_reason,
        share: share(with_reason, changes.len()),
        listed,
        more,
        what,
        before: history
            .signatures()
            .iter()
            .rev()
            .filter(|it| matches!(it.signature.what, Signed::Trail { .. }))
            .map(|it| sign::shown(history, it))
            .collect(),
    }
}

fn told(entries: &[Recorded], from: EntryNumber) -> String {
    match (entries.first(), entries.last()) {
        (Some(first), Some(last)) => format!(
            "Entries {} to {}, from {} to {}, were not reviewed yet.",
            first.entry,
            last.entry,
            first.at.day(),
            last.at.day()
        ),
        _ => format!("All entries below {from} were reviewed; nothing came since."),
    }
}

fn shown(recorded: &Recorded, reason: &str) -> ChangeShown {
    ChangeShown {
        entry: recorded.entry.0,
        at: recorded.at.to_string(),
        shown_at: when(recorded.at),
        who: recorded.who.to_string(),
        kind: recorded.fact.kind().to_owned(),
        reason: reason.to_owned(),
    }
}

fn kinds(entries: &[Recorded]) -> Vec<Kind> {
    let mut counts = std::collections::BTreeMap::new();
    for entry in entries {
        *counts.entry(entry.fact.kind()).or_insert(0) += 1;
    }
    counts.into_iter().map(|(kind, count)| Kind { kind: kind.to_owned(), count }).collect()
}

/// A share in whole per cent, never rounded up to all.
fn share(part: usize, all: usize) -> String {
    if all == 0 {
        return "no changes".to_owned();
    }
    format!("{} %", part * 100 / all)
}

/// Why something that stood there was changed; none of a fact that changes nothing.
fn reason(fact: &Fact) -> Option<&str> {
    if let Fact::Corrected { reason, .. }
    | Fact::EquipmentWithdrawn { reason, .. }
    | Fact::DeterminationVoided { reason, .. }
    | Fact::TimekeeperTaken { reason, .. }
    | Fact::TimesAccepted { reason, .. }
    | Fact::SpecimensAdded { reason, .. }
    | Fact::SpecimenSpoilt { reason, .. } = fact
    {
        Some(reason)
    } else if let Fact::DueLetThrough(due) = fact {
        Some(&due.reason)
    } else if let Fact::SigningRuled(rule) = fact {
        Some(&rule.reason)
    } else if let Fact::SentBack(back) = fact {
        Some(&back.note)
    } else if let Fact::BaseLineFrozen(base_line) = fact {
        base_line.restart.as_ref().map(|restart| restart.reason.as_str())
    } else {
        None
    }
}
