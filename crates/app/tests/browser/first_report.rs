//! A newcomer: from an empty folder to a first report by the main actions alone, in a made-up laboratory.
#![expect(clippy::disallowed_methods, reason = "runs a second copy, and reads the report")]

use std::cell::Cell;
use std::process::Command;

use serde_json::Value;
use url::Url;

use super::at_bench::{AtBench, BEGIN};
use super::axe::{offences, offences_in};
use super::driver::{Browser, Profile};
use super::hands::{Hand, WAYS};
use crate::house::none;
use crate::served::{PASSWORD, Served, holds, program};

const NOW: &str = "2026-03-06T09:00:00Z";

/// Links followed, buttons and switch pressed, answers chosen: no more are needed. What is typed is
/// not counted.
const PRESSES: u32 = 25;

/// The words of the main action of a page.
const MAIN_ACTION: &str =
    "document.querySelector('main :is(button, .button):not(.second)').innerText";

/// One way through, each press of it counted.
struct Way<'a> {
    browser: &'a Browser,
    hand: Hand,
    presses: Cell<u32>,
}

impl Way<'_> {
    fn press(&self) {
        self.presses.set(self.presses.get() + 1);
    }

    /// Presses what the page offers as its main action.
    async fn main(&self, role: &str, words: &str) {
        self.browser.find(role, words).await;
        let offered = self.browser.value(MAIN_ACTION).await;
        assert!(offered.as_str().unwrap().starts_with(words), "{offered} instead of {words}");
        self.follow(role, words).await;
    }

    async fn follow(&self, role: &str, words: &str) {
        let banner = "document.querySelector('.made-up')?.innerText ?? ''";
        self.browser.follow(self.hand, (role, words)).await;
        self.press();
        let banner = self.browser.value(banner).await;
        let dark = self.browser.address().await.path().starts_with("/bench/");
        let said = "Made-up laboratory: nothing here is a test result";
        assert!(dark || banner == said, "{banner} after {words}");
    }

    async fn choose(&self, question: &str, answer: &str) {
        self.browser.choose(self.hand, (question, answer)).await;
        self.press();
    }

    async fn fill(&self, label: &str, text: &str) {
        self.browser.fill(self.hand, (label, text)).await;
    }
}

#[tokio::test]
async fn from_an_empty_folder_main_actions_lead_to_a_first_report_within_25_presses() {
    let mut found = Vec::new();
    for (hand, screen) in WAYS {
        let mut served = Served::start(tempfile::tempdir().unwrap(), &[], NOW);
        second_copy(&served);
        let profile = Profile::new();
        let browser = Browser::open(&profile, &[]).await;
        browser.screen(screen, "light").await;
        let way = Way { browser: &browser, hand, presses: Cell::new(0) };
        browser.go(&served.link.clone().unwrap()).await;
        way.fill("Your name", "Ana Ruiz").await;
        way.fill("Password", PASSWORD).await;
        way.fill("The same password again", PASSWORD).await;
        way.follow("button", "Try with a made-up laboratory").await;
        way.main("link", "Go on with P-1").await;
        found.extend(looked_at(&way, screen, "the cautions of a plan").await);
        way.main("button", "I have read the cautions").await;
        way.main("link", "Confirm the flame").await;
        flame(&way).await;
        found.extend(bench(&way, screen).await);
        way.choose("The layer below", "unchanged").await;
        way.choose("Flames or glow of the layer", "There were none").await;
        way.choose("How much of it burnt?", "partly").await;
        way.fill("Temperature of the air", "23").await;
        way.fill("Relative humidity", "50").await;
        found.extend(looked_at(&way, screen, "all questions of a description").await);
        way.follow("button", "Record as tested by Ana Ruiz").await;
        way.main("button", "Judge").await;
        way.main("button", "Issue the report").await;
        assert_eq!(browser.address().await.path(), "/reports/1");
        assert!(way.presses.get() <= PRESSES, "{} presses", way.presses.get());
        println!("{hand:?}: {} presses", way.presses.get());
        let elsewhere = |it: &&Url| it.scheme().starts_with("http") && it.port() != port(&served);
        let asked = browser.requests().await;
        found.extend(asked.iter().filter(elsewhere).map(|it| format!("{it} was asked for")));
        found.extend(browser.complaints().await);
        drop(browser);
        reported(&mut served);
        checks_elsewhere(served);
    }
    none(&found);
}

/// The rules of all pages, once.
async fn looked_at(way: &Way<'_>, screen: (u32, u32), page: &str) -> Vec<String> {
    if way.hand == Hand::Keyboard {
        return Vec::new();
    }
    let found = offences(way.browser, page).await;
    way.browser.screen(screen, "light").await;
    found
}

/// Three heatings at the practice bench, faster than they are.
async fn flame(way: &Way<'_>) {
    let browser = way.browser;
    browser.tick(way.hand, "I have read them").await;
    way.press();
    way.main("button", "Continue").await;
    way.fill("Speed", "400").await;
    way.main("button", "Begin").await;
    for heating in 1..=3 {
        way.main("button", "Flame on block").await;
        let ended = format!("document.getElementById('live').dataset.heatings === '{heating}'");
        browser.until(&ended, "the end of the heating").await;
    }
    // Until then the page is drawn anew as the block cools.
    let ready = "document.getElementById('live').dataset.stage === 'ready'";
    browser.until(ready, "a block that is cool").await;
    way.main("button", "End the sitting").await;
    let shown = browser.value("document.querySelector('main').innerText").await;
    holds(shown.as_str().unwrap(), &["The flame is confirmed till", "Confirmation C-1"]);
}

/// One specimen at the bench, on a clock that stands until it is moved.
async fn bench(way: &Way<'_>, screen: (u32, u32)) -> Vec<String> {
    let Way { browser, hand, .. } = *way;
    let bench = AtBench::standing((browser, hand), (BEGIN, "")).await;
    way.main("link", "Go to the bench").await;
    bench.heading("Before the flame").await;
    bench.says("Clock: ±").await;
    holds(&bench.text().await, &["Flame: The flame is confirmed till", "T-26-02, B-26-01"]);
    let mut found = Vec::new();
    if hand == Hand::Touch {
        found = offences_in(browser, "before the flame", &["dark"]).await;
        browser.screen(screen, "light").await;
    }
    for (name, words) in [("Flame height", "seen against the gauge"), ("Dark room", "no draught")] {
        let line = format!("document.querySelector('[data-name=\"{name}\"]')");
        bench.act(&format!("Seen: {name}")).await;
        browser.until(&format!("{line} === null"), words).await;
        holds(&bench.text().await, &[&format!("{name}: ")]);
    }
    bench.checked().await;
    bench.chain().await;
    bench.says("✓ All 4 sent").await;
    // Twice before the flame, four times at it.
    (0..6).for_each(|_| way.press());
    bench.pass(1_500).await;
    browser.value("window.isOld = true").await;
    bench.main("Lights on, describe what you saw").await;
    way.press();
    let there = "window.isOld === undefined && document.readyState === 'complete'
        && location.pathname.includes('describe')";
    browser.until(there, "the description").await;
    found
}

/// A second copy on the same folder is told which one has it.
fn second_copy(served: &Served) {
    let second = program().arg("--book").arg(served.book()).arg("serve").output().unwrap();
    assert_eq!(second.status.code(), Some(3), "{second:?}");
    holds(&String::from_utf8_lossy(&second.stderr), &["is in use by process "]);
}

/// The report's files hold the four times and the mark of a made-up laboratory on every page.
fn reported(served: &mut Served) {
    let again = served.fill("/sign-in", &[("name", "Ana Ruiz"), ("password", PASSWORD)]);
    assert_eq!(again.status, 303, "{}", again.body);
    served.keep_cookie(&again);
    let data: Value = serde_json::from_slice(&served.bytes("/reports/1/json")).unwrap();
    let written = data.to_string();
    holds(&written, &["30.2", "11.5", "2.3", "13.8"]);
    let pdf = served.folder.path().join("report.pdf");
    std::fs::write(&pdf, served.bytes("/reports/1/pdf")).unwrap();
    let text = Command::new("pdftotext").arg("-layout").arg(&pdf).arg("-").output().unwrap();
    let text = String::from_utf8_lossy(&text.stdout).into_owned();
    holds(&text, &["30.2", "11.5", "2.3", "13.8"]);
    let head: Value = serde_json::from_str(&served.page("/api/reports/1")).unwrap();
    let hash = head["head"].as_str().unwrap().split(' ').nth(1).unwrap();
    holds(&text, &[&hash[..12]]);
    for page in text.trim_end_matches('\u{c}').split('\u{c}') {
        assert!(page.to_lowercase().contains("made-up"), "{page}");
    }
}

/// What is exported is checked without the book.
fn checks_elsewhere(served: Served) {
    let folder = served.end();
    let (book, bundle) = (folder.path().join("book"), folder.path().join("bundle"));
    let done = program().arg("--book").arg(book).arg("export").arg(&bundle).output().unwrap();
    assert!(done.status.success(), "{done:?}");
    let checked = program().arg("verify").arg(&bundle).output().unwrap();
    assert!(checked.status.success(), "{checked:?}");
}

fn port(served: &Served) -> Option<u16> {
    served.origin.parse::<Url>().unwrap().port()
}
