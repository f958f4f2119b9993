//! In the dark with one button: the chain, what it says and sounds, and what does nothing.

use serde_json::{Value, json};

use super::at_bench::{AtBench, BEGIN, acts, kept};
use super::driver::{Browser, Profile, to_test};
use super::hands::{Hand, WAYS};
use crate::house::none;
use crate::served::holds;
use crate::web_plans::{ready_for_five, ready_to_test};

#[tokio::test]
async fn the_whole_chain_by_one_button_gives_the_times_to_the_millisecond() {
    for (hand, screen) in WAYS {
        let (served, _profile, browser) = to_test().await;
        browser.screen(screen, "dark").await;
        let bench = AtBench::ready(&served, (&browser, hand), BEGIN).await;
        assert_eq!(bench.number().await, "30");
        bench.chain().await;
        let shown = bench.text().await;
        holds(&shown, &["Duration of application\n30.2 s", "Afterflame\n11.5 s"]);
        holds(&shown, &["Afterglow\n2.3 s", "Duration of burning\n13.8 s"]);
        holds(&shown, &["Removed 0.2 s late (plan 30 s ± 1 s)"]);
        bench.says("✓ All 4 sent").await;
        let chain = [("flame-on", 0), ("flame-removed", 30_200), ("flames-out", 41_700)];
        let wanted = chain.into_iter().chain([("glow-out", 44_000)]);
        assert_eq!(kept(&served), wanted.map(|(it, at)| (it.into(), at)).collect::<Vec<_>>());
        bench.pass(1_500).await;
        browser.value("window.isOld = true").await;
        bench.main("Lights on, describe what you saw").await;
        let there = "window.isOld === undefined && location.pathname.includes('describe')";
        browser.until(there, "the description").await;
        none(&browser.complaints().await);
        drop(browser);
        served.ended();
    }
}

#[tokio::test]
async fn the_number_goes_down_until_the_removal_and_up_after_it_and_nothing_times_out() {
    let (served, _profile, browser) = to_test().await;
    browser.screen((1180, 820), "dark").await;
    let bench = AtBench::ready(&served, (&browser, Hand::Keyboard), BEGIN).await;
    bench.switch().await;
    bench.heading("Flame on specimen").await;
    for (more, number) in [(400, "30"), (1_000, "29"), (28_000, "1"), (600, "0"), (1_100, "+1")] {
        bench.pass(more).await;
        browser
            .until(&format!("document.querySelector('.digits').innerText === '{number}'"), number)
            .await;
    }
    bench.switch().await;
    bench.heading("Burning after removal").await;
    for (more, number) in [(900, "0"), (200, "1"), (58_500, "59")] {
        bench.pass(more).await;
        browser
            .until(&format!("document.querySelector('.digits').innerText === '{number}'"), number)
            .await;
    }
    let beside = "!document.querySelector('.beside').hidden";
    assert_eq!(browser.value(beside).await, false);
    bench.pass(500).await;
    browser.until(beside, "put out by hand beside the main action").await;
    bench.pass(600_000).await;
    bench.act("Put out by hand").await;
    bench.heading("Glow after the flames").await;
    bench.pass(1_000).await;
    bench.act("No glow").await;
    bench.heading("Finished").await;
    holds(&bench.text().await, &["660.1 s, put out by hand", "none (0.0 s)"]);
}

#[tokio::test]
async fn five_applications_go_round_with_the_same_button() {
    for (hand, screen) in WAYS {
        let served = ready_for_five();
        let profile = Profile::new();
        let browser = Browser::of(&served, &profile).await;
        browser.screen(screen, "dark").await;
        let bench = AtBench::ready(&served, (&browser, hand), BEGIN).await;
        holds(&bench.text().await, &["applied 5 × 15 s"]);
        for application in 1..=5 {
            bench.main("Flame on specimen").await;
            bench.heading(&format!("Flame on specimen, {application} of 5")).await;
            bench.pass(15_000).await;
            bench.main("Flame removed").await;
            if application < 5 {
                bench.heading(&format!("Between applications, {application} of 5 done")).await;
                let sounds =
                    browser.value("benchSound.planned.map(({ kind }) => kind).join()").await;
                assert_eq!(sounds, "tick,tick,tick,long-tone");
                bench.pass(15_000).await;
                assert_eq!(bench.number().await, "0");
            }
        }
        bench.heading("Burning after removal").await;
        bench.pass(4_000).await;
        bench.main("Flames out").await;
        bench.heading("Glow after the flames").await;
        bench.pass(1_000).await;
        bench.main("Glow out").await;
        bench.heading("Finished").await;
        holds(&bench.text().await, &["Application 5\n15.0 s", "Duration of burning\n5.0 s"]);
        bench.says("✓ All 12 sent").await;
        none(&browser.complaints().await);
        drop(browser);
        served.ended();
    }
}

#[tokio::test]
async fn sounds_are_planned_ahead_and_a_refused_wake_lock_stops_nothing() {
    let (served, _profile, browser) = to_test().await;
    let refuse = "globalThis.asked = 0; Object.defineProperty(navigator, 'wakeLock', { value: {
        request: () => { globalThis.asked += 1; return Promise.reject(new Error('refused')); } } });";
    let of = (&browser, Hand::Keyboard);
    let bench = AtBench::open(&served, of, (BEGIN, refuse)).await;
    bench.says("Clock: ±").await;
    bench.act("Play three ticks").await;
    browser.find("dialog", "Did you hear three ticks?").await;
    bench.act("Yes").await;
    bench.checked().await;
    bench.says("The screen may go dark; sounds and switch still work").await;
    assert_eq!(browser.value("asked").await, 1);
    browser.value("test.tones.length = 0").await;
    bench.switch().await;
    bench.heading("Flame on specimen").await;
    // The tone that answers, then the countdown on the audio clock, to 20 ms.
    let tones = "test.tones.map(({ in_s, hertz }) => [in_s, hertz])";
    let tones: Vec<(f64, f64)> = serde_json::from_value(browser.value(tones).await).unwrap();
    let wanted = [(0.0, 600.0), (27.0, 1000.0), (28.0, 1000.0), (29.0, 1000.0), (30.0, 1500.0)];
    assert_eq!(tones.len(), wanted.len(), "{tones:?}");
    for ((is, hertz), (should, wanted)) in tones.iter().zip(wanted) {
        assert!((is - should).abs() <= 0.02 && (hertz - wanted).abs() < 0.5, "{tones:?}");
    }
    bench.pass(30_000).await;
    bench.switch().await;
    bench.heading("Burning after removal").await;
    let planned = "benchSound.planned.map(({ at, kind }) => [at, kind])";
    let removed = browser.value("benchSound.played.at(-1).at").await.as_i64().unwrap();
    let low = json!([[removed + 30_000_000, "low-note"]]);
    assert_eq!(browser.value(planned).await, low, "silence up to the limit");
    none(&browser.complaints().await);
}

#[tokio::test]
async fn two_quick_presses_after_the_removal_are_asked_about() {
    for (hand, screen) in WAYS {
        let (served, _profile, browser) = to_test().await;
        browser.screen(screen, "dark").await;
        let bench = AtBench::ready(&served, (&browser, hand), BEGIN).await;
        bench.main("Flame on specimen").await;
        bench.heading("Flame on specimen").await;
        bench.pass(30_000).await;
        for words in ["Flame removed", "Flames out", "Glow out"] {
            bench.main(words).await;
            bench.pass(500).await;
        }
        bench.heading("Finished").await;
        bench.says("Was there any flame or glow after removal?").await;
        bench.act("No, none").await;
        bench.says("Afterglow\nnone (0.0 s)").await;
        holds(&bench.text().await, &["Afterflame\nnone (0.0 s)", "Duration of burning\n0.0 s"]);
        bench.says("All 6 sent").await;
        let wanted = ["flame-on", "flame-removed", "flames-out", "glow-out", "no-flame", "no-glow"];
        assert_eq!(acts(&served), wanted);
        drop(browser);
        served.ended();
    }
}

#[tokio::test]
async fn what_does_nothing_here_is_swallowed_and_is_in_the_log() {
    let (served, _profile, browser) = to_test().await;
    let bench = AtBench::ready(&served, (&browser, Hand::Keyboard), BEGIN).await;
    bench.switch().await;
    bench.heading("Flame on specimen").await;
    // The second half of a double press, and keys that repeat.
    bench.pass(120).await;
    bench.switch().await;
    bench.says("Ignored: too soon").await;
    bench.pass(1_500).await;
    let held = json!({ "type": "rawKeyDown", "key": "PageDown", "code": "PageDown",
        "windowsVirtualKeyCode": 34, "autoRepeat": true });
    browser.below("Input.dispatchKeyEvent", held).await;
    for (key, code) in [("F5", 116), ("Escape", 27), (".", 190), ("b", 66), ("?", 191)] {
        browser.key(key, code).await;
        bench.says("This button does nothing here").await;
    }
    for (kind, button) in [("mousePressed", "right"), ("mouseReleased", "right")] {
        let click = json!({ "type": kind, "button": button, "x": 300, "y": 300, "clickCount": 1 });
        browser.below("Input.dispatchMouseEvent", click).await;
    }
    let wheel = json!({ "type": "mouseWheel", "x": 300, "y": 300, "deltaX": 0, "deltaY": 120 });
    browser.below("Input.dispatchMouseEvent", wheel).await;
    bench.heading("Flame on specimen").await;
    assert_eq!(browser.value("document.querySelector('dialog')").await, Value::Null);
    bench.in_record(8).await;
    let twin: Value = serde_json::from_str(&served.page("/api/bench/2/1")).unwrap();
    let notes = twin["presses"].as_array().unwrap().iter().map(|press| press["note"].as_str());
    let notes: Vec<_> = notes.flatten().collect();
    let keys = ["F5", "Escape", ".", "b", "?"].map(|key| format!("key {key}"));
    let wanted = ["flame-removed came too soon"].into_iter().chain(keys.iter().map(String::as_str));
    assert_eq!(notes, wanted.chain(["button 2 of the mouse"]).collect::<Vec<_>>());
}

#[tokio::test]
async fn letters_mark_by_name_until_they_are_switched_off() {
    let (served, _profile, browser) = to_test().await;
    let bench = AtBench::ready(&served, (&browser, Hand::Keyboard), BEGIN).await;
    bench.switch().await;
    bench.heading("Flame on specimen").await;
    // No question while it burns; the letters name at once.
    bench.pass(7_400).await;
    bench.mark().await;
    bench.says("1 mark at 7.4 s").await;
    bench.pass(1_600).await;
    bench.mark().await;
    bench.says("2 marks, the last at 9.0 s").await;
    bench.pass(11_000).await;
    bench.letter("l").await;
    bench.says("3 marks, the last at 20.0 s").await;
    bench.pass(10_200).await;
    bench.switch().await;
    bench.heading("Burning after removal").await;
    bench.pass(1_000).await;
    bench.letter("n").await;
    bench.heading("Glow after the flames").await;
    bench.pass(1_000).await;
    bench.letter("r").await;
    bench.heading("Burning after removal").await;
    bench.pass(1_000).await;
    bench.switch().await;
    bench.heading("Glow after the flames").await;
    bench.pass(1_000).await;
    bench.letter("n").await;
    bench.heading("Layer below still burning").await;
    bench.pass(16_000).await;
    bench.letter("k").await;
    bench.heading("Finished").await;
    holds(&bench.text().await, &["Layer below\n20.0 s", "Duration of burning\n20.0 s"]);
    let all = ["flame-on", "mark", "mark", "layer-caught", "flame-removed", "no-flame"];
    let then = ["burning-again", "flames-out", "no-glow", "layer-out"];
    bench.says("All 10 sent").await;
    assert_eq!(acts(&served), [all.as_slice(), &then].concat());
    // Switched off, they do nothing; the one switch is on the page before the flame.
    let other = ready_to_test();
    let profile = Profile::new();
    let browser = Browser::of(&other, &profile).await;
    let bench = AtBench::open(&other, (&browser, Hand::Touch), (BEGIN, "")).await;
    bench.says("Clock: ±").await;
    browser.tap(&browser.find("DisclosureTriangle", "How this device is set").await).await;
    browser.tap(&browser.find("checkbox", "Single letters act").await).await;
    bench.checked().await;
    bench.main("Flame on specimen").await;
    bench.heading("Flame on specimen").await;
    bench.pass(2_000).await;
    for letter in ["d", "l", "x", "z"] {
        bench.letter(letter).await;
    }
    bench.mark().await;
    bench.says("1 mark at 2.0 s").await;
    bench.in_record(2).await;
    assert_eq!(acts(&other), ["flame-on", "mark"]);
}
