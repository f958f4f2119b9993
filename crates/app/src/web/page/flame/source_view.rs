//! The questions about a source.

use maud::{Markup, html};
use trial::readiness::CAUTIONS;

use super::bring::pick_class;
use super::offered::pick_plan;
use super::run::RunSheet;
use super::settings;
use super::source::KINDS;
use crate::form::fields::{Answer, Field, Filled as Form, Typed, Wrong};
use crate::web::live::Instruments;

/// The fields of the first page; what it says is carried through the second.
pub(super) const FIRST: [&str; 6] = ["plan", "other", "source", "height", "class", "cautions"];

/// What can be practised.
pub(super) const FAULTS: [(&str, &str); 9] = [
    ("", "Nothing"),
    ("open-circuit", "The wire opens on the way up"),
    ("no-rise", "The wires touch near the instrument"),
    ("reversed", "Plus and minus are swapped"),
    ("wrong-type", "The instrument is set to another type"),
    ("stuck", "The reading stands still for a while"),
    ("spikes", "Some readings are far off"),
    ("noise", "The readings scatter"),
    ("gap", "Readings stay away near the top"),
];

/// The words of a kind of source.
pub(super) fn words(kind: &str) -> &'static str {
    KINDS.iter().find(|(known, _)| *known == kind).map_or("The source", |(_, words)| words)
}

/// Offers what was answered the last time, or what is mostly answered. In a made-up book nobody
/// waits for a made-up block to cool.
pub(super) fn offer(typed: &mut Typed, last: &Instruments, made_up: bool) {
    let kind = typed.text("source").to_owned();
    settings::offer(typed, last.settings(&kind));
    typed.put("seed", "1");
    typed.put("speed", if made_up { "10" } else { "1" });
}

const fn field<'a>(name: &'a str, label: &'a str, hint: &'a str) -> Field<'a> {
    Field { name, label, hint }
}

/// For which plan, with what, and the cautions.
pub(super) fn first(sheet: &RunSheet, form: Form<'_>) -> Markup {
    let kinds = KINDS.map(|(value, words)| Answer { value, label: words.to_owned() });
    let read = [Answer { value: "read", label: "I have read them".to_owned() }];
    html! {
        (form.summary())
        @if let Some(said) = &sheet.interrupted { p.abnormal { "◆ " (said) } }
        @if sheet.plans.plans.is_empty() {
            p { "No plan was found ready; the flame is confirmed for one. "
                a href="/plans" { "Look at the plans" } "." }
        } @else {
            form method="get" action="/flame/source" novalidate {
                h2 { "Cautions" }
                ul { @for caution in CAUTIONS { li { (caution) } } }
                (form.any_of(field("cautions", "The cautions before the first flame", ""), &read))
                (pick_plan(form, &sheet.plans))
                (form.one_of(field("source", "What is read?", "The server reads it, and goes on when this page is closed."), &kinds))
                (pick_class(form))
                (form.number(field("height", "Height of the flame, in mm (optional)", "By the gauge, where it was measured.")))
                button { "Continue" }
            }
        }
        p.onward { a href="/flame/bring" { "Without a live reading: bring in a file" } }
        p.onward { a href="/flame/type" { "Without a recording: type the two times" } }
    }
}

/// The particulars of the source that was chosen.
pub(super) fn second(form: Form<'_>) -> Markup {
    let kind = form.typed.text("source");
    let faults = FAULTS.map(|(value, words)| Answer { value, label: words.to_owned() });
    let speed = field(
        "speed",
        "Speed, times real time",
        "1 is real time. A rise time is the same at any speed.",
    );
    let channel = field(
        "channel",
        "Which channel is the block? (optional)",
        "Needed where there are several.",
    );
    let terminals = field(
        "terminals",
        "Temperature at the instrument's terminals, in °C (optional)",
        "By a thermometer beside them, while the block rests at it too: a block that reads \
         otherwise tells of another thermocouple type.",
    );
    let room = field(
        "room",
        "Temperature of the room, in °C (optional)",
        "Read beside the block. Where it is not stated, a usual one is taken.",
    );
    html! {
        (form.summary())
        form method="post" action="/flame/source" enctype="multipart/form-data" novalidate {
            @for name in FIRST { input type="hidden" name=(name) value=(form.typed.text(name)); }
            @match kind {
                "practice" => {
                    p { "A made-up thermocouple in a made-up block: for practice, and no measurement." }
                    (form.number(field("seed", "Seed of the noise", "The same seed gives the same readings.")))
                    (form.pick(field("fault", "What is practised?", ""), &faults))
                    (form.number(terminals))
                    (form.number(room))
                    (form.number(speed))
                }
                "replay" => {
                    p { "Its readings are shown as if they were measured now. To record a determination from a logger's file, "
                        a href="/flame/bring" { "bring it in" } "." }
                    (file(form))
                    (form.line(channel))
                    (form.number(speed))
                }
                _ => {
                    p { "What is set here is offered again the next time." }
                    (settings::fields(form))
                    h2 { "Before the first heating" }
                    (form.number(terminals))
                    (form.number(room))
                }
            }
            button { "Begin" }
        }
        p.onward { a href="/flame/run" { "Back" } }
    }
}

/// The file to play again; one that came before is kept by its hash.
fn file(form: Form<'_>) -> Markup {
    let filed = form.typed.text("file");
    let wrong: Vec<&Wrong> = form.wrong.iter().filter(|wrong| wrong.field == "file").collect();
    html! {
        div.field.wrong[!wrong.is_empty()] {
            label for="file" { "The file" }
            p.hint #file-hint { "A table of text (CSV), one row a reading." }
            @for wrong in &wrong { p.wrong-words { span.apart { "Error: " } (wrong.words) } }
            @if !filed.is_empty() && wrong.is_empty() {
                p { "Kept: " (filed.split_once(' ').map_or(filed, |(_, name)| name)) }
                input type="hidden" name="file" value=(filed);
            }
            input #file type="file" name="file" accept=".csv,.txt,.tsv,.dat,.log"
                aria-describedby="file-hint";
        }
    }
}
