//! What is told of two descriptions of one specimen: each value that differs, and nothing else.

use crate::bench::{
    confirmed, draft, evidence, hours, kinds, method_alone, observed, rise_time, seconds,
};
use metrology::{Length, Measurement, Ratio, Temperature};
use trial::finding::FindingKind;
use trial::moment::Elapsed;
use trial::run::{
    Application, Burnt, Ending, LayerOutcome, Mark, MarkKind, Observed, changes, record,
};

fn at(microseconds: i64) -> Elapsed {
    Elapsed::from_microseconds(microseconds)
}

fn seen() -> Observed {
    observed(1, confirmed(&draft(method_alone("30 s"))).ready().plan())
}

/// What a change of it is told as: `what: before -> after`, one line each.
fn told(change: impl FnOnce(&mut Observed)) -> String {
    let (before, mut after) = (seen(), seen());
    change(&mut after);
    let back = changes(&after, &before);
    let forth = changes(&before, &after);
    let mirrored = forth.iter().zip(&back).all(|(it, back)| {
        (&it.what, &it.before, &it.after) == (&back.what, &back.after, &back.before)
    });
    assert!(mirrored && forth.len() == back.len(), "{forth:?} {back:?}");
    let line = |it: &trial::run::Change| format!("{}: {} -> {}", it.what, it.before, it.after);
    forth.iter().map(line).collect::<Vec<_>>().join("\n")
}

#[test]
fn nothing_is_told_of_what_is_the_same() {
    assert_eq!(told(|_| {}), "");
}

#[test]
fn a_time_is_told_to_the_tenth_or_exactly_where_the_tenth_is_the_same() {
    let removed = |at| told(move |seen: &mut Observed| seen.applications[0].removed = at);
    assert_eq!(removed(at(30_230_000)), "Flame 1 removed: 30.0 s -> 30.2 s");
    assert_eq!(removed(at(30_000_001)), "Flame 1 removed: 30.0 s -> 30.000001 s");
    let on = told(|seen| seen.applications[0].on = at(-500_000));
    assert_eq!(on, "Flame 1 on specimen: 0.0 s -> -0.5 s");
    let second = Application { on: at(40_000_000), removed: at(70_000_000) };
    let more = told(|seen| seen.applications.push(second));
    let lines = "Flame 2 on specimen: none -> 40.0 s\nFlame 2 removed: none -> 70.0 s";
    assert_eq!(more, lines);
}

#[test]
fn an_end_is_told_with_how_it_came() {
    let flames = |ending| told(move |seen: &mut Observed| seen.flames = ending);
    assert_eq!(flames(Ending::Out(at(31_000_000))), "Flames: none -> out at 31.0 s");
    let by_hand = Ending::PutOutByHand(at(31_000_000));
    assert_eq!(flames(by_hand), "Flames: none -> put out by hand at 31.0 s");
    let glow = told(|seen| seen.glow = Ending::Out(at(32_000_000)));
    assert_eq!(glow, "Glow: none -> out at 32.0 s");
    let around = told(|seen| seen.surroundings = Ending::Out(at(33_000_000)));
    assert_eq!(around, "Layer or surroundings: none -> out at 33.0 s");
}

#[test]
fn every_other_value_is_told_by_its_name() {
    let mark = |at, kind, words: &str| Mark { at, kind, words: words.to_owned() };
    let all = told(|seen| {
        seen.began = hours(2);
        seen.marks = vec![
            mark(at(7_400_000), MarkKind::Drop, ""),
            mark(at(9_000_000), MarkKind::Other, "a loud crack"),
        ];
        seen.layer = LayerOutcome::Flamed;
        seen.burnt = Burnt::Completely;
        let value = Length::from_millimetres(12.5);
        let uncertainty = Length::from_millimetres(0.5);
        let degrees_of_freedom = rise_time(1.0).degrees_of_freedom;
        seen.damaged_length = Some(Measurement { value, uncertainty, degrees_of_freedom });
        seen.air.temperature = Temperature::from_celsius(23.0);
        seen.air.humidity = Ratio::from_percent(51.0);
        seen.timing_uncertainty = seconds(0.2);
        seen.clock_offset = seconds(1.5);
        seen.observer = "B. Made-Up".into();
        seen.evidence = vec![evidence(), evidence()];
        seen.note = "the window was open".to_owned();
        seen.spoilt = Some("it fell".to_owned());
    });
    let expected = "\
Begun: 2026-03-02T10:00:00Z -> 2026-03-02T11:00:00Z
Marks: none -> 7.4 s: drop; 9.0 s: other (a loud crack)
Layer below: unchanged -> flamed
Burnt: partly -> completely
Damaged length: none -> 12.5 mm ± 0.5 mm
Temperature: 22 °C -> 23 °C
Relative humidity: 50 % -> 51 %
Standard uncertainty of a time: 0.1 s -> 0.2 s
Clock off by: 0 s -> 1.5 s
Watched by: A. Made-Up -> B. Made-Up
Files: none -> made-up.csv, made-up.csv
Anything unusual: none -> the window was open
Spoilt: none -> it fell";
    assert_eq!(all, expected);
}

#[test]
fn a_refusal_counts_flames_from_one_and_a_flame_may_begin_with_its_confirmation() {
    let mut aging = draft(method_alone("30 s"));
    aging.confirmation_age_max = Some(seconds(8.0 * 3600.0));
    let confirmed = confirmed(&aging);
    let begun = |hour| {
        let mut seen = observed(1, confirmed.ready().plan());
        seen.began = hours(hour);
        record(&confirmed, seen).map(|_| ()).map_err(|findings| kinds(&findings))
    };
    // Confirmed at hour 0; the laboratory lets it be 8 h old.
    assert_eq!((begun(0), begun(8)), (Ok(()), Ok(())));
    assert_eq!(
        (begun(-1), begun(9)),
        (Err(vec![FindingKind::Order]), Err(vec![FindingKind::Lapsed]))
    );
    let mut seen = observed(1, confirmed.ready().plan());
    seen.applications[0].removed = Elapsed::ZERO;
    let findings = record(&confirmed, seen).unwrap_err();
    assert_eq!(findings[0].text, "specimen 1: flame 1 removed at 0.0 s, not after 0.0 s");
}
