//! A plan as it stands: what its page and its JSON twin show.

use serde::Serialize;
use trial::bench::State;
use trial::fact::Conditioned;
use trial::history::{History, RecordedRun};
use trial::number::{PersonName, PlanNumber, SpecimenNumber};
use trial::plan::{Draft, LayerChosen, Plan};
use trial::readiness;
use trial::rules::{Entry, Standing};
use trial::verdict::{Judged, SpecimenStanding, Verdict};
use utoipa::ToSchema;

use super::super::shown;
use super::next::{Next, next};
use crate::book::OpenBook;
use crate::form::pressed::in_words;
use crate::problem::{Found, Problem};
use crate::web::answer::FindingDocument;

/// A plan as it stands.
#[derive(Serialize, ToSchema)]
pub(super) struct PlanSheet {
    /// Its number.
    pub(super) plan: u32,
    /// The laboratory's job.
    pub(super) job: String,
    /// What was planned, besides the numbers of the rules.
    pub(super) planned: Vec<Said>,
    /// Each number that the plan must keep.
    pub(super) asked: Vec<Asked>,
    /// Whether it was found ready.
    pub(super) ready: bool,
    /// What stands in the way of the next flame; none once all specimens are tested.
    pub(super) missing: Vec<FindingDocument>,
    /// Whether someone acknowledged the cautions.
    pub(super) cautions_acknowledged: bool,
    /// The storages before the test.
    pub(super) conditioned: Vec<StoredRow>,
    /// One row a specimen.
    pub(super) specimens: Vec<SpecimenRow>,
    /// The last verdict that was recorded, in words.
    pub(super) verdict: Option<String>,
    /// How it stands, as one sentence.
    pub(super) sentence: String,
    /// What is to be done next.
    pub(super) next: Next,
    /// The reports on it, in the order of issue.
    pub(super) reports: Vec<ReportRow>,
}

/// Something that was planned, in words.
#[derive(Serialize, ToSchema)]
pub(super) struct Said {
    /// What.
    pub(super) what: String,
    /// As it was said.
    pub(super) said: String,
}

/// A number that the plan must keep.
#[derive(Serialize, ToSchema)]
#[schema(as = PlanAsked)]
pub(super) struct Asked {
    /// Its place in the rules, such as `confirmation.rise-time`.
    pub(super) key: String,
    /// The number as the rules write it.
    pub(super) value: String,
    /// The rules that say it.
    pub(super) source: String,
    /// Where they say it.
    pub(super) clause: String,
    /// How the number stands, in words.
    pub(super) standing: String,
}

/// A storage before the test.
#[derive(Serialize, ToSchema)]
pub(super) struct StoredRow {
    /// What was stored.
    pub(super) what: String,
    /// When it began.
    pub(super) from: String,
    /// When it ended.
    pub(super) until: String,
    /// Temperature and humidity meanwhile.
    pub(super) climate: String,
}

/// A specimen in one row.
#[derive(Serialize, ToSchema)]
pub(super) struct SpecimenRow {
    /// Its number.
    pub(super) specimen: u32,
    /// `not-tested`, `tested` or `spoilt`.
    pub(super) state: &'static str,
    /// Where it stands at the bench, in words, if it was timed and nobody described it yet.
    pub(super) at_the_bench: Option<&'static str>,
    /// Each duration of application.
    pub(super) applications: Vec<String>,
    /// How long it flamed after removal.
    pub(super) afterflame: Option<String>,
    /// How long it glowed after its flames were out.
    pub(super) afterglow: Option<String>,
    /// The duration of burning.
    pub(super) burning: Option<String>,
    /// What became of the layer below.
    pub(super) layer: Option<String>,
    /// What fell or caught, and when.
    pub(super) marks: Vec<String>,
    /// How it stands by the rules now: `meets`, `does-not-meet`, `undecided`, `not-judged`.
    pub(super) verdict: Option<String>,
    /// Why it is not judged.
    pub(super) because: Vec<String>,
    /// How many photographs and films there are.
    pub(super) evidence: usize,
}

/// A report in one row.
#[derive(Serialize, ToSchema)]
pub(super) struct ReportRow {
    /// Its number.
    pub(super) report: u32,
    /// When it was issued.
    pub(super) at: String,
    /// By whom.
    pub(super) by: String,
}

/// A plan as it stands for `who`.
///
/// # Errors
///
/// [`Problem`] if it is not in the book.
pub(super) fn look(
    book: &OpenBook,
    number: PlanNumber,
    who: &PersonName,
) -> Result<PlanSheet, Problem> {
    let (history, plan, now) = (book.history(), book.plan(number)?, book.now()?);
    let untested = history.specimens(number).len() > history.used_specimens(number).len();
    let missing = match readiness::check(plan, history, who, now) {
        Err(findings) if untested => findings,
        Err(_) | Ok(_) => Vec::new(),
    };
    let verdict = history.judge(number);
    let (sentence, next) = next(history, plan, (verdict.as_ref(), &missing), now);
    let missing = missing
        .into_iter()
        .map(|finding| Found {
            kind: finding.kind.to_string(),
            text: finding.text,
            hint: finding.hint,
        })
        .map(FindingDocument::from)
        .collect();
    Ok(PlanSheet {
        plan: number.0,
        job: plan.draft().job.clone(),
        planned: planned(plan),
        asked: plan.requirement().entries.values().map(|entry| asked(history, entry)).collect(),
        ready: history.is_ready(number),
        missing,
        cautions_acknowledged: history.cautions_acknowledged(number),
        conditioned: conditioned(history, number),
        specimens: specimens(history, number, verdict.as_ref()),
        verdict: history.verdict(number).map(|it| shown::standing(it.standing).to_owned()),
        sentence,
        next,
        reports: reports(history, number),
    })
}

fn planned(plan: &Plan) -> Vec<Said> {
    let (draft, requirement) = (plan.draft(), plan.requirement());
    let mut planned = Vec::new();
    let mut say = |what: &str, said: String| {
        if !said.trim().is_empty() {
            planned.push(Said { what: what.to_owned(), said });
        }
    };
    let Draft { part, customer, .. } = draft;
    say("Part", part.description.clone());
    say("Its mark", part.identification.clone());
    say("Received", part.received.map(|day| day.to_string()).unwrap_or_default());
    say("Condition", part.condition.clone());
    say("Customer", format!("{}, {}", customer.name, customer.address));
    let method = &requirement.method;
    say("Method", format!("{} edition {}", method.standard, method.edition));
    let profile = requirement.profile.as_ref();
    let profile = profile.map(|it| format!("{} edition {}", it.standard, it.edition));
    say("Product standard", profile.unwrap_or_default());
    let variant = requirement.variant.as_ref().map(|(_, title)| title.clone());
    say("Variant", variant.unwrap_or_default());
    say("Flame applied for", requirement.duration_of_application.text.clone());
    say("Where it touches", draft.points.join("; "));
    say("Position", draft.position.clone());
    say(
        "Layer below",
        match &draft.layer {
            LayerChosen::Specified => {
                let layer = &requirement.asked.layer;
                format!("{}, {} below", layer.kind.text, layer.distance.text)
            }
            LayerChosen::Other(other) => other.clone(),
            LayerChosen::NotUsed(why) => format!("none: {why}"),
        },
    );
    let equipment: Vec<String> = draft.equipment.iter().map(ToString::to_string).collect();
    say("Equipment", equipment.join(", "));
    say("Decision rule", shown::decision_rule(draft.decision_rule));
    let holds = draft.confirmation_age_max.map(|age| format!("{:.1} h", age.seconds() / 3600.0));
    say("A confirmation holds", holds.unwrap_or_default());
    say("Sampling", draft.sampling.clone());
    say("Deviations", draft.deviations.join("; "));
    say("Takes the place of", draft.parent.map(|it| format!("plan {it}")).unwrap_or_default());
    planned
}

fn asked(history: &History, entry: &Entry) -> Asked {
    let (key, value) = (entry.key.to_string(), entry.text());
    let standing = match history.verified(&entry.source, &entry.key, &value) {
        Some(verified) => format!("verified by {} against {}", verified.who, verified.copy),
        None => shown::number_standing(entry.standing).to_owned(),
    };
    let (source, clause) = match entry.standing {
        Standing::Ours => (entry.source.to_string(), String::new()),
        Standing::Seen | Standing::Memory => (entry.source.to_string(), entry.clause.to_string()),
    };
    Asked { key, value, source, clause, standing }
}

fn conditioned(history: &History, number: PlanNumber) -> Vec<StoredRow> {
    let row = |stored: &&trial::fact::Conditioning| StoredRow {
        what: match &stored.what {
            Conditioned::Layer => "layer below".to_owned(),
            Conditioned::Specimens(specimens) => {
                let numbers: Vec<String> = specimens.iter().map(ToString::to_string).collect();
                let word = if numbers.len() == 1 { "specimen" } else { "specimens" };
                format!("{word} {}", numbers.join(", "))
            }
        },
        from: stored.from.to_string(),
        until: stored.until.to_string(),
        climate: format!(
            "{:.1} to {:.1}, {:.0} % to {:.0} % relative humidity",
            stored.temperature.from,
            stored.temperature.to,
            stored.humidity.from.percent(),
            stored.humidity.to.percent()
        ),
    };
    history.conditionings(number).iter().map(row).collect()
}

fn specimens(history: &History, number: PlanNumber, verdict: Option<&Verdict>) -> Vec<SpecimenRow> {
    let spoilt = history.spoilt(number);
    let row = |specimen: SpecimenNumber| {
        let run = history.runs(number).iter().find(|it| it.run.specimen() == specimen);
        let judged = verdict.and_then(|it| it.judged.iter().find(|it| it.specimen == specimen));
        let spoilt = spoilt.iter().find(|(which, _)| *which == specimen).map(|(_, why)| *why);
        let mut row = row(specimen, run, judged, spoilt);
        if row.state == "not-tested" {
            let standing = history.standing(number, specimen).map(|standing| standing.state);
            row.at_the_bench = standing.filter(|it| *it != State::Ready).map(in_words);
        }
        row
    };
    history.specimens(number).into_iter().map(row).collect()
}

fn row(
    specimen: SpecimenNumber,
    run: Option<&RecordedRun>,
    judged: Option<&Judged>,
    spoilt: Option<&str>,
) -> SpecimenRow {
    let spoilt = spoilt.or(run.and_then(|it| it.run.observed().spoilt.as_deref()));
    let state = match (spoilt, run) {
        (Some(_), _) => "spoilt",
        (None, Some(_)) => "tested",
        (None, None) => "not-tested",
    };
    let timed = |which: fn(&trial::run::Run) -> trial::run::Timed| {
        run.map(|recorded| shown::timed(which(&recorded.run)))
    };
    let observed = run.map(|recorded| recorded.run.observed());
    let because = match judged {
        Some(judged) => judged.not_judged_because.iter().map(|it| it.text.clone()).collect(),
        None => spoilt.map(|why| format!("spoilt: {why}")).into_iter().collect(),
    };
    let standing = judged.map(|judged| judged.standing);
    SpecimenRow {
        specimen: specimen.0,
        state,
        at_the_bench: None,
        applications: run.map(applications).unwrap_or_default(),
        afterflame: timed(trial::run::Run::afterflame),
        afterglow: timed(trial::run::Run::afterglow),
        burning: timed(trial::run::Run::duration_of_burning),
        layer: observed.map(|observed| shown::layer(observed.layer).to_owned()),
        marks: observed.map(shown::marks).unwrap_or_default(),
        verdict: standing.map(|standing: SpecimenStanding| standing.word().to_owned()),
        because,
        evidence: observed.map_or(0, |observed| observed.evidence.len()),
    }
}

fn applications(recorded: &RecordedRun) -> Vec<String> {
    recorded.run.durations_of_application().iter().map(|it| format!("{it:.1}")).collect()
}

fn reports(history: &History, number: PlanNumber) -> Vec<ReportRow> {
    let row = |(at, who, report): &(_, PersonName, trial::fact::IssuedReport)| ReportRow {
        report: report.number.0,
        at: trial::moment::Moment::to_string(at),
        by: who.to_string(),
    };
    history.reports_on(number).map(row).collect()
}
