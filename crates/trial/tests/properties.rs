//! What holds of every verdict.

use crate::bench::{confirmed, draft, observed};
use metrology::Duration;
use metrology::decision::DecisionRule;
use proptest::prelude::*;
use trial::confirmation::Confirmed;
use trial::moment::Elapsed;
use trial::requirement::Ordered;
use trial::run::{Burnt, Ending, LayerOutcome, Observed, Run, record};
use trial::verdict::{Found, VerdictStanding, judge, shown_beside};

/// A staged requirement: one specimen, then two.
fn staged(rule: DecisionRule) -> Confirmed {
    let mut draft = draft(Ordered {
        method: "iec-60695-11-5/2016".into(),
        profile: Some("iec-60335-1/5".into()),
        variant: Some("part".into()),
        choices: vec![],
    });
    draft.decision_rule = rule;
    confirmed(&draft)
}

fn rules() -> impl Strategy<Value = DecisionRule> {
    prop_oneof![
        Just(DecisionRule::SimpleAcceptance),
        (0.0..2.0_f64).prop_map(|ratio| DecisionRule::GuardBand { ratio, coverage_factor: 2.0 }),
    ]
}

/// What one specimen showed: when flames and glow ended after removal, layer, burnt.
type Shown = (Option<i64>, Option<i64>, bool, bool);

fn shown() -> impl Strategy<Value = Shown> {
    let end = || proptest::option::of(prop_oneof![0_i64..60_000_000, 29_999_990_i64..30_000_010]);
    (end(), end(), proptest::bool::weighted(0.2), proptest::bool::weighted(0.1))
}

fn observe(confirmed: &Confirmed, number: u32, shown: &Shown) -> Observed {
    let plain = observed(number, confirmed.ready().plan());
    let removed = plain.applications[0].removed.microseconds();
    let ending = |end: Option<i64>| {
        end.map_or(Ending::None, |end| Ending::Out(Elapsed::from_microseconds(removed + end)))
    };
    let (flames, glow, ignited, consumed) = *shown;
    Observed {
        flames: ending(flames),
        glow: ending(glow),
        layer: if ignited { LayerOutcome::Flamed } else { LayerOutcome::Unchanged },
        surroundings: if ignited { ending(Some(0)) } else { Ending::None },
        burnt: if consumed { Burnt::Completely } else { Burnt::Partly },
        ..plain
    }
}

fn runs(confirmed: &Confirmed, all: &[Shown]) -> Vec<Run> {
    all.iter()
        .zip(1..)
        .map(|(shown, number)| record(confirmed, observe(confirmed, number, shown)).unwrap())
        .collect()
}

/// Better first; a set that still needs specimens has shown less than one that does not.
fn rank(standing: VerdictStanding) -> Option<u8> {
    match standing {
        VerdictStanding::Meets => Some(0),
        VerdictStanding::Undecided => Some(1),
        VerdictStanding::DoesNotMeet => Some(2),
        VerdictStanding::NotYet { .. } | VerdictStanding::NotJudged => None,
    }
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 64, failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn the_order_of_the_runs_does_not_matter(
        all in proptest::collection::vec(shown(), 1..6),
        rule in rules(),
        turn in 0_usize..6,
    ) {
        let confirmed = staged(rule);
        let mut runs = runs(&confirmed, &all);
        let plan = confirmed.ready().plan();
        let account = judge(plan, &runs).account();
        let turn = turn % runs.len();
        runs.rotate_left(turn);
        prop_assert_eq!(&judge(plan, &runs).account(), &account);
        runs.reverse();
        prop_assert_eq!(judge(plan, &runs).account(), account);
    }

    #[test]
    fn burning_longer_never_helps(
        all in proptest::collection::vec(shown(), 1..4),
        rule in rules(),
        which in 0_usize..4,
        longer in 0_i64..40_000_000,
    ) {
        let confirmed = staged(rule);
        let plan = confirmed.ready().plan();
        let before = judge(plan, &runs(&confirmed, &all)).standing;
        let mut worse = all.clone();
        let which = which % worse.len();
        worse[which].0 = Some(worse[which].0.unwrap_or(0) + longer);
        let after = judge(plan, &runs(&confirmed, &worse)).standing;
        // With the stage after a failure opened, a worse first specimen may let the further ones
        // decide; what never happens is that a set that did not meet now meets.
        if before == VerdictStanding::DoesNotMeet {
            prop_assert_eq!(after, VerdictStanding::DoesNotMeet);
        }
        if let (Some(before), Some(after), 1) = (rank(before), rank(after), all.len()) {
            prop_assert!(before <= after);
        }
    }

    #[test]
    fn igniting_the_layer_never_helps(
        all in proptest::collection::vec(shown(), 1..4),
        which in 0_usize..4,
    ) {
        let confirmed = staged(DecisionRule::SimpleAcceptance);
        let plan = confirmed.ready().plan();
        let before = judge(plan, &runs(&confirmed, &all)).standing;
        let mut worse = all.clone();
        let which = which % worse.len();
        worse[which].2 = true;
        let after = judge(plan, &runs(&confirmed, &worse)).standing;
        if before == VerdictStanding::DoesNotMeet {
            prop_assert_eq!(after, VerdictStanding::DoesNotMeet);
        }
    }

    #[test]
    fn a_time_is_shown_on_its_own_side_of_the_limit(
        microseconds in prop_oneof![0_i64..60_000_000, 29_990_000_i64..30_010_000],
        decimals in 0_usize..3,
    ) {
        let confirmed = staged(DecisionRule::SimpleAcceptance);
        let runs = runs(&confirmed, &[(Some(microseconds), None, false, false)]);
        let verdict = judge(confirmed.ready().plan(), &runs);
        let reason = &verdict.judged[0].reasons[0];
        let Found::Duration { value, limit, .. } = reason.found else {
            panic!("the first reason is the duration of burning");
        };
        prop_assert_eq!(value.value, Duration::from_microseconds(microseconds));
        let text = shown_beside(value.value, limit, decimals);
        let rounded: f64 = text.strip_suffix(" s").unwrap().parse().unwrap();
        let rounded_kept = limit.is_kept_by(Duration::from_seconds(rounded));
        prop_assert_eq!(rounded_kept, limit.is_kept_by(value.value));
    }
}
