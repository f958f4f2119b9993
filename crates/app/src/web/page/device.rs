//! This device: what it must have before the bench, and whether it is enrolled. What it has its browser alone
//! can tell; its scripts fill the list in.

use axum::Json;
use axum::extract::State;
use axum::routing::get;
use maud::{Markup, html};
use serde::Serialize;
use trial::clocks::clocks;
use trial::person::{Act, Role};
use utoipa::ToSchema;
use utoipa_axum::router::OpenApiRouter;
use utoipa_axum::routes;

use crate::book::{OpenBook, moment_now};
use crate::clock;
use crate::problem::Problem;
use crate::web::answer::{ProblemDocument, Refused, RefusedTwin};
use crate::web::site::{InSession, Person, Place, Site};

/// Where it says whether it is enrolled.
pub(in crate::web) const ENROLMENT: &str = "/device#enrolment";

/// Each line: its name, what it is for, and what to do where it is not in order.
const LINES: [(&str, &str, &str); 9] = [
    (
        "Secure page",
        "Film, a screen that stays on and a reload without network need an enciphered page.",
        "Trust the book's certificate, three steps, and open the book again by its https address.",
    ),
    (
        "Presses stay kept",
        "Each press is on this device before it is shown, until the record has it.",
        "Give the page the right to keep: add it to the home screen, or keep private windows closed.",
    ),
    (
        "Room",
        "Presses take little; a film takes much more.",
        "Take old films and pictures off this device.",
    ),
    (
        "Clock",
        "Durations do not use the calendar; when something was done does.",
        "Let this device set its date and time from the network, then open this page again.",
    ),
    (
        "Screen stays on",
        "Sounds and switch work in the dark also when the screen goes off.",
        "Switch power saving off, and keep this page in sight.",
    ),
    ("Battery", "A test must not end with it.", "Charge this device."),
    (
        "Sound",
        "The ear tells when the flame is removed: three ticks, then a long tone.",
        "Turn the volume up; use the built-in loudspeaker, not one without a wire: it is late.",
    ),
    (
        "Switch",
        "One press of a foot switch or presenter is one press at the bench. Keys and screen work too.",
        "Connect it, press it once; where nothing happens, teach it.",
    ),
    (
        "Camera",
        "A film is evidence beside the presses; without one the test is as good.",
        "Allow the camera when the browser asks, or go on without.",
    ),
];

/// The routes.
pub(super) fn routes() -> OpenApiRouter<Site> {
    OpenApiRouter::new().route("/device", get(page)).routes(routes!(now))
}

/// What the book's clock shows.
#[derive(Serialize, ToSchema)]
struct Clock {
    /// Microseconds since 1970 began, in UTC.
    server_us: i64,
}

/// What the book's clock shows
#[utoipa::path(get, path = "/api/clock", responses(
    (status = 200, body = Clock),
    (status = "default", body = ProblemDocument, content_type = "application/problem+json"),
))]
async fn now() -> Result<Json<Clock>, RefusedTwin> {
    let now = moment_now().map_err(Refused::from)?;
    Ok(Json(Clock { server_us: now.unix_microseconds() }))
}

/// From where on a device's clock is noted, and from where on it is wrong, in seconds. A clock of this
/// machine that is held still is held against no device.
pub(super) fn clock_bounds() -> Option<String> {
    let (noted, wrong) = (clocks().noted.seconds(), clocks().wrong.seconds());
    (!clock::is_held()).then(|| format!("{noted} {wrong}"))
}

/// Lets a form say what the clock of the device shows when it is sent, as far as that is looked at.
pub(super) fn clock_shown() -> Markup {
    html! {
        @if !clock::is_held() {
            input type="hidden" name="device_clock";
            script type="module" src="/assets/device/shown.js" {}
        }
    }
}

/// Whether this device is enrolled, and who does it.
struct Enrolled {
    /// What it is called.
    as_: Option<String>,
    /// Whether the bench opens on enrolled devices alone.
    asked: bool,
    /// Whether who asks may enrol it.
    mine: bool,
    /// Who may.
    by: Vec<String>,
}

async fn page(
    State(site): State<Site>,
    person: Person,
    InSession(word): InSession,
) -> Result<Markup, Refused> {
    let own = site.authority().is_some();
    let place = Place { here: "/device", heading: "This device" };
    let (who, access) = (person.0.clone(), site.access());
    let (as_, asked) = (access.device_of(&word), access.asks_device());
    let look = move |book: &OpenBook| -> Result<Enrolled, Problem> {
        let history = book.history();
        let by = history.holders(Role::Administrator).map(|it| it.0.clone()).collect();
        Ok(Enrolled { as_, asked, mine: history.may_do(&who, Act::LookAfterPeople).is_ok(), by })
    };
    site.page(person, place, look, |enrolled| main(own, enrolled)).await
}

fn main(own_authority: bool, enrolled: &Enrolled) -> Markup {
    html! {
        script type="module" src="/assets/device/page.js" {}
        noscript {
            p { strong { "Scripts are switched off, or cannot run: nothing below was looked at. " }
                "The bench needs them too. Without them the times can be typed on the specimen's page." }
        }
        @if own_authority {
            p { a href="/device/certificate" { "Trust this book on this device" } ": three steps, once." }
        }
        ul #device.checks data-clock-noted-seconds=(clocks().noted.seconds()) {
            @for (name, why, way_out) in LINES {
                li data-line=(name) tabindex="-1" {
                    p.standing { span.sign aria-hidden="true" { "○" } " " (name) ": not looked at" }
                    p.hint { (why) }
                    p.way-out { (way_out) }
                    div.acts {}
                }
            }
        }
        p #told role="status" {}
        p { a.button #ready href="/bench" { "Everything is ready" } }
        (enrolment(enrolled))
    }
}

/// Whether the book knows this device, and how it comes to.
fn enrolment(enrolled: &Enrolled) -> Markup {
    html! {
        h2 #enrolment { "Enrolment" }
        @if let Some(name) = &enrolled.as_ {
            p { "You signed in on this device, which is enrolled as " strong { (name) } "." }
        } @else {
            p {
                "Your sign-in is on no enrolled device. "
                @if enrolled.asked { "The bench opens on enrolled devices alone. " }
                "On one that is enrolled, sign out and in again."
            }
            @if enrolled.mine {
                script type="module" src="/assets/device/enrol.js" {}
                form #enrol hidden novalidate {
                    div.field {
                        label for="device-name" { "What is this device called?" }
                        p.hint #device-name-hint {
                            "As it is labelled. Its browser makes a key and keeps it; the key leaves it never."
                        }
                        input #device-name name="name" autocomplete="off" spellcheck="false"
                            aria-describedby="device-name-hint";
                    }
                    button.second { "Enrol this device" }
                }
                p #enrol-told role="alert" {}
            } @else {
                p { strong { (enrolled.by.join(" or ")) } " enrols it, signed in on this page." }
            }
        }
    }
}
