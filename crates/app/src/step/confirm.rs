//! Confirms the flame: determinations from loggers' files or typed times, and what they come to.

use std::path::Path;

use metrology::decision::Limit;
use metrology::{DegreesOfFreedom, Duration, Length, Measurement, Temperature};
use reading::import::import;
use reading::{
    Circumstances, RiseTime, RiseTimeError, SensorUncertainty, Trace, Window, rise_time,
};
use trial::confirmation::{Determination, DeterminationSource, confirm};
use trial::fact::{EquipmentKind, EvidenceKind, Fact, LotKind};
use trial::finding::{FindingKind, Stage};
use trial::history::History;
use trial::method::ConfirmationAsked;
use trial::moment::Moment;
use trial::number::{
    ConfirmationNumber, DeterminationNumber, EquipmentNumber, LotNumber, PersonName, PlanNumber,
};
use trial::plan::Plan;

use crate::book::OpenBook;
use crate::cli::read::Stated;
use crate::output::Output;
use crate::problem::Problem;

/// What is said of a heating of the block besides its trace.
pub(crate) struct Heating<'a> {
    /// The plan it is made for.
    pub(crate) plan: PlanNumber,
    /// What is stated to read its file, option by option.
    pub(crate) read_as: &'a [String],
    /// The visible height of the flame, where it was measured.
    pub(crate) flame_height: Option<Length>,
}

/// Reads one logger's file, given by its name and bytes, as the next determination, and keeps it.
/// A trace without a rise time is kept as a void determination.
pub(crate) fn determination(
    book: &mut OpenBook,
    heating: &Heating<'_>,
    (name, bytes): (&str, &[u8]),
    output: &Output,
) -> Result<DeterminationNumber, Problem> {
    let read = output.during(&format!("reading {name}"), || read(book, heating, name, bytes))?;
    let made = traced(book, heating, (name, bytes), read.trace.point(0).temperature)?;
    keep(book, found(made, read), output)
}

/// What was seen at the block while it was heated.
pub(crate) struct Witnessed {
    /// When the flame was put to it.
    pub(crate) at: Moment,
    /// How warm it was then.
    pub(crate) start: Temperature,
    /// Why the heating is void, where that was found at once.
    pub(crate) void: Option<String>,
    /// What is remarked on it.
    pub(crate) remarks: Vec<String>,
}

/// Keeps a heating that was read live, its recording being the file: as [`determination`] does,
/// but void where it was found so at the block.
pub(crate) fn witnessed(
    book: &mut OpenBook,
    heating: &Heating<'_>,
    (name, bytes): (&str, &[u8]),
    seen: Witnessed,
    output: &Output,
) -> Result<DeterminationNumber, Problem> {
    let read = read(book, heating, name, bytes);
    let mut made = traced(book, heating, (name, bytes), seen.start)?;
    made.at = seen.at;
    made.remarks.extend(seen.remarks);
    let mut made = match read {
        Ok(read) => Determination { start: seen.start, ..found(made, read) },
        Err(problem) => Determination { void: Some(problem.text), ..made },
    };
    if seen.void.is_some() {
        made.void = seen.void;
    }
    keep(book, made, output)
}

/// A determination whose trace is filed, with all but what is read from it.
fn traced(
    book: &OpenBook,
    heating: &Heating<'_>,
    (name, bytes): (&str, &[u8]),
    start: Temperature,
) -> Result<Determination, Problem> {
    let plain = Path::new(name).file_name().unwrap_or(name.as_ref()).to_string_lossy();
    let evidence = book.file_bytes(&plain, EvidenceKind::Trace, &mut &*bytes)?;
    let source = DeterminationSource::Trace { evidence, read_as: heating.read_as.to_vec() };
    let mut made = begun(book, heating, start, source)?;
    let stated = Stated::of(heating.read_as)?;
    if let Some(terminals) = stated.resting_at() {
        made.remarks.push(format!("The terminals had {terminals:.1} where the block rested."));
    }
    if let Some(room) = stated.room() {
        made.remarks.push(format!("The room had {room:.1}."));
    }
    Ok(made)
}

/// The determination with what was read from its trace.
fn found(mut made: Determination, read: ReadTrace) -> Determination {
    made.start = read.trace.point(0).temperature;
    match read.found {
        Ok(rise) => {
            made.remarks.extend(rise.faults.iter().map(|fault| fault.text.clone()));
            made.rise_time = Some(rise.value);
        }
        Err(error) => made.void = Some(error.to_string()),
    }
    made
}

/// Keeps a rise time that was taken with a stop-watch and typed, and checked by a second person.
pub(crate) fn typed(
    book: &mut OpenBook,
    heating: &Heating<'_>,
    (rise_time, start): (Measurement<Duration>, Temperature),
    seconded: Option<PersonName>,
    output: &Output,
) -> Result<DeterminationNumber, Problem> {
    let source = DeterminationSource::Typed { by: book.who()?, seconded };
    let made = begun(book, heating, start, source)?;
    keep(book, Determination { rise_time: Some(rise_time), ..made }, output)
}

/// Holds the determinations against the band, and keeps what came of it. `None`: more
/// determinations are needed first.
pub(crate) fn flame(
    book: &mut OpenBook,
    plan: PlanNumber,
    output: &Output,
) -> Result<Option<ConfirmationNumber>, Problem> {
    let ready = book.ready(plan)?;
    let last = book.history().last_confirmation().map_or(0, |last| last.number.0);
    let number = ConfirmationNumber(last + 1);
    match confirm(&ready, number, &book.history().open_determinations()) {
        Ok(confirmed) => {
            let determinations = confirmed.counted().to_vec();
            book.keep(&Fact::FlameConfirmed { number, plan, determinations }, output)?;
            Ok(Some(number))
        }
        Err(findings) if findings.iter().all(|it| it.kind == FindingKind::Determinations) => {
            for finding in &findings {
                output.word(&format!("not yet: {}", finding.text));
            }
            Ok(None)
        }
        Err(findings) => Err(book.refuse((Stage::Confirmation, plan), findings, output)),
    }
}

/// A trace, and its rise time or why it has none.
pub(crate) struct ReadTrace {
    pub(crate) trace: Trace,
    pub(crate) found: Result<RiseTime, RiseTimeError>,
}

/// Reads a determination's trace from bytes, as stated.
pub(crate) fn read(
    book: &OpenBook,
    heating: &Heating<'_>,
    name: &str,
    bytes: impl std::io::Read + Send,
) -> Result<ReadTrace, Problem> {
    let sensor = Stated::of(heating.read_as)?.sensor(window(book.plan(heating.plan)?)?)?;
    read_with(book, heating, (name, bytes), sensor)
}

/// The same with a sensor that is known otherwise.
pub(crate) fn read_with(
    book: &OpenBook,
    heating: &Heating<'_>,
    (name, bytes): (&str, impl std::io::Read + Send),
    sensor: SensorUncertainty,
) -> Result<ReadTrace, Problem> {
    let plan = book.plan(heating.plan)?;
    let window = window(plan)?;
    let stated = Stated::of(heating.read_as)?;
    let imported = import(bytes, &stated.import()?)
        .map_err(|error| crate::cli::read::not_taken(name, &error))?;
    let start_limit = start_limit(&plan.requirement().asked.confirmation);
    let resting_at = stated.resting_at();
    let known = Circumstances { start_limit, resting_at, ..Circumstances::default() };
    let found = rise_time(&imported.trace, window, sensor, &known);
    Ok(ReadTrace { trace: imported.trace, found })
}

/// How warm the block may be at most when the flame comes, where the method says so.
fn start_limit(asked: &ConfirmationAsked) -> Option<Temperature> {
    match asked.start.value {
        Limit::LessThan(limit) | Limit::AtMost(limit) => Some(limit),
        Limit::AtLeast(_) | Limit::MoreThan(_) | Limit::Between { .. } => None,
    }
}

/// The same for a diagnosis; without a limit no start is too warm.
pub(crate) fn warmest(asked: &ConfirmationAsked) -> Temperature {
    start_limit(asked).unwrap_or(asked.bottom.value.target)
}

/// The newest plan found ready whose block and thermocouple a determination was made with.
pub(crate) fn under(history: &History, made: &Determination) -> Option<PlanNumber> {
    let with = |plan: &PlanNumber| {
        let named = history.plan(*plan).map(|plan| &plan.draft().equipment);
        named.is_some_and(|it| it.contains(&made.block) && it.contains(&made.thermocouple))
    };
    history.plans().rev().filter(|plan| history.is_ready(*plan)).find(with)
}

/// The window of temperature that the plan's method times.
pub(crate) fn window(plan: &Plan) -> Result<Window, Problem> {
    let asked = &plan.requirement().asked.confirmation;
    Window::new(asked.bottom.value.target, asked.top.value.target)
        .map_err(|error| Problem::used_wrongly(error.to_string()))
}

/// A determination with all but its rise time.
fn begun(
    book: &OpenBook,
    heating: &Heating<'_>,
    start: Temperature,
    source: DeterminationSource,
) -> Result<Determination, Problem> {
    let last = book.history().determinations().iter().map(|made| made.number.0).max();
    Ok(Determination {
        number: DeterminationNumber(last.unwrap_or(0) + 1),
        at: book.now()?,
        rise_time: None,
        start,
        source,
        remarks: Vec::new(),
        block: piece(book, heating.plan, EquipmentKind::CopperBlock)?,
        thermocouple: piece(book, heating.plan, EquipmentKind::Thermocouple)?,
        gas: gas(book)?,
        flame_height: heating.flame_height,
        void: None,
    })
}

fn keep(
    book: &mut OpenBook,
    made: Determination,
    output: &Output,
) -> Result<DeterminationNumber, Problem> {
    let (number, told) = (made.number, told(&made));
    book.keep(&Fact::DeterminationRecorded(Box::new(made)), output)?;
    output.word(&told);
    Ok(number)
}

/// From so many degrees of freedom on, k = 2 covers what it says and they are not mentioned.
const MANY: f64 = 50.0;

/// A determination in one line.
pub(crate) fn told(made: &Determination) -> String {
    let number = made.number;
    match (&made.rise_time, &made.void) {
        (_, Some(why)) => format!("{number} is void: {why}"),
        (Some(rise), None) => format!("{number}: {}", value(rise)),
        (None, None) => format!("{number} has no rise time"),
    }
}

/// The expanded uncertainty of a rise time, in seconds: k = 2 (GUM 6.3.3).
pub(crate) fn expanded_s(rise: &Measurement<Duration>) -> f64 {
    rise.uncertainty.seconds() * 2.0
}

/// A rise time with its expanded uncertainty.
pub(crate) fn value(rise: &Measurement<Duration>) -> String {
    let Measurement { value, degrees_of_freedom, .. } = rise;
    let expanded = expanded_s(rise);
    let decimals = crate::words::decimals(expanded);
    let few = match degrees_of_freedom {
        DegreesOfFreedom::Of(number) if *number < MANY => {
            format!(", {number:.0} degrees of freedom")
        }
        DegreesOfFreedom::Of(_) | DegreesOfFreedom::Infinite => String::new(),
    };
    format!("{value:.decimals$} ± {expanded:.decimals$} s (k = 2{few})")
}

/// The plan's piece of equipment of one kind.
fn piece(
    book: &OpenBook,
    plan: PlanNumber,
    kind: EquipmentKind,
) -> Result<EquipmentNumber, Problem> {
    let named = &book.plan(plan)?.draft().equipment;
    let of_kind = |number: &&EquipmentNumber| {
        book.history().equipment(number).is_some_and(|equipment| equipment.kind == kind)
    };
    named.iter().find(of_kind).cloned().ok_or_else(|| {
        Problem::used_wrongly(format!("plan {plan} names no registered {kind}"))
            .hint("Register it with `equipment add`, and draw up a plan that names it.")
    })
}

/// The gas that is connected.
fn gas(book: &OpenBook) -> Result<LotNumber, Problem> {
    book.history().lot(LotKind::Gas).map(|(_, lot)| lot.number.clone()).ok_or_else(|| {
        Problem::used_wrongly("no gas is connected")
            .hint("Record the cartridge or cylinder with `equipment lot NUMBER --kind gas`.")
    })
}
