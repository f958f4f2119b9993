//! The page on which somebody signs, and how signatures are shown elsewhere.

use maud::{Markup, html};
use trial::signature::Signed;

use super::SignSheet;
use crate::form::fields::{Filled, Typed, Wrong};
use crate::step::sign::SignatureShown;
use crate::web::answer::sentence;
use crate::web::download::encoded;
use crate::web::page::shown::wide;

/// What stands on the page.
pub(super) fn main(sheet: &SignSheet, wrong: &[Wrong]) -> Markup {
    let filled = Filled { typed: &Typed::default(), wrong };
    html! {
        (filled.summary())
        dl.said {
            dt { "What" } dd { a href=(leads_to(&sheet.what)) { (capital(&sheet.what_told)) } }
            dt { "Meaning" } dd { (sheet.meaning_told) }
            dt { "Person" } dd { (sheet.person) }
            dt { "It covers" } dd { (entries(&sheet.entries)) }
            @if let Some(hash) = &sheet.content_sha256 { dt { "SHA-256" } dd { code { (hash) } } }
        }
        @match (&sheet.already, &sheet.against) {
            (Some(already), _) => {
                p.sentence { "You signed this at " (already.shown_at) ". Nothing is signed twice." }
                p { a.button href=(back(sheet)) { "Go on" } }
            }
            (None, Some(against)) => {
                p.sentence { (sentence(&against.text)) }
                @if !against.found.is_empty() { ul { @for found in &against.found { li { (sentence(found)) } } } }
                p { (against.hint) }
                p { a.button href=(back(sheet)) { "Go back" } }
            }
            (None, None) => (form(sheet, wrong)),
        }
        @if !sheet.signatures.is_empty() {
            h2 { "Signatures" }
            (table(&sheet.signatures))
        }
    }
}

/// The page that one comes from.
fn back(sheet: &SignSheet) -> String {
    if sheet.to.is_empty() { leads_to(&sheet.what) } else { super::own_page(&sheet.to).to_owned() }
}

fn form(sheet: &SignSheet, wrong: &[Wrong]) -> Markup {
    let of = |field: &str| wrong.iter().find(|it| it.field == field);
    html! {
        p { "Your name, this meaning and the time are written into the record. If what is signed \
            changes later, the signature is shown as no longer covering it." }
        form method="post" action="/sign" novalidate {
            input type="hidden" name="what" value=(sheet.what);
            input type="hidden" name="meaning" value=(sheet.meaning);
            input type="hidden" name="to" value=(sheet.to);
            @if sheet.asks_name {
                (field(("name", "Name", "text"), "The first signature of a sitting takes both parts.", of("name")))
            }
            (field(("password", "Password", "password"), "", of("password")))
            button { "Sign as " (sheet.meaning) }
        }
    }
}

fn field((name, label, kind): (&str, &str, &str), hint: &str, wrong: Option<&Wrong>) -> Markup {
    let autocomplete = if kind == "password" { "current-password" } else { "username" };
    html! {
        div.field.wrong[wrong.is_some()] {
            label for=(name) { (label) }
            @if !hint.is_empty() { p.hint id={ (name) "-hint" } { (hint) } }
            @if let Some(wrong) = wrong {
                p.wrong-words id={ (name) "-wrong" } { span.apart { "Error: " } (wrong.words) }
            }
            input id=(name) name=(name) type=(kind) autocomplete=(autocomplete) spellcheck="false"
                aria-describedby=[wrong.map(|_| format!("{name}-wrong"))
                    .or((!hint.is_empty()).then(|| format!("{name}-hint")))]
                aria-invalid=[wrong.map(|_| "true")];
        }
    }
}

/// Entries with the way to each; many are said by their ends.
fn entries(entries: &[u64]) -> Markup {
    const SHOWN: usize = 12;
    html! {
        @match entries {
            [] => "nothing",
            many if many.len() > SHOWN => {
                (many.len()) " entries of the record, from "
                @if let (Some(first), Some(last)) = (many.first(), many.last()) {
                    a href={ "/record/" (first) } { (first) } " to "
                    a href={ "/record/" (last) } { (last) }
                }
            }
            few => {
                @if few.len() == 1 { "Entry " } @else { "Entries " }
                @for (place, entry) in few.iter().enumerate() {
                    @if place > 0 { ", " }
                    a href={ "/record/" (entry) } { (entry) }
                }
                " of the record"
            }
        }
    }
}

/// The page of what was signed.
pub(in crate::web::page) fn leads_to(what: &str) -> String {
    match Signed::of_word(what) {
        Some(Signed::Specimen { plan, specimen }) => format!("/specimens/{}-{specimen}", plan.0),
        Some(Signed::Plan(plan)) => format!("/plans/{}/review", plan.0),
        Some(Signed::Report(report)) => format!("/reports/{}", report.0),
        Some(Signed::BaseLine(_)) => "/flame/base-line".to_owned(),
        Some(Signed::FlameCall(_)) => "/flame/chart".to_owned(),
        Some(Signed::Commissioning(_)) => "/care/commissioning".to_owned(),
        Some(Signed::Trail { .. }) => "/record/review".to_owned(),
        None => "/".to_owned(),
    }
}

/// The way to sign a thing, and back to this page.
pub(in crate::web::page) fn way(what: Signed, meaning: &str, to: &str) -> String {
    format!("/sign?what={}&meaning={meaning}&to={}", what.word(), encoded(to))
}

/// Signatures as a table.
pub(in crate::web::page) fn table(signatures: &[SignatureShown]) -> Markup {
    wide(
        "Signatures",
        &html! {
            table {
                thead { tr { th scope="col" { "Meaning" } th scope="col" { "Name" }
                    th scope="col" { "Of what" } th scope="col" { "When" } th scope="col" { "Stands" } } }
                tbody { @for it in signatures { tr {
                    td { (it.meaning_told) }
                    td { (it.name) @if it.identified == "name" { br; span.hint { "by name, without a password" } } }
                    td { a href={ "/record/" (it.entry) } { (whole(&capital(&it.what_told))) } }
                    td.moment { (it.shown_at) }
                    td { @if it.covers { (capital(&it.told)) }
                        @else { span.abnormal { "◆ " (capital(&it.told)) } } }
                } } }
            }
        },
    )
}

/// A text that may end in a plan's name, which stays on one line.
fn whole(text: &str) -> Markup {
    let plan = text.to_ascii_lowercase().find("plan p-").unwrap_or(text.len());
    let (before, plan) = text.split_at(plan);
    html! { (before) span.whole { (plan) } }
}

/// A text with a capital first.
pub(in crate::web::page) fn capital(text: &str) -> String {
    let mut letters = text.chars();
    letters.next().into_iter().flat_map(char::to_uppercase).chain(letters).collect()
}
