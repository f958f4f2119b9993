//! A film recorded at the bench, by the browser's test camera: over a network that goes and a page
//! that is loaded again, and where there is no camera or no room.
#![expect(clippy::disallowed_methods, reason = "what has come is looked for on the disk")]

use std::time::{Duration, Instant};

use serde_json::{Value, json};

use super::axe::offences;
use super::driver::{Browser, PATIENCE, to_test};
use super::hands::Hand;
use crate::house::none;
use crate::served::Served;

/// So many pieces of so many films lie with the book, not joined yet.
fn coming(served: &Served) -> Vec<usize> {
    let Ok(films) = std::fs::read_dir(served.book().join("films-coming")) else {
        return Vec::new();
    };
    let pieces =
        films.map(|film| std::fs::read_dir(film.unwrap().path()).map_or(0, Iterator::count));
    let mut pieces: Vec<usize> = pieces.collect();
    pieces.sort_unstable();
    pieces
}

async fn until(what: &str, mut holds: impl FnMut() -> bool) {
    let began = Instant::now();
    while !holds() {
        assert!(began.elapsed() < PATIENCE, "{what} did not come");
        tokio::time::sleep(Duration::from_millis(50)).await;
    }
}

fn films(served: &Served) -> Vec<Value> {
    let twin: Value = serde_json::from_str(&served.page("/api/specimens/2-1")).unwrap();
    twin["films"].as_array().unwrap().clone()
}

/// The checks of this device, which stand below those of the book, are complete: nothing moves on
/// the page any more.
pub(super) const LOOKED_AT: &str =
    "[...document.querySelectorAll('.checks')].at(-1)?.innerText.includes('Clock')";

/// How many pieces the device keeps.
const KEPT_HERE: &str = "new Promise((resolve) => {
  const asked = indexedDB.open('cinderbook-film', 1);
  asked.onsuccess = () => {
    const pieces = asked.result.transaction('pieces').objectStore('pieces').count();
    pieces.onsuccess = () => { resolve(pieces.result); asked.result.close(); };
  };
})";

impl Browser {
    /// The bench stands in this state.
    pub(super) async fn state(&self, state: &str) {
        self.until(&format!("document.querySelector('#bench').dataset.state === '{state}'"), state)
            .await;
    }

    /// The switch, once what was pressed before is more than a bounce ago.
    pub(super) async fn switch(&self, state: &str) {
        let opens = "new Promise((resolve) => setTimeout(() => resolve(true), 350))";
        self.value(opens).await;
        self.key("PageDown", 34).await;
        self.state(state).await;
    }
}

#[tokio::test]
async fn a_film_of_the_bench_comes_whole_over_a_cut_network_and_a_reload() {
    let (served, _profile, browser) = to_test().await;
    browser.screen((1180, 820), "dark").await;
    browser.go(&served.at("/bench/2/1")).await;
    browser.until(LOOKED_AT, "what the device can do").await;
    browser.press(Hand::Keyboard, ("button", "No switch")).await;
    browser.press(Hand::Keyboard, ("button", "Record a film")).await;
    let seen = "document.querySelector('video.preview')?.videoWidth > 0";
    browser.until(seen, "what the camera sees").await;
    let found = offences(&browser, "before a film").await;
    browser.screen((1180, 820), "dark").await;
    browser.find("button", "No film").await;
    browser.press(Hand::Keyboard, ("button", "Darken the room and begin")).await;
    browser.state("ready").await;
    let none_seen = "document.querySelector('video') === null";
    browser.until(none_seen, "no picture while it burns").await;
    until("a first piece", || !coming(&served).is_empty()).await;
    browser.switch("on-specimen").await;
    until("more pieces", || coming(&served).first() > Some(&2)).await;
    browser.network(false).await;
    let before = browser.value(KEPT_HERE).await.as_u64().unwrap();
    browser
        .until(&format!("{KEPT_HERE}.then((count) => count > {before} + 2)"), "pieces kept")
        .await;
    browser.switch("burning").await;
    let with_the_book = coming(&served);
    browser.network(true).await;
    until("what was kept", || coming(&served) > with_the_book).await;
    browser.below("Page.reload", json!({})).await;
    browser.state("burning").await;
    until("a second film", || coming(&served).len() == 2 || films(&served).len() == 1).await;
    until("the first film, whole", || films(&served).len() == 1).await;
    browser.switch("glow").await;
    browser.switch("finished").await;
    browser.value("new Promise((resolve) => setTimeout(() => resolve(true), 1100))").await;
    browser.key("PageDown", 34).await;
    browser.until("location.pathname.includes('/describe')", "the description").await;
    until("both films, whole", || films(&served).len() == 2).await;
    looked_at(&served, &films(&served));
    assert_eq!(coming(&served), Vec::<usize>::new(), "pieces of a film that is kept go");
    browser.until(&format!("{KEPT_HERE}.then((count) => count === 0)"), "room").await;
    browser.go(&served.at("/specimens/2-1")).await;
    let pictures = "[...document.querySelectorAll('video')].every((it) => it.videoWidth > 0)
        && document.querySelectorAll('video').length === 2";
    browser.until(pictures, "pictures of both films").await;
    assert_eq!(browser.value("document.querySelectorAll('.span.film').length").await, 2);
    none(&found);
    drop(browser);
    served.ended();
}

/// The films lie where the presses were, and have the sounds of the bench.
fn looked_at(served: &Served, films: &[Value]) {
    let begins = |film: &Value| film["begins_by_clock_s"].as_f64().unwrap();
    let (first, second) = (&films[0], &films[1]);
    for film in films {
        assert!(film["seconds"].as_f64() > Some(1.0), "{film}");
        assert!(film["within_s"].as_f64() < Some(2.0), "{film}");
    }
    // The first broke off where the page was loaded again, and may say so.
    assert_eq!((&first["can_be_shown"], &second["missing"]), (&json!(true), &Value::Null));
    assert!(begins(first) < 0.0 && begins(second) > 0.0, "{films:?}");
    // The first ends where the page was loaded again, before the second begins.
    assert!(begins(first) + first["seconds"].as_f64().unwrap() < begins(second) + 1.0, "{films:?}");
    let path = format!("/specimens/2-1/evidence/{}", first["sha256"].as_str().unwrap());
    let bytes = served.bytes(&path);
    assert!(bytes.windows(6).any(|part| part == b"A_OPUS"), "the bench's sounds are in the film");
    assert_eq!(first["name"], "bench-2-1-1.webm");
}

/// A disk that has no room for a film from its n-th write on.
fn full_from(write: u32) -> String {
    let fault = "(() => {
      let writes = 0;
      for (const name of ['add', 'put']) {
        const own = IDBObjectStore.prototype[name];
        IDBObjectStore.prototype[name] = function (...given) {
          if (this.transaction.db.name === 'cinderbook-film' && (writes += 1) >= FROM) {
            throw new DOMException('the disk is full', 'QuotaExceededError');
          }
          return own.apply(this, given);
        };
      }
    })()";
    fault.replace("FROM", &write.to_string())
}

#[tokio::test]
async fn without_a_camera_or_room_the_presses_go_on() {
    let no_room = "◆ No room left for film: free space on this device, or go without";
    for (fault, words) in [
        (
            "navigator.mediaDevices.getUserMedia = () => Promise.reject(new Error('it is taken'))",
            "No film: it is taken. Add a phone's film afterwards",
        ),
        ("navigator.storage.estimate = async () => ({ quota: 1e6, usage: 0 })", no_room),
        (&full_from(1), no_room),
        (&full_from(4), no_room),
        (
            "const start = MediaRecorder.prototype.start;
             MediaRecorder.prototype.start = function (...given) {
               const [track] = this.stream.getVideoTracks();
               setTimeout(() => { track.stop(); track.dispatchEvent(new Event('ended')); }, 1500);
               return start.apply(this, given);
             }",
            "◆ The film ended: the camera is gone",
        ),
    ] {
        let (served, _profile, browser) = to_test().await;
        browser.screen((320, 640), "dark").await;
        let source = json!({ "source": fault });
        browser.below("Page.addScriptToEvaluateOnNewDocument", source).await;
        browser.go(&served.at("/bench/2/1")).await;
        browser.until(LOOKED_AT, "what the device can do").await;
        browser.press(Hand::Touch, ("button", "No switch")).await;
        browser.press(Hand::Touch, ("button", "Record a film")).await;
        if words.starts_with("No film") {
            let told = format!("document.querySelector('#bench').innerText.includes(\"{words}\")");
            browser.until(&told, words).await;
        } else {
            browser.find("button", "No film").await;
        }
        browser.press(Hand::Touch, ("button", "Darken the room and begin")).await;
        browser.state("ready").await;
        browser.switch("on-specimen").await;
        // Nothing is said of the film while something burns.
        let silent = "document.querySelector('.of-film').innerText === ''";
        browser.value("new Promise((resolve) => setTimeout(() => resolve(true), 2500))").await;
        for state in ["burning", "glow"] {
            assert_eq!(browser.value(silent).await, true, "before {state}: {words}");
            browser.switch(state).await;
        }
        assert_eq!(browser.value(silent).await, true, "{words}");
        browser.switch("finished").await;
        if !words.starts_with("No film") {
            let told = format!("document.querySelector('.of-film').innerText === \"{words}\"");
            browser.until(&told, words).await;
        }
        let sent = "document.querySelector('.kept').innerText.includes('All 4 sent')";
        browser.until(sent, "all presses sent").await;
        drop(browser);
        served.ended();
    }
}
