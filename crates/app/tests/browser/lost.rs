//! The network, the server, the tablet or its clock goes while a specimen burns.

use super::at_bench::{AtBench, BEGIN, acts, kept};
use super::driver::{Browser, Profile, to_test};
use super::hands::{Hand, WAYS};
use crate::served::{Served, holds};
use crate::web_plans::{led, ready_to_test};

/// Waits until the page and all that it has loaded are kept for a reload without network.
pub(super) async fn kept_for_reload(browser: &Browser) {
    let all = "caches.open('cinderbook-bench-open').then((it) => it.keys()).then((keys) => {
        const kept = new Set(keys.map(({ url }) => url));
        const loaded = performance.getEntriesByType('resource').map(({ name }) => name);
        const parts = loaded.filter((name) => new URL(name).pathname.startsWith('/assets/'));
        return [location.href, ...parts].every((name) => kept.has(name)); })";
    browser
        .until(&format!("caches.has('cinderbook-bench-open').then((is) => is && {all})"), "kept")
        .await;
    browser.value("navigator.serviceWorker.ready.then(() => true)").await;
}

/// Whether the device has on its disk that its page was alive just now. The clock of a test runs
/// ahead of the disk.
const SEEN_ALIVE: &str = "new Promise((resolve) => {
  const asked = indexedDB.open('cinderbook-bench', 1);
  asked.onsuccess = () => {
    const sittings = asked.result.transaction('sittings').objectStore('sittings').getAll();
    sittings.onsuccess = () => {
      const late = test.clock.at - 2_000;
      resolve(sittings.result.every(({ seen }) => seen.counter_ms > late));
      asked.result.close();
    };
  };
})";

#[tokio::test]
async fn without_network_everything_goes_on_and_is_sent_once() {
    for (hand, screen) in WAYS {
        let (served, _profile, browser) = to_test().await;
        browser.screen(screen, "dark").await;
        let bench = AtBench::ready(&served, (&browser, hand), BEGIN).await;
        bench.main("Flame on specimen").await;
        bench.in_record(1).await;
        kept_for_reload(&browser).await;
        browser.network(false).await;
        browser.value("sessionStorage.setItem('no-network', '')").await;
        bench.pass(9_000).await;
        bench.mark().await;
        bench.says("Kept on this tablet: 2, not sent yet").await;
        bench.pass(21_200).await;
        bench.main("Flame removed").await;
        bench.heading("Burning after removal").await;
        bench.says("Kept on this tablet: 3, not sent yet").await;
        assert_eq!(browser.value("document.querySelector('dialog') === null").await, true);
        let played = browser.value("benchSound.played.map(({ kind }) => kind).join()").await;
        assert_eq!(played, "flame-on,two-clicks,flame-removed");
        // Loaded again: the same state, the number right.
        bench.pass(5_000).await;
        browser.until(SEEN_ALIVE, "that the page was alive, on the disk").await;
        browser.reload().await;
        bench.heading("Burning after removal").await;
        browser.until("document.querySelector('.digits').innerText === '5'", "the number").await;
        bench.pass(6_500).await;
        bench.main("Flames out").await;
        bench.heading("Glow after the flames").await;
        bench.pass(2_300).await;
        bench.main("Glow out").await;
        bench.heading("Finished").await;
        holds(&bench.text().await, &["30.2 s", "11.5 s", "2.3 s", "13.8 s"]);
        bench.pass(2_000).await;
        bench.main("Lights on, describe what you saw").await;
        bench
            .says("Not sent yet. Sign when the connection is back: the next page opens then")
            .await;
        assert_eq!(kept(&served).len(), 1);
        // Back again, and the reply to what is sent first is cut.
        browser.value("test.replies.cut = 1; window.isOld = true").await;
        browser.value("sessionStorage.removeItem('no-network')").await;
        browser.network(true).await;
        let there = "window.isOld === undefined && location.pathname.includes('describe')";
        browser.until(there, "the description").await;
        let chain = [("flame-on", 0), ("mark", 9_000), ("flame-removed", 30_200)];
        let wanted = chain.into_iter().chain([("flames-out", 41_700), ("glow-out", 44_000)]);
        assert_eq!(kept(&served), wanted.map(|(it, at)| (it.into(), at)).collect::<Vec<_>>());
        drop(browser);
        served.ended();
    }
}

#[tokio::test]
async fn a_browser_that_was_killed_offers_the_specimen_back_with_a_stated_doubt() {
    let (served, profile, first) = to_test().await;
    let bench = AtBench::ready(&served, (&first, Hand::Keyboard), BEGIN).await;
    bench.switch().await;
    bench.in_record(1).await;
    kept_for_reload(&first).await;
    first.network(false).await;
    bench.pass(30_200).await;
    bench.switch().await;
    bench.says("Kept on this tablet: 2, not sent yet").await;
    drop(first);
    let second = Browser::of(&served, &profile).await;
    second.network(false).await;
    let of = (&second, Hand::Keyboard);
    let script = "const { fetch: ask } = globalThis; globalThis.fetch = (address, options) =>
        address === '/api/clock' ? Promise.reject(new TypeError('offline')) : ask(address, options);";
    let bench = AtBench::open(&served, of, (BEGIN + 50_000, script)).await;
    second.find("dialog", "Specimen 1 was being timed here, last press").await;
    holds(&bench.text().await, &["Times across the gap are ± 0.50 s."]);
    bench.act("Carry on here").await;
    bench.heading("Burning after removal").await;
    bench.pass(500).await;
    bench.switch().await;
    bench.heading("Glow after the flames").await;
    bench.pass(1_000).await;
    bench.switch().await;
    bench.heading("Finished").await;
    second.network(true).await;
    bench.says("All 6 sent").await;
    let all = ["flame-on", "flame-removed", "time-doubtful", "acknowledged"];
    assert_eq!(acts(&served), [all.as_slice(), &["flames-out", "glow-out"]].concat());
    holds(&served.page("/specimens/2-1"), &["the browser was closed for", "± 0.50 s"]);
    drop(second);
    served.ended();
}

#[tokio::test]
async fn another_tablet_watches_and_takes_over_with_a_reason() {
    for (hand, screen) in WAYS {
        let served = ready_to_test();
        let (one, other) = (Profile::new(), Profile::new());
        let first = Browser::of(&served, &one).await;
        let lost = AtBench::ready(&served, (&first, Hand::Keyboard), BEGIN).await;
        lost.switch().await;
        lost.heading("Flame on specimen").await;
        lost.pass(30_200).await;
        lost.switch().await;
        lost.in_record(2).await;
        first.network(false).await;
        let second = Browser::of(&served, &other).await;
        second.screen(screen, "dark").await;
        let bench = AtBench::open(&served, (&second, hand), (BEGIN + 43_700, "")).await;
        bench.heading("Burning after removal").await;
        bench.says("Timed by Odalys Fenn on another device since").await;
        holds(&bench.text().await, &[", last press 12 s ago: this device watches"]);
        bench.switch().await;
        bench.act("Time it here instead").await;
        bench.act("Go on watching").await;
        assert_eq!(acts(&served), ["flame-on", "flame-removed"]);
        bench.act("Time it here instead").await;
        bench.act("The other device is lost").await;
        second.find("button", "Flames out").await;
        bench.pass(1_000).await;
        bench.main("Flames out").await;
        bench.heading("Glow after the flames").await;
        bench.pass(1_000).await;
        bench.main("Glow out").await;
        bench.heading("Finished").await;
        bench.says("All 2 sent").await;
        // What the first presses now does not count, and it is told so.
        first.network(true).await;
        lost.pass(5_000).await;
        lost.switch().await;
        lost.says("All 3 presses kept").await;
        first.reload().await;
        lost.says("▲ Another device times this specimen now: presses here are kept, not counted")
            .await;
        let counted = ["flame-on", "flame-removed", "flames-out", "glow-out"];
        assert_eq!(acts(&served), counted);
        holds(&served.page("/specimens/2-1"), &["from here on: The other device is lost."]);
        drop((first, second));
        served.ended();
    }
}

#[tokio::test]
async fn the_server_dies_in_the_middle_and_loses_nothing() {
    let (mut served, _profile, browser) = to_test().await;
    let bench = AtBench::ready(&served, (&browser, Hand::Keyboard), BEGIN).await;
    bench.switch().await;
    bench.heading("Flame on specimen").await;
    bench.pass(30_200).await;
    bench.switch().await;
    bench.in_record(2).await;
    served.kill();
    bench.pass(11_500).await;
    bench.switch().await;
    bench.heading("Glow after the flames").await;
    bench.says("Kept on this tablet: 3, not sent yet").await;
    served.start_again();
    bench.pass(2_300).await;
    bench.switch().await;
    bench.heading("Finished").await;
    bench.says("✓ All 4 sent").await;
    assert_eq!(acts(&served), ["flame-on", "flame-removed", "flames-out", "glow-out"]);
    drop(browser);
    served.ended();
}

#[tokio::test]
async fn a_step_of_the_calendar_leaves_the_durations_and_a_sleep_is_stated() {
    for (hand, screen) in WAYS {
        let (served, _profile, browser) = to_test().await;
        browser.screen(screen, "dark").await;
        let bench = AtBench::ready(&served, (&browser, hand), BEGIN).await;
        bench.main("Flame on specimen").await;
        bench.heading("Flame on specimen").await;
        bench.pass(30_200).await;
        bench.main("Flame removed").await;
        bench.heading("Burning after removal").await;
        bench.pass(5_000).await;
        browser.value("test.step(3_600_000)").await;
        bench.in_record(4).await;
        assert!(!bench.text().await.contains("doubtful"), "nothing to do: no alarm");
        bench.pass(2_250).await;
        browser.value("test.freeze(4_000)").await;
        bench.says("▲ Time is doubtful: carry on, say so later").await;
        bench.mark().await;
        browser.until("!document.body.innerText.includes('doubtful')", "acknowledged").await;
        bench.main("Flames out").await;
        bench.heading("Glow after the flames").await;
        bench.pass(2_300).await;
        bench.main("Glow out").await;
        bench.heading("Finished").await;
        holds(&bench.text().await, &["30.2 s", "11.5 s", "2.3 s", "13.8 s"]);
        bench.says("All 8 sent").await;
        let page = served.page("/specimens/2-1");
        holds(&page, &["the clock of this device moved by +3600.0 s: durations do not use it"]);
        holds(&page, &["this page stood still for 4.0 s: ± 0.01 s"]);
        // The report says so beside the times.
        let seen = "layer=unchanged&surroundings=none&burnt=partly&temperature=23&humidity=50";
        assert_eq!(led(&served.post("/specimens/2-1/describe/all", seen)), "/plans/2");
        led(&served.post("/plans/2", "act=judge"));
        // The report waits for one who accepts the times, by the same hand.
        browser.go(&served.at("/plans/2")).await;
        browser.follow(hand, ("link", "Look at the times of specimen 1")).await;
        browser.find("heading", "Doubtful times").await;
        browser.fill(hand, ("Why do the times hold", "0.01 s of 30 s")).await;
        browser.follow(hand, ("button", "Accept the times")).await;
        assert!(bench.text().await.contains("Accepted by Odalys Fenn"), "accepted");
        assert_eq!(led(&served.post("/plans/2", "act=report")), "/reports/2");
        let report = served.page("/reports/2/json");
        holds(&report, &["durations do not use it", "this page stood still for 4.0 s"]);
        holds(&report, &["were accepted although this page", "0.01 s of 30 s"]);
        drop(browser);
        served.ended();
    }
}

#[tokio::test]
async fn presses_that_the_disk_refuses_are_shown_sent_and_can_be_written_down() {
    let (served, _profile, browser) = to_test().await;
    let bench = AtBench::ready(&served, (&browser, Hand::Keyboard), BEGIN).await;
    bench.switch().await;
    bench.heading("Flame on specimen").await;
    browser
        .value("IDBObjectStore.prototype.add = () => { throw new DOMException('full', 'QuotaExceededError') }")
        .await;
    bench.pass(30_200).await;
    bench.switch().await;
    bench.heading("Burning after removal").await;
    bench.says("▲ Presses cannot be kept on this device: write the times by hand").await;
    bench.act("Show the times to write down").await;
    bench.says("s  flame removed").await;
    bench.pass(2_000).await;
    bench.switch().await;
    bench.heading("Glow after the flames").await;
    bench.pass(2_000).await;
    bench.switch().await;
    bench.heading("Finished").await;
    bench.says("All 4 sent").await;
    assert_eq!(acts(&served).len(), 4);
}

#[tokio::test]
async fn presses_wait_for_a_person_who_is_signed_out_and_are_sent_then() {
    let (mut served, _profile, browser) = to_test().await;
    let bench = AtBench::ready(&served, (&browser, Hand::Keyboard), BEGIN).await;
    signed_out(&mut served);
    bench.switch().await;
    bench.heading("Flame on specimen").await;
    bench.says("Sign in again to send: the presses stay kept here.").await;
    bench.says("Kept on this tablet: 1, not sent yet").await;
    browser.sign_in(&served).await;
    browser.value("dispatchEvent(new Event('focus'))").await;
    bench.says("All 1 sent").await;
    assert_eq!(acts(&served), ["flame-on"]);
}

/// Signs the person out everywhere, and in anew elsewhere.
fn signed_out(served: &mut Served) {
    assert_eq!(served.post("/sign-out", "").status, 303);
    let form = [("name", "Odalys Fenn"), ("password", crate::served::PASSWORD)];
    let again = served.fill("/sign-in", &form);
    served.keep_cookie(&again);
}
