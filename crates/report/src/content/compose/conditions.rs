//! Under what conditions a plan's specimens were tested.

use std::collections::BTreeSet;

use metrology::{Ratio, Temperature};
use trial::fact::{Conditioned, Conditioning as Stored, LotKind};
use trial::history::History;
use trial::moment::Moment;
use trial::number::EquipmentNumber;
use trial::plan::{LayerChosen, Plan};
use trial::rules::{Provision, Range};

use super::{day, heated, number_stands, place, second};
use crate::content::{Conditioning, Conditions, Equipment, Placing, Value};

pub(super) fn conditions(history: &History, plan: &Plan) -> Conditions {
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
            .map(|stored| conditioning(plan, stored))
            .collect(),
        atmosphere: atmosphere(history, plan),
        layer: layer(history, plan, last),
        gas: gas(history, plan),
        flame_height: height.map(|height| Value::exact(height, 1)),
        flame_height_asked: told(plan, &asked.flame_height),
        position: plan.draft().position.clone(),
        points: plan
            .draft()
            .points
            .iter()
            .zip(1..)
            .map(|(words, number)| Placing { name: number.to_string(), place: words.clone() })
            .collect(),
        durations: durations(plan),
        equipment: equipment(history, plan, last),
    }
}

/// A number of a standard with its place and how it stands.
fn told<T>(plan: &Plan, asked: &Provision<T>) -> String {
    let place = place(plan, &asked.source, &asked.clause);
    format!("{} ({place}; {})", asked.text, number_stands(asked.standing))
}

fn durations(plan: &Plan) -> String {
    let application = &plan.requirement().asked.application;
    let each = &plan.requirement().duration_of_application;
    let count = application.count.value.number();
    let times = if count == 1 {
        "One application of".to_owned()
    } else {
        format!("{count} applications of")
    };
    let pause = application.pause.as_ref().map(|pause| format!(", {} apart", pause.text));
    format!(
        "{times} {} {}{} ({}; {})",
        each.text,
        application.tolerance.text,
        pause.unwrap_or_default(),
        place(plan, &each.source, &each.clause),
        number_stands(each.standing)
    )
}

fn conditioning(plan: &Plan, stored: &Stored) -> Conditioning {
    let asked = &plan.requirement().asked;
    let (what, asked) = match &stored.what {
        Conditioned::Specimens(numbers) => {
            let numbers: Vec<String> = numbers.iter().map(ToString::to_string).collect();
            (format!("Specimens {}", numbers.join(", ")), &asked.conditioning)
        }
        Conditioned::Layer => ("Tissue and board".to_owned(), &asked.layer_conditioning),
    };
    Conditioning {
        what,
        from: second(stored.from),
        until: second(stored.until),
        atmosphere: air(stored.temperature, stored.humidity),
        asked: format!(
            "{}, {}, {}",
            asked.duration.text, asked.temperature.text, asked.humidity.text
        ),
    }
}

fn air(temperature: Range<Temperature>, humidity: Range<Ratio>) -> String {
    let (cold, warm) = (temperature.from.celsius(), temperature.to.celsius());
    let (dry, wet) = (humidity.from.percent(), humidity.to.percent());
    let degrees = if cold.total_cmp(&warm).is_eq() {
        format!("{cold:.1} °C")
    } else {
        format!("{cold:.1} °C to {warm:.1} °C")
    };
    if dry.total_cmp(&wet).is_eq() {
        format!("{degrees}, {dry:.0} %")
    } else {
        format!("{degrees}, {dry:.0} % to {wet:.0} %")
    }
}

/// The air of the runs, from the lowest to the highest.
fn atmosphere(history: &History, plan: &Plan) -> String {
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
    let found = span.map_or_else(|| "not recorded".to_owned(), |(t, h)| air(t, h));
    format!("{found}, asked {}, {}", asked.temperature.text, asked.humidity.text)
}

fn layer(history: &History, plan: &Plan, last: Option<Moment>) -> String {
    let asked = &plan.requirement().asked.layer;
    let lots = [LotKind::Tissue, LotKind::Board].map(|kind| {
        let open = |(since, lot): &&(Moment, trial::fact::Lot)| {
            lot.kind == kind && last.is_none_or(|last| *since <= last)
        };
        history.lots().iter().rfind(open).map(|(_, lot)| format!("{kind} lot {}", lot.number))
    });
    let lots: Vec<String> = lots.into_iter().flatten().collect();
    let words = match &plan.draft().layer {
        LayerChosen::Specified => {
            format!("{}, {} below", asked.kind.text, asked.distance.text)
        }
        LayerChosen::Other(words) => words.clone(),
        LayerChosen::NotUsed(why) => return format!("none: {why}"),
    };
    if lots.is_empty() { words } else { format!("{words}; {}", lots.join(", ")) }
}

fn gas(history: &History, plan: &Plan) -> String {
    let heated = heated(history, plan.number());
    let made = history.determinations().iter().filter(|made| heated.contains(&made.number));
    let used: BTreeSet<_> = made.map(|made| &made.gas).collect();
    let lots = history.lots().iter().filter(|(_, lot)| used.contains(&lot.number));
    let told: Vec<String> = lots
        .map(|(since, lot)| {
            format!("{}, lot {}, opened {}", lot.description, lot.number, since.day())
        })
        .collect();
    if told.is_empty() { "not recorded".into() } else { told.join("; ") }
}

/// The plan's equipment, and the block and thermocouple of each determination, as calibrated on
/// the day of the last run.
fn equipment(history: &History, plan: &Plan, last: Option<Moment>) -> Vec<Equipment> {
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
                format!("{}: {}", found.kind.word().replace('-', " "), found.description)
            }),
            calibrated: calibration.map(|calibration| day(calibration.on)),
            due: calibration.map(|calibration| day(calibration.due)),
            certificate: calibration.map(|calibration| calibration.certificate.clone()),
        }
    });
    rows.collect()
}
