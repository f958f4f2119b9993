//! The base line of a flame: the bench's own accepted determinations, frozen by a person's act.
//!
//! Charts and diagnoses hold later determinations against it. It is frozen once enough
//! confirmations with one burner, block and thermocouple are in control, and restarted with a
//! reason where one of these was changed.

use crate::fact::EquipmentKind;
use crate::finding::words;
use crate::history::{History, RecordedConfirmation};
use crate::number::{BaseLineNumber, ConfirmationNumber, DeterminationNumber, EquipmentNumber};
use metrology::Duration;
use metrology::control_chart::{self, Limits};
use std::sync::LazyLock;
use thiserror::Error;

/// What a base line rests on.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct BaseLine {
    /// Its number.
    pub number: BaseLineNumber,
    /// The confirmations, in their order.
    pub confirmations: Vec<ConfirmationNumber>,
    /// The determinations by which these were confirmed, in their order.
    pub determinations: Vec<DeterminationNumber>,
    /// Why it takes the place of an earlier one; none for the first.
    pub restart: Option<Restart>,
}

/// Why a base line takes the place of an earlier one.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Restart {
    /// What was changed.
    pub cause: RestartCause,
    /// The reason in words.
    pub reason: String,
}

words! {
    /// What was changed, so that the bench is another one.
    RestartCause {
        /// Another burner.
        Burner = "new-burner",
        /// Another block.
        Block = "new-block",
        /// Another thermocouple.
        Thermocouple = "new-thermocouple",
        /// Anything else.
        Other = "other",
    }
}

/// Why no base line can be frozen so.
#[derive(Clone, Debug, PartialEq, Eq, Error)]
pub enum FreezeFinding {
    /// Too few confirmations.
    #[error("for a base line {needed} confirmations are needed, and there are {found}")]
    TooFew {
        /// How many there are.
        found: usize,
        /// How many it takes.
        needed: usize,
    },
    /// A confirmation that is not in the record.
    #[error("confirmation {number} is not in the record")]
    Unknown {
        /// Which.
        number: ConfirmationNumber,
    },
    /// A determination was found void after it had counted.
    #[error("{determination}, by which {confirmation} was confirmed, was found void since")]
    Void {
        /// The confirmation.
        confirmation: ConfirmationNumber,
        /// The determination.
        determination: DeterminationNumber,
    },
    /// Two pieces of one kind.
    #[error("{confirmation} was made with {found}, the ones after it with {other}")]
    OtherPiece {
        /// The confirmation.
        confirmation: ConfirmationNumber,
        /// The piece it was made with.
        found: EquipmentNumber,
        /// The piece of the last one.
        other: EquipmentNumber,
    },
    /// A confirmation far off the others.
    #[error("the mean rise time of {confirmation} is {found}; in control is {low} to {high}")]
    OutOfControl {
        /// The confirmation.
        confirmation: ConfirmationNumber,
        /// Its mean rise time.
        found: String,
        /// The lower limit.
        low: String,
        /// The upper limit.
        high: String,
    },
    /// An earlier base line holds.
    #[error("base line {earlier} holds; another one takes its place for a reason only")]
    ReasonNeeded {
        /// The earlier one.
        earlier: BaseLineNumber,
    },
}

impl FreezeFinding {
    /// Its stable name.
    #[must_use]
    pub const fn kind(&self) -> &'static str {
        match self {
            Self::TooFew { .. } => "too-few-confirmations",
            Self::Unknown { .. } => "unknown-confirmation",
            Self::Void { .. } => "void-determination",
            Self::OtherPiece { .. } => "other-equipment",
            Self::OutOfControl { .. } => "out-of-control",
            Self::ReasonNeeded { .. } => "reason-needed",
        }
    }

    /// The way out, in the imperative.
    #[must_use]
    pub const fn hint(&self) -> &'static str {
        match self {
            Self::TooFew { .. } => "Confirm the flame as usual until there are enough.",
            Self::Unknown { .. } => "Name confirmations of this book.",
            Self::Void { .. } => "Leave that confirmation out.",
            Self::OtherPiece { .. } => "Begin with the first confirmation after the change.",
            Self::OutOfControl { .. } => {
                "Find out what was different. Leave it out, or begin after it."
            }
            Self::ReasonNeeded { .. } => "Say what was changed: burner, block or thermocouple.",
        }
    }
}

/// The confirmations that a base line would rest on now: all up to the last one that were made with
/// its burner, block and thermocouple, without a break, and whose determinations still count.
#[must_use]
pub fn proposed(history: &History) -> Vec<ConfirmationNumber> {
    let all = history.confirmations();
    let Some(bench) = all.last().map(|last| pieces(history, last)) else { return Vec::new() };
    let of_it = |it: &&RecordedConfirmation| pieces(history, it) == bench;
    let mut numbers: Vec<ConfirmationNumber> = all
        .iter()
        .rev()
        .take_while(of_it)
        .filter(|it| void(history, it).is_none())
        .map(|it| it.number)
        .collect();
    numbers.reverse();
    numbers
}

/// The base line on these confirmations, to be recorded.
///
/// # Errors
///
/// All that stands against it.
pub fn freeze(
    history: &History,
    confirmations: &[ConfirmationNumber],
    restart: Option<Restart>,
) -> Result<BaseLine, Vec<FreezeFinding>> {
    let mut findings = Vec::new();
    let mut numbers = confirmations.to_vec();
    numbers.sort_unstable();
    numbers.dedup();
    let unknown = numbers.iter().filter(|number| history.confirmation(**number).is_none());
    findings.extend(unknown.map(|number| FreezeFinding::Unknown { number: *number }));
    let all: Vec<&RecordedConfirmation> =
        numbers.iter().filter_map(|number| history.confirmation(*number)).collect();
    let needed = Rules::built_in().fewest;
    if all.len() < needed {
        findings.push(FreezeFinding::TooFew { found: all.len(), needed });
    }
    findings.extend(all.iter().filter_map(|it| void(history, it)));
    findings.extend(other_pieces(history, &all));
    findings.extend(out_of_control(&all));
    let earlier = history.base_line().map(|earlier| earlier.base_line.number);
    let said = restart.as_ref().is_some_and(|restart| !restart.reason.trim().is_empty());
    if let Some(earlier) = earlier.filter(|_| !said) {
        findings.push(FreezeFinding::ReasonNeeded { earlier });
    }
    if !findings.is_empty() {
        return Err(findings);
    }
    Ok(BaseLine {
        number: BaseLineNumber(earlier.map_or(0, |earlier| earlier.0) + 1),
        confirmations: numbers,
        determinations: all.iter().flat_map(|it| it.counted.iter().copied()).collect(),
        restart: restart.filter(|_| earlier.is_some()),
    })
}

/// Limits within which confirmations are in control.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct ControlLimits {
    /// The mean of their mean rise times.
    pub middle: Duration,
    /// The lower limit.
    pub low: Duration,
    /// The upper limit.
    pub high: Duration,
}

impl ControlLimits {
    /// Of single values in their order: about their mean, as wide as the mean of the moving
    /// ranges of two tells. Nothing for fewer than two, or where they do not scatter.
    #[must_use]
    pub fn of(values: &[Duration]) -> Option<Self> {
        let line = control_chart::BaseLine::of(values)?;
        let Limits { low, high } = line.limits(Rules::built_in().width);
        Some(Self { middle: line.centre, low, high })
    }
}

/// The mean rise time of the determinations by which a flame was confirmed; none where they have
/// none.
#[must_use]
pub fn mean_rise_time(confirmation: &RecordedConfirmation) -> Option<Duration> {
    let counted = confirmation.determinations.iter();
    let counted = counted.filter(|made| confirmation.counted.contains(&made.number));
    let times: Vec<Duration> =
        counted.filter_map(|made| made.rise_time.map(|rise| rise.value)).collect();
    metrology::statistics::mean(&times)
}

fn out_of_control(all: &[&RecordedConfirmation]) -> Vec<FreezeFinding> {
    let means: Vec<(ConfirmationNumber, Duration)> =
        all.iter().filter_map(|it| Some((it.number, mean_rise_time(it)?))).collect();
    let values: Vec<Duration> = means.iter().map(|(_, mean)| *mean).collect();
    let Some(limits) = ControlLimits::of(&values) else { return Vec::new() };
    let outside = means.into_iter().filter(|(_, mean)| *mean < limits.low || *mean > limits.high);
    outside
        .map(|(confirmation, mean)| FreezeFinding::OutOfControl {
            confirmation,
            found: format!("{mean:.2}"),
            low: format!("{:.2}", limits.low),
            high: format!("{:.2}", limits.high),
        })
        .collect()
}

/// A determination of it that was found void since.
fn void(history: &History, confirmation: &RecordedConfirmation) -> Option<FreezeFinding> {
    let is_void = |number: &&DeterminationNumber| {
        history.determination(**number).is_none_or(|made| made.void.is_some())
    };
    let determination = *confirmation.counted.iter().find(is_void)?;
    Some(FreezeFinding::Void { confirmation: confirmation.number, determination })
}

/// Burner, block and thermocouple of a confirmation, those that are known.
#[must_use]
pub fn pieces(history: &History, confirmation: &RecordedConfirmation) -> Vec<EquipmentNumber> {
    let named = history.plan(confirmation.plan).map(|plan| plan.draft().equipment.as_slice());
    let burner = named.unwrap_or_default().iter().find(|number| {
        history.equipment(number).is_some_and(|piece| piece.kind == EquipmentKind::Burner)
    });
    let mut made = confirmation.determinations.iter();
    let made = made.rfind(|made| confirmation.counted.contains(&made.number));
    let of_it = made.into_iter().flat_map(|made| [made.block.clone(), made.thermocouple.clone()]);
    burner.cloned().into_iter().chain(of_it).collect()
}

/// The first confirmation, from the last one back, that was made with another piece.
fn other_pieces(history: &History, all: &[&RecordedConfirmation]) -> Option<FreezeFinding> {
    let last = pieces(history, all.last()?);
    all.iter().rev().find_map(|it| {
        let own = pieces(history, it);
        let (found, other) = own.iter().zip(&last).find(|(own, last)| own != last)?;
        let (confirmation, found, other) = (it.number, found.clone(), other.clone());
        Some(FreezeFinding::OtherPiece { confirmation, found, other })
    })
}

/// The numbers of `standards/readings/base-line.toml`.
#[derive(Clone, Copy, Debug)]
pub struct Rules {
    /// Confirmations that a base line rests on at least.
    pub fewest: usize,
    /// Half the width of what is in control, in standard deviations.
    pub width: f64,
}

impl Rules {
    /// The numbers built into the program, read once.
    ///
    /// # Panics
    ///
    /// Never on a built program: a test reads the file that is built in.
    #[must_use]
    #[expect(clippy::expect_used, reason = "the file is part of the program, and a test reads it")]
    pub fn built_in() -> &'static Self {
        static RULES: LazyLock<Rules> = LazyLock::new(|| {
            Rules::of(include_str!("../../../standards/readings/base-line.toml"))
                .expect("the rules of the base line are sound")
        });
        &RULES
    }

    fn of(text: &str) -> Option<Self> {
        let file: toml::Table = text.parse().ok()?;
        let number = |name: &str| {
            let rules = file.get("rule")?.as_array()?;
            let named =
                |rule: &&toml::Value| rule.get("name").and_then(toml::Value::as_str) == Some(name);
            let rule = rules.iter().find(named)?;
            let value = rule.get("value")?;
            value.as_float().or_else(|| value.as_integer()?.to_string().parse().ok())
        };
        let fewest = number("fewest-confirmations")?;
        Some(Self { fewest: format!("{fewest:.0}").parse().ok()?, width: number("control-width")? })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_rules_built_in_are_sound() {
        let rules = Rules::built_in();
        assert_eq!(rules.fewest, 20);
        assert!(rules.width > 0.0);
        assert!(Rules::of("title = \"none\"").is_none());
    }
}
