//! Care of the bench: what was done, how often the laboratory wants it, what an engineer lets
//! through, and the list of a new bench.

use jiff::civil::Date;
use serde::Serialize;
use trial::care::{
    Care, CareInterval, CareNeed, CareStanding, CareTask, DueItem, DueLet, standing,
};
use trial::commissioning::{Commissioning, Found, PointFound, points};
use trial::fact::{Authorisation, Fact};
use trial::finding::Stage;
use trial::number::{EquipmentNumber, PlanNumber};
use utoipa::ToSchema;

use super::people;
use crate::book::OpenBook;
use crate::output::Output;
use crate::problem::Problem;

/// How an act of care stands.
#[derive(Clone, Serialize, ToSchema)]
pub(crate) struct CareShown {
    /// Its word, such as `burner-cleaned`.
    pub(crate) task: &'static str,
    /// What is done.
    pub(crate) what: &'static str,
    /// How it stands, in words.
    pub(crate) told: String,
    /// Whether it is due.
    pub(crate) due: bool,
    /// The last day that it holds, where one is set.
    pub(crate) till: Option<String>,
    /// After how many days it falls due.
    pub(crate) days: Option<u32>,
    /// After how many specimens it falls due.
    pub(crate) specimens: Option<u32>,
    /// Whether it is needed for *ready*.
    pub(crate) for_ready: bool,
    /// Whether the laboratory set the interval itself.
    pub(crate) own_interval: bool,
    /// Whether opening a lot does it.
    pub(crate) by_lot: bool,
}

impl CareShown {
    fn of(it: &CareStanding) -> Self {
        let interval = it.interval.as_ref();
        Self {
            task: it.task.word(),
            what: it.task.told(),
            told: it.told(),
            due: it.due,
            till: it.till.map(|day| day.to_string()),
            days: interval.and_then(|it| it.days),
            specimens: interval.and_then(|it| it.specimens),
            for_ready: interval.is_some_and(|it| it.need == CareNeed::ForReady),
            own_interval: it.own,
            by_lot: it.task.lot().is_some(),
        }
    }
}

/// Every act of care as it stands.
pub(crate) fn list(book: &OpenBook) -> Result<Vec<CareShown>, Problem> {
    let today = book.now()?.day();
    Ok(standing(book.history(), today).iter().map(CareShown::of).collect())
}

/// Those that are due, or fall due within so many days.
pub(crate) fn falls_due(book: &OpenBook, today: Date, days: i32) -> Vec<CareShown> {
    let all = standing(book.history(), today);
    all.iter().filter(|it| it.soon(today, days)).map(CareShown::of).collect()
}

/// The act of care with this word.
pub(crate) fn task(word: &str) -> Result<CareTask, Problem> {
    CareTask::of_word(word.trim()).ok_or_else(|| {
        let known: Vec<&str> = CareTask::ALL.iter().map(|task| task.word()).collect();
        Problem::used_wrongly(format!("`{word}` is no act of care"))
            .hint(format!("Name one of {}.", known.join(", ")))
    })
}

/// Keeps that an act of care was done.
pub(crate) fn done(
    book: &mut OpenBook,
    task: CareTask,
    (piece, note): (&str, &str),
    output: &Output,
) -> Result<(), Problem> {
    if task.lot().is_some() {
        return Err(Problem::used_wrongly(format!("{} is recorded by the lot", task.told()))
            .hint("Open the lot: that records it."));
    }
    let piece = piece.trim();
    let equipment = (!piece.is_empty()).then(|| EquipmentNumber(piece.to_owned()));
    if let Some(number) = &equipment
        && book.history().equipment(number).is_none()
    {
        return Err(Problem::used_wrongly(format!("no equipment {number} is registered"))
            .hint("Choose a piece under Equipment, or name none."));
    }
    let care = Care { task, equipment, note: note.trim().to_owned() };
    book.keep(&Fact::CareDone(care), output).map(drop)
}

/// Keeps how often the laboratory wants an act done.
pub(crate) fn every(
    book: &mut OpenBook,
    interval: CareInterval,
    output: &Output,
) -> Result<(), Problem> {
    let none = interval.days.is_none() && interval.specimens.is_none();
    if none || interval.days == Some(0) || interval.specimens == Some(0) {
        return Err(Problem::used_wrongly(format!(
            "it is not said after how long {} falls due",
            interval.task.told()
        ))
        .hint("Say after how many days, or how many specimens, or both: 1 at least."));
    }
    book.keep(&Fact::CareIntervalSet(interval), output).map(drop)
}

/// What is due and stands in the way of a plan now.
pub(crate) fn in_the_way(book: &OpenBook, plan: PlanNumber) -> Result<Vec<DueItem>, Problem> {
    let (plan, now) = (book.plan(plan)?, book.now()?);
    let due = trial::care::in_the_way(plan, book.history(), now);
    Ok(due.into_iter().map(|(item, _)| item).collect())
}

/// Lets a plan be tested although something is due; the reason prints on its report.
pub(crate) fn let_through(
    book: &mut OpenBook,
    (plan, item): (PlanNumber, DueItem),
    reason: &str,
    output: &Output,
) -> Result<(), Problem> {
    let reason = reason.trim().to_owned();
    if reason.is_empty() {
        return Err(Problem::used_wrongly(format!("it is not said why {item} may wait"))
            .hint("Write the reason: it prints on the report."));
    }
    people::may(book, Authorisation::Review, (Stage::Review, plan), output)?;
    if !in_the_way(book, plan)?.contains(&item) {
        return Err(Problem::conflict(format!("{item} does not stand in the way of plan {plan}"))
            .hint("There is nothing to let through."));
    }
    book.keep(&Fact::DueLetThrough(DueLet { plan, item, reason }), output).map(drop)
}

/// The item that a word names: an act of care, or the mark of a piece that is not in calibration.
pub(crate) fn item(word: &str) -> DueItem {
    CareTask::of_word(word.trim()).map_or_else(
        || DueItem::Calibration(EquipmentNumber(word.trim().to_owned())),
        DueItem::Care,
    )
}

/// The word of an item.
pub(crate) fn item_word(item: &DueItem) -> String {
    match item {
        DueItem::Calibration(number) => number.to_string(),
        DueItem::Care(task) => task.word().to_owned(),
    }
}

/// Keeps that a bench was gone through, point by point.
pub(crate) fn commissioned(
    book: &mut OpenBook,
    bench: &str,
    found: Vec<(String, Found, String)>,
    output: &Output,
) -> Result<(), Problem> {
    let bench = bench.trim().to_owned();
    if bench.is_empty() {
        return Err(Problem::used_wrongly("the bench is not named")
            .hint("Name it, such as NB-1 in chamber CH-1."));
    }
    let missing: Vec<&str> = points()
        .iter()
        .map(|point| point.key.as_str())
        .filter(|key| !found.iter().any(|(named, ..)| named == key))
        .collect();
    if !missing.is_empty() {
        return Err(Problem::used_wrongly(format!("nothing is said of {}", missing.join(", ")))
            .hint("Say of each point what was found: in order, not in order, does not apply."));
    }
    let says = |key: &str| {
        let point = points().iter().find(|point| point.key == key);
        point.map_or_else(|| key.to_owned(), |point| point.says.clone())
    };
    let points = found
        .into_iter()
        .map(|(key, found, note)| PointFound { says: says(&key), key, found, note })
        .collect();
    book.keep(&Fact::BenchCommissioned(Commissioning { bench, points }), output).map(drop)
}
