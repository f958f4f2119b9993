//! The questions of a description.

use maud::{Markup, html};
use trial::number::PersonName;
use trial::run::{Burnt, LayerOutcome, MarkKind};

use super::photos;
use super::place::{Place, WHY_LATER};
use crate::form::fields::{Answer, Field, Filled};
use crate::form::pressed::{Pressed, ended, tenths};
use crate::form::run_answers::BY_MISTAKE;
use crate::web::page::shown;

const fn field<'a>(name: &'a str, label: &'a str, hint: &'a str) -> Field<'a> {
    Field { name, label, hint }
}

const fn answer<'a>(value: &'a str, label: String) -> Answer<'a> {
    Answer { value, label }
}

/// One page of questions.
pub(super) fn page(place: &Place, page: &str, (filled, who): (Filled<'_>, &PersonName)) -> Markup {
    if page == "all" {
        return all(place, filled, who);
    }
    html! {
        form method="post" novalidate {
            @match page {
                "times" => (times(place, filled)),
                "marks" => (marks(place, filled)),
                "layer" => (layer(place, filled)),
                "specimen" => (specimen(filled)),
                "spoilt" => (spoilt(filled)),
                _ => (unusual(place.hours_later(filled.typed), filled)),
            }
            @if page == "spoilt" {
                button type="submit" { "Set the specimen aside" }
            } @else {
                button type="submit" { "Continue" } " "
                button.second type="submit" name="then" value="check" { "Continue to the check" }
            }
        }
        @if page == "unusual" { (photos::form(place, filled)) }
    }
}

/// All that is left to ask after the presses, signed at once: the answers stand above the button.
fn all(place: &Place, filled: Filled<'_>, who: &PersonName) -> Markup {
    html! {
        @if let Some(pressed) = &place.pressed { (as_pressed(pressed)) }
        p.onward { a href=(place.address("times")) { "Correct a time" } }
        (photos::form(place, filled))
        h2 { "In words" }
        form method="post" novalidate {
            (layer(place, filled))
            (specimen(filled))
            (unusual(place.hours_later(filled.typed), filled))
            button type="submit" { (place.button(who)) }
        }
    }
}

fn times(place: &Place, filled: Filled<'_>) -> Markup {
    let Some(pressed) = &place.pressed else {
        return html! {
            p { "No presses were kept for this specimen, so the times are typed from a stop-watch that was started with the first flame. The record says that they were typed." }
            (filled.line(field("began", "When did the first flame touch it?", "Date and time in UTC, such as 2026-11-25 09:40.")))
            (typed_times(place, filled))
        };
    };
    html! {
        (as_pressed(pressed))
        @if pressed.asks {
            (filled.one_of(
                field("any", "Was there any flame or glow after removal?", "Both were pressed within 2 s of it."),
                &[answer("yes", "Yes, as pressed".to_owned()), answer("no", "No, neither".to_owned())],
            ))
        }
        details open[!filled.wrong.is_empty() || !filled.typed.text("times-reason").is_empty()] {
            summary { "Correct a time" }
            p.hint { "What was pressed stays in the record and is shown beside a correction." }
            (filled.line(field("times-reason", "Why is a time corrected? (optional)", "Needed where a time below is not as pressed.")))
            (typed_times(place, filled))
        }
    }
}

/// What was pressed, in words.
pub(super) fn as_pressed(pressed: &Pressed) -> Markup {
    let timing = &pressed.timing;
    let several = timing.applications.len() > 1;
    html! {
        p { "Pressed at the bench by " (pressed.who) ", in seconds from the first flame:" }
        dl.said {
            @for (application, nth) in timing.applications.iter().zip(1..) {
                dt { "Flame" @if several { " " (nth) } " on specimen" }
                dd { (tenths(application.on)) ", removed at " (tenths(application.removed)) ": applied for "
                    (format!("{:.1}", application.removed.since(application.on))) }
            }
            dt { "Flames after the last removal" } dd { (ended(timing.flames)) }
            dt { "Glow after the flames" } dd { (ended(timing.glow)) }
            dt { "Layer or surroundings" } dd { (ended(timing.surroundings)) }
            @if timing.across.seconds() > 0.0 {
                dt { "Another device took over" } dd { "times across that are ± " (format!("{:.2}", timing.across)) }
            }
            @for doubt in &pressed.doubts { dt { "The device on its time" } dd { (doubt) } }
        }
    }
}

fn typed_times(place: &Place, filled: Filled<'_>) -> Markup {
    html! {
        @for nth in 1..=place.applications {
            @if nth > 1 {
                (filled.number(field(&format!("on-{nth}"), &format!("Flame {nth} on specimen, in seconds"), "")))
            }
            (filled.number(field(&format!("removed-{nth}"), &format!("Flame {nth} removed, in seconds"), "")))
        }
        (ending(filled, "flames", "Flames after the last removal"))
        (ending(filled, "glow", "Glow after the flames"))
        @if place.layer_pressed() {
            (ending(filled, "surroundings", "Flames or glow of the layer and the surroundings"))
        }
    }
}

/// How something ended, and when.
fn ending(filled: Filled<'_>, name: &str, label: &str) -> Markup {
    let options = [
        answer("none", "There were none".to_owned()),
        answer("out", "They went out by themselves".to_owned()),
        answer("by-hand", "They were put out by hand".to_owned()),
    ];
    html! {
        (filled.one_of(field(name, label, ""), &options))
        (filled.number(field(&format!("{name}-at"), "When they were last seen, in seconds from the first flame (optional)", "")))
    }
}

/// What a mark may have been.
fn kinds() -> Vec<Answer<'static>> {
    let named = [
        MarkKind::Drop,
        MarkKind::BurningDrop,
        MarkKind::LayerCaught,
        MarkKind::Ignited,
        MarkKind::Other,
    ];
    named.map(|kind| answer(kind.word(), shown::mark_kind(kind).to_owned())).into()
}

fn marks(place: &Place, filled: Filled<'_>) -> Markup {
    let mut kinds = kinds();
    let Some(pressed) = &place.pressed else { return typed_marks(filled, place.marks()) };
    kinds.push(answer(BY_MISTAKE.0, BY_MISTAKE.1.to_owned()));
    html! {
        @if pressed.timing.marks.is_empty() { p { "No mark was pressed." } }
        @for (mark, nth) in pressed.timing.marks.iter().zip(1..) {
            @let at = tenths(mark.at);
            (filled.one_of(field(&format!("mark-{nth}"), &format!("What was it at {at}?"), ""), &kinds))
            (filled.line(field(&format!("mark-{nth}-words"), &format!("At {at}, in words (optional)"), "")))
        }
    }
}

fn layer(place: &Place, filled: Filled<'_>) -> Markup {
    html! {
        (filled.one_of(field("layer", "The layer below", ""), &outcomes()))
        @if place.layer_pressed() {
            p { "When it was out was pressed at the bench." }
        } @else {
            (ending(filled, "surroundings", "Flames or glow of the layer and the surroundings"))
        }
    }
}

fn specimen(filled: Filled<'_>) -> Markup {
    let burnt: Vec<Answer<'_>> =
        Burnt::ALL.iter().map(|it| answer(it.word(), it.word().to_owned())).collect();
    html! {
        (filled.one_of(field("burnt", "How much of it burnt?", ""), &burnt))
        (filled.number(field("damaged-length", "Damaged length, in mm (optional)", "Needed where the plan's rules limit it.")))
        (filled.number(field("damaged-uncertainty", "Its standard uncertainty, in mm (optional)", "")))
        (filled.number(field("temperature", "Temperature of the air, in °C", "")))
        (filled.number(field("humidity", "Relative humidity of the air, in %", "")))
    }
}

fn unusual(hours_later: Option<f64>, filled: Filled<'_>) -> Markup {
    html! {
        @if let Some(hours) = hours_later {
            (filled.line(field(WHY_LATER, &format!("Why is it written {hours:.0} h after the flame?"), "The reason stays in the record and prints on the report.")))
        }
        (filled.words(field("note", "Anything unusual (optional)", "")))
        (filled.line(field("spoilt", "If the specimen is spoilt: why (optional)", "A spoilt specimen is replaced, not judged.")))
    }
}

fn spoilt(filled: Filled<'_>) -> Markup {
    filled.words(field(
        "spoilt",
        "What happened?",
        "A spoilt specimen is replaced, not judged. What was pressed stays in the record.",
    ))
}

/// Marks that are typed, each with its time.
fn typed_marks(filled: Filled<'_>, count: usize) -> Markup {
    let mut kinds = kinds();
    kinds.insert(0, answer("", "Nothing".to_owned()));
    html! {
        p { "Leave the time empty where there was nothing more." }
        @for nth in 1..=count {
            (filled.number(field(&format!("mark-{nth}-at"), &format!("Mark {nth}, in seconds (optional)"), "")))
            (filled.pick(field(&format!("mark-{nth}"), &format!("What was mark {nth}?"), ""), &kinds))
            (filled.line(field(&format!("mark-{nth}-words"), &format!("Mark {nth} in words (optional)"), "")))
        }
    }
}

/// All that was seen of a specimen, to be corrected: so many applications, so many marks.
pub(in crate::web::page) fn again(
    filled: Filled<'_>,
    (applications, marks): (usize, usize),
) -> Markup {
    html! {
        h2 { "Times" }
        (filled.line(field("began", "When did the first flame touch it?", "Date and time in UTC, such as 2026-11-25 09:40.")))
        @for nth in 1..=applications {
            @if nth > 1 {
                (filled.number(field(&format!("on-{nth}"), &format!("Flame {nth} on specimen, in seconds"), "")))
            }
            (filled.number(field(&format!("removed-{nth}"), &format!("Flame {nth} removed, in seconds"), "")))
        }
        (ending(filled, "flames", "Flames after the last removal"))
        (ending(filled, "glow", "Glow after the flames"))
        h2 { "Layer, specimen and air" }
        (filled.one_of(field("layer", "The layer below", ""), &outcomes()))
        (ending(filled, "surroundings", "Flames or glow of the layer and the surroundings"))
        (specimen(filled))
        (unusual(None, filled))
        h2 { "Marks" }
        (typed_marks(filled, marks))
    }
}

fn outcomes() -> Vec<Answer<'static>> {
    LayerOutcome::ALL.iter().map(|it| answer(it.word(), shown::layer(*it).to_owned())).collect()
}
