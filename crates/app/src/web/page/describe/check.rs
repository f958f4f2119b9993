//! The page to check a description before it is signed.

use maud::{Markup, html};
use trial::run::{Burnt, LayerOutcome, MarkKind};

use super::known;
use super::photos;
use super::place::{Place, WHY_LATER};
use super::questions::as_pressed;
use crate::form::fields::Filled;
use crate::form::pressed::{Changed, tenths};
use crate::form::run_answers::{BY_MISTAKE, observed};
use crate::web::page::shown;
use crate::web::site::Person;

/// What was answered, page by page, and the button that signs it.
pub(super) fn page(place: &Place, person: &Person, filled: Filled<'_>) -> Markup {
    html! {
        div #answers {
            @for (name, heading) in Place::pages() {
                h2 { (heading) }
                @match (name, &place.pressed) {
                    ("times", Some(pressed)) => {
                        (as_pressed(pressed))
                        (corrected(place, person, filled))
                    }
                    _ => (said(&rows(place, name, filled))),
                }
                p.onward { a href=(place.address(name)) {
                    @if name == "times" && place.pressed.is_some() { "Correct" } @else { "Change" }
                    span.apart { " " (heading) }
                } }
            }
            p { @match filled.typed.all("photo").filter_map(photos::kept).count() {
                0 => "No photograph.",
                1 => "1 photograph.",
                several => { (several) " photographs." }
            } }
        }
        form method="post" novalidate { button type="submit" { (place.button(&person.0)) } }
    }
}

/// Where the description departs from the presses: both are shown.
fn corrected(place: &Place, person: &Person, filled: Filled<'_>) -> Markup {
    let Some(pressed) = &place.pressed else { return html! {} };
    let seen = observed(filled.typed, known(place, person, filled.typed));
    let changed: Vec<Changed> = seen.map(|seen| pressed.changed(&seen)).unwrap_or_default();
    html! {
        @if !changed.is_empty() {
            p { "It holds instead:" }
            dl.said { @for it in &changed {
                dt { (it.what) } dd { del { (it.pressed) } " " (it.holds) }
            } }
            p { "Why: " (filled.typed.text("times-reason")) }
        }
    }
}

fn said(rows: &[(String, String)]) -> Markup {
    html! {
        dl.said { @for (what, said) in rows {
            dt { (what) }
            dd { @if said.is_empty() { "Not given" } @else { (said) } }
        } }
    }
}

/// The answers of a page, line by line.
fn rows(place: &Place, page: &str, filled: Filled<'_>) -> Vec<(String, String)> {
    let text = |field: &str| filled.typed.text(field).to_owned();
    let row = |what: &str, said: String| (what.to_owned(), said);
    let with = |unit: &str, field: &str| match filled.typed.text(field) {
        "" => String::new(),
        typed if typed.ends_with(unit) => typed.to_owned(),
        typed => format!("{typed} {unit}"),
    };
    let ending = |field: &str| match filled.typed.text(field) {
        "none" => "none".to_owned(),
        "out" => format!("out at {}", with("s", &format!("{field}-at"))),
        "by-hand" => format!("put out by hand at {}", with("s", &format!("{field}-at"))),
        other => other.to_owned(),
    };
    match page {
        "times" => {
            let mut rows = vec![row("First flame on specimen", text("began"))];
            for nth in 1..=place.applications {
                if nth > 1 {
                    let what = format!("Flame {nth} on specimen");
                    rows.push((what, with("s", &format!("on-{nth}"))));
                }
                let what = format!("Flame {nth} removed");
                rows.push((what, with("s", &format!("removed-{nth}"))));
            }
            rows.push(row("Flames after the last removal", ending("flames")));
            rows.push(row("Glow after the flames", ending("glow")));
            rows
        }
        "marks" => marks(place, filled),
        "layer" => {
            let layer = LayerOutcome::of_word(filled.typed.text("layer"));
            let mut rows = vec![row("Layer below", layer.map_or("", shown::layer).into())];
            if !place.layer_pressed() {
                rows.push(row("Layer and surroundings burning", ending("surroundings")));
            }
            rows
        }
        "specimen" => vec![
            row("Burnt", Burnt::of_word(&text("burnt")).map_or("", Burnt::word).into()),
            row("Damaged length", with("mm", "damaged-length")),
            row("Temperature of the air", with("°C", "temperature")),
            row("Relative humidity", with("%", "humidity")),
        ],
        _ => {
            let mut rows = vec![row("Anything unusual", text("note"))];
            if place.hours_later(filled.typed).is_some() {
                rows.push(row("Why it is written later", text(WHY_LATER)));
            }
            rows.push(row("Spoilt", text("spoilt")));
            rows
        }
    }
}

fn marks(place: &Place, filled: Filled<'_>) -> Vec<(String, String)> {
    let one = |nth: usize| {
        let at = match &place.pressed {
            Some(pressed) => tenths(pressed.timing.marks.get(nth - 1)?.at),
            None => match filled.typed.text(&format!("mark-{nth}-at")) {
                "" => return None,
                typed => typed.to_owned(),
            },
        };
        let kind = match filled.typed.text(&format!("mark-{nth}")) {
            word if word == BY_MISTAKE.0 => BY_MISTAKE.1,
            word => MarkKind::of_word(word).map_or("", shown::mark_kind),
        };
        let words = filled.typed.text(&format!("mark-{nth}-words"));
        let said: Vec<&str> = [kind, words].into_iter().filter(|it| !it.is_empty()).collect();
        Some((format!("At {at}"), said.join(", ")))
    };
    let rows: Vec<_> = (1..=place.marks()).filter_map(one).collect();
    if rows.is_empty() { vec![("Marks".to_owned(), "none".to_owned())] } else { rows }
}
