//! Signatures on a specimen, what was corrected of it, and a review that was sent back.

use maud::{Markup, html};
use serde::Serialize;
use trial::history::History;
use trial::number::{PlanNumber, SpecimenNumber};
use trial::signature::{Meaning, Signed};
use utoipa::ToSchema;

use super::super::sign::{table, way};
use super::super::when;
use super::Specimen;
use crate::step::sign::{self, SignatureShown};
use crate::web::answer::sentence;

/// Who signed what was seen of a specimen, and what was corrected.
#[derive(Serialize, ToSchema)]
pub(super) struct Signing {
    /// All signatures on it.
    signatures: Vec<SignatureShown>,
    /// Whether it is to be signed as tested.
    wanted: bool,
    /// The note with which it was sent back, as long as it waits.
    sent_back: Option<String>,
    /// What was corrected since it was recorded, in order.
    amended: Vec<Amended>,
}

/// A value that was corrected.
#[derive(Serialize, ToSchema)]
struct Amended {
    /// Which.
    what: String,
    /// What stood there.
    was: String,
    /// What holds instead.
    holds: String,
    /// Who corrected it.
    by: String,
    /// When.
    at: String,
    /// Why.
    reason: String,
    /// The entry of the record.
    entry: u64,
}

/// What is signed and corrected of a specimen.
pub(super) fn look(history: &History, (plan, specimen): (PlanNumber, SpecimenNumber)) -> Signing {
    let what = Signed::Specimen { plan, specimen };
    let back = history.sent_back(plan).filter(|it| it.back.specimens.contains(&specimen));
    let asked = history.signatures_asked().contains(&Meaning::Tested) || back.is_some();
    let amendments = history.amendments(plan, specimen);
    let amended = amendments.iter().flat_map(|amendment| {
        amendment.changes.iter().map(|change| Amended {
            what: change.what.clone(),
            was: change.before.clone(),
            holds: change.after.clone(),
            by: amendment.who.to_string(),
            at: when(amendment.at),
            reason: amendment.reason.clone(),
            entry: amendment.entry.0,
        })
    });
    Signing {
        signatures: sign::on(history, what),
        wanted: asked && history.signed(what, Meaning::Tested).is_none(),
        sent_back: back.map(|it| format!("{}, {}: {}", it.who, when(it.at), it.back.note)),
        amended: amended.collect(),
    }
}

/// That it was sent back, on top of the page.
pub(super) fn sent_back(specimen: &Specimen) -> Markup {
    html! {
        @if let Some(note) = &specimen.signing.sent_back {
            p.abnormal { "◆ Sent back by " (note) }
        }
    }
}

/// What was corrected, with the way to correct more.
pub(super) fn amended(specimen: &Specimen) -> Markup {
    let own = format!("/specimens/{}-{}", specimen.plan, specimen.specimen);
    let amended = &specimen.signing.amended;
    html! {
        @if !amended.is_empty() {
            h2 { "Corrected since" }
            dl.said { @for it in amended {
                dt { (it.what) }
                dd {
                    del { span.apart { "was " } (it.was) } " " ins { span.apart { "holds " } (it.holds) }
                    br; span.hint { (it.by) ", " (it.at) ", "
                        a href={ "/record/" (it.entry) } { "entry " (it.entry) } ": "
                        (sentence(&it.reason)) }
                }
            } }
        }
        p.onward { a href={ (own) "/amend" } { "Correct what was seen" } }
    }
}

/// The signatures, and the way to sign.
pub(super) fn signatures(specimen: &Specimen) -> Markup {
    let (plan, number) = (PlanNumber(specimen.plan), SpecimenNumber(specimen.specimen));
    let own = format!("/specimens/{}-{}", specimen.plan, specimen.specimen);
    let what = Signed::Specimen { plan, specimen: number };
    let signing = &specimen.signing;
    html! {
        @if !signing.signatures.is_empty() || signing.wanted {
            h2 #signatures { "Signatures" }
            @if signing.signatures.is_empty() { p { "Nobody has signed what was seen." } }
            @else { (table(&signing.signatures)) }
            @if signing.wanted {
                p { a.button href=(way(what, "tested", &own)) { "Sign as tested" } }
            }
        }
    }
}
