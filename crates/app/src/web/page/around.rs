//! Around the flame: gas, purge and smoke, worked out from what is typed. A guide that keeps nothing.

use axum::Json;
use axum::extract::{Query, State};
use axum::http::StatusCode;
use axum::response::{IntoResponse as _, Response};
use axum::routing::get;
use maud::{Markup, html};
use metrology::{Duration, Length, Mass, Ratio, Temperature};
use serde::{Deserialize, Serialize};
use trial::around::{Chamber, Gas, Smoke};
use utoipa::{IntoParams, ToSchema};
use utoipa_axum::router::OpenApiRouter;
use utoipa_axum::routes;

use super::help;
use crate::form::fields::{Answer, Field, Filled, Typed, Wrong};
use crate::form::number::{self, CELSIUS, Kind, MILLIMETRES, PERCENT};
use crate::problem::Problem;
use crate::step::around::{self, Flame, GUIDE, Told};
use crate::web::answer::{ProblemDocument, Refused, RefusedTwin, sentence};
use crate::web::asked::Given;
use crate::web::site::{Person, Shown, Site};
use crate::web::upload;

const GRAMS: Kind = Kind { unit: "g", also: &[("kg", 1000)], least: 0, most: 100_000 };
const HOURS: Kind = Kind { unit: "h", also: &[], least: 0, most: 100_000 };
const CUBIC_METRES: Kind = Kind { unit: "m³", also: &[("m3", 1)], least: 0, most: 1000 };
const EACH_HOUR: Kind = Kind { unit: "m³/h", also: &[("m3/h", 1)], least: 0, most: 1_000_000 };
const TIMES: Kind = Kind { unit: "times", also: &[], least: 1, most: 10 };

/// What is typed; what is left out stands as it is usual.
#[derive(Deserialize, Serialize, IntoParams)]
#[into_params(parameter_in = Query)]
#[serde(default, deny_unknown_fields)]
struct Asked {
    /// butane or propane
    gas: String,
    /// The flame's height in mm
    height: String,
    /// The room's temperature in °C
    room: String,
    /// What the cartridge held when it was new, in g
    cartridge: String,
    /// How many hours the flame has burnt from it
    burnt: String,
    /// The chamber's volume in m³
    chamber: String,
    /// What the extraction takes out, in m³/h
    extraction: String,
    /// The allowance for air that does not mix, from 1 to 10
    mixing: String,
    /// What may be left of the smoke, in %
    left: String,
    /// The material that burns
    material: String,
    /// How much of it burns, in g
    mass: String,
}

impl Default for Asked {
    fn default() -> Self {
        let text = str::to_owned;
        Self {
            gas: text("butane"),
            height: text("12"),
            room: text("23"),
            cartridge: String::new(),
            burnt: String::new(),
            chamber: String::new(),
            extraction: String::new(),
            mixing: around::mixing(None).map_or_else(|_| String::new(), |usual| usual.to_string()),
            left: text("1"),
            material: String::new(),
            mass: text("1"),
        }
    }
}

/// What is worked out.
#[derive(Serialize, ToSchema)]
struct AroundSheet {
    /// What it is worth.
    guide: &'static str,
    /// The flame's gas, and its cartridge.
    flame: Told,
    /// How long to purge, where a chamber and its extraction are given.
    purge: Option<Told>,
    /// What the smoke may hold, where a material and a chamber are given.
    smoke: Option<Told>,
}

/// The routes.
pub(super) fn routes() -> OpenApiRouter<Site> {
    OpenApiRouter::new().route("/flame/around", get(page)).routes(routes!(twin))
}

async fn page(
    State(site): State<Site>,
    person: Person,
    Given(Query(asked)): Given<Query<Asked>>,
) -> Result<Response, Refused> {
    let typed = upload::typed(&asked);
    let (sheet, wrong) = match worked_out(&typed) {
        Ok(sheet) => (Some(sheet), Vec::new()),
        Err(wrong) => (None, wrong),
    };
    let status = if wrong.is_empty() { StatusCode::OK } else { StatusCode::UNPROCESSABLE_ENTITY };
    let filled = Filled { typed: &typed, wrong: &wrong };
    let show = |(): &()| Shown {
        title: filled.title("Around the flame"),
        heading: "Around the flame".to_owned(),
        main: main(sheet.as_ref(), filled),
    };
    let page = site.show(person, "/flame", |_| Ok(()), show).await?;
    Ok((status, page).into_response())
}

/// Gas, purge and smoke around the flame: a guide
#[utoipa::path(get, path = "/api/flame/around", params(Asked), responses(
    (status = 200, body = AroundSheet),
    (status = "default", body = ProblemDocument, content_type = "application/problem+json"),
))]
async fn twin(
    _person: Person,
    Given(Query(asked)): Given<Query<Asked>>,
) -> Result<Json<AroundSheet>, RefusedTwin> {
    let sheet = worked_out(&upload::typed(&asked));
    Ok(Json(sheet.map_err(|wrong| Refused::from(upload::refused(&wrong)))?))
}

/// Numbers as they were typed; what is wrong with them gathers.
struct Read<'t> {
    typed: &'t Typed,
    wrong: Vec<Wrong>,
}

impl Read<'_> {
    fn number(&mut self, (field, what): (&str, &str), kind: &Kind) -> Option<f64> {
        let text = self.typed.text(field);
        match number::read(text, kind) {
            Ok(number) => Some(number.value()),
            Err(fault) => {
                self.wrong.push(Wrong::new(field, fault.words(what, text, kind)));
                None
            }
        }
    }

    /// Of several fields that go together: nothing where none of them is filled.
    fn filled(&self, fields: &[&str]) -> bool {
        fields.iter().any(|field| !self.typed.text(field).is_empty())
    }

    fn told(&mut self, field: &str, told: Result<Told, Problem>) -> Option<Told> {
        told.map_err(|problem| self.wrong.push(Wrong::new(field, sentence(&problem.text)))).ok()
    }
}

fn worked_out(typed: &Typed) -> Result<AroundSheet, Vec<Wrong>> {
    let mut read = Read { typed, wrong: Vec::new() };
    let flame = flame(&mut read);
    let chamber = (read.filled(&["chamber", "extraction", "material"]))
        .then(|| read.number(("chamber", "The chamber's volume"), &CUBIC_METRES))
        .flatten();
    let purge = chamber.and_then(|chamber| purge(&mut read, chamber));
    let smoke = chamber.and_then(|chamber| smoke(&mut read, chamber));
    match flame {
        Some(flame) if read.wrong.is_empty() => {
            Ok(AroundSheet { guide: GUIDE, flame, purge, smoke })
        }
        _ => Err(read.wrong),
    }
}

fn flame(read: &mut Read<'_>) -> Option<Told> {
    let gas = Gas::of_word(read.typed.text("gas"));
    if gas.is_none() {
        read.wrong.push(Wrong::new("gas", "Choose the gas: butane or propane."));
    }
    let height = read.number(("height", "The flame's height"), &MILLIMETRES);
    let room = read.number(("room", "The room's temperature"), &CELSIUS);
    let cartridge = if read.filled(&["cartridge", "burnt"]) {
        let held = read.number(("cartridge", "What the cartridge held"), &GRAMS);
        let burnt = read.number(("burnt", "How long the flame has burnt"), &HOURS);
        let hours = |hours: f64| Duration::from_seconds(hours * 3600.0);
        Some((Mass::from_grams(held?), hours(burnt?)))
    } else {
        None
    };
    let flame = Flame {
        gas: gas?,
        height: Length::from_millimetres(height?),
        room: Temperature::from_celsius(room?),
        cartridge,
    };
    read.told("height", around::flame(&flame))
}

fn purge(read: &mut Read<'_>, cubic_metres: f64) -> Option<Told> {
    if !read.filled(&["extraction"]) {
        return None;
    }
    let extraction = read.number(("extraction", "The extraction"), &EACH_HOUR);
    let mixing = read.number(("mixing", "The allowance for mixing"), &TIMES);
    let left = read.number(("left", "What may be left"), &PERCENT);
    let chamber = Chamber { cubic_metres, cubic_metres_each_hour: extraction?, mixing: mixing? };
    read.told("extraction", around::purge(chamber, Ratio::from_percent(left?)))
}

fn smoke(read: &mut Read<'_>, cubic_metres: f64) -> Option<Told> {
    if !read.filled(&["material"]) {
        return None;
    }
    let burnt = read.number(("mass", "How much of it burns"), &GRAMS)?;
    let material = read.typed.text("material").to_owned();
    let smoke = Smoke { material: &material, burnt: Mass::from_grams(burnt), cubic_metres };
    read.told("material", around::smoke(smoke))
}

fn main(sheet: Option<&AroundSheet>, filled: Filled<'_>) -> Markup {
    let part = |heading: &str, told: Option<&Told>| {
        html! {
            @if let Some(told) = told {
                h2 { (heading) }
                dl.said { @for line in &told.lines { dt { (line.what) } dd { (line.value) } } }
                @for words in &told.words { p { (words) } }
            }
        }
    };
    html! {
        (filled.summary())
        p.sentence { (GUIDE) }
        @if let Some(sheet) = sheet {
            (part("The flame's gas", Some(&sheet.flame)))
            (part("Until the door is opened", sheet.purge.as_ref()))
            (part("What the smoke may hold", sheet.smoke.as_ref()))
        }
        h2 { "What it is worked out from" }
        form method="get" action="/flame/around" novalidate {
            (fields(filled))
            button type="submit" { "Work it out" }
        }
        p { "The numbers and their sources stand in the manual under Safety. Nothing is kept." }
        (help::way("flame"))
    }
}

fn fields(filled: Filled<'_>) -> Markup {
    let number = |name, label, hint| filled.number(Field { name, label, hint });
    let gases = [
        Answer { value: "butane", label: "Butane".to_owned() },
        Answer { value: "propane", label: "Propane".to_owned() },
    ];
    html! {
        (filled.one_of(Field { name: "gas", label: "Gas", hint: "" }, &gases))
        (number("height", "The flame's height", "In mm."))
        (number("room", "The room's temperature", "In °C."))
        (number("cartridge", "What the cartridge held when it was new (optional)", "In g."))
        (number("burnt", "How long the flame has burnt from it (optional)", "In hours."))
        (number("chamber", "The chamber's volume (optional)", "In m³."))
        (number("extraction", "What the extraction takes out (optional)",
            "In m³/h, measured."))
        (number("mixing", "Allowance for air that does not mix",
            "1 where all of it mixes; 3 to 10 is usual."))
        (number("left", "What may be left of the smoke", "In %."))
        (filled.line(Field {
            name: "material", label: "The material that burns (optional)",
            hint: "Such as PVC or PA 66.",
        }))
        (number("mass", "How much of it burns", "In g."))
    }
}
