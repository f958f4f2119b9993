//! Verdicts as the record keeps them and as people read them, word for word: the same runs must give
//! the same text years later.

use crate::bench::{confirmed, draft, observed, rise_time};
use metrology::decision::DecisionRule;
use metrology::{Length, Measurement};
use trial::moment::Elapsed;
use trial::requirement::Ordered;
use trial::run::{Burnt, Ending, LayerOutcome, Mark, MarkKind, Observed, record};
use trial::verdict::judge;

type Seen = fn(&mut Observed, Elapsed);

/// So many microseconds after the last removal.
fn after(removed: Elapsed, microseconds: i64) -> Elapsed {
    Elapsed::from_microseconds(removed.microseconds() + microseconds)
}

/// The account, a line, the sentence, a line, and the sentences of the reasons that decided.
fn told(profile: Option<(&str, &str)>, rule: DecisionRule, all: &[Seen]) -> String {
    let mut draft = draft(Ordered {
        method: "iec-60695-11-5/2016".into(),
        profile: profile.map(|(profile, _)| profile.into()),
        variant: profile.map(|(_, variant)| variant.into()),
        choices: vec![],
    });
    draft.decision_rule = rule;
    let confirmed = confirmed(&draft);
    let plan = confirmed.ready().plan();
    let run = |(change, number): (&Seen, u32)| {
        let mut seen = observed(number, plan);
        let removed = seen.applications[0].removed;
        change(&mut seen, removed);
        record(&confirmed, seen).unwrap()
    };
    let verdict = judge(plan, &all.iter().zip(1..).map(run).collect::<Vec<_>>());
    let mut lines = vec![verdict.account(), verdict.sentence()];
    lines.extend(verdict.decided_by().iter().map(|reason| reason.sentence()));
    lines.extend(verdict.not_judged().map(ToString::to_string));
    lines.join("\n")
}

fn burns(seen: &mut Observed, removed: Elapsed, microseconds: i64) {
    seen.flames = Ending::Out(after(removed, microseconds));
}

const PART: Option<(&str, &str)> = Some(("iec-60335-1/5", "part"));
const LENGTH: Option<(&str, &str)> = Some(("iacs-e10/10", "once"));
const SIMPLE: DecisionRule = DecisionRule::SimpleAcceptance;
const GUARDED: DecisionRule = DecisionRule::GuardBand { ratio: 1.0, coverage_factor: 2.0 };

#[test]
fn verdicts_stand_word_for_word() {
    let layer_caught: Seen = |seen, removed| {
        let at = after(removed, 500_000);
        seen.marks = vec![Mark { at, kind: MarkKind::LayerCaught, words: String::new() }];
        seen.layer = LayerOutcome::Flamed;
        seen.surroundings = Ending::Out(after(removed, 2_000_000));
    };
    let consumed: Seen = |seen, _| {
        let (value, uncertainty) = (Length::from_millimetres(60.5), Length::from_millimetres(0.5));
        let degrees_of_freedom = rise_time(1.0).degrees_of_freedom;
        seen.damaged_length = Some(Measurement { value, uncertainty, degrees_of_freedom });
        seen.burnt = Burnt::Completely;
        seen.layer = LayerOutcome::Scorched;
    };
    let by_hand: Seen =
        |seen, removed| seen.flames = Ending::PutOutByHand(after(removed, 31_000_000));
    let short: Seen = |seen, removed| burns(seen, removed, 12_300_000);
    let just_over: Seen = |seen, removed| burns(seen, removed, 30_000_001);
    let found = [
        told(PART, SIMPLE, &[short]),
        told(PART, SIMPLE, &[just_over]),
        told(PART, SIMPLE, &[just_over, short, short]),
        told(PART, GUARDED, &[|seen, removed| burns(seen, removed, 29_900_000)]),
        told(PART, SIMPLE, &[by_hand, layer_caught]),
        told(PART, SIMPLE, &[|seen, _| seen.spoilt = Some("a draught".to_owned())]),
        told(LENGTH, SIMPLE, &[consumed]),
    ];
    let kept = include_str!("told.txt");
    assert_eq!(found.join("\n\n====\n\n") + "\n", kept);
}
