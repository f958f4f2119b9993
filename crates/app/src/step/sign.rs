//! Signs; sends a review back; sets which signatures the laboratory asks for.

use serde::Serialize;
use trial::fact::{Authorisation, Fact};
use trial::finding::Stage;
use trial::history::{Covering, History, RecordedSignature};
use trial::number::{EntryNumber, PersonName, PlanNumber, SpecimenNumber};
use trial::person::Act;
use trial::signature::{
    Identified, Meaning, SentBack, Signature, Signed, SigningError, SigningRule,
};
use utoipa::ToSchema;

use super::people;
use crate::book::OpenBook;
use crate::output::Output;
use crate::problem::{Exit, Found, Problem};
use crate::words::when;

/// A signature as it is shown.
#[derive(Clone, Debug, Serialize, ToSchema)]
pub(crate) struct SignatureShown {
    /// What was signed, by its word, such as `specimen-1-2`.
    pub(crate) what: String,
    /// The same in words.
    pub(crate) what_told: String,
    /// `tested`, `reviewed` or `approved`.
    pub(crate) meaning: &'static str,
    /// As it stands before the name: `Tested by`.
    pub(crate) meaning_told: &'static str,
    /// Who signed.
    pub(crate) name: String,
    /// When, in UTC.
    pub(crate) at: String,
    #[serde(skip)]
    pub(crate) shown_at: String,
    /// By what the person was known: `password` or `name`.
    pub(crate) identified: &'static str,
    /// Whether it covers what stands in the record now.
    pub(crate) covers: bool,
    /// That in words.
    pub(crate) told: String,
    /// The entries that came to it since.
    pub(crate) since: Vec<u64>,
    /// The SHA-256 of the content it was given for.
    pub(crate) content_sha256: String,
    /// The entry of the record.
    pub(crate) entry: u64,
}

/// A signature as it is shown now.
pub(crate) fn shown(history: &History, recorded: &RecordedSignature) -> SignatureShown {
    let signed = recorded.signature;
    let (covers, since) = match history.covering(recorded) {
        Covering::Covers => (true, Vec::new()),
        Covering::NoLonger { since } => (false, since.into_iter().map(|it| it.0).collect()),
    };
    let told = match (covers, since.as_slice()) {
        (true, _) => "covers this record".to_owned(),
        (false, []) => "no longer covers this record: what was signed was withdrawn".to_owned(),
        (false, [one]) => format!("no longer covers this record: entry {one} came since"),
        (false, [first, .., last]) => format!(
            "no longer covers this record: {} entries from {first} to {last} came since",
            since.len()
        ),
    };
    SignatureShown {
        what: signed.what.word(),
        what_told: signed.what.to_string(),
        meaning: signed.meaning.word(),
        meaning_told: signed.meaning.told(),
        name: recorded.who.to_string(),
        at: recorded.at.to_string(),
        shown_at: when(recorded.at),
        identified: signed.identified.word(),
        covers,
        told,
        since,
        content_sha256: signed.content.to_string(),
        entry: recorded.entry.0,
    }
}

/// All signatures on a thing, in order.
pub(crate) fn on(history: &History, what: Signed) -> Vec<SignatureShown> {
    history.signatures_on(what).map(|recorded| shown(history, recorded)).collect()
}

/// The last signature on a thing in one line; none where nobody signed it.
pub(crate) fn line(history: &History, what: Signed) -> Option<String> {
    let it = on(history, what).pop()?;
    let stands = if it.covers { String::new() } else { format!("; it {}", it.told) };
    Some(format!("{} {}, {}{stands}", it.meaning_told, it.name, it.shown_at))
}

/// What a word names.
pub(crate) fn what(word: &str) -> Result<Signed, Problem> {
    Signed::of_word(word.trim()).ok_or_else(|| {
        Problem::used_wrongly(format!("`{word}` is nothing that is signed")).hint(
            "Name it as specimen-1-2, plan-1, report-1, base-line-1, flame-call-1, \
             commissioning-46 or trail-1-80.",
        )
    })
}

/// The meaning that is asked for, or the usual one.
pub(crate) fn meaning(what: Signed, word: &str) -> Result<Meaning, Problem> {
    let word = word.trim();
    let usual = what.meanings().first().copied().filter(|_| word.is_empty());
    usual.or_else(|| Meaning::of_word(word)).ok_or_else(|| {
        Problem::used_wrongly(format!("`{word}` is no meaning of a signature"))
            .hint("Say tested, reviewed or approved.")
    })
}

/// Signs for whoever writes; what they signed before and still stands is not signed twice.
///
/// # Errors
///
/// Where something stands against it, and as the disk says.
pub(crate) fn sign(
    book: &mut OpenBook,
    (what, meaning): (Signed, Meaning),
    identified: Identified,
    output: &Output,
) -> Result<SignatureShown, Problem> {
    let who = book.who()?;
    book.catch_up()?;
    if let Some(already) = standing(book.history(), &who, (what, meaning)) {
        return Ok(already);
    }
    book.history().may_sign(&who, what, meaning).map_err(|why| refused(&why))?;
    by_method(book, (what, meaning), output)?;
    let content = ledger::signed::content(book.history(), what);
    let content = content.ok_or_else(|| Problem::conflict(format!("{what} is not there")))?;
    let last = content.entries.last().copied().unwrap_or(EntryNumber(0));
    let signature = Signature { what, meaning, content: content.hash, last, identified };
    book.keep(&Fact::Signed(signature), output)?;
    standing_now(book.history(), what)
}

/// Whether who writes is authorised today for the method of what is signed.
fn by_method(
    book: &mut OpenBook,
    (what, meaning): (Signed, Meaning),
    output: &Output,
) -> Result<(), Problem> {
    let plan = match what {
        Signed::Specimen { plan, .. } | Signed::Plan(plan) => Some(plan),
        Signed::Report(report) => book.history().report(report).map(|(.., issued)| issued.plan),
        Signed::BaseLine(_)
        | Signed::FlameCall(_)
        | Signed::Commissioning(_)
        | Signed::Trail { .. } => None,
    };
    match (plan, Act::signing(what, meaning).authorisation()) {
        (Some(plan), Some(act)) => people::may(book, act, (Stage::Review, plan), output),
        (Some(_) | None, _) => Ok(()),
    }
}

/// The signature of a person in this meaning, if it covers the thing as it stands.
pub(crate) fn standing(
    history: &History,
    who: &PersonName,
    (what, meaning): (Signed, Meaning),
) -> Option<SignatureShown> {
    let own = |it: &&RecordedSignature| it.who == *who && it.signature.meaning == meaning;
    let last = history.signatures_on(what).filter(own).last()?;
    Some(shown(history, last)).filter(|it| it.covers)
}

fn standing_now(history: &History, what: Signed) -> Result<SignatureShown, Problem> {
    let last = history.signatures_on(what).last();
    last.map(|last| shown(history, last))
        .ok_or_else(|| Problem::surroundings("the signature is not in the record"))
}

/// Why somebody cannot sign, as a problem.
pub(crate) fn refused(why: &SigningError) -> Problem {
    Problem::conflict(why.to_string()).hint(why.hint())
}

/// Whether the signatures that the laboratory asks for stand on a plan and its specimens.
///
/// # Errors
///
/// Each one that does not.
pub(crate) fn all_stand(book: &OpenBook, plan: PlanNumber) -> Result<(), Problem> {
    let wanted = book.history().signatures_wanted(plan);
    if wanted.is_empty() {
        return Ok(());
    }
    let found = wanted.iter().map(|it| Found {
        kind: "signature".to_owned(),
        text: format!("{} is not signed as {}", it.what, it.meaning),
        hint: format!(
            "Sign it at /sign?what={0}&meaning={1}, or with `cinderbook sign {0} --meaning {1}`.",
            it.what.word(),
            it.meaning
        ),
    });
    let count = wanted.len();
    let plural = if count == 1 { "signature is" } else { "signatures are" };
    Err(Problem {
        findings: found.collect(),
        exit: Exit::Finding,
        ..Problem::used_wrongly(format!(
            "plan {plan} cannot be reported yet: {count} {plural} missing"
        ))
    })
}

/// Sends a plan back to who tested it. What was signed before no longer covers it.
///
/// # Errors
///
/// Where nothing is said or the person may not, and as the disk says.
pub(crate) fn send_back(
    book: &mut OpenBook,
    back: SentBack,
    output: &Output,
) -> Result<(), Problem> {
    let SentBack { plan, specimens, note } = back;
    let note = note.trim().to_owned();
    book.plan(plan)?;
    if note.is_empty() {
        return Err(Problem::used_wrongly("it is not said what is to be looked at")
            .hint("Write a note: who tested it reads it first."));
    }
    let runs = book.history().runs(plan).iter().map(|it| it.run.specimen());
    let tested: Vec<SpecimenNumber> = runs.collect();
    if tested.is_empty() {
        return Err(Problem::conflict(format!("no specimen of plan {plan} was tested yet")));
    }
    let specimens = if specimens.is_empty() { tested } else { specimens };
    for specimen in &specimens {
        book.plan_of(plan, *specimen)?;
    }
    people::may(book, Authorisation::Review, (Stage::Review, plan), output)?;
    let who = book.who()?;
    let back = SentBack { plan, specimens, note };
    let same = book.history().sent_back(plan).is_some_and(|it| it.who == who && it.back == back);
    if same { Ok(()) } else { book.keep(&Fact::SentBack(back), output).map(drop) }
}

/// Sets which signatures are asked for before a report, and whether one person may test and
/// approve. The reason prints where a report makes use of it.
///
/// # Errors
///
/// Without a reason, where the person may not, and as the disk says.
pub(crate) fn rule(
    book: &mut OpenBook,
    mut rule: SigningRule,
    output: &Output,
) -> Result<(), Problem> {
    rule.reason = rule.reason.trim().to_owned();
    rule.asked.sort_unstable();
    rule.asked.dedup();
    if rule.reason.is_empty() {
        return Err(Problem::used_wrongly("it is not said why")
            .hint("Write the laboratory's reason: it is recorded, and prints on reports."));
    }
    let who = book.who()?;
    book.history().may_do(&who, Act::Issue).map_err(|why| Problem::may_not(&why))?;
    if book.history().signing_rule().is_some_and(|it| it.rule == rule) {
        return Ok(());
    }
    book.keep(&Fact::SigningRuled(rule), output).map(drop)
}
