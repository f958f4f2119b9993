//! What was seen of a specimen as the fields of a form, to be corrected there.

use trial::run::{Ending, Observed};

use super::fields::{Typed, Wrong};
use super::pressed::typed as instant;
use super::run_answers::{Known, MARKS, observed};

/// The field that takes the reason.
pub(crate) const REASON: &str = "reason";

/// The fields that a form of it has: so many applications, so many marks.
pub(crate) fn size(seen: &Observed) -> (usize, usize) {
    (seen.applications.len(), MARKS.max(seen.marks.len() + 1))
}

/// What was recorded, as one would type it.
pub(crate) fn offered(seen: &Observed) -> Typed {
    let mut typed = Typed::default();
    typed.put("began", seen.began.to_string());
    for (application, nth) in seen.applications.iter().zip(1..) {
        typed.put(&format!("on-{nth}"), instant(application.on));
        typed.put(&format!("removed-{nth}"), instant(application.removed));
    }
    let endings =
        [("flames", seen.flames), ("glow", seen.glow), ("surroundings", seen.surroundings)];
    for (field, ending) in endings {
        let how = match ending {
            Ending::None => "none",
            Ending::Out(_) => "out",
            Ending::PutOutByHand(_) => "by-hand",
        };
        typed.put(field, how);
        typed.put(&format!("{field}-at"), ending.at().map(instant).unwrap_or_default());
    }
    for (mark, nth) in seen.marks.iter().zip(1..) {
        typed.put(&format!("mark-{nth}-at"), instant(mark.at));
        typed.put(&format!("mark-{nth}"), mark.kind.word());
        typed.put(&format!("mark-{nth}-words"), mark.words.as_str());
    }
    typed.put("layer", seen.layer.word());
    typed.put("burnt", seen.burnt.word());
    if let Some(length) = seen.damaged_length {
        typed.put("damaged-length", number(length.value.millimetres()));
        typed.put("damaged-uncertainty", number(length.uncertainty.millimetres()));
    }
    typed.put("temperature", number(seen.air.temperature.celsius()));
    typed.put("humidity", number(seen.air.humidity.percent()));
    typed.put("note", seen.note.as_str());
    typed.put("spoilt", seen.spoilt.clone().unwrap_or_default());
    typed
}

/// To six decimals at most, and never with three, which could be read in two ways.
fn number(value: f64) -> String {
    let text = format!("{value:.6}");
    let (whole, decimals) = text.split_once('.').unwrap_or((&text, ""));
    match decimals.trim_end_matches('0') {
        "" => whole.to_owned(),
        three if three.len() == 3 => format!("{whole}.{three}0"),
        decimals => format!("{whole}.{decimals}"),
    }
}

/// What holds by these answers instead of what was recorded: who watched, on which clock and with
/// which files does not change, nor does a value whose field was not touched.
///
/// # Errors
///
/// All that is wrong with them, the reason included.
pub(crate) fn amended(typed: &Typed, before: &Observed) -> Result<Observed, Vec<Wrong>> {
    let reason = typed.needed(REASON, "Say why a value is corrected.").err();
    let known = Known {
        specimen: before.specimen,
        applications: before.applications.len(),
        describer: before.observer.clone(),
        evidence: before.evidence.clone(),
        pressed: None,
    };
    let read = match (observed(typed, known), reason) {
        (Ok(read), None) => read,
        (Ok(_), Some(reason)) => return Err(vec![reason]),
        (Err(wrong), reason) => return Err(reason.into_iter().chain(wrong).collect()),
    };
    let offered = offered(before);
    let same = |field: &str| typed.text(field) == offered.text(field);
    let mut after = Observed {
        observer: before.observer.clone(),
        timing_uncertainty: before.timing_uncertainty,
        clock_offset: before.clock_offset,
        note: typed.text("note").to_owned(),
        ..read
    };
    if same("temperature") {
        after.air.temperature = before.air.temperature;
    }
    if same("humidity") {
        after.air.humidity = before.air.humidity;
    }
    if same("damaged-length") && same("damaged-uncertainty") {
        after.damaged_length = before.damaged_length;
    }
    // The zero of its times is not asked.
    if let (Some(after), Some(before)) =
        (after.applications.first_mut(), before.applications.first())
    {
        after.on = before.on;
    }
    Ok(after)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::form::of_text;
    use crate::form::run::{RunForm, TEMPLATE};
    use trial::moment::Elapsed;
    use trial::number::PersonName;
    use trial::run::changes;

    fn before() -> Observed {
        let form: RunForm = of_text(TEMPLATE, "run.toml", "run template").unwrap();
        form.observed(&PersonName::from("Ada"), Vec::new()).unwrap()
    }

    #[test]
    fn what_is_offered_comes_back_the_same() {
        let mut typed = offered(&before());
        typed.put(REASON, "none");
        assert_eq!(amended(&typed, &before()).unwrap(), before());
    }

    #[test]
    fn a_corrected_value_needs_a_reason_and_is_told_beside_the_old_one() {
        let mut typed = offered(&before());
        typed.put("removed-1", "30,0");
        let wrong = amended(&typed, &before()).unwrap_err();
        assert_eq!(wrong, [Wrong::new(REASON, "Say why a value is corrected.")]);
        typed.put(REASON, "misread");
        let after = amended(&typed, &before()).unwrap();
        assert_eq!(after.applications[0].removed, Elapsed::from_microseconds(30_000_000));
        let changed = changes(&before(), &after);
        assert_eq!(changed.len(), 1, "{changed:?}");
        assert_eq!(
            (changed[0].what.as_str(), changed[0].after.as_str()),
            ("Flame 1 removed", "30.0 s")
        );
    }

    #[test]
    fn no_number_is_offered_with_three_decimals() {
        assert_eq!(number(23.412), "23.4120");
        assert_eq!(number(23.0), "23");
        assert_eq!(number(0.5), "0.5");
    }
}
