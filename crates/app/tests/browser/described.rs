//! A burning drop, and the layer catches: marks are named in the light, and the verdict follows.

use super::axe::offences;
use super::driver::{Browser, Profile};
use super::hands::WAYS;
use crate::house::none;
use crate::served::holds;
use crate::web_describe::pressed;
use crate::web_plans::ready_to_test;

/// Two marks without a name, at 7.4 s and 9.0 s.
const PRESSES: [(u32, &str); 6] = [
    (0, "flame-on"),
    (74, "mark"),
    (90, "mark"),
    (302, "flame-removed"),
    (417, "flames-out"),
    (440, "glow-out"),
];

/// Colours with much more red than anything else: those that mean danger.
const RED: &str = r"[...document.querySelectorAll('body *')].filter((it) => {
  const look = getComputedStyle(it);
  return [look.color, look.backgroundColor, look.borderLeftColor, look.fill].some((colour) => {
    const [red = 0, green = 0, blue = 0] = (colour.match(/[\d.]+/g) ?? []).map(Number);
    return colour.startsWith('rgb') && red > 120 && red > 2 * green && red > 2 * blue;
  });
}).map((it) => it.outerHTML.slice(0, 120)).join()";

#[tokio::test]
async fn marks_are_named_in_the_light_and_the_reason_gives_both_times() {
    let mut found = Vec::new();
    for (hand, screen) in WAYS {
        let served = ready_to_test();
        assert_eq!(pressed(&served, 1, ("08:00", &PRESSES)).status, 200);
        let profile = Profile::new();
        let browser = Browser::of(&served, &profile).await;
        browser.screen(screen, "light").await;
        browser.go(&served.at("/")).await;
        browser.follow(hand, ("link", "Specimen 1 of P-2")).await;
        browser.follow(hand, ("link", "Describe what you saw")).await;
        browser.choose(hand, ("What was it at 7.4 s?", "the layer below caught")).await;
        browser.follow(hand, ("button", "Continue")).await;
        browser.find("link", "Say what mark 2 at 9.0 s was.").await;
        found.extend(offences(&browser, "marks without a name").await);
        browser.screen(screen, "light").await;
        browser.choose(hand, ("What was it at 9.0 s?", "press by mistake")).await;
        browser.follow(hand, ("button", "Continue")).await;
        browser.choose(hand, ("The layer below", "flamed")).await;
        browser.choose(hand, ("Flames or glow of the layer", "They went out by themselves")).await;
        browser.fill(hand, ("When they were last seen", "50")).await;
        found.extend(offences(&browser, "the layer").await);
        browser.screen(screen, "light").await;
        browser.follow(hand, ("button", "Continue")).await;
        browser.choose(hand, ("How much of it burnt?", "partly")).await;
        browser.fill(hand, ("Temperature of the air", "23")).await;
        browser.fill(hand, ("Relative humidity", "48,5 %")).await;
        found.extend(offences(&browser, "the specimen").await);
        browser.screen(screen, "light").await;
        browser.follow(hand, ("button", "Continue")).await;
        found.extend(offences(&browser, "anything unusual").await);
        browser.screen(screen, "light").await;
        browser.follow(hand, ("button", "Continue")).await;
        found.extend(offences(&browser, "the check").await);
        browser.screen(screen, "light").await;
        browser.follow(hand, ("button", "Record as tested by Odalys Fenn")).await;
        assert_eq!(browser.address().await.path(), "/plans/2");
        browser.go(&served.at("/specimens/2-1")).await;
        let shown = browser.value("document.querySelector('main').innerText").await;
        let shown = shown.as_str().unwrap();
        holds(shown, &["Does not meet the requirement", "9.0 s: press by mistake"]);
        holds(shown, &["it caught at 7.4 s and was out at 50.0 s", "Afterglow\n2.3 s"]);
        for theme in ["light", "dark"] {
            browser.screen(screen, theme).await;
            assert_eq!(browser.value(RED).await, "", "nothing is red, {theme}");
        }
        found.extend(offences(&browser, "the specimen's page").await);
        found.extend(browser.complaints().await);
        drop(browser);
        served.ended();
    }
    found.retain(|line| !line.contains("the server responded with a status of 422"));
    none(&found);
}
