//! The flame: the last confirmation, till when it holds, and the heatings that it was made of.

mod base_line;
mod bring;
mod budget_view;
mod curve;
mod live_view;
mod offered;
mod run;
mod settings;
mod source;
mod source_view;
mod typed;
mod view;
mod why;
mod why_view;

use std::collections::BTreeMap;
use std::sync::{Mutex, PoisonError};

use axum::Json;
use axum::extract::State;
use axum::http::StatusCode;
use axum::response::{IntoResponse as _, Redirect, Response};
use axum::routing::get;
use maud::Markup;
use serde::{Deserialize, Serialize};
use trial::confirmation::{Determination, DeterminationSource, confirm, still_holds};
use trial::fact::{EvidenceHash, Fact};
use trial::history::{History, RecordedConfirmation};
use trial::number::{ConfirmationNumber, DeterminationNumber, PlanNumber};
use utoipa::ToSchema;
use utoipa_axum::router::OpenApiRouter;
use utoipa_axum::routes;

use crate::book::OpenBook;
use crate::form::fields::{Filled, Typed, Wrong};
use crate::output::Output;
use crate::problem::{Exit, Problem};
use crate::step::confirm::{Heating, expanded_s, flame, read, told, under};
use crate::web::answer::{ProblemDocument, Refused, RefusedTwin, sentence};
use crate::web::asked::Document;
use crate::web::live::{self, till};
use crate::web::site::{Person, Shown, Site};
use crate::web::upload;
use curve::Curve;
use offered::{Offered, offered};

/// How the flame stands.
#[derive(Serialize, ToSchema)]
struct FlameSheet {
    /// Whether it is confirmed now.
    confirmed: bool,
    /// That, till when, and why not, in words.
    sentence: String,
    /// The last confirmation.
    confirmation: Option<ConfirmationShown>,
    /// The determinations since, which a next confirmation is made of.
    since: Vec<DeterminationShown>,
    /// Why these do not confirm the flame yet, and the way out.
    since_said: Vec<String>,
    /// Plans found ready, under which the flame can be confirmed.
    #[serde(flatten)]
    plans: Offered,
    /// What happened to the last sitting at the block, where the program ended during it.
    interrupted: Option<String>,
    /// The specimen that may be brought into the flame next, while it is confirmed.
    next: Option<NextSpecimen>,
}

/// A specimen to test next.
#[derive(Serialize, ToSchema)]
struct NextSpecimen {
    /// Its plan.
    plan: u32,
    /// Its number.
    specimen: u32,
}

/// A confirmation of the flame.
#[derive(Serialize, ToSchema)]
struct ConfirmationShown {
    /// Its number.
    confirmation: u32,
    /// Under which plan.
    plan: u32,
    /// When.
    at: String,
    /// By whom.
    by: String,
    /// All its determinations, void ones included.
    determinations: Vec<DeterminationShown>,
}

/// One heating of the block.
#[derive(Serialize, ToSchema)]
struct DeterminationShown {
    /// Its number.
    determination: u32,
    /// When it was recorded.
    at: String,
    /// The rise time, in seconds.
    rise_s: Option<f64>,
    /// Its expanded uncertainty (k = 2), in seconds.
    expanded_s: Option<f64>,
    /// Both in one line, or why it is void.
    told: String,
    /// How warm the block was at the start, in degrees Celsius.
    start_celsius: f64,
    /// Where it comes from.
    source: String,
    /// Faults and remarks.
    remarks: Vec<String>,
    /// Why it does not count, if so.
    void: Option<String>,
    /// Its curve, where there is one.
    curve: Option<Curve>,
    #[serde(skip)]
    window: Option<reading::Window>,
}

/// That a determination does not count.
#[derive(Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
struct Void {
    /// Which.
    determination: u32,
    /// Why.
    reason: String,
}

/// The routes.
pub(super) fn routes() -> OpenApiRouter<Site> {
    OpenApiRouter::new()
        .route("/flame", get(page).post(void))
        .routes(routes!(twin))
        .routes(routes!(void_twin))
        .merge(base_line::routes())
        .merge(why::routes())
        .merge(bring::routes())
        .merge(run::routes())
        .merge(typed::routes())
}

async fn page(State(site): State<Site>, person: Person) -> Result<Markup, Refused> {
    shown(&site, person, Filled { typed: &Typed::default(), wrong: &[] }).await
}

async fn shown(site: &Site, person: Person, filled: Filled<'_>) -> Result<Markup, Refused> {
    let show = |sheet: &FlameSheet| Shown {
        title: filled.title("Flame"),
        heading: "Flame".to_owned(),
        main: view::main(sheet, filled),
    };
    site.show(person, "/flame", look, show).await
}

/// How the flame stands
#[utoipa::path(get, path = "/api/flame", responses(
    (status = 200, body = FlameSheet),
    (status = "default", body = ProblemDocument, content_type = "application/problem+json"),
))]
async fn twin(State(site): State<Site>, _: Person) -> Result<Json<FlameSheet>, RefusedTwin> {
    Ok(Json(site.read(look).await?))
}

/// Voids a determination by the page's form.
async fn void(State(site): State<Site>, person: Person, typed: Typed) -> Result<Response, Refused> {
    let reason = typed.needed("reason", "Say why it does not count.").map(str::to_owned);
    let number = typed.text("determination").parse();
    let asked = match (number, reason) {
        (Ok(determination), Ok(reason)) => Void { determination, reason },
        (number, reason) => {
            let which = number.err().map(|_| Wrong::new("determination", "Say which one."));
            let wrong: Vec<Wrong> = which.into_iter().chain(reason.err()).collect();
            let page = shown(&site, person, Filled { typed: &typed, wrong: &wrong }).await?;
            return Ok((StatusCode::UNPROCESSABLE_ENTITY, page).into_response());
        }
    };
    site.act(person, move |book, output| voided(book, output, asked)).await?;
    Ok(Redirect::to("/flame").into_response())
}

/// Voids a determination; it stays visible
#[utoipa::path(post, path = "/api/flame/void", request_body = Void, responses(
    (status = 200, body = FlameSheet),
    (status = "default", body = ProblemDocument, content_type = "application/problem+json"),
))]
async fn void_twin(
    State(site): State<Site>,
    person: Person,
    Document(asked): Document<Void>,
) -> Result<Json<FlameSheet>, RefusedTwin> {
    let done = site.act(person, move |book, output| {
        voided(book, output, asked)?;
        look(book)
    });
    Ok(Json(done.await?))
}

/// Voids it once, however often it is sent.
fn voided(book: &mut OpenBook, output: &Output, asked: Void) -> Result<(), Problem> {
    let (number, reason) = (DeterminationNumber(asked.determination), asked.reason);
    if reason.trim().is_empty() {
        let problem = Problem::used_wrongly(format!("no reason is given for voiding {number}"));
        return Err(problem.hint("Say why it does not count."));
    }
    let made = book.history().determinations().iter().find(|made| made.number == number);
    if made.is_some_and(|made| made.void.as_ref() == Some(&reason)) {
        return Ok(());
    }
    book.keep(&Fact::DeterminationVoided { number, reason }, output).map(drop)
}

/// How the flame stands after an act, or what was wrong with it.
fn after(book: &OpenBook, done: Result<(), Vec<Wrong>>) -> Result<FlameSheet, Problem> {
    done.map_err(|wrong| upload::refused(&wrong))?;
    look(book)
}

/// Holds the determinations against the band. That they do not confirm the flame yet is no
/// refusal: the page of the flame says how they stand better than a page about it would.
fn held(book: &mut OpenBook, plan: PlanNumber, output: &Output) -> Result<(), Problem> {
    match flame(book, plan, output) {
        Err(problem) if problem.exit == Exit::Finding => Ok(()),
        done => done.map(drop),
    }
}

fn look(book: &OpenBook) -> Result<FlameSheet, Problem> {
    let history = book.history();
    let last = history.last_confirmation();
    let (confirmed, sentence) = stands(book)?;
    let shown = |made: &Determination| of(book, under(history, made), made);
    let confirmation = last.map(|last| ConfirmationShown {
        confirmation: last.number.0,
        plan: last.plan.0,
        at: super::when(last.at),
        by: last.who.to_string(),
        determinations: last
            .determinations
            .iter()
            .map(|made| now(history, made))
            .map(shown)
            .collect(),
    });
    let open = history.open_determinations();
    let since = open.iter().map(shown).collect();
    let since_said = not_yet(history, &open);
    let next = last.filter(|_| confirmed).and_then(|last| next(history, last.plan));
    let (plans, interrupted) = (offered(history), live::said(book.book().own_folder()));
    Ok(FlameSheet {
        confirmed,
        sentence,
        confirmation,
        since,
        since_said,
        plans,
        interrupted,
        next,
    })
}

/// Why the determinations since the last confirmation do not make another, and the way out.
fn not_yet(history: &History, open: &[Determination]) -> Vec<String> {
    let last = history.last_confirmation().map_or(0, |last| last.number.0);
    let found = open.last().and_then(|made| {
        let ready = history.ready(under(history, made)?)?;
        confirm(&ready, ConfirmationNumber(last + 1), open).err()
    });
    let found = found.unwrap_or_default();
    found.iter().map(|it| format!("{} {}", sentence(&it.text), it.hint)).collect()
}

/// The first specimen of a plan that nobody has brought into a flame.
fn next(history: &History, plan: PlanNumber) -> Option<NextSpecimen> {
    let used = history.used_specimens(plan);
    let mut untested = history.specimens(plan).into_iter().filter(|it| !used.contains(it));
    let specimen = untested.find(|it| history.sitting(plan, *it).is_none())?;
    Some(NextSpecimen { plan: plan.0, specimen: specimen.0 })
}

/// A determination as the record has it now: it may have been found void since.
fn now<'a>(history: &'a History, made: &'a Determination) -> &'a Determination {
    history.determinations().iter().find(|it| it.number == made.number).unwrap_or(made)
}

/// Whether the flame is confirmed, and the sentence that says so.
pub(super) fn stands(book: &OpenBook) -> Result<(bool, String), Problem> {
    book.history().last_confirmation().map_or_else(
        || Ok((false, "The flame was not confirmed yet.".to_owned())),
        |last| holds(book, last),
    )
}

/// Whether a confirmation holds, and the sentence that says so.
fn holds(book: &OpenBook, last: &RecordedConfirmation) -> Result<(bool, String), Problem> {
    let history = book.history();
    let Some(ready) = history.ready(last.plan) else {
        return Ok((false, format!("Plan {} is not ready any more.", last.plan)));
    };
    match still_holds(&ready, history, book.now()?) {
        Ok(confirmed) => {
            let longest = ready.plan().draft().confirmation_age_max;
            let till = longest.and_then(|age| till(confirmed.at(), age));
            let till = till.map_or_else(String::new, |till| format!("till {till}, or "));
            let sentence = format!(
                "The flame is confirmed {till}until the gas is changed or a determination is \
                 found void."
            );
            Ok((true, sentence))
        }
        Err(findings) => {
            let said: Vec<String> = findings.iter().map(|it| sentence(&it.text)).collect();
            Ok((false, format!("The flame is not confirmed now. {}", said.join(" "))))
        }
    }
}

fn of(book: &OpenBook, plan: Option<PlanNumber>, made: &Determination) -> DeterminationShown {
    let source = match &made.source {
        DeterminationSource::Trace { evidence, .. } => {
            format!("{}, {}", evidence.name, made.thermocouple)
        }
        DeterminationSource::Typed { by, seconded: Some(second) } => {
            format!("typed by {by}, checked by {second}")
        }
        DeterminationSource::Typed { by, seconded: None } => {
            format!("typed by {by}, checked by nobody yet")
        }
    };
    let drawn = plan.and_then(|plan| drawn(book, plan, made));
    let (curve, window) = drawn.map_or((None, None), |(curve, window)| (Some(curve), Some(window)));
    let rise = made.rise_time;
    DeterminationShown {
        determination: made.number.0,
        at: super::when(made.at),
        rise_s: rise.map(|rise| rise.value.seconds()),
        expanded_s: rise.as_ref().map(expanded_s),
        told: told(made),
        start_celsius: made.start.celsius(),
        source,
        remarks: made.remarks.clone(),
        void: made.void.clone(),
        curve,
        window,
    }
}

/// A curve as it was read, by all that it depends on: what is filed under a hash does not change.
type Read = (String, EvidenceHash, PlanNumber, Vec<String>);

/// The curves that were read of late: a trace is not read anew at each look.
static READ: Mutex<BTreeMap<Read, (Curve, reading::Window)>> = Mutex::new(BTreeMap::new());

/// So many are kept at most; then they are read again.
const READ_MOST: usize = 64;

/// The curve of a determination, read from its evidence as it was read then.
fn drawn(
    book: &OpenBook,
    plan: PlanNumber,
    made: &Determination,
) -> Option<(Curve, reading::Window)> {
    let DeterminationSource::Trace { evidence, read_as } = &made.source else { return None };
    let which = (made.number.to_string(), evidence.hash, plan, read_as.clone());
    if let Some(known) = READ.lock().unwrap_or_else(PoisonError::into_inner).get(&which) {
        return Some(known.clone());
    }
    let bytes = book.book().evidence(evidence.hash).ok()?;
    let heating = Heating { plan, read_as, flame_height: None };
    let again = read(book, &heating, &evidence.name, bytes.as_slice()).ok()?;
    let rise = again.found.as_ref().ok();
    let window = crate::step::confirm::window(book.plan(plan).ok()?).ok()?;
    let curve = Curve::of(made.number.to_string(), &again.trace, rise);
    let mut known = READ.lock().unwrap_or_else(PoisonError::into_inner);
    if known.len() >= READ_MOST {
        known.clear();
    }
    known.insert(which, (curve.clone(), window));
    Some((curve, window))
}
