//! Today: what is at the bench, what is ready, what waits, and what falls due.

use axum::Json;
use axum::extract::State;
use axum::routing::get;
use jiff::ToSpan as _;
use jiff::civil::Date;
use maud::{Markup, html};
use serde::Serialize;
use trial::bench::State as BenchState;
use trial::history::History;
use trial::number::{PersonName, PlanNumber, SpecimenNumber};
use trial::person::Role;
use trial::plan::Plan;
use trial::verdict::VerdictStanding;
use utoipa::ToSchema;
use utoipa_axum::router::OpenApiRouter;
use utoipa_axum::routes;

use super::alarm;
use super::plans::state;
use super::shown;
use crate::book::OpenBook;
use crate::form::pressed::{at_the_bench, in_words};
use crate::problem::Problem;
use crate::room;
use crate::step::care::{CareShown, falls_due as falls_due_of_care};
use crate::web::answer::{ProblemDocument, Refused, RefusedTwin};
use crate::web::download::encoded;
use crate::web::site::{Person, Place, Site};

/// So long before its day something falls due.
const SOON_DAYS: i32 = 30;

/// So long before its day an act of care is listed: many come round every few weeks.
const CARE_SOON_DAYS: i32 = 5;

/// So many lines a list shows.
const LINES: usize = 20;

/// What there is to do.
#[derive(Serialize, ToSchema)]
struct Today {
    /// What the last check of the record found; then no report is issued.
    record_alarm: Option<String>,
    /// Specimens that are timed now.
    at_the_bench: Vec<Timed>,
    /// Plans found ready, with specimens to test.
    ready_to_test: Vec<Job>,
    /// How many more plans are ready.
    more_ready: usize,
    /// What a reviewer sent back; then specimens to describe, then plans that wait for something
    /// else than a flame.
    waiting: Vec<Job>,
    /// How many more of them wait.
    more_waiting: usize,
    /// Equipment whose calibration ends soon, or has ended.
    falls_due: Vec<Due>,
    /// Acts of care that are due, or fall due soon.
    care_due: Vec<CareShown>,
    /// Whether the flame is confirmed, and till when, in words.
    flame: String,
    /// What the flame chart calls, in words, while nobody has noted what was done.
    flame_call: Option<String>,
    /// What there is to say of the room on the disk; nothing while there is enough.
    disk: Option<String>,
    #[serde(skip)]
    mainly: Mainly,
}

/// What the person who asks does most.
#[derive(Clone, Copy)]
enum Mainly {
    /// Tests at the bench.
    Tests,
    /// Plans tests, reviews and reports.
    Plans,
}

/// A specimen that is timed now.
#[derive(Serialize, ToSchema)]
struct Timed {
    /// Its plan.
    plan: u32,
    /// Its number.
    specimen: u32,
    /// The laboratory's job.
    job: String,
    /// Where it stands, in words.
    state: &'static str,
    /// Who times it.
    by: String,
}

/// A plan, or one of its specimens, in one line.
#[derive(Serialize, ToSchema)]
struct Job {
    /// The plan.
    plan: u32,
    /// The specimen, where one waits by itself.
    specimen: Option<u32>,
    /// The laboratory's job.
    job: String,
    /// The part under test.
    part: String,
    /// How it stands, in words.
    state: String,
}

/// A piece of equipment that falls due.
#[derive(Serialize, ToSchema)]
struct Due {
    /// Its mark.
    equipment: String,
    /// What it is.
    description: String,
    /// The last day its calibration holds; none if it has none.
    on: Option<String>,
}

/// The routes.
pub(super) fn routes() -> OpenApiRouter<Site> {
    OpenApiRouter::new().route("/", get(page)).routes(routes!(twin))
}

async fn page(State(site): State<Site>, person: Person) -> Result<Markup, Refused> {
    let who = person.0.clone();
    let look = move |book: &OpenBook| look(book, &who);
    site.page(person, Place { here: "/", heading: "Today" }, look, main).await
}

/// What there is to do
#[utoipa::path(get, path = "/api/today", responses(
    (status = 200, body = Today),
    (status = "default", body = ProblemDocument, content_type = "application/problem+json"),
))]
async fn twin(State(site): State<Site>, Person(who): Person) -> Result<Json<Today>, RefusedTwin> {
    Ok(Json(site.read(move |book| look(book, &who)).await?))
}

fn look(book: &OpenBook, who: &PersonName) -> Result<Today, Problem> {
    let history = book.history();
    let day = book.now()?.day();
    let mut today = Today {
        record_alarm: alarm::of(book),
        at_the_bench: Vec::new(),
        ready_to_test: Vec::new(),
        more_ready: 0,
        waiting: Vec::new(),
        more_waiting: 0,
        falls_due: due(book, day),
        care_due: falls_due_of_care(book, day, CARE_SOON_DAYS),
        flame: super::flame::stands(book)?.1,
        flame_call: super::flame_chart::open_call(book),
        disk: room::words(book.book().folder()),
        mainly: Mainly::Plans,
    };
    for back in history.all_sent_back() {
        let Some(plan) = history.plan(back.back.plan) else { continue };
        let state = format!("sent back by {}: {}", back.who, back.back.note);
        let job = || job(plan, back.back.specimens.first().copied(), state);
        line(&mut today.waiting, &mut today.more_waiting, job);
    }
    let mut plans = Vec::new();
    for (number, plan) in history.open_plans().filter_map(|it| Some((it, history.plan(it)?))) {
        if history.reports_on(number).next().is_some() {
            continue;
        }
        let used = history.used_specimens(number);
        let mut untested = history.specimens(number);
        untested.retain(|specimen| !used.contains(specimen));
        let all = untested.len();
        untested.retain(|specimen| !at_bench(book, plan, *specimen, &mut today));
        if untested.is_empty() && all > 0 {
            continue; // each of its specimens stands in a line of its own
        }
        let job = || job(plan, None, state(history, number, untested.len()));
        if !untested.is_empty() && history.is_ready(number) && to_test(history, number) {
            line(&mut today.ready_to_test, &mut today.more_ready, job);
        } else {
            line(&mut plans, &mut today.more_waiting, job);
        }
    }
    for job in plans {
        line(&mut today.waiting, &mut today.more_waiting, || job);
    }
    today.mainly = mainly(history, who, &today);
    Ok(today)
}

/// One more line of a list that is not too long; else one more that it does not show.
fn line(list: &mut Vec<Job>, more: &mut usize, job: impl FnOnce() -> Job) {
    if list.len() < LINES {
        list.push(job());
    } else {
        *more += 1;
    }
}

/// Puts a specimen that was timed, or is, where it belongs; whether it was one.
fn at_bench(book: &OpenBook, plan: &Plan, specimen: SpecimenNumber, today: &mut Today) -> bool {
    let (history, number) = (book.history(), plan.number());
    let Some(sitting) = history.sitting(number, specimen) else { return false };
    let Some(standing) = history.standing(number, specimen) else { return false };
    if at_the_bench(standing.state) {
        today.at_the_bench.push(Timed {
            plan: number.0,
            specimen: specimen.0,
            job: plan.draft().job.clone(),
            state: in_words(standing.state),
            by: sitting.who.to_string(),
        });
    } else if standing.state != BenchState::Ready {
        let job = || job(plan, Some(specimen), in_words(standing.state).to_owned());
        line(&mut today.waiting, &mut today.more_waiting, job);
    }
    standing.state != BenchState::Ready
}

/// Whether a plan's rules still ask for a flame: it was not judged since its last run, or further
/// specimens were asked for.
fn to_test(history: &History, number: PlanNumber) -> bool {
    let last_run = history.runs(number).last().map(|recorded| recorded.entry);
    history.verdict(number).is_none_or(|verdict| {
        Some(verdict.entry) < last_run || matches!(verdict.standing, VerdictStanding::NotYet { .. })
    })
}

/// By the roles that a person holds; where an older book states nothing, by what there is.
fn mainly(history: &History, who: &PersonName, today: &Today) -> Mainly {
    match history.person(who) {
        Some(it) if it.grants.is_some() && it.is(Role::Technician) => Mainly::Tests,
        Some(it) if it.grants.is_some() => Mainly::Plans,
        Some(_) | None if today.at_the_bench.is_empty() && today.ready_to_test.is_empty() => {
            Mainly::Plans
        }
        Some(_) | None => Mainly::Tests,
    }
}

fn job(plan: &Plan, specimen: Option<SpecimenNumber>, state: String) -> Job {
    let draft = plan.draft();
    Job {
        plan: plan.number().0,
        specimen: specimen.map(|it| it.0),
        job: draft.job.clone(),
        part: draft.part.description.clone(),
        state,
    }
}

fn due(book: &OpenBook, today: Date) -> Vec<Due> {
    let history = book.history();
    let soon = today.saturating_add(SOON_DAYS.days());
    let in_service = history.all_equipment().values().filter(|equipment| {
        equipment.calibration == trial::fact::CalibrationNeed::Needed
            && history.withdrawn(&equipment.number).is_none()
    });
    let mut due: Vec<Due> = in_service
        .filter_map(|equipment| {
            let holds = history.calibration(&equipment.number, today).map(|it| it.due);
            holds.is_none_or(|last| last <= soon).then(|| Due {
                equipment: equipment.number.to_string(),
                description: equipment.description.clone(),
                on: holds.map(|day| day.to_string()),
            })
        })
        .collect();
    due.sort_by(|one, other| one.on.cmp(&other.on));
    due
}

impl Today {
    /// What is gone on with where nothing is at the bench, and nothing is ready for it.
    fn first_waiting(&self) -> Option<&Job> {
        let bench = self.at_the_bench.is_empty() && self.ready_to_test.is_empty();
        self.waiting.first().filter(|_| bench)
    }
}

impl Job {
    fn address(&self) -> String {
        match self.specimen {
            Some(specimen) => format!("/specimens/{}-{specimen}", self.plan),
            None => format!("/plans/{}", self.plan),
        }
    }

    fn name(&self) -> String {
        match self.specimen {
            Some(specimen) => format!("Specimen {specimen} of P-{}", self.plan),
            None => format!("P-{}", self.plan),
        }
    }
}

fn main(today: &Today) -> Markup {
    let bench = |class| html! { a class=(class) href="/bench" { "Go to the bench" } };
    let plan = |class| html! { a class=(class) href="/plans/new" { "Plan a test" } };
    html! {
        (alarm::shown(today.record_alarm.as_deref()))
        p { @match (today.mainly, today.first_waiting()) {
            (Mainly::Tests, Some(job)) => {
                a.button href=(job.address()) { "Go on with " (job.name()) } " "
                (bench("button second")) " " (plan("button second"))
            }
            (Mainly::Tests, None) => { (bench("button")) " " (plan("button second")) }
            (Mainly::Plans, _) => { (plan("button")) " " (bench("button second")) }
        } }
        p { (today.flame) " " a href="/flame" { "Look at the flame" } "." }
        @if let Some(call) = &today.flame_call {
            p.abnormal { "◆ " (call) " " a href="/flame/chart" { "Look at the flame chart" } "." }
        }
        @if let Some(disk) = &today.disk {
            p.abnormal { "◆ " (disk) " " a href="/setup" { "See where the book lies" } "." }
        }
        h2 { "At the bench now" }
        @if today.at_the_bench.is_empty() {
            p { "Nothing is timed now. " a href="/bench" { "Choose a specimen" } "." }
        } @else { (shown::wide("At the bench now", &at_the_bench_table(&today.at_the_bench))) }
        h2 { "Ready to test" }
        @if today.ready_to_test.is_empty() {
            p { "No plan is ready. " a href="/plans" { "Look at the plans" } "." }
        } @else {
            (shown::wide("Ready to test", &jobs(&today.ready_to_test)))
            (and_more(today.more_ready))
        }
        h2 { "Waiting for you" }
        @if today.waiting.is_empty() {
            p { "Nothing waits for you. " a href="/reports" { "Look at the reports" } "." }
        } @else {
            (shown::wide("Waiting for you", &jobs(&today.waiting)))
            (and_more(today.more_waiting))
        }
        h2 { "Falls due" }
        @if today.falls_due.is_empty() && today.care_due.is_empty() {
            p { "Nothing falls due within " (SOON_DAYS) " days. "
                a href="/equipment" { "Look at the equipment" } "." }
        }
        @if !today.falls_due.is_empty() { (shown::wide("Falls due", &falls_due(&today.falls_due))) }
        @if !today.care_due.is_empty() { (shown::wide("Care of the bench", &care_due(&today.care_due))) }
    }
}

fn and_more(more: usize) -> Markup {
    html! { @if more > 0 { p { "And " (more) " more: " a href="/plans" { "look at the plans" } "." } } }
}

fn at_the_bench_table(timed: &[Timed]) -> Markup {
    html! {
        table {
            thead { tr { th scope="col" { "Specimen" } th scope="col" { "Job" }
                th scope="col" { "State" } th scope="col" { "Timed by" } } }
            tbody { @for it in timed { tr {
                td { a href={ "/bench/" (it.plan) "/" (it.specimen) } {
                    "Specimen " (it.specimen) " of P-" (it.plan)
                } }
                td { (it.job) }
                td { (it.state) }
                td { (it.by) }
            } } }
        }
    }
}

fn jobs(jobs: &[Job]) -> Markup {
    html! {
        table {
            thead { tr { th scope="col" { "Plan" } th scope="col" { "Job" }
                th scope="col" { "Part" } th scope="col" { "State" } } }
            tbody { @for job in jobs { tr {
                td { a href=(job.address()) { (job.name()) } }
                td { (job.job) }
                td { (job.part) }
                td { (job.state) }
            } } }
        }
    }
}

fn falls_due(due: &[Due]) -> Markup {
    html! {
        table {
            thead { tr { th scope="col" { "Equipment" } th scope="col" { "What it is" }
                th scope="col" { "Calibration holds till" } } }
            tbody { @for due in due { tr {
                td { a href={ "/equipment/" (encoded(&due.equipment)) } { (due.equipment) } }
                td { (due.description) }
                td { (due.on.as_deref().unwrap_or("not in calibration")) }
            } } }
        }
    }
}

fn care_due(due: &[CareShown]) -> Markup {
    html! {
        table {
            thead { tr { th scope="col" { "Care of the bench" } th scope="col" { "How it stands" } } }
            tbody { @for it in due { tr {
                td { a href="/care" { (it.what) } }
                td { @if it.due { span.abnormal { "◆ Due: " (it.told) } } @else { (it.told) } }
            } } }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_long_list_is_cut_and_says_how_many_lines_more_there_are() {
        let (mut list, mut more) = (Vec::new(), 0);
        let job = |plan| Job {
            plan,
            specimen: None,
            job: String::new(),
            part: String::new(),
            state: String::new(),
        };
        (1..=23).for_each(|plan| line(&mut list, &mut more, || job(plan)));
        assert_eq!((list.len(), more), (20, 3));
        assert_eq!(list.last().map(|it| it.plan), Some(20));
        assert!(and_more(more).into_string().contains("And 3 more"));
        assert_eq!(and_more(0).into_string(), "");
    }
}
