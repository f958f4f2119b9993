//! Why the flame will not confirm: one determination of the book, read whole and held against the
//! frozen base line.

use std::collections::BTreeMap;
use std::sync::{Arc, Mutex, PoisonError};

use metrology::Temperature;
use metrology::decision::Limit;
use reading::Trace;
use reading::copper_block::{
    BaseLine, CoolingKnown, CopperBlock, Determination as Whole, DiagnosisError, EarlierCoolings,
    FlowSensitivity,
};
use reading::import::import;
use reading::rise_time::{Beginnings, Stated as StatedOfBlock};
use serde::Serialize;
use trial::confirmation::{Determination, DeterminationSource};
use trial::fact::{Evidence, EvidenceHash};
use trial::history::RecordedBaseLine;
use trial::number::{DeterminationNumber, EquipmentNumber};
use trial::plan::Plan;
use utoipa::ToSchema;

use super::block::{Against, BlockSheet, DiagnosisSheet, block_of, determination};
use super::budget::{BudgetSheet, Read, budget as whole_budget};
use super::confirm::{Heating, told, under, warmest};
use crate::book::{OpenBook, from_ledger};
use crate::cli::read::{BudgetOptions, Stated, not_taken};
use crate::problem::Problem;

/// Why one determination is as it is.
#[derive(Clone, Debug, Serialize, ToSchema)]
pub(crate) struct WhySheet {
    /// Which.
    pub(crate) determination: u32,
    /// Its rise time, or why it is void.
    pub(crate) told: String,
    /// When it was made.
    pub(crate) at: String,
    /// The file it is read from.
    pub(crate) file: Option<String>,
    /// What its curve tells of flame, air and block.
    pub(crate) block: Option<BlockSheet>,
    /// Why nothing is told, where that is so, and the way out.
    pub(crate) not_told: Option<NotTold>,
    /// What it was held against.
    pub(crate) base_line: Option<BaseUsed>,
    /// What may be the cause.
    pub(crate) diagnosis: Option<DiagnosisSheet>,
    /// Why no cause is looked for, where that is so, and the way out.
    pub(crate) not_diagnosed: Option<NotTold>,
}

/// Something that cannot be told, and the way out.
#[derive(Clone, Debug, Serialize, ToSchema)]
pub(crate) struct NotTold {
    /// Why not.
    pub(crate) text: String,
    /// The way out.
    pub(crate) hint: Option<String>,
}

impl From<Problem> for NotTold {
    fn from(problem: Problem) -> Self {
        Self { text: problem.text, hint: problem.hint }
    }
}

impl NotTold {
    fn of(error: DiagnosisError) -> Self {
        Self { text: error.to_string(), hint: Some(error.hint().to_owned()) }
    }
}

/// The base line that a determination was held against.
#[derive(Clone, Debug, Serialize, ToSchema)]
pub(crate) struct BaseUsed {
    /// Its number.
    pub(crate) base_line: u32,
    /// When it was frozen.
    pub(crate) at: String,
    /// By whom.
    pub(crate) by: String,
    /// How many of its determinations were used: those with a recorded cooling that still count.
    pub(crate) used: usize,
    /// How many it has.
    pub(crate) of: usize,
}

/// The determination with this number.
pub(crate) fn made(book: &OpenBook, number: DeterminationNumber) -> Result<Determination, Problem> {
    book.history().determination(number).cloned().ok_or_else(|| {
        Problem::used_wrongly(format!("determination {number} is not in this book"))
            .hint("The page Flame and `record list` show which there are.")
    })
}

/// Why a determination is as it is.
///
/// # Errors
///
/// When it is not in the book. What its curve does not tell is no error: the sheet says so.
pub(crate) fn why(book: &OpenBook, number: DeterminationNumber) -> Result<WhySheet, Problem> {
    let made = made(book, number)?;
    let base = book.history().base_line();
    let used = base.map(|base| base_line(book, base, &made));
    let whole = whole(book, &made);
    let (diagnosis, not_diagnosed) = match (&whole, used.as_ref()) {
        (Err(_), _) => (None, None),
        (Ok(_), None) => (None, Some(without_base_line())),
        (Ok(_), Some((_, Err(why)))) => (None, Some(why.clone())),
        (Ok((determination, _)), Some((_, Ok(base)))) => {
            match diagnosed(book, &made, determination, base) {
                Ok(sheet) => (Some(sheet), None),
                Err(error) => (None, Some(NotTold::of(error))),
            }
        }
    };
    let block = whole.as_ref().ok().map(|(determination, trace)| {
        BlockSheet::of(determination, trace, block_told(book, &made))
    });
    Ok(WhySheet {
        determination: number.0,
        told: told(&made),
        at: crate::words::when(made.at),
        file: evidence(book, &made).map(|(evidence, _)| evidence.name),
        block,
        not_told: whole.err().map(NotTold::from),
        base_line: used.map(|(used, _)| used),
        diagnosis,
        not_diagnosed,
    })
}

fn without_base_line() -> NotTold {
    NotTold {
        text: "no base line of this bench is frozen, so there is nothing to hold it against"
            .to_owned(),
        hint: Some("Freeze the base line once enough confirmations are in control.".to_owned()),
    }
}

fn diagnosed(
    book: &OpenBook,
    made: &Determination,
    determination: &Whole,
    base: &BaseLine,
) -> Result<DiagnosisSheet, DiagnosisError> {
    let plan = under(book.history(), made).and_then(|plan| book.history().plan(plan));
    let asked = plan.map(|plan| &plan.requirement().asked);
    let against = Against {
        base,
        warmest: asked.map_or(Beginnings::built_in().room, |it| warmest(&it.confirmation)),
        sensitivity: sensitivity(book, made),
        height: made
            .flame_height
            .or(asked.map(|asked| asked.flame_height.value.target))
            .unwrap_or(metrology::Length::from_millimetres(0.0)),
    };
    DiagnosisSheet::of(&block(book, &made.block), determination, &against)
}

/// How the flame's heat goes with its height, where determinations at several heights tell it
/// better than what is usual.
fn sensitivity(book: &OpenBook, like: &Determination) -> FlowSensitivity {
    let usual = FlowSensitivity::usual();
    let measured = book.history().determinations().iter().filter(|made| {
        made.block == like.block && made.void.is_none() && made.flame_height.is_some()
    });
    let mut heights: Vec<f64> =
        measured.clone().filter_map(|made| Some(made.flame_height?.millimetres())).collect();
    heights.sort_by(f64::total_cmp);
    heights.dedup();
    // With fewer heights nothing is told, and no trace need be read for it.
    if heights.len() < 3 {
        return usual;
    }
    let read: Vec<(metrology::Length, Arc<Whole>)> = measured
        .rev()
        .take(MOST_FOR_SENSITIVITY)
        .filter_map(|made| Some((made.flame_height?, read(book, made).ok()?)))
        .collect();
    let pairs = read.iter().map(|(height, whole)| (*height, whole.as_ref()));
    match FlowSensitivity::fitted(pairs) {
        Ok(fitted) if fitted.0.uncertainty < usual.0.uncertainty => fitted,
        Ok(_) | Err(_) => usual,
    }
}

/// So many determinations are read for it at most.
const MOST_FOR_SENSITIVITY: usize = 100;

/// The block as its record has it: weighed, or as the method describes it.
fn block(book: &OpenBook, number: &EquipmentNumber) -> CopperBlock {
    let weighed = book.history().weighing(number);
    block_of(weighed.map(|it| it.mass.value), weighed.and_then(|it| it.area))
}

fn block_told(book: &OpenBook, made: &Determination) -> String {
    let number = &made.block;
    let block = block(book, number);
    let from = match book.history().weighing(number) {
        Some(_) => "as weighed",
        None => "as the method describes it; it was not weighed",
    };
    let read = room_read(made).ok().flatten();
    let room = Beginnings::built_in().room_of(read).value;
    let room_from = if read.is_some() { "as read" } else { "taken; it was not read" };
    format!(
        "{number}: {}, {} ({from}), in a room of {room:.1} ({room_from})",
        block.mass, block.area
    )
}

/// The room's temperature, where it was read beside the block.
fn room_read(made: &Determination) -> Result<Option<Temperature>, Problem> {
    match &made.source {
        DeterminationSource::Trace { read_as, .. } => Ok(Stated::of(read_as)?.room()),
        DeterminationSource::Typed { .. } => Ok(None),
    }
}

/// The file that shows a determination best, and how it is read: its own cooling where that was
/// kept apart.
fn evidence(book: &OpenBook, made: &Determination) -> Option<(Evidence, Vec<String>)> {
    if let Some(cooling) = book.history().cooling(made.number) {
        return Some((cooling.evidence.clone(), cooling.read_as.clone()));
    }
    match &made.source {
        DeterminationSource::Trace { evidence, read_as } => {
            Some((evidence.clone(), read_as.clone()))
        }
        DeterminationSource::Typed { .. } => None,
    }
}

fn trace(book: &OpenBook, made: &Determination) -> Result<Trace, Problem> {
    let (evidence, read_as) = evidence(book, made).ok_or_else(|| {
        Problem::conflict("its times were typed: there is no curve to tell anything")
            .hint("Bring in a logger's file, or confirm the flame live.")
    })?;
    let bytes = book.book().evidence(evidence.hash).map_err(|error| from_ledger(&error))?;
    let options = Stated::of(&read_as)?.import()?;
    let imported = import(bytes.as_slice(), &options);
    imported.map(|it| it.trace).map_err(|error| not_taken(&evidence.name, &error))
}

fn whole(book: &OpenBook, made: &Determination) -> Result<(Arc<Whole>, Trace), Problem> {
    let trace = trace(book, made)?;
    Ok((kept(book, made, || Ok(trace.clone()))?, trace))
}

/// A determination read whole, without its trace.
fn read(book: &OpenBook, made: &Determination) -> Result<Arc<Whole>, Problem> {
    kept(book, made, || trace(book, made))
}

/// What a read determination depends on: what is filed under a hash does not change.
type Key = (EvidenceHash, Vec<String>, [u64; 3]);

/// The determinations that were read of late: a base line is not read anew at each look.
static READ: Mutex<BTreeMap<Key, Arc<Whole>>> = Mutex::new(BTreeMap::new());

/// So many are kept at most; then they are read again.
const READ_MOST: usize = 512;

fn kept(
    book: &OpenBook,
    made: &Determination,
    trace: impl FnOnce() -> Result<Trace, Problem>,
) -> Result<Arc<Whole>, Problem> {
    let block = block(book, &made.block);
    let room = Beginnings::built_in().room_of(room_read(made)?).value;
    let key = evidence(book, made).map(|(evidence, read_as)| {
        let body = [block.mass.grams(), block.area.square_millimetres(), room.celsius()];
        let body = body.map(f64::to_bits);
        (evidence.hash, read_as, body)
    });
    let known = || READ.lock().unwrap_or_else(PoisonError::into_inner);
    if let Some(found) = key.as_ref().and_then(|key| known().get(key).cloned()) {
        return Ok(found);
    }
    let found = Arc::new(determination(&block, room, &trace()?)?);
    if let Some(key) = key {
        let mut known = known();
        if known.len() >= READ_MOST {
            known.clear();
        }
        known.insert(key, Arc::clone(&found));
    }
    Ok(found)
}

/// What is usual by a frozen base line, for a determination that is not part of it.
fn base_line(
    book: &OpenBook,
    frozen: &RecordedBaseLine,
    but: &Determination,
) -> (BaseUsed, Result<BaseLine, NotTold>) {
    let history = book.history();
    let numbers = &frozen.base_line.determinations;
    let others = numbers.iter().filter(|number| **number != but.number);
    let counting: Vec<&Determination> = others
        .filter_map(|number| history.determination(*number))
        .filter(|made| made.void.is_none())
        .collect();
    let other = counting
        .iter()
        .map(|made| (&made.block, &made.thermocouple))
        .find(|pieces| *pieces != (&but.block, &but.thermocouple));
    let read: Vec<Arc<Whole>> = counting.iter().filter_map(|made| read(book, made).ok()).collect();
    let whole = read.iter().map(AsRef::as_ref);
    let used = BaseUsed {
        base_line: frozen.base_line.number.0,
        at: crate::words::when(frozen.at),
        by: frozen.who.to_string(),
        used: whole.clone().filter(|it: &&Whole| it.fit.has_cooling()).count(),
        of: numbers.len(),
    };
    if let Some((block, thermocouple)) = other {
        let text = format!(
            "base line {} was made with {block} and {thermocouple}, this determination with {} \
             and {}",
            frozen.base_line.number, but.block, but.thermocouple
        );
        let hint = "Freeze another base line once enough confirmations are in control.".to_owned();
        return (used, Err(NotTold { text, hint: Some(hint) }));
    }
    (used, BaseLine::of(whole).map_err(NotTold::of))
}

/// What the frozen base line tells of the block's cooling beforehand; of any body where there is
/// none, or it was made with another block.
pub(crate) fn cooling_known(book: &OpenBook, number: &EquipmentNumber) -> CoolingKnown {
    let history = book.history();
    let known = history.base_line().and_then(|frozen| {
        let made = frozen.base_line.determinations.iter();
        let made: Vec<&Determination> =
            made.filter_map(|number| history.determination(*number)).collect();
        if made.iter().any(|made| made.block != *number) {
            return None;
        }
        let counting = made.iter().filter(|made| made.void.is_none());
        let read: Vec<Arc<Whole>> = counting.filter_map(|made| read(book, made).ok()).collect();
        BaseLine::of(read.iter().map(AsRef::as_ref)).ok()
    });
    known.map_or_else(CoolingKnown::any, |base| base.cooling_known())
}

/// The newest coolings of a block that were recorded apart.
pub(crate) fn earlier_coolings(
    book: &OpenBook,
    number: &EquipmentNumber,
    cold: Temperature,
) -> EarlierCoolings {
    let history = book.history();
    let kept = |made: &&Determination| {
        made.block == *number && made.void.is_none() && history.cooling(made.number).is_some()
    };
    let newest = history.determinations().iter().rev().filter(kept).take(COOLINGS_MOST);
    let read: Vec<_> = newest
        .filter_map(|made| {
            let room = Beginnings::built_in().room_of(room_read(made).ok()?);
            Some((room, trace(book, made).ok()?))
        })
        .collect();
    EarlierCoolings::of(cold, read.iter().map(|(room, trace)| (*room, trace)))
}

/// So many recordings of coolings are read at most when a sitting begins.
const COOLINGS_MOST: usize = 12;

/// The block that a sitting heats.
pub(crate) fn block_of_plan(
    book: &OpenBook,
    plan: &Plan,
) -> Option<(EquipmentNumber, CopperBlock)> {
    let of_kind = |number: &&EquipmentNumber| {
        let kind = book.history().equipment(number).map(|piece| piece.kind);
        kind == Some(trial::fact::EquipmentKind::CopperBlock)
    };
    let number = plan.draft().equipment.iter().find(of_kind)?.clone();
    let block = block(book, &number);
    Some((number, block))
}

/// The whole budget of a determination's rise time.
///
/// # Errors
///
/// When it has no curve or no rise time, or its curve tells no flame.
pub(crate) fn budget(
    book: &OpenBook,
    number: DeterminationNumber,
    certificate: &BudgetOptions,
) -> Result<BudgetSheet, Problem> {
    let made = made(book, number)?;
    let DeterminationSource::Trace { evidence, read_as } = &made.source else {
        return Err(Problem::conflict(format!("the times of {number} were typed"))
            .hint("The budget of a typed time is what was stated for it."));
    };
    let plan = under(book.history(), &made).ok_or_else(|| {
        Problem::conflict(format!("no plan that was found ready names what {number} was made with"))
            .hint("Find a plan with this block and thermocouple ready.")
    })?;
    let asked = &book.plan(plan)?.requirement().asked.confirmation;
    let stated = Stated::of(read_as)?;
    let window = super::confirm::window(book.plan(plan)?)?;
    let (sensor, thermocouple_taken) = certificate.sensor(stated.sensor_options(), window)?;
    let bytes = book.book().evidence(evidence.hash).map_err(|error| from_ledger(&error))?;
    let heating = Heating { plan, read_as, flame_height: None };
    let again =
        super::confirm::read_with(book, &heating, (&evidence.name, bytes.as_slice()), sensor)?;
    let rise = again.found.map_err(|error| {
        let problem = Problem::conflict(format!("{number} has no rise time: {error}"));
        match error.hint() {
            Some(hint) => problem.hint(hint),
            None => problem,
        }
    })?;
    let (determination, _) = whole(book, &made)?;
    let band = asked.rise_time.value;
    whole_budget(&Read {
        rise: &rise,
        determination: &determination,
        block: &block(book, &made.block),
        stated: StatedOfBlock {
            mass: book.history().weighing(&made.block).map(|weighed| weighed.mass),
            room: room_read(&made)?.map(|read| Beginnings::built_in().room_of(Some(read))),
            junction: certificate.junction(),
            thermocouple: Some(stated.sensor_options().kind()),
        },
        thermocouple_taken,
        band: Limit::Between { low: band.low, high: band.high },
    })
}
