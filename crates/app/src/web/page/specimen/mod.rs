//! One specimen: one strip of time, what was seen, photographs, judgement, history of changes.

mod amend;
mod evidence;
mod film_view;
mod films;
mod heard;
mod signed;
mod strip;
mod times;

use axum::Json;
use axum::extract::{Path, State};
use axum::http::StatusCode;
use axum::response::{IntoResponse as _, Response};
use axum::routing::get;
use maud::{Markup, html};
use metrology::decision::Standing as Stood;
use serde::Serialize;
use trial::bench::{Act, State as BenchState, stand};
use trial::fact::{Conditioned, Evidence, Fact, Recorded};
use trial::history::{History, RecordedRun};
use trial::method::Demand;
use trial::moment::Elapsed;
use trial::number::{PlanNumber, SpecimenNumber};
use trial::run::{Application, Burnt, MarkKind, Observed};
use trial::signature::{SentBack, Signature, Signed};
use trial::verdict::{Judged, Reason, SpecimenStanding};
use utoipa::ToSchema;
use utoipa_axum::router::OpenApiRouter;
use utoipa_axum::routes;

use super::help;
use super::record::telling;
use super::shown;
use super::when;
use crate::book::OpenBook;
use crate::form::fields::{Filled, Typed, Wrong};
use crate::form::pressed::{Changed, Pressed, at_the_bench, in_words, tenths};
use crate::problem::Problem;
use crate::web::answer::{ProblemDocument, Refused, RefusedTwin};
use crate::web::asked::Given;
use crate::web::site::{Person, Shown, Site};
use films::FilmShown;
use strip::{Lasted, Moments, moments};
use times::Doubtful;

/// A specimen and all that is known of it.
#[derive(Serialize, ToSchema)]
struct Specimen {
    /// Its plan.
    plan: u32,
    /// Its number.
    specimen: u32,
    /// The laboratory's job.
    job: String,
    /// Whether it was in the flame.
    tested: bool,
    /// Why it is spoilt, if it is.
    spoilt: Option<String>,
    /// Where it stands at the bench, such as `ready`, `burning` or `finished`.
    bench: &'static str,
    #[serde(skip)]
    at: BenchState,
    /// Whether its plan was found ready.
    ready: bool,
    /// Who timed it, if somebody did.
    timed_by: Option<String>,
    /// What happened when, in seconds from the first flame.
    moments: Moments,
    /// What makes its times doubtful, and who accepted them.
    doubtful: Doubtful,
    /// Times that do not hold as they were pressed.
    corrected_times: Vec<CorrectedTime>,
    /// Who signed it, and what was corrected since.
    signing: signed::Signing,
    /// What was seen, line by line.
    seen: Vec<Line>,
    /// How it stands by the rules now: `meets`, `does-not-meet`, `undecided`, `not-judged`.
    verdict: Option<String>,
    /// Each reason as a sentence, or why it is not judged.
    reasons: Vec<String>,
    /// Photographs and other files of its run.
    evidence: Vec<File>,
    /// Photographs of it from before the flame.
    photos_before: Vec<File>,
    /// Its films.
    films: Vec<FilmShown>,
    /// The tones that the bench gave as it was pressed, which a film may have heard.
    tones: Vec<Tone>,
    /// When the flame was removed the last time, in seconds from the first flame.
    removed_s: Option<f64>,
    /// Whether a film may be added on its page.
    #[serde(skip)]
    takes_films: bool,
    /// The entries of the record that speak of it.
    history: Vec<Change>,
}

/// A tone of the bench.
#[derive(Serialize, ToSchema)]
struct Tone {
    /// `flame-on` or `flame-removed`.
    name: &'static str,
    /// When it was pressed, in seconds from the first flame.
    at_s: f64,
}

/// A time that does not hold as it was pressed.
#[derive(Serialize, ToSchema)]
struct CorrectedTime {
    /// Which.
    what: String,
    /// As it was pressed.
    pressed: String,
    /// As it holds.
    holds: String,
}

/// Something that was seen.
#[derive(Serialize, ToSchema)]
#[schema(as = SpecimenLine)]
struct Line {
    /// What.
    what: String,
    /// As it was seen.
    seen: String,
}

/// A file.
#[derive(Serialize, ToSchema)]
#[schema(as = SpecimenFile)]
struct File {
    /// Its name when it came.
    name: String,
    /// Its SHA-256.
    sha256: String,
    /// Its size in bytes.
    bytes: u64,
    /// What it is, such as `photo`.
    kind: String,
}

/// An entry of the record.
#[derive(Serialize, ToSchema)]
struct Change {
    /// Its number.
    entry: u64,
    /// When.
    at: String,
    /// Who.
    who: String,
    /// What it says.
    says: String,
    /// Why it no longer holds, if it was corrected.
    corrected: Option<String>,
}

/// The routes.
pub(super) fn routes() -> OpenApiRouter<Site> {
    OpenApiRouter::new()
        .route("/specimens/{specimen}", get(page))
        .route("/specimens/{specimen}/evidence/{sha256}", get(evidence::file))
        .routes(routes!(twin))
        .merge(amend::routes())
        .merge(films::routes())
        .merge(times::routes())
}

async fn page(
    State(site): State<Site>,
    Given(Path(named)): Given<Path<String>>,
    person: Person,
) -> Result<Markup, Refused> {
    let (plan, specimen) = shown::specimen_at(&site, &named).await?;
    let filled = Filled { typed: &Typed::new(Vec::new()), wrong: &[] };
    let show = |seen: &Specimen| shown_page(seen, filled);
    site.show(person, "/plans", move |book| look(book, plan, specimen), show).await
}

/// The page with what is wrong in one of its forms.
async fn drawn(
    site: &Site,
    person: Person,
    (plan, specimen): (PlanNumber, SpecimenNumber),
    (typed, wrong): (&Typed, &[Wrong]),
) -> Result<Response, Refused> {
    let show = |seen: &Specimen| shown_page(seen, Filled { typed, wrong });
    let page = site.show(person, "/plans", move |book| look(book, plan, specimen), show);
    Ok((StatusCode::UNPROCESSABLE_ENTITY, page.await?).into_response())
}

fn shown_page(seen: &Specimen, filled: Filled<'_>) -> Shown {
    let heading =
        format!("Specimen {} of plan {}: {}", seen.specimen, PlanNumber(seen.plan), seen.job);
    Shown { title: filled.title(&heading), heading, main: main(seen, filled) }
}

/// One specimen, named by plan and number, such as `7-2`
#[utoipa::path(get, path = "/api/specimens/{specimen}", params(("specimen" = String, Path)),
    responses(
    (status = 200, body = Specimen),
    (status = "default", body = ProblemDocument, content_type = "application/problem+json"),
))]
async fn twin(
    State(site): State<Site>,
    Given(Path(named)): Given<Path<String>>,
    _person: Person,
) -> Result<Json<Specimen>, RefusedTwin> {
    let (plan, specimen) = shown::specimen_at(&site, &named).await?;
    Ok(Json(site.read(move |book| look(book, plan, specimen)).await?))
}

fn run(history: &History, plan: PlanNumber, specimen: SpecimenNumber) -> Option<&RecordedRun> {
    history.runs(plan).iter().find(|recorded| recorded.run.specimen() == specimen)
}

fn look(book: &OpenBook, plan: PlanNumber, specimen: SpecimenNumber) -> Result<Specimen, Problem> {
    let history = book.history();
    let recorded = run(history, plan, specimen);
    let observed = recorded.map(|recorded| recorded.run.observed());
    let spoilt = history.spoilt(plan);
    let spoilt = spoilt.iter().find(|(which, _)| *which == specimen).map(|(_, why)| *why);
    let spoilt = spoilt.or(observed.and_then(|observed| observed.spoilt.as_deref()));
    let verdict = history.judge(plan);
    let judged =
        verdict.as_ref().and_then(|it| it.judged.iter().find(|it| it.specimen == specimen));
    let standing = history.standing(plan, specimen).unwrap_or_else(|| stand(1, &[]));
    let pressed = Pressed::of(history, plan, specimen);
    let timing = pressed.as_ref().map(|pressed| Lasted::from(&pressed.timing));
    let lasted = observed.map(Lasted::from).or(timing);
    let films = films::films(book, (plan, specimen));
    Ok(Specimen {
        plan: plan.0,
        specimen: specimen.0,
        job: book.plan(plan)?.draft().job.clone(),
        tested: recorded.is_some(),
        spoilt: spoilt.map(str::to_owned),
        bench: standing.state.word(),
        at: standing.state,
        ready: history.is_ready(plan),
        timed_by: history.sitting(plan, specimen).map(|sitting| sitting.who.to_string()),
        moments: moments(lasted, (history.presses(plan, specimen), &standing)).with_films(&films),
        tones: pressed.as_ref().map(tones).unwrap_or_default(),
        removed_s: removed(history, plan, specimen).map(seconds),
        photos_before: history.photos_before(plan, specimen).iter().map(file).collect(),
        doubtful: times::look(history, (plan, specimen)),
        signing: signed::look(history, (plan, specimen)),
        corrected_times: pressed.zip(observed).map(corrected).unwrap_or_default(),
        seen: recorded.map(seen).unwrap_or_default(),
        verdict: judged.map(|judged| judged.standing.word().to_owned()),
        reasons: judged.map(|judged| reasons(judged, observed)).unwrap_or_default(),
        evidence: observed.map(|it| it.evidence.iter().map(file).collect()).unwrap_or_default(),
        takes_films: recorded.is_some()
            || matches!(standing.state, BenchState::Finished | BenchState::Spoilt),
        films,
        history: changes(history, plan, specimen),
    })
}

/// When the flame was removed the last time, from the first flame: as described, else as pressed.
fn removed(history: &History, plan: PlanNumber, specimen: SpecimenNumber) -> Option<Elapsed> {
    let described = run(history, plan, specimen).map(|it| &it.run.observed().applications);
    let last = described.and_then(|applications| applications.last().copied());
    let pressed = || Pressed::of(history, plan, specimen)?.timing.applications.last().copied();
    last.or_else(pressed).map(|last| last.removed)
}

fn corrected((pressed, observed): (Pressed, &Observed)) -> Vec<CorrectedTime> {
    let changed = pressed.changed(observed).into_iter();
    let corrected = |Changed { what, pressed, holds }| CorrectedTime { what, pressed, holds };
    changed.map(corrected).collect()
}

/// What the bench sounded for the presses that stand.
fn tones(pressed: &Pressed) -> Vec<Tone> {
    let both = |application: &Application| {
        let tone = |act: Act, at| Tone { name: act.word(), at_s: seconds(at) };
        [tone(Act::FlameOn, application.on), tone(Act::FlameRemoved, application.removed)]
    };
    pressed.timing.applications.iter().flat_map(both).collect()
}

fn seconds(at: Elapsed) -> f64 {
    at.since(Elapsed::ZERO).seconds()
}

fn file(file: &Evidence) -> File {
    File {
        name: file.name.clone(),
        sha256: file.hash.to_string(),
        bytes: file.bytes,
        kind: file.kind.to_string(),
    }
}

/// Each reason as a sentence; that of the layer with when it caught and when it was out.
fn reasons(judged: &Judged, observed: Option<&Observed>) -> Vec<String> {
    let caught = observed.and_then(|observed| {
        let marks = observed.marks.iter();
        let at =
            marks.filter(|mark| mark.kind == MarkKind::LayerCaught).map(|mark| mark.at).min()?;
        let out = observed.surroundings.at().map_or_else(|| "–".to_owned(), tenths);
        Some(format!("; it caught at {} and was out at {out}", tenths(at)))
    });
    let sentence = |reason: &Reason| match (&caught, reason.demand, reason.stood) {
        (Some(caught), Demand::LayerIgnition, Stood::Broken) => reason.sentence() + caught,
        _ => reason.sentence(),
    };
    let mut reasons: Vec<String> = judged.reasons.iter().map(sentence).collect();
    reasons.extend(judged.not_judged_because.iter().map(|finding| finding.text.clone()));
    reasons
}

fn seen(recorded: &RecordedRun) -> Vec<Line> {
    let (run, observed) = (&recorded.run, recorded.run.observed());
    let Observed { air, observer, note, timing_uncertainty, clock_offset, .. } = observed;
    let applied: Vec<String> =
        run.durations_of_application().iter().map(|it| format!("{it:.1}")).collect();
    let mut lines = Vec::new();
    let mut say = |what: &str, seen: String| {
        if !seen.is_empty() {
            lines.push(Line { what: what.to_owned(), seen });
        }
    };
    say("Flame on specimen", when(observed.began));
    say("Flame applied for", applied.join(", "));
    say("Afterflame", shown::timed(run.afterflame()));
    say("Afterglow", shown::timed(run.afterglow()));
    say("Duration of burning", shown::timed(run.duration_of_burning()));
    say("Layer below", shown::layer(observed.layer).to_owned());
    let burnt = match observed.burnt {
        Burnt::Partly => "partly",
        Burnt::Completely => "completely",
    };
    say("Burnt", burnt.to_owned());
    say(
        "Damaged length",
        observed.damaged_length.map(|it| format!("{:.0}", it.value)).unwrap_or_default(),
    );
    say(
        "Air",
        format!("{:.1}, {:.0} % relative humidity", air.temperature, air.humidity.percent()),
    );
    say("Timed by", observer.to_string());
    say("Standard uncertainty of a time", format!("{timing_uncertainty:.2}"));
    if clock_offset.seconds() > 0.0 {
        say("The device's clock may be off by", format!("± {clock_offset:.3}"));
    }
    say("Under confirmation", recorded.confirmation.to_string());
    say("Anything unusual", note.clone());
    lines
}

/// The entries that speak of this specimen, in order.
fn changes(history: &History, plan: PlanNumber, specimen: SpecimenNumber) -> Vec<Change> {
    let own = history.entries().iter().filter(|entry| speaks_of(&entry.fact, plan, specimen));
    let change = |entry: &Recorded| Change {
        entry: entry.entry.0,
        at: when(entry.at),
        who: entry.who.to_string(),
        says: telling::words(&entry.fact),
        corrected: history.corrections(entry.entry).last().map(|it| it.reason.clone()),
    };
    own.map(change).collect()
}

fn speaks_of(fact: &Fact, plan: PlanNumber, specimen: SpecimenNumber) -> bool {
    if let Fact::RunRecorded { plan: of, observed, .. } = fact {
        *of == plan && observed.specimen == specimen
    } else if let Fact::SpecimenSpoilt { plan: of, specimen: which, .. }
    | Fact::PressesKept { plan: of, specimen: which, .. }
    | Fact::TimekeeperTaken { plan: of, specimen: which, .. }
    | Fact::FilmKept { plan: of, specimen: which, .. }
    | Fact::FilmHeard { plan: of, specimen: which, .. }
    | Fact::FilmPlaced { plan: of, specimen: which, .. }
    | Fact::TimesAccepted { plan: of, specimen: which, .. }
    | Fact::Signed(Signature {
        what: Signed::Specimen { plan: of, specimen: which },
        ..
    })
    | Fact::SpecimenPhotographed { plan: of, specimen: which, .. } = fact
    {
        *of == plan && *which == specimen
    } else if let Fact::SpecimensAdded { plan: of, specimens, .. }
    | Fact::SentBack(SentBack { plan: of, specimens, .. }) = fact
    {
        *of == plan && specimens.contains(&specimen)
    } else if let Fact::Corrected { by: Some(by), .. } = fact {
        speaks_of(by, plan, specimen)
    } else if let Fact::ConditioningRecorded(stored) = fact {
        stored.plan == plan
            && match &stored.what {
                Conditioned::Specimens(specimens) => specimens.contains(&specimen),
                Conditioned::Layer => false,
            }
    } else {
        false
    }
}

fn main(specimen: &Specimen, filled: Filled<'_>) -> Markup {
    let Specimen { plan, .. } = *specimen;
    html! {
        (filled.summary())
        (signed::sent_back(specimen))
        @if let Some(why) = &specimen.spoilt { p.sentence { "Spoilt: " (why) } }
        @if let Some(standing) = specimen.verdict.as_deref().and_then(SpecimenStanding::of_word) {
            p.sentence { (shown::specimen_standing(standing)) }
        }
        @if !specimen.tested && specimen.spoilt.is_none() { (next(specimen)) }
        @if !specimen.moments.is_empty() {
            h2 { "The strip of time" }
            (strip::drawn(&specimen.moments))
        }
        (strip::pressed(&specimen.moments))
        (times::shown(specimen, filled))
        (film_view::films(specimen, filled))
        @if specimen.tested {
            h2 { "What was seen" }
            dl.said {
                @for line in &specimen.seen { dt { (line.what) } dd { (line.seen) } }
                @for it in &specimen.corrected_times {
                    dt { (it.what) ", corrected" }
                    dd { del { (it.pressed) } " " (it.holds) }
                }
            }
            (signed::amended(specimen))
        }
        @if !specimen.reasons.is_empty() {
            h2 { "Judgement by the rules" }
            ul { @for reason in &specimen.reasons {
                li { (crate::web::answer::sentence(reason)) }
            } }
        }
        (signed::signatures(specimen))
        (help::way("specimen"))
        (evidence::photographs(specimen))
        h2 { "History" }
        @if specimen.history.is_empty() { p { "Nothing was recorded of it yet." } }
        @else { (shown::wide("History", &history_table(&specimen.history))) }
        p { a href={ "/plans/" (plan) } { "Plan P-" (plan) } " · "
            a href={ "/plans/" (plan) "/review" } { "Review of plan P-" (plan) } }
    }
}

/// What is to be done with a specimen that nobody described yet.
fn next(specimen: &Specimen) -> Markup {
    let bench = format!("/bench/{}/{}", specimen.plan, specimen.specimen);
    let describe = format!("/specimens/{}-{}/describe", specimen.plan, specimen.specimen);
    let by = specimen.timed_by.as_deref().unwrap_or("nobody");
    html! {
        @match specimen.at {
            BenchState::Finished => {
                p { "It was timed at the bench by " (by) " and is not described yet." }
                p { a.button href=(describe) { "Describe what you saw" } }
            }
            BenchState::Spoilt => {
                p { "It was found spoilt at the bench by " (by) "." }
                p { a.button href=(describe) { "Say what happened" } }
            }
            state if at_the_bench(state) => {
                p { "It is at the bench: " (in_words(state)) ", timed by " (by) "." }
                p { a.button href=(bench) { "Go to the bench" } }
            }
            _ if specimen.ready => {
                p { "It was not in the flame yet." }
                p { a.button href=(bench) { "Go to the bench" } }
                p { "Timed with a stop-watch? " a href=(describe) { "Describe it without presses" } "." }
            }
            _ => p { "It was not in the flame yet, and its plan was not found ready." },
        }
    }
}

fn history_table(changes: &[Change]) -> Markup {
    html! {
        table {
            thead { tr { th scope="col" { "Entry" } th scope="col" { "When" }
                th scope="col" { "Who" } th scope="col" { "What" } } }
            tbody { @for change in changes {
                tr {
                    td { a href={ "/record/" (change.entry) } { (change.entry) } }
                    td { (change.at) }
                    td { (change.who) }
                    td {
                        @if let Some(why) = &change.corrected {
                            del { (change.says) } " Corrected: " (why)
                        } @else { (change.says) }
                    }
                }
            } }
        }
    }
}
