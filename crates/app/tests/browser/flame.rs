//! The flame is confirmed at the practice bench, from the cautions to the sentence at the end.

use super::axe::offences;
use super::driver::{Browser, Profile};
use super::hands::{Hand, WAYS};
use crate::house::none;
use crate::served::{Served, holds};

/// From the page of the flame to a sitting at the practice bench.
async fn sits_down(browser: &Browser, (hand, screen): (Hand, (u32, u32)), served: &Served) {
    for kind in ["serial-lines", "modbus-rtu", "modbus-tcp"] {
        let asked = format!("/flame/source?plan=1&source={kind}&cautions=read");
        browser.go(&served.at(&asked)).await;
        none(&offences(browser, &asked).await);
    }
    browser.go(&served.at("/flame")).await;
    browser.follow(hand, ("link", "Confirm the flame")).await;
    browser.follow(hand, ("button", "Continue")).await;
    browser.find("alert", "There is a problem").await;
    browser.tick(hand, "I have read them").await;
    browser.choose(hand, ("What is read?", "The practice bench")).await;
    browser.follow(hand, ("button", "Continue")).await;
    none(&offences(browser, "/flame/source").await);
    browser.screen(screen, "dark").await;
    browser.fill(hand, ("Seed of the noise", "7")).await;
    browser.fill(hand, ("Speed", "400")).await;
    browser.follow(hand, ("button", "Begin")).await;
}

async fn main_text(browser: &Browser) -> String {
    browser.value("document.querySelector('main').innerText").await.as_str().unwrap().to_owned()
}

#[tokio::test]
async fn the_flame_is_confirmed_by_three_heatings_with_one_button() {
    for (hand, screen) in WAYS {
        let served = Served::demo();
        let profile = Profile::new();
        let browser = Browser::of(&served, &profile).await;
        browser.screen(screen, "dark").await;
        sits_down(&browser, (hand, screen), &served).await;
        holds(&main_text(&browser).await, &["Made up: practice bench, seed 7", "K/s"]);
        for heating in 1..=3 {
            browser.follow(hand, ("button", "Flame on block")).await;
            let ended = format!("document.getElementById('live').dataset.heatings === '{heating}'");
            browser.until(&ended, "the end of the heating").await;
            // Another look at it is the same sitting.
            browser.reload().await;
            browser.until(&ended, "it again").await;
        }
        let said = main_text(&browser).await;
        holds(
            &said,
            &[
                "within 22.5 s to 24.5 s. C-2: the flame is confirmed.",
                "D-5: ",
                "D-7: ",
                "(k = 2",
                "above 22.5 s",
            ],
        );
        let curves = "document.querySelector('#curves').getAttribute('aria-label')";
        let told = browser.value(curves).await;
        holds(told.as_str().unwrap(), &["100 °C at ", "700 °C at ", " ± "]);
        none(&offences(&browser, "/flame/run").await);
        browser.screen(screen, "dark").await;
        browser.follow(hand, ("button", "End the sitting")).await;
        holds(&main_text(&browser).await, &["The flame is confirmed", "Confirmation C-2"]);
        none(
            &browser
                .complaints()
                .await
                .into_iter()
                .filter(|it| !it.contains("422"))
                .collect::<Vec<_>>(),
        );
        drop(browser);
        served.ended();
    }
}
