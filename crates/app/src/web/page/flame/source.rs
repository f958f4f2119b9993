//! Which source is read: first which kind, for which plan, and the cautions; then its particulars.

use std::time::Duration as Pause;

use acquisition::practice::PracticeFlame;
use acquisition::replay::Replay;
use acquisition::settings::Speed;
use acquisition::{Live, OpenError, SourceSettings, open, start};
use axum::Json;
use axum::extract::{DefaultBodyLimit, Query, State};
use axum::http::StatusCode;
use axum::response::{IntoResponse as _, Redirect, Response};
use axum::routing::get;
use maud::Markup;
use metrology::{Length, Temperature};
use reading::import::{ChannelChoice, ImportError, ImportOptions, Limits, import};
use reading::rise_time::Beginnings;
use serde::{Deserialize, Serialize};
use trial::fact::{BookKind, EvidenceKind, Fact};
use trial::number::PlanNumber;
use utoipa::ToSchema;
use utoipa_axum::router::OpenApiRouter;
use utoipa_axum::routes;

use super::bring::{height, not_taken};
use super::offered::plan;
use super::run::{RunSheet, nobody_there};
use super::source_view::{self, FIRST};
use super::{FlameSheet, look, settings};
use crate::book::OpenBook;
use crate::clock;
use crate::form::fields::{Filled as Form, Typed, Wrong};
use crate::form::number::{self, CELSIUS};
use crate::step::confirm::window;
use crate::step::why::{block_of_plan, cooling_known, earlier_coolings};
use crate::web::answer::{ProblemDocument, Refused, RefusedTwin, sentence};
use crate::web::asked::{Document, Given};
use crate::web::live::{About, Asked, Body, Course, Instruments, Paper, cold, paper, taken};
use crate::web::site::{Person, Shown, Site};
use crate::web::upload::{self, Filled, UPLOAD_BYTES};

/// An instrument must answer within so long when it is opened.
const ANSWERS_WITHIN: Pause = Pause::from_secs(10);

/// The kinds of sources, each with its words.
pub(super) const KINDS: [(&str, &str); 6] = [
    ("serial-lines", "Lines of text over a serial port"),
    ("modbus-rtu", "Modbus over a serial port"),
    ("tcp-lines", "Lines of text over the network"),
    ("modbus-tcp", "Modbus over the network"),
    ("replay", "A file played again (made up: no measurement)"),
    ("practice", "The practice bench (made up: no measurement)"),
];

/// A sitting to begin.
#[derive(Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields, rename_all = "kebab-case")]
struct Begin {
    /// The plan for which the flame is confirmed.
    plan: u32,
    /// `read`, once the cautions were read by whoever begins.
    cautions: String,
    /// serial-lines, modbus-rtu, tcp-lines, modbus-tcp, replay or practice.
    source: String,
    /// The settings of an instrument, as `read live` takes them.
    settings: Option<String>,
    /// Which channel is the block, where there are several.
    channel: Option<String>,
    /// The file to play again: its SHA-256, a blank, and its name.
    file: Option<String>,
    /// How fast a file or the practice bench goes, times real time.
    speed: Option<String>,
    /// What the noise of the practice bench is drawn from.
    seed: Option<String>,
    /// What the practice bench gets wrong.
    fault: Option<String>,
    /// The visible height of the flame in mm, where it was measured.
    height: Option<String>,
    /// The tolerance class of the thermocouple: 1, 2 or 3.
    class: Option<String>,
    /// The temperature of the instrument's terminals in °C, where the block rests at it.
    terminals: Option<String>,
    /// The temperature of the room in °C, where it was read beside the block.
    room: Option<String>,
}

/// The routes.
pub(super) fn routes() -> OpenApiRouter<Site> {
    OpenApiRouter::new()
        .route("/flame/source", get(particulars).post(submit))
        .routes(routes!(begin_twin))
        .layer(DefaultBodyLimit::max(UPLOAD_BYTES))
}

/// The first page as it begins: the kind of source that was read last is offered again.
pub(super) fn beginning(sheet: &RunSheet, form: Form<'_>) -> Markup {
    let mut typed = form.typed.clone();
    if typed.text("source").is_empty() && !sheet.last_source.is_empty() {
        typed.put("source", sheet.last_source.clone());
    }
    source_view::first(sheet, Form { typed: &typed, ..form })
}

/// The second page: the particulars of the source that was chosen.
async fn particulars(
    State(site): State<Site>,
    person: Person,
    Given(Query(pairs)): Given<Query<Vec<(String, String)>>>,
) -> Result<Response, Refused> {
    let mut typed = Typed::new(pairs);
    let chosen = typed.clone();
    let read = move |book: &OpenBook| {
        let (last, made_up) = (Instruments::of(book.book().own_folder()), book.history().made_up());
        Ok((first(book, &chosen).err().unwrap_or_default(), last, made_up))
    };
    let (wrong, last, made_up) = site.read(read).await?;
    if !wrong.is_empty() {
        return again(&site, person, Form { typed: &typed, wrong: &wrong }).await;
    }
    source_view::offer(&mut typed, &last, made_up);
    shown(&site, person, Form { typed: &typed, wrong: &[] }).await.map(|page| page.into_response())
}

/// The first page again, with what is wrong.
async fn again(site: &Site, person: Person, form: Form<'_>) -> Result<Response, Refused> {
    let show = |sheet: &RunSheet| Shown {
        title: form.title("Confirm the flame"),
        heading: "Confirm the flame".to_owned(),
        main: source_view::first(sheet, form),
    };
    let look = |book: &OpenBook| Ok(nobody_there(book));
    let page = site.show(person, "/flame", look, show).await?;
    Ok((StatusCode::UNPROCESSABLE_ENTITY, page).into_response())
}

async fn shown(site: &Site, person: Person, form: Form<'_>) -> Result<Markup, Refused> {
    let heading = source_view::words(form.typed.text("source"));
    let show = |(): &()| Shown {
        title: form.title(heading),
        heading: heading.to_owned(),
        main: source_view::second(form),
    };
    site.show(person, "/flame", |_| Ok(()), show).await
}

async fn submit(
    State(site): State<Site>,
    person: Person,
    Filled(typed): Filled,
) -> Result<Response, Refused> {
    let again_by = Person(person.0.clone());
    let Err(wrong) = begun(&site, person, &typed).await? else {
        return Ok(Redirect::to("/flame/run").into_response());
    };
    let form = Form { typed: &typed, wrong: &wrong };
    if wrong.iter().all(|wrong| FIRST.contains(&wrong.field.as_str())) {
        return again(&site, again_by, form).await;
    }
    let page = shown(&site, again_by, form).await?;
    Ok((StatusCode::UNPROCESSABLE_ENTITY, page).into_response())
}

/// Begins a sitting at the block
#[utoipa::path(post, path = "/api/flame/run", request_body = Begin, responses(
    (status = 200, body = FlameSheet),
    (status = "default", body = ProblemDocument, content_type = "application/problem+json"),
))]
async fn begin_twin(
    State(site): State<Site>,
    person: Person,
    Document(asked): Document<Begin>,
) -> Result<Json<FlameSheet>, RefusedTwin> {
    let typed = upload::typed(&asked);
    if let Err(wrong) = begun(&site, person, &typed).await? {
        return Err(RefusedTwin::from(Refused::from(upload::refused(&wrong))));
    }
    Ok(Json(site.read(look).await?))
}

/// What the first page says.
struct First {
    plan: PlanNumber,
    asked: Asked,
    room_read: Option<Temperature>,
    flame_height: Option<Length>,
    kind: BookKind,
}

fn first(book: &OpenBook, typed: &Typed) -> Result<First, Vec<Wrong>> {
    let mut wrong = Vec::new();
    let plan = plan(book, typed).map_err(|one| wrong.push(one)).ok();
    let height = height(typed).map_err(|one| wrong.push(one)).ok();
    let terminals = celsius(typed, ("terminals", "The temperature of the terminals"))
        .map_err(|one| wrong.push(one))
        .ok();
    let room =
        celsius(typed, ("room", "The temperature of the room")).map_err(|one| wrong.push(one)).ok();
    if !KINDS.iter().any(|(kind, _)| *kind == typed.text("source")) {
        wrong.push(Wrong::new("source", "Choose what is read."));
    }
    if typed.text("cautions") != "read" {
        let words = "Read the cautions before the first flame, and say that you have.";
        wrong.push(Wrong::new("cautions", words));
    }
    if !["", "1", "2", "3"].contains(&typed.text("class")) {
        wrong.push(Wrong::new("class", "The classes are 1, 2 and 3."));
    }
    let asked = plan.and_then(|plan| {
        let plan = book.plan(plan).ok()?;
        let start = plan.requirement().asked.confirmation.start.value;
        let cold = cold(start);
        let body = block_of_plan(book, plan).map(|(number, block)| Body {
            block,
            known: cooling_known(book, &number),
            earlier: earlier_coolings(book, &number, cold),
        });
        let (resting_at, read) = (terminals.flatten(), room.flatten());
        let room = Beginnings::built_in().room_of(read);
        Some((Asked { window: window(plan).ok()?, start, resting_at, room, body }, read))
    });
    let made_up = book.history().made_up();
    let kind = if made_up { BookKind::MadeUp } else { BookKind::Real };
    match (plan, asked, height, wrong.is_empty()) {
        (Some(plan), Some((asked, room_read)), Some(flame_height), true) => {
            Ok(First { plan, asked, room_read, flame_height, kind })
        }
        _ => Err(wrong),
    }
}

/// A temperature of the laboratory, where it is stated.
fn celsius(typed: &Typed, (name, what): (&str, &str)) -> Result<Option<Temperature>, Wrong> {
    let text = typed.text(name);
    if text.is_empty() {
        return Ok(None);
    }
    let read = number::read(text, &CELSIUS);
    read.map(|found| Some(Temperature::from_celsius(found.value())))
        .map_err(|fault| Wrong::new(name, fault.words(what, text, &CELSIUS)))
}

/// A source at work, and what is known of it.
struct Opened {
    live: Live<Paper>,
    flame: Option<PracticeFlame>,
    source: String,
    made_up: Option<String>,
}

/// Begins the sitting, or says what is wrong.
async fn begun(
    site: &Site,
    person: Person,
    typed: &Typed,
) -> Result<Result<(), Vec<Wrong>>, Refused> {
    let seat = site.seat();
    if let Some(there) = seat.take().as_ref() {
        return Err(taken(there).into());
    }
    let sent = typed.clone();
    let begun = site.read(move |book| {
        let first = match first(book, &sent) {
            Ok(first) => first,
            Err(wrong) => return Ok(Err(wrong)),
        };
        let replayed = match replayed(book, &sent) {
            Ok(replayed) => replayed,
            Err(wrong) => return Ok(Err(vec![wrong])),
        };
        Ok(Ok((first, replayed, paper(book)?)))
    });
    let (first, replayed, (recording, paper)) = match begun.await? {
        Ok(begun) => begun,
        Err(wrong) => return Ok(Err(wrong)),
    };
    let opened = match replayed {
        Some(replayed) => played(replayed, paper, typed).map_err(|wrong| vec![wrong]),
        None => instrument(typed, paper).await,
    };
    let opened = match opened {
        Ok(opened) => opened,
        Err(wrong) => return Ok(Err(wrong)),
    };
    let channels = opened.live.channels().to_vec();
    let block = match block(&channels, typed) {
        Ok(block) => block,
        Err(wrong) => {
            drop(opened.live.stop().await);
            return Ok(Err(vec![wrong]));
        }
    };
    let by = person.0.clone();
    let plan = first.plan;
    // Whoever begins has read the cautions: that stands in the record before the first flame.
    let cautions = Fact::CautionsAcknowledged { plan };
    site.act(person, move |book, output| book.keep(&cautions, output).map(drop)).await?;
    let class = typed.text("class");
    let mut read_as = vec![format!("--channel={}", channels[block])];
    read_as.extend((!class.is_empty()).then(|| format!("--class={class}")));
    read_as.extend(first.room_read.map(|room| format!("--room={}", room.celsius())));
    let about = About {
        number: seat.next(),
        plan,
        by,
        source: opened.source,
        records: opened.made_up.is_none() || first.kind == BookKind::MadeUp,
        made_up: opened.made_up,
        read_as,
        terminals: first.asked.resting_at,
        flame_height: first.flame_height,
        recording,
    };
    let course = Course::new(first.asked, channels, block);
    seat.begin(site, about, course, (opened.live, opened.flame))?;
    seat.noted(site).await;
    let (kind, kept) = (typed.text("source").to_owned(), settings::kept(typed));
    // What a program sent as text is no answer to the fields.
    let kept = if typed.text("settings").is_empty() { kept } else { Vec::new() };
    let folder = site.folder().to_owned();
    // The sitting is on: that its settings are not offered again is no reason to end it.
    drop(site.aside(move || Instruments::keep(&folder, &kind, kept)).await);
    Ok(Ok(()))
}

/// The file to play again, where one is chosen: its name and its trace.
fn replayed(book: &OpenBook, typed: &Typed) -> Result<Option<(String, Replayed)>, Wrong> {
    if typed.text("source") != "replay" {
        return Ok(None);
    }
    let named = upload::named(book, ("file", typed.text("file")), EvidenceKind::Trace)?;
    let (file, bytes) = named.ok_or_else(|| Wrong::new("file", "Choose the file to play."))?;
    let channel = typed.text("channel");
    let options = ImportOptions {
        channel: (!channel.is_empty()).then(|| ChannelChoice::from(channel)),
        limits: Limits::upload(),
        ..ImportOptions::default()
    };
    let imported = import(bytes.as_slice(), &options).map_err(|error| {
        let asks_channel =
            matches!(&error, ImportError::Ask(question) if question.option == "channel");
        Wrong::new(if asks_channel { "channel" } else { "file" }, not_taken(&error))
    })?;
    Ok(Some((file.name, (imported.taken_for.channel.name, imported.trace))))
}

type Replayed = (String, reading::Trace);

fn played(
    (name, (channel, trace)): (String, Replayed),
    paper: Paper,
    typed: &Typed,
) -> Result<Opened, Wrong> {
    let channel = if channel.is_empty() { "Block".to_owned() } else { channel };
    let speed = Speed::Times(speed(typed)?);
    let replay = Replay::new(vec![(channel, trace)], speed, &clock::running());
    let live =
        start(replay, paper).map_err(|error| not_begun("file", &OpenError::Recording(error)))?;
    Ok(Opened {
        live,
        flame: None,
        source: format!("{name}, played again"),
        made_up: Some(format!("Made up: {name} is played again, and nothing is measured")),
    })
}

/// How fast, times real time.
fn speed(typed: &Typed) -> Result<f64, Wrong> {
    let text = typed.text("speed").replace(',', ".");
    if text.is_empty() {
        return Ok(1.0);
    }
    let speed: Option<f64> = text.parse().ok().filter(|speed| (0.01..=1000.0).contains(speed));
    speed.ok_or_else(|| {
        let words = format!("`{text}` is no speed. Type 1 for real time; at most 1000.");
        Wrong::new("speed", words)
    })
}

/// An instrument, or the practice bench, by its settings.
async fn instrument(typed: &Typed, paper: Paper) -> Result<Opened, Vec<Wrong>> {
    let kind = typed.text("source");
    let text = typed.text("settings");
    let (field, settings) = if kind == "practice" {
        ("seed", by_text("seed", &practice_settings(typed).map_err(|wrong| vec![wrong])?)?)
    } else if text.is_empty() {
        (settings::place(kind), settings::read(typed)?)
    } else {
        ("settings", by_text("settings", text)?)
    };
    let (source, made_up) = match &settings {
        SourceSettings::TcpLines(lines) => (format!("lines of text from {}", lines.address), None),
        SourceSettings::SerialLines(lines) => {
            (format!("lines of text from {}", lines.port.path), None)
        }
        SourceSettings::ModbusRtu(modbus) => (format!("Modbus at {}", modbus.port.path), None),
        SourceSettings::ModbusTcp(modbus) => (format!("Modbus at {}", modbus.address), None),
        SourceSettings::Practice(bench) => {
            let source = format!("practice bench, seed {}", bench.seed);
            (source.clone(), Some(format!("Made up: {source}, and nothing is measured")))
        }
        SourceSettings::Replay(_) => {
            let words = "A file is played again by handing it in: choose that as the source.";
            return Err(vec![Wrong::new("settings", words)]);
        }
    };
    let opening = tokio::time::timeout(ANSWERS_WITHIN, open(&settings, clock::running(), paper));
    let opened = opening.await.map_err(|_| {
        let words = "The instrument does not answer within 10 s. See whether it is on.";
        vec![Wrong::new(field, words)]
    })?;
    let opened = opened.map_err(|error| vec![not_begun(field, &error)])?;
    Ok(Opened { live: opened.live, flame: opened.flame, source, made_up })
}

/// Settings as a text.
fn by_text(field: &str, text: &str) -> Result<SourceSettings, Vec<Wrong>> {
    SourceSettings::from_toml(text).map_err(|error| {
        vec![Wrong::new(field, format!("{} {}", sentence(&error.to_string()), error.hint()))]
    })
}

fn not_begun(field: &str, error: &OpenError) -> Wrong {
    let cause = std::error::Error::source(error).map(|cause| format!(": {cause}"));
    let said = sentence(&format!("{error}{}", cause.unwrap_or_default()));
    Wrong::new(field, format!("{said} {}", error.hint().unwrap_or_default()).trim_end())
}

fn practice_settings(typed: &Typed) -> Result<String, Wrong> {
    let seed = typed.text("seed");
    let seed: u32 = seed.parse().map_err(|_| {
        let words = format!("`{seed}` is no seed. Type a whole number, such as 1.");
        Wrong::new("seed", words)
    })?;
    let fault = typed.text("fault");
    let fault = match source_view::FAULTS.iter().find(|(known, _)| *known == fault) {
        None => return Err(Wrong::new("fault", format!("`{fault}` cannot be practised."))),
        Some(("", _)) => String::new(),
        Some((fault, _)) => format!("fault = \"{fault}\"\n"),
    };
    let speed = speed(typed)?;
    Ok(format!(
        "source = \"practice\"\nseed = {seed}\nflame = \"by-hand\"\nspeed = {speed:?}\n{fault}"
    ))
}

/// The channel that is the block.
fn block(channels: &[String], typed: &Typed) -> Result<usize, Wrong> {
    let asked = typed.text("channel");
    let named = channels.iter().position(|name| name.eq_ignore_ascii_case(asked));
    if typed.text("source") == "replay" || channels.len() == 1 && asked.is_empty() {
        return Ok(0);
    }
    named.ok_or_else(|| {
        let words = format!("Say which channel is the block: {}.", channels.join(", "));
        Wrong::new("channel", words)
    })
}
