//! The answers of a description, to what was observed on one specimen.

use metrology::{DegreesOfFreedom, Duration, Length, Measurement, Ratio, Temperature};
use trial::fact::Evidence;
use trial::moment::{Elapsed, Moment};
use trial::number::{PersonName, SpecimenNumber};
use trial::run::{Air, Application, Burnt, Ending, LayerOutcome, Mark, MarkKind, Observed};

use super::fields::{Typed, Wrong};
use super::number::{self, CELSIUS, Kind, MILLIMETRES, PERCENT, SECONDS};

/// So many marks can be described.
pub(crate) const MARKS: usize = 6;

/// The standard uncertainty of a time that was read off a stop-watch and typed: two presses by
/// hand. *Common practice.*
const TYPED_TIME_S: f64 = 0.2;

/// What the record says of such times.
const TIMES_TYPED: &str = "The times were typed from a stop-watch.";

/// What a description rests on besides its answers.
pub(crate) struct Known {
    /// The specimen.
    pub(crate) specimen: SpecimenNumber,
    /// How many applications the plan asks for.
    pub(crate) applications: usize,
    /// Who describes it.
    pub(crate) observer: PersonName,
    /// Its photographs, filed already.
    pub(crate) evidence: Vec<Evidence>,
}

/// What was observed by these answers.
///
/// # Errors
///
/// All that is wrong with them.
pub(crate) fn observed(typed: &Typed, known: Known) -> Result<Observed, Vec<Wrong>> {
    let mut read = Reading { typed, wrong: Vec::new() };
    let began = read.began();
    let applications = read.applications(known.applications);
    let (flames, glow) = (read.ending("flames", "flames"), read.ending("glow", "glow"));
    let surroundings = read.ending("surroundings", "layer and surroundings");
    let layer = read.word("layer", "Say what became of the layer below.", LayerOutcome::of_word);
    let burnt = read.word("burnt", "Say how much of the specimen burnt.", Burnt::of_word);
    let temperature = read.number("temperature", "The temperature of the air", &CELSIUS);
    let humidity = read.number("humidity", "The relative humidity", &PERCENT);
    let damaged_length = read.damaged_length();
    let marks = read.marks();
    let (Some(began), Some(layer), Some(burnt), Some(temperature), Some(humidity), true) =
        (began, layer, burnt, temperature, humidity, read.wrong.is_empty())
    else {
        return Err(read.wrong);
    };
    let (flames, glow) = (flames.unwrap_or(Ending::None), glow.unwrap_or(Ending::None));
    Ok(Observed {
        specimen: known.specimen,
        began,
        air: Air {
            temperature: Temperature::from_celsius(temperature.value()),
            humidity: Ratio::from_percent(humidity.value()),
        },
        applications,
        flames,
        glow,
        surroundings: surroundings.unwrap_or(Ending::None),
        layer,
        burnt,
        damaged_length,
        marks,
        spoilt: Some(typed.text("spoilt").to_owned()).filter(|why| !why.is_empty()),
        observer: known.observer,
        timing_uncertainty: Duration::from_seconds(TYPED_TIME_S),
        clock_offset: Duration::ZERO,
        evidence: known.evidence,
        note: [typed.text("note"), TIMES_TYPED].join(" ").trim().to_owned(),
    })
}

struct Reading<'t> {
    typed: &'t Typed,
    wrong: Vec<Wrong>,
}

impl Reading<'_> {
    fn number(&mut self, field: &str, what: &str, kind: &Kind) -> Option<number::Number> {
        let text = self.typed.text(field);
        let read = number::read(text, kind);
        read.map_err(|fault| self.wrong.push(Wrong::new(field, fault.words(what, text, kind)))).ok()
    }

    fn instant(&mut self, field: &str, what: &str) -> Option<Elapsed> {
        let number = self.number(field, what, &SECONDS)?;
        Some(Elapsed::from_microseconds(number.millionths))
    }

    fn word<W>(&mut self, field: &str, ask: &str, of_word: fn(&str) -> Option<W>) -> Option<W> {
        let found = of_word(self.typed.text(field));
        if found.is_none() {
            self.wrong.push(Wrong::new(field, ask));
        }
        found
    }

    fn began(&mut self) -> Option<Moment> {
        let text = self.typed.text("began");
        let read = Moment::parse(text).or_else(|_| Moment::parse(&format!("{text}Z"))).ok();
        if read.is_none() {
            let words = "Type when the first flame touched the specimen, such as 2026-11-25 09:40.";
            self.wrong.push(Wrong::new("began", words));
        }
        read
    }

    fn applications(&mut self, count: usize) -> Vec<Application> {
        let one = |nth: usize| {
            let on = match nth {
                1 => Some(Elapsed::ZERO),
                _ => self.instant(&format!("on-{nth}"), &format!("Flame {nth} on specimen")),
            };
            let what = format!("Flame {nth} removed");
            let removed = self.instant(&format!("removed-{nth}"), &what);
            Some(Application { on: on?, removed: removed? })
        };
        (1..=count).filter_map(one).collect()
    }

    /// How something ended: `none`, `out` or `by-hand`, and when.
    fn ending(&mut self, field: &str, what: &str) -> Option<Ending> {
        let how = self.typed.text(field).to_owned();
        let at = format!("{field}-at");
        let ended = format!("When the {what} were last seen");
        match how.as_str() {
            "none" => Some(Ending::None),
            "out" => self.instant(&at, &ended).map(Ending::Out),
            "by-hand" => self.instant(&at, &ended).map(Ending::PutOutByHand),
            _ => {
                let words =
                    format!("Say how {what} ended after the last removal, or that none were.");
                self.wrong.push(Wrong::new(field, words));
                None
            }
        }
    }

    fn damaged_length(&mut self) -> Option<Measurement<Length>> {
        if self.typed.text("damaged-length").is_empty() {
            return None;
        }
        let length = self.number("damaged-length", "The damaged length", &MILLIMETRES);
        let what = "The standard uncertainty of the damaged length";
        let uncertainty = self.number("damaged-uncertainty", what, &MILLIMETRES);
        Some(Measurement {
            value: Length::from_millimetres(length?.value()),
            uncertainty: Length::from_millimetres(uncertainty?.value()),
            degrees_of_freedom: DegreesOfFreedom::Infinite,
        })
    }

    fn marks(&mut self) -> Vec<Mark> {
        let one = |nth: usize| {
            let (at, kind) = (format!("mark-{nth}-at"), format!("mark-{nth}"));
            if self.typed.text(&at).is_empty() {
                return None;
            }
            let at = self.instant(&at, &format!("Mark {nth}"));
            let ask = format!("Say what mark {nth} was.");
            let named = self.word(&kind, &ask, MarkKind::of_word);
            let words = self.typed.text(&format!("mark-{nth}-words")).to_owned();
            Some(Mark { at: at?, kind: named?, words })
        };
        (1..=MARKS).filter_map(one).collect()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn known() -> Known {
        Known {
            specimen: SpecimenNumber(2),
            applications: 1,
            observer: PersonName::from("Ada"),
            evidence: Vec::new(),
        }
    }

    fn typed(change: &[(&str, &str)]) -> Typed {
        let mut typed = Typed::default();
        let plain = [
            ("began", "2026-11-25 09:40"),
            ("removed-1", "30,2"),
            ("flames", "out"),
            ("flames-at", "41.7 s"),
            ("glow", "none"),
            ("surroundings", "none"),
            ("layer", "unchanged"),
            ("burnt", "partly"),
            ("temperature", "23"),
            ("humidity", "48 %"),
        ];
        for (field, text) in plain.iter().chain(change) {
            typed.put(field, *text);
        }
        typed
    }

    #[test]
    fn answers_come_to_what_was_observed() {
        let change = [("mark-1-at", "7,4"), ("mark-1", "drop"), ("note", "crackled")];
        let seen = observed(&typed(&change), known()).unwrap();
        assert_eq!(seen.applications[0].removed, Elapsed::from_microseconds(30_200_000));
        assert_eq!(seen.flames, Ending::Out(Elapsed::from_microseconds(41_700_000)));
        assert_eq!(seen.marks[0].kind, MarkKind::Drop);
        assert_eq!(seen.spoilt, None);
        assert_eq!(seen.note, "crackled The times were typed from a stop-watch.");
    }

    #[test]
    fn each_wrong_answer_names_its_field() {
        let check = |change: &[(&str, &str)], fields: &[&str]| {
            let wrong = observed(&typed(change), known()).unwrap_err();
            let found: Vec<&str> = wrong.iter().map(|wrong| wrong.field.as_str()).collect();
            assert_eq!(found, fields);
        };
        check(&[("began", "today")], &["began"]);
        check(&[("removed-1", "")], &["removed-1"]);
        check(&[("flames-at", "1.234")], &["flames-at"]);
        check(&[("glow", "")], &["glow"]);
        check(&[("layer", "singed"), ("burnt", "")], &["layer", "burnt"]);
        check(&[("mark-2-at", "9"), ("mark-2", "")], &["mark-2"]);
        check(&[("damaged-length", "23 mm")], &["damaged-uncertainty"]);
    }
}
