//! Times of a specimen that are doubtful, and who accepted them.

use super::History;
use super::error::Followed;
use super::replay::of_plan;
use crate::bench::Doubt;
use crate::fact::Recorded;
use crate::moment::Moment;
use crate::number::{EntryNumber, PersonName, PlanNumber, SpecimenNumber};
use metrology::Duration;
use std::sync::LazyLock;

/// That someone accepted the doubtful times of a specimen.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct TimesAccepted {
    /// Which entry.
    pub entry: EntryNumber,
    /// When.
    pub at: Moment,
    /// Who.
    pub who: PersonName,
    /// Why.
    pub reason: String,
    /// What made them doubtful then.
    pub doubts: Vec<String>,
}

impl History {
    /// What makes the times of a specimen doubtful, as the device told it; nothing if nothing does.
    #[must_use]
    pub fn doubts(&self, plan: PlanNumber, specimen: SpecimenNumber) -> Vec<String> {
        let standing = self.standing(plan, specimen);
        let told = standing.iter().flat_map(|standing| &standing.doubts);
        let mut doubts: Vec<String> = told.filter_map(Doubt::of_durations).collect();
        let run = self.runs(plan).iter().find(|recorded| recorded.run.specimen() == specimen);
        let apart = run.map_or(Duration::ZERO, |recorded| recorded.run.observed().clock_offset);
        if apart > clocks_apart() {
            doubts.push(format!("its times are of two clocks: ± {apart:.2}"));
        }
        doubts
    }

    /// Who accepted the doubtful times of a specimen, all of them; none if nobody did.
    #[must_use]
    pub fn times_accepted(
        &self,
        plan: PlanNumber,
        specimen: SpecimenNumber,
    ) -> Option<&TimesAccepted> {
        let last = self.plans.get(&plan)?.accepted.get(&specimen)?;
        (last.doubts == self.doubts(plan, specimen)).then_some(last)
    }

    /// The specimens of a plan whose times are doubtful and accepted by nobody, with what makes
    /// them so. Those that were spoilt are not judged, and wait for nobody.
    #[must_use]
    pub fn times_to_accept(&self, plan: PlanNumber) -> Vec<(SpecimenNumber, Vec<String>)> {
        let runs = self.runs(plan).iter().map(|recorded| recorded.run.observed());
        let judged = runs.filter(|observed| observed.spoilt.is_none());
        let open = judged.map(|observed| observed.specimen).filter_map(|specimen| {
            let doubts = self.doubts(plan, specimen);
            let waits = !doubts.is_empty() && self.times_accepted(plan, specimen).is_none();
            waits.then_some((specimen, doubts))
        });
        open.collect()
    }
}

/// Clocks of one duration that differ by more make it doubtful:
/// `standards/readings/doubtful-times.toml`, built in and read once.
#[expect(clippy::expect_used, reason = "the file is part of the program, and a test reads it")]
fn clocks_apart() -> Duration {
    static APART: LazyLock<Duration> = LazyLock::new(|| {
        let text = include_str!("../../../../standards/readings/doubtful-times.toml");
        apart_of(text).expect("the rule of the clocks is sound")
    });
    *APART
}

fn apart_of(text: &str) -> Option<Duration> {
    let file: toml::Table = text.parse().ok()?;
    let rule = file.get("clocks-apart")?;
    let unit = rule.get("unit")?.as_str()?;
    let value = rule.get("value")?.as_float().filter(|value| *value > 0.0)?;
    (unit == "s").then_some(Duration::from_seconds(value))
}

/// The times of a specimen were accepted as they were doubted at that moment.
pub(super) fn accepted(
    history: &mut History,
    (plan, specimen): (PlanNumber, SpecimenNumber),
    reason: &str,
    next: &Recorded,
) -> Followed {
    let (entry, at, who, reason) = (next.entry, next.at, next.who.clone(), reason.to_owned());
    let doubts = history.doubts(plan, specimen);
    let accepted = TimesAccepted { entry, at, who, reason, doubts };
    of_plan(history, plan, specimen)?.accepted.insert(specimen, accepted);
    Ok(())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_rule_of_the_clocks_has_its_unit() {
        assert!(clocks_apart() > Duration::ZERO);
        let text = include_str!("../../../../standards/readings/doubtful-times.toml");
        assert_eq!(apart_of(text), Some(clocks_apart()));
        assert_eq!(apart_of(&text.replace("\"s\"", "\"ms\"")), None);
    }
}
