//! Which fact may follow which.

use super::correct::correct;
use super::error::{Followed, once, skipped};
use super::{
    History, HistoryProblem, PlanSoFar, RecordedConfirmation, RecordedRun, RecordedVerdict,
    Refusal, Verified, bench_known, doubted, people, signed, upkeep,
};
use crate::fact::{EvidenceHash, Fact, IssuedReport, LotKind, Recorded};
use crate::film::{Film, FilmHeard, FilmPlace};
use crate::number::{ConfirmationNumber, DeterminationNumber, PlanNumber, SpecimenNumber};
use crate::plan::{Draft, Plan};
use crate::requirement::resolve_from;
use crate::rules::{Library, RulesUsed};
use crate::run::{Observed, Run};
use crate::verdict::VerdictStanding;
use std::collections::{BTreeMap, BTreeSet};
use std::sync::Arc;

/// Lets one fact follow, or says why it cannot; then nothing has changed.
pub(super) fn follow(history: &mut History, library: &Library, next: Recorded) -> Followed {
    let last = history.entries.last();
    let number = last.map_or(0, |last| last.entry.0);
    if number.checked_add(1) != Some(next.entry.0) {
        return Err(HistoryProblem::Number { last: number });
    }
    if let Some(last) = last
        && next.at < last.at
    {
        return Err(HistoryProblem::Time { at: next.at, before: last.at });
    }
    let opening = matches!(next.fact, Fact::BookOpened { .. });
    if opening != (number == 0) {
        return Err(HistoryProblem::Opening);
    }
    if let Fact::Corrected { entry, .. } = &next.fact {
        return correct(history, library, *entry, next.clone());
    }
    signed::fits(history, &next)?;
    take(history, library, &next)?;
    history.enter(next);
    Ok(())
}

/// Takes one fact up, each kind with what must stand before it.
pub(super) fn take(history: &mut History, library: &Library, next: &Recorded) -> Followed {
    match &next.fact {
        Fact::BookOpened { laboratory, kind } => {
            history.laboratory = Some((laboratory.clone(), *kind));
        }
        Fact::PersonAdmitted { .. } | Fact::PersonEntrusted(_) | Fact::PersonDisabled { .. } => {
            return people::follow(history, next);
        }
        Fact::EquipmentRegistered(_)
        | Fact::CalibrationRecorded(_)
        | Fact::EquipmentWithdrawn { .. }
        | Fact::LotOpened(_) => return things(history, next),
        Fact::PlanDrawnUp { draft, rules } => return drawn_up(history, library, draft, rules),
        Fact::CautionsAcknowledged { plan } => {
            so_far(history, *plan)?.cautions.push((next.at, next.who.clone()));
        }
        Fact::SpecimensAdded { plan, specimens, .. } => {
            return so_far(history, *plan)?.add(specimens);
        }
        Fact::ConditioningRecorded(conditioning) => {
            so_far(history, conditioning.plan)?.conditionings.push(conditioning.clone());
        }
        Fact::ReadinessFound { plan } => {
            so_far(history, *plan)?.ready = Some(next.at);
            history.any_ready = true;
        }
        Fact::DeterminationRecorded(_)
        | Fact::DeterminationVoided { .. }
        | Fact::FlameConfirmed { .. } => return flame(history, next),
        Fact::BaseLineFrozen(_) | Fact::CoolingKept(_) | Fact::BlockWeighed(_) => {
            return bench_known::follow(history, next);
        }
        Fact::PressesKept { plan, specimen, .. } | Fact::TimekeeperTaken { plan, specimen, .. } => {
            let sittings = &mut of_plan(history, *plan, *specimen)?.sittings;
            return sittings.entry(*specimen).or_default().follow(next);
        }
        Fact::SpecimenPhotographed { .. }
        | Fact::FilmKept { .. }
        | Fact::FilmHeard { .. }
        | Fact::FilmPlaced { .. } => return filmed(history, next),
        Fact::TimesAccepted { plan, specimen, reason } => {
            return doubted::accepted(history, (*plan, *specimen), reason, next);
        }
        Fact::RunRecorded { plan, confirmation, observed } => {
            return ran(history, (*plan, *confirmation), observed, next);
        }
        Fact::SpecimenSpoilt { plan, specimen, reason } => {
            of_plan(history, *plan, *specimen)?.spoil(*specimen, reason);
        }
        Fact::VerdictReached { plan, standing, account } => {
            return judged(history, *plan, (*standing, account), next);
        }
        Fact::ReportIssued(report) => return issued(history, next, report),
        Fact::NumberVerified { .. } => verified(history, next),
        Fact::FlameCallAnswered { .. }
        | Fact::CareDone(_)
        | Fact::CareIntervalSet(_)
        | Fact::DueLetThrough(_)
        | Fact::BenchCommissioned(_)
        | Fact::ProgramValidated(_) => return upkeep::follow(history, next),
        Fact::Signed(_) | Fact::SentBack(_) | Fact::SigningRuled(_) => {
            return signed::follow(history, next);
        }
        Fact::StageRefused { stage, plan, findings } => {
            let (entry, at, findings) = (next.entry, next.at, findings.clone());
            let refusal = Refusal { entry, at, stage: *stage, plan: *plan, findings };
            history.refusals.entry(*plan).or_default().push(refusal);
        }
        Fact::FaultMet(_) | Fact::KeyBegun(_) | Fact::Corrected { .. } => {}
    }
    Ok(())
}

/// A verdict on a plan of which a specimen was in the flame.
fn judged(
    history: &mut History,
    plan: PlanNumber,
    (standing, account): (VerdictStanding, &str),
    next: &Recorded,
) -> Followed {
    let so_far = so_far(history, plan)?;
    if so_far.runs.is_empty() {
        return skipped(&format!("a run of plan {plan}"));
    }
    let (entry, at, who, account) = (next.entry, next.at, next.who.clone(), account.to_owned());
    so_far.verdicts.push(RecordedVerdict { entry, at, who, standing, account });
    Ok(())
}

fn so_far(history: &mut History, plan: PlanNumber) -> Result<&mut PlanSoFar, HistoryProblem> {
    let what = || HistoryProblem::Unknown { what: format!("plan {plan}") };
    history.plans.get_mut(&plan).ok_or_else(what)
}

/// A plan that has this specimen.
pub(super) fn of_plan(
    history: &mut History,
    plan: PlanNumber,
    specimen: SpecimenNumber,
) -> Result<&mut PlanSoFar, HistoryProblem> {
    let so_far = so_far(history, plan)?;
    known(so_far.known.contains(&specimen), || format!("specimen {specimen}"))?;
    Ok(so_far)
}

/// Photographs before the flame; films, and what was said of their place.
fn filmed(history: &mut History, next: &Recorded) -> Followed {
    let Recorded { entry, at, who, fact } = next;
    let (entry, at, who) = (*entry, *at, who.clone());
    if let Fact::FilmKept { plan, specimen, film, recorded } = fact {
        let films = of_plan(history, *plan, *specimen)?.films.entry(*specimen).or_default();
        once(films.iter().any(|it| it.film.hash == film.hash), || format!("film {}", film.name))?;
        let (film, recorded) = (film.clone(), recorded.clone());
        films.push(Film { entry, at, who, film, recorded, heard: None, placed: None });
    } else if let Fact::FilmHeard { plan, specimen, film, removed, tones } = fact {
        let found = film_of(history, (*plan, *specimen), *film)?;
        found.heard = Some(FilmHeard { entry, at, who, removed: *removed, tones: tones.clone() });
    } else if let Fact::FilmPlaced { plan, specimen, film, removed } = fact {
        let found = film_of(history, (*plan, *specimen), *film)?;
        found.placed = Some(FilmPlace { entry, at, who, removed: *removed });
    } else if let Fact::SpecimenPhotographed { plan, specimen, photo } = fact {
        let so_far = of_plan(history, *plan, *specimen)?;
        let photos = so_far.photos_before.entry(*specimen).or_default();
        once(photos.iter().any(|it| it.hash == photo.hash), || {
            format!("photograph {}", photo.name)
        })?;
        photos.push(photo.clone());
    }
    Ok(())
}

/// A film that a specimen has.
fn film_of(
    history: &mut History,
    (plan, specimen): (PlanNumber, SpecimenNumber),
    film: EvidenceHash,
) -> Result<&mut Film, HistoryProblem> {
    let what = || HistoryProblem::Unknown { what: format!("film {film} of specimen {specimen}") };
    let films = of_plan(history, plan, specimen)?.films.get_mut(&specimen);
    films.and_then(|films| films.iter_mut().find(|it| it.film.hash == film)).ok_or_else(what)
}

fn verified(history: &mut History, next: &Recorded) {
    let Fact::NumberVerified { rules, key, text, copy } = &next.fact else { return };
    let verified = Verified {
        rules: rules.clone(),
        key: key.clone(),
        text: text.clone(),
        copy: copy.clone(),
        who: next.who.clone(),
        at: next.at,
    };
    let of_rules = history.verified.entry(rules.clone()).or_default();
    of_rules.entry(key.clone()).or_default().push(verified);
}

/// Equipment and lots.
fn things(history: &mut History, next: &Recorded) -> Followed {
    let there = |number| history.equipment.contains_key(number);
    if let Fact::EquipmentRegistered(equipment) = &next.fact {
        once(there(&equipment.number), || format!("equipment {}", equipment.number))?;
        history.equipment.insert(equipment.number.clone(), equipment.clone());
    } else if let Fact::CalibrationRecorded(calibration) = &next.fact {
        let number = &calibration.equipment;
        known(there(number), || format!("equipment {number}"))?;
        history.calibrations.entry(number.clone()).or_default().push(calibration.clone());
    } else if let Fact::EquipmentWithdrawn { equipment, reason } = &next.fact {
        known(there(equipment), || format!("equipment {equipment}"))?;
        history.withdrawn.insert(equipment.clone(), reason.clone());
    } else if let Fact::LotOpened(lot) = &next.fact {
        once(history.lots_by_number.contains(&lot.number), || format!("lot {}", lot.number))?;
        history.lots_by_number.insert(lot.number.clone());
        history.lots_in_use.insert(lot.kind, history.lots.len());
        history.lots.push((next.at, lot.clone()));
    }
    Ok(())
}

fn issued(history: &mut History, next: &Recorded, report: &IssuedReport) -> Followed {
    once(history.report(report.number).is_some(), || format!("report {}", report.number))?;
    if let Some(earlier) = report.supersedes {
        known(history.report(earlier).is_some(), || format!("report {earlier}"))?;
    }
    let place = history.reports.len();
    let so_far = so_far(history, report.plan)?;
    if so_far.verdicts.is_empty() {
        return skipped(&format!("a verdict on plan {}", report.plan));
    }
    so_far.reports.push(place);
    history.reports_by_number.insert(report.number, place);
    history.reports.push((next.at, next.who.clone(), report.clone()));
    Ok(())
}

fn drawn_up(
    history: &mut History,
    library: &Library,
    draft: &Draft,
    rules: &[RulesUsed],
) -> Followed {
    let number = draft.number;
    once(history.plans.contains_key(&number), || format!("plan {number}"))?;
    if let Some(parent) = draft.parent {
        known(history.plans.contains_key(&parent), || format!("plan {parent}"))?;
    }
    let last = history.plans.values().next_back();
    let requirement = match last.and_then(|last| last.plan.same(&draft.ordered, rules)) {
        Some(same) => same,
        None => Arc::new(resolve_from(&draft.ordered, rules, library).map_err(|findings| {
            let why: Vec<String> = findings.into_iter().map(|finding| finding.text).collect();
            HistoryProblem::Rules { plan: number, why: why.join("; ") }
        })?),
    };
    let so_far = PlanSoFar {
        plan: Plan::restored(draft.clone(), requirement),
        specimens: draft.specimens.clone(),
        known: draft.specimens.iter().copied().collect(),
        used: BTreeSet::new(),
        sittings: BTreeMap::new(),
        films: BTreeMap::new(),
        photos_before: BTreeMap::new(),
        accepted: BTreeMap::new(),
        cautions: Vec::new(),
        conditionings: Vec::new(),
        ready: None,
        runs: Vec::new(),
        spoilt: BTreeMap::new(),
        verdicts: Vec::new(),
        reports: Vec::new(),
    };
    history.plans.insert(number, so_far);
    Ok(())
}

/// Determinations and confirmations.
fn flame(history: &mut History, next: &Recorded) -> Followed {
    if let Fact::DeterminationRecorded(determination) = &next.fact {
        let number = determination.number;
        let there = history.determinations_by_number.contains_key(&number);
        once(there, || format!("determination {number}"))?;
        if !history.any_ready {
            return skipped("the readiness of a plan");
        }
        history.determinations_by_number.insert(number, history.determinations.len());
        history.determinations.push((**determination).clone());
    } else if let Fact::DeterminationVoided { number, reason } = &next.fact {
        let place = history.determinations_by_number.get(number);
        let found = place.and_then(|place| history.determinations.get_mut(*place));
        let Some(determination) = found else {
            return known(false, || format!("determination {number}"));
        };
        determination.void = Some(reason.clone());
    } else if let Fact::FlameConfirmed { number, plan, determinations } = &next.fact {
        once(history.confirmation(*number).is_some(), || format!("confirmation {number}"))?;
        if !history.is_ready(*plan) {
            return skipped(&format!("the readiness of plan {plan}"));
        }
        countable(history, determinations)?;
        let confirmation = RecordedConfirmation {
            number: *number,
            plan: *plan,
            entry: next.entry,
            at: next.at,
            who: next.who.clone(),
            counted: determinations.clone(),
            determinations: history.open_determinations(),
        };
        history.confirmations_by_number.insert(*number, history.confirmations.len());
        history.determinations_taken = history.determinations.len();
        history.confirmations.push(confirmation);
    }
    Ok(())
}

/// A confirmation counts open determinations that are not void, made with the gas that is
/// connected.
fn countable(history: &History, counted: &[DeterminationNumber]) -> Followed {
    let open = history.open_determinations();
    if counted.is_empty() {
        return skipped("a determination");
    }
    let gas = history.lot(LotKind::Gas).map(|(_, lot)| &lot.number);
    for number in counted {
        let Some(determination) = open.iter().find(|it| it.number == *number) else {
            return known(false, || format!("{number}, not taken by an earlier confirmation,"));
        };
        if determination.void.is_some() {
            return skipped(&format!("another determination for the void {number}"));
        }
        if gas.is_some_and(|gas| *gas != determination.gas) {
            return skipped(&format!("another determination for {number}, since the gas changed,"));
        }
    }
    Ok(())
}

fn ran(
    history: &mut History,
    (plan, confirmation): (PlanNumber, ConfirmationNumber),
    observed: &Observed,
    next: &Recorded,
) -> Followed {
    may_run(history, plan, confirmation, observed)?;
    let so_far = so_far(history, plan)?;
    let run = Run::restored(&so_far.plan, observed.clone());
    let (entry, at, who) = (next.entry, next.at, next.who.clone());
    so_far.used.insert(observed.specimen);
    so_far.runs.push(RecordedRun { entry, at, who, confirmation, run });
    history.upkeep.ran(at);
    Ok(())
}

/// A run needs a ready plan, a confirmation, and a fresh specimen of the plan.
fn may_run(
    history: &History,
    plan: PlanNumber,
    confirmation: ConfirmationNumber,
    observed: &Observed,
) -> Followed {
    let specimen = observed.specimen;
    let Some(so_far) = history.plans.get(&plan) else {
        return known(false, || format!("plan {plan}"));
    };
    if so_far.ready.is_none() {
        return skipped(&format!("the readiness of plan {plan}"));
    }
    let Some(recorded) = history.confirmation(confirmation) else {
        return skipped(&format!("confirmation {confirmation}"));
    };
    if let Some(why) = history.lapsed_since(recorded) {
        return skipped(&format!("a new confirmation, since {why},"));
    }
    known(so_far.known.contains(&specimen), || format!("specimen {specimen}"))?;
    once(so_far.used.contains(&specimen), || format!("a run of specimen {specimen}"))
}

impl PlanSoFar {
    /// Further specimens, each a new one.
    fn add(&mut self, specimens: &[SpecimenNumber]) -> Followed {
        for specimen in specimens {
            once(self.known.contains(specimen), || format!("specimen {specimen}"))?;
        }
        self.known.extend(specimens);
        self.specimens.extend(specimens);
        Ok(())
    }

    /// A spoilt specimen's run, if there was one, is kept and not judged.
    fn spoil(&mut self, specimen: SpecimenNumber, reason: &str) {
        self.spoilt.insert(specimen, reason.to_owned());
        self.used.insert(specimen);
        for recorded in &mut self.runs {
            if recorded.run.specimen() == specimen {
                let mut observed = recorded.run.observed().clone();
                observed.spoilt = Some(reason.to_owned());
                recorded.run = Run::restored(&self.plan, observed);
            }
        }
    }
}

pub(super) fn known(is: bool, what: impl FnOnce() -> String) -> Followed {
    if is { Ok(()) } else { Err(HistoryProblem::Unknown { what: what() }) }
}
