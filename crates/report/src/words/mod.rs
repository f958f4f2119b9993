//! The words of a report, all of them, in each language. A word that one language lacks does not
//! compile. What people typed, and what the record says in its own words, is not translated.

mod english;
mod german;
mod page;

use metrology::decision::DecisionRule;
use trial::care::DueItem;
use trial::equipment::{EquipmentKind, LotKind};
use trial::fact::Language;
use trial::finding::Stage;
use trial::method::{Demand, EachOrMean};
use trial::rules::Standing as NumberStanding;
use trial::run::{Burnt, LayerOutcome, MarkKind};
use trial::signature::{Meaning, Signed};

use crate::content::{PhotoTaken, Standing};
pub(crate) use page::Page;

/// The words of a language.
#[must_use]
pub(crate) const fn of(language: Language) -> &'static Words {
    match language {
        Language::English => &english::WORDS,
        Language::German => &german::WORDS,
    }
}

/// All words of one language.
pub(crate) struct Words {
    /// What the pages say by themselves.
    pub(crate) page: Page,
    /// A number as it is printed, of one that is written with a point.
    pub(crate) shown: fn(&str) -> String,
    /// A text of a rules file: a title, a number with its unit, a thing. What is not known stays.
    pub(crate) of_rules: fn(&str) -> String,
    pub(crate) clause: fn(&str) -> String,
    /// What stands between a standard and the count of its edition.
    pub(crate) edition: &'static str,
    pub(crate) made_up: &'static str,
    pub(crate) whole: Whole,
    pub(crate) conformity: Conformity,
    pub(crate) conditions: Conditions,
    pub(crate) results: Results,
    pub(crate) charts: Charts,
}

/// Of the report as a whole.
pub(crate) struct Whole {
    pub(crate) title: fn(&str) -> String,
    pub(crate) condition_not_noted: &'static str,
    pub(crate) sampling_not_known: &'static str,
    pub(crate) other_layer: fn(&str) -> String,
    pub(crate) no_layer: fn(&str) -> String,
    /// A key was set to a value, in place of another where there was one, for a reason.
    pub(crate) chosen: fn([&str; 2], Option<&str>, &str) -> String,
    /// What was due, and the day, person and reason by which it was let through.
    pub(crate) let_through: fn(&str, [&str; 3]) -> String,
    pub(crate) due: fn(&DueItem) -> String,
    pub(crate) may_issue: &'static str,
    pub(crate) of_the_laboratory: &'static str,
    pub(crate) refused: fn(Stage, &str) -> String,
    /// The specimen, the doubts, the reason.
    pub(crate) times_accepted: fn(u32, &str, &str) -> String,
    /// The entry, the reason; with a new fact or with nothing instead.
    pub(crate) corrected_by_fact: fn(u64, &str) -> String,
    pub(crate) corrected_by_nothing: fn(u64, &str) -> String,
    pub(crate) number_stands: fn(NumberStanding) -> &'static str,
    pub(crate) statements: [&'static str; 4],
    pub(crate) to_verify: &'static str,
    pub(crate) no_signatures_asked: &'static str,
    pub(crate) one_person: &'static str,
    pub(crate) signed: fn(Signed) -> String,
    pub(crate) meaning: fn(Meaning) -> &'static str,
    /// What a photograph shows: the specimen, and when.
    pub(crate) photo: fn(u32, PhotoTaken) -> String,
}

/// Of the statement of conformity.
pub(crate) struct Conformity {
    pub(crate) standing: fn(Standing) -> &'static str,
    /// The product standard and its title, the method.
    pub(crate) applies_to: fn([&str; 2], &str) -> String,
    /// So many of so many.
    pub(crate) met: fn(usize, usize) -> String,
    /// What is nearest: the demand, the value, the specimen, the limit.
    pub(crate) nearest: fn(Demand, &str, u32, &str) -> String,
    /// What decided: the specimen, the demand, what was found, what was asked.
    pub(crate) found: fn(u32, Demand, &str, &str) -> String,
    pub(crate) decided_by: fn(&str) -> String,
    pub(crate) further: fn(u64) -> String,
    pub(crate) not_judged: fn(&str) -> String,
    /// The place that lets so many more decide.
    pub(crate) staged: fn(&str, u64) -> String,
    pub(crate) rule: fn(DecisionRule) -> &'static str,
    pub(crate) half: &'static str,
    /// The ratio and the coverage factor of a guard band.
    pub(crate) guard: fn(&str, &str) -> String,
    pub(crate) most_sure: &'static str,
    pub(crate) least_sure: &'static str,
    /// A share, of which demand, on which specimen.
    pub(crate) of_value: fn(&str, Demand, u32) -> String,
    pub(crate) accepted_risk: fn(&str) -> String,
    pub(crate) rejected_risk: fn(&str) -> String,
    pub(crate) in_place_of: fn(&str) -> String,
    /// By whom and on which day.
    pub(crate) verified: fn(&str, &str) -> String,
    pub(crate) not_kept: &'static str,
    pub(crate) all: fn(usize, &str) -> String,
    pub(crate) one: fn(u32, &str) -> String,
    pub(crate) layer: fn(LayerOutcome) -> String,
    pub(crate) burnt: fn(Burnt) -> String,
    /// So many of so many, at a confidence, show a share.
    pub(crate) shows: fn([u64; 2], [&str; 2]) -> String,
    /// The specimen, the demand, the value, the distance, the limit.
    pub(crate) near_limit: fn(u32, Demand, [&str; 3]) -> String,
    pub(crate) within_uncertainty: &'static str,
    pub(crate) demanded: fn(Demand) -> &'static str,
}

/// Of the conditions and of the confirmation of the flame.
pub(crate) struct Conditions {
    /// So many applications of how long, with the pause between them.
    pub(crate) applications: fn(u64, &str, Option<&str>) -> String,
    pub(crate) specimens: fn(&str) -> String,
    pub(crate) layer_parts: &'static str,
    pub(crate) to: &'static str,
    pub(crate) not_recorded: &'static str,
    /// What was found, and what was asked of temperature and humidity.
    pub(crate) asked: fn(&str, [&str; 2]) -> String,
    pub(crate) lot: fn(LotKind, &str) -> String,
    /// The kind of layer, and how far below.
    pub(crate) layer: fn(&str, &str) -> String,
    pub(crate) no_layer: fn(&str) -> String,
    /// What, which lot, opened on which day.
    pub(crate) gas: fn(&str, [&str; 2]) -> String,
    pub(crate) equipment: fn(EquipmentKind) -> &'static str,
    /// So many determinations count.
    pub(crate) confirmed: fn(EachOrMean, usize) -> String,
    pub(crate) typed: fn(&str, Option<&str>) -> String,
    pub(crate) block: fn(&str) -> String,
    /// What the record remarks on a determination, in its own words.
    pub(crate) remark: fn(&str) -> String,
}

/// Of what was found on the specimens.
pub(crate) struct Results {
    /// More than what was timed: it was put out by hand.
    pub(crate) over: fn(&str) -> String,
    pub(crate) layer: fn(LayerOutcome) -> &'static str,
    pub(crate) put_out: [&'static str; 3],
    pub(crate) note: fn(&str) -> String,
    pub(crate) mark: fn(MarkKind) -> &'static str,
}

/// In the pictures.
pub(crate) struct Charts {
    pub(crate) removed: &'static str,
    pub(crate) limit: fn(&str) -> String,
    pub(crate) since_removal: &'static str,
    pub(crate) times: &'static str,
    pub(crate) parts: [&'static str; 4],
    pub(crate) number: fn(u32) -> String,
    pub(crate) void: &'static str,
    /// The number, the application, afterflame, afterglow, and both.
    pub(crate) told: fn(u32, [&str; 4]) -> String,
    pub(crate) spoilt: fn(u32, [&str; 4]) -> String,
    pub(crate) not_read: &'static str,
    pub(crate) accepted: fn(&str) -> String,
    pub(crate) between: fn(&str, &str) -> String,
    pub(crate) block_temperature: &'static str,
    pub(crate) since_passed: fn(&str) -> String,
    pub(crate) window: [&'static str; 2],
    /// Where the curves begin, each in words, what is accepted.
    pub(crate) curves: fn([&str; 3]) -> String,
    pub(crate) curves_title: &'static str,
    pub(crate) determination: fn(u32) -> String,
    pub(crate) determination_void: fn(u32) -> String,
    /// A determination, the top of the window, the rise time.
    pub(crate) curve: fn(u32, [&str; 2]) -> String,
    pub(crate) curve_void: fn(u32, [&str; 2]) -> String,
    pub(crate) rise_axis: &'static str,
    pub(crate) rises: fn(&str, &str) -> String,
    pub(crate) rises_title: &'static str,
}

#[cfg(test)]
mod tests {
    use super::*;
    use serde_json::{Map, Value};
    use std::collections::BTreeSet;
    use trial::rules::Library;

    /// Words that are the same in both languages.
    const ALIKE: [&str; 3] = ["gas", "name", "plan"];

    fn page(language: Language) -> Map<String, Value> {
        match serde_json::to_value(&of(language).page) {
            Ok(Value::Object(words)) => words,
            found => panic!("the words of the pages are an object: {found:?}"),
        }
    }

    #[test]
    fn no_word_of_the_pages_is_left_in_english_and_each_takes_the_same_values() {
        let (english, german) = (page(Language::English), page(Language::German));
        for (key, word) in &english {
            let other = &german[key];
            assert!(word != other || ALIKE.contains(&key.as_str()), "{key}: {word}");
            let values = |word: &Value| word.to_string().matches("{}").count();
            assert_eq!(values(word), values(other), "{key}");
        }
    }

    #[test]
    fn the_template_has_its_words_from_the_catalogue_and_none_of_its_own() {
        let template = include_str!("../pdf/report.typ");
        let letter = |sign: char| sign.is_ascii_alphanumeric() || sign == '-';
        let after = template.split("words.").skip(1);
        let mut named: BTreeSet<String> =
            after.map(|rest| rest.chars().take_while(|sign| letter(*sign)).collect()).collect();
        // Taken by the outcome that they name.
        named.extend(["kept", "not-kept", "undecided", "not-judged"].map(str::to_owned));
        let known: BTreeSet<String> = page(Language::English).keys().cloned().collect();
        assert_eq!(named, known);
        let code: String = template.lines().filter(|line| !line.starts_with("//")).collect();
        for word in page(Language::English).values().filter_map(Value::as_str) {
            let sentence = word.len() > 12 && word.contains(' ') && !word.contains("{}");
            assert!(!sentence || !code.contains(word), "{word}");
        }
    }

    #[test]
    fn the_titles_and_things_of_the_built_in_rules_have_german_words() {
        let library = Library::built_in(|bytes| {
            let mut hash = [0; 32];
            bytes.iter().enumerate().for_each(|(at, byte)| hash[at % 32] ^= byte);
            hash
        });
        let library = library.unwrap();
        let german = of(Language::German).of_rules;
        for rules in library.all() {
            let variants = rules.variants.values().map(|variant| &variant.title);
            let kinds = rules.entries.iter().filter(|(key, _)| key.0 == "layer.kind");
            let kinds = kinds.map(|(_, entry)| &entry.value);
            for text in std::iter::once(&rules.head.title).chain(variants).chain(kinds) {
                assert_ne!(german(text), *text, "{text}");
            }
        }
    }

    #[test]
    fn the_outcomes_of_both_languages_differ_in_every_case() {
        let (english, german) = (of(Language::English), of(Language::German));
        for stage in Stage::ALL {
            let told = (german.whole.refused)(*stage, "x");
            assert_ne!((english.whole.refused)(*stage, "x"), told);
        }
        for outcome in LayerOutcome::ALL {
            assert_ne!((english.results.layer)(*outcome), (german.results.layer)(*outcome));
        }
        for kind in EquipmentKind::ALL {
            assert_ne!((english.conditions.equipment)(*kind), (german.conditions.equipment)(*kind));
        }
        for kind in MarkKind::ALL {
            assert_ne!((english.results.mark)(*kind), (german.results.mark)(*kind));
        }
    }
}
