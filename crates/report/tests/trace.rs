//! The picture of one trace.

use metrology::{Duration, Temperature};
use reading::{
    Circumstances, Missing, MissingCause, Point, SensorUncertainty, Trace, Window, rise_time,
};
use report::chart::{Look, TraceView, trace};

use crate::sample;
use crate::tools::written;

fn window() -> Window {
    Window::new(Temperature::from_celsius(100.0), Temperature::from_celsius(700.0)).unwrap()
}

#[test]
fn a_trace_is_drawn_with_window_crossings_and_what_was_not_used() {
    let heated = sample::heating(21.36);
    let known = Circumstances::default();
    let rise = rise_time(&heated, window(), SensorUncertainty::NONE, &known).unwrap();
    let view = TraceView {
        name: "flame <1>.csv",
        trace: &heated,
        window: window(),
        rise: Some(&rise),
        not_used: &[120],
        told: "100 °C at 6.8 s, 700 °C at 30.2 s: 23.4 s",
    };
    for (look, name) in [(Look::Screen, "trace-screen.svg"), (Look::Paper, "trace-paper.svg")] {
        let svg = trace(&view, look).svg;
        written(name, svg.as_bytes());
        assert!(svg.contains("role=\"img\"") && svg.contains("flame &lt;1&gt;.csv"), "{svg:.600}");
        assert!(svg.contains("700 °C at 30.2 s: 23.4 s</desc>"), "{svg:.600}");
        let themed = svg.contains("prefers-color-scheme: dark");
        assert_eq!(themed, look == Look::Screen);
        assert_eq!(svg.matches("<circle").count(), 3, "two crossings and one reading not used");
    }
}

#[test]
fn a_gap_stays_open_and_a_missing_value_is_marked() {
    let points = (0..600).filter(|index| !(200..260).contains(index)).map(|index| Point {
        at: Duration::from_seconds(f64::from(index) / 10.0),
        temperature: Temperature::from_celsius(20.0 + f64::from(index)),
    });
    let missing =
        vec![Missing { at: Duration::from_seconds(40.05), cause: MissingCause::OpenCircuit }];
    let view = TraceView {
        name: "gap",
        trace: &Trace::with_missing(points, missing).unwrap(),
        window: window(),
        rise: None,
        not_used: &[],
        told: "a gap from 20 s to 26 s",
    };
    let svg = trace(&view, Look::Paper).svg;
    written("trace-gap.svg", svg.as_bytes());
    let curve = "stroke=\"#1A1A18\" stroke-width=\"1.2\"";
    assert_eq!(svg.matches(curve).count(), 3, "before the gap, up to the missing value, after it");
}

#[test]
fn a_million_readings_make_a_small_picture_that_keeps_its_spike() {
    let points = (0..1_000_000).map(|index| Point {
        at: Duration::from_seconds(f64::from(index) / 1000.0),
        temperature: Temperature::from_celsius(if index == 777_777 { 650.0 } else { 25.0 }),
    });
    let view = TraceView {
        name: "long",
        trace: &Trace::new(points).unwrap(),
        window: window(),
        rise: None,
        not_used: &[usize::MAX],
        told: "never reaches 700 °C",
    };
    let svg = trace(&view, Look::Screen).svg;
    assert!(svg.len() < 60_000, "{} bytes", svg.len());
    let top = 420.0 - (420.0 - 34.0) * 650.0 / 700.0;
    assert!(svg.contains(&format!(" {top:.2}L")), "the spike at {top:.2} is not drawn");
}
