//! Registers a piece, records its calibration, takes it out of service, opens a lot.

use axum::Json;
use axum::extract::{DefaultBodyLimit, Query, State};
use axum::http::StatusCode;
use axum::response::{IntoResponse, Redirect, Response};
use axum::routing::get;
use maud::{Markup, html};
use serde::{Deserialize, Serialize};
use trial::fact::{CalibrationNeed, EquipmentKind, EvidenceKind, Fact, LotKind};
use utoipa::ToSchema;
use utoipa_axum::router::OpenApiRouter;
use utoipa_axum::routes;

use crate::book::OpenBook;
use crate::form::equipment::{calibrated, opened, registered, weighed, withdrawn};
use crate::form::fields::{Answer, Field, Filled as Form, Typed, Wrong};
use crate::web::answer::{ProblemDocument, Refused, RefusedTwin};
use crate::web::asked::{Document, Given};
use crate::web::download::encoded;
use crate::web::kind;
use crate::web::site::{Person, Shown, Site};
use crate::web::upload::{self, Filled, UPLOAD_BYTES, UPLOAD_LIMIT};

/// What is done.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Act {
    Register,
    Calibrate,
    Weigh,
    Withdraw,
    Open,
}

impl Act {
    const ALL: [Self; 5] =
        [Self::Register, Self::Calibrate, Self::Weigh, Self::Withdraw, Self::Open];

    const fn address(self) -> &'static str {
        match self {
            Self::Register => "/register-equipment",
            Self::Calibrate => "/calibration",
            Self::Weigh => "/weighing",
            Self::Withdraw => "/withdraw",
            Self::Open => "/open-lot",
        }
    }

    /// Its heading, which its button repeats.
    const fn heading(self) -> &'static str {
        match self {
            Self::Register => "Register a piece",
            Self::Calibrate => "Record a calibration",
            Self::Weigh => "Record a weighing",
            Self::Withdraw => "Take out of service",
            Self::Open => "Open a lot",
        }
    }

    /// The fact that was typed.
    fn fact(self, typed: &Typed, book: &OpenBook) -> Result<Fact, Vec<Wrong>> {
        let history = book.history();
        match self {
            Self::Register => registered(typed, history),
            Self::Calibrate => {
                let file = certificate(typed, book);
                let fact = calibrated(typed, history, file.clone().unwrap_or_default());
                match (fact, file) {
                    (Ok(fact), Ok(_)) => Ok(fact),
                    (fact, file) => {
                        Err(fact.err().into_iter().flatten().chain(file.err()).collect())
                    }
                }
            }
            Self::Weigh => weighed(typed, history),
            Self::Withdraw => withdrawn(typed, history),
            Self::Open => opened(typed, history),
        }
    }
}

/// The certificate's file, where one is named: a PDF or a picture.
fn certificate(typed: &Typed, book: &OpenBook) -> Result<Option<trial::fact::Evidence>, Wrong> {
    const KINDS: [&[u8]; 3] = [b"%PDF-", b"\x89PNG", b"\xff\xd8\xff"];
    let wrong = |words| Wrong::new("file", words);
    let named = upload::named(book, ("file", typed.text("file")), EvidenceKind::Certificate)?;
    let Some((file, bytes)) = named else { return Ok(None) };
    if !KINDS.iter().any(|kind| bytes.starts_with(kind)) {
        return Err(wrong(format!("`{}` is neither a PDF nor a PNG or JPEG picture.", file.name)));
    }
    kind::named_as(&file.name, &bytes).map_err(|words| wrong(format!("{words}.")))?;
    Ok(Some(file))
}

/// The routes.
pub(super) fn routes() -> OpenApiRouter<Site> {
    let mut routes = OpenApiRouter::new()
        .routes(routes!(register_twin))
        .routes(routes!(calibrate_twin))
        .routes(routes!(weigh_twin))
        .routes(routes!(withdraw_twin))
        .routes(routes!(open_twin));
    for act in Act::ALL {
        let page = get(move |site, person, query| page(act, site, person, query));
        let page = page.post(move |site, person, filled| submit(act, site, person, filled));
        routes = routes.route(act.address(), page);
    }
    routes.layer(DefaultBodyLimit::max(UPLOAD_BYTES))
}

async fn page(
    act: Act,
    State(site): State<Site>,
    person: Person,
    Given(Query(pairs)): Given<Query<Vec<(String, String)>>>,
) -> Result<Markup, Refused> {
    shown(act, (&site, person), Typed::new(pairs), Vec::new()).await
}

async fn submit(
    act: Act,
    State(site): State<Site>,
    person: Person,
    Filled(typed): Filled,
) -> Result<Response, Refused> {
    let again = Person(person.0.clone());
    match kept(act, (&site, person), typed.clone()).await? {
        Ok(to) => Ok(Redirect::to(&to).into_response()),
        Err(wrong) => {
            let page = shown(act, (&site, again), typed, wrong).await?;
            Ok((StatusCode::UNPROCESSABLE_ENTITY, page).into_response())
        }
    }
}

/// Keeps what was typed, and says where it is shown; or says all that is wrong with it.
async fn kept(
    act: Act,
    (site, person): (&Site, Person),
    typed: Typed,
) -> Result<Result<String, Vec<Wrong>>, Refused> {
    site.act(person, move |book, output| {
        let fact = match act.fact(&typed, book) {
            Ok(fact) => fact,
            Err(wrong) => return Ok(Err(wrong)),
        };
        book.keep(&fact, output)?;
        let mark = match act {
            Act::Register => typed.text("mark"),
            Act::Calibrate | Act::Weigh | Act::Withdraw => typed.text("piece"),
            Act::Open => "",
        };
        let slash = if mark.is_empty() { "" } else { "/" };
        Ok(Ok(format!("/equipment{slash}{}", encoded(mark))))
    })
    .await
}

async fn shown(
    act: Act,
    (site, person): (&Site, Person),
    typed: Typed,
    wrong: Vec<Wrong>,
) -> Result<Markup, Refused> {
    let look = |book: &OpenBook| {
        let pieces = book.history().all_equipment().values();
        let in_service = pieces.filter(|it| book.history().withdrawn(&it.number).is_none());
        Ok(in_service
            .map(|it| (it.number.to_string(), format!("{}: {}", it.number, it.description)))
            .collect::<Vec<_>>())
    };
    let show = |pieces: &Vec<(String, String)>| {
        let form = Form { typed: &typed, wrong: &wrong };
        let main = html! { (form.summary()) (fields(act, &form, pieces)) };
        Shown { title: form.title(act.heading()), heading: act.heading().to_owned(), main }
    };
    site.show(person, "/equipment", look, show).await
}

fn fields(act: Act, form: &Form<'_>, pieces: &[(String, String)]) -> Markup {
    let files = (act == Act::Calibrate).then_some("multipart/form-data");
    html! {
        form method="post" action=(act.address()) enctype=[files] novalidate {
            @match act {
                Act::Register => (registering(form)),
                Act::Calibrate => { (pick_piece(form, pieces)) (calibrating(form)) },
                Act::Weigh => { (pick_piece(form, pieces)) (weighing(form)) },
                Act::Withdraw => {
                    (pick_piece(form, pieces))
                    (form.words(field("reason", "Why?", "It stays in the record with its reason.")))
                },
                Act::Open => (opening(form)),
            }
            button { (act.heading()) }
        }
    }
}

const fn field<'a>(name: &'a str, label: &'a str, hint: &'a str) -> Field<'a> {
    Field { name, label, hint }
}

fn registering(form: &Form<'_>) -> Markup {
    let kinds = choices(EquipmentKind::ALL.iter().map(|kind| kind.word()));
    let needs = [
        Answer { value: CalibrationNeed::Needed.word(), label: "Yes".to_owned() },
        Answer {
            value: CalibrationNeed::NotNeeded.word(),
            label: "No: it is checked in use".to_owned(),
        },
    ];
    html! {
        (form.line(field("mark", "Mark", "As on its label, such as TC-07.")))
        (form.pick(field("kind", "Kind", ""), &kinds))
        (form.line(field("description", "What it is", "Maker's type, serial number, place.")))
        (form.one_of(field("calibration", "Must it be in calibration?", ""), &needs))
    }
}

fn calibrating(form: &Form<'_>) -> Markup {
    let filed = form.typed.text("file");
    html! {
        (form.line(field("certificate", "Number of the certificate", "")))
        (form.line(field("by", "Who calibrated", "")))
        (form.line(field("on", "Day of the calibration", "Such as 2026-11-25.")))
        (form.line(field("due", "Last day that it holds", "Such as 2027-11-24.")))
        (form.words(field("result", "What the certificate says",
            "The values and their uncertainties that matter, or that it is within its tolerance.")))
        (file(form, filed))
    }
}

fn weighing(form: &Form<'_>) -> Markup {
    html! {
        (form.number(field("mass", "Mass of the copper block, in g", "As drilled, without the thermocouple, such as 0.581.")))
        (form.number(field("uncertainty", "Its standard uncertainty, in g", "By the balance's certificate, such as 0.0005.")))
        (form.number(field("area", "Surface of the block, in mm² (optional)", "Ends included, such as 89.8.")))
    }
}

/// The certificate's file; one that came before is kept by its hash.
fn file(form: &Form<'_>, filed: &str) -> Markup {
    let wrong: Vec<&Wrong> = form.wrong.iter().filter(|wrong| wrong.field == "file").collect();
    html! {
        div.field.wrong[!wrong.is_empty()] {
            label for="file" { "The certificate (optional)" }
            p.hint #file-hint { "A PDF, PNG or JPEG; it is kept as evidence. " (UPLOAD_LIMIT) }
            @for wrong in &wrong { p.wrong-words { (wrong.words) } }
            @if !filed.is_empty() && wrong.is_empty() {
                p { "Kept: " (filed.split_once(' ').map_or(filed, |(_, name)| name)) }
                input type="hidden" name="file" value=(filed);
            }
            input #file type="file" name="file" accept=".pdf,.png,.jpg,.jpeg"
                aria-describedby="file-hint";
        }
    }
}

fn opening(form: &Form<'_>) -> Markup {
    let kinds = choices(LotKind::ALL.iter().map(|kind| kind.word()));
    html! {
        p { "A new lot of gas ends the confirmation of the flame: confirm it again after the change." }
        (form.line(field("mark", "Mark", "As on its label, such as G-26-07.")))
        (form.pick(field("kind", "Of what?", ""), &kinds))
        (form.line(field("description", "What it is", "Such as butane, 95 %; or tissue, 21 g/m².")))
    }
}

fn pick_piece(form: &Form<'_>, pieces: &[(String, String)]) -> Markup {
    let blank = Answer { value: "", label: "Choose".to_owned() };
    let pieces = pieces.iter().map(|(value, label)| Answer { value, label: label.clone() });
    let pieces: Vec<Answer<'_>> = std::iter::once(blank).chain(pieces).collect();
    form.pick(field("piece", "Piece", ""), &pieces)
}

fn choices<'a>(words: impl Iterator<Item = &'a str>) -> Vec<Answer<'a>> {
    let blank = Answer { value: "", label: "Choose".to_owned() };
    let words = words.map(|value| Answer { value, label: value.replace('-', " ") });
    std::iter::once(blank).chain(words).collect()
}

/// A piece to register.
#[derive(Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
struct Registering {
    /// The mark on its label.
    mark: String,
    /// burner, copper-block, thermocouple, timer, logger, gauge, chamber, climate, ruler, camera
    /// or other.
    kind: String,
    /// Maker's type, serial number, place.
    description: String,
    /// needed or not-needed.
    calibration: String,
}

/// A calibration to record.
#[derive(Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
struct Calibrating {
    /// The piece's mark.
    piece: String,
    /// The certificate's number.
    certificate: String,
    /// Who calibrated.
    by: String,
    /// The day, such as 2026-11-25.
    on: String,
    /// The last day that it holds.
    due: String,
    /// What the certificate says.
    result: String,
    /// The certificate's file, filed before at /api/evidence: SHA-256, blank, name.
    file: Option<String>,
}

/// What a copper block weighs; numbers are texts, as they are typed.
#[derive(Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
struct Weighed {
    /// The block's mark.
    piece: String,
    /// Its mass in g, as drilled.
    mass: String,
    /// The standard uncertainty of that, in g.
    uncertainty: String,
    /// Its surface in mm², where it was measured.
    area: Option<String>,
}

/// A piece to take out of service.
#[derive(Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
struct Withdrawing {
    /// The piece's mark.
    piece: String,
    /// Why.
    reason: String,
}

/// A lot to open.
#[derive(Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
struct Opening {
    /// The mark on its label.
    mark: String,
    /// gas, tissue or board.
    kind: String,
    /// What it is.
    description: String,
}

/// Where the result of an act is shown.
#[derive(Serialize, ToSchema)]
#[schema(as = EquipmentDone)]
struct Done {
    /// The address of its page; its twin stands under /api.
    page: String,
}

async fn kept_twin(
    act: Act,
    (site, person): (Site, Person),
    document: &impl Serialize,
) -> Result<Json<Done>, RefusedTwin> {
    let typed = upload::typed(document);
    match kept(act, (&site, person), typed).await? {
        Ok(page) => Ok(Json(Done { page })),
        Err(wrong) => Err(Refused::from(upload::refused(&wrong)).into()),
    }
}

/// Registers a piece of equipment
#[utoipa::path(post, path = "/api/register-equipment", request_body = Registering, responses(
    (status = 200, body = Done),
    (status = "default", body = ProblemDocument, content_type = "application/problem+json"),
))]
async fn register_twin(
    State(site): State<Site>,
    person: Person,
    Document(document): Document<Registering>,
) -> Result<Json<Done>, RefusedTwin> {
    kept_twin(Act::Register, (site, person), &document).await
}

/// Records a calibration
#[utoipa::path(post, path = "/api/calibration", request_body = Calibrating, responses(
    (status = 200, body = Done),
    (status = "default", body = ProblemDocument, content_type = "application/problem+json"),
))]
async fn calibrate_twin(
    State(site): State<Site>,
    person: Person,
    Document(document): Document<Calibrating>,
) -> Result<Json<Done>, RefusedTwin> {
    kept_twin(Act::Calibrate, (site, person), &document).await
}

/// Records what a copper block weighs
#[utoipa::path(post, path = "/api/weighing", request_body = Weighed, responses(
    (status = 200, body = Done),
    (status = "default", body = ProblemDocument, content_type = "application/problem+json"),
))]
async fn weigh_twin(
    State(site): State<Site>,
    person: Person,
    Document(document): Document<Weighed>,
) -> Result<Json<Done>, RefusedTwin> {
    kept_twin(Act::Weigh, (site, person), &document).await
}

/// Takes a piece out of service
#[utoipa::path(post, path = "/api/withdraw", request_body = Withdrawing, responses(
    (status = 200, body = Done),
    (status = "default", body = ProblemDocument, content_type = "application/problem+json"),
))]
async fn withdraw_twin(
    State(site): State<Site>,
    person: Person,
    Document(document): Document<Withdrawing>,
) -> Result<Json<Done>, RefusedTwin> {
    kept_twin(Act::Withdraw, (site, person), &document).await
}

/// Opens a lot
#[utoipa::path(post, path = "/api/open-lot", request_body = Opening, responses(
    (status = 200, body = Done),
    (status = "default", body = ProblemDocument, content_type = "application/problem+json"),
))]
async fn open_twin(
    State(site): State<Site>,
    person: Person,
    Document(document): Document<Opening>,
) -> Result<Json<Done>, RefusedTwin> {
    kept_twin(Act::Open, (site, person), &document).await
}
