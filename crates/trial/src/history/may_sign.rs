//! Who may sign what, and which signatures a plan still wants.

use super::History;
use crate::fact::Authorisation;
use crate::number::{PersonName, PlanNumber, SpecimenNumber};
use crate::person::{Act, Admitted};
use crate::signature::{Meaning, Signed, SigningError};
use std::collections::BTreeSet;

/// A signature that is asked for and does not stand.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Wanted {
    /// On what.
    pub what: Signed,
    /// In which meaning.
    pub meaning: Meaning,
}

impl History {
    /// In which meanings a plan and its specimens must be signed before a report: as the laboratory
    /// set it; else tested and approved, as soon as it states that one person tests and another one
    /// reviews or issues.
    #[must_use]
    pub fn signatures_asked(&self) -> Vec<Meaning> {
        if let Some(set) = self.signing_rule() {
            return set.rule.asked.clone();
        }
        let may = |asked: &[Authorisation]| {
            let stated = |it: &Admitted| {
                let grants = it.grants.iter().flatten();
                it.disabled.is_none() && grants.into_iter().any(|it| asked.contains(&it.act))
            };
            let people = self.people().iter().filter(|(_, it)| stated(it));
            people.map(|(person, _)| person).collect::<BTreeSet<_>>()
        };
        let (test, look) =
            (may(&[Authorisation::Test]), may(&[Authorisation::Review, Authorisation::Issue]));
        let differ = !test.is_empty() && !look.is_empty() && test.union(&look).count() > 1;
        if differ { vec![Meaning::Tested, Meaning::Approved] } else { Vec::new() }
    }

    /// Who tested a specimen: who timed it, watched it, or recorded what was seen.
    #[must_use]
    pub fn testers_of(&self, plan: PlanNumber, specimen: SpecimenNumber) -> BTreeSet<PersonName> {
        let mut testers = BTreeSet::new();
        for recorded in self.runs(plan).iter().filter(|it| it.run.specimen() == specimen) {
            testers.insert(recorded.run.observed().observer.clone());
            testers.insert(recorded.who.clone());
        }
        testers.extend(self.sitting(plan, specimen).map(|sitting| sitting.who.clone()));
        testers
    }

    /// Who tested specimens of a plan, or signed them as tested.
    #[must_use]
    pub fn testers(&self, plan: PlanNumber) -> BTreeSet<PersonName> {
        let specimens = self.specimens(plan).into_iter();
        let mut testers: BTreeSet<PersonName> =
            specimens.flat_map(|specimen| self.testers_of(plan, specimen)).collect();
        let signed = self.signatures_of(plan).into_iter();
        let tested = signed.filter(|it| it.signature.meaning == Meaning::Tested);
        testers.extend(tested.map(|it| it.who.clone()));
        testers
    }

    /// Whether a person may sign a thing now in this meaning.
    ///
    /// # Errors
    ///
    /// [`SigningError`] for the first thing that stands against it.
    pub fn may_sign(
        &self,
        who: &PersonName,
        what: Signed,
        meaning: Meaning,
    ) -> Result<(), SigningError> {
        if !what.meanings().contains(&meaning) {
            return Err(SigningError::Meaning { what, meaning });
        }
        if self.content(what).is_none() {
            return Err(SigningError::Nothing { what, missing: wanting(what) });
        }
        if self.may_do(who, Act::signing(what, meaning)).is_err() {
            return Err(SigningError::NotAuthorised { who: who.clone(), what, meaning });
        }
        match what {
            Signed::Specimen { plan, specimen } => {
                let testers = self.testers_of(plan, specimen);
                if !testers.contains(who) {
                    let testers = testers.into_iter().collect();
                    return Err(SigningError::NotTheTester { who: who.clone(), what, testers });
                }
                Ok(())
            }
            Signed::Plan(plan) => {
                self.other_person(who, plan, meaning)?;
                self.in_order(plan, meaning)
            }
            Signed::Report(report) => {
                let plan = self.report(report).map(|(.., issued)| issued.plan);
                plan.map_or(Ok(()), |plan| self.other_person(who, plan, meaning))
            }
            Signed::Trail { from, .. } => {
                let next = self.trail_to_review();
                if from == next {
                    return Ok(());
                }
                Err(SigningError::Order { first: format!("the trail from entry {next} on") })
            }
            Signed::BaseLine(_) | Signed::FlameCall(_) | Signed::Commissioning(_) => Ok(()),
        }
    }

    /// Who tested does not review or approve, unless the laboratory allows it in writing.
    fn other_person(
        &self,
        who: &PersonName,
        plan: PlanNumber,
        meaning: Meaning,
    ) -> Result<(), SigningError> {
        if self.same_person_allowed().is_none() && self.testers(plan).contains(who) {
            return Err(SigningError::SamePerson { who: who.clone(), plan, meaning });
        }
        Ok(())
    }

    /// What comes before a plan is reviewed or approved.
    fn in_order(&self, plan: PlanNumber, meaning: Meaning) -> Result<(), SigningError> {
        let first = |first: String| Err(SigningError::Order { first });
        let now = self.judge(plan).map(|verdict| verdict.account());
        if self.verdict(plan).map(|it| &it.account) != now.as_ref() {
            return first(format!("judging plan {plan} as it stands now"));
        }
        if let Some((specimen, _)) = self.times_to_accept(plan).first() {
            return first(format!("accepting the doubtful times of specimen {specimen}"));
        }
        let before = self.signatures_wanted(plan).into_iter().find(|it| it.meaning < meaning);
        match before {
            Some(Wanted { what, meaning }) => {
                first(format!("the signature of {what} as {meaning}"))
            }
            None => Ok(()),
        }
    }

    /// The signatures that a report on a plan still wants, in their order.
    #[must_use]
    pub fn signatures_wanted(&self, plan: PlanNumber) -> Vec<Wanted> {
        let mut wanted = Vec::new();
        for meaning in self.signatures_asked() {
            let things = if meaning == Meaning::Tested {
                let judged = self.runs(plan).iter().map(|it| it.run.observed());
                let judged = judged.filter(|it| it.spoilt.is_none()).map(|it| it.specimen);
                judged.map(|specimen| Signed::Specimen { plan, specimen }).collect()
            } else {
                vec![Signed::Plan(plan)]
            };
            let stands = |what: &Signed| self.signed(*what, meaning).is_some();
            let open = things.into_iter().filter(|what| !stands(what));
            wanted.extend(open.map(|what| Wanted { what, meaning }));
        }
        wanted
    }
}

/// What is missing where there is nothing to sign.
const fn wanting(what: Signed) -> &'static str {
    match what {
        Signed::Specimen { .. } => "nobody has said what was seen",
        Signed::Plan(_) => "it was not judged",
        Signed::Report(_) => "it was not issued",
        Signed::BaseLine(_) => "it was not frozen",
        Signed::FlameCall(_) => "nothing was noted",
        Signed::Commissioning(_) => "the entry keeps no such list",
        Signed::Trail { .. } => "the record does not reach so far",
    }
}
