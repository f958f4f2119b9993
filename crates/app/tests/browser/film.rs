//! A phone's film of a specimen, added in the light: shown, looked through, laid on the strip.
#![expect(clippy::disallowed_methods, reason = "a film is put where a person would choose it")]

use std::path::Path;

use serde_json::json;

use super::axe::offences;
use super::driver::{Browser, Profile};
use super::hands::WAYS;
use crate::house::none;
use crate::served::Served;
use crate::web_film::mp4;

/// Records the test camera for some seconds, as a browser does; the film in hexadecimal digits.
pub(super) const RECORDED: &str = "(async () => {
  const stream = await navigator.mediaDevices.getUserMedia({ video: true });
  const recorder = new MediaRecorder(stream, { mimeType: 'video/webm;codecs=vp8' });
  const parts = [];
  const ended = new Promise((resolve) => { recorder.onstop = resolve; });
  recorder.ondataavailable = ({ data }) => {
    parts.push(data);
    if (parts.length === 3) recorder.stop();
  };
  recorder.start(1000);
  await ended;
  for (const track of stream.getTracks()) track.stop();
  const bytes = new Uint8Array(await new Blob(parts).arrayBuffer());
  return Array.from(bytes, (byte) => byte.toString(16).padStart(2, '0')).join('');
})()";

/// The player's length, its place, and whether it has a picture.
const PLAYER: &str = "(() => { const it = document.querySelector('video');
  return it.readyState >= 1 && it.videoWidth > 0 && it.error === null })()";

impl Browser {
    /// Chooses a file, as the browser's own window for it would.
    pub(super) async fn choose_file(&self, words: &str, file: &Path) {
        let field = self.find("button", words).await;
        let chosen = json!({ "files": [file], "backendNodeId": field.node });
        self.below("DOM.setFileInputFiles", chosen).await;
    }
}

#[tokio::test]
async fn a_phones_film_is_added_looked_through_and_laid_on_the_strip() {
    let served = Served::demo();
    let mut found = Vec::new();
    let (mut place, mut film) = (1, Vec::new());
    for (hand, screen) in WAYS {
        let profile = Profile::new();
        let browser = Browser::of(&served, &profile).await;
        browser.screen(screen, "light").await;
        browser.go(&served.at(&format!("/specimens/1-{place}"))).await;
        if film.is_empty() {
            film = hex::decode(browser.value(RECORDED).await.as_str().unwrap()).unwrap();
        }
        let file = served.folder.path().join("my <b>phone.webm");
        std::fs::write(&file, &film).unwrap();
        browser.choose_file("Add a film", &file).await;
        browser.follow(hand, ("button", "Keep the film")).await;
        browser.until(PLAYER, "a picture of the film").await;
        // A place that was not watched yet is asked of the server alone.
        browser.value("document.querySelector('video').currentTime = 1.2").await;
        let there = "document.querySelector('video').seeking === false
            && document.querySelector('figure p').innerText.startsWith('At 1.20 s of the film')";
        browser.until(there, "the place that was looked for").await;
        browser.press(hand, ("button", "Here the flame is removed")).await;
        let field = "document.querySelector('figure input').value";
        assert_eq!(browser.value(field).await, "1.20");
        browser.follow(hand, ("button", "Keep the place")).await;
        let shown = browser.value("document.querySelector('main').innerText").await;
        let shown = shown.as_str().unwrap();
        assert!(shown.contains("my <b>phone.webm"), "{shown}");
        assert!(shown.contains("removed in it at 1.20 s, said Odalys Fenn"), "{shown}");
        assert_eq!(browser.value("document.querySelectorAll('.span.film').length").await, 1);
        browser.until(PLAYER, "a picture of the film").await;
        found.extend(offences(&browser, "a specimen with a film").await);
        found.extend(browser.complaints().await);
        place += 1;
    }
    none(&found);
    served.ended();
}

#[tokio::test]
async fn a_film_cut_off_and_a_file_that_is_none_are_told() {
    let served = Served::demo();
    let profile = Profile::new();
    let browser = Browser::of(&served, &profile).await;
    browser.go(&served.at("/specimens/1-1")).await;
    let film = hex::decode(browser.value(RECORDED).await.as_str().unwrap()).unwrap();
    let folder = served.folder.path();
    let cut = film.len() * 2 / 3;
    let hand = WAYS[0].0;
    for (name, bytes) in [("cut.webm", &film[..cut]), ("index.mp4", &mp4(900)[..500])] {
        std::fs::write(folder.join(name), bytes).unwrap();
        browser.choose_file("Add a film", &folder.join(name)).await;
        browser.follow(hand, ("button", "Keep the film")).await;
    }
    let shown = browser.value("document.querySelector('main').innerText").await;
    let shown = shown.as_str().unwrap();
    assert!(shown.contains("s can be shown. It is kept as it is."), "{shown}");
    assert!(shown.contains("The film is cut off and cannot be shown."), "{shown}");
    browser.until(PLAYER, "what there is of the film").await;
    std::fs::write(folder.join("words.mp4"), "once upon a time").unwrap();
    browser.choose_file("Add a film", &folder.join("words.mp4")).await;
    browser.follow(hand, ("button", "Keep the film")).await;
    let told = "document.title.startsWith('Error: ')
        && document.activeElement.matches('.problems')
        && document.querySelector('.problems a').hash === '#film'
        && document.querySelector('#film-wrong').innerText.includes('`words.mp4` is no MP4')";
    browser.until(told, "the words about the file").await;
    let mut found = offences(&browser, "a file that is no film").await;
    found.extend(browser.complaints().await);
    found.retain(|line| !line.contains("the server responded with a status of 422"));
    none(&found);
    served.ended();
}
