//! Under what conditions a plan's specimens were tested.

use std::collections::BTreeSet;

use metrology::{Ratio, Temperature};
use trial::fact::{Conditioned, Conditioning as Stored, LotKind};
use trial::history::History;
use trial::moment::Moment;
use trial::number::EquipmentNumber;
use trial::plan::{LayerChosen, Plan};
use trial::rules::{Provision, Range};

use super::{day, heated, place, second};
use crate::content::{Conditioning, Conditions, Equipment, Placing, Value};
use crate::words::Words;

pub(super) fn conditions(history: &History, plan: &Plan, words: &Words) -> Conditions {
    let asked = &plan.requirement().asked;
    let began = history.runs(plan.number()).iter().map(|run| run.run.observed().began);
    let last = began.max();
    let heated = heated(history, plan.number());
    let made = history.determinations().iter().filter(|made| heated.contains(&made.number));
    let height = made.clone().filter_map(|made| made.flame_height).next_back();
    Conditions {
        conditioning: history
            .conditionings(plan.number())
            .into_iter()
            .map(|stored| conditioning(plan, stored, words))
            .collect(),
        atmosphere: atmosphere(history, plan, words),
        layer: layer(history, plan, (last, words)),
        gas: gas(history, plan, words),
        flame_height: height.map(|height| Value::exact(height, 1)),
        flame_height_asked: told(plan, &asked.flame_height, words),
        position: plan.draft().position.clone(),
        points: plan
            .draft()
            .points
            .iter()
            .zip(1..)
            .map(|(place, number)| Placing { name: number.to_string(), place: place.clone() })
            .collect(),
        durations: durations(plan, words),
        equipment: equipment(history, plan, (last, words)),
    }
}

/// A number of a standard with its place and how it stands.
fn told<T>(plan: &Plan, asked: &Provision<T>, words: &Words) -> String {
    format!("{} {}", (words.of_rules)(&asked.text), where_from(plan, asked, words))
}

/// Where a number of a standard stands, and how it stands, in brackets.
fn where_from<T>(plan: &Plan, asked: &Provision<T>, words: &Words) -> String {
    let place = place(plan, (&asked.source, &asked.clause), words);
    format!("({place}; {})", (words.whole.number_stands)(asked.standing))
}

fn durations(plan: &Plan, words: &Words) -> String {
    let application = &plan.requirement().asked.application;
    let each = &plan.requirement().duration_of_application;
    let shown = |text: &str| (words.of_rules)(text);
    let pause = application.pause.as_ref().map(|pause| shown(&pause.text));
    let long = format!("{} {}", shown(&each.text), shown(&application.tolerance.text));
    let count = application.count.value.number();
    let applied = (words.conditions.applications)(count, &long, pause.as_deref());
    format!("{applied} {}", where_from(plan, each, words))
}

fn conditioning(plan: &Plan, stored: &Stored, words: &Words) -> Conditioning {
    let asked = &plan.requirement().asked;
    let (what, asked) = match &stored.what {
        Conditioned::Specimens(numbers) => {
            let numbers: Vec<String> = numbers.iter().map(ToString::to_string).collect();
            ((words.conditions.specimens)(&numbers.join(", ")), &asked.conditioning)
        }
        Conditioned::Layer => (words.conditions.layer_parts.to_owned(), &asked.layer_conditioning),
    };
    let [duration, temperature, humidity] =
        [&asked.duration.text, &asked.temperature.text, &asked.humidity.text]
            .map(|text| (words.of_rules)(text));
    Conditioning {
        what,
        from: second(stored.from),
        until: second(stored.until),
        atmosphere: air(stored.temperature, stored.humidity, words),
        asked: format!("{duration}, {temperature}, {humidity}"),
    }
}

fn air(temperature: Range<Temperature>, humidity: Range<Ratio>, words: &Words) -> String {
    let to = words.conditions.to;
    let (cold, warm) = (temperature.from.celsius(), temperature.to.celsius());
    let (dry, wet) = (humidity.from.percent(), humidity.to.percent());
    let degrees = if cold.total_cmp(&warm).is_eq() {
        format!("{cold:.1} °C")
    } else {
        format!("{cold:.1} °C{to}{warm:.1} °C")
    };
    let degrees = (words.shown)(&degrees);
    if dry.total_cmp(&wet).is_eq() {
        format!("{degrees}, {dry:.0} %")
    } else {
        format!("{degrees}, {dry:.0} %{to}{wet:.0} %")
    }
}

/// The air of the runs, from the lowest to the highest.
fn atmosphere(history: &History, plan: &Plan, words: &Words) -> String {
    let asked = &plan.requirement().asked.atmosphere;
    let airs = history.runs(plan.number()).iter().map(|run| run.run.observed().air);
    let span = airs.fold(None, |span: Option<(Range<Temperature>, Range<Ratio>)>, air| {
        let (t, h) = span.unwrap_or((
            Range { from: air.temperature, to: air.temperature },
            Range { from: air.humidity, to: air.humidity },
        ));
        let colder = if air.temperature < t.from { air.temperature } else { t.from };
        let warmer = if air.temperature > t.to { air.temperature } else { t.to };
        let drier = if air.humidity < h.from { air.humidity } else { h.from };
        let wetter = if air.humidity > h.to { air.humidity } else { h.to };
        Some((Range { from: colder, to: warmer }, Range { from: drier, to: wetter }))
    });
    let not_recorded = || words.conditions.not_recorded.to_owned();
    let found = span.map_or_else(not_recorded, |(t, h)| air(t, h, words));
    let [temperature, humidity] =
        [&asked.temperature.text, &asked.humidity.text].map(|text| (words.of_rules)(text));
    (words.conditions.asked)(&found, [&temperature, &humidity])
}

fn layer(history: &History, plan: &Plan, (last, words): (Option<Moment>, &Words)) -> String {
    let asked = &plan.requirement().asked.layer;
    let lots = [LotKind::Tissue, LotKind::Board].map(|kind| {
        let open = |(since, lot): &&(Moment, trial::fact::Lot)| {
            lot.kind == kind && last.is_none_or(|last| *since <= last)
        };
        let lot = history.lots().iter().rfind(open);
        lot.map(|(_, lot)| (words.conditions.lot)(kind, &lot.number.0))
    });
    let lots: Vec<String> = lots.into_iter().flatten().collect();
    let shown = |text: &str| (words.of_rules)(text);
    let layer = match &plan.draft().layer {
        LayerChosen::Specified => {
            (words.conditions.layer)(&shown(&asked.kind.text), &shown(&asked.distance.text))
        }
        LayerChosen::Other(layer) => layer.clone(),
        LayerChosen::NotUsed(why) => return (words.conditions.no_layer)(why),
    };
    if lots.is_empty() { layer } else { format!("{layer}; {}", lots.join(", ")) }
}

fn gas(history: &History, plan: &Plan, words: &Words) -> String {
    let heated = heated(history, plan.number());
    let made = history.determinations().iter().filter(|made| heated.contains(&made.number));
    let used: BTreeSet<_> = made.map(|made| &made.gas).collect();
    let lots = history.lots().iter().filter(|(_, lot)| used.contains(&lot.number));
    let told: Vec<String> = lots
        .map(|(since, lot)| {
            (words.conditions.gas)(&lot.description, [&lot.number.0, &since.day().to_string()])
        })
        .collect();
    if told.is_empty() { words.conditions.not_recorded.into() } else { told.join("; ") }
}

/// The plan's equipment, and the block and thermocouple of each determination, as calibrated on
/// the day of the last run.
fn equipment(
    history: &History,
    plan: &Plan,
    (last, words): (Option<Moment>, &Words),
) -> Vec<Equipment> {
    let heated = heated(history, plan.number());
    let made = history.determinations().iter().filter(|made| heated.contains(&made.number));
    let mut numbers: Vec<&EquipmentNumber> = plan.draft().equipment.iter().collect();
    for number in made.flat_map(|made| [&made.block, &made.thermocouple]) {
        if !numbers.contains(&number) {
            numbers.push(number);
        }
    }
    let rows = numbers.into_iter().map(|number| {
        let found = history.equipment(number);
        let calibration = last.and_then(|last| history.calibration(number, last.day()));
        Equipment {
            number: number.to_string(),
            description: found.map_or_else(String::new, |found| {
                format!("{}: {}", (words.conditions.equipment)(found.kind), found.description)
            }),
            calibrated: calibration.map(|calibration| day(calibration.on)),
            due: calibration.map(|calibration| day(calibration.due)),
            certificate: calibration.map(|calibration| calibration.certificate.clone()),
        }
    });
    rows.collect()
}
