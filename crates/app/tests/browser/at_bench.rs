//! The bench in a browser whose clock stands until the test moves it.

use serde_json::{Value, json};

use super::driver::Browser;
use super::hands::Hand;
use crate::served::Served;

/// The clock of the page, and what it does to the page.
const CLOCK: &str = include_str!("clock.js");

/// When the book's clock stands: 2026-03-06T09:00:00Z, in milliseconds.
pub(super) const BEGIN: u64 = 1_772_787_600_000;

/// A specimen that is timed with one hand, in a browser.
pub(super) struct AtBench<'a> {
    pub(super) browser: &'a Browser,
    pub(super) hand: Hand,
}

impl<'a> AtBench<'a> {
    /// Opens specimen 1 of plan 2 in a browser whose clock begins at `begin`, after `script` has
    /// made the browser what it is.
    pub(super) async fn open(
        served: &Served,
        (browser, hand): (&'a Browser, Hand),
        (begin, script): (u64, &str),
    ) -> Self {
        let bench = Self::standing((browser, hand), (begin, script)).await;
        browser.go(&served.at("/bench/2/1")).await;
        bench
    }

    /// A browser whose clock stands at `begin` from the next page on.
    pub(super) async fn standing(
        (browser, hand): (&'a Browser, Hand),
        (begin, script): (u64, &str),
    ) -> Self {
        let clock = CLOCK.replace("BEGIN", &begin.to_string());
        for source in [clock.as_str(), script] {
            let source = json!({ "source": source });
            browser.below("Page.addScriptToEvaluateOnNewDocument", source).await;
        }
        Self { browser, hand }
    }

    /// The same, through the checks up to Ready.
    pub(super) async fn ready(
        served: &Served,
        (browser, hand): (&'a Browser, Hand),
        begin: u64,
    ) -> Self {
        let bench = Self::open(served, (browser, hand), (begin, "")).await;
        bench.checked().await;
        bench
    }

    /// Goes through the checks: the switch is pressed once, or there is none.
    pub(super) async fn checked(&self) {
        self.heading("Before the flame").await;
        // Only then all checks stand there.
        self.says("Clock: ±").await;
        match self.hand {
            Hand::Keyboard => {
                self.switch().await;
                self.browser.find("StaticText", "The switch works.").await;
                self.pass(500).await;
                self.switch().await;
            }
            Hand::Touch => {
                self.act("No switch: screen and keys").await;
                self.act("Darken the room and begin").await;
            }
        }
        self.heading("Ready").await;
        self.pass(500).await;
    }

    /// Time goes by, in milliseconds.
    pub(super) async fn pass(&self, milliseconds: u32) {
        self.browser.value(&format!("test.pass({milliseconds})")).await;
    }

    /// A press of the switch.
    pub(super) async fn switch(&self) {
        self.browser.key("PageDown", 34).await;
    }

    /// The main action: by the switch, or by a finger on its words.
    pub(super) async fn main(&self, words: &str) {
        match self.hand {
            Hand::Keyboard => self.switch().await,
            Hand::Touch => self.act(words).await,
        }
    }

    /// A mark without a name.
    pub(super) async fn mark(&self) {
        match self.hand {
            Hand::Keyboard => self.browser.key("PageUp", 33).await,
            Hand::Touch => self.act("Mark").await,
        }
    }

    /// A button by its words: with the Tab key and Enter, or by a finger.
    pub(super) async fn act(&self, words: &str) {
        let thing = self.browser.find("button", words).await;
        match self.hand {
            Hand::Keyboard => {
                self.browser.tab_to(&thing).await;
                self.browser.key("Enter", 13).await;
            }
            Hand::Touch => self.browser.tap(&thing).await,
        }
    }

    /// A letter, typed.
    pub(super) async fn letter(&self, key: &str) {
        self.browser.key(key, u32::from(key.to_ascii_uppercase().as_bytes()[0])).await;
    }

    /// Waits for the state with this heading.
    pub(super) async fn heading(&self, words: &str) {
        let words = json!(words);
        let here = format!("document.querySelector('h1')?.innerText === {words}");
        self.browser.until(&here, &format!("the heading {words}")).await;
    }

    /// Waits until the page says this somewhere.
    pub(super) async fn says(&self, words: &str) {
        let here = format!("document.body.innerText.includes({})", json!(words));
        self.browser.until(&here, &format!("`{words}`")).await;
    }

    /// Waits until the record has so many presses.
    pub(super) async fn in_record(&self, count: usize) {
        let twin = "fetch('/api/bench/2/1').then((it) => it.json())";
        let has = format!("{twin}.then(({{ presses }}) => presses.length === {count})");
        self.browser.until(&has, &format!("{count} presses in the record")).await;
    }

    /// All that the page says.
    pub(super) async fn text(&self) -> String {
        self.browser.value("document.body.innerText").await.as_str().unwrap().to_owned()
    }

    /// The large number.
    pub(super) async fn number(&self) -> String {
        let number = self.browser.value("document.querySelector('.digits').innerText").await;
        number.as_str().unwrap().to_owned()
    }

    /// Flame on, removed after 30.2 s, flames out 11.5 s and glow out 13.8 s later.
    pub(super) async fn chain(&self) {
        self.main("Flame on specimen").await;
        self.heading("Flame on specimen").await;
        self.pass(30_200).await;
        self.main("Flame removed").await;
        self.heading("Burning after removal").await;
        self.pass(11_500).await;
        self.main("Flames out").await;
        self.heading("Glow after the flames").await;
        self.pass(2_300).await;
        self.main("Glow out").await;
        self.heading("Finished").await;
    }
}

/// The presses of specimen 1 of plan 2 that the record has: what, and when in milliseconds since
/// the first that counts.
pub(super) fn kept(served: &Served) -> Vec<(String, i64)> {
    let twin: Value = serde_json::from_str(&served.page("/api/bench/2/1")).unwrap();
    let presses = twin["presses"].as_array().unwrap().clone();
    let counts = |press: &&Value| press["act"] != "ignored";
    let first = presses.iter().find(counts).map_or(0, |press| press["at_us"].as_i64().unwrap());
    let ms = |press: &Value| (press["at_us"].as_i64().unwrap() - first) / 1000;
    presses.iter().map(|it| (it["act"].as_str().unwrap().to_owned(), ms(it))).collect()
}

/// The acts alone, without the presses that did nothing.
pub(super) fn acts(served: &Served) -> Vec<String> {
    kept(served).into_iter().map(|(act, _)| act).filter(|act| act != "ignored").collect()
}
