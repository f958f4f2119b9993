//! A photograph before the flame, from the bench's list: dark, and with words when it is not kept.
#![expect(clippy::disallowed_methods, reason = "a picture is put where a person would choose it")]

use std::path::Path;

use serde_json::json;

use super::axe::offences_here;
use super::bench_film::LOOKED_AT;
use super::dark::light;
use super::driver::{Browser, to_test};
use crate::house::none;
use crate::served::holds;

/// Chooses a picture as the camera of a phone gives it.
async fn chosen(browser: &Browser, file: &Path) {
    let field = json!({ "expression": "document.querySelector('#bench input[type=file]')" });
    let field = browser.below("Runtime.evaluate", field).await;
    let object = &field["result"]["objectId"];
    let chosen = json!({ "files": [file], "objectId": object });
    browser.below("DOM.setFileInputFiles", chosen).await;
}

async fn line(browser: &Browser, words: &str) {
    let line = "document.querySelector('li[data-name^=\"Photo\"]').innerText";
    browser.until(&format!("{line}.includes('{words}')"), words).await;
}

#[tokio::test]
async fn a_photograph_is_taken_at_its_line_of_the_list_and_lights_nothing() {
    let (served, _profile, browser) = to_test().await;
    let photo = served.folder.path().join("IMG_1.png");
    // All white, as bright as a picture can be.
    let white: Vec<u8> = vec![0xff; 64 * 64 * 3];
    let mut encoder = png::Encoder::new(std::fs::File::create(&photo).unwrap(), 64, 64);
    encoder.set_color(png::ColorType::Rgb);
    encoder.write_header().unwrap().write_image_data(&white).unwrap();
    let mut found = Vec::new();
    for screen in [(320, 640), (1180, 820)] {
        browser.screen(screen, "dark").await;
        browser.go(&served.at("/bench/2/1")).await;
        browser.until(LOOKED_AT, "what the device can do").await;
        browser.network(false).await;
        chosen(&browser, &photo).await;
        line(&browser, "not kept: the record does not answer").await;
        browser.network(true).await;
        chosen(&browser, &photo).await;
        line(&browser, "Photo before the flame: 1 kept").await;
        let (mean, most) = light(&browser.picture().await);
        assert!(mean <= 0.02 && most <= 0.35, "{screen:?}: mean {mean}, most {most}");
        found.extend(offences_here(&browser).await);
    }
    holds(&served.page("/specimens/2-1"), &["Before the flame.", "IMG_1.png"]);
    found.extend(browser.complaints().await);
    found.retain(|line| !line.contains("net::ERR_INTERNET_DISCONNECTED"));
    none(&found);
    drop(browser);
    served.ended();
}
