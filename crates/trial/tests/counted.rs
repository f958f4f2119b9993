//! What counts: which determinations, which times of a run, and by whose numbers.

use crate::bench::{
    chosen, confirmed, determinations, draft, library, method_alone, observed, ready, rise_time,
    seconds,
};
use metrology::Duration;
use trial::confirmation::{Determination, confirm};
use trial::moment::Elapsed;
use trial::number::{ConfirmationNumber, DeterminationNumber};
use trial::requirement::{Ordered, resolve};
use trial::run::{Application, Ending, LayerOutcome, Mark, MarkKind, record};

fn at(seconds: i64) -> Elapsed {
    Elapsed::from_microseconds(seconds * 1_000_000)
}

/// 22.0 s ± 0.1 s, 23.5 s ± 0.3 s, 24.7 s ± 0.2 s: their mean is in the band, the first is not.
fn spread() -> Vec<Determination> {
    let mut made = determinations();
    for (one, (value, uncertainty)) in made.iter_mut().zip([(22.0, 0.1), (23.5, 0.3), (24.7, 0.2)])
    {
        let mut rise_time = rise_time(value);
        rise_time.uncertainty = seconds(uncertainty);
        one.rise_time = Some(rise_time);
    }
    made
}

#[test]
fn each_rise_time_counts_or_their_mean_with_the_greatest_uncertainty_among_them() {
    let confirmed = |draft: &_| confirm(&ready(draft), ConfirmationNumber(1), &spread());
    let mut ordered = method_alone("30 s");
    assert!(confirmed(&draft(ordered.clone())).is_err(), "each: the first is too fast");
    ordered.choices.push(chosen("confirmation.rule", "mean"));
    let confirmed = confirmed(&draft(ordered)).unwrap();
    assert_eq!(confirmed.counted(), [1, 2, 3].map(DeterminationNumber));
    let [mean] = confirmed.held() else { panic!("one mean: {:?}", confirmed.held()) };
    assert_eq!(mean.determination, None);
    assert!((mean.rise_time.value.seconds() - 23.4).abs() < 1e-9, "{:?}", mean.rise_time);
    assert_eq!(mean.rise_time.uncertainty, seconds(0.3));
}

#[test]
fn applications_and_the_pauses_between_them_are_told() {
    let mut ordered = method_alone("15 s");
    ordered.choices.push(chosen("application.count", "3 applications"));
    let confirmed = confirmed(&draft(ordered));
    let mut seen = observed(1, confirmed.ready().plan());
    let pushed = [(0, 15), (20, 35), (42, 57)];
    seen.applications =
        pushed.map(|(on, removed)| Application { on: at(on), removed: at(removed) }).to_vec();
    let run = record(&confirmed, seen).unwrap();
    assert_eq!(run.durations_of_application(), [15.0; 3].map(seconds));
    assert_eq!(run.pauses(), [5.0, 7.0].map(seconds));
    assert_eq!(run.departures(), []);
}

/// IEC 60598-1 (from memory) times the flame alone: no glow, and the layer only where it flamed.
#[test]
fn where_flames_alone_count_the_layer_counts_if_it_flamed() {
    let ordered = Ordered {
        method: "iec-60695-11-5/2016".into(),
        profile: Some("iec-60598-1/2020".into()),
        variant: None,
        choices: vec![],
    };
    let confirmed = confirmed(&draft(ordered));
    let burns = |layer, around: Ending| -> Duration {
        let mut seen = observed(1, confirmed.ready().plan());
        let removed = seen.applications[0].removed.microseconds();
        let after = |seconds: i64| Elapsed::from_microseconds(removed + seconds * 1_000_000);
        (seen.flames, seen.glow) = (Ending::Out(after(2)), Ending::Out(after(9)));
        (seen.layer, seen.surroundings) = (layer, around);
        if around != Ending::None {
            seen.surroundings = Ending::Out(after(6));
            let kind = MarkKind::LayerCaught;
            seen.marks = vec![Mark { at: after(1), kind, words: String::new() }];
        }
        record(&confirmed, seen).unwrap().duration_of_burning().time.value
    };
    assert_eq!(burns(LayerOutcome::Unchanged, Ending::None), seconds(2.0));
    assert_eq!(burns(LayerOutcome::Glowed, Ending::Out(at(0))), seconds(2.0));
    assert_eq!(burns(LayerOutcome::Flamed, Ending::Out(at(0))), seconds(6.0));
}

#[test]
fn a_number_is_traced_to_the_rules_that_it_comes_from() {
    let mut ordered = method_alone("30 s");
    ordered.profile = Some("iec-60598-1/2020".into());
    ordered.choices.clear();
    let requirement = resolve(&ordered, &library()).unwrap();
    let source = |key: &str| {
        let (_, entry) = requirement.entries.iter().find(|(it, _)| it.to_string() == key).unwrap();
        requirement.head(&entry.source).unwrap().standard.clone()
    };
    assert_eq!(source("burning.counting"), "IEC 60598-1");
    assert_eq!(source("confirmation.rise-time"), "IEC 60695-11-5");
    assert_eq!(requirement.head(&"iec-60335-1/5".into()), None);
}

#[test]
fn what_a_method_says_in_words_and_lists_is_read_as_it_stands() {
    let asked = resolve(&method_alone("30 s"), &library()).unwrap().asked;
    assert_eq!(asked.gas.kind.value, asked.gas.kind.text);
    assert_ne!(asked.gas.kind.value, "");
    let preferred = &asked.application.preferred;
    let shown: Vec<String> =
        preferred.value.iter().map(|it| format!("{:.0} s", it.seconds())).collect();
    assert_eq!(shown.join(", "), preferred.text);
    assert!(shown.len() > 1, "{shown:?}");
}
