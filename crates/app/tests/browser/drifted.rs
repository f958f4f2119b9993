//! A quality manager finds that the flame gets slower: the call on Today, the chart, the results that
//! are touched, and what was done.

use super::axe::offences;
use super::driver::{Browser, Profile};
use super::hands::WAYS;
use crate::drift;
use crate::house::none;
use crate::served::holds;

#[tokio::test]
async fn a_drift_is_found_followed_up_and_closed() {
    for (hand, screen) in WAYS {
        let served = drift::served(60);
        let profile = Profile::new();
        let browser = Browser::of(&served, &profile).await;
        browser.screen(screen, "light").await;
        browser.go(&served.at("/")).await;
        browser.follow(hand, ("link", "Look at the flame chart")).await;
        assert_eq!(browser.address().await.path(), "/flame/chart");
        let chart = browser.value("document.querySelector('main').innerText").await;
        let first = "The flame has been getting slower since 3 November 2026.";
        holds(chart.as_str().unwrap(), &[first, "The last good confirmation is C-22"]);
        let twin = "document.querySelector('svg.drawn').getAttribute('aria-label')";
        holds(
            browser.value(twin).await.as_str().unwrap(),
            &[first, "The base line is C-1 to C-20"],
        );
        let mut found = offences(&browser, "the chart with a call").await;
        browser.screen(screen, "light").await;
        browser.follow(hand, ("link", "Tested since the last good confirmation")).await;
        let tested = browser.value("document.querySelector('main').innerText").await;
        holds(tested.as_str().unwrap(), &["14 specimens tested since C-22", "3 reports issued"]);
        found.extend(offences(&browser, "what was tested").await);
        browser.screen(screen, "light").await;
        browser.follow(hand, ("link", "Flame chart")).await;
        browser.fill(hand, ("What was done?", "tube cleaned, flow set anew")).await;
        browser.follow(hand, ("button", "Note what was done")).await;
        let chart = browser.value("document.querySelector('main').innerText").await;
        holds(chart.as_str().unwrap(), &["when this was done: tube cleaned, flow set anew."]);
        browser.go(&served.at("/")).await;
        let today = browser.value("document.querySelector('main').innerText").await;
        assert!(!today.as_str().unwrap().contains("flame chart"), "{today}");
        found.extend(browser.complaints().await);
        none(&found);
        drop(browser);
        served.ended();
    }
}
