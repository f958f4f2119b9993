//! What was signed, which facts each signature covers, and whether it still covers them.

use super::History;
use super::error::{Followed, once, skipped};
use crate::fact::{Fact, Recorded};
use crate::moment::Moment;
use crate::number::{
    ConfirmationNumber, DeterminationNumber, EntryNumber, PersonName, PlanNumber, SpecimenNumber,
};
use crate::signature::{Meaning, SamePerson, SentBack, Signature, Signed, SigningRule};
use std::collections::BTreeMap;

/// A signature as recorded.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct RecordedSignature {
    /// Which entry.
    pub entry: EntryNumber,
    /// When.
    pub at: Moment,
    /// Who signed.
    pub who: PersonName,
    /// What.
    pub signature: Signature,
}

/// A review that was sent back, as recorded.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct RecordedSentBack {
    /// Which entry.
    pub entry: EntryNumber,
    /// When.
    pub at: Moment,
    /// By whom.
    pub who: PersonName,
    /// What is to be looked at.
    pub back: SentBack,
}

/// Which signatures the laboratory asks for, as recorded.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct RecordedSigningRule {
    /// Which entry.
    pub entry: EntryNumber,
    /// When.
    pub at: Moment,
    /// By whom.
    pub who: PersonName,
    /// What was set.
    pub rule: SigningRule,
}

/// Whether a signature covers what stands in the record now.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Covering {
    /// It does.
    Covers,
    /// It no longer does.
    NoLonger {
        /// The entries that came to it since.
        since: Vec<EntryNumber>,
    },
}

#[derive(Clone, Debug, Default)]
pub(super) struct Signatures {
    all: Vec<RecordedSignature>,
    of: BTreeMap<Signed, Vec<usize>>,
    backs: BTreeMap<PlanNumber, Vec<RecordedSentBack>>,
    rule: Option<RecordedSigningRule>,
    made: Made,
}

/// The entries that make what can be signed, in their order.
#[derive(Clone, Debug, Default)]
struct Made {
    results: BTreeMap<(PlanNumber, SpecimenNumber), Vec<EntryNumber>>,
    /// Of the plan itself, its results and its flame aside.
    plans: BTreeMap<PlanNumber, Vec<EntryNumber>>,
    determinations: BTreeMap<DeterminationNumber, Vec<EntryNumber>>,
    confirmations: BTreeMap<ConfirmationNumber, Vec<EntryNumber>>,
}

impl Made {
    /// Puts an entry to what `fact` speaks of.
    fn put(&mut self, fact: &Fact, entry: EntryNumber) {
        if let Fact::RunRecorded { plan, observed, .. } = fact {
            self.results.entry((*plan, observed.specimen)).or_default().push(entry);
        } else if let Fact::PressesKept { plan, specimen, .. }
        | Fact::TimekeeperTaken { plan, specimen, .. }
        | Fact::SpecimenSpoilt { plan, specimen, .. } = fact
        {
            self.results.entry((*plan, *specimen)).or_default().push(entry);
        } else if let Fact::SentBack(back) = fact {
            self.plans.entry(back.plan).or_default().push(entry);
            for specimen in &back.specimens {
                self.results.entry((back.plan, *specimen)).or_default().push(entry);
            }
        } else if let Fact::DeterminationRecorded(made) = fact {
            self.determinations.entry(made.number).or_default().push(entry);
        } else if let Fact::DeterminationVoided { number, .. } = fact {
            self.determinations.entry(*number).or_default().push(entry);
        } else if let Fact::FlameConfirmed { number, .. } = fact {
            self.confirmations.entry(*number).or_default().push(entry);
        } else if let Some(plan) = of_plan(fact) {
            self.plans.entry(plan).or_default().push(entry);
        }
    }
}

/// The plan that a fact belongs to besides its results: what was asked, prepared, filmed and
/// accepted. Refusals and proposals are not what is signed.
fn of_plan(fact: &Fact) -> Option<PlanNumber> {
    if let Fact::PlanDrawnUp { draft, .. } = fact {
        Some(draft.number)
    } else if let Fact::ConditioningRecorded(conditioning) = fact {
        Some(conditioning.plan)
    } else if let Fact::DueLetThrough(due) = fact {
        Some(due.plan)
    } else if let Fact::SpecimensAdded { plan, .. }
    | Fact::SpecimenPhotographed { plan, .. }
    | Fact::FilmKept { plan, .. }
    | Fact::FilmPlaced { plan, .. }
    | Fact::TimesAccepted { plan, .. } = fact
    {
        Some(*plan)
    } else {
        None
    }
}

/// A signature is of what belongs to the thing at this moment: where another program added to it
/// first, it is given anew.
pub(super) fn fits(history: &History, next: &Recorded) -> Followed {
    let Fact::Signed(Signature { what, last, .. }) = &next.fact else { return Ok(()) };
    let there = history.content(*what).and_then(|content| content.last().copied());
    if there == Some(*last) {
        return Ok(());
    }
    skipped(&match there {
        Some(there) => format!("looking at entry {there} of {what}"),
        None => what.to_string(),
    })
}

/// Lets a signature, a review that was sent back, or a rule of signing follow.
pub(super) fn follow(history: &mut History, next: &Recorded) -> Followed {
    let (entry, at, who) = (next.entry, next.at, next.who.clone());
    if let Fact::Signed(signature) = &next.fact {
        let same = |it: &RecordedSignature| it.who == who && it.signature == *signature;
        let twice = history.signatures_on(signature.what).any(same);
        once(twice, || format!("that signature of {}", signature.what))?;
        let signed = &mut history.signatures;
        signed.of.entry(signature.what).or_default().push(signed.all.len());
        signed.all.push(RecordedSignature { entry, at, who, signature: *signature });
    } else if let Fact::SentBack(back) = &next.fact {
        for specimen in &back.specimens {
            super::replay::of_plan(history, back.plan, *specimen)?;
        }
        super::replay::known(history.plans.contains_key(&back.plan), || {
            format!("plan {}", back.plan)
        })?;
        let backs = history.signatures.backs.entry(back.plan).or_default();
        backs.push(RecordedSentBack { entry, at, who, back: back.clone() });
    } else if let Fact::SigningRuled(rule) = &next.fact {
        let rule = rule.clone();
        history.signatures.rule = Some(RecordedSigningRule { entry, at, who, rule });
    }
    Ok(())
}

impl History {
    /// Notes to which signed thing an entry belongs; a correction belongs to what it corrects.
    pub(super) fn note_made(&mut self, next: &Recorded) {
        let mut fact = None;
        if let Fact::Corrected { entry, .. } = &next.fact {
            fact = self.entry(*entry).map(|it| it.fact.clone());
        }
        self.signatures.made.put(fact.as_ref().unwrap_or(&next.fact), next.entry);
    }

    /// The entries that make a thing, in their order: what a signature on it covers. None if there
    /// is no such thing, or it is not complete: a specimen has its run, a plan its verdict.
    #[must_use]
    pub fn content(&self, what: Signed) -> Option<Vec<EntryNumber>> {
        match what {
            Signed::Specimen { plan, specimen } => {
                let there = self.runs(plan).iter().any(|run| run.run.specimen() == specimen);
                there.then(|| self.result(plan, specimen))
            }
            Signed::Plan(plan) => self.of_whole_plan(plan),
            Signed::Report(report) => {
                let place = self.reports_by_number.get(&report)?;
                let is = |it: &&Recorded| matches!(&it.fact, Fact::ReportIssued(issued) if issued.number == report);
                let (at, ..) = self.reports.get(*place)?;
                let first = self.entries.partition_point(|entry| entry.at < *at);
                Some(vec![self.entries.get(first..)?.iter().find(is)?.entry])
            }
            Signed::BaseLine(number) => Some(self.corrected(self.base_line_of(number)?.entry)),
            Signed::FlameCall(number) => {
                let answers = self.flame_answers().iter();
                let of_call = answers.filter(|it| it.confirmation == number).map(|it| it.entry);
                let entries: Vec<_> = of_call.flat_map(|entry| self.corrected(entry)).collect();
                (!entries.is_empty()).then_some(entries)
            }
            Signed::Commissioning(entry) => {
                let there = self.commissionings().iter().any(|it| it.entry == entry);
                there.then(|| self.corrected(entry))
            }
            Signed::Trail { from, until } => {
                let last = self.entries.last()?.entry;
                let there = from.0 >= 1 && from <= until && until <= last;
                there.then(|| (from.0..=until.0).map(EntryNumber).collect())
            }
        }
    }

    /// An entry and all that correct it.
    fn corrected(&self, entry: EntryNumber) -> Vec<EntryNumber> {
        let corrections = self.corrections(entry).iter().map(|it| it.by);
        std::iter::once(entry).chain(corrections).collect()
    }

    fn result(&self, plan: PlanNumber, specimen: SpecimenNumber) -> Vec<EntryNumber> {
        self.signatures.made.results.get(&(plan, specimen)).cloned().unwrap_or_default()
    }

    fn of_whole_plan(&self, number: PlanNumber) -> Option<Vec<EntryNumber>> {
        let verdicts = &self.plans.get(&number)?.verdicts;
        let last = verdicts.last()?;
        // Judging again with the same outcome changes nothing.
        let same = verdicts.iter().rev().take_while(|it| it.account == last.account).last()?;
        let made = &self.signatures.made;
        let mut entries = made.plans.get(&number).cloned().unwrap_or_default();
        entries.push(same.entry);
        for specimen in self.specimens(number) {
            entries.extend(self.result(number, specimen));
        }
        for run in self.runs(number) {
            entries.extend(made.confirmations.get(&run.confirmation).into_iter().flatten());
            let heated = self.confirmation(run.confirmation).map(|it| it.determinations.iter());
            for made_then in heated.into_iter().flatten() {
                entries.extend(made.determinations.get(&made_then.number).into_iter().flatten());
            }
        }
        entries.sort_unstable();
        entries.dedup();
        Some(entries)
    }

    /// Whether a signature covers what stands in the record now.
    #[must_use]
    pub fn covering(&self, signed: &RecordedSignature) -> Covering {
        // A row of entries stays what it was.
        if let Signed::Trail { .. } = signed.signature.what {
            return Covering::Covers;
        }
        let content = self.content(signed.signature.what);
        let withdrawn = content.is_none();
        let mut since = content.unwrap_or_default();
        since.retain(|entry| *entry > signed.entry);
        if since.is_empty() && !withdrawn { Covering::Covers } else { Covering::NoLonger { since } }
    }

    /// All signatures, in order.
    #[must_use]
    pub fn signatures(&self) -> &[RecordedSignature] {
        &self.signatures.all
    }

    /// The signatures on a thing, those included that no longer cover it.
    pub fn signatures_on(&self, what: Signed) -> impl Iterator<Item = &RecordedSignature> {
        let places = self.signatures.of.get(&what).map(Vec::as_slice).unwrap_or_default();
        places.iter().filter_map(|place| self.signatures.all.get(*place))
    }

    /// The signatures on a plan and on its specimens, in order.
    #[must_use]
    pub fn signatures_of(&self, plan: PlanNumber) -> Vec<&RecordedSignature> {
        let specimens = self.specimens(plan).into_iter();
        let things = specimens.map(|specimen| Signed::Specimen { plan, specimen });
        let things = things.chain([Signed::Plan(plan)]);
        let mut all: Vec<_> = things.flat_map(|what| self.signatures_on(what)).collect();
        all.sort_unstable_by_key(|it| it.entry);
        all
    }

    /// The last signature in this meaning that covers a thing as it stands now.
    #[must_use]
    pub fn signed(&self, what: Signed, meaning: Meaning) -> Option<&RecordedSignature> {
        let last = self.signatures_on(what).filter(|it| it.signature.meaning == meaning).last()?;
        (self.covering(last) == Covering::Covers).then_some(last)
    }

    /// What the laboratory set about signatures last.
    #[must_use]
    pub const fn signing_rule(&self) -> Option<&RecordedSigningRule> {
        self.signatures.rule.as_ref()
    }

    /// That the laboratory lets one person test and approve, where it wrote so.
    #[must_use]
    pub fn same_person_allowed(&self) -> Option<&RecordedSigningRule> {
        self.signing_rule().filter(|it| it.rule.same_person == SamePerson::Allowed)
    }

    /// The note with which a plan was sent back, as long as it waits: until each of the specimens
    /// that it names was signed as tested again, or the plan was reviewed or approved after it.
    #[must_use]
    pub fn sent_back(&self, plan: PlanNumber) -> Option<&RecordedSentBack> {
        let last = self.signatures.backs.get(&plan)?.last()?;
        let whole = Signed::Plan(plan);
        let done = [Meaning::Reviewed, Meaning::Approved];
        let waits = |specimen: &SpecimenNumber| {
            let what = Signed::Specimen { plan, specimen: *specimen };
            self.signed(what, Meaning::Tested).is_none()
        };
        let looked = done.iter().any(|meaning| self.signed(whole, *meaning).is_some());
        let named = &last.back.specimens;
        (!looked && (named.is_empty() || named.iter().any(waits))).then_some(last)
    }

    /// All plans that were sent back and wait.
    pub fn all_sent_back(&self) -> impl Iterator<Item = &RecordedSentBack> {
        self.signatures.backs.keys().filter_map(|plan| self.sent_back(*plan))
    }

    /// All notes with which a plan was sent back.
    #[must_use]
    pub fn sent_backs(&self, plan: PlanNumber) -> &[RecordedSentBack] {
        self.signatures.backs.get(&plan).map(Vec::as_slice).unwrap_or_default()
    }

    /// The last signature on the trail; none before the first review.
    #[must_use]
    pub fn trail_signature(&self) -> Option<&RecordedSignature> {
        let trail = |it: &&RecordedSignature| matches!(it.signature.what, Signed::Trail { .. });
        self.signatures.all.iter().rev().find(trail)
    }

    /// The entry that the next review of the trail begins with.
    #[must_use]
    pub fn trail_to_review(&self) -> EntryNumber {
        if let Some(last) = self.trail_signature()
            && let Signed::Trail { until, .. } = last.signature.what
        {
            return EntryNumber(until.0.saturating_add(1));
        }
        EntryNumber(1)
    }
}
