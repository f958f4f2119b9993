//! What a run must show before it is recorded, and what makes it no run of the method.

use super::{Air, Application, Ending, LayerOutcome, MarkKind, Observed};
use crate::confirmation::Confirmed;
use crate::finding::{Finding, FindingKind, Stage};
use crate::method::Demand;
use crate::moment::{Elapsed, age_shown};
use crate::number::SpecimenNumber;
use crate::plan::{LayerChosen, Plan};
use crate::rules::{Band, Tolerance};
use metrology::Duration;

fn finding(kind: FindingKind, text: String, hint: &str) -> Finding {
    Finding::new(Stage::Run, kind, text, hint)
}

pub(super) fn unfit_specimen(confirmed: &Confirmed, specimen: SpecimenNumber) -> Vec<Finding> {
    let ready = confirmed.ready();
    let mut findings = Vec::new();
    if !ready.specimens().contains(&specimen) {
        let text = format!("specimen {specimen} is not of plan {}", ready.plan().number());
        findings.push(finding(FindingKind::Specimen, text, "Add the specimen to the plan first."));
    }
    if ready.used().contains(&specimen) {
        let text = format!("specimen {specimen} was in the flame before");
        findings.push(finding(FindingKind::Specimen, text, "Take a fresh specimen."));
    }
    findings
}

/// A run outside the time that the confirmation holds.
pub(super) fn flame_too_old(confirmed: &Confirmed, observed: &Observed) -> Option<Finding> {
    let age = observed.began.since(confirmed.at());
    let number = confirmed.number();
    let hint = "Confirm the flame, then take a fresh specimen.";
    if age < Duration::ZERO {
        let text = format!(
            "specimen {} met the flame at {}, before confirmation {number} at {}",
            observed.specimen,
            observed.began,
            confirmed.at()
        );
        return Some(finding(FindingKind::Order, text, hint));
    }
    let longest = confirmed.ready().plan().draft().confirmation_age_max?;
    if age <= longest {
        return None;
    }
    let text = format!(
        "specimen {} met the flame {} after confirmation {number}; the laboratory lets it be {} \
         old at most",
        observed.specimen,
        age_shown(age),
        age_shown(longest)
    );
    Some(finding(FindingKind::Lapsed, text, hint))
}

pub(super) fn wrong_order(observed: &Observed) -> Vec<Finding> {
    let mut findings = Vec::new();
    let specimen = observed.specimen;
    let mut refuse = |text: String| {
        let hint = "Correct the times, with the reason.";
        findings.push(finding(FindingKind::Order, text, hint));
    };
    let mut before: Option<Elapsed> = None;
    for (index, application) in observed.applications.iter().enumerate() {
        let Application { on, removed } = *application;
        let nth = index + 1;
        if removed <= on {
            refuse(format!(
                "specimen {specimen}: flame {nth} removed at {removed}, not after {on}"
            ));
        }
        if let Some(before) = before
            && on < before
        {
            refuse(format!("specimen {specimen}: flame {nth} came at {on}, before {before}"));
        }
        before = Some(removed);
    }
    // While the flame is on, nobody can say that the specimen's own flames are out. Its glow and
    // the layer can be seen to go out under it, but not before anything was lit.
    let first = observed.applications.first().map(|first| first.on);
    let endings = [
        ("flames", observed.flames, before, "the last removal"),
        ("glowing", observed.glow, first, "the first flame"),
        ("burning of the surroundings", observed.surroundings, first, "the first flame"),
    ];
    for (what, ending, earliest, which) in endings {
        if let (Some(at), Some(earliest)) = (ending.at(), earliest)
            && at < earliest
        {
            refuse(format!(
                "specimen {specimen}: {what} ended at {at}, before {which} at {earliest}"
            ));
        }
    }
    let caught = observed.marks.iter().filter(|mark| mark.kind == MarkKind::LayerCaught);
    if let (Some(out), Some(caught)) = (observed.surroundings.at(), caught.map(|it| it.at).max())
        && out < caught
    {
        refuse(format!(
            "specimen {specimen}: the layer was out at {out}, before it caught at {caught}"
        ));
    }
    if observed.timing_uncertainty < Duration::ZERO {
        refuse(format!(
            "specimen {specimen}: the timing uncertainty is {}, below 0 s",
            observed.timing_uncertainty
        ));
    }
    findings
}

pub(super) fn not_noted(plan: &Plan, observed: &Observed) -> Vec<Finding> {
    let mut findings = Vec::new();
    if observed.spoilt.is_some() {
        return findings;
    }
    let specimen = observed.specimen;
    let asked = &plan.requirement().asked;
    let count = &asked.application.count;
    let applied = u64::try_from(observed.applications.len()).unwrap_or(u64::MAX);
    if applied != count.value.number() {
        let text = format!(
            "specimen {specimen} had {applied} applications; {} {} asks for {}",
            count.source, count.clause, count.text
        );
        let hint = "Record the specimen as spoilt, or give all applications.";
        findings.push(finding(FindingKind::Applications, text, hint));
    }
    if asked.criteria.damaged_length.is_some() && observed.damaged_length.is_none() {
        let text = format!("specimen {specimen} has no {}", Demand::DamagedLength);
        findings.push(finding(FindingKind::Missing, text, "Measure the damaged length."));
    }
    let used = !matches!(plan.draft().layer, LayerChosen::NotUsed(_));
    if used == (observed.layer == LayerOutcome::NotUsed) {
        let text = format!(
            "specimen {specimen}: the layer is noted as {}, which is not as planned",
            observed.layer
        );
        findings.push(finding(FindingKind::Missing, text, "Say what became of the planned layer."));
    }
    let ignited = matches!(observed.layer, LayerOutcome::Glowed | LayerOutcome::Flamed);
    let caught = observed.marks.iter().find(|mark| mark.kind == MarkKind::LayerCaught);
    if let Some(mark) = caught
        && !ignited
    {
        let text = format!(
            "specimen {specimen}: the layer caught at {} and is noted as {}",
            mark.at, observed.layer
        );
        let hint = "Correct the mark or the layer.";
        findings.push(finding(FindingKind::Contradiction, text, hint));
    }
    if ignited && observed.surroundings == Ending::None {
        let text =
            format!("specimen {specimen}: the layer {} and has no time of its end", observed.layer);
        findings.push(finding(FindingKind::Missing, text, "Say when the layer was out."));
    }
    findings
}

/// Why the run is not valid as to the method.
pub(super) fn departures(plan: &Plan, observed: &Observed) -> Vec<Finding> {
    let mut findings = Vec::new();
    if let Some(why) = &observed.spoilt {
        let text = format!("specimen {} was spoilt: {why}", observed.specimen);
        findings.push(finding(FindingKind::Spoilt, text, "Replace it; it is not judged."));
        return findings;
    }
    let requirement = plan.requirement();
    findings.extend(other_air(plan, observed));
    let asked = &requirement.asked.application;
    let ta = &requirement.duration_of_application;
    let band = asked.tolerance.value.about(ta.value);
    for (index, application) in observed.applications.iter().enumerate() {
        let found = application.removed.since(application.on);
        if !band.holds(found) {
            let text = format!(
                "specimen {}, application {}: ta was {found}; {} {} and {} ask for {} to {}",
                observed.specimen,
                index + 1,
                ta.source,
                ta.clause,
                asked.tolerance.clause,
                band.low,
                band.high
            );
            findings.push(finding(FindingKind::Application, text, "Replace the specimen."));
        }
    }
    let pause = asked.pause.as_ref().zip(asked.pause_tolerance.as_ref());
    if let Some((pause, tolerance)) = pause {
        findings.extend(pauses_off(observed, tolerance.value, pause.value));
    }
    findings
}

fn other_air(plan: &Plan, observed: &Observed) -> Option<Finding> {
    let asked = &plan.requirement().asked.atmosphere;
    let Air { temperature, humidity } = observed.air;
    let range = asked.temperature.value;
    let temperate = range.from <= temperature && temperature <= range.to;
    if temperate && asked.humidity.value.is_kept_by(humidity) {
        return None;
    }
    let text = format!(
        "specimen {}: the air was at {temperature} and {:.0} % relative humidity; {} {} asks for \
         {} and {}",
        observed.specimen,
        humidity.percent(),
        asked.temperature.source,
        asked.temperature.clause,
        asked.temperature.text,
        asked.humidity.text
    );
    Some(finding(FindingKind::Atmosphere, text, "Bring the room into range; replace the specimen."))
}

fn pauses_off(observed: &Observed, tolerance: Tolerance, pause: Duration) -> Vec<Finding> {
    let Band { low, high, .. } = tolerance.about(pause);
    let mut findings = Vec::new();
    for (index, pair) in observed.applications.windows(2).enumerate() {
        let found = pair[1].on.since(pair[0].removed);
        if found < low || found > high {
            let text = format!(
                "specimen {}: the pause after application {} was {found}; asked for is {low} to {high}",
                observed.specimen,
                index + 1
            );
            findings.push(finding(FindingKind::Pause, text, "Replace the specimen."));
        }
    }
    findings
}
