//! Is the flame right? Determinations with the copper block, held against the band.

use crate::fact::Evidence;
use crate::finding::{Finding, FindingKind, Stage};
use crate::history::History;
use crate::method::EachOrMean;
use crate::moment::{Moment, age_shown};
use crate::number::{
    ConfirmationNumber, DeterminationNumber, EquipmentNumber, LotNumber, PersonName,
};
use crate::plan::Plan;
use crate::readiness::Ready;
use crate::verdict::shown_beside;
use metrology::decision::{Decision, Limit, Standing, decide};
use metrology::statistics::mean;
use metrology::{Area, DegreesOfFreedom, Duration, Length, Mass, Measurement, Temperature};

/// Confirms the flame by the determinations made so far, in their order.
///
/// The last ones that count, as many as the method asks for, decide: none between them may be
/// left out but a void one. A void one stays in the list.
///
/// # Errors
///
/// All findings: too few determinations, a block too warm, a rise time outside the band or too
/// near its edge for the rule, typed times without a second person, gas or equipment that changed
/// between them.
pub fn confirm(
    ready: &Ready,
    number: ConfirmationNumber,
    determinations: &[Determination],
) -> Result<Confirmed, Vec<Finding>> {
    let plan = ready.plan();
    let counting: Vec<&Determination> =
        determinations.iter().filter(|determination| determination.void.is_none()).collect();
    let asked = &plan.requirement().asked.confirmation;
    let needed = usize::try_from(asked.determinations.value.number()).unwrap_or(usize::MAX);
    let deciding = &counting[counting.len().saturating_sub(needed)..];
    let mut findings = Vec::new();
    if deciding.len() < needed {
        let text = format!(
            "{} of {} determinations count; {} {} asks for {}",
            counting.len(),
            determinations.len(),
            asked.determinations.source,
            asked.determinations.clause,
            asked.determinations.text
        );
        let hint = "Let the block cool and make the next determination.";
        findings.push(finding(FindingKind::Determinations, text, hint));
    }
    findings.extend(deciding.iter().flat_map(|determination| unfit(plan, determination)));
    findings.extend(other_gas(ready, deciding));
    let held = match hold(plan, deciding) {
        Ok(held) => held,
        Err(unusable) => {
            findings.push(unusable);
            Vec::new()
        }
    };
    findings.extend(held.iter().filter_map(|held| outside(plan, held)));
    if !findings.is_empty() {
        return Err(findings);
    }
    let counted = deciding.iter().map(|determination| determination.number).collect();
    let determinations = determinations.to_vec();
    let at = deciding.last().map_or(ready.at(), |last| last.at);
    Ok(Confirmed { ready: ready.clone(), number, at, determinations, counted, held })
}

/// Takes up the last confirmation of the record if it still holds.
///
/// # Errors
///
/// A finding if there is none, if the gas was changed since, or if it is older than the plan lets
/// a confirmation be.
pub fn still_holds(
    ready: &Ready,
    history: &History,
    now: Moment,
) -> Result<Confirmed, Vec<Finding>> {
    let hint = "Confirm the flame.";
    let lapsed = |text: String| vec![finding(FindingKind::Lapsed, text, hint)];
    let Some(last) = history.last_confirmation() else {
        return Err(lapsed("the flame was not confirmed yet".to_owned()));
    };
    if let Some(why) = history.lapsed_since(last) {
        return Err(lapsed(format!("confirmation {} lapsed: {why}", last.number)));
    }
    let age = now.since(last.at);
    if let Some(longest) = ready.plan().draft().confirmation_age_max
        && age > longest
    {
        return Err(lapsed(format!(
            "confirmation {} is {} old; the laboratory lets it be {} at most",
            last.number,
            age_shown(age),
            age_shown(longest)
        )));
    }
    confirm(ready, last.number, &last.determinations)
}

/// One heating of the block with its rise time.
#[derive(Clone, Debug, PartialEq)]
pub struct Determination {
    /// Its number.
    pub number: DeterminationNumber,
    /// When the flame touched the block.
    pub at: Moment,
    /// The rise time through the method's window; none where a fault left no value, and then
    /// the determination is void.
    pub rise_time: Option<Measurement<Duration>>,
    /// How warm the block was at the start.
    pub start: Temperature,
    /// Where the time comes from.
    pub source: DeterminationSource,
    /// Faults of the signal and remarks.
    pub remarks: Vec<String>,
    /// The block.
    pub block: EquipmentNumber,
    /// The thermocouple.
    pub thermocouple: EquipmentNumber,
    /// The gas.
    pub gas: LotNumber,
    /// The visible height of the flame, where it was measured.
    pub flame_height: Option<Length>,
    /// Why it does not count, if so.
    pub void: Option<String>,
}

/// Where a rise time comes from.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum DeterminationSource {
    /// Read from a logger's file.
    Trace {
        /// The file.
        evidence: Evidence,
        /// What was stated to read it, option by option as typed, so that it can be read again.
        read_as: Vec<String>,
    },
    /// Typed by one person and checked by another.
    Typed {
        /// Who typed it.
        by: PersonName,
        /// Who checked it.
        seconded: Option<PersonName>,
    },
}

/// The cooling of the block after a heating.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Cooling {
    /// After which heating.
    pub determination: DeterminationNumber,
    /// The recording, from before the flame to the end of the cooling.
    pub evidence: Evidence,
    /// What was stated to read it, option by option as typed.
    pub read_as: Vec<String>,
}

/// What a copper block weighed.
#[derive(Clone, Debug, PartialEq)]
pub struct Weighing {
    /// Which block.
    pub block: EquipmentNumber,
    /// Its mass, as drilled.
    pub mass: Measurement<Mass>,
    /// The surface that radiates and gives heat to the air, where it was measured.
    pub area: Option<Area>,
}

/// A confirmed flame. Only [`confirm`], [`still_holds`] and the replay of the record make one.
#[derive(Clone, Debug, PartialEq)]
pub struct Confirmed {
    ready: Ready,
    number: ConfirmationNumber,
    at: Moment,
    determinations: Vec<Determination>,
    counted: Vec<DeterminationNumber>,
    held: Vec<Held>,
}

/// What was held against the band, and how it stood.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Held {
    /// The determination; none for their mean.
    pub determination: Option<DeterminationNumber>,
    /// The rise time.
    pub rise_time: Measurement<Duration>,
    /// How it stood.
    pub decision: Decision<Duration>,
}

impl Confirmed {
    /// The readiness it follows.
    #[must_use]
    pub const fn ready(&self) -> &Ready {
        &self.ready
    }

    /// Its number.
    #[must_use]
    pub const fn number(&self) -> ConfirmationNumber {
        self.number
    }

    /// When the last determination that decided was made.
    #[must_use]
    pub const fn at(&self) -> Moment {
        self.at
    }

    /// All determinations of the sitting, void ones included.
    #[must_use]
    pub fn determinations(&self) -> &[Determination] {
        &self.determinations
    }

    /// Those that decided.
    #[must_use]
    pub fn counted(&self) -> &[DeterminationNumber] {
        &self.counted
    }

    /// How each, or their mean, stood against the band.
    #[must_use]
    pub fn held(&self) -> &[Held] {
        &self.held
    }
}

/// How these determinations stand against the plan's band: each of them, or their mean.
///
/// # Errors
///
/// A finding if an uncertainty cannot be one.
pub fn hold(plan: &Plan, deciding: &[&Determination]) -> Result<Vec<Held>, Finding> {
    let asked = &plan.requirement().asked.confirmation;
    let band = asked.rise_time.value;
    let limit = Limit::Between { low: band.low, high: band.high };
    let hint = "Give the rise time with its standard uncertainty.";
    let one = |determination, rise_time| {
        decide(rise_time, limit, plan.draft().confirmation_rule)
            .map(|decision| Held { determination, rise_time, decision })
            .map_err(|why| finding(FindingKind::RiseTime, why.to_string(), hint))
    };
    match asked.rule.value {
        EachOrMean::Each => deciding
            .iter()
            .map(|determination| {
                let number = determination.number;
                let without = || format!("{number} has no rise time and is not void");
                let absent = || finding(FindingKind::RiseTime, without(), hint);
                one(Some(number), determination.rise_time.ok_or_else(absent)?)
            })
            .collect(),
        EachOrMean::Mean => mean_of(deciding).into_iter().map(|mean| one(None, mean)).collect(),
    }
}

/// Their mean. One block, thermocouple and clock serve all, so the errors are taken to be the same
/// in each and do not average out.
fn mean_of(deciding: &[&Determination]) -> Option<Measurement<Duration>> {
    let rise_times: Vec<Measurement<Duration>> =
        deciding.iter().filter_map(|it| it.rise_time).collect();
    let values: Vec<Duration> = rise_times.iter().map(|it| it.value).collect();
    let uncertainty = rise_times
        .iter()
        .map(|it| it.uncertainty)
        .fold(Duration::ZERO, |most, next| if most < next { next } else { most });
    let degrees_of_freedom = DegreesOfFreedom::Infinite;
    Some(Measurement { value: mean(&values)?, uncertainty, degrees_of_freedom })
}

fn finding(kind: FindingKind, text: String, hint: &str) -> Finding {
    Finding::new(Stage::Confirmation, kind, text, hint)
}

fn unfit(plan: &Plan, determination: &Determination) -> Vec<Finding> {
    let mut findings = Vec::new();
    let number = determination.number;
    let asked = &plan.requirement().asked.confirmation;
    if !asked.start.value.is_kept_by(determination.start) {
        let text = format!(
            "the block was at {} at the start of {number}; {} {} asks for {}",
            determination.start, asked.start.source, asked.start.clause, asked.start.text
        );
        let hint = "Void it, let the block cool, and make another.";
        findings.push(finding(FindingKind::BlockWarm, text, hint));
    }
    let height = &plan.requirement().asked.flame_height;
    if let Some(found) = determination.flame_height
        && !height.value.holds(found)
    {
        let text = format!(
            "the flame was {found} high at {number}; {} {} asks for {}",
            height.source, height.clause, height.text
        );
        let hint = "Set the flame by the gauge, and make new determinations.";
        findings.push(finding(FindingKind::FlameHeight, text, hint));
    }
    if let DeterminationSource::Typed { by, seconded } = &determination.source {
        let hint = "Let a second person check the typed time.";
        match seconded {
            None => {
                let text = format!("{number} was typed by {by} and checked by nobody");
                findings.push(finding(FindingKind::SecondPerson, text, hint));
            }
            Some(second) if second == by => {
                let text = format!("{number} was typed and checked by the same person, {by}");
                findings.push(finding(FindingKind::SecondPerson, text, hint));
            }
            Some(_) => {}
        }
    }
    for piece in [&determination.block, &determination.thermocouple] {
        if !plan.draft().equipment.contains(piece) {
            let text = format!("{number} was made with {piece}, which the plan does not name");
            let hint = "Plan with the equipment that is used.";
            findings.push(finding(FindingKind::Equipment, text, hint));
        }
    }
    findings
}

/// Gas that changed between the determinations or since.
fn other_gas(ready: &Ready, deciding: &[&Determination]) -> Option<Finding> {
    let connected = ready.gas().or_else(|| deciding.last().map(|last| &last.gas))?;
    let other = deciding.iter().find(|determination| determination.gas != *connected)?;
    let text =
        format!("{} was made with gas {}; {connected} is connected", other.number, other.gas);
    let hint = "Make all determinations anew with the gas that is connected.";
    Some(finding(FindingKind::Lapsed, text, hint))
}

fn outside(plan: &Plan, held: &Held) -> Option<Finding> {
    let asked = &plan.requirement().asked.confirmation.rise_time;
    let what = match held.determination {
        Some(number) => format!("the rise time of {number}"),
        None => "the mean rise time".to_owned(),
    };
    let (kind, how) = match held.decision.standing {
        Standing::Kept => return None,
        Standing::Broken => (FindingKind::RiseTime, "outside"),
        Standing::Undecided => (FindingKind::RiseTimeUndecided, "too near an edge of"),
    };
    let text = format!(
        "{what} is {}, {how} the band {} to {} of {} {}",
        shown_beside(held.rise_time.value, held.decision.limit, 2),
        asked.value.low,
        asked.value.high,
        asked.source,
        asked.clause
    );
    let hint = "Set the flame, check block and thermocouple, and make new determinations.";
    Some(finding(kind, text, hint))
}

impl Confirmed {
    /// A confirmation that the record holds, taken as recorded.
    pub(crate) fn restored(ready: Ready, recorded: &crate::history::RecordedConfirmation) -> Self {
        let deciding: Vec<&Determination> = recorded
            .determinations
            .iter()
            .filter(|determination| recorded.counted.contains(&determination.number))
            .collect();
        let held = hold(ready.plan(), &deciding).unwrap_or_default();
        Self {
            number: recorded.number,
            at: recorded.at,
            determinations: recorded.determinations.clone(),
            counted: recorded.counted.clone(),
            held,
            ready,
        }
    }
}
