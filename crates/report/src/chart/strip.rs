//! Each specimen's times as a strip, all on one scale of time, against the limit.

use super::axes::{Scale, across, small};
use super::drawing::{Anchor, At, Chart, Dash, Drawing, Ink, Pen};
use super::flame::whisker;
use crate::content::{Specimen, Value};
use crate::words::{self, Charts, Words};
use trial::fact::Language;

const WIDTH: f64 = 470.0;
const LEFT: f64 = 56.0;
const RIGHT: f64 = 452.0;
/// Half the height of a strip.
const HALF: f64 = 4.0;

/// The times of `specimens`. Zero is the last removal of the flame: what lies left of it is the
/// application, what lies right of it is afterflame and afterglow.
#[must_use]
pub fn strip(specimens: &[Specimen], language: Language) -> Chart {
    let words = words::of(language);
    let said = &words.charts;
    let row = if specimens.len() <= 6 { 22.0 } else { 17.0 };
    let top = 44.0;
    let bottom = top + row * small(specimens.len()) + 2.0;
    let mut drawing = Drawing::in_words(words, WIDTH, bottom + 34.0);
    let time = scale(specimens);
    key(&mut drawing, said);
    let zero = time.at(0.0);
    drawing.line(At(zero, top - 2.0), At(zero, bottom), Pen(Ink::Line, 0.7, Dash::Solid));
    drawing.small(At(zero, top - 6.0), Anchor::Middle, Ink::Quiet, said.removed);
    if let Some(limit) = limit(specimens) {
        let x = time.at(limit);
        drawing.line(At(x, top - 2.0), At(x, bottom), Pen(Ink::Black, 1.0, Dash::Fine));
        let limit = (said.limit)(&(words.shown)(&format!("{limit} s")));
        drawing.small(At(x, top - 6.0), Anchor::Middle, Ink::Black, &limit);
    }
    for (index, specimen) in specimens.iter().enumerate() {
        let y = top + row * (small(index) + 0.5);
        draw(&mut drawing, &time, (specimen, said), y);
    }
    across(&mut drawing, &time, bottom, said.since_removal);
    let told = specimens.iter().map(|it| told(it, words)).collect::<Vec<_>>().join(" ");
    drawing.finish(said.times, told)
}

fn scale(specimens: &[Specimen]) -> Scale {
    let before = specimens.iter().map(|specimen| removed(specimen) - began(specimen));
    let after = specimens.iter().map(|specimen| burnt(specimen) * 1.02);
    let limits = specimens.iter().filter_map(|specimen| specimen.burning_limit_s);
    let low = before.fold(5.0, f64::max);
    let high = after.chain(limits).fold(10.0, f64::max);
    Scale::new((-low - 1.0, high + (high + low) * 0.07), (LEFT, RIGHT))
}

/// What the strips mean, in a line above them.
fn key(drawing: &mut Drawing, said: &Charts) {
    let [applied, flamed, glowed, seen] = said.parts;
    let y = 9.0;
    let mut x = LEFT;
    for (name, part, width) in
        [(applied, Part::Applied, 82.0), (flamed, Part::Flame, 70.0), (glowed, Part::Glow, 66.0)]
    {
        bar(drawing, (x, x + 16.0), y, part);
        drawing.small(At(x + 20.0, y + 3.0), Anchor::Start, Ink::Quiet, name);
        x += width + 14.0;
    }
    mark(drawing, x + 3.0, y + 3.0);
    drawing.small(At(x + 10.0, y + 3.0), Anchor::Start, Ink::Quiet, seen);
}

#[derive(Clone, Copy)]
enum Part {
    Applied,
    Flame,
    Glow,
    Void,
}

fn bar(drawing: &mut Drawing, (from, to): (f64, f64), y: f64, part: Part) {
    match part {
        Part::Void => {
            let pen = Pen(Ink::Line, 0.6, Dash::Solid);
            drawing.frame(At(from, y - HALF + 1.0), At(to, y + HALF - 1.0), pen);
        }
        Part::Applied => {
            drawing.rect(At(from, y - HALF + 1.0), At(to, y + HALF - 1.0), Ink::Blue);
        }
        Part::Flame => drawing.rect(At(from, y - HALF), At(to, y + HALF), Ink::Rust),
        Part::Glow => {
            let pen = Pen(Ink::Rust, 1.0, Dash::Solid);
            drawing.frame(At(from, y - HALF + 0.5), At(to, y + HALF - 0.5), pen);
        }
    }
}

/// A small tick that points down at a strip.
fn mark(drawing: &mut Drawing, x: f64, y: f64) {
    let pen = Pen(Ink::Black, 0.9, Dash::Solid);
    drawing.path(&[At(x - 2.4, y - 5.0), At(x, y - 1.0), At(x + 2.4, y - 5.0)], pen);
}

fn draw(drawing: &mut Drawing, time: &Scale, (specimen, said): (&Specimen, &Charts), y: f64) {
    let void = specimen.spoilt.is_some();
    let name = (said.number)(specimen.number) + if void { said.void } else { "" };
    let ink = if void { Ink::Line } else { Ink::Black };
    let part = |counted| if void { Part::Void } else { counted };
    drawing.text(At(LEFT - 10.0, y + 3.0), Anchor::End, ink, &name);
    let zero_s = removed(specimen);
    for application in &specimen.applications {
        let ends = (time.at(application.on_s - zero_s), time.at(application.removed_s - zero_s));
        bar(drawing, ends, y, part(Part::Applied));
    }
    let flamed = seconds(specimen.afterflame.as_ref());
    let glowed = seconds(specimen.afterglow.as_ref());
    if glowed > 0.0 {
        bar(drawing, (time.at(flamed), time.at(flamed + glowed)), y, part(Part::Glow));
    }
    if flamed > 0.0 {
        bar(drawing, (time.at(0.0), time.at(flamed)), y, part(Part::Flame));
    }
    for seen in &specimen.observations {
        let at = seen.at.value - zero_s;
        if time.holds(at) {
            mark(drawing, time.at(at), y - HALF + 0.5);
        }
    }
    if let Some(burning) = &specimen.burning
        && let Some(uncertainty) = &burning.uncertainty
    {
        let (low, high) =
            (burning.value - uncertainty.expanded, burning.value + uncertainty.expanded);
        whisker(drawing, (time.at(low), time.at(high)), y, ink);
    }
}

fn told(specimen: &Specimen, words: &Words) -> String {
    let said = &words.charts;
    let text = |value: Option<&Value>| {
        value.map_or_else(|| said.not_read.to_owned(), |value| (words.shown)(&value.text()))
    };
    let Specimen { applied, afterflame, afterglow, burning, .. } = specimen;
    let [applied, flamed, glowed, burnt] =
        [Some(applied), afterflame.as_ref(), afterglow.as_ref(), burning.as_ref()].map(text);
    let told = if specimen.spoilt.is_some() { said.spoilt } else { said.told };
    told(specimen.number, [&applied, &flamed, &glowed, &burnt])
}

/// The limit, where one and the same holds for all that have one.
fn limit(specimens: &[Specimen]) -> Option<f64> {
    let mut limits = specimens.iter().filter_map(|specimen| specimen.burning_limit_s);
    let first = limits.next()?;
    limits.all(|limit| limit.total_cmp(&first).is_eq()).then_some(first)
}

fn removed(specimen: &Specimen) -> f64 {
    specimen.applications.last().map_or(0.0, |application| application.removed_s)
}

fn began(specimen: &Specimen) -> f64 {
    specimen.applications.first().map_or(0.0, |application| application.on_s)
}

fn burnt(specimen: &Specimen) -> f64 {
    let burning = specimen.burning.as_ref().map_or(0.0, |burning| {
        burning.value + burning.uncertainty.as_ref().map_or(0.0, |found| found.expanded)
    });
    burning.max(seconds(specimen.afterflame.as_ref()) + seconds(specimen.afterglow.as_ref()))
}

fn seconds(value: Option<&Value>) -> f64 {
    value.map_or(0.0, |value| value.value.max(0.0))
}
