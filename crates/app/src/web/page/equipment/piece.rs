//! One piece of equipment: its calibrations with their certificates, and where it is used.

use axum::Json;
use axum::extract::{Path, State};
use axum::routing::get;
use maud::{Markup, html};
use serde::Serialize;
use trial::fact::{Calibration, Equipment, EquipmentKind, Fact};
use trial::history::History;
use trial::number::EquipmentNumber;
use utoipa::ToSchema;
use utoipa_axum::router::OpenApiRouter;
use utoipa_axum::routes;

use crate::book::OpenBook;
use crate::problem::Problem;
use crate::web::answer::{ProblemDocument, Refused, RefusedTwin};
use crate::web::asked::Given;
use crate::web::download::encoded;
use crate::web::site::{Person, Shown, Site};

use super::{Piece, piece_of, state};

/// So many of the plans that name a piece are shown.
const PLANS: usize = 30;

/// One piece of equipment.
#[derive(Serialize, ToSchema)]
struct One {
    /// The piece.
    piece: Piece,
    /// Its calibrations, the last one first.
    calibrations: Vec<Calibrated>,
    /// What a copper block weighs, in words; none of other pieces.
    weighs: Option<String>,
    /// The plans that name it, the last ones first, at most 30.
    plans: Vec<u32>,
}

/// One calibration.
#[derive(Serialize, ToSchema)]
struct Calibrated {
    /// The certificate's number.
    certificate: String,
    /// Who calibrated.
    by: String,
    /// On which day.
    on: String,
    /// The last day it holds.
    due: String,
    /// What the certificate says.
    result: String,
    /// The entry of the record.
    entry: u64,
    /// The certificate's file: its SHA-256.
    file: Option<String>,
}

/// The routes.
pub(super) fn routes() -> OpenApiRouter<Site> {
    OpenApiRouter::new().route("/equipment/{mark}", get(page)).routes(routes!(twin))
}

async fn page(
    State(site): State<Site>,
    person: Person,
    Given(Path(mark)): Given<Path<String>>,
) -> Result<Markup, Refused> {
    let number = known(&site, mark).await?;
    let show =
        |one: &One| Shown::under(format!("{}, {}", one.piece.mark, one.piece.kind), main(one));
    site.show(person, "/equipment", move |book| look(book, &number), show).await
}

/// One piece of equipment
#[utoipa::path(get, path = "/api/equipment/{mark}",
    params(("mark" = String, Path, description = "Its mark")), responses(
    (status = 200, body = One),
    (status = "default", body = ProblemDocument, content_type = "application/problem+json"),
))]
async fn twin(
    State(site): State<Site>,
    _person: Person,
    Given(Path(mark)): Given<Path<String>>,
) -> Result<Json<One>, RefusedTwin> {
    let number = known(&site, mark).await?;
    Ok(Json(site.read(move |book| look(book, &number)).await?))
}

/// A piece that is registered.
async fn known(site: &Site, mark: String) -> Result<EquipmentNumber, Refused> {
    let number = EquipmentNumber(mark);
    let asked = number.clone();
    if site.read(move |book| Ok(book.history().equipment(&asked).is_some())).await? {
        return Ok(number);
    }
    Err(Refused::not_found(
        Problem::used_wrongly(format!("no equipment {number} is registered"))
            .hint("Choose a piece under Equipment."),
    ))
}

fn look(book: &OpenBook, number: &EquipmentNumber) -> Result<One, Problem> {
    let (history, today) = (book.history(), book.now()?.day());
    let gone = || Problem::used_wrongly(format!("no equipment {number} is registered"));
    let registered = history.equipment(number).ok_or_else(gone)?;
    let naming: Vec<u32> = history
        .plans()
        .filter(|plan| {
            history.plan(*plan).is_some_and(|plan| plan.draft().equipment.contains(number))
        })
        .map(|plan| plan.0)
        .collect();
    let used = naming.last().map(|last| (naming.len(), *last));
    let mut calibrations = calibrations(history, number);
    calibrations.sort_by(|one, other| other.on.cmp(&one.on));
    Ok(One {
        piece: piece_of(history, registered, today, used),
        calibrations,
        weighs: weighs(history, registered),
        plans: naming.into_iter().rev().take(PLANS).collect(),
    })
}

/// What a copper block weighs.
fn weighs(history: &History, piece: &Equipment) -> Option<String> {
    if piece.kind != EquipmentKind::CopperBlock {
        return None;
    }
    Some(match history.weighing(&piece.number) {
        None => "not recorded; the block that the method describes is taken".to_owned(),
        Some(weighed) => {
            let area =
                weighed.area.map_or_else(String::new, |area| format!("; its surface is {area}"));
            format!("{} ± {}{area}", weighed.mass.value, weighed.mass.uncertainty)
        }
    })
}

/// Its calibrations as they hold, with the entries that record them.
fn calibrations(history: &History, number: &EquipmentNumber) -> Vec<Calibrated> {
    let of_it = |fact: &Fact| {
        let Fact::CalibrationRecorded(it) = fact else { return None };
        (it.equipment == *number).then(|| it.clone())
    };
    let recorded = history.entries().iter().filter(|entry| of_it(&entry.fact).is_some());
    recorded
        .filter_map(|entry| {
            let holds = match history.corrections(entry.entry).last() {
                None => of_it(&entry.fact),
                Some(correction) => correction.fact.as_ref().and_then(of_it),
            };
            holds.map(|calibration| calibrated(entry.entry.0, calibration))
        })
        .collect()
}

fn calibrated(entry: u64, it: Calibration) -> Calibrated {
    Calibrated {
        certificate: it.certificate,
        by: it.by,
        on: it.on.to_string(),
        due: it.due.to_string(),
        result: it.result,
        entry,
        file: it.evidence.map(|file| file.hash.to_string()),
    }
}

fn main(one: &One) -> Markup {
    let mark = encoded(&one.piece.mark);
    html! {
        dl {
            dt { "What it is" } dd { (one.piece.description) }
            dt { "Calibration" } dd { (state(&one.piece)) }
            @if let Some(weighs) = &one.weighs { dt { "Weighs" } dd { (weighs) } }
        }
        p {
            a.button href={ "/calibration?piece=" (mark) } { "Record a calibration" } " "
            @if one.weighs.is_some() {
                a.button.second href={ "/weighing?piece=" (mark) } { "Record a weighing" } " "
            }
            a.button.second href={ "/withdraw?piece=" (mark) } { "Take out of service" }
        }
        h2 { "Calibrations" }
        @if one.calibrations.is_empty() { p { "None is recorded." } }
        @else { (table(&one.calibrations)) }
        h2 { "Where used" }
        @if one.plans.is_empty() { p { "No plan names it yet." } }
        @else {
            p {
                (one.piece.plans) " of the plans name it"
                @if one.piece.plans > one.plans.len() { ", the last ones" } ": "
                @for (place, plan) in one.plans.iter().enumerate() {
                    @if place > 0 { ", " }
                    a href={ "/plans/" (plan) } { "P-" (plan) }
                }
            }
        }
        p.onward { a href={ "/record?thing=" (mark) } { "All entries that speak of it" } }
    }
}

fn table(calibrations: &[Calibrated]) -> Markup {
    html! {
        div.wide role="region" aria-label="Calibrations" tabindex="0" {
            table {
                thead { tr {
                    th { "On" } th { "Holds till" } th { "By" } th { "Certificate" } th { "Result" }
                    th { "Entry" }
                } }
                tbody { @for it in calibrations {
                    tr {
                        td.moment { (it.on) }
                        td.moment { (it.due) }
                        td { (it.by) }
                        td {
                            @match &it.file {
                                Some(file) => a href={ "/record/" (it.entry) "/evidence/" (file) } {
                                    (it.certificate)
                                },
                                None => (it.certificate),
                            }
                        }
                        td { (it.result) }
                        td { a href={ "/record/" (it.entry) } { (it.entry) } }
                    }
                } }
            }
        }
    }
}
