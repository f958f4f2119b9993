//! Care of the bench: what is done again and again so that the flame stays right, and when it falls
//! due.
//!
//! The laboratory sets its own intervals; until it does, those of `standards/` begin with the first
//! time that an act is recorded. Where the laboratory says so, an act that is due stands in the way
//! of *ready*, as a calibration that is over does; an engineer's written reason lets one plan through.

use crate::fact::{CalibrationNeed, LotKind};
use crate::finding::{Finding, FindingKind, Stage, words};
use crate::history::History;
use crate::moment::Moment;
use crate::number::{EquipmentNumber, PersonName, PlanNumber};
use crate::plan::Plan;
use jiff::ToSpan as _;
use jiff::civil::Date;
use std::fmt;
use std::sync::LazyLock;

words! {
    /// An act of care.
    CareTask {
        /// The burner tube was cleaned.
        BurnerCleaned = "burner-cleaned",
        /// The bore of the needle was checked.
        NeedleBoreChecked = "needle-bore-checked",
        /// Hoses and joints were checked for leaks.
        HosesLeakChecked = "hoses-leak-checked",
        /// The thermocouple was changed.
        ThermocoupleChanged = "thermocouple-changed",
        /// The block was weighed.
        BlockWeighed = "block-weighed",
        /// The block was polished.
        BlockPolished = "block-polished",
        /// A lot of tissue was opened.
        TissueLotOpened = "tissue-lot-opened",
        /// A lot of board was opened.
        BoardLotOpened = "board-lot-opened",
    }
}

impl CareTask {
    /// What is done, as it is read.
    #[must_use]
    pub const fn told(self) -> &'static str {
        match self {
            Self::BurnerCleaned => "burner cleaned",
            Self::NeedleBoreChecked => "needle bore checked",
            Self::HosesLeakChecked => "hoses leak-checked",
            Self::ThermocoupleChanged => "thermocouple changed",
            Self::BlockWeighed => "block weighed",
            Self::BlockPolished => "block polished",
            Self::TissueLotOpened => "tissue lot opened",
            Self::BoardLotOpened => "board lot opened",
        }
    }

    /// The kind of lot whose opening does it.
    #[must_use]
    pub const fn lot(self) -> Option<LotKind> {
        match self {
            Self::TissueLotOpened => Some(LotKind::Tissue),
            Self::BoardLotOpened => Some(LotKind::Board),
            Self::BurnerCleaned
            | Self::NeedleBoreChecked
            | Self::HosesLeakChecked
            | Self::ThermocoupleChanged
            | Self::BlockWeighed
            | Self::BlockPolished => None,
        }
    }
}

words! {
    /// Whether an act of care must be done before a test.
    CareNeed {
        /// It stands among what falls due.
        Reminded = "reminded",
        /// While it is due, no plan is ready.
        ForReady = "for-ready",
    }
}

/// An act of care that was done.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Care {
    /// Which.
    pub task: CareTask,
    /// To which piece, where it is said.
    pub equipment: Option<EquipmentNumber>,
    /// What was found; often nothing.
    pub note: String,
}

/// How often the laboratory wants an act done.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct CareInterval {
    /// Which.
    pub task: CareTask,
    /// After so many days.
    pub days: Option<u32>,
    /// After so many specimens.
    pub specimens: Option<u32>,
    /// Whether it is needed for *ready*.
    pub need: CareNeed,
}

/// What may fall due.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum DueItem {
    /// The calibration of a piece.
    Calibration(EquipmentNumber),
    /// An act of care.
    Care(CareTask),
}

impl fmt::Display for DueItem {
    fn fmt(&self, out: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Calibration(number) => write!(out, "the calibration of {number}"),
            Self::Care(task) => write!(out, "care: {}", task.told()),
        }
    }
}

/// That one plan is tested although something is due.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct DueLet {
    /// Which plan.
    pub plan: PlanNumber,
    /// What is due.
    pub item: DueItem,
    /// Why it is tested all the same.
    pub reason: String,
}

/// How an act of care stands.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct CareStanding {
    /// Which.
    pub task: CareTask,
    /// How often it is wanted; none where nothing counts yet.
    pub interval: Option<CareInterval>,
    /// Whether the laboratory set that itself.
    pub own: bool,
    /// When it was done last, and by whom.
    pub last: Option<(Moment, PersonName)>,
    /// How many specimens were in the flame since.
    pub specimens: usize,
    /// The last day that it holds; none where no day is asked for.
    pub till: Option<Date>,
    /// Whether it is due.
    pub due: bool,
}

/// How each act of care stands on a day.
#[must_use]
pub fn standing(history: &History, today: Date) -> Vec<CareStanding> {
    CareTask::ALL.iter().map(|task| one(history, *task, today)).collect()
}

fn one(history: &History, task: CareTask, today: Date) -> CareStanding {
    let last = history.care_last(task);
    let own = history.care_interval(task);
    let interval = own.cloned().or_else(|| last.as_ref().and_then(|_| beginning(task)));
    let specimens = history.specimens_since(last.as_ref().map(|(at, _)| *at));
    let till = last.as_ref().and_then(|(at, _)| {
        let days = interval.as_ref()?.days?;
        at.day().checked_add(i64::from(days).days()).ok()
    });
    let used_up = interval
        .as_ref()
        .and_then(|it| it.specimens)
        .is_some_and(|most| usize::try_from(most).is_ok_and(|most| specimens >= most));
    let never = interval.is_some() && last.is_none();
    let due = never || used_up || till.is_some_and(|till| till < today);
    CareStanding { task, interval, own: own.is_some(), last, specimens, till, due }
}

impl CareStanding {
    /// How it stands, in words.
    #[must_use]
    pub fn told(&self) -> String {
        let Some(interval) = &self.interval else { return "no interval counts yet".to_owned() };
        let Some((at, who)) = &self.last else { return "never recorded".to_owned() };
        let mut told = format!("last on {} by {who}", at.day());
        if let Some(till) = self.till {
            let holds = if self.due { "held" } else { "holds" };
            told.push_str(&format!(", {holds} till {till}"));
        }
        if let Some(most) = interval.specimens {
            told.push_str(&format!(", {} of {most} specimens since", self.specimens));
        }
        told
    }

    /// Whether it falls due within so many days, or soon by its count: nine of ten are used.
    #[must_use]
    pub fn soon(&self, today: Date, days: i32) -> bool {
        let by_day = self.till.is_some_and(|till| till <= today.saturating_add(days.days()));
        let count = self.interval.as_ref().and_then(|it| it.specimens).unwrap_or(u32::MAX);
        self.due || by_day || self.specimens.saturating_mul(10) >= 9 * count as usize
    }
}

/// What is due and stands in the way of a plan, but what an engineer let through.
#[must_use]
pub fn in_the_way(plan: &Plan, history: &History, now: Moment) -> Vec<(DueItem, Finding)> {
    let named = plan.draft().equipment.iter();
    let calibrations = named.filter_map(|it| calibration_in_the_way(plan, history, (it, now)));
    calibrations.chain(acts_in_the_way(plan, history, now)).collect()
}

/// That a piece of a plan is not in calibration, unless an engineer let it through.
pub(crate) fn calibration_in_the_way(
    plan: &Plan,
    history: &History,
    (number, now): (&EquipmentNumber, Moment),
) -> Option<(DueItem, Finding)> {
    let due = calibration(history, number, now);
    due.filter(|(item, _)| !history.let_through(plan.number(), item))
}

/// The acts of care that are due and needed for *ready*, but those let through.
pub(crate) fn acts_in_the_way(
    plan: &Plan,
    history: &History,
    now: Moment,
) -> Vec<(DueItem, Finding)> {
    let needed = |it: &CareStanding| {
        it.due && it.interval.as_ref().is_some_and(|it| it.need == CareNeed::ForReady)
    };
    let due = standing(history, now.day()).into_iter().filter(needed).map(|it| {
        let text = format!("{} is due: {}", it.task.told(), it.told());
        let hint = "Do it and record it under Care of the bench, or let an engineer write why not.";
        (DueItem::Care(it.task), finding(FindingKind::Care, text, hint))
    });
    due.filter(|(item, _)| !history.let_through(plan.number(), item)).collect()
}

/// That a piece of a plan is not in calibration.
fn calibration(
    history: &History,
    number: &EquipmentNumber,
    now: Moment,
) -> Option<(DueItem, Finding)> {
    let piece = history.equipment(number)?;
    if piece.calibration == CalibrationNeed::NotNeeded || history.withdrawn(number).is_some() {
        return None;
    }
    let today = now.day();
    let text = match history.calibration(number, today).map(|it| it.due) {
        Some(due) if today <= due => return None,
        Some(due) => format!("{} {number} was due on {due}; today is {today}", piece.kind),
        None => format!("{} {number} has no calibration before {today}", piece.kind),
    };
    let hint = "Have it calibrated, or plan with a piece that is in calibration.";
    let found = finding(FindingKind::Calibration, text, hint);
    Some((DueItem::Calibration(number.clone()), found))
}

fn finding(kind: FindingKind, text: String, hint: &str) -> Finding {
    Finding::new(Stage::Readiness, kind, text, hint)
}

/// The interval that `standards/` begins with.
#[must_use]
pub fn beginning(task: CareTask) -> Option<CareInterval> {
    static BEGINNINGS: LazyLock<Vec<CareInterval>> = LazyLock::new(|| {
        let text = include_str!("../../../standards/readings/bench-care.toml");
        let file: toml::Table = text.parse().unwrap_or_default();
        CareTask::ALL.iter().filter_map(|task| read(&file, *task)).collect()
    });
    BEGINNINGS.iter().find(|it| it.task == task).cloned()
}

fn read(file: &toml::Table, task: CareTask) -> Option<CareInterval> {
    let table = file.get(task.word())?.as_table()?;
    let number = |key: &str| u32::try_from(table.get(key)?.as_integer()?).ok();
    let need = CareNeed::Reminded;
    Some(CareInterval { task, days: number("days"), specimens: number("specimens"), need })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_task_has_a_beginning_with_a_number() {
        for task in CareTask::ALL {
            let interval = beginning(*task).unwrap();
            assert!(interval.days.is_some() || interval.specimens.is_some(), "{task}");
            assert_eq!(interval.need, CareNeed::Reminded);
        }
    }
}
