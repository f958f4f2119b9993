//! What a reviewer should look at: the specimens of a plan in rows, odd things first.

use std::collections::BTreeMap;
use std::sync::LazyLock;

use metrology::{Duration, Ratio};
use serde::Serialize;
use trial::bench::stand;
use trial::history::{History, RecordedRun};
use trial::moment::Moment;
use trial::number::{EntryNumber, PlanNumber, SpecimenNumber};
use trial::plan::Plan;
use trial::rules::own::number;
use trial::run::TimedEnd;
use trial::signature::{Meaning, Signed};
use trial::verdict::{SpecimenStanding, Verdict};
use utoipa::ToSchema;

use super::sign::{self, SignatureShown};
use crate::book::OpenBook;
use crate::problem::{Exit, Found, Problem};
use crate::words::when;

/// What makes a specimen odd: `standards/readings/review.toml`, built in and read once.
static ODD: LazyLock<Odd> = LazyLock::new(|| {
    #[expect(clippy::expect_used, reason = "the file is part of the program, and a test reads it")]
    Odd::read(FILE).expect("the rules of the review are sound")
});

const FILE: &str = include_str!("../../../../standards/readings/review.toml");

/// The bounds beyond which something is odd.
#[derive(Debug, PartialEq)]
struct Odd {
    /// A description that is written longer after the flame counts as written later.
    written_later: Duration,
    /// A rise time that keeps its band with a lower probability lies on the narrow side.
    narrow: Ratio,
}

impl Odd {
    fn read(text: &str) -> Option<Self> {
        let file: toml::Table = text.parse().ok()?;
        Some(Self {
            written_later: Duration::from_seconds(3600.0 * number(&file, "written-later", "h")?),
            narrow: Ratio::from_percent(number(&file, "narrow-side", "%")?),
        })
    }
}

/// A plan for review.
#[derive(Serialize, ToSchema)]
pub(crate) struct Review {
    /// The plan.
    pub(crate) plan: u32,
    /// The laboratory's job.
    pub(crate) job: String,
    /// The specimens, those with odd things first.
    pub(crate) specimens: Vec<Reviewed>,
    /// The signatures on the plan, and on its specimens.
    pub(crate) signatures: Vec<SignatureShown>,
    /// What a report still wants, in words.
    pub(crate) wanted: Vec<String>,
    /// The note with which it was sent back, as long as it waits.
    pub(crate) sent_back: Option<String>,
}

/// One specimen.
#[derive(Serialize, ToSchema)]
pub(crate) struct Reviewed {
    /// Its number.
    pub(crate) specimen: u32,
    /// What a reviewer should open.
    pub(crate) odd: Vec<String>,
    /// Whether the one who asks opened it as it stands.
    pub(crate) opened: bool,
    /// Its duration of burning.
    pub(crate) burning: String,
    /// How it stands by the rules now: `meets`, `does-not-meet`, `undecided`, `not-judged`.
    pub(crate) verdict: Option<String>,
    /// Who signed it as tested, as long as that stands.
    pub(crate) tested_by: Option<String>,
}

/// A plan's specimens for review, odd things first; `opened` says what was seen of which.
pub(crate) fn look(
    book: &OpenBook,
    number: PlanNumber,
    opened: &BTreeMap<SpecimenNumber, EntryNumber>,
) -> Result<Review, Problem> {
    let (history, plan) = (book.history(), book.plan(number)?);
    let verdict = history.judge(number);
    let row = |recorded: &RecordedRun| {
        let specimen = recorded.run.specimen();
        let burning = recorded.run.duration_of_burning();
        let shown = format!("{:.1}", burning.time.value);
        let what = Signed::Specimen { plan: number, specimen };
        let tested = history.signed(what, Meaning::Tested);
        Reviewed {
            specimen: specimen.0,
            odd: odd(history, plan, recorded, verdict.as_ref()),
            opened: opened.get(&specimen).copied() == upto(history, number, specimen),
            burning: match burning.end {
                TimedEnd::ByItself => shown,
                TimedEnd::ByHand => format!("over {shown}, put out by hand"),
            },
            verdict: standing(verdict.as_ref(), specimen).map(|it| it.word().to_owned()),
            tested_by: tested.map(|it| format!("{}, {}", it.who, when(it.at))),
        }
    };
    let mut specimens: Vec<Reviewed> = history.runs(number).iter().map(row).collect();
    specimens.sort_by_key(|row| (std::cmp::Reverse(row.odd.len()), row.specimen));
    let signatures = history.signatures_of(number).into_iter();
    let wanted = history.signatures_wanted(number).into_iter();
    let sent_back = history.sent_back(number);
    Ok(Review {
        plan: number.0,
        job: plan.draft().job.clone(),
        specimens,
        signatures: signatures.map(|it| sign::shown(history, it)).collect(),
        wanted: wanted.map(|it| format!("{} as {}", it.what, it.meaning)).collect(),
        sent_back: sent_back.map(|it| format!("{}, {}: {}", it.who, when(it.at), it.back.note)),
    })
}

/// The entry that a specimen has come to: who opened it then saw all that there is.
pub(crate) fn upto(
    history: &History,
    plan: PlanNumber,
    specimen: SpecimenNumber,
) -> Option<EntryNumber> {
    history.content(Signed::Specimen { plan, specimen })?.last().copied()
}

/// Whether each specimen with something odd was looked at.
///
/// # Errors
///
/// Each one that was not, with what is odd.
pub(crate) fn all_opened(
    book: &OpenBook,
    plan: PlanNumber,
    opened: &BTreeMap<SpecimenNumber, EntryNumber>,
) -> Result<(), Problem> {
    let review = look(book, plan, opened)?;
    let closed = review.specimens.iter().filter(|row| !row.odd.is_empty() && !row.opened);
    let found: Vec<Found> = closed
        .map(|row| Found {
            kind: "odd".to_owned(),
            text: format!("specimen {}: {}", row.specimen, row.odd.join("; ")),
            hint: format!("Open /specimens/{}-{} from the review.", plan.0, row.specimen),
        })
        .collect();
    if found.is_empty() {
        return Ok(());
    }
    let text = format!("odd things of plan {plan} were not opened: {} specimens", found.len());
    let problem = Problem { findings: found, exit: Exit::Finding, ..Problem::used_wrongly(text) };
    Err(problem.hint(format!(
        "Open each from /plans/{}/review, or look at `cinderbook review {}` and name the specimens \
         with `--seen`.",
        plan.0, plan.0
    )))
}

fn standing(verdict: Option<&Verdict>, specimen: SpecimenNumber) -> Option<SpecimenStanding> {
    let judged = verdict?.judged.iter().find(|judged| judged.specimen == specimen)?;
    Some(judged.standing)
}

/// What is odd about a specimen.
fn odd(
    history: &History,
    plan: &Plan,
    recorded: &RecordedRun,
    verdict: Option<&Verdict>,
) -> Vec<String> {
    let (number, specimen) = (plan.number(), recorded.run.specimen());
    let run = &recorded.run;
    let mut odd: Vec<String> = run.departures().iter().map(|it| it.text.clone()).collect();
    let planned = plan.requirement().duration_of_application.value;
    for applied in run.durations_of_application() {
        let late = format!("{:.1}", *applied - planned);
        if *applied > planned && late != "0.0 s" {
            odd.push(format!("the flame was removed {late} late"));
        }
    }
    if standing(verdict, specimen) == Some(SpecimenStanding::Undecided) {
        odd.push("a value lies too near to its limit to say".to_owned());
    }
    odd.extend(of_times(history, number, recorded));
    odd.extend(of_flame(history, plan, recorded));
    let observed = run.observed();
    let films = history.films(number, specimen);
    match (observed.evidence.is_empty(), films.is_empty()) {
        (true, true) => odd.push("there is no photograph and no film".to_owned()),
        (false, true) => odd.push("there is no film".to_owned()),
        (_, false) => {}
    }
    if !observed.note.is_empty() {
        odd.push(format!("noted: {}", observed.note));
    }
    odd.extend(history.corrections(recorded.entry).iter().map(|correction| {
        format!("corrected by {} in entry {}: {}", correction.who, correction.by, correction.reason)
    }));
    odd
}

/// What is odd about its times: a stated ±, doubts, presses that do not reach the end, times that
/// were typed, a description that was written later.
fn of_times(history: &History, plan: PlanNumber, recorded: &RecordedRun) -> Vec<String> {
    let (observed, specimen) = (recorded.run.observed(), recorded.run.specimen());
    let mut odd = Vec::new();
    if observed.clock_offset > Duration::ZERO {
        odd.push(format!("the device's clock may be off by ± {:.3}", observed.clock_offset));
    }
    let doubts = history.doubts(plan, specimen);
    if !doubts.is_empty() {
        let accepted = match history.times_accepted(plan, specimen) {
            Some(by) => format!("accepted by {}", by.who),
            None => "not accepted".to_owned(),
        };
        odd.push(format!("its times are doubtful and {accepted}: {}", doubts.join("; ")));
    }
    if history.presses(plan, specimen).is_empty() {
        odd.push("its times were typed, not pressed".to_owned());
    } else {
        let standing = history.standing(plan, specimen).unwrap_or_else(|| stand(1, &[]));
        if standing.timing().is_none() {
            odd.push("its presses do not reach the end: some may not have been sent".to_owned());
        }
    }
    if let Some(hours) = hours_later(observed.began, recorded.at) {
        odd.push(format!("written later: {hours:.0} h after the flame, by {}", recorded.who));
    }
    odd
}

/// How many hours after the flame something is written, where that counts as later.
pub(crate) fn hours_later(began: Moment, written: Moment) -> Option<f64> {
    let later = written.since(began);
    (later > ODD.written_later).then(|| later.seconds() / 3600.0)
}

/// Whether the flame was confirmed on the narrow side: a rise time near the edge of its band.
fn of_flame(history: &History, plan: &Plan, recorded: &RecordedRun) -> Option<String> {
    let confirmed = history.confirmed(plan.number(), recorded.confirmation)?;
    let worst = confirmed
        .held()
        .iter()
        .map(|held| held.decision.probability_of_conformity.fraction())
        .min_by(f64::total_cmp)?;
    (worst < ODD.narrow.fraction()).then(|| {
        format!(
            "the flame was confirmed on the narrow side ({}): the band is kept with a probability \
             of {}",
            recorded.confirmation,
            crate::words::percent(Ratio::from_fraction(worst))
        )
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_rules_of_the_review_have_their_units() {
        assert_eq!(Odd::read(FILE).as_ref(), Some(&*ODD));
        assert_eq!(Odd::read(&FILE.replace("\"h\"", "\"min\"")), None);
    }
}
