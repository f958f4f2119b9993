//! A laboratory begins: from the one-use link in an empty folder to this device, a first piece of
//! equipment and a first plan.

use serde_json::Value;
use url::Url;

use super::axe::offences;
use super::driver::{Browser, Profile};
use super::hands::{Hand, WAYS};
use super::planned::questions;
use crate::house::none;
use crate::served::{PASSWORD, Served, holds};

const NOW: &str = "2026-03-06T09:00:00Z";

/// A main action is the one button that is filled, or a link that looks like one.
const MAIN_ACTIONS: &str =
    "document.querySelectorAll('main :is(button, .button):not(.second)').length";

#[tokio::test]
async fn a_newcomer_comes_in_by_the_link_and_plans_a_first_test() {
    let mut found = Vec::new();
    for (hand, screen) in WAYS {
        let served = Served::start(tempfile::tempdir().unwrap(), &[], NOW);
        let profile = Profile::new();
        let browser = Browser::open(&profile, &[]).await;
        let link = served.link.clone().unwrap();
        browser.go(&link).await;
        found.extend(offences(&browser, "the link").await);
        browser.screen(screen, "light").await;
        assert_eq!(browser.value("document.querySelectorAll('h1').length").await, 1);
        assert_eq!(browser.value(MAIN_ACTIONS).await, 1);
        browser.fill(hand, ("Name of the laboratory", "A laboratory")).await;
        browser.fill(hand, ("Its address", "Nowhere")).await;
        browser.fill(hand, ("Your name", "Ana Ruiz")).await;
        browser.fill(hand, ("Password", PASSWORD)).await;
        browser.fill(hand, ("The same password again", PASSWORD)).await;
        browser.follow(hand, ("button", "Open the book")).await;
        browser.find("heading", "Today").await;
        assert_eq!(browser.value("document.querySelector('.made-up')").await, Value::Null);
        this_device(&browser, hand).await;
        found.extend(offences(&browser, "Bench of an empty book").await);
        browser.screen(screen, "light").await;
        first_piece(&browser, hand).await;
        browser.follow(hand, ("link", "Today")).await;
        browser.follow(hand, ("link", "Plan a test")).await;
        questions(&browser, hand, &["NB-1"]).await;
        browser.follow(hand, ("button", "Give to the bench")).await;
        assert_eq!(browser.address().await.path(), "/plans/1");
        let plan = browser.value("document.querySelector('main').innerText").await;
        holds(plan.as_str().unwrap(), &["Before the flame", "A customer (made up)"]);
        let elsewhere = |it: &&Url| it.scheme().starts_with("http") && it.port() != port(&served);
        let asked = browser.requests().await;
        found.extend(asked.iter().filter(elsewhere).map(|it| format!("{it} was asked for")));
        found.extend(browser.complaints().await);
        browser.go(&link).await;
        let again = browser.value("document.querySelector('main').innerText").await;
        holds(again.as_str().unwrap(), &["This link has been used."]);
        browser.below("Network.clearBrowserCookies", serde_json::json!({})).await;
        browser.go(&served.at("/")).await;
        browser.find("heading", "Sign in").await;
        found.extend(offences(&browser, "Sign in").await);
        drop(browser);
        served.ended();
    }
    none(&found);
}

fn port(served: &Served) -> Option<u16> {
    served.origin.parse::<Url>().unwrap().port()
}

/// Looks at this device; what it has not got is gone on without.
async fn this_device(browser: &Browser, hand: Hand) {
    browser.follow(hand, ("link", "This device")).await;
    browser.until("document.querySelector('#device').dataset.looked === 'yes'", "a look").await;
    browser.press(hand, ("link", "Everything is ready")).await;
    let told = "document.querySelector('#told').textContent";
    let words = browser.value(told).await;
    let words = words.as_str().unwrap();
    assert!(words.starts_with("Not in order yet: ") && words.contains("Sound"), "{words}");
    let line = |name: &str, words: &str| {
        format!(
            "document.querySelector('[data-line=\"{name}\"] .standing').innerText.includes('{words}')"
        )
    };
    browser.until(&line("Secure page", "✓ Secure page: in order"), "the secure page").await;
    browser.until(&line("Clock", "of the book"), "the clock").await;
    browser.press(hand, ("button", "Play three ticks")).await;
    browser.press(hand, ("button", "Yes")).await;
    browser.until(&line("Sound", "in order, heard"), "the sound").await;
    if hand == Hand::Keyboard {
        browser.press(hand, ("button", "Teach a switch")).await;
        browser.key("F9", 120).await;
        browser.until(&line("Switch", "in order, taught, F9"), "the switch").await;
    }
    let without = "[...document.querySelectorAll('.acts button')].filter(
        (it) => it.innerText.startsWith('Go on without')).length";
    while browser.value(without).await != 0 {
        browser.press(hand, ("button", "Go on without")).await;
    }
    browser.follow(hand, ("link", "Everything is ready")).await;
    assert_eq!(browser.address().await.path(), "/bench");
    browser.find("link", "Look at the plans").await;
}

/// Registers the burner.
async fn first_piece(browser: &Browser, hand: Hand) {
    browser.follow(hand, ("link", "Equipment")).await;
    browser.follow(hand, ("link", "Register a piece")).await;
    browser.fill(hand, ("Mark", "NB-1")).await;
    // The next field is a list that the system draws: its keys are also those of a screen's keyboard.
    browser.key("Tab", 9).await;
    browser.key("ArrowDown", 40).await;
    browser.until("document.querySelector('#kind').value === 'burner'", "the kind").await;
    browser.fill(hand, ("What it is", "needle burner (made up)")).await;
    browser.choose(hand, ("Must it be in calibration?", "No")).await;
    browser.follow(hand, ("button", "Register a piece")).await;
    browser.find("heading", "NB-1").await;
}
