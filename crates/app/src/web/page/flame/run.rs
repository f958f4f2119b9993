//! Confirm the flame, live: the block as it warms and cools, the curve as it is read, and each
//! heating with its value. The server reads the source; the page follows.

use std::convert::Infallible;
use std::time::Duration as Pause;

use axum::Json;
use axum::extract::State;
use axum::http::StatusCode;
use axum::response::sse::{Event, KeepAlive, Sse};
use axum::response::{IntoResponse as _, Redirect, Response};
use axum::routing::get;
use futures_util::Stream;
use futures_util::stream::unfold;
use maud::Markup;
use metrology::{Duration, Measurement};
use reading::FaultKind;
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;
use utoipa_axum::router::OpenApiRouter;
use utoipa_axum::routes;

use super::curve::{Curve, Spot};
use super::{Offered, live_view, offered, source};
use crate::book::OpenBook;
use crate::form::fields::{Filled, Typed, Wrong};
use crate::problem::Problem;
use crate::web::answer::{ProblemDocument, Refused, RefusedTwin};
use crate::web::asked::Document;
use crate::web::live::{self, Instruments, Seat, Sitting};
use crate::web::site::{InSession, Person, Shown, Site};

/// The page is told what is new this often.
const TOLD_EVERY: Pause = Pause::from_millis(200);

/// The sitting at the block, if there is one.
#[derive(Serialize, ToSchema)]
pub(super) struct RunSheet {
    /// The sitting.
    pub(super) sitting: Option<SittingShown>,
    /// Plans found ready, for which one can be begun.
    #[serde(flatten)]
    pub(super) plans: Offered,
    /// What happened to the last sitting, where the program ended during it.
    pub(super) interrupted: Option<String>,
    /// The kind of source that was read last.
    pub(super) last_source: String,
}

/// A sitting at the block.
#[derive(Serialize, ToSchema)]
pub(super) struct SittingShown {
    /// The plan for which the flame is confirmed.
    pub(super) plan: u32,
    /// Who began it.
    pub(super) by: String,
    /// The source, in words.
    pub(super) source: String,
    /// Why what it gives is no measurement, where it is none.
    pub(super) made_up: Option<String>,
    /// Whether its heatings are recorded in the book.
    pub(super) records: bool,
    /// The file in the book's folder that holds all that the source told.
    pub(super) recording: String,
    /// How the block stands now.
    pub(super) now: Now,
    /// Its heatings.
    pub(super) heatings: Vec<HeatingShown>,
    /// The curve of the heating at work.
    pub(super) curve: Option<Curve>,
    /// How many determinations are asked for.
    pub(super) needed: u64,
    /// The shortest rise time that is accepted, in seconds.
    pub(super) shortest_s: f64,
    /// The longest.
    pub(super) longest_s: f64,
    /// What the heatings came to.
    pub(super) said: Option<String>,
    /// Whether they confirmed the flame.
    pub(super) confirmed: bool,
    /// What was wrong with the source, the last of it last.
    pub(super) troubles: Vec<String>,
    #[serde(skip)]
    pub(super) window: reading::Window,
}

/// A heating that has ended.
#[derive(Serialize, ToSchema)]
pub(super) struct HeatingShown {
    /// Its number in the record.
    pub(super) determination: Option<u32>,
    /// What was read, or why it is void.
    pub(super) told: String,
    /// Whether it is void.
    pub(super) void: bool,
    /// The rise time, in seconds.
    pub(super) rise_s: Option<f64>,
    /// Its expanded uncertainty (k = 2), in seconds.
    pub(super) expanded_s: Option<f64>,
    /// Its curve.
    pub(super) curve: Option<Curve>,
}

/// How the block stands.
#[derive(Clone, Debug, PartialEq, Serialize, ToSchema)]
pub(super) struct Now {
    /// The sitting's number in this run of the program.
    pub(super) sitting: u32,
    /// `waits`, `unlike`, `warm`, `ready`, `heats`, `records` or `over`.
    pub(super) stage: &'static str,
    /// The same in words.
    pub(super) heading: String,
    /// The block's temperature, in words.
    pub(super) block: String,
    /// How fast it changes, in words.
    pub(super) slope: String,
    /// How long until it is cool enough, or how long the flame is on it, in words.
    pub(super) lasts: String,
    /// What was wrong last.
    pub(super) trouble: String,
    /// How many heatings have ended.
    pub(super) heatings: usize,
    /// The temperature in degrees Celsius.
    pub(super) celsius: Option<f64>,
    /// How fast it changes.
    pub(super) slope_kelvin_per_second: Option<f64>,
    /// How long until it is cool enough, in seconds, as its cooling foretells.
    pub(super) cools_in_s: Option<f64>,
    /// The expanded uncertainty of that (k = 2), in seconds.
    pub(super) cools_in_expanded_s: Option<f64>,
}

/// What is new at the block.
#[derive(Serialize, ToSchema)]
struct Tick {
    #[serde(flatten)]
    now: Now,
    /// The place of the first of these readings in the heating at work.
    from: usize,
    /// Its readings that were not told yet, in seconds since the flame was put on.
    spots: Vec<Spot>,
}

/// An act at the block.
#[derive(Deserialize, ToSchema)]
#[schema(as = FlameAct)]
#[serde(tag = "act", rename_all = "kebab-case", deny_unknown_fields)]
enum Deed {
    /// The flame is put to the block.
    FlameOn {},
    /// The heating is ended and void.
    EndHeating {
        /// Why.
        reason: String,
    },
    /// The sitting is ended.
    End {},
}

/// The routes.
pub(super) fn routes() -> OpenApiRouter<Site> {
    OpenApiRouter::new()
        .route("/flame/run", get(page).post(act))
        .routes(routes!(twin))
        .routes(routes!(events))
        .routes(routes!(act_twin))
        .merge(source::routes())
}

async fn page(State(site): State<Site>, person: Person) -> Result<Markup, Refused> {
    shown(&site, person, Filled { typed: &Typed::default(), wrong: &[] }).await
}

async fn shown(site: &Site, person: Person, filled: Filled<'_>) -> Result<Markup, Refused> {
    let seat = site.seat().clone();
    let show = |sheet: &RunSheet| Shown {
        title: filled.title("Confirm the flame"),
        heading: "Confirm the flame".to_owned(),
        main: match &sheet.sitting {
            Some(sitting) => live_view::main(sitting, filled),
            None => source::beginning(sheet, filled),
        },
    };
    site.show(person, "/flame", move |book| look(book, &seat), show).await
}

/// The sitting at the block
#[utoipa::path(get, path = "/api/flame/run", responses(
    (status = 200, body = RunSheet),
    (status = "default", body = ProblemDocument, content_type = "application/problem+json"),
))]
async fn twin(State(site): State<Site>, _: Person) -> Result<Json<RunSheet>, RefusedTwin> {
    let seat = site.seat().clone();
    Ok(Json(site.read(move |book| look(book, &seat)).await?))
}

/// What is new at the block, as it comes: one document an event
#[utoipa::path(get, path = "/api/flame/run/events", responses(
    (status = 200, body = Tick, content_type = "text/event-stream"),
    (status = "default", body = ProblemDocument, content_type = "application/problem+json"),
))]
async fn events(
    State(site): State<Site>,
    _: Person,
    InSession(word): InSession,
) -> Sse<impl Stream<Item = Result<Event, Infallible>>> {
    let seat = site.seat().clone();
    let told = unfold((seat, Told::default()), move |(seat, mut told)| {
        let (site, word) = (site.clone(), word.clone());
        async move {
            loop {
                tokio::time::sleep(TOLD_EVERY).await;
                if !site.access().knows(&word) {
                    // Who was shut out is told nothing more.
                    return None;
                }
                let tick = told.next(seat.take().as_ref());
                if let Some(event) = tick.and_then(|tick| Event::default().json_data(tick).ok()) {
                    return Some((Ok(event), (seat, told)));
                }
            }
        }
    });
    Sse::new(told).keep_alive(KeepAlive::default())
}

/// What a page was told already.
#[derive(Default)]
struct Told {
    now: Option<Now>,
    heating: usize,
    spots: usize,
}

impl Told {
    /// What is new; nothing if nothing is.
    fn next(&mut self, sitting: Option<&Sitting>) -> Option<Tick> {
        let now = sitting.map_or_else(nobody, now);
        if now.heatings != self.heating {
            (self.heating, self.spots) = (now.heatings, 0);
        }
        let spots: Vec<Spot> = sitting.map(spots).unwrap_or_default();
        if spots.len() < self.spots {
            self.spots = 0;
        }
        let fresh = spots.get(self.spots..).unwrap_or_default().to_vec();
        if fresh.is_empty() && self.now.as_ref() == Some(&now) {
            return None;
        }
        let from = self.spots;
        self.spots = spots.len();
        self.now = Some(now.clone());
        Some(Tick { now, from, spots: fresh })
    }
}

/// What a form of the page asks to do.
async fn act(State(site): State<Site>, person: Person, typed: Typed) -> Result<Response, Refused> {
    let deed = match typed.text("act") {
        "flame-on" => Ok(Deed::FlameOn {}),
        "end" => Ok(Deed::End {}),
        "end-heating" => typed
            .needed("reason", "Say why this heating does not count.")
            .map(|reason| Deed::EndHeating { reason: reason.to_owned() }),
        other => Err(Wrong::new("act", format!("`{other}` is nothing that is done at the block."))),
    };
    let deed = match deed {
        Ok(deed) => deed,
        Err(wrong) => {
            let form = Filled { typed: &typed, wrong: &[wrong] };
            let page = shown(&site, person, form).await?;
            return Ok((StatusCode::UNPROCESSABLE_ENTITY, page).into_response());
        }
    };
    let to = if matches!(deed, Deed::End {}) { "/flame" } else { "/flame/run" };
    done(&site, person, deed).await?;
    Ok(Redirect::to(to).into_response())
}

/// Acts at the block
#[utoipa::path(post, path = "/api/flame/run/acts", request_body = Deed, responses(
    (status = 200, body = RunSheet),
    (status = "default", body = ProblemDocument, content_type = "application/problem+json"),
))]
async fn act_twin(
    State(site): State<Site>,
    person: Person,
    Document(deed): Document<Deed>,
) -> Result<Json<RunSheet>, RefusedTwin> {
    done(&site, person, deed).await?;
    let seat = site.seat().clone();
    Ok(Json(site.read(move |book| look(book, &seat)).await?))
}

async fn done(site: &Site, Person(who): Person, deed: Deed) -> Result<(), Refused> {
    let seat = site.seat();
    match deed {
        Deed::FlameOn {} => {
            seat.heat(who)?;
            seat.noted(site).await;
            Ok(())
        }
        Deed::EndHeating { reason } if reason.trim().is_empty() => {
            let problem = Problem::used_wrongly("no reason is given for ending the heating");
            Err(problem.hint("Say why it does not count.").into())
        }
        Deed::EndHeating { reason } => seat.end_heating(site, reason).await.map_err(Refused::from),
        Deed::End {} => seat.end(site).await.map_err(Refused::from),
    }
}

fn look(book: &OpenBook, seat: &Seat) -> Result<RunSheet, Problem> {
    let seat = seat.take();
    let Some(sitting) = seat.as_ref() else { return Ok(nobody_there(book)) };
    let about = &sitting.about;
    let asked = &book.plan(about.plan)?.requirement().asked.confirmation;
    let band = asked.rise_time.value;
    let heatings = sitting.heatings.iter().map(|heated| HeatingShown {
        determination: heated.number.map(|number| number.0),
        told: heated.told.clone(),
        void: heated.void,
        rise_s: heated.rise_s.map(|(rise, _)| rise),
        expanded_s: heated.rise_s.map(|(_, expanded)| expanded),
        curve: heated.trace.as_ref().map(|(trace, rise)| {
            let name = heated.number.map_or("practice".to_owned(), |number| number.to_string());
            Curve::since(name, trace, rise.as_ref(), heated.on)
        }),
    });
    let sitting = SittingShown {
        plan: about.plan.0,
        by: about.by.to_string(),
        source: about.source.clone(),
        made_up: about.made_up.clone(),
        records: about.records,
        recording: about.recording.clone(),
        now: now(sitting),
        heatings: heatings.collect(),
        curve: sitting.course.heating().map(|_| Curve::growing(&spots(sitting))),
        needed: asked.determinations.value.number(),
        shortest_s: band.low.seconds(),
        longest_s: band.high.seconds(),
        said: sitting.said.clone(),
        confirmed: confirmed(book, sitting),
        troubles: sitting.troubles.clone(),
        window: sitting.course.window(),
    };
    Ok(RunSheet { sitting: Some(sitting), ..nobody_there(book) })
}

/// What can be begun.
pub(super) fn nobody_there(book: &OpenBook) -> RunSheet {
    let folder = book.book().own_folder();
    let mut last_source = Instruments::of(folder).last;
    if last_source.is_empty() && book.history().made_up() {
        // A made-up book has no instruments.
        "practice".clone_into(&mut last_source);
    }
    RunSheet {
        sitting: None,
        plans: offered(book.history()),
        interrupted: live::said(folder),
        last_source,
    }
}

/// Whether the last heating is one of those by which the flame was confirmed last.
fn confirmed(book: &OpenBook, sitting: &Sitting) -> bool {
    let last = sitting.heatings.last().and_then(|heated| heated.number);
    let confirmation = book.history().last_confirmation();
    last.zip(confirmation)
        .is_some_and(|(last, made)| made.determinations.iter().any(|it| it.number == last))
}

/// The readings of the heating at work, in seconds since the flame was put on.
fn spots(sitting: &Sitting) -> Vec<Spot> {
    let Some(heating) = sitting.course.heating() else { return Vec::new() };
    let points = heating.points.iter();
    points.map(|point| Spot::of(*point, heating.on)).collect()
}

/// How it stands when nobody sits at the block.
fn nobody() -> Now {
    Now {
        sitting: 0,
        stage: "over",
        heading: "Nobody sits at the block".to_owned(),
        block: String::new(),
        slope: String::new(),
        lasts: String::new(),
        trouble: String::new(),
        heatings: 0,
        celsius: None,
        slope_kelvin_per_second: None,
        cools_in_s: None,
        cools_in_expanded_s: None,
    }
}

fn now(sitting: &Sitting) -> Now {
    let course = &sitting.course;
    let last = course.last();
    let limit = course.start();
    let unlike = course.unlike();
    let (stage, heading) = if sitting.over {
        ("over", "The source has ended".to_owned())
    } else if sitting.recording {
        ("records", "The curve is read: take the flame away".to_owned())
    } else if course.heating().is_some() {
        ("heats", "Flame on block".to_owned())
    } else if last.is_none() {
        ("waits", "No reading of the block yet".to_owned())
    } else if unlike.is_some() {
        ("unlike", "The block does not read what the terminals have".to_owned())
    } else if course.cool() {
        ("ready", "The block is ready".to_owned())
    } else {
        ("warm", format!("Let the block cool to below {limit:.0}"))
    };
    let slope = course.slope_kelvin_per_second();
    let foretold = course.foretold().filter(|_| stage == "warm");
    let cools = course.cools_in().filter(|_| stage == "warm");
    let lasts = match course.heating().zip(last) {
        Some((heating, last)) => format!("{:.0} since the flame", last.at - heating.on),
        None => match foretold {
            Some(left) => foretold_words(&left),
            None => {
                cools.map_or_else(String::new, |it| format!("about {} more", whole(it.seconds())))
            }
        },
    };
    Now {
        sitting: sitting.about.number,
        stage,
        heading,
        block: last.map_or_else(|| "–".to_owned(), |last| format!("{:.1}", last.temperature)),
        slope: slope.map_or_else(String::new, |it| format!("{it:+.1} K/s").replace('-', "−")),
        lasts,
        trouble: match (unlike, stage) {
            (Some(unlike), "unlike") => format!("{unlike} {}", FaultKind::WrongType.hint()),
            _ => sitting.troubles.last().cloned().unwrap_or_default(),
        },
        heatings: sitting.heatings.len(),
        celsius: last.map(|last| last.temperature.celsius()),
        slope_kelvin_per_second: slope,
        cools_in_s: foretold.map(|left| left.value.seconds()),
        cools_in_expanded_s: foretold.map(|left| 2.0 * left.uncertainty.seconds()),
    }
}

/// A foretold time of cooling with its ± (k = 2).
fn foretold_words(left: &Measurement<Duration>) -> String {
    let (seconds, expanded) = (left.value.seconds(), 2.0 * left.uncertainty.seconds());
    if seconds >= 120.0 {
        format!("{:.1} min ± {:.1} min more", seconds / 60.0, (expanded / 60.0).max(0.1))
    } else {
        let five = |seconds: f64| (seconds / 5.0).ceil() * 5.0;
        format!("{:.0} s ± {:.0} s more", five(seconds), five(expanded))
    }
}

/// A time of cooling as it is said: to the ten seconds, from two minutes on to the minute.
fn whole(seconds: f64) -> String {
    if seconds >= 120.0 {
        format!("{:.0} min", seconds / 60.0)
    } else {
        format!("{:.0} s", (seconds / 10.0).ceil() * 10.0)
    }
}
