//! The built-in reference cases: each published number within its tolerance.

use metrology::reference_cases::reference_cases;

#[test]
fn each_published_number_is_met_within_its_tolerance() {
    let cases = reference_cases();
    assert!(cases.len() >= 100, "only {} cases", cases.len());
    let missed: Vec<String> = cases
        .iter()
        .filter(|case| !case.agrees())
        .map(|case| {
            format!(
                "{}: ours {} {}, theirs {} within {} ({})",
                case.name, case.ours, case.unit, case.theirs, case.tolerance, case.source
            )
        })
        .collect();
    assert!(missed.is_empty(), "{}", missed.join("\n"));
}

#[test]
fn each_case_has_a_name_of_its_own_within_its_source() {
    let cases = reference_cases();
    for (place, case) in cases.iter().enumerate() {
        let twin = cases[..place].iter().find(|c| c.name == case.name && c.source == case.source);
        assert_eq!(twin, None);
    }
}
