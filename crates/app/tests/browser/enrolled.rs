//! A tablet is enrolled by the administrator, in its own browser; a technician then signs in on it with the
//! password alone, and the bench opens there and nowhere else. The key is made by the browser and cannot be
//! taken out of it.

use serde_json::{Value, json};

use super::axe::offences;
use super::driver::{Browser, Profile};
use super::hands::{Hand, WAYS};
use crate::access_tls::Laboratory;
use crate::house::none;
use crate::people::{admitted, let_in};
use crate::served::{PASSWORD, PERSON, Served, holds, kept, new_book};

const TOVE: &str = "Tove Berg";

/// What the browser keeps of its key: whether it signs alone, and whether it can be taken out.
const KEPT: &str = "new Promise((found) => {
  const asked = indexedDB.open('cinderbook-bench');
  asked.onsuccess = () => {
    const got = asked.result.transaction('device').objectStore('device').get('key');
    got.onsuccess = () => {
      const { own } = got.result;
      asked.result.close();
      crypto.subtle.exportKey('pkcs8', own).then(() => found('taken out'), () =>
        found(`${own.algorithm.namedCurve} ${own.extractable} ${own.usages}`));
    };
  };
})";

async fn text(browser: &Browser) -> String {
    let shown = browser.value("document.querySelector('main').innerText").await;
    shown.as_str().unwrap().to_owned()
}

async fn signs_in(browser: &Browser, hand: Hand, (served, person): (&Served, &str)) {
    browser.below("Network.clearBrowserCookies", json!({})).await;
    browser.go(&served.at("/sign-in?to=/device")).await;
    browser.fill(hand, ("Name", person)).await;
    browser.fill(hand, ("Password", PASSWORD)).await;
    browser.follow(hand, ("button", "Sign in")).await;
    browser.find("heading", "This device").await;
    browser.until("document.querySelector('#device').dataset.looked === 'yes'", "a look").await;
}

#[tokio::test]
async fn a_tablet_is_enrolled_and_the_bench_opens_on_it_alone() {
    let mut found = Vec::new();
    for (hand, screen) in WAYS {
        let mut served = Served::demo_after(admitted);
        drop(let_in(&mut served, TOVE));
        let (one, other) = (Profile::new(), Profile::new());
        let tablet = Browser::of(&served, &one).await;
        tablet.screen(screen, "light").await;
        enrolled(&tablet, hand, &served, &mut found).await;
        tablet.screen(screen, "light").await;

        tablet.go(&served.at("/setup")).await;
        holds(&text(&tablet).await, &["Bench tablet", "The bench opens on any device."]);
        tablet.follow(hand, ("button", "Open the bench on enrolled devices alone")).await;
        found.extend(offences(&tablet, "Set up with a device").await);
        tablet.screen(screen, "light").await;

        // The browser signs by itself; nothing more is asked of the technician.
        signs_in(&tablet, hand, (&served, TOVE)).await;
        holds(
            &text(&tablet).await,
            &["You signed in on this device, which is enrolled as Bench tablet."],
        );
        tablet.go(&served.at("/bench")).await;
        tablet.find("heading", "Bench").await;

        let elsewhere = Browser::open(&other, &[]).await;
        elsewhere.screen(screen, "light").await;
        signs_in(&elsewhere, hand, (&served, TOVE)).await;
        holds(&text(&elsewhere).await, &["Your sign-in is on no enrolled device.", "Odalys Fenn"]);
        elsewhere.go(&served.at("/bench")).await;
        assert_eq!(elsewhere.address().await.path(), "/device");
        holds(&text(&elsewhere).await, &["The bench opens on enrolled devices alone."]);
        found.extend(offences(&elsewhere, "This device, enrolled by others").await);

        let ended = json!({ "act": "end-device", "device": "Bench tablet" });
        served.cookie = office(&served);
        assert_eq!(served.post_json("/api/setup/acts", &ended.to_string()).status, 200);
        tablet.go(&served.at("/bench")).await;
        assert_eq!(tablet.address().await.path(), "/sign-in", "with the next request");
        // Its key is still there, and says nothing any more.
        signs_in(&tablet, hand, (&served, TOVE)).await;
        holds(&text(&tablet).await, &["Your sign-in is on no enrolled device."]);
        let log = kept(&served.book(), "access/log-2026-03.jsonl");
        assert_eq!(log.matches("signed in on Bench tablet").count(), 1, "{log}");
        for browser in [&tablet, &elsewhere] {
            found.extend(browser.complaints().await);
        }
        drop((tablet, elsewhere));
        served.ended();
    }
    found.retain(|line| !line.contains("the server responded with a status of 4"));
    none(&found);
}

/// Enrols the device of the administrator's browser.
async fn enrolled(tablet: &Browser, hand: Hand, served: &Served, found: &mut Vec<String>) {
    tablet.go(&served.at("/device")).await;
    tablet.until("document.querySelector('#device').dataset.looked === 'yes'", "a look").await;
    tablet.press(hand, ("button", "Enrol this device")).await;
    let told = "document.querySelector('#enrol-told').textContent";
    let said = format!("{told}.startsWith('The name of the device has 0 characters.')");
    tablet.until(&said, "what is wrong").await;
    found.extend(offences(tablet, "This device, to be enrolled").await);
    tablet.screen(if hand == Hand::Touch { (320, 640) } else { (1180, 820) }, "light").await;
    tablet.fill(hand, ("What is this device called?", "Bench tablet")).await;
    tablet.follow(hand, ("button", "Enrol this device")).await;
    holds(&text(tablet).await, &["which is enrolled as Bench tablet."]);
    assert_eq!(tablet.value(KEPT).await, Value::from("P-256 false sign"));
}

/// A sign-in of the administrator elsewhere.
fn office(served: &Served) -> String {
    let form = [("name", "Odalys Fenn"), ("password", PASSWORD)];
    let answer = served.fill("/sign-in", &form);
    answer.header("set-cookie").split(';').next().unwrap().to_owned()
}

/// RFC 4648, 4: how a browser is told the hash of a key.
fn base64(bytes: &[u8]) -> String {
    const LETTERS: &[u8; 64] = b"ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz0123456789+/";
    let three = |chunk: &[u8]| {
        let bits = (0..3).fold(0_u32, |bits, at| {
            bits << 8 | u32::from(chunk.get(at).copied().unwrap_or_default())
        });
        let letter = |at: u32| char::from(LETTERS[(bits >> (18 - 6 * at) & 63) as usize]);
        let filled = u32::try_from(chunk.len()).unwrap();
        (0..4).map(|at| if at <= filled { letter(at) } else { '=' }).collect::<String>()
    };
    bytes.chunks(3).map(three).collect()
}

#[tokio::test]
async fn a_browser_that_was_let_past_its_warning_does_not_say_that_the_certificate_works() {
    let (folder, laboratory) = (new_book(), Laboratory::new());
    let public = laboratory.issue(folder.path(), 2090);
    let path = |name: &str| folder.path().join(name).display().to_string();
    let (certificate, key) = (path("lab.pem"), path("lab.key"));
    let wanted = ["--listen", "127.0.0.1:0", "--certificate", &certificate, "--key", &key];
    let mut served = Served::enciphered_by(folder, &wanted, &laboratory.der());
    served.come_in();
    let pinned = format!(
        "--ignore-certificate-errors-spki-list={}",
        base64(&<sha2::Sha256 as sha2::Digest>::digest(&public))
    );
    let given = json!({ "act": "enciphered-alone", "promise": "given" }).to_string();
    let (one, other) = (Profile::new(), Profile::new());
    for (profile, more, trusts) in [(&one, vec![], false), (&other, vec![pinned], true)] {
        let browser = Browser::open(profile, &more).await;
        browser.below("Page.navigate", json!({ "url": served.at("/sign-in?to=/device") })).await;
        if !trusts {
            browser.find("heading", "Your connection is not private").await;
            for letter in "thisisunsafe".chars() {
                let event = json!({ "type": "char", "text": letter.to_string() });
                browser.below("Input.dispatchKeyEvent", event).await;
            }
        }
        let name = if trusts { "Bench tablet" } else { "Old tablet" };
        comes_in(&browser, None).await;
        browser.fill(Hand::Keyboard, ("What is this device called?", name)).await;
        browser.follow(Hand::Keyboard, ("button", "Enrol this device")).await;
        browser.follow(Hand::Keyboard, ("button", "Sign out")).await;
        comes_in(&browser, Some(name)).await;
        let status = served.post_json("/api/setup/acts", &given).status;
        assert_eq!(status, if trusts { 200 } else { 422 }, "{name}");
    }
    let said = served.get("/sign-in");
    assert_eq!(said.header("strict-transport-security"), "max-age=31536000");
}

/// Signs the first person in on the page that stands there; on this device.
async fn comes_in(browser: &Browser, on: Option<&str>) {
    browser.fill(Hand::Keyboard, ("Name", PERSON)).await;
    browser.fill(Hand::Keyboard, ("Password", PASSWORD)).await;
    browser.follow(Hand::Keyboard, ("button", "Sign in")).await;
    if let Some(name) = on {
        browser.follow(Hand::Keyboard, ("link", "This device")).await;
        holds(&text(browser).await, &[&format!("which is enrolled as {name}.")]);
    }
}
