//! May it begin? Equipment, conditioning, people, cautions.

use crate::care;
use crate::fact::{Authorisation, Conditioned, Conditioning, EquipmentKind, LotKind};
use crate::finding::{Finding, FindingKind, Stage};
use crate::history::History;
use crate::method::ConditioningAsked;
use crate::moment::Moment;
use crate::number::{EquipmentNumber, LotNumber, PersonName, SpecimenNumber};
use crate::plan::{LayerChosen, Plan};
use metrology::Duration;

/// What everyone reads before the first flame. It gives no licence to test: the laboratory's own
/// safety rules and local codes come first.
pub const CAUTIONS: [&str; 7] = [
    "Test only under the laboratory's own safety rules, local codes and licensed practice.",
    "Keep extinguishing means at hand and the way out free.",
    "Check hose and cartridge for leaks; change gas away from any flame.",
    "Smoke may hold carbon monoxide, hydrogen cyanide and acid gases: keep the door shut.",
    "Extraction is off during the flame and on right after; purge before the door is opened.",
    "Block, tube and drops are hot: tongs, glasses, gloves; let the block cool.",
    "Put out by hand whenever in doubt: a spoilt specimen is replaced.",
];

/// The kinds of equipment that a plan must name.
const NEEDED: [EquipmentKind; 4] = [
    EquipmentKind::Burner,
    EquipmentKind::CopperBlock,
    EquipmentKind::Thermocouple,
    EquipmentKind::Timer,
];

/// Checks whether the test may begin.
///
/// The record so far answers; `now` and `operator` are whose hands and which day.
///
/// # Errors
///
/// All findings: equipment, calibration, conditioning, people, cautions.
pub fn check(
    plan: &Plan,
    history: &History,
    operator: &PersonName,
    now: Moment,
) -> Result<Ready, Vec<Finding>> {
    let specimens = history.specimens(plan.number());
    let used = history.used_specimens(plan.number());
    let mut findings = equipment(plan, history, now);
    let acts = care::acts_in_the_way(plan, history, now);
    findings.extend(acts.into_iter().map(|(_, finding)| finding));
    for specimen in specimens.iter().filter(|specimen| !used.contains(specimen)) {
        findings.extend(specimen_conditioned(plan, history, *specimen));
    }
    if plan.draft().layer == LayerChosen::Specified {
        let asked = &plan.requirement().asked.layer_conditioning;
        let stored = history.conditionings(plan.number());
        let stored = stored.iter().copied().filter(|entry| entry.what == Conditioned::Layer);
        findings.extend(conditioned("the layer", asked, stored));
    }
    findings.extend(person(plan, history, (operator, now)));
    if !history.cautions_acknowledged(plan.number()) {
        let text = format!("nobody acknowledged the cautions for plan {}", plan.number());
        let hint = "Read the cautions and acknowledge them.";
        findings.push(finding(FindingKind::Cautions, text, hint));
    }
    if findings.is_empty() { Ok(Ready::restored(history, plan, now)) } else { Err(findings) }
}

/// A plan found ready. Only [`check`] and the replay of the record make one.
#[derive(Clone, Debug, PartialEq)]
pub struct Ready {
    plan: Plan,
    at: Moment,
    specimens: Vec<SpecimenNumber>,
    used: Vec<SpecimenNumber>,
    gas: Option<LotNumber>,
}

impl Ready {
    /// The plan.
    #[must_use]
    pub const fn plan(&self) -> &Plan {
        &self.plan
    }

    /// When it was found ready.
    #[must_use]
    pub const fn at(&self) -> Moment {
        self.at
    }

    /// The specimens of the plan, later ones included.
    #[must_use]
    pub fn specimens(&self) -> &[SpecimenNumber] {
        &self.specimens
    }

    /// Those that were in the flame or spoilt before.
    #[must_use]
    pub fn used(&self) -> &[SpecimenNumber] {
        &self.used
    }

    /// The gas that is connected, as far as the record knows.
    #[must_use]
    pub const fn gas(&self) -> Option<&LotNumber> {
        self.gas.as_ref()
    }

    /// A readiness that the record holds, with what the record knows by now.
    pub(crate) fn restored(history: &History, plan: &Plan, at: Moment) -> Self {
        Self {
            plan: plan.clone(),
            at,
            specimens: history.specimens(plan.number()),
            used: history.used_specimens(plan.number()),
            gas: history.lot(LotKind::Gas).map(|(_, lot)| lot.number.clone()),
        }
    }
}

fn finding(kind: FindingKind, text: String, hint: &str) -> Finding {
    Finding::new(Stage::Readiness, kind, text, hint)
}

fn equipment(plan: &Plan, history: &History, now: Moment) -> Vec<Finding> {
    let mut findings = Vec::new();
    let named = &plan.draft().equipment;
    for kind in NEEDED {
        let there =
            named.iter().filter_map(|number| history.equipment(number)).any(|it| it.kind == kind);
        if !there {
            let text = format!("plan {} names no registered {kind}", plan.number());
            let hint = "Register it, and plan with it.";
            findings.push(finding(FindingKind::Equipment, text, hint));
        }
    }
    for number in named {
        findings.extend(one_piece(plan, history, (number, now)));
    }
    findings
}

fn one_piece(
    plan: &Plan,
    history: &History,
    (number, now): (&EquipmentNumber, Moment),
) -> Option<Finding> {
    let Some(piece) = history.equipment(number) else {
        let text = format!("{number} is not registered");
        return Some(finding(FindingKind::Equipment, text, "Register it, or plan without it."));
    };
    if let Some(reason) = history.withdrawn(number) {
        let text = format!("{} {number} is out of service: {reason}", piece.kind);
        return Some(finding(FindingKind::Equipment, text, "Plan with another piece."));
    }
    care::calibration_in_the_way(plan, history, (number, now)).map(|(_, finding)| finding)
}

fn specimen_conditioned(
    plan: &Plan,
    history: &History,
    specimen: SpecimenNumber,
) -> Option<Finding> {
    let asked = &plan.requirement().asked.conditioning;
    let stored = history.conditionings(plan.number());
    let stored = stored.iter().copied().filter(|entry| match &entry.what {
        Conditioned::Specimens(specimens) => specimens.contains(&specimen),
        Conditioned::Layer => false,
    });
    conditioned(&format!("specimen {specimen}"), asked, stored)
}

/// The finding on the best storage there was, if none is good enough.
fn conditioned<'h>(
    what: &str,
    asked: &ConditioningAsked,
    stored: impl Iterator<Item = &'h Conditioning>,
) -> Option<Finding> {
    let mut longest: Option<Duration> = None;
    let mut outside = None;
    for storage in stored {
        let duration = storage.until.since(storage.from);
        if !asked.temperature.value.holds(&storage.temperature)
            || !asked.humidity.value.holds(&storage.humidity)
        {
            outside = Some(storage);
            continue;
        }
        if asked.duration.value.is_kept_by(duration) {
            return None;
        }
        longest =
            Some(longest.map_or(duration, |best| if best < duration { duration } else { best }));
    }
    let demand = format!(
        "{} {} asks for {} at {} and {}",
        asked.duration.source,
        asked.duration.clause,
        asked.duration.text,
        asked.temperature.text,
        asked.humidity.text
    );
    let text = match (longest, outside) {
        (Some(longest), _) => {
            format!("{what} was conditioned for {:.2} h; {demand}", longest.seconds() / 3600.0)
        }
        (None, Some(storage)) => format!(
            "{what} was stored at {} to {} and {:.0} % to {:.0} %; {demand}",
            storage.temperature.from,
            storage.temperature.to,
            storage.humidity.from.percent(),
            storage.humidity.to.percent()
        ),
        (None, None) => format!("{what} was not conditioned; {demand}"),
    };
    let hint = "Condition it, and record from when to when.";
    Some(finding(FindingKind::Conditioning, text, hint))
}

fn person(
    plan: &Plan,
    history: &History,
    (operator, now): (&PersonName, Moment),
) -> Option<Finding> {
    let by = (&plan.draft().ordered.method, now.day());
    let refused = history.may(operator, Authorisation::Test, by).err()?;
    Some(refused.finding(Stage::Readiness))
}
