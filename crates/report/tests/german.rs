//! A report in German: the same numbers, no English of ours, and the data free of language.

use metrology::decision::DecisionRule;
use report::content::{Content, Issue, PhotoShown, compose};
use report::pdf::{Attachments, Curve, render};
use serde_json::Value;
use trial::fact::Language;

use crate::record::{PLAN, before, history, issue, ran};
use crate::sample::heating;
use crate::tools::{words, written};

/// One record, in both languages: a specimen that fails, then two that meet.
pub(crate) fn both(photos: &[PhotoShown]) -> [Content; 2] {
    let mut facts = before(DecisionRule::SimpleAcceptance);
    facts.extend([ran(1, 41_000_000), ran(2, 12_300_000), ran(3, 29_960_000)]);
    let history = history(facts);
    [Language::English, Language::German].map(|language| {
        compose(&history, PLAN, &Issue { language, photos: photos.to_vec(), ..issue() }).unwrap()
    })
}

/// The curve that is drawn in it.
pub(crate) fn attached() -> Attachments {
    let curves = vec![Curve { determination: 1, trace: heating(21.36) }];
    Attachments { curves, ..Attachments::default() }
}

fn pdf(content: &Content) -> Vec<u8> {
    render(content, &attached()).unwrap()
}

/// What both hold: every number, and every text that is a number or a time.
fn held(one: &Value, other: &Value, path: &str) -> usize {
    match (one, other) {
        (Value::Object(one), Value::Object(other)) => {
            let keys = |of: &serde_json::Map<String, Value>| {
                of.keys().filter(|key| *key != "language").cloned().collect::<Vec<_>>()
            };
            assert_eq!(keys(one), keys(other), "{path}");
            one.iter().map(|(key, value)| held(value, &other[key], &format!("{path}.{key}"))).sum()
        }
        (Value::Array(one), Value::Array(other)) => {
            assert_eq!(one.len(), other.len(), "{path}");
            one.iter().zip(other).map(|(one, other)| held(one, other, path)).sum()
        }
        (Value::String(one), Value::String(other)) => {
            let number = one.parse::<f64>().is_ok() || one.starts_with("2026-");
            assert!(!number || one == other, "{path}: {one}, {other}");
            usize::from(number)
        }
        (one, other) => {
            assert_eq!(one, other, "{path}");
            usize::from(one.is_number())
        }
    }
}

#[test]
fn numbers_and_times_of_the_data_are_the_same_in_both_languages() {
    let [english, german] = both(&[]).map(|content| serde_json::to_value(content).unwrap());
    assert!(held(&english, &german, "") > 100);
    assert_eq!(english.get("language"), None, "a report in English has the bytes it always had");
    assert_eq!(german["language"], "de");
    assert_eq!(german["specimens"][1]["burning"]["shown"], "12.3");
    let again: Content = serde_json::from_value(german).unwrap();
    assert_eq!(again.in_language(), Language::German);
}

#[test]
fn the_pages_are_german_throughout() {
    let [_, german] = both(&[]);
    let bytes = pdf(&german);
    assert_eq!(bytes, pdf(&german), "made twice, the same bytes");
    let said = words(&written("german.pdf", &bytes));
    for wanted in [
        "Prüfbericht: Prüfung mit der Nadelflamme",
        "Ausgestellt am 2. März 2026",
        "Erfüllt die Anforderung",
        "2 von 3 Prüflingen erfüllten jedes Kriterium.",
        "Anhang E, zu 11 statt IEC",
        "elektrische Geräte für den Hausgebrauch",
        "Umwickel-Seidenpapier",
        "12,3 ± 0,2",
        "Nr. 1: 41,0 s ± 0,2 s, nicht erfüllt",
        "Bestätigung der Prüfflamme",
        "k = 2,28",
        "Einfache Annahme",
        "erweiterte Messunsicherheiten",
        "Abgelehnt bei: Bereitschaft.",
        "Was in „…“ steht, ist der Wortlaut der Aufzeichnung, auf Englisch.",
        "Ende des Berichts R-7",
    ] {
        assert!(said.contains(wanted), "{wanted}: {said}");
    }
    // What the record or a person said, as it was said.
    let own = [
        "nobody acknowledged the cautions for plan P-1",
        "the block touched the tube",
        "held by a clamp",
    ];
    let rest = own.iter().fold(said, |said, own| said.replace(own, ""));
    let english = [
        "the", "and", "of", "with", "were", "under", "each", "from", "its", "asked", "kept", "not",
    ];
    let found: Vec<&str> = rest
        .split(|sign: char| !sign.is_alphabetic())
        .filter(|word| english.contains(&word.to_lowercase().as_str()))
        .collect();
    assert!(found.is_empty(), "{found:?} in {rest}");
    // A number with a decimal point is the number of a clause, and no value.
    assert!(!rest.contains("12.3") && !rest.contains("0.2 s"), "{rest}");
}
