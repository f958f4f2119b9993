//! The answers of a description, to what was observed on one specimen.

use metrology::{DegreesOfFreedom, Duration, Length, Measurement, Ratio, Temperature};
use trial::fact::Evidence;
use trial::moment::{Elapsed, Moment};
use trial::number::{PersonName, SpecimenNumber};
use trial::run::{Air, Application, Burnt, Ending, LayerOutcome, Mark, MarkKind, Observed};

use super::fields::{Typed, Wrong};
use super::number::{self, CELSIUS, Kind, MILLIMETRES, PERCENT, SECONDS};
use super::pressed::{self, Pressed};

/// So many marks can be described where none were pressed.
pub(crate) const MARKS: usize = 6;

/// The answer that a mark was pressed by mistake, and what the record then calls it.
pub(crate) const BY_MISTAKE: (&str, &str) = ("by-mistake", "press by mistake");

/// The standard uncertainty of a time between two presses by hand, on a stop-watch or at the bench.
/// *Common practice*; two presses whose moments are foreseen: 0.10 s (Am. J. Phys. 87, 110).
const PRESSED_TIME_S: f64 = 0.2;

/// What the record says of times that were not pressed at the bench.
const TIMES_TYPED: &str = "The times were typed from a stop-watch.";

/// What it says where flames and glow were pressed, and there were none.
const NEITHER: &str = "Flames and glow were pressed at once after the removal; there was neither.";

/// What a description rests on besides its answers.
pub(crate) struct Known {
    /// The specimen.
    pub(crate) specimen: SpecimenNumber,
    /// How many applications the plan asks for.
    pub(crate) applications: usize,
    /// Who describes it.
    pub(crate) describer: PersonName,
    /// Its photographs, filed already.
    pub(crate) evidence: Vec<Evidence>,
    /// What was pressed at the bench, if it was.
    pub(crate) pressed: Option<Pressed>,
}

/// When things were.
struct Times {
    began: Moment,
    applications: Vec<Application>,
    flames: Ending,
    glow: Ending,
    /// None: it is asked with the layer.
    surroundings: Option<Ending>,
}

/// The answers that stand before anything is asked: what was pressed.
pub(crate) fn offered(pressed: Option<&Pressed>) -> Typed {
    let mut typed = Typed::default();
    let Some(Pressed { timing, .. }) = pressed else { return typed };
    typed.put("began", timing.began.to_string());
    for (application, nth) in timing.applications.iter().zip(1..) {
        typed.put(&format!("on-{nth}"), pressed::typed(application.on));
        typed.put(&format!("removed-{nth}"), pressed::typed(application.removed));
    }
    let endings =
        [("flames", timing.flames), ("glow", timing.glow), ("surroundings", timing.surroundings)];
    for (field, ending) in endings {
        let how = match ending {
            Ending::None if field == "surroundings" => continue,
            Ending::None => "none",
            Ending::Out(_) => "out",
            Ending::PutOutByHand(_) => "by-hand",
        };
        typed.put(field, how);
        typed.put(&format!("{field}-at"), ending.at().map(pressed::typed).unwrap_or_default());
    }
    for (mark, nth) in timing.marks.iter().zip(1..) {
        typed.put(&format!("mark-{nth}"), mark.kind.map_or("", MarkKind::word));
    }
    typed
}

/// What was observed by these answers.
///
/// # Errors
///
/// All that is wrong with them.
pub(crate) fn observed(typed: &Typed, known: Known) -> Result<Observed, Vec<Wrong>> {
    let mut read = Reading { typed, wrong: Vec::new() };
    let times = read.times(&known);
    let marks = read.marks(known.pressed.as_ref());
    let layer = read.word("layer", "Say what became of the layer below.", LayerOutcome::of_word);
    let surroundings = match times.as_ref().map(|times| times.surroundings) {
        Some(Some(pressed)) => Some(pressed),
        Some(None) | None => read.ending("surroundings", "layer and surroundings"),
    };
    let burnt = read.word("burnt", "Say how much of the specimen burnt.", Burnt::of_word);
    let temperature = read.number("temperature", "The temperature of the air", &CELSIUS);
    let humidity = read.number("humidity", "The relative humidity", &PERCENT);
    let damaged_length = read.damaged_length();
    let (Some(times), Some(layer), Some(burnt), Some(temperature), Some(humidity), true) =
        (times, layer, burnt, temperature, humidity, read.wrong.is_empty())
    else {
        return Err(read.wrong);
    };
    let across = known.pressed.as_ref().map_or(Duration::ZERO, |pressed| pressed.timing.across);
    let who = known.pressed.as_ref().map(|pressed| pressed.who.clone());
    let mut seen = Observed {
        specimen: known.specimen,
        began: times.began,
        air: Air {
            temperature: Temperature::from_celsius(temperature.value()),
            humidity: Ratio::from_percent(humidity.value()),
        },
        applications: times.applications,
        flames: times.flames,
        glow: times.glow,
        surroundings: surroundings.unwrap_or(Ending::None),
        layer,
        burnt,
        damaged_length,
        marks,
        spoilt: Some(typed.text("spoilt").to_owned()).filter(|why| !why.is_empty()),
        observer: who.unwrap_or(known.describer),
        timing_uncertainty: uncertainty(across),
        clock_offset: across,
        evidence: known.evidence,
        note: String::new(),
    };
    seen.note = note(typed, known.pressed.as_ref(), &seen);
    Ok(seen)
}

/// Of a time: two presses by hand, and what a take-over adds, which may lie anywhere within its ±.
fn uncertainty(across: Duration) -> Duration {
    let across = across.seconds();
    Duration::from_seconds((PRESSED_TIME_S * PRESSED_TIME_S + across * across / 3.0).sqrt())
}

/// What was typed, and what the record has to say of the times.
fn note(typed: &Typed, pressed: Option<&Pressed>, seen: &Observed) -> String {
    let mut said = vec![typed.text("note").to_owned()];
    if pressed.is_none() {
        said.push(TIMES_TYPED.to_owned());
    }
    let changed = pressed.map(|pressed| pressed.changed(seen)).unwrap_or_default();
    said.extend(
        changed
            .iter()
            .map(|it| format!("{}: {} instead of {} as pressed.", it.what, it.holds, it.pressed)),
    );
    if pressed.is_some_and(|pressed| pressed.asks) && typed.text("any") == "no" {
        said.push(NEITHER.to_owned());
    }
    let reason = typed.text("times-reason");
    if !changed.is_empty() && !reason.is_empty() {
        said.push(format!("Corrected because: {reason}."));
    }
    let doubts = pressed.map(|pressed| pressed.doubts.as_slice()).unwrap_or_default();
    said.extend(doubts.iter().map(|doubt| format!("The device on its time: {doubt}.")));
    said.retain(|part| !part.is_empty());
    said.join(" ")
}

/// When the first flame touched it, as it was typed.
pub(crate) fn began(typed: &Typed) -> Option<Moment> {
    let text = typed.text("began");
    Moment::parse(text).or_else(|_| Moment::parse(&format!("{text}Z"))).ok()
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

    /// As typed: what was pressed was offered, and what departs from it needs a reason.
    fn times(&mut self, known: &Known) -> Option<Times> {
        let Some(Pressed { timing, asks, .. }) = &known.pressed else {
            let (began, applications) = (self.began(), self.applications(known.applications));
            let flames = self.ending("flames", "flames");
            let glow = self.ending("glow", "glow");
            let (began, flames, glow) = (began?, flames?, glow?);
            return Some(Times { began, applications, flames, glow, surroundings: None });
        };
        let neither = *asks && self.typed.text("any") == "no";
        if *asks && !matches!(self.typed.text("any"), "yes" | "no") {
            let ask = "Say whether there was any flame or glow after the removal.";
            self.wrong.push(Wrong::new("any", ask));
        }
        let applications = self.applications(timing.applications.len());
        let flames = self.ending("flames", "flames");
        let glow = self.ending("glow", "glow");
        let surroundings = match timing.surroundings {
            Ending::None => None,
            Ending::Out(_) | Ending::PutOutByHand(_) => {
                Some(self.ending("surroundings", "layer and surroundings")?)
            }
        };
        let (flames, glow) = (flames?, glow?);
        let layer = surroundings.unwrap_or(Ending::None);
        let pressed = (&timing.applications, timing.flames, timing.glow, timing.surroundings);
        if (&applications, flames, glow, layer) != pressed
            && let Err(wrong) = self.typed.needed("times-reason", "Say why a time is corrected.")
        {
            self.wrong.push(wrong);
        }
        let (flames, glow) = if neither { (Ending::None, Ending::None) } else { (flames, glow) };
        Some(Times { began: timing.began, applications, flames, glow, surroundings })
    }

    fn began(&mut self) -> Option<Moment> {
        let read = began(self.typed);
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

    /// Those that were pressed, each named; else those that were typed.
    fn marks(&mut self, pressed: Option<&Pressed>) -> Vec<Mark> {
        let Some(Pressed { timing, .. }) = pressed else {
            let more = |nth: &usize| {
                *nth <= MARKS || self.typed.all(&format!("mark-{nth}-at")).next().is_some()
            };
            let count = (1..).take_while(more).count();
            return (1..=count).filter_map(|nth| self.typed_mark(nth)).collect();
        };
        let marks = timing.marks.iter().zip(1..);
        marks.filter_map(|(mark, nth)| self.named_mark(nth, mark.at)).collect()
    }

    fn typed_mark(&mut self, nth: usize) -> Option<Mark> {
        let field = format!("mark-{nth}-at");
        if self.typed.text(&field).is_empty() {
            return None;
        }
        let at = self.instant(&field, &format!("Mark {nth}"));
        let named = self.named_mark(nth, at.unwrap_or(Elapsed::ZERO));
        at.and(named)
    }

    fn named_mark(&mut self, nth: usize, at: Elapsed) -> Option<Mark> {
        let field = format!("mark-{nth}");
        if self.typed.text(&field) == BY_MISTAKE.0 {
            return Some(Mark { at, kind: MarkKind::Other, words: BY_MISTAKE.1.to_owned() });
        }
        let ask = format!("Say what mark {nth} at {} was.", pressed::tenths(at));
        let kind = self.word(&field, &ask, MarkKind::of_word)?;
        Some(Mark { at, kind, words: self.typed.text(&format!("mark-{nth}-words")).to_owned() })
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use trial::bench::{Seen, Timing};

    fn known(pressed: Option<Pressed>) -> Known {
        Known {
            specimen: SpecimenNumber(2),
            applications: 1,
            describer: PersonName::from("Ada"),
            evidence: Vec::new(),
            pressed,
        }
    }

    fn at(microseconds: i64) -> Elapsed {
        Elapsed::from_microseconds(microseconds)
    }

    /// 30.2 s of flame, out at 41.7 s, glow out at 44.0 s, one mark without a name at 7.4 s.
    fn pressed() -> Pressed {
        Pressed {
            timing: Timing {
                began: Moment::parse("2026-11-25T09:40:00Z").unwrap(),
                applications: vec![Application { on: Elapsed::ZERO, removed: at(30_200_000) }],
                flames: Ending::Out(at(41_700_000)),
                glow: Ending::Out(at(44_000_000)),
                surroundings: Ending::None,
                marks: vec![Seen { press: 1, at: at(7_400_000), kind: None }],
                across: Duration::ZERO,
            },
            who: PersonName::from("Bea"),
            asks: false,
            doubts: Vec::new(),
        }
    }

    fn answers(before: Typed, plain: &[(&str, &str)], change: &[(&str, &str)]) -> Typed {
        let mut typed = before;
        for (field, text) in plain.iter().chain(change) {
            typed.put(field, *text);
        }
        typed
    }

    const SEEN: [(&str, &str); 5] = [
        ("surroundings", "none"),
        ("layer", "unchanged"),
        ("burnt", "partly"),
        ("temperature", "23"),
        ("humidity", "48 %"),
    ];

    /// Nothing was pressed: the times are typed.
    fn typed(change: &[(&str, &str)]) -> Typed {
        let times = [
            ("began", "2026-11-25 09:40"),
            ("removed-1", "30,2"),
            ("flames", "out"),
            ("flames-at", "41.7 s"),
            ("glow", "none"),
        ];
        answers(answers(Typed::default(), &SEEN, &[]), &times, change)
    }

    #[test]
    fn answers_come_to_what_was_observed() {
        let change = [("mark-1-at", "7,4"), ("mark-1", "drop"), ("note", "crackled")];
        let seen = observed(&typed(&change), known(None)).unwrap();
        assert_eq!(seen.applications[0].removed, at(30_200_000));
        assert_eq!(seen.flames, Ending::Out(at(41_700_000)));
        assert_eq!(seen.marks[0].kind, MarkKind::Drop);
        assert_eq!(seen.spoilt, None);
        assert_eq!(seen.observer, PersonName::from("Ada"));
        assert_eq!(seen.note, "crackled The times were typed from a stop-watch.");
    }

    #[test]
    fn each_wrong_answer_names_its_field() {
        let check = |change: &[(&str, &str)], fields: &[&str]| {
            let wrong = observed(&typed(change), known(None)).unwrap_err();
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

    #[test]
    fn what_was_pressed_holds_and_its_marks_are_named() {
        let pressed = pressed();
        let plain = || answers(offered(Some(&pressed)), &SEEN, &[]);
        let unnamed = observed(&plain(), known(Some(pressed.clone()))).unwrap_err();
        assert_eq!(unnamed, [Wrong::new("mark-1", "Say what mark 1 at 7.4 s was.")]);
        let named = answers(plain(), &[("mark-1", "by-mistake")], &[]);
        let seen = observed(&named, known(Some(pressed.clone()))).unwrap();
        assert_eq!(seen.glow, Ending::Out(at(44_000_000)));
        assert_eq!(
            (seen.marks[0].at, seen.marks[0].words.as_str()),
            (at(7_400_000), "press by mistake")
        );
        assert_eq!((seen.observer.0.as_str(), seen.note.as_str()), ("Bea", ""));
        assert_eq!(seen.timing_uncertainty, Duration::from_seconds(PRESSED_TIME_S));
        assert_eq!(pressed.changed(&seen), []);
    }

    #[test]
    fn a_pressed_time_is_corrected_with_a_reason_and_both_are_kept() {
        let pressed = pressed();
        let wrong = [("mark-1", "drop"), ("removed-1", "30.0")];
        let typed = answers(offered(Some(&pressed)), &SEEN, &wrong);
        let refused = observed(&typed, known(Some(pressed.clone()))).unwrap_err();
        assert_eq!(refused, [Wrong::new("times-reason", "Say why a time is corrected.")]);
        let typed = answers(typed, &[("times-reason", "my foot slipped")], &[]);
        let seen = observed(&typed, known(Some(pressed.clone()))).unwrap();
        assert_eq!(seen.applications[0].removed, at(30_000_000));
        assert_eq!(
            seen.note,
            "Flame 1 removed: 30.0 s instead of 30.2 s as pressed. \
             Corrected because: my foot slipped."
        );
        let holds = Ending::Out(at(41_700_000));
        assert_eq!((seen.flames, pressed.changed(&seen).len()), (holds, 1));
    }

    #[test]
    fn two_quick_presses_are_asked_about() {
        let pressed = Pressed { asks: true, ..pressed() };
        let plain = answers(offered(Some(&pressed)), &SEEN, &[("mark-1", "drop")]);
        let open = observed(&plain, known(Some(pressed.clone()))).unwrap_err();
        assert_eq!(open[0].field, "any");
        let seen = |any: &str| {
            let typed = answers(plain.clone(), &[("any", any)], &[]);
            observed(&typed, known(Some(pressed.clone()))).unwrap()
        };
        assert_eq!((seen("no").flames, seen("no").glow), (Ending::None, Ending::None));
        assert!(seen("no").note.ends_with(NEITHER), "{}", seen("no").note);
        assert_eq!(seen("yes").note, "");
        assert_eq!(seen("yes").flames, pressed.timing.flames);
    }

    #[test]
    fn a_take_over_widens_the_uncertainty_and_a_doubt_is_said() {
        let mut pressed = pressed();
        pressed.timing.across = Duration::from_seconds(0.6);
        pressed.doubts = vec!["this page stood still for 4.0 s: ± 0.05 s".to_owned()];
        let typed = answers(offered(Some(&pressed)), &SEEN, &[("mark-1", "drop")]);
        let seen = observed(&typed, known(Some(pressed))).unwrap();
        // 0.2² + 0.6²/3 = 0.16
        assert!((seen.timing_uncertainty.seconds() - 0.4).abs() < 1e-12);
        assert_eq!(seen.clock_offset, Duration::from_seconds(0.6));
        assert!(seen.note.contains("stood still for 4.0 s"), "{}", seen.note);
    }
}
