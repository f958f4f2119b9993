//! The base line of the flame: what is usual on the bench, frozen by a person's act.

use serde::Serialize;
use trial::base_line::{
    BaseLine, ControlLimits, FreezeFinding, Restart, Rules, freeze as frozen, mean_rise_time,
    pieces, proposed,
};
use trial::fact::Fact;
use trial::history::{History, RecordedBaseLine};
use trial::number::{BaseLineNumber, ConfirmationNumber};
use trial::signature::Signed;
use utoipa::ToSchema;

use super::sign;
use crate::book::OpenBook;
use crate::output::Output;
use crate::problem::{Exit, Found, Problem};

/// Which confirmations a base line shall rest on, of those that are proposed.
#[derive(Clone, Debug, Default)]
pub(crate) struct Wanted {
    /// The first.
    pub(crate) from: Option<ConfirmationNumber>,
    /// The last.
    pub(crate) to: Option<ConfirmationNumber>,
    /// Left out.
    pub(crate) without: Vec<ConfirmationNumber>,
    /// Why another one is frozen.
    pub(crate) restart: Option<Restart>,
}

/// How the base line stands.
#[derive(Clone, Debug, Serialize, ToSchema)]
pub(crate) struct BaseLineSheet {
    /// That, in words.
    pub(crate) sentence: String,
    /// Confirmations that a base line needs.
    pub(crate) needed: usize,
    /// The one that holds.
    pub(crate) holds: Option<FrozenBaseLine>,
    /// Those before it, the last one first.
    pub(crate) earlier: Vec<FrozenBaseLine>,
    /// The confirmations that one would rest on now.
    pub(crate) proposed: Vec<u32>,
    /// Burner, block and thermocouple of these.
    pub(crate) equipment: Vec<String>,
    /// The limits of these, in seconds, where there are two or more.
    pub(crate) limits: Option<LimitsShown>,
    /// What stands against freezing it now, each with the way out.
    pub(crate) against: Vec<Against>,
}

/// One base line.
#[derive(Clone, Debug, Serialize, ToSchema)]
pub(crate) struct FrozenBaseLine {
    /// Its number.
    pub(crate) base_line: u32,
    /// When it was frozen.
    pub(crate) at: String,
    /// By whom.
    pub(crate) by: String,
    /// Under whose signature; none, as long as nobody signed it.
    pub(crate) signature: Option<String>,
    /// Which entry of the record.
    pub(crate) entry: u64,
    /// The confirmations that it rests on.
    pub(crate) confirmations: Vec<u32>,
    /// Their determinations.
    pub(crate) determinations: Vec<u32>,
    /// Those of them that were found void since.
    pub(crate) void_since: Vec<u32>,
    /// Their limits in seconds.
    pub(crate) limits: Option<LimitsShown>,
    /// What was changed, where it took the place of an earlier one.
    pub(crate) cause: Option<String>,
    /// The reason in words.
    pub(crate) reason: Option<String>,
}

/// Within which mean rise times confirmations are in control, in seconds.
#[derive(Clone, Copy, Debug, Serialize, ToSchema)]
pub(crate) struct LimitsShown {
    /// The mean.
    pub(crate) middle_s: f64,
    /// The lower limit.
    pub(crate) low_s: f64,
    /// The upper limit.
    pub(crate) high_s: f64,
}

/// Something that stands against it.
#[derive(Clone, Debug, Serialize, ToSchema)]
pub(crate) struct Against {
    /// Its stable name.
    pub(crate) kind: &'static str,
    /// The facts.
    pub(crate) text: String,
    /// The way out.
    pub(crate) hint: &'static str,
}

impl Against {
    fn of(finding: &FreezeFinding) -> Self {
        Self { kind: finding.kind(), text: finding.to_string(), hint: finding.hint() }
    }
}

/// How the base line stands now.
pub(crate) fn look(book: &OpenBook) -> BaseLineSheet {
    let history = book.history();
    let proposed = proposed(history);
    let needed = Rules::built_in().fewest;
    let mut lines = history.base_lines().iter().rev().map(|it| shown(history, it));
    let holds = lines.next();
    let last = history.last_confirmation();
    let equipment = last.map(|last| pieces(history, last)).unwrap_or_default();
    let against = frozen(history, &proposed, None).err().unwrap_or_default();
    // That a reason is needed is no fault: the page asks for it.
    let against = against.iter().filter(|it| !matches!(it, FreezeFinding::ReasonNeeded { .. }));
    let sentence = match &holds {
        Some(it) => format!(
            "Base line B-{} holds. It was frozen at {} by {}, on {} confirmations.",
            it.base_line,
            it.at,
            it.by,
            it.confirmations.len()
        ),
        None if proposed.is_empty() => format!(
            "No base line is frozen. The flame was not confirmed yet; {needed} confirmations are \
             needed."
        ),
        None => format!(
            "No base line is frozen. Confirmations in a row with this burner, block and \
             thermocouple: {}; {needed} are needed.",
            proposed.len()
        ),
    };
    BaseLineSheet {
        sentence,
        needed,
        earlier: lines.collect(),
        limits: limits(history, &proposed),
        proposed: proposed.iter().map(|it| it.0).collect(),
        equipment: equipment.into_iter().map(|it| it.0).collect(),
        against: against.map(Against::of).collect(),
        holds,
    }
}

fn shown(history: &History, recorded: &RecordedBaseLine) -> FrozenBaseLine {
    let BaseLine { number, confirmations, determinations, restart } = &recorded.base_line;
    let void = determinations
        .iter()
        .filter(|number| history.determination(**number).is_none_or(|made| made.void.is_some()));
    FrozenBaseLine {
        base_line: number.0,
        at: crate::words::when(recorded.at),
        by: recorded.who.to_string(),
        signature: sign::line(history, Signed::BaseLine(*number)),
        entry: recorded.entry.0,
        confirmations: confirmations.iter().map(|it| it.0).collect(),
        determinations: determinations.iter().map(|it| it.0).collect(),
        void_since: void.map(|it| it.0).collect(),
        limits: limits(history, confirmations),
        cause: restart.as_ref().map(|restart| restart.cause.word().to_owned()),
        reason: restart.as_ref().map(|restart| restart.reason.clone()),
    }
}

fn limits(history: &History, confirmations: &[ConfirmationNumber]) -> Option<LimitsShown> {
    let all = confirmations.iter().filter_map(|number| history.confirmation(*number));
    let means: Vec<metrology::Duration> = all.filter_map(mean_rise_time).collect();
    let limits = ControlLimits::of(&means)?;
    Some(LimitsShown {
        middle_s: limits.middle.seconds(),
        low_s: limits.low.seconds(),
        high_s: limits.high.seconds(),
    })
}

/// Freezes the base line on the confirmations that are wanted.
///
/// # Errors
///
/// As the book says; within, all that stands against it, at once.
pub(crate) fn freeze(
    book: &mut OpenBook,
    wanted: &Wanted,
    output: &Output,
) -> Result<Result<BaseLineNumber, Vec<FreezeFinding>>, Problem> {
    let named = wanted.from.is_some() || wanted.to.is_some();
    let offered = if named {
        book.history().confirmations().iter().map(|it| it.number).collect()
    } else {
        proposed(book.history())
    };
    let first = wanted.from.unwrap_or(ConfirmationNumber(0));
    let last = wanted.to.unwrap_or(ConfirmationNumber(u32::MAX));
    let confirmations: Vec<ConfirmationNumber> = offered
        .into_iter()
        .filter(|number| (first..=last).contains(number) && !wanted.without.contains(number))
        .collect();
    let restart = wanted.restart.clone();
    let base_line = match frozen(book.history(), &confirmations, restart) {
        Ok(base_line) => base_line,
        Err(findings) => return Ok(Err(findings)),
    };
    let number = base_line.number;
    book.keep(&Fact::BaseLineFrozen(Box::new(base_line)), output)?;
    Ok(Ok(number))
}

/// Why it cannot be frozen so, as a problem.
pub(crate) fn refused(findings: &[FreezeFinding]) -> Problem {
    let found = |finding: &FreezeFinding| Found {
        kind: finding.kind().to_owned(),
        text: finding.to_string(),
        hint: finding.hint().to_owned(),
    };
    let plural = if findings.len() == 1 { "finding" } else { "findings" };
    Problem {
        findings: findings.iter().map(found).collect(),
        exit: Exit::Finding,
        ..Problem::used_wrongly(format!(
            "the base line cannot be frozen so: {} {plural}",
            findings.len()
        ))
    }
}
