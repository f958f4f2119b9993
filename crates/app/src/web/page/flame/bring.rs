//! A determination from a logger's file: it is filed, read as stated, and recorded.

use std::path::Path;

use axum::Json;
use axum::extract::{DefaultBodyLimit, State};
use axum::http::StatusCode;
use axum::response::{IntoResponse as _, Redirect, Response};
use axum::routing::get;
use maud::{Markup, html};
use metrology::Length;
use reading::import::{ImportError, ImportOptions, Limits, import};
use serde::{Deserialize, Serialize};
use trial::confirmation::DeterminationSource;
use trial::fact::{Evidence, EvidenceKind};
use utoipa::ToSchema;
use utoipa_axum::router::OpenApiRouter;
use utoipa_axum::routes;

use super::offered::{Offered, offered, pick_plan, plan};
use super::{FlameSheet, after, held};
use crate::book::OpenBook;
use crate::cli::read::Stated;
use crate::form::fields::{Answer, Field, Filled as Form, Typed, Wrong};
use crate::form::number::{self, MILLIMETRES};
use crate::output::Output;
use crate::problem::Problem;
use crate::step::confirm::{Heating, determination};
use crate::web::answer::{ProblemDocument, Refused, RefusedTwin, sentence};
use crate::web::asked::Document;
use crate::web::site::{Person, Shown, Site};
use crate::web::upload::{self, Filled, UPLOAD_BYTES, UPLOAD_LIMIT};

/// What may be stated about a file: the field, which is the option of the command line without its
/// dashes, its question, and what helps.
const STATED: [(&str, &str, &str); 14] = [
    ("channel", "Which column is the block?", "By its name, or by its number from 1."),
    ("unit", "In which unit?", "C, K, F, mV, uV or V."),
    (
        "junction",
        "The temperature of the reference junction, in °C",
        "Where the file holds a voltage.",
    ),
    (
        "terminals",
        "The temperature at the logger's terminals, in °C",
        "Where the block rested at it at the start: a block that reads otherwise is of another \
         thermocouple type.",
    ),
    (
        "room",
        "The temperature of the room, in °C",
        "Read beside the block. Where it is not stated, a usual one is taken.",
    ),
    ("type", "The thermocouple's letter", "K, where nothing is said."),
    ("time-column", "Which column is the time?", "By its name, or by its number from 1."),
    ("time-unit", "The unit of the time", "us, ms, s, min, h or d."),
    (
        "time-step",
        "The step to which the logger rounds its times, in seconds",
        "Such as 0.1; it enters the uncertainty.",
    ),
    ("rate", "Readings a second", "Where the file holds no time."),
    ("date-order", "The order in dates", "day-first or month-first."),
    ("delimiter", "What stands between cells?", "comma, semicolon, tab, blank, pipe or none."),
    ("decimal", "The decimal sign", "point or comma."),
    ("missing", "A number that stands for a missing value", "Or none."),
];

/// A logger's file as a determination: what is not given is read from the file itself.
#[derive(Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields, rename_all = "kebab-case")]
struct Brought {
    /// The plan under which the flame is confirmed.
    plan: u32,
    /// The file, filed before with `/api/evidence`: its SHA-256, a blank, and its name.
    file: String,
    /// The visible height of the flame in mm, where it was measured.
    height: Option<String>,
    /// The tolerance class of the thermocouple: 1, 2 or 3.
    class: Option<String>,
    /// The column of the block.
    channel: Option<String>,
    /// Its unit.
    unit: Option<String>,
    /// The temperature of the reference junction in °C, where the file holds a voltage.
    junction: Option<String>,
    /// The temperature at the logger's terminals in °C, where the block rested at it at the start.
    terminals: Option<String>,
    /// The temperature of the room in °C, where it was read beside the block.
    room: Option<String>,
    /// The thermocouple's letter.
    r#type: Option<String>,
    /// The column of the time.
    time_column: Option<String>,
    /// Its unit.
    time_unit: Option<String>,
    /// The step in seconds to which the logger rounds its times.
    time_step: Option<String>,
    /// Readings a second, where the file holds no time.
    rate: Option<String>,
    /// The order in dates.
    date_order: Option<String>,
    /// What stands between cells.
    delimiter: Option<String>,
    /// The decimal sign.
    decimal: Option<String>,
    /// A number that stands for a missing value, or `none`.
    missing: Option<String>,
}

/// The routes.
pub(super) fn routes() -> OpenApiRouter<Site> {
    OpenApiRouter::new()
        .route("/flame/bring", get(page).post(submit))
        .routes(routes!(twin))
        .layer(DefaultBodyLimit::max(UPLOAD_BYTES))
}

async fn page(State(site): State<Site>, person: Person) -> Result<Markup, Refused> {
    shown(&site, person, Form { typed: &Typed::default(), wrong: &[] }).await
}

async fn submit(
    State(site): State<Site>,
    person: Person,
    Filled(typed): Filled,
) -> Result<Response, Refused> {
    let again = Person(person.0.clone());
    let sent = typed.clone();
    let done = site.act(person, move |book, output| kept(book, output, &sent)).await?;
    let Err(wrong) = done else { return Ok(Redirect::to("/flame").into_response()) };
    let page = shown(&site, again, Form { typed: &typed, wrong: &wrong }).await?;
    Ok((StatusCode::UNPROCESSABLE_ENTITY, page).into_response())
}

/// Records a determination from a logger's file
#[utoipa::path(post, path = "/api/flame/files", request_body = Brought, responses(
    (status = 200, body = FlameSheet),
    (status = "default", body = ProblemDocument, content_type = "application/problem+json"),
))]
async fn twin(
    State(site): State<Site>,
    person: Person,
    Document(brought): Document<Brought>,
) -> Result<Json<FlameSheet>, RefusedTwin> {
    let typed = upload::typed(&brought);
    let done = site.act(person, move |book, output| {
        let done = kept(book, output, &typed)?;
        after(book, done)
    });
    Ok(Json(done.await?))
}

/// Records the determination, and holds all against the band; or says what is wrong.
fn kept(
    book: &mut OpenBook,
    output: &Output,
    typed: &Typed,
) -> Result<Result<(), Vec<Wrong>>, Problem> {
    let mut wrong = Vec::new();
    let plan = plan(book, typed).map_err(|one| wrong.push(one)).ok();
    let height = height(typed).map_err(|one| wrong.push(one)).ok().flatten();
    let named = upload::named(book, ("file", typed.text("file")), EvidenceKind::Trace);
    let file = match named {
        Ok(Some((file, bytes))) => match once(book, &file) {
            Ok(()) => Some((file, bytes)),
            Err(one) => {
                wrong.push(one);
                None
            }
        },
        Ok(None) => {
            wrong.push(Wrong::new("file", "Choose the logger's file."));
            None
        }
        Err(one) => {
            wrong.push(one);
            None
        }
    };
    let words = stated(typed);
    if let Some((_, bytes)) = &file {
        wrong.extend(unreadable(&words, bytes));
    }
    let (Some(plan), Some((file, bytes)), true) = (plan, file, wrong.is_empty()) else {
        return Ok(Err(wrong));
    };
    book.ready(plan)?;
    let heating = Heating { plan, read_as: &words, flame_height: height };
    determination(book, &heating, (&file.name, &bytes), output)?;
    held(book, plan, output).map(Ok)
}

/// The height of the flame, where it was measured.
pub(super) fn height(typed: &Typed) -> Result<Option<Length>, Wrong> {
    let text = typed.text("height");
    if text.is_empty() {
        return Ok(None);
    }
    let read = number::read(text, &MILLIMETRES);
    read.map(|height| Some(Length::from_millimetres(height.value()))).map_err(|fault| {
        Wrong::new("height", fault.words("The height of the flame", text, &MILLIMETRES))
    })
}

/// One file is one heating.
fn once(book: &OpenBook, file: &Evidence) -> Result<(), Wrong> {
    let made = book.history().determinations().iter().find(|made| {
        matches!(&made.source, DeterminationSource::Trace { evidence, .. } if evidence.hash == file.hash)
    });
    made.map_or(Ok(()), |made| {
        let words = format!(
            "`{}` is the file of {} already. Nothing was recorded twice.",
            file.name, made.number
        );
        Err(Wrong::new("file", words))
    })
}

/// What is stated, option by option as the command line takes them.
fn stated(typed: &Typed) -> Vec<String> {
    let names = STATED.iter().map(|(name, ..)| *name).chain(["class"]);
    names
        .filter_map(|name| {
            let text = typed.text(name);
            (!text.is_empty()).then(|| format!("--{name}={text}"))
        })
        .collect()
}

/// Why the file cannot be taken as stated, at the field that decides.
fn unreadable(words: &[String], bytes: &[u8]) -> Option<Wrong> {
    let options = match Stated::of(words).and_then(|stated| stated.import()) {
        Ok(options) => options,
        Err(problem) => {
            let mut named = STATED.iter().map(|(name, ..)| *name).chain(["class"]);
            let field = named.rfind(|name| problem.text.contains(&format!("--{name}")));
            return Some(Wrong::new(field.unwrap_or("channel"), sentence(&problem.text)));
        }
    };
    let options = ImportOptions { limits: Limits::upload(), ..options };
    let error = import(bytes, &options).err()?;
    if let ImportError::Ask(question) = &error {
        let field = question.option.replace('_', "-");
        let said = sentence(&error.to_string());
        return Some(Wrong::new(field, format!("{said} Say which below.")));
    }
    Some(Wrong::new("file", not_taken(&error)))
}

/// Why a file cannot be taken, and the way out, in words of the page: its fields are no options.
pub(super) fn not_taken(error: &ImportError) -> String {
    let hint = error.hint().unwrap_or_default().replace("the option ", "").replace('`', "");
    format!("{} {hint}", sentence(&error.to_string())).trim_end().to_owned()
}

async fn shown(site: &Site, person: Person, form: Form<'_>) -> Result<Markup, Refused> {
    let look = |book: &OpenBook| Ok(offered(book.history()));
    let show = |plans: &Offered| Shown {
        title: form.title("Bring in a file"),
        heading: "Bring in a file".to_owned(),
        main: html! { (form.summary()) (fields(form, plans)) },
    };
    site.show(person, "/flame", look, show).await
}

const fn field<'a>(name: &'a str, label: &'a str, hint: &'a str) -> Field<'a> {
    Field { name, label, hint }
}

fn fields(form: Form<'_>, plans: &Offered) -> Markup {
    let detail = |wrong: &Wrong| STATED.iter().any(|(name, ..)| *name == wrong.field);
    let stated = STATED.iter().any(|(name, ..)| !form.typed.text(name).is_empty());
    html! {
        p { "One file is one heating of the block. It is kept as evidence, and what is read from it is read again whenever it is shown." }
        form method="post" enctype="multipart/form-data" novalidate {
            (pick_plan(form, plans))
            (file(form))
            (form.number(field("height", "Height of the flame, in mm (optional)", "By the gauge, where it was measured.")))
            (pick_class(form))
            details open[stated || form.wrong.iter().any(detail)] {
                summary { "What the file does not say itself" }
                @for (name, label, hint) in STATED { (form.line(field(name, &format!("{label} (optional)"), hint))) }
            }
            button { "Record the determination" }
        }
    }
}

/// The class of the thermocouple.
pub(super) fn pick_class(form: Form<'_>) -> Markup {
    let options = [
        ("", "Not stated: its tolerance is not counted"),
        ("1", "Class 1"),
        ("2", "Class 2"),
        ("3", "Class 3"),
    ];
    let options = options.map(|(value, label)| Answer { value, label: label.to_owned() });
    form.pick(
        field(
            "class",
            "Tolerance class of the thermocouple",
            "By IEC 60584-1; it enters the uncertainty.",
        ),
        &options,
    )
}

/// The logger's file; one that came before is kept by its hash.
fn file(form: Form<'_>) -> Markup {
    let filed = form.typed.text("file");
    let wrong: Vec<&Wrong> = form.wrong.iter().filter(|wrong| wrong.field == "file").collect();
    let name = filed.split_once(' ').map_or(filed, |(_, name)| name);
    let name = Path::new(name).file_name().unwrap_or_default().to_string_lossy();
    html! {
        div.field.wrong[!wrong.is_empty()] {
            label for="file" { "The logger's file" }
            p.hint #file-hint { "A table of text (CSV): one row a reading. " (UPLOAD_LIMIT) }
            @for wrong in &wrong { p.wrong-words { span.apart { "Error: " } (wrong.words) } }
            @if !filed.is_empty() && wrong.is_empty() {
                p { "Kept: " (name) }
                input type="hidden" name="file" value=(filed);
            }
            input #file type="file" name="file" accept=".csv,.txt,.tsv,.dat,.log"
                aria-describedby="file-hint";
        }
    }
}
