//! Makes the demo's book long: `long_book BOOK SPECIMENS` appends what its first plan went through,
//! again and again under new numbers, until so many more specimens were tested. All made up.

#![expect(clippy::print_stdout, reason = "an example says what it did")]
#![expect(clippy::wildcard_enum_match_arm, reason = "what is not repeated is left out")]

use std::error::Error;
use std::path::Path;

use ledger::Book;
use trial::fact::{Fact, Recorded};
use trial::history::History;
use trial::number::{ConfirmationNumber, DeterminationNumber, PlanNumber, ReportNumber};

/// So many plans are tested under one confirmation of the flame.
const PLANS: u32 = 10;

fn main() -> Result<(), Box<dyn Error>> {
    let mut arguments = std::env::args().skip(1);
    let (Some(folder), Some(specimens)) = (arguments.next(), arguments.next()) else {
        return Err("usage: long_book BOOK SPECIMENS".into());
    };
    let wanted: usize = specimens.parse()?;
    let mut book = Book::open(Path::new(&folder))?;
    let history = book.history()?;
    let (Some(first), Some(last)) = (history.plans().next(), history.entries().last()) else {
        return Err("this book has no plan".into());
    };
    let course: Vec<&Recorded> = history
        .entries()
        .iter()
        .filter(|entry| plan_of(&entry.fact).is_none_or(|plan| plan == first))
        .filter(|entry| is_repeated(&entry.fact))
        .collect();
    let mut numbers = Numbers::of(&history);
    let mut tested = 0;
    for nth in 0.. {
        if tested >= wanted {
            break;
        }
        numbers.plan.0 += 1;
        for entry in &course {
            let Some(fact) = numbers.anew(&entry.fact, nth % PLANS == 0) else { continue };
            tested += usize::from(matches!(fact, Fact::RunRecorded { .. }));
            book.append(last.at, &entry.who, &fact)?;
        }
    }
    let entries = book.head().map_or(0, |head| head.number);
    println!("{tested} specimens more; {entries} entries");
    Ok(())
}

/// What was given out last.
struct Numbers {
    plan: PlanNumber,
    report: ReportNumber,
    determination: DeterminationNumber,
    confirmation: ConfirmationNumber,
    /// Determinations since the last confirmation.
    made: Vec<DeterminationNumber>,
}

impl Numbers {
    fn of(history: &History) -> Self {
        let determinations = history.determinations().iter().map(|made| made.number);
        let reports = history.reports().iter().map(|(.., report)| report.number);
        let confirmed = history.last_confirmation().map(|last| last.number);
        Self {
            plan: history.last_plan().unwrap_or(PlanNumber(0)),
            report: reports.max().unwrap_or(ReportNumber(0)),
            determination: determinations.max().unwrap_or(DeterminationNumber(0)),
            confirmation: confirmed.unwrap_or(ConfirmationNumber(0)),
            made: Vec::new(),
        }
    }

    /// The fact under new numbers; `None` for those of the flame unless it is confirmed anew.
    fn anew(&mut self, fact: &Fact, with_flame: bool) -> Option<Fact> {
        let mut fact = fact.clone();
        match &mut fact {
            Fact::PlanDrawnUp { draft, .. } => draft.number = self.plan,
            Fact::ConditioningRecorded(done) => done.plan = self.plan,
            Fact::CautionsAcknowledged { plan }
            | Fact::ReadinessFound { plan }
            | Fact::SpecimensAdded { plan, .. }
            | Fact::VerdictReached { plan, .. } => *plan = self.plan,
            Fact::RunRecorded { plan, confirmation, .. } => {
                *plan = self.plan;
                *confirmation = self.confirmation;
            }
            Fact::DeterminationRecorded(made) if with_flame => {
                self.determination.0 += 1;
                made.number = self.determination;
                if made.void.is_none() {
                    self.made.push(made.number);
                }
            }
            Fact::FlameConfirmed { number, plan, determinations } if with_flame => {
                self.confirmation.0 += 1;
                (*number, *plan) = (self.confirmation, self.plan);
                *determinations = std::mem::take(&mut self.made);
            }
            // One plan in ten waits for its report.
            Fact::ReportIssued(report) if !self.plan.0.is_multiple_of(10) => {
                self.report.0 += 1;
                (report.number, report.plan, report.supersedes) = (self.report, self.plan, None);
            }
            _ => return None,
        }
        Some(fact)
    }
}

/// Whether every plan goes through this.
fn is_repeated(fact: &Fact) -> bool {
    let kinds = [
        "plan-drawn-up",
        "conditioning-recorded",
        "cautions-acknowledged",
        "readiness-found",
        "specimens-added",
        "determination-recorded",
        "flame-confirmed",
        "run-recorded",
        "verdict-reached",
        "report-issued",
    ];
    kinds.contains(&fact.kind())
}

/// The plan that a fact is about.
fn plan_of(fact: &Fact) -> Option<PlanNumber> {
    match fact {
        Fact::PlanDrawnUp { draft, .. } => Some(draft.number),
        Fact::ConditioningRecorded(done) => Some(done.plan),
        Fact::CautionsAcknowledged { plan }
        | Fact::ReadinessFound { plan }
        | Fact::SpecimensAdded { plan, .. }
        | Fact::FlameConfirmed { plan, .. }
        | Fact::RunRecorded { plan, .. }
        | Fact::VerdictReached { plan, .. } => Some(*plan),
        Fact::ReportIssued(report) => Some(report.plan),
        _ => None,
    }
}
