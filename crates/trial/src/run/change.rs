//! What differs between two descriptions of one specimen: for whoever reads that one was corrected.

use super::{Ending, Mark, Observed};
use crate::moment::Elapsed;

/// A value that was corrected.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Change {
    /// Which.
    pub what: String,
    /// What stood there.
    pub before: String,
    /// What holds instead.
    pub after: String,
}

/// What differs, in the order of the description.
#[must_use]
pub fn changes(before: &Observed, after: &Observed) -> Vec<Change> {
    let mut changes = Vec::new();
    times(before, after, &mut changes);
    let mut put = |what: &str, before: String, after: String| {
        if before != after {
            changes.push(Change { what: what.to_owned(), before, after });
        }
    };
    put("Marks", marks(&before.marks), marks(&after.marks));
    put("Layer below", before.layer.to_string(), after.layer.to_string());
    put("Burnt", before.burnt.to_string(), after.burnt.to_string());
    let length = |seen: &Observed| {
        seen.damaged_length.map_or_else(none, |it| format!("{} ± {}", it.value, it.uncertainty))
    };
    put("Damaged length", length(before), length(after));
    put("Temperature", before.air.temperature.to_string(), after.air.temperature.to_string());
    let damp = |seen: &Observed| format!("{} %", seen.air.humidity.percent());
    put("Relative humidity", damp(before), damp(after));
    let uncertain = |seen: &Observed| seen.timing_uncertainty.to_string();
    put("Standard uncertainty of a time", uncertain(before), uncertain(after));
    put("Clock off by", before.clock_offset.to_string(), after.clock_offset.to_string());
    put("Watched by", before.observer.to_string(), after.observer.to_string());
    let files = |seen: &Observed| {
        let names: Vec<&str> = seen.evidence.iter().map(|it| it.name.as_str()).collect();
        if names.is_empty() { none() } else { names.join(", ") }
    };
    put("Files", files(before), files(after));
    let or_none = |text: &str| if text.is_empty() { none() } else { text.to_owned() };
    put("Anything unusual", or_none(&before.note), or_none(&after.note));
    let spoilt = |seen: &Observed| seen.spoilt.as_deref().map_or_else(none, str::to_owned);
    put("Spoilt", spoilt(before), spoilt(after));
    changes
}

fn times(before: &Observed, after: &Observed, changes: &mut Vec<Change>) {
    let mut put = |what: String, before: String, after: String| {
        if before != after {
            changes.push(Change { what, before, after });
        }
    };
    put("Begun".to_owned(), before.began.to_string(), after.began.to_string());
    let count = before.applications.len().max(after.applications.len());
    for nth in 0..count {
        let (was, is) = (before.applications.get(nth), after.applications.get(nth));
        let (on, removed) = (was.map(|it| it.on), was.map(|it| it.removed));
        let (later_on, later_removed) = (is.map(|it| it.on), is.map(|it| it.removed));
        let (one, other) = both(on, later_on);
        put(format!("Flame {} on specimen", nth + 1), one, other);
        let (one, other) = both(removed, later_removed);
        put(format!("Flame {} removed", nth + 1), one, other);
    }
    let endings = [
        ("Flames", before.flames, after.flames),
        ("Glow", before.glow, after.glow),
        ("Layer or surroundings", before.surroundings, after.surroundings),
    ];
    for (what, was, is) in endings {
        let (one, other) = both(was.at(), is.at());
        put(what.to_owned(), ended(was, one), ended(is, other));
    }
}

fn ended(ending: Ending, at: String) -> String {
    match ending {
        Ending::None => none(),
        Ending::Out(_) => format!("out at {at}"),
        Ending::PutOutByHand(_) => format!("put out by hand at {at}"),
    }
}

/// Two instants to the tenth of a second; exactly where that would not tell them apart.
fn both(before: Option<Elapsed>, after: Option<Elapsed>) -> (String, String) {
    let tenths =
        |at: Option<Elapsed>| at.map_or_else(none, |at| format!("{:.1}", at.since(Elapsed::ZERO)));
    let exact = |at: Option<Elapsed>| at.map_or_else(none, |at| at.to_string());
    if before != after && tenths(before) == tenths(after) {
        return (exact(before), exact(after));
    }
    (tenths(before), tenths(after))
}

fn marks(marks: &[Mark]) -> String {
    let one = |mark: &Mark| {
        let words =
            if mark.words.is_empty() { String::new() } else { format!(" ({})", mark.words) };
        format!("{:.1}: {}{words}", mark.at.since(Elapsed::ZERO), mark.kind)
    };
    if marks.is_empty() { none() } else { marks.iter().map(one).collect::<Vec<_>>().join("; ") }
}

fn none() -> String {
    "none".to_owned()
}
