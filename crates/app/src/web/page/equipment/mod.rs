//! Equipment: what is tested with, till when each calibration holds, where each piece is used.

mod piece;
mod acts;

use std::collections::BTreeMap;

use axum::Json;
use axum::extract::State;
use axum::routing::get;
use jiff::civil::Date;
use maud::{Markup, html};
use serde::Serialize;
use trial::fact::{CalibrationNeed, Equipment as Registered, LotKind};
use trial::history::History;
use trial::number::EquipmentNumber;
use utoipa::ToSchema;
use utoipa_axum::router::OpenApiRouter;
use utoipa_axum::routes;

use crate::book::OpenBook;
use crate::problem::Problem;
use crate::web::answer::{ProblemDocument, Refused, RefusedTwin};
use crate::web::download::encoded;
use crate::web::page::when;
use crate::web::site::{Person, Place, Site};

/// So many lots that are used up are shown.
const OLD_LOTS: usize = 20;

const PLACE: Place = Place { here: "/equipment", heading: "Equipment" };

/// What is tested with.
#[derive(Serialize, ToSchema)]
struct Equipment {
    /// The pieces, by mark.
    pieces: Vec<Piece>,
    /// Lots, newest first; the first of each kind is the one in use.
    lots: Vec<Lot>,
}

/// A piece of equipment.
#[derive(Serialize, ToSchema)]
pub(super) struct Piece {
    /// The laboratory's mark.
    mark: String,
    /// What kind it is.
    kind: String,
    /// What it is.
    description: String,
    /// How it stands, in words.
    state: String,
    /// The last day its calibration holds.
    holds_till: Option<String>,
    /// Whether it may be tested with today.
    usable: bool,
    /// How many plans name it.
    plans: usize,
    /// The last plan that names it.
    last_plan: Option<u32>,
}

/// A lot of gas, tissue or board.
#[derive(Serialize, ToSchema)]
struct Lot {
    /// The laboratory's mark.
    mark: String,
    /// What it is of.
    kind: String,
    /// What it is.
    description: String,
    /// When it was opened, in UTC.
    opened: String,
    /// Whether it is the one in use.
    in_use: bool,
    #[serde(skip)]
    shown_opened: String,
}

/// The routes.
pub(super) fn routes() -> OpenApiRouter<Site> {
    OpenApiRouter::new()
        .route("/equipment", get(page))
        .routes(routes!(twin))
        .merge(piece::routes())
        .merge(acts::routes())
}

async fn page(State(site): State<Site>, person: Person) -> Result<Markup, Refused> {
    site.page(person, PLACE, look, main).await
}

/// The equipment and the lots
#[utoipa::path(get, path = "/api/equipment", responses(
    (status = 200, body = Equipment),
    (status = "default", body = ProblemDocument, content_type = "application/problem+json"),
))]
async fn twin(State(site): State<Site>, _person: Person) -> Result<Json<Equipment>, RefusedTwin> {
    Ok(Json(site.read(look).await?))
}

fn look(book: &OpenBook) -> Result<Equipment, Problem> {
    let (history, today) = (book.history(), book.now()?.day());
    let used = used(history);
    let pieces = history.all_equipment().values();
    let in_use = [LotKind::Gas, LotKind::Tissue, LotKind::Board]
        .map(|kind| history.lot(kind).map(|(_, lot)| lot.number.clone()));
    let mut old = 0;
    let lots = history.lots().iter().rev().filter_map(|(at, lot)| {
        let in_use = in_use.contains(&Some(lot.number.clone()));
        old += usize::from(!in_use);
        (in_use || old <= OLD_LOTS).then(|| Lot {
            mark: lot.number.to_string(),
            kind: lot.kind.to_string(),
            description: lot.description.clone(),
            opened: at.to_string(),
            in_use,
            shown_opened: when(*at),
        })
    });
    Ok(Equipment {
        pieces: pieces
            .map(|it| piece_of(history, it, today, used.get(&it.number).copied()))
            .collect(),
        lots: lots.collect(),
    })
}

/// How many plans name each piece, and the last of them.
fn used(history: &History) -> BTreeMap<&EquipmentNumber, (usize, u32)> {
    let mut used = BTreeMap::new();
    for number in history.plans() {
        let named = history.plan(number).map(|plan| plan.draft().equipment.as_slice());
        for piece in named.unwrap_or_default() {
            let (count, last) = used.entry(piece).or_insert((0, number.0));
            (*count, *last) = (*count + 1, number.0);
        }
    }
    used
}

fn piece_of(
    history: &History,
    registered: &Registered,
    today: Date,
    used: Option<(usize, u32)>,
) -> Piece {
    let number = &registered.number;
    let calibration = history.calibration(number, today);
    let (state, usable) = match (history.withdrawn(number), calibration, registered.calibration) {
        (Some(reason), ..) => (format!("out of service: {reason}"), false),
        (None, Some(it), _) if it.due < today => {
            (format!("not in calibration since {}", it.due), false)
        }
        (None, Some(it), _) => (format!("holds till {}", it.due), true),
        (None, None, CalibrationNeed::Needed) => ("not calibrated".to_owned(), false),
        (None, None, CalibrationNeed::NotNeeded) => ("needs no calibration".to_owned(), true),
    };
    Piece {
        mark: number.to_string(),
        kind: registered.kind.word().replace('-', " "),
        description: registered.description.clone(),
        state,
        holds_till: calibration.map(|it| it.due.to_string()),
        usable,
        plans: used.map_or(0, |(count, _)| count),
        last_plan: used.map(|(_, last)| last),
    }
}

fn main(equipment: &Equipment) -> Markup {
    html! {
        p {
            a.button href="/calibration" { "Record a calibration" } " "
            a.button.second href="/register-equipment" { "Register a piece" } " "
            a.button.second href="/open-lot" { "Open a lot" } " "
            a.button.second href="/care" { "Care of the bench" }
        }
        h2 { "Pieces" }
        @if equipment.pieces.is_empty() {
            p { "Nothing is registered. " a href="/register-equipment" { "Register a piece" } }
        } @else { (pieces(&equipment.pieces)) }
        h2 { "Lots" }
        @if equipment.lots.is_empty() {
            p { "No lot was opened. " a href="/open-lot" { "Open a lot" } }
        } @else { (lots(&equipment.lots)) }
    }
}

fn pieces(pieces: &[Piece]) -> Markup {
    html! {
        div.wide role="region" aria-label="Pieces" tabindex="0" {
            table {
                thead { tr {
                    th { "Mark" } th { "Kind" } th { "What it is" } th { "Calibration" }
                    th { "Where used" }
                } }
                tbody { @for piece in pieces {
                    tr {
                        td { a href={ "/equipment/" (encoded(&piece.mark)) } { (piece.mark) } }
                        td { (piece.kind) }
                        td { (piece.description) }
                        td { (state(piece)) }
                        td {
                            @match (piece.plans, piece.last_plan) {
                                (1, Some(last)) => a href={ "/plans/" (last) } { "P-" (last) },
                                (count, Some(last)) => {
                                    (count) " plans, last " a href={ "/plans/" (last) } { "P-" (last) }
                                },
                                (_, None) => "not yet",
                            }
                        }
                    }
                } }
            }
        }
    }
}

/// How a piece stands; one that may not be tested with has a mark.
pub(super) fn state(piece: &Piece) -> Markup {
    html! {
        @if piece.usable { (piece.state) }
        @else { span.abnormal { span aria-hidden="true" { "◆ " } (piece.state) } }
    }
}

fn lots(lots: &[Lot]) -> Markup {
    html! {
        div.wide role="region" aria-label="Lots" tabindex="0" {
            table {
                thead { tr { th { "Mark" } th { "Of" } th { "What it is" } th { "Opened" } th { "In use" } } }
                tbody { @for lot in lots {
                    tr {
                        td { (lot.mark) }
                        td { (lot.kind) }
                        td { (lot.description) }
                        td.moment { (lot.shown_opened) }
                        td { @if lot.in_use { b { "in use" } } @else { "used up or set aside" } }
                    }
                } }
            }
        }
    }
}
