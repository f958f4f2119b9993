//! A press is when it was, however busy the page is.

use std::time::Duration;

use fantoccini::key::Key;
use serde_json::{Value, json};

use super::at_bench::kept;
use super::bench_film::LOOKED_AT;
use super::driver::to_test;
use super::hands::Hand;
use crate::served::Served;

/// So many presses must come while the page is busy.
const PRESSES: usize = 30;
/// So many are made at most: on a slow machine some come when the page is through.
const PRESSES_AT_MOST: usize = 60;
/// Pressed while the page was busy: its handler came later than this, in milliseconds.
const LATE_MS: f64 = 50.0;
/// What is kept is off the event by no more, in 99 of 100, in milliseconds.
const OFF_AT_MOST_MS: f64 = 5.0;

/// The page does nothing else for 700 ms, soon after it has said so.
const BUSY: &str = "setTimeout(() => {
    const end = performance.now() + 700;
    while (performance.now() < end);
  }, 50); true";
/// The press comes from outside when the page is busy by then.
const PAUSE: Duration = Duration::from_millis(150);

/// Notes of each mark when it was pressed by its event's own stamp, which the browser sets before
/// the page has it, and by how much its handler was late.
const NOTE: &str = "globalThis.pressed = [];
  addEventListener('keydown', ({ key, timeStamp }) => {
    if (key === 'PageUp') pressed.push([timeStamp, performance.now() - timeStamp]);
  }, { capture: true });";

#[tokio::test]
async fn a_press_has_the_time_of_its_event_with_the_page_busy_for_700_ms() {
    let (served, _profile, browser) = to_test().await;
    browser.go(&served.at("/bench/2/1")).await;
    browser.until(LOOKED_AT, "what the device can do").await;
    browser.value(NOTE).await;
    browser.press(Hand::Keyboard, ("button", "No switch")).await;
    browser.press(Hand::Keyboard, ("button", "Darken the room and begin")).await;
    browser.state("ready").await;
    browser.switch("on-specimen").await;
    let mut pressed: Vec<(f64, f64)> = Vec::new();
    for nth in 1..=PRESSES_AT_MOST {
        browser.value(BUSY).await;
        browser.key_after(PAUSE, Key::PageUp).await;
        browser.until(&format!("pressed.length === {nth}"), "the press at the page").await;
        pressed = serde_json::from_value(browser.value("pressed").await).unwrap();
        if while_busy(&pressed) >= PRESSES {
            break;
        }
    }
    let count = pressed.len();
    assert!(while_busy(&pressed) >= PRESSES, "too few came while the page was busy: {pressed:?}");
    let marks = "presses.filter(({ act }) => act === 'mark').length";
    let twin = "fetch('/api/bench/2/1').then((it) => it.json())";
    let sent = format!("{twin}.then(({{ presses }}) => {marks} === {count})");
    browser.until(&sent, "all presses in the record").await;
    let kept_ms = marks_kept(&served);
    assert_eq!(kept_ms.len(), count, "{:?}", kept(&served));
    // Both count from a moment of their own: what lies between is compared.
    let both = kept_ms.iter().zip(&pressed);
    let off = both.map(|(kept, (stamp, _))| (kept - kept_ms[0]) - (stamp - pressed[0].0));
    let mut off_ms: Vec<f64> = off.map(f64::abs).collect();
    off_ms.sort_by(f64::total_cmp);
    let mut late_ms: Vec<f64> = pressed.iter().map(|(_, late)| *late).collect();
    late_ms.sort_by(f64::total_cmp);
    let p99 = |sorted: &[f64]| sorted[(count * 99).div_ceil(100) - 1];
    let told = json!({
        "presses": count, "off_p99_ms": p99(&off_ms), "handler_late_median_ms": late_ms[count / 2]
    });
    assert!(p99(&off_ms) <= OFF_AT_MOST_MS, "{told}");
    println!("{told}");
    drop(browser);
    served.ended();
}

/// How many of the presses came while the page was busy.
fn while_busy(pressed: &[(f64, f64)]) -> usize {
    pressed.iter().filter(|(_, late)| *late > LATE_MS).count()
}

/// When the marks were that the record has, in milliseconds.
fn marks_kept(served: &Served) -> Vec<f64> {
    let twin: Value = serde_json::from_str(&served.page("/api/bench/2/1")).unwrap();
    let presses = twin["presses"].as_array().unwrap();
    let marks = presses.iter().filter(|press| press["act"] == "mark");
    marks.map(|press| press["at_us"].as_f64().unwrap() / 1000.0).collect()
}
