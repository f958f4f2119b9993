//! The enrolled devices as Set up shows them, and whether the bench opens on these alone.

use maud::{Markup, html};
use serde::Serialize;
use utoipa::ToSchema;

use super::{act, moment};
use crate::web::access::Device;
use crate::web::page::shown;

/// An enrolled device.
#[derive(Serialize, ToSchema)]
pub(super) struct EnrolledDevice {
    /// What it is called.
    name: String,
    /// Who enrolled it.
    enrolled_by: String,
    /// When.
    enrolled: String,
    /// The last request of a sign-in on it, to the minute.
    last_seen: Option<String>,
}

impl From<Device> for EnrolledDevice {
    fn from(device: Device) -> Self {
        Self {
            name: device.name,
            enrolled_by: device.by,
            enrolled: moment(device.since),
            last_seen: device.seen.map(moment),
        }
    }
}

/// The section; its list and its buttons for who looks after people alone.
pub(super) fn main(devices: &[EnrolledDevice], (asked, mine): (bool, bool)) -> Markup {
    html! {
        h2 #devices { "Devices" }
        p {
            "At the bench the second factor is the device: a key that its browser made and keeps. "
            @if asked { "The bench opens on enrolled devices alone." }
            @else { "The bench opens on any device." }
        }
        @if mine {
            @if devices.is_empty() { p { "None is enrolled." } }
            @else { (shown::wide("Devices", &table(devices))) }
            p.hint {
                "A device is enrolled on itself: sign in there, and open " a href="/device" { "This device" }
                ". Who ends one ends its sign-ins and bench passes with it, at once."
            }
            @if asked { (act("any-device", &[], "Open the bench on any device", "")) }
            @else if !devices.is_empty() {
                (act("enrolled-devices", &[], "Open the bench on enrolled devices alone", ""))
            }
        }
    }
}

fn table(devices: &[EnrolledDevice]) -> Markup {
    html! {
        table {
            thead { tr { th scope="col" { "Name" } th scope="col" { "Enrolled by" }
                th scope="col" { "Enrolled" } th scope="col" { "Last seen" }
                th scope="col" { "Act" } } }
            tbody { @for it in devices { tr {
                td { (it.name) }
                td { (it.enrolled_by) }
                td.moment { (it.enrolled) }
                td.moment { (it.last_seen.as_deref().unwrap_or("–")) }
                td { (act("end-device", &[("device", &it.name)], "End", &it.name)) }
            } } }
        }
    }
}
