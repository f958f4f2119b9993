//! The bench: which specimen is next, the dark page at the flame, and the presses it sends.

#[cfg(test)]
mod fuzz;

use axum::Json;
use axum::extract::{Path, State};
use axum::routing::get;
use maud::{DOCTYPE, Markup, html};
use serde::{Deserialize, Serialize};
use trial::bench::{Act, DeviceId, Input, Press, SittingId, State as BenchState};
use trial::moment::{Elapsed, Moment};
use trial::number::{PersonName, PlanNumber, SpecimenNumber};
use trial::rules::Limit;
use utoipa::ToSchema;
use utoipa_axum::router::OpenApiRouter;
use utoipa_axum::routes;

use super::bench_before::{Check, checks, list, not_ready};
use super::bench_pass::{self, Presser};
use super::{device, help};
use crate::book::OpenBook;
use crate::form::pressed::{at_the_bench, in_words};
use crate::problem::Problem;
use crate::step::press::{self, Bench};
use crate::web::answer::{ProblemDocument, Refused, RefusedTwin};
use crate::web::asked::{Document, Given};
use crate::web::site::{Person, Place, Site};

/// From here on "put out by hand" stands beside the main action: common practice.
const BY_HAND_AFTER_SECONDS: f64 = 60.0;

/// So many specimens the bench offers: those that are timed now, then those of the first plans.
const OFFERED: usize = 50;

/// What may be timed now.
#[derive(Serialize, ToSchema)]
struct Choice {
    /// Specimens that were not tested yet, of plans found ready.
    specimens: Vec<Next>,
    /// How many more there are.
    more: usize,
}

/// A specimen that may be timed.
#[derive(Serialize, ToSchema)]
#[schema(as = BenchNext)]
struct Next {
    /// The plan.
    plan: u32,
    /// The laboratory's job.
    job: String,
    /// The specimen.
    specimen: u32,
    /// Where it stands at the bench.
    state: &'static str,
    #[serde(skip)]
    at: BenchState,
    /// Who times it, if someone does.
    timed_by: Option<String>,
}

/// A specimen at the bench.
#[derive(Serialize, ToSchema)]
struct AtBench {
    /// The plan.
    plan: u32,
    /// The specimen.
    specimen: u32,
    /// How many specimens the plan has.
    specimens: usize,
    /// How many applications of the flame.
    applications: u64,
    /// The planned duration of each, in seconds.
    application_s: f64,
    /// How far it may be off, in seconds; the wider side.
    tolerance_s: f64,
    /// The planned pause between two applications, in seconds.
    between_s: f64,
    /// The plan's limit for the duration of burning, in seconds.
    limit_s: Option<f64>,
    /// Why the flame may not begin, in words.
    not_ready: Option<String>,
    /// What is looked at before the flame, besides the device.
    checks: Vec<Check>,
    /// Where it stands.
    state: &'static str,
    /// Who keeps its time.
    timekeeper: Option<Timekeeper>,
    /// Its presses that count.
    presses: Vec<PressForm>,
}

/// Who keeps the time of a specimen.
#[derive(Serialize, ToSchema)]
struct Timekeeper {
    /// Who.
    who: String,
    /// On which device.
    device: String,
    /// In which sitting.
    sitting: String,
    /// Since when.
    since: String,
    /// The number of the last press kept of this sitting.
    kept_to: u32,
}

/// Presses of one sitting, in any order; those that are kept already may come again.
#[derive(Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
struct Batch {
    /// The device: 32 hexadecimal digits.
    device: String,
    /// The sitting: 32 hexadecimal digits.
    sitting: String,
    /// The presses.
    presses: Vec<PressForm>,
}

/// One press.
#[derive(Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
struct PressForm {
    /// Its place in the sitting, from 1 on, without gaps.
    sequence: u32,
    /// Microseconds of the device's own clock since the sitting began.
    at_us: i64,
    /// What the device's calendar said, as RFC 3339 in UTC.
    wall: String,
    /// What was pressed.
    act: String,
    /// With what.
    input: String,
    /// In words, where there is something to say.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    note: Option<String>,
}

/// What is kept.
#[derive(Serialize, ToSchema)]
struct Kept {
    /// All presses up to this number are on the disk.
    kept_to: u32,
    /// Where the specimen stands.
    state: &'static str,
}

/// That another sitting keeps the time from here on.
#[derive(Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
struct TakeOver {
    /// The device: 32 hexadecimal digits.
    device: String,
    /// The sitting: 32 hexadecimal digits.
    sitting: String,
    /// Why.
    reason: String,
}

/// The routes.
pub(super) fn routes() -> OpenApiRouter<Site> {
    OpenApiRouter::new()
        .route("/bench", get(choice_page))
        .route("/bench/{plan}/{specimen}", get(page))
        .routes(routes!(choice_twin))
        .routes(routes!(twin))
        .routes(routes!(keep_presses))
        .routes(routes!(take_over))
}

async fn choice_page(State(site): State<Site>, person: Person) -> Result<Markup, Refused> {
    site.page(person, Place { here: "/bench", heading: "Bench" }, look_for_next, choice).await
}

/// Specimens that may be timed
#[utoipa::path(get, path = "/api/bench", responses(
    (status = 200, body = Choice),
    (status = "default", body = ProblemDocument, content_type = "application/problem+json"),
))]
async fn choice_twin(State(site): State<Site>, _: Person) -> Result<Json<Choice>, RefusedTwin> {
    Ok(Json(site.read(look_for_next).await?))
}

async fn page(
    State(site): State<Site>,
    Person(person): Person,
    Given(Path(of)): Given<Path<(u32, u32)>>,
) -> Result<Markup, Refused> {
    let whose = person.clone();
    let (seen, made_up) =
        site.read(move |book| Ok((look(book, of, &whose)?, book.history().made_up()))).await?;
    Ok(dark_page(&seen, &person.0, made_up))
}

/// A specimen at the bench
#[utoipa::path(get, path = "/api/bench/{plan}/{specimen}",
    params(("plan" = u32, Path), ("specimen" = u32, Path)),
    responses(
        (status = 200, body = AtBench),
        (status = "default", body = ProblemDocument, content_type = "application/problem+json"),
    ))]
async fn twin(
    State(site): State<Site>,
    Person(who): Person,
    Given(Path(of)): Given<Path<(u32, u32)>>,
) -> Result<Json<AtBench>, RefusedTwin> {
    Ok(Json(site.read(move |book| look(book, of, &who)).await?))
}

/// Keeps presses; answered once they are on the disk
///
/// After a gap only the unbroken beginning is kept: send again from `kept_to + 1`.
#[utoipa::path(post, path = "/api/bench/{plan}/{specimen}/presses",
    params(("plan" = u32, Path), ("specimen" = u32, Path)), request_body = Batch,
    responses(
        (status = 200, body = Kept),
        (status = "default", body = ProblemDocument, content_type = "application/problem+json"),
    ))]
async fn keep_presses(
    State(site): State<Site>,
    Person(who): Person,
    presser: Presser,
    Given(Path(of)): Given<Path<(u32, u32)>>,
    Document(batch): Document<Batch>,
) -> Result<Json<Kept>, RefusedTwin> {
    let (plan, specimen) = (PlanNumber(of.0), SpecimenNumber(of.1));
    let person = Person(who.clone());
    let (kept, at) = site
        .act(person, move |book, output| {
            let (device, sitting) = ids(&batch.device, &batch.sitting)?;
            let presses =
                batch.presses.iter().map(PressForm::press).collect::<Result<Vec<_>, _>>()?;
            let bench = Bench { plan, specimen, device, sitting };
            let kept_to = press::presses(book, bench, &presses, output)?;
            let at = state(book, plan, specimen);
            Ok((Kept { kept_to, state: at.word() }, at))
        })
        .await?;
    if at_the_bench(at) {
        presser.begins(&site, (who, of)).await?;
    }
    Ok(Json(kept))
}

/// Lets this sitting keep the time of the specimen from here on
#[utoipa::path(post, path = "/api/bench/{plan}/{specimen}/timekeeper",
    params(("plan" = u32, Path), ("specimen" = u32, Path)), request_body = TakeOver,
    responses(
        (status = 200, body = AtBench),
        (status = "default", body = ProblemDocument, content_type = "application/problem+json"),
    ))]
async fn take_over(
    State(site): State<Site>,
    person: Person,
    Given(Path(of)): Given<Path<(u32, u32)>>,
    Document(wish): Document<TakeOver>,
) -> Result<Json<AtBench>, RefusedTwin> {
    let (plan, specimen) = (PlanNumber(of.0), SpecimenNumber(of.1));
    let who = person.0.clone();
    let seen = site
        .act(person, move |book, output| {
            let (device, sitting) = ids(&wish.device, &wish.sitting)?;
            let bench = Bench { plan, specimen, device, sitting };
            press::take_over(book, bench, &wish.reason, output)?;
            look(book, of, &who)
        })
        .await?;
    Ok(Json(seen))
}

fn ids(device: &str, sitting: &str) -> Result<(DeviceId, SittingId), Problem> {
    let device = DeviceId::parse(device).ok_or_else(|| no_id("device", device))?;
    Ok((device, SittingId::parse(sitting).ok_or_else(|| no_id("sitting", sitting))?))
}

pub(super) fn no_id(what: &str, found: &str) -> Problem {
    Problem::used_wrongly(format!("`{found}` is no {what}: it has 32 hexadecimal digits"))
}

impl PressForm {
    fn press(&self) -> Result<Press, Problem> {
        let Self { sequence, at_us, wall, act, input, note } = self;
        let about = |what: String| Problem::used_wrongly(format!("press {sequence}: {what}"));
        let known = |words: Vec<String>| format!("Write one of {}.", words.join(", "));
        Ok(Press {
            sequence: *sequence,
            at: Elapsed::from_microseconds(*at_us),
            wall: Moment::parse(wall).map_err(|error| about(error.to_string()))?,
            act: Act::of_word(act).ok_or_else(|| {
                let words = Act::ALL.iter().map(ToString::to_string).collect();
                about(format!("`{act}` is nothing that is pressed")).hint(known(words))
            })?,
            input: Input::of_word(input).ok_or_else(|| {
                let words = Input::ALL.iter().map(ToString::to_string).collect();
                about(format!("`{input}` is nothing to press with")).hint(known(words))
            })?,
            note: note.clone(),
        })
    }

    fn of(press: &Press) -> Self {
        Self {
            sequence: press.sequence,
            at_us: press.at.microseconds(),
            wall: press.wall.to_string(),
            act: press.act.to_string(),
            input: press.input.to_string(),
            note: press.note.clone(),
        }
    }
}

fn look_for_next(book: &OpenBook) -> Result<Choice, Problem> {
    let history = book.history();
    let mut specimens = Vec::new();
    for (number, plan) in history.open_plans().filter_map(|it| Some((it, history.plan(it)?))) {
        if !history.is_ready(number) {
            continue;
        }
        let used = history.used_specimens(number);
        let untested = history.specimens(number).into_iter().filter(|it| !used.contains(it));
        specimens.extend(untested.map(|specimen| {
            let at = state(book, number, specimen);
            Next {
                plan: number.0,
                job: plan.draft().job.clone(),
                specimen: specimen.0,
                state: at.word(),
                at,
                timed_by: history.sitting(number, specimen).map(|sitting| sitting.who.to_string()),
            }
        }));
    }
    specimens.sort_by_key(|next| next.at == BenchState::Ready);
    let more = specimens.len().saturating_sub(OFFERED);
    specimens.truncate(OFFERED);
    Ok(Choice { specimens, more })
}

/// Where a specimen is gone on with: at the bench, or in the light.
fn address(next: &Next) -> String {
    let Next { plan, specimen, .. } = next;
    if matches!(next.at, BenchState::Finished | BenchState::Spoilt) {
        format!("/specimens/{plan}-{specimen}")
    } else {
        format!("/bench/{plan}/{specimen}")
    }
}

fn choice(choice: &Choice) -> Markup {
    html! {
        @if choice.specimens.is_empty() {
            p { "No specimen is ready to be tested. " a href="/plans" { "Look at the plans" } "." }
            (help::way("bench"))
        } @else {
            @if let Some(next) = choice.specimens.first() {
                p { a.button href=(address(next)) {
                    "Go on with specimen " (next.specimen) " of P-" (next.plan)
                } }
            }
            table {
                thead { tr { th scope="col" { "Specimen" } th scope="col" { "Job" } th scope="col" { "At the bench" } } }
                tbody {
                    @for next in &choice.specimens {
                        tr {
                            td {
                                a href=(address(next)) {
                                    "Specimen " (next.specimen) " of P-" (next.plan)
                                }
                            }
                            td { (next.job) }
                            td {
                                @match &next.timed_by {
                                    Some(person) => { (in_words(next.at)) ", timed by " (person) }
                                    None => { "waits" }
                                }
                            }
                        }
                    }
                }
            }
            @if choice.more > 0 {
                p { "And " (choice.more) " more: "
                    a href="/plans" { "choose one under its plan" } "." }
            }
        }
    }
}

fn look(
    book: &OpenBook,
    (plan, specimen): (u32, u32),
    who: &PersonName,
) -> Result<AtBench, Problem> {
    let (number, specimen) = (PlanNumber(plan), SpecimenNumber(specimen));
    let plan = book.plan_of(number, specimen)?;
    let history = book.history();
    let specimens = history.specimens(number);
    let asked = &plan.requirement().asked;
    let duration = plan.requirement().duration_of_application.value;
    let band = asked.application.tolerance.value.about(duration);
    let wider = (band.high - duration).seconds().max((duration - band.low).seconds());
    let pause = asked.application.pause.as_ref().map_or(0.0, |pause| pause.value.seconds());
    let limit = asked.criteria.duration_of_burning.as_ref().and_then(|limit| match limit.value {
        Limit::AtMost(most) | Limit::LessThan(most) => Some(most.seconds()),
        Limit::AtLeast(_) | Limit::MoreThan(_) | Limit::Between { .. } => None,
    });
    let timekeeper = history.sitting(number, specimen).map(|sitting| Timekeeper {
        who: sitting.who.to_string(),
        device: sitting.device.to_string(),
        sitting: sitting.sitting.to_string(),
        since: sitting.since.to_string(),
        kept_to: sitting.log.kept_to(),
    });
    let not_ready = not_ready(book, (plan, specimen), who)?;
    let mut checks = checks(book, (plan, specimen), (not_ready.as_deref(), who))?;
    checks.extend(bench_pass::check(book, who, (number.0, specimen.0)));
    Ok(AtBench {
        plan: number.0,
        specimen: specimen.0,
        specimens: specimens.len(),
        applications: asked.application.count.value.number(),
        application_s: duration.seconds(),
        tolerance_s: wider,
        between_s: pause,
        limit_s: limit,
        checks,
        not_ready,
        state: state(book, number, specimen).word(),
        timekeeper,
        presses: history.presses(number, specimen).iter().map(PressForm::of).collect(),
    })
}

fn state(book: &OpenBook, plan: PlanNumber, specimen: SpecimenNumber) -> BenchState {
    book.history().standing(plan, specimen).map_or(BenchState::Ready, |standing| standing.state)
}

/// The page at the flame: its scripts draw it, from what stands in its attributes.
fn dark_page(seen: &AtBench, person: &str, made_up: bool) -> Markup {
    let own = format!("/specimens/{}-{}", seen.plan, seen.specimen);
    html! {
        (DOCTYPE)
        html lang="en" {
            head {
                meta charset="utf-8";
                meta name="viewport" content="width=device-width, initial-scale=1";
                title { "Specimen " (seen.specimen) " at the bench · Cinderbook" }
                link rel="icon" href="/assets/icon.svg" type="image/svg+xml";
                link rel="stylesheet" href="/assets/bench/bench.css";
                script type="module" src="/assets/bench/bench.js" {}
            }
            body {
                main #bench
                    data-plan=(seen.plan)
                    data-specimen=(seen.specimen)
                    data-specimens=(seen.specimens)
                    data-applications=(seen.applications)
                    data-application-seconds=(seen.application_s)
                    data-tolerance-seconds=(seen.tolerance_s)
                    data-between-seconds=(seen.between_s)
                    data-limit-seconds=[seen.limit_s]
                    data-by-hand-after-seconds=(BY_HAND_AFTER_SECONDS)
                    data-clock-seconds=[device::clock_bounds()]
                    data-person=(person)
                    data-made-up=[made_up.then_some("yes")]
                    data-not-ready=[seen.not_ready.as_deref()]
                    data-checks-href={ "/plans/" (seen.plan) }
                    data-describe-href={ (own) "/describe" }
                    data-spoilt-href={ (own) "/describe" }
                    data-leave-href="/bench"
                {
                    (list(&seen.checks))
                    noscript {
                        p { "Timing at the bench needs scripts. The times can be typed on the "
                            a href={ (own) "/describe" } { "specimen's page" } "." }
                    }
                }
            }
        }
    }
}
