//! The story: one specimen does not meet the requirement, two further ones do.

use std::path::Path;

use ledger::Book;
use metrology::{Length, Ratio, Temperature};
use trial::fact::{BookKind, Conditioned, Conditioning, EvidenceKind, Fact, Laboratory, Language};
use trial::moment::Moment;
use trial::number::{PersonName, PlanNumber, SpecimenNumber};
use trial::readiness::CAUTIONS;
use trial::rules::Range;
use trial::signature::{Identified, Meaning, Signed};

use super::{Told, bench};
use crate::book::{OpenBook, Time, from_ledger};
use crate::cli::judge::told;
use crate::cli::report::write;
use crate::form;
use crate::form::run::RunForm;
use crate::output::Output;
use crate::problem::Problem;
use crate::step;
use crate::step::confirm::Heating;

/// The first plan of the book.
const PLAN: PlanNumber = PlanNumber(1);

/// What is stated to read the loggers' files.
const READ_AS: [&str; 2] = ["--channel=Block", "--class=1"];

/// Opens the book, sets the laboratory up, and plays the test.
pub(super) fn play(folder: &Path, files: &Path, output: &Output) -> Result<Told, Problem> {
    let book = Book::create(&folder.join("book")).map_err(|error| from_ledger(&error))?;
    let engineer = PersonName::from(bench::PEOPLE[0].0);
    let opened = at("2026-03-02T08:00:00Z")?;
    let mut book = OpenBook::of(book, Some(engineer), Time::Story(opened))?;
    let laboratory = Laboratory {
        name: "Vesperfield Fire-Hazard Laboratory (made up)".to_owned(),
        address: "3 Tallow Court, Mirefield (made up)".to_owned(),
        place: "Dark room 1, Vesperfield".to_owned(),
    };
    book.keep(&Fact::BookOpened { laboratory, kind: BookKind::MadeUp }, output)?;
    for fact in bench::facts() {
        book.keep(&fact, output)?;
    }
    let mut lines = vec!["The laboratory, the part and all results are made up.".to_owned()];
    plan(&mut book, &mut lines, output)?;
    ready(&mut book, &mut lines, output)?;
    confirm(&mut book, files, &mut lines, output)?;
    specimens(&mut book, files, &mut lines, output)?;
    signed(&mut book, &mut lines, output)?;
    issue(&mut book, folder, &mut lines, output)?;
    Ok(Told { lines, one_file: files.join("determination-2.csv") })
}

/// A moment of the story.
fn at(text: &str) -> Result<Moment, Problem> {
    Moment::parse(text).map_err(|error| Problem::used_wrongly(error.to_string()))
}

fn plan(book: &mut OpenBook, lines: &mut Vec<String>, output: &Output) -> Result<(), Problem> {
    book.turn_to(at("2026-03-02T09:10:00Z")?);
    let plan = planned(book, output)?;
    lines.push(format!("plan {plan}: one specimen of a kettle's terminal carrier, 30 s."));
    Ok(())
}

/// Draws the plan up.
pub(super) fn planned(book: &mut OpenBook, output: &Output) -> Result<PlanNumber, Problem> {
    let equipment: Vec<String> =
        bench::numbers().iter().map(|number| format!("\"{number}\"")).collect();
    let text = include_str!("plan.toml").replace("\"EQUIPMENT\"", &equipment.join(", "));
    let form = form::of_text(&text, "the demo's plan", "plan template")?;
    step::plan::plan(book, form, output)
}

pub(super) fn conditioned(what: Conditioned, from: Moment, until: Moment) -> Fact {
    let (temperature, humidity) = (Temperature::from_celsius, Ratio::from_percent);
    Fact::ConditioningRecorded(Conditioning {
        plan: PLAN,
        what,
        from,
        until,
        temperature: Range { from: temperature(22.0), to: temperature(24.0) },
        humidity: Range { from: humidity(48.0), to: humidity(52.0) },
    })
}

/// Readiness is refused once: the specimen was not conditioned long enough.
fn ready(book: &mut OpenBook, lines: &mut Vec<String>, output: &Output) -> Result<(), Problem> {
    let began = at("2026-03-02T10:00:00Z")?;
    let first = vec![SpecimenNumber(1)];
    let short = at("2026-03-03T08:00:00Z")?;
    book.turn_to(short);
    book.hand_to(bench::PEOPLE[1].0);
    book.keep(&conditioned(Conditioned::Specimens(first.clone()), began, short), output)?;
    book.keep(&conditioned(Conditioned::Layer, began, short), output)?;
    for caution in CAUTIONS {
        output.word(&format!("caution: {caution}"));
    }
    book.keep(&Fact::CautionsAcknowledged { plan: PLAN }, output)?;
    let Err(refusal) = step::ready::ready(book, PLAN, output) else {
        return Err(Problem::used_wrongly("the demo's readiness was not refused"));
    };
    lines.push(format!("first check: {}", refusal.text));
    lines.extend(refusal.findings.iter().map(|found| format!("  {}", found.text)));
    let long = at("2026-03-04T08:00:00Z")?;
    book.turn_to(long);
    for what in [Conditioned::Specimens(first), Conditioned::Layer] {
        book.keep(&conditioned(what, began, long), output)?;
    }
    step::ready::ready(book, PLAN, output)?;
    lines.push("second check, a day later: ready.".to_owned());
    Ok(())
}

/// The first determination is void, its wire open; three further ones confirm the flame.
fn confirm(
    book: &mut OpenBook,
    files: &Path,
    lines: &mut Vec<String>,
    output: &Output,
) -> Result<(), Problem> {
    let read_as: Vec<String> = READ_AS.iter().map(|word| (*word).to_owned()).collect();
    let height = Some(Length::from_millimetres(12.0));
    let heating = Heating { plan: PLAN, read_as: &read_as, flame_height: height };
    let heatings = [
        ("determination-1.csv", "2026-03-04T09:20:00Z"),
        ("determination-2.csv", "2026-03-04T09:48:00Z"),
        ("determination-3.csv", "2026-03-04T10:01:00Z"),
        ("determination-4.txt", "2026-03-04T10:14:22Z"),
    ];
    for (file, when) in heatings {
        book.turn_to(at(when)?);
        let (name, bytes) = crate::input::evidence(&files.join(file))?;
        step::confirm::determination(book, &heating, (&name, &bytes), output)?;
        if let Some(made) = book.history().determinations().last() {
            lines.push(format!("{file}: {}", step::confirm::told(made)));
        }
    }
    let Some(number) = step::confirm::flame(book, PLAN, output)? else {
        return Err(Problem::used_wrongly("the demo's flame was not confirmed"));
    };
    lines.push(format!("{number}: the flame is confirmed."));
    Ok(())
}

/// The first specimen burns too long; the rules then ask for two further ones.
fn specimens(
    book: &mut OpenBook,
    files: &Path,
    lines: &mut Vec<String>,
    output: &Output,
) -> Result<(), Problem> {
    specimen(book, files, ("2026-03-04T10:40:00Z", include_str!("specimen-1.toml")), output)?;
    judged(book, lines, output)?;
    book.turn_to(at("2026-03-04T11:00:00Z")?);
    let further = vec![SpecimenNumber(2), SpecimenNumber(3)];
    let reason = "specimen 1 burned for longer than 30 s; the rules ask for two further ones";
    let (specimens, reason) = (further.clone(), reason.to_owned());
    book.keep(&Fact::SpecimensAdded { plan: PLAN, specimens, reason }, output)?;
    let (from, until) = (at("2026-03-02T10:00:00Z")?, at("2026-03-04T11:00:00Z")?);
    book.keep(&conditioned(Conditioned::Specimens(further), from, until), output)?;
    step::ready::ready(book, PLAN, output)?;
    specimen(book, files, ("2026-03-04T11:20:00Z", include_str!("specimen-2.toml")), output)?;
    specimen(book, files, ("2026-03-04T11:45:00Z", include_str!("specimen-3.toml")), output)?;
    judged(book, lines, output)
}

fn specimen(
    book: &mut OpenBook,
    files: &Path,
    (when, form): (&str, &str),
    output: &Output,
) -> Result<(), Problem> {
    book.turn_to(at(when)?);
    let form: RunForm = form::of_text(form, "the demo's run", "run template")?;
    let photos = form.photos.iter();
    let evidence = photos
        .map(|photo| book.file(&files.join(photo), EvidenceKind::Photo))
        .collect::<Result<_, _>>()?;
    let observed = form.observed(&book.who()?, evidence)?;
    step::run::run(book, PLAN, (observed, ""), output)
}

fn judged(book: &mut OpenBook, lines: &mut Vec<String>, output: &Output) -> Result<(), Problem> {
    let verdict = step::judge::judge(book, PLAN, output)?;
    lines.push(format!("judged: {}.", verdict.sentence()));
    lines.extend(told(&verdict).into_iter().map(|reason| format!("  {reason}")));
    Ok(())
}

/// Who tested signs each specimen; another person reviews the plan, and a third one approves it.
fn signed(book: &mut OpenBook, lines: &mut Vec<String>, output: &Output) -> Result<(), Problem> {
    let [engineer, technician, quality] = bench::PEOPLE.map(|(person, _)| person);
    let specimens =
        [1, 2, 3].map(|number| Signed::Specimen { plan: PLAN, specimen: SpecimenNumber(number) });
    let tested = specimens.map(|what| (technician, "2026-03-04T12:10:00Z", what, Meaning::Tested));
    let looked = [
        (quality, "2026-03-04T15:30:00Z", Signed::Plan(PLAN), Meaning::Reviewed),
        (engineer, "2026-03-05T08:20:00Z", Signed::Plan(PLAN), Meaning::Approved),
    ];
    for (person, when, what, meaning) in tested.into_iter().chain(looked) {
        book.hand_to(person);
        book.turn_to(at(when)?);
        step::sign::sign(book, (what, meaning), Identified::Name, output)?;
    }
    lines.push(format!(
        "signed: tested by {technician}, reviewed by {quality}, approved by {engineer}."
    ));
    Ok(())
}

fn issue(
    book: &mut OpenBook,
    folder: &Path,
    lines: &mut Vec<String>,
    output: &Output,
) -> Result<(), Problem> {
    book.turn_to(at("2026-03-05T08:30:00Z")?);
    book.hand_to(bench::PEOPLE[0].0);
    let (device_clock, language) = (None, Language::English);
    let first = step::report::Wanted { plan: PLAN, supersedes: None, device_clock, language };
    let issued = step::report::report(book, first, output)?;
    let paths = write(&issued, folder, output)?;
    lines.push(format!("report {} issued:", issued.number));
    lines.extend(paths.iter().map(|path| format!("  {}", path.display())));
    Ok(())
}
