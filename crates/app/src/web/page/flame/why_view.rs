//! The page that says why one determination is as it is.

use maud::{Markup, html};

use crate::step::block::{BlockCurve, BlockSheet, CauseShown, DiagnosisSheet, Place, Together};
use crate::step::why::{NotTold, WhySheet};
use crate::web::answer::sentence;

/// What stands on the page.
pub(super) fn main(sheet: &WhySheet) -> Markup {
    html! {
        @if let Some(diagnosis) = &sheet.diagnosis { p.sentence { (diagnosis.sentence) } }
        @if let Some(why) = &sheet.not_told { (not_told("Nothing is told.", why)) }
        @if let Some(why) = &sheet.not_diagnosed { (not_told("No cause is looked for.", why)) }
        p { b { (sentence(&sheet.told)) } " At " (sheet.at)
            @if let Some(file) = &sheet.file { ", from " (file) } "." }
        p.onward { a href={ "/flame/determinations/" (sheet.determination) "/budget" } {
            "What its uncertainty is made of"
        } }
        @if let Some(diagnosis) = &sheet.diagnosis { (causes(diagnosis)) }
        @if let Some(block) = &sheet.block { (told(block)) }
        @if let Some(base) = &sheet.base_line {
            h2 { "Held against" }
            p { a href="/flame/base-line" { "Base line B-" (base.base_line) } ", frozen at " (base.at)
                " by " (base.by) "; " (base.used) " of its " (base.of)
                " determinations show a cooling and still count." }
        }
        p.onward { a href={ "/flame#D-" (sheet.determination) } { "Back to the flame" } }
    }
}

fn not_told(what: &str, why: &NotTold) -> Markup {
    html! {
        p.sentence { (what) }
        p { (sentence(&why.text)) @if let Some(hint) = &why.hint { " " (hint) } }
    }
}

/// A cause less probable than this needs no evidence.
const WORTH: f64 = 0.01;

/// The causes that are named, and the others by their probability.
fn causes(diagnosis: &DiagnosisSheet) -> Markup {
    let named = diagnosis.causes.iter().filter(|cause| cause.named);
    let others = diagnosis.causes.iter().filter(|cause| !cause.named);
    html! {
        @if let Some(flow) = &diagnosis.flow { p { (flow.sentence) } }
        h2 { "Causes" }
        @for cause in named { (one(cause)) }
        div.wide role="region" aria-label="How probable each cause is" tabindex="0" {
            table {
                thead { tr { th { "Cause" } th.number { "Probability" } } }
                tbody {
                    @if diagnosis.finding == "nothing" {
                        tr { td { "nothing has changed" }
                            td.number { (crate::words::percent(metrology::Ratio::from_fraction(diagnosis.nothing))) } }
                    }
                    @for cause in others {
                        tr {
                            td { (cause.said)
                                @if cause.probability >= WORTH { p.hint { (cause.evidence) } } }
                            td.number { (cause.probability_said) }
                        }
                    }
                }
            }
        }
    }
}

fn one(cause: &CauseShown) -> Markup {
    html! {
        h3 { (sentence(&cause.said).trim_end_matches('.')) ", " (cause.probability_said) }
        p { (cause.evidence) }
        p { (cause.advice) }
    }
}

/// What the curve tells, with its picture.
fn told(block: &BlockSheet) -> Markup {
    html! {
        h2 { "What the curve tells" }
        figure.large {
            (picture(&block.curve))
            figcaption.hint { "Above: the readings, and dashed the fitted course. Below: the readings less the course. " (block.residuals) }
        }
        dl {
            @if let (Some(gain), Some(flame)) = (&block.gain, &block.flame) {
                dt { "Gain" } dd { (gain.text) " of heat from the flame, for each kelvin" }
                dt { "Flame" } dd { (flame.text) ", as the block sees it" }
            }
            dt { "Loss to the air" } dd { (block.loss.text) }
            dt { "Emissivity" } dd { (block.emissivity.text) }
            dt { "Block" } dd { (block.block) }
        }
        p.hint { "All ± are expanded uncertainties (k = 2), of the readings alone. Mass, surface and room are taken as they stand." }
        @if let Some(missing) = &block.cooling_missing { p.abnormal { "◆ " (missing) } }
        @for said in &block.not_told_apart { p { (sentence(said)) } }
        @for said in &block.seating { p { (said) } }
        p { (block.one_temperature) }
        @if !block.correlations.is_empty() { (together(&block.correlations)) }
    }
}

fn together(correlations: &[Together]) -> Markup {
    html! {
        details {
            summary { "How closely the fitted values go together" }
            div.wide role="region" aria-label="Correlations" tabindex="0" {
                table {
                    thead { tr { th { "One" } th { "Other" } th.number { "Correlation" } } }
                    tbody { @for it in correlations {
                        tr { td { (it.one) } td { (it.other) }
                            td.number { (format!("{:+.3}", it.correlation).replace('-', "−")) } }
                    } }
                }
            }
        }
    }
}

const LEFT: f64 = 76.0;
const RIGHT: f64 = 716.0;
const TOP: f64 = 16.0;
const BOTTOM: f64 = 330.0;
/// What is left over lies below, on the same time.
const LEFT_TOP: f64 = 400.0;
const LEFT_BOTTOM: f64 = 520.0;

/// A scale from values to places.
struct Scale {
    values: (f64, f64),
    places: (f64, f64),
}

impl Scale {
    fn at(&self, value: f64) -> f64 {
        let (low, high) = self.values;
        let part = (value.clamp(low, high) - low) / (high - low);
        self.places.0 + part * (self.places.1 - self.places.0)
    }
}

/// The curve with the fitted course, and below what is left over.
fn picture(curve: &BlockCurve) -> Markup {
    let first = curve.read.first().map_or(0.0, |place| place.s);
    let last = curve.read.last().map_or(1.0, |place| place.s).max(first + 1.0);
    let time = Scale { values: (first, last), places: (LEFT, RIGHT) };
    let hottest = curve.read.iter().map(|place| place.value).fold(200.0, f64::max);
    let heat = Scale { values: (0.0, (hottest / 100.0).ceil() * 100.0), places: (BOTTOM, TOP) };
    let left = curve.left.iter().flatten().map(|place| place.value.abs()).fold(1.0, f64::max);
    let left = Scale { values: (-left.ceil(), left.ceil()), places: (LEFT_BOTTOM, LEFT_TOP) };
    let label = "Temperature of the block in °C over seconds since the flame came, with the fitted \
                 course; below, the readings less the course in kelvin. The text below says what \
                 they tell.";
    html! {
        svg.curves viewBox="0 -14 740 610" role="img" aria-label=(label) {
            (upright(&heat, 200.0, "°C"))
            (upright(&left, left.values.1, "K"))
            path.axis d=(format!("M{LEFT} {TOP}V{BOTTOM}H{RIGHT}")) {}
            path.axis d=(format!("M{LEFT} {LEFT_TOP}V{LEFT_BOTTOM}H{RIGHT}")) {}
            line.limit x1=(LEFT) y1=(left.at(0.0)) x2=(RIGHT) y2=(left.at(0.0)) {}
            @for s in seconds(first, last) {
                line.tick x1=(time.at(s)) y1=(LEFT_BOTTOM) x2=(time.at(s)) y2=(LEFT_BOTTOM + 5.0) {}
                text x=(time.at(s)) y=(LEFT_BOTTOM + 27.0) text-anchor="middle" { (s) }
            }
            text x=(LEFT) y=(LEFT_BOTTOM + 60.0) { "seconds since the flame came" }
            path class="run first" d=(steps(&curve.read, &time, &heat)) {}
            @for piece in &curve.fitted {
                path class="run second" d=(steps(piece, &time, &heat)) {}
            }
            @for piece in &curve.left { path class="run first thin" d=(steps(piece, &time, &left)) {} }
        }
    }
}

fn upright(scale: &Scale, step: f64, unit: &str) -> Markup {
    let (low, high) = scale.values;
    let marks = (-1..=8).map(|n| f64::from(n) * step);
    html! {
        @for mark in marks.filter(|mark| (low..=high).contains(mark)) {
            line.tick x1=(LEFT - 5.0) y1=(scale.at(mark)) x2=(LEFT) y2=(scale.at(mark)) {}
            text x=(LEFT - 9.0) y=(scale.at(mark) + 5.0) text-anchor="end" {
                (mark.to_string().replace('-', "−"))
            }
        }
        text x=(LEFT + 6.0) y=(scale.places.1 + 4.0) { (unit) }
    }
}

/// Round seconds, six at most.
fn seconds(first: f64, last: f64) -> impl Iterator<Item = f64> {
    let steps = [10.0, 20.0, 30.0, 60.0, 120.0, 300.0, 600.0, 1200.0];
    let step = steps.into_iter().find(|step| (last - first) / step <= 6.0).unwrap_or(3600.0);
    (0..=6).map(move |n| f64::from(n) * step).filter(move |s| (first..=last).contains(s))
}

fn steps(piece: &[Place], time: &Scale, value: &Scale) -> String {
    let step = |place: &Place| format!("{:.1} {:.1}", time.at(place.s), value.at(place.value));
    format!("M{}", piece.iter().map(step).collect::<Vec<_>>().join("L"))
}
