//! The form of one specimen's run: what was seen at the flame.

use std::path::PathBuf;

use metrology::{DegreesOfFreedom, Duration, Length, Measurement, Ratio, Temperature};
use serde::Deserialize;
use trial::fact::Evidence;
use trial::moment::{Elapsed, Moment};
use trial::number::{PersonName, SpecimenNumber};
use trial::run::{Air, Application, Burnt, Ending, LayerOutcome, Mark, MarkKind, Observed};

use super::written::Written;
use crate::problem::Problem;

/// A form to fill in, every line explained.
pub(crate) const TEMPLATE: &str = include_str!("run.toml");

/// The form, filled in.
#[derive(Deserialize)]
#[serde(deny_unknown_fields, rename_all = "kebab-case")]
pub(crate) struct RunForm {
    specimen: u32,
    began: Written<Moment>,
    air: AirForm,
    applications: Vec<ApplicationForm>,
    flames: EndingForm,
    glow: EndingForm,
    surroundings: EndingForm,
    layer: String,
    burnt: String,
    damaged_length: Option<LengthForm>,
    #[serde(default, rename = "mark")]
    marks: Vec<MarkForm>,
    observer: Option<String>,
    timing_uncertainty: Written<Duration>,
    clock_offset: Option<Written<Duration>>,
    /// Photographs and other files to keep, by path beside the form.
    #[serde(default)]
    pub(crate) photos: Vec<PathBuf>,
    #[serde(default)]
    note: String,
    spoilt: Option<String>,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct AirForm {
    temperature: Written<Temperature>,
    humidity: Written<Ratio>,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct ApplicationForm {
    on: Written<Elapsed>,
    removed: Written<Elapsed>,
}

#[derive(Deserialize)]
#[serde(
    untagged,
    expecting = "write \"none\", { out = \"41.7 s\" } or { put-out-by-hand = \"60 s\" }"
)]
enum EndingForm {
    Word(NoneWord),
    Out {
        out: Written<Elapsed>,
    },
    #[serde(rename_all = "kebab-case")]
    ByHand {
        put_out_by_hand: Written<Elapsed>,
    },
}

#[derive(Deserialize)]
#[serde(rename_all = "kebab-case")]
enum NoneWord {
    None,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct LengthForm {
    value: Written<Length>,
    uncertainty: Written<Length>,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct MarkForm {
    at: Written<Elapsed>,
    kind: String,
    #[serde(default)]
    words: String,
}

impl RunForm {
    /// Which specimen it is about.
    pub(crate) const fn specimen(&self) -> SpecimenNumber {
        SpecimenNumber(self.specimen)
    }

    /// What was observed, seen by `observer` unless the form names another, with its photographs
    /// on file.
    ///
    /// # Errors
    ///
    /// [`Problem`] that names a word which is not one of those to choose from.
    pub(crate) fn observed(
        self,
        observer: &PersonName,
        evidence: Vec<Evidence>,
    ) -> Result<Observed, Problem> {
        let marks = self.marks.into_iter().map(MarkForm::mark).collect::<Result<_, _>>()?;
        Ok(Observed {
            specimen: SpecimenNumber(self.specimen),
            began: self.began.0,
            air: Air { temperature: self.air.temperature.0, humidity: self.air.humidity.0 },
            applications: self.applications.into_iter().map(ApplicationForm::application).collect(),
            flames: self.flames.ending(),
            glow: self.glow.ending(),
            surroundings: self.surroundings.ending(),
            layer: word("layer", &self.layer, LayerOutcome::of_word, LayerOutcome::ALL)?,
            burnt: word("burnt", &self.burnt, Burnt::of_word, Burnt::ALL)?,
            damaged_length: self.damaged_length.map(LengthForm::measurement),
            marks,
            spoilt: self.spoilt,
            observer: self.observer.map_or_else(|| observer.clone(), PersonName),
            timing_uncertainty: self.timing_uncertainty.0,
            clock_offset: self.clock_offset.map_or(Duration::ZERO, |Written(offset)| offset),
            evidence,
            note: self.note,
        })
    }
}

impl ApplicationForm {
    fn application(self) -> Application {
        Application { on: self.on.0, removed: self.removed.0 }
    }
}

impl EndingForm {
    fn ending(self) -> Ending {
        match self {
            Self::Word(NoneWord::None) => Ending::None,
            Self::Out { out } => Ending::Out(out.0),
            Self::ByHand { put_out_by_hand } => Ending::PutOutByHand(put_out_by_hand.0),
        }
    }
}

impl LengthForm {
    const fn measurement(self) -> Measurement<Length> {
        Measurement {
            value: self.value.0,
            uncertainty: self.uncertainty.0,
            degrees_of_freedom: DegreesOfFreedom::Infinite,
        }
    }
}

impl MarkForm {
    fn mark(self) -> Result<Mark, Problem> {
        let kind = word("kind of mark", &self.kind, MarkKind::of_word, MarkKind::ALL)?;
        Ok(Mark { at: self.at.0, kind, words: self.words })
    }
}

/// One of a closed list of words.
///
/// # Errors
///
/// [`Problem`] that names the words to choose from.
pub(crate) fn word<W: Copy + std::fmt::Display>(
    what: &str,
    said: &str,
    of_word: fn(&str) -> Option<W>,
    all: &[W],
) -> Result<W, Problem> {
    of_word(said).ok_or_else(|| {
        let known: Vec<String> = all.iter().map(ToString::to_string).collect();
        Problem::used_wrongly(format!("`{said}` is no {what} that the tool knows"))
            .hint(format!("Write one of {}.", known.join(", ")))
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::form::of_text;

    #[test]
    fn the_template_is_a_run_that_can_be_read() {
        let form: RunForm = of_text(TEMPLATE, "run.toml", "run template").unwrap();
        let seen = form.observed(&PersonName::from("Ada"), Vec::new()).unwrap();
        assert_eq!(seen.flames, Ending::Out(Elapsed::from_microseconds(41_700_000)));
        assert_eq!(seen.glow, Ending::None);
        assert_eq!(seen.layer, LayerOutcome::Unchanged);
        assert_eq!(seen.observer, PersonName::from("Ada"));
    }

    #[test]
    fn a_word_that_is_not_known_names_the_known_ones() {
        let text = TEMPLATE.replace("layer = \"unchanged\"", "layer = \"singed\"");
        let form: RunForm = of_text(&text, "run.toml", "run template").unwrap();
        let problem = form.observed(&PersonName::from("Ada"), Vec::new()).unwrap_err();
        assert!(problem.hint.unwrap().contains("scorched"));
    }
}
