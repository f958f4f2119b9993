//! Rules files: what is built in, and what is refused, with line and column.

use crate::bench::{hash, library};
use std::panic::catch_unwind;
use trial::requirement::{Ordered, resolve, resolve_from};
use trial::rules::{Library, Limit, Rules, RulesHash, Standing};

const HEAD: &str = "id = \"x/1\"\ntitle = \"x\"\nstandard = \"X\"\nedition = \"1\"\n\
    edition-standing = \"ours\"\nread-through = \"nothing\"\nmethods = \"iec-60695-11-5/2016\"\n";

/// Reads a profile whose line 8 is `line`.
fn refused(line: &str) -> String {
    let read = Rules::read("x/1.toml", &format!("{HEAD}{line}\n"));
    read.map(|_| String::new()).unwrap_or_else(|error| {
        assert!(error.hint().ends_with('.'));
        error.to_string()
    })
}

#[test]
fn a_sound_number_is_read() {
    let line = r#"flame.height = { value = "12 mm", tolerance = "± 1 mm", clause = "5", standing = "memory", note = "n" }"#;
    assert_eq!(refused(line), "");
    // A range may be a single value.
    let line = r#"conditioning.temperature = { value = "23 °C to 23 °C", clause = "8", standing = "seen" }"#;
    assert_eq!(refused(line), "");
    // As long as a number may be, before and behind its point.
    for value in ["123456789 s", "0.123456 s"] {
        let line = format!(
            r#"application.duration = {{ value = "{value}", clause = "7", standing = "seen" }}"#
        );
        assert_eq!(refused(&line), "", "{value}");
    }
}

#[test]
fn each_fault_is_told_with_line_and_column() {
    let number = |value: &str| {
        format!(
            r#"application.duration = {{ value = "{value}", clause = "7", standing = "seen" }}"#
        )
    };
    let limit = |value: &str| {
        format!(
            r#"criteria.duration-of-burning = {{ value = "{value}", clause = "11", standing = "seen" }}"#
        )
    };
    let height = |rest: &str| {
        format!(r#"flame.height = {{ value = "12 mm", {rest}clause = "5", standing = "seen" }}"#)
    };
    let rows: &[(String, &str)] = &[
        (number("10"), "x/1.toml:8:34: `application.duration = \"10\"` has no unit"),
        (number("10 mm"), "the unit `mm` is not one of s, min, h"),
        (number("ten s"), "does not begin with a number"),
        (number("1.2.3 s"), "does not begin with a number"),
        (number("0.1234567 s"), "at most six decimals"),
        (number("12345678901 s"), "does not begin with a number"),
        (number("-3 s"), "does not begin with a number"),
        (number("NaN s"), "does not begin with a number"),
        (number(""), "x/1.toml:8:34: `application.duration.value` has no text"),
        (limit("30 s"), "a limit opens with ≤, <, ≥ or >"),
        (limit("≤ 30"), "has no unit"),
        (height(""), "`flame.height` has no tolerance"),
        (height("tolerance = \"1 mm\", "), "write a tolerance as"),
        (height("tolerance = \"± 1\", "), "has no unit"),
        (height("tolerance = \"+1 mm\", "), "write a tolerance as"),
        (height("colour = \"blue\", "), "`flame.height.colour` is not known; known here: value"),
        (r#"flame.height = { value = "12 mm", tolerance = "± 1 mm", standing = "seen" }"#.into(),
            "x/1.toml:8:16: `flame.height` has no clause"),
        (r#"flame.height = { value = "12 mm", tolerance = "± 1 mm", clause = "5" }"#.into(),
            "x/1.toml:8:16: `flame.height` has no standing"),
        (r#"flame.height = { tolerance = "± 1 mm", clause = "5", standing = "seen" }"#.into(),
            "x/1.toml:8:16: `flame.height` has no value"),
        (r#"flame.height = { value = "12 mm", tolerance = "± 1 mm", clause = "5", standing = "sure" }"#.into(),
            "standing is one of seen, memory, ours"),
        (r#"flame.height = { value = 12, clause = "5", standing = "seen" }"#.into(),
            "`flame.height.value` is integer, not a text in quotes"),
        (r#"flame.height = "12 mm""#.into(), "x/1.toml:8:16: `flame.height = \"12 mm\"`: a number stands in a table"),
        (r#"flame.colour = { value = "12 mm", clause = "5", standing = "seen" }"#.into(),
            "x/1.toml:8:26: `flame.colour` is not known"),
        (r#"criteria.no-smoke = { value = "counts", clause = "5", standing = "seen" }"#.into(),
            "`criteria.no-smoke` is not known"),
        (r#"criteria.layer-ignition = { value = "perhaps", clause = "5", standing = "seen" }"#.into(),
            "write one of counts, disregarded"),
        (r#"specimens.number = { value = "3", clause = "5", standing = "seen" }"#.into(), "has no unit"),
        (r#"specimens.number = { value = "0 specimens", clause = "5", standing = "seen" }"#.into(),
            "write a count from 1 to 1000"),
        (r#"conditioning.temperature = { value = "35 °C to 15 °C", clause = "8", standing = "seen" }"#.into(),
            "ends below its beginning"),
        (r#"conditioning.temperature = { value = "35 °C", clause = "8", standing = "seen" }"#.into(),
            "write a range as"),
        (r#"application.duration = { value = "3 s", tolerance = "± 1 s", clause = "5", standing = "seen" }"#.into(),
            "a tolerance has no meaning here"),
        ("variant.a.flame.height = 3".into(), "a number stands in a table"),
        ("variant.a.b.c = { value = \"1 s\" }".into(), "`b.c` has no clause"),
        ("[variant.a]".into(), "`variant.a` has no title"),
        ("variant = 1".into(), "a number stands in a table"),
        ("flame.height = ".into(), "x/1.toml:8:16: not TOML"),
        ("= 1".into(), "not TOML"),
    ];
    for (line, text) in rows {
        let told = refused(line);
        assert!(told.contains(text), "{line}\n  expected: {text}\n  told: {told}");
        assert!(told.starts_with("x/1.toml:8:"), "{told}");
    }
}

#[test]
fn a_head_without_its_parts_and_a_method_with_gaps_are_refused() {
    let told = |text: &str| Rules::read("x.toml", text).unwrap_err().to_string();
    assert_eq!(told(""), "x.toml:1:1: `the file` has no edition-standing");
    assert!(told(&HEAD.replace("title = \"x\"\n", "")).contains("has no title"));
    assert!(told(&HEAD.replace("\"ours\"", "\"sure\"")).contains("standing is one of"));
    let method = HEAD.replace("methods = \"iec-60695-11-5/2016\"\n", "");
    assert_eq!(told(&method), "x.toml:1:1: `burner.tube-length` is absent");
    assert!(told(&" ".repeat((1 << 20) + 1)).contains("too long for a rules file"));
}

#[test]
fn every_built_in_number_has_its_place_and_every_edition_its_switches() {
    let library = library();
    assert_eq!(library.all().len(), 5);
    for rules in library.all() {
        for (key, entry) in &rules.entries {
            assert!(!entry.clause.0.is_empty() && entry.place.line > 1, "{key}");
        }
    }
    let (edition, _) = library.current(&"iec-60695-11-5/2016".into()).unwrap();
    let rise_time = &edition.entries[&"confirmation.rise-time".into()];
    assert_eq!((rise_time.text().as_str(), rise_time.standing), ("23.5 s ± 1.0 s", Standing::Seen));
    let (edition, _) = library.current(&"iec-60695-11-5/2004".into()).unwrap();
    assert_eq!(edition.entries[&"confirmation.rise-time".into()].standing, Standing::Memory);
}

#[test]
fn a_profile_names_the_clause_it_was_written_against_and_that_of_the_edition_used() {
    let clauses = |method: &str| {
        let ordered = Ordered {
            method: method.into(),
            profile: Some("iec-60335-1/5".into()),
            variant: Some("printed-board".into()),
            choices: vec![],
        };
        let requirement = resolve(&ordered, &library()).unwrap();
        let number = requirement.asked.specimens.number.clone();
        let burning = requirement.asked.criteria.duration_of_burning.unwrap();
        assert_eq!(burning.value, Limit::AtMost(metrology::Duration::from_seconds(15.0)));
        assert_eq!(burning.replaces.unwrap().text, "≤ 30 s");
        (number.clause.0, number.replaces.unwrap().clause.0)
    };
    assert_eq!(clauses("iec-60695-11-5/2004"), ("Annex E, on 9.3".into(), "9.3".into()));
    assert_eq!(clauses("iec-60695-11-5/2016"), ("Annex E, on 9.3".into(), "9.4".into()));
}

#[test]
fn the_rise_time_band_is_22_5_to_24_5_seconds() {
    let ordered = crate::bench::method_alone("30 s");
    let band = resolve(&ordered, &library()).unwrap().asked.confirmation.rise_time.value;
    let bits = |value: f64| value.to_bits();
    assert_eq!(bits(band.low.seconds()), bits(22.5));
    assert_eq!(bits(band.high.seconds()), bits(24.5));
}

#[test]
fn a_decimal_band_has_decimal_edges() {
    let mut ordered = crate::bench::method_alone("30 s");
    ordered.choices.push(crate::bench::chosen("application.tolerance", "+0 s / -0.1 s"));
    ordered.choices[0].value = "23.4 s".into();
    let requirement = resolve(&ordered, &library()).unwrap();
    let ta = requirement.duration_of_application.value;
    let band = requirement.asked.application.tolerance.value.about(ta);
    assert_eq!(band.low, metrology::Duration::from_microseconds(23_300_000));
    assert!(band.holds(metrology::Duration::from_microseconds(23_300_000)));
    assert!(!band.holds(metrology::Duration::from_microseconds(23_299_999)));
}

#[test]
fn a_band_may_be_wider_on_one_side() {
    let mut library = library();
    let (_, used) = library.current(&"iec-60695-11-5/2016".into()).unwrap();
    let text = library.text(used).unwrap().replace("\"± 1.0 s\"", "\"+1.0 s / -0.5 s\"");
    let used = library.add("lopsided.toml", &text, RulesHash([6; 32])).unwrap();
    let ordered = crate::bench::method_alone("30 s");
    let requirement = resolve_from(&ordered, &[used], &library).unwrap();
    let band = requirement.asked.confirmation.rise_time.value;
    assert_eq!(band.low, metrology::Duration::from_seconds(23.0));
    assert_eq!(band.high, metrology::Duration::from_seconds(24.5));
}

#[test]
fn an_older_file_can_be_put_beside_the_built_in_one() {
    let mut library = Library::built_in(hash).unwrap();
    let (_, used) = library.current(&"iec-60695-11-5/2016".into()).unwrap();
    let used = used.clone();
    let older = library.text(&used).unwrap().replace("\"12 mm\"", "\"13 mm\"");
    let older_used = library.add("older.toml", &older, RulesHash([5; 32])).unwrap();
    assert_eq!(older_used.id, used.id);
    let height = |library: &Library, used| {
        library.rules(used).unwrap().entries[&"flame.height".into()].text()
    };
    assert_eq!(height(&library, &older_used), "13 mm ± 1 mm");
    assert_eq!(height(&library, &used), "12 mm ± 1 mm");
    assert_eq!(library.current(&used.id).unwrap().1, &used);
}

/// Any bytes, and any built-in file with some bytes changed, are read or refused, never a panic.
/// `tests/fuzz` runs it for longer.
#[test]
fn fuzz_rules() {
    let library = library();
    let texts: Vec<String> = library
        .all()
        .iter()
        .map(|rules| library.text(library.current(&rules.head.id).unwrap().1).unwrap().to_owned())
        .collect();
    bolero::check!().with_type::<(u8, Vec<(u16, Vec<u8>)>, Vec<u8>)>().for_each(
        |(which, changes, raw)| {
            let mut bytes = texts[usize::from(*which) % texts.len()].clone().into_bytes();
            for (at, insert) in changes {
                let at = usize::from(*at) % (bytes.len() + 1);
                let end = (at + insert.len()).min(bytes.len());
                bytes.splice(at..end, insert.iter().map(|byte| byte % 128));
            }
            for bytes in [&bytes, raw] {
                let text = String::from_utf8_lossy(bytes);
                let read = catch_unwind(|| Rules::read("fuzzed.toml", &text));
                if let Err(error) = read.expect("reading never panics") {
                    assert!(error.place.line >= 1 && !error.hint().is_empty());
                }
            }
        },
    );
}
