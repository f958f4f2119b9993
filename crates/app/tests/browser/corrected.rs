//! At the bench: presses that were wrong, a specimen that is spoilt, the switch, leaving.

use serde_json::{Value, json};

use super::at_bench::{AtBench, BEGIN, acts};
use super::driver::to_test;
use super::hands::{Hand, WAYS};
use crate::served::holds;

#[tokio::test]
async fn a_wrong_press_is_withdrawn_and_a_spoilt_specimen_may_turn_out_not_to_be() {
    for (hand, screen) in WAYS {
        let (served, _profile, browser) = to_test().await;
        browser.screen(screen, "dark").await;
        let bench = AtBench::ready(&served, (&browser, hand), BEGIN).await;
        bench.main("Flame on specimen").await;
        bench.heading("Flame on specimen").await;
        bench.pass(5_000).await;
        bench.main("Flame removed").await;
        bench.heading("Burning after removal").await;
        bench.pass(1_000).await;
        bench.act("Last press was wrong").await;
        bench.heading("Flame on specimen").await;
        bench.pass(24_000).await;
        bench.main("Flame removed").await;
        bench.heading("Burning after removal").await;
        bench.pass(2_000).await;
        bench.act("Specimen spoilt").await;
        bench.heading("Specimen spoilt").await;
        bench.pass(2_000).await;
        bench.act("It was not spoilt").await;
        bench.heading("Burning after removal").await;
        bench.pass(1_000).await;
        bench.main("Flames out").await;
        bench.heading("Glow after the flames").await;
        bench.pass(1_000).await;
        bench.main("Glow out").await;
        bench.heading("Finished").await;
        let shown = bench.text().await;
        holds(&shown, &["Duration of application\n30.0 s", "Afterflame\n5.0 s"]);
        bench.says("All 8 sent").await;
        let all = ["flame-on", "flame-removed", "last-press-wrong", "flame-removed"];
        let then = ["specimen-spoilt", "not-spoilt", "flames-out", "glow-out"];
        assert_eq!(acts(&served), [all, then].concat());
        drop(browser);
        served.ended();
    }
}

#[tokio::test]
async fn a_spoilt_specimen_leads_to_the_page_that_asks_what_happened() {
    for (hand, screen) in WAYS {
        let (served, _profile, browser) = to_test().await;
        browser.screen(screen, "dark").await;
        let bench = AtBench::ready(&served, (&browser, hand), BEGIN).await;
        bench.main("Flame on specimen").await;
        bench.heading("Flame on specimen").await;
        bench.pass(2_000).await;
        bench.act("Specimen spoilt").await;
        bench.heading("Specimen spoilt").await;
        bench.says("All 2 sent").await;
        bench.pass(2_000).await;
        browser.value("window.isOld = true").await;
        bench.main("Say what happened").await;
        let there = "window.isOld === undefined && location.pathname.endsWith('/describe/spoilt')";
        browser.until(there, "the page that asks").await;
        browser.fill(hand, ("What happened?", "a draught")).await;
        browser.follow(hand, ("button", "Set the specimen aside")).await;
        holds(&served.page("/specimens/2-1"), &["Spoilt: a draught"]);
        drop(browser);
        served.ended();
    }
}

#[tokio::test]
async fn a_switch_is_taught_by_pressing_it_and_must_be_awake() {
    let (served, _profile, browser) = to_test().await;
    let bench = AtBench::open(&served, (&browser, Hand::Keyboard), (BEGIN, "")).await;
    bench.says("Clock: ±").await;
    bench.act("Darken the room and begin").await;
    bench.says("First press your switch once.").await;
    bench.act("Teach a switch").await;
    bench.says("press the switch to be taught").await;
    browser.key("F8", 119).await;
    bench.says("The key F8 is now the switch.").await;
    // A switch that was not seen for two minutes may be asleep.
    bench.pass(121_000).await;
    browser.key("F8", 119).await;
    bench.heading("Before the flame").await;
    bench.says("The switch works.").await;
    bench.pass(1_000).await;
    browser.key("F8", 119).await;
    bench.heading("Ready").await;
    bench.pass(1_000).await;
    browser.key("F8", 119).await;
    bench.heading("Flame on specimen").await;
    bench.in_record(1).await;
    let twin: Value = serde_json::from_str(&served.page("/api/bench/2/1")).unwrap();
    assert_eq!(twin["presses"][0]["input"], "switch");
}

#[tokio::test]
async fn the_bench_is_left_after_one_question_and_never_while_it_burns() {
    let (served, _profile, browser) = to_test().await;
    let bench = AtBench::ready(&served, (&browser, Hand::Keyboard), BEGIN).await;
    browser.key("Escape", 27).await;
    browser.find("dialog", "Leave the bench?").await;
    browser.key("Escape", 27).await;
    browser.until("document.querySelector('dialog') === null", "the bench again").await;
    browser.key("?", 191).await;
    browser.find("dialog", "Keys").await;
    bench.says("last press was wrong").await;
    browser.key("Enter", 13).await;
    browser.until("document.querySelector('dialog') === null", "the bench again").await;
    bench.switch().await;
    bench.heading("Flame on specimen").await;
    browser.key("Escape", 27).await;
    bench.says("This button does nothing here").await;
    assert_eq!(browser.value("document.querySelector('dialog')").await, Value::Null);
    bench.act("Specimen spoilt").await;
    bench.pass(1_000).await;
    bench.act("Specimen spoilt").await;
    bench.heading("Specimen spoilt").await;
    browser.key("Escape", 27).await;
    browser.find("dialog", "Leave the bench?").await;
    bench.act("Leave").await;
    browser.until("location.pathname === '/bench'", "the list").await;
}

#[tokio::test]
async fn an_empty_battery_stands_before_the_flame_until_it_is_charged() {
    let (served, _profile, browser) = to_test().await;
    let low =
        "globalThis.battery = Object.assign(new EventTarget(), { level: 0.12, charging: false });
        navigator.getBattery = () => Promise.resolve(battery);";
    let bench = AtBench::open(&served, (&browser, Hand::Keyboard), (BEGIN, low)).await;
    bench.says("Battery: 12 %").await;
    bench.switch().await;
    bench.says("The switch works.").await;
    bench.pass(1_000).await;
    bench.switch().await;
    bench.says("◆ Battery at 12 %: charge this device first.").await;
    browser
        .value("battery.charging = true; battery.dispatchEvent(new Event('chargingchange'))")
        .await;
    bench.says("Battery: 12 %, charging").await;
    bench.pass(1_000).await;
    bench.switch().await;
    bench.heading("Ready").await;
}

#[tokio::test]
async fn a_second_tab_of_the_device_waits_until_the_first_is_closed() {
    let (served, _profile, browser) = to_test().await;
    let bench = AtBench::ready(&served, (&browser, Hand::Keyboard), BEGIN).await;
    bench.switch().await;
    bench.heading("Flame on specimen").await;
    let first = browser.tab().await;
    let second = browser.new_tab().await;
    browser.go(&served.at("/bench/2/1")).await;
    bench.heading("Open in another tab").await;
    bench.switch().await;
    browser.to_tab(&first).await;
    bench.in_record(1).await;
    browser.below("Page.navigate", json!({ "url": "about:blank" })).await;
    browser.to_tab(&second).await;
    browser.find("dialog", "Specimen 1 was being timed here").await;
    assert_eq!(acts(&served), ["flame-on"]);
}
