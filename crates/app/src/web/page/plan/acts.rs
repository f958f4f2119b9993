//! What is done on a plan, from its page or as a document: the same steps as the command line's.

use metrology::{Ratio, Temperature};
use serde::Deserialize;
use trial::fact::{Conditioned, Conditioning, Fact};
use trial::moment::Moment;
use trial::number::{PlanNumber, ReportNumber, SpecimenNumber};
use trial::rules::Range;
use utoipa::ToSchema;

use super::super::reports::issue;
use crate::book::OpenBook;
use crate::form::fields::{Typed, Wrong};
use crate::form::number::{self, CELSIUS, Kind, Number, PERCENT};
use crate::form::written::Written;
use crate::output::Output;
use crate::problem::Problem;
use crate::step;
use crate::step::report::Wanted;

/// An act on a plan.
#[derive(Deserialize, ToSchema)]
#[schema(as = PlanAct)]
#[serde(tag = "act", rename_all = "kebab-case", deny_unknown_fields)]
pub(super) enum Deed {
    /// The cautions were read: records that they were.
    Cautions {},
    /// Records how specimens or the layer were conditioned.
    Conditioned(Stored),
    /// Checks everything, and records what was found.
    Readiness {},
    /// Adds further specimens.
    AddSpecimens {
        /// Their numbers.
        specimens: Vec<u32>,
        /// Why.
        reason: String,
    },
    /// Sets a specimen aside: it is replaced, not judged.
    Spoilt {
        /// Which.
        specimen: u32,
        /// Why.
        reason: String,
    },
    /// Judges the runs, and records the verdict.
    Judge {},
    /// Issues the report.
    Report {
        /// The last report on this plan that is known to the one who asks: nothing is issued if
        /// there is a later one.
        after: Option<u32>,
        /// What the clock of the device shows that asks; empty where it does not say so.
        #[serde(default)]
        device_clock: String,
        /// The language it is written in, `en` or `de`; English where it is not said.
        #[serde(default)]
        language: String,
    },
}

/// A storage before the test.
#[derive(Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub(super) struct Stored {
    /// Which specimens; none for the layer below.
    specimens: Vec<u32>,
    /// When it began, such as `2026-11-24T08:00:00Z`.
    #[schema(value_type = String)]
    from: Written<Moment>,
    /// When it ended.
    #[schema(value_type = String)]
    until: Written<Moment>,
    /// The temperature kept, such as `22 °C to 24 °C`.
    #[schema(value_type = String)]
    temperature: Written<Range<Temperature>>,
    /// The relative humidity kept, such as `48 % to 52 %`.
    #[schema(value_type = String)]
    humidity: Written<Range<Ratio>>,
}

/// Does it. What is done already is not done twice.
///
/// # Errors
///
/// As the step says.
pub(super) fn deed(
    book: &mut OpenBook,
    output: &Output,
    plan: PlanNumber,
    asked: Deed,
) -> Result<(), Problem> {
    match asked {
        Deed::Cautions {} if book.history().cautions_acknowledged(plan) => Ok(()),
        Deed::Cautions {} => keep(book, output, &Fact::CautionsAcknowledged { plan }),
        Deed::Conditioned(stored) => {
            let conditioning = stored.conditioning(plan);
            if book.history().conditionings(plan).contains(&&conditioning) {
                return Ok(());
            }
            keep(book, output, &Fact::ConditioningRecorded(conditioning))
        }
        Deed::Readiness {} => step::ready::ready(book, plan, output),
        Deed::AddSpecimens { specimens, reason } => {
            let specimens: Vec<_> = specimens.into_iter().map(SpecimenNumber).collect();
            let there = book.history().specimens(plan);
            if specimens.iter().all(|specimen| there.contains(specimen)) {
                return Ok(());
            }
            keep(book, output, &Fact::SpecimensAdded { plan, specimens, reason })
        }
        Deed::Spoilt { specimen, reason } => {
            let specimen = SpecimenNumber(specimen);
            if book.history().spoilt(plan).contains(&(specimen, reason.as_str())) {
                return Ok(());
            }
            keep(book, output, &Fact::SpecimenSpoilt { plan, specimen, reason })
        }
        Deed::Judge {} => {
            let now = book.history().judge(plan).map(|verdict| verdict.account());
            let recorded = book.history().verdict(plan).map(|verdict| verdict.account.clone());
            if recorded.is_some() && recorded == now {
                return Ok(());
            }
            step::judge::judge(book, plan, output).map(|_| ())
        }
        Deed::Report { after, device_clock, language } => {
            let device_clock = step::clocks::told(&device_clock)?;
            let language = issue::language(&language)?;
            let wanted = Wanted { plan, supersedes: None, device_clock, language };
            report(book, output, wanted, after.map(ReportNumber))
        }
    }
}

fn keep(book: &mut OpenBook, output: &Output, fact: &Fact) -> Result<(), Problem> {
    book.keep(fact, output).map(|_| ())
}

/// Issues a report once: a form that is sent again is told what was issued.
fn report(
    book: &mut OpenBook,
    output: &Output,
    wanted: Wanted,
    after: Option<ReportNumber>,
) -> Result<(), Problem> {
    if let Some((at, who, report)) = book.history().reports_on(wanted.plan).last()
        && after.is_none_or(|known| known < report.number)
    {
        let text =
            format!("report {} was issued at {} by {who}", report.number, super::super::when(*at));
        return Err(Problem::used_wrongly(text).hint("Nothing was issued twice."));
    }
    step::report::report(book, wanted, output).map(|_| ())
}

impl Stored {
    fn conditioning(self, plan: PlanNumber) -> Conditioning {
        let specimens: Vec<_> = self.specimens.into_iter().map(SpecimenNumber).collect();
        Conditioning {
            plan,
            what: if specimens.is_empty() {
                Conditioned::Layer
            } else {
                Conditioned::Specimens(specimens)
            },
            from: self.from.0,
            until: self.until.0,
            temperature: self.temperature.0,
            humidity: self.humidity.0,
        }
    }
}

/// The act that a form of the page asks for.
///
/// # Errors
///
/// All that is wrong with its fields.
pub(super) fn of_form(typed: &Typed) -> Result<Deed, Vec<Wrong>> {
    let reason = |ask: &str| typed.needed("reason", ask).map(str::to_owned);
    match typed.text("act") {
        "cautions" => Ok(Deed::Cautions {}),
        "conditioned" => stored(typed).map(Deed::Conditioned),
        "readiness" => Ok(Deed::Readiness {}),
        "add-specimens" => Ok(Deed::AddSpecimens {
            specimens: numbers(typed, "specimen"),
            reason: reason("Say why specimens are added.").map_err(|wrong| vec![wrong])?,
        }),
        "spoilt" => Ok(Deed::Spoilt {
            specimen: numbers(typed, "specimen").first().copied().unwrap_or(0),
            reason: reason("Say why the specimen is set aside.").map_err(|wrong| vec![wrong])?,
        }),
        "judge" => Ok(Deed::Judge {}),
        "report" => Ok(Deed::Report {
            after: numbers(typed, "after").first().copied(),
            device_clock: typed.text("device_clock").to_owned(),
            language: typed.text("language").to_owned(),
        }),
        other => Err(vec![Wrong::new("act", format!("`{other}` is nothing a plan's page does."))]),
    }
}

fn numbers(typed: &Typed, field: &str) -> Vec<u32> {
    typed.all(field).filter_map(|text| text.parse().ok()).collect()
}

fn stored(typed: &Typed) -> Result<Stored, Vec<Wrong>> {
    let mut wrong = Vec::new();
    if typed.all("what").next().is_none() {
        wrong.push(Wrong::new("what", "Say what was conditioned."));
    }
    let layer = typed.all("what").any(|what| what == "layer");
    let specimens = if layer { Vec::new() } else { numbers(typed, "what") };
    if layer && typed.all("what").count() > 1 {
        wrong.push(Wrong::new("what", "Record the layer by itself, then the specimens."));
    }
    let from = noted(moment(typed, "from", "When it began"), &mut wrong);
    let until = noted(moment(typed, "until", "When it ended"), &mut wrong);
    if let (Some(from), Some(until)) = (from, until)
        && until <= from
    {
        wrong.push(Wrong::new("until", format!("It ended at {until}, not after {from}.")));
    }
    let temperatures = range(typed, ("temperature", "temperature"), &CELSIUS, &mut wrong);
    let humidities = range(typed, ("humidity", "relative humidity"), &PERCENT, &mut wrong);
    let (Some(from), Some(until), Some((coldest, warmest)), Some((driest, dampest)), true) =
        (from, until, temperatures, humidities, wrong.is_empty())
    else {
        return Err(wrong);
    };
    Ok(Stored {
        specimens,
        from: Written(from),
        until: Written(until),
        temperature: Written(Range {
            from: Temperature::from_celsius(coldest.value()),
            to: Temperature::from_celsius(warmest.value()),
        }),
        humidity: Written(Range {
            from: Ratio::from_percent(driest.value()),
            to: Ratio::from_percent(dampest.value()),
        }),
    })
}

/// The value, or what is wrong put to the rest.
fn noted<T>(read: Result<T, Wrong>, wrong: &mut Vec<Wrong>) -> Option<T> {
    read.map_err(|one| wrong.push(one)).ok()
}

/// A date and time; without an offset it is in UTC.
fn moment(typed: &Typed, field: &str, what: &str) -> Result<Moment, Wrong> {
    let text = typed.text(field);
    let read = Moment::parse(text).or_else(|_| Moment::parse(&format!("{text}Z")));
    read.map_err(|_| {
        let said = if text.is_empty() { String::new() } else { format!("`{text}` is no time. ") };
        let words = format!("{what}: {said}Type date and time, such as 2026-11-24 08:00.");
        Wrong::new(field, words)
    })
}

/// The lowest and the highest value.
fn range(
    typed: &Typed,
    (field, what): (&str, &str),
    kind: &Kind,
    wrong: &mut Vec<Wrong>,
) -> Option<(Number, Number)> {
    let mut end = |which: &str, word: &str| {
        let field = format!("{field}-{which}");
        let text = typed.text(&field);
        let read = number::read(text, kind);
        let words = |fault: number::Fault| fault.words(&format!("The {word} {what}"), text, kind);
        noted(read.map_err(|fault| Wrong::new(&field, words(fault))), wrong)
    };
    let (low, high) = (end("from", "lowest"), end("to", "highest"));
    let (low, high) = (low?, high?);
    if low > high {
        let unit = kind.unit;
        let words =
            format!("The lowest {what}, {low} {unit}, is above the highest, {high} {unit}.");
        wrong.push(Wrong::new(format!("{field}-from"), words));
        return None;
    }
    Some((low, high))
}
