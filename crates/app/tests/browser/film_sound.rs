//! A film with the bench's own tones in its sound: laid by them as a proposal, which a person takes
//! or nudges (story D4.5).
#![expect(clippy::disallowed_methods, reason = "a film is put where a person would choose it")]

use serde_json::{Value, json};

use super::axe::offences;
use super::driver::to_test;
use super::film::RECORDED;
use super::hands::WAYS;
use crate::house::none;
use crate::served::{Served, holds};

/// A film of 6 s as a phone would have made it: a picture that is bright while the flame is on the
/// specimen, and what the bench sounds, by the bench's own module. Gives the film, and when in it
/// the first tone is loud, found without the tones' form.
const FILMED: &str = "(async () => {
  const { Sound } = await import('/assets/bench/sound.js');
  const sound = new Sound(0.8);
  await sound.wake();
  const canvas = Object.assign(document.createElement('canvas'), { width: 320, height: 240 });
  const paint = canvas.getContext('2d');
  const draw = (shade) => { paint.fillStyle = shade; paint.fillRect(0, 0, 320, 240); };
  draw('#000');
  const stream = canvas.captureStream(30);
  stream.addTrack(sound.track());
  const recorder = new MediaRecorder(stream, { mimeType: 'video/webm;codecs=vp8,opus' });
  const parts = [];
  recorder.ondataavailable = ({ data }) => parts.push(data);
  const ended = new Promise((resolve) => { recorder.onstop = resolve; });
  recorder.start(1000);
  const began = sound.context.currentTime;
  const now = performance.timeOrigin + performance.now();
  sound.plan([{ at: 1.2e6, kind: 'flame-on' }, { at: 4.2e6, kind: 'flame-removed' }], now);
  let frame = 0;
  await new Promise((resolve) => {
    const step = setInterval(() => {
      const at_s = sound.context.currentTime - began;
      frame += 1;
      draw(at_s >= 1.2 && at_s < 4.2 ? '#fff' : frame % 2 ? '#000' : '#010101');
      if (at_s > 6) { clearInterval(step); resolve(); }
    }, 33);
  });
  recorder.stop();
  await ended;
  const bytes = await new Blob(parts).arrayBuffer();
  const film = Array.from(new Uint8Array(bytes), (it) => it.toString(16).padStart(2, '0')).join('');
  const heard = await new OfflineAudioContext(1, 1, 48000).decodeAudioData(bytes);
  const loud = heard.getChannelData(0).findIndex((it) => Math.abs(it) > 0.1);
  return { film, loud: loud / 48000 };
})()";

/// What was pressed: the flame was on the specimen for 3 s.
const PRESSED: [(u32, &str); 4] =
    [(0, "flame-on"), (30, "flame-removed"), (36, "flames-out"), (41, "glow-out")];

/// Whether the proposal stands on the page.
const PROPOSED: &str = "document.querySelector('.proposal')?.innerText.startsWith('Proposal')";

/// What is typed where the flame is removed.
const FIELD: &str = "Number(document.querySelector('figure input').value)";

fn films(served: &Served) -> Vec<Value> {
    let twin: Value = serde_json::from_str(&served.page("/api/specimens/2-1")).unwrap();
    twin["films"].as_array().unwrap().clone()
}

fn number(value: &Value) -> f64 {
    value.as_f64().unwrap_or_else(|| panic!("{value} is no number"))
}

#[tokio::test]
async fn a_film_is_laid_by_its_sound_as_a_proposal_that_a_person_takes_or_nudges() {
    for (way, (hand, screen)) in WAYS.into_iter().enumerate() {
        let (served, _profile, browser) = to_test().await;
        assert_eq!(crate::web_describe::pressed(&served, 1, ("08:00", &PRESSED)).status, 200);
        browser.screen(screen, "light").await;
        browser.go(&served.at("/specimens/2-1")).await;
        let made = browser.value(FILMED).await;
        let file = served.folder.path().join("phone.webm");
        std::fs::write(&file, hex::decode(made["film"].as_str().unwrap()).unwrap()).unwrap();
        browser.choose_file("Add a film", &file).await;
        browser.follow(hand, ("button", "Keep the film")).await;
        browser.press(hand, ("button", "Listen for the bench's tones")).await;
        browser.until(PROPOSED, "the proposal").await;
        let mut found = offences(&browser, "a film with a proposal").await;
        browser.screen(screen, "light").await;
        let words = browser.value("document.querySelector('.proposal').innerText").await;
        let words = words.as_str().unwrap();
        holds(words, &["2 of 2 tones were heard; their distances fit the presses within 0.0"]);
        holds(words, &["A frame of this film lasts 0.0", "that is not taken off"]);
        // The first tone, and 3 s more; in the film's own time, in which its sound may begin late.
        let [film] = films(&served).try_into().unwrap();
        let removed = number(&made["loud"]) + number(&film["sound_begins_s"]) + 3.0;
        println!("by loudness {removed:.3} s; {words}");
        let (later, frame) = (way == 0, number(&film["frame_s"]));
        assert_eq!(browser.value("document.querySelector('figure input').value").await, "");
        if later {
            browser.press(hand, ("button", "One frame later")).await;
            let there = format!("Math.abs({FIELD} - {}) < 0.034", removed + frame);
            browser.until(&there, "the proposal, a frame later").await;
            browser.follow(hand, ("button", "Take it 1 frame later")).await;
        } else {
            browser.follow(hand, ("button", "Take the proposal")).await;
        }
        let [film] = films(&served).try_into().unwrap();
        let (heard, placed) = (&film["heard"], &film["placed"]);
        let proposed = number(&heard["removed_s"]);
        assert!((proposed - removed).abs() <= 0.033, "{proposed} against {removed}");
        let by = number(&placed["removed_s"]) - proposed;
        assert!((by - if later { frame } else { 0.0 }).abs() <= 0.0051, "nudged by {by}: {film}");
        let offset = number(&heard["begins_s"]) - number(&film["begins_s"]);
        assert!((offset - by).abs() < 1e-6, "{film}");
        // Both stand in the trail, in this order.
        let record: Value = serde_json::from_str(&served.page("/api/record")).unwrap();
        let mut last: Vec<&Value> = record["entries"].as_array().unwrap().iter().collect();
        last.sort_by_key(|entry| entry["entry"].as_u64());
        let [.., first, second] = last.as_slice() else { panic!("{record}") };
        assert_eq!(
            (&first["kind"], &second["kind"]),
            (&json!("film-heard"), &json!("film-placed"))
        );
        let page = served.page(&format!("/record/{}", first["entry"]));
        holds(&page, &[&format!("removed at {proposed:.2} s: a proposal. 2 of 2 tones")]);
        holds(&served.page("/specimens/2-1"), &["Proposed by the bench's tones in its sound"]);
        found.extend(browser.complaints().await);
        none(&found);
        drop(browser);
        served.ended();
    }
}

#[tokio::test]
async fn a_film_without_sound_or_without_tones_is_laid_by_hand() {
    let (served, _profile, browser) = to_test().await;
    assert_eq!(crate::web_describe::pressed(&served, 1, ("08:00", &PRESSED)).status, 200);
    browser.go(&served.at("/specimens/2-1")).await;
    let silent = browser.value(RECORDED).await;
    let others = FILMED.replace("flame-on", "tick").replace("flame-removed", "click");
    let other = browser.value(&others).await["film"].clone();
    let hand = WAYS[0].0;
    for (film, words) in [
        (silent, "This browser finds no sound in the film."),
        (other, "The bench's tones are not heard in its sound."),
    ] {
        let file = served.folder.path().join("phone.webm");
        std::fs::write(&file, hex::decode(film.as_str().unwrap()).unwrap()).unwrap();
        browser.choose_file("Add a film", &file).await;
        browser.follow(hand, ("button", "Keep the film")).await;
        let last = "[...document.querySelectorAll('figure')].at(-1)";
        browser
            .value(&format!("{last}.querySelector('.proposal').nextSibling.firstChild.click()"))
            .await;
        let told = format!(
            "{last}.querySelector('.proposal').innerText.startsWith(\"{words} Look for the picture\")"
        );
        browser.until(&told, words).await;
    }
    none(&browser.complaints().await);
    drop(browser);
    served.ended();
}

/// Films of 6 s as phones make them, in MP4 with H.264 and AAC: bright from 1.2 s to 4.2 s, with the
/// bench's tones at these moments under a little noise. What the encoder puts before the sound is told
/// in the one, and in the other the picture waits for it. Made by ffmpeg 5.1.9 (libx264 and its own AAC) with
/// `-profile:v baseline -crf 40 -b:a 32k`, the other with `-use_editlist 0` besides.
const PHONES: [(&str, &[u8], f64); 2] = [
    ("told.mp4", include_bytes!("films/told.mp4"), 4.2),
    ("untold.mp4", include_bytes!("films/untold.mp4"), 4.2 + 1024.0 / 48_000.0),
];

#[tokio::test]
async fn a_phones_mp4_is_laid_within_a_frame_whether_or_not_it_tells_its_encoders_delay() {
    let hand = WAYS[0].0;
    for (name, film, wanted) in PHONES {
        let (served, _profile, browser) = to_test().await;
        assert_eq!(crate::web_describe::pressed(&served, 1, ("08:00", &PRESSED)).status, 200);
        browser.go(&served.at("/specimens/2-1")).await;
        let file = served.folder.path().join(name);
        std::fs::write(&file, film).unwrap();
        browser.choose_file("Add a film", &file).await;
        browser.follow(hand, ("button", "Keep the film")).await;
        browser.press(hand, ("button", "Listen for the bench's tones")).await;
        browser.until(PROPOSED, "the proposal").await;
        browser.follow(hand, ("button", "Take the proposal")).await;
        let film = films(&served).remove(0);
        let removed = number(&film["placed"]["removed_s"]);
        println!("{name}: {removed:.4} s, wanted {wanted:.4} s");
        assert!((removed - wanted).abs() <= 0.033, "{name}: {film}");
        assert!((number(&film["frame_s"]) - 1.0 / 30.0).abs() < 1e-3, "{film}");
        drop(browser);
        served.ended();
    }
}
