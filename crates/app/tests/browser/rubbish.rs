//! Bad input: it is said what is wrong and where, what was typed is kept, and nothing changes.
#![expect(
    clippy::disallowed_methods,
    reason = "tests that hold an answer to its time and read a report"
)]

use std::process::Command;
use std::time::{Duration, Instant};

use url::Url;

use super::axe::offences;
use super::driver::{Browser, Profile, to_test};
use super::hands::WAYS;
use crate::house::none;
use crate::served::{PASSWORD, Served, holds};
use crate::web_describe::described;
use crate::web_plans::{led, ready_to_test};

/// Refused within this time, whatever is sent.
const SOON: Duration = Duration::from_secs(2);

/// The most memory the program may have taken, in kB.
const MEMORY: u64 = 256 << 10;

const DURATION: &str = "Duration of application";

#[tokio::test]
async fn a_wrong_number_comes_back_with_what_is_wrong_on_top_and_at_its_field() {
    let served = Served::demo();
    let mut found = Vec::new();
    for (hand, screen) in WAYS {
        let profile = Profile::new();
        let browser = Browser::of(&served, &profile).await;
        browser.screen(screen, "light").await;
        browser.go(&served.at("/plans/new?from=1")).await;
        browser.follow(hand, ("link", "All questions")).await;
        let all = browser.address().await;
        browser.go(all.join("duration").unwrap().as_str()).await;
        browser.fill(hand, ("Why, if it departs", "as ordered")).await;
        for (typed, words) in [
            ("abc", "Duration of application: `abc` is no number."),
            ("-5", "Duration of application is -5 s."),
            ("1.234", "can be read as 1234 s or as 1.2340 s. Type 1234 or 1.2340."),
        ] {
            browser.fill(hand, (DURATION, typed)).await;
            browser.follow(hand, ("button", "Continue")).await;
            said(&browser, typed, words).await;
        }
        found.extend(offences(&browser, "a wrong duration").await);
        browser.screen(screen, "light").await;
        for typed in ["30 s", "30,0"] {
            browser.fill(hand, (DURATION, typed)).await;
            browser.follow(hand, ("button", "Continue")).await;
            assert!(browser.address().await.path().ends_with("/point"), "{typed}");
            browser.follow(hand, ("link", "Back")).await;
        }
        found.extend(plan_check(&browser, &all).await);
        browser.screen(screen, "light").await;
        browser.go(all.join("duration").unwrap().as_str()).await;
        // Rules that do not go together are named at both of their questions.
        browser.fill(hand, (DURATION, "120")).await;
        browser.fill(hand, ("Why, if it departs", "")).await;
        browser.follow(hand, ("button", "Continue")).await;
        said(&browser, "120", "has no reason").await;
        let named = "[...document.querySelectorAll('.problems a')].map((it) => it.hash).join()";
        assert_eq!(browser.value(named).await, "#duration,#duration-reason");
        // The method by itself says no duration: then it must be typed.
        browser.go(all.join("rules").unwrap().as_str()).await;
        browser.choose(hand, ("Which product standard", "None: the method by itself")).await;
        browser.follow(hand, ("button", "Continue")).await;
        browser.fill(hand, (DURATION, "")).await;
        browser.follow(hand, ("button", "Continue")).await;
        said(&browser, "", "Duration of application: type a number").await;
        found.extend(browser.complaints().await);
    }
    // An answer with status 422 is what this is about; the browser tells of each.
    found.retain(|line| !line.contains("the server responded with a status of 422"));
    none(&found);
    served.ended();
}

/// The page to check a plan's answers, with a way to change each.
async fn plan_check(browser: &Browser, all: &Url) -> Vec<String> {
    browser.go(all.join("check").unwrap().as_str()).await;
    browser.find("button", "Give to the bench").await;
    browser.find("link", "Change How long is the flame applied?").await;
    offences(browser, "the check of a plan").await
}

/// The page says what is wrong: in its title, on top where the focus is, at the field, which keeps
/// what was typed.
async fn said(browser: &Browser, typed: &str, words: &str) {
    let page = browser
        .value(
            "(() => ({
              title: document.title,
              heading: document.querySelector('.problems h2').innerText,
              focused: document.activeElement.matches('.problems'),
              top: document.querySelector('.problems a').innerText,
              field: document.querySelector('.field.wrong .wrong-words').innerText,
              value: document.querySelector('.field.wrong input').value,
            }))()",
        )
        .await;
    let text = |what: &str| page[what].as_str().unwrap_or_default().to_owned();
    assert!(text("title").starts_with("Error: "), "{page}");
    assert_eq!(text("heading"), "There is a problem");
    assert_eq!(page["focused"], true, "{page}");
    assert!(text("top").contains(words), "{page}");
    assert!(text("field").ends_with(&text("top")), "{page}");
    assert_eq!(text("value"), typed);
}

#[tokio::test]
async fn a_script_in_a_name_is_text() {
    let (served, _profile, browser) = to_test().await;
    for page in ["/plans", "/plans/2", "/specimens/2-1", "/bench", "/", "/record"] {
        browser.go(&served.at(page)).await;
        let shown = browser.value("document.body.innerText").await;
        assert!(shown.as_str().unwrap().contains("<script>7"), "{page}: {shown}");
    }
    none(&browser.complaints().await);
    described(&served);
    for act in ["judge", "report"] {
        let done = served.post("/plans/2", &format!("act={act}"));
        assert_eq!(done.status, 303, "{}", done.body);
    }
    let report = served.folder.path().join("report.pdf");
    std::fs::write(&report, served.bytes("/reports/2/pdf")).unwrap();
    let text = Command::new("pdftotext").arg(&report).arg("-").output().unwrap();
    holds(&String::from_utf8_lossy(&text.stdout), &["<script>7"]);
}

#[test]
fn a_file_that_is_none_to_keep_is_refused_soon_with_the_limit() {
    let served = ready_to_test();
    let jpeg_head = b"\xff\xd8\xff\xc0\0\x11\x08\x27\x10\x27\x10".to_vec();
    let mut heavy = jpeg_head.clone();
    heavy[7..11].copy_from_slice(&[0, 16, 0, 16]);
    heavy.resize(31 << 20, 0);
    let bomb = [b"PK\x03\x04".as_slice(), &[0; 1 << 20]].concat();
    for (name, bytes, words) in [
        ("bomb.zip", bomb, "`bomb.zip` is no JPEG, PNG or WebP picture"),
        ("wide.jpg", jpeg_head, "10000 × 10000 elements, more than 50 million"),
        ("phone.jpg", b"\0\0\0\x18ftypheic".to_vec(), "`phone.jpg` is no JPEG"),
        ("heavy.jpg", heavy, "`heavy.jpg` has 31 MB, more than 30 MB"),
    ] {
        let began = Instant::now();
        let answer = hand_in(&served, name, &bytes);
        assert!(began.elapsed() < SOON, "{name}: {:?}", began.elapsed());
        assert_eq!(answer.status, 422, "{name}");
        holds(&answer.body, &[words, "at most 30 MB and 50 million picture elements"]);
    }
    let more = hand_in(&served, "more.jpg", &vec![0; 65 << 20]);
    assert_eq!(more.status, 413, "{}", more.body);
    holds(&more.body, &["There is a problem"]);
    let small = b"\xff\xd8\xff\xc0\0\x11\x08\0\x10\0\x10";
    led(&hand_in(&served, "../../../etc/cron.d/x.jpg", small));
    let page = served.page("/specimens/2-1/describe/unusual");
    holds(&page, &["x.jpg, 1 kB: kept"]);
    assert!(!page.contains("cron"));
    let most = served.memory_kilobytes();
    assert!(most < MEMORY, "{most} kB");
    served.ended();
}

fn hand_in(served: &Served, name: &str, bytes: &[u8]) -> crate::served::Answer {
    let head = format!(
        "--cut\r\ncontent-disposition: form-data; name=\"photo\"; filename=\"{name}\"\r\n\r\n"
    );
    let body = [head.as_bytes(), bytes, b"\r\n--cut--\r\n"].concat();
    served.send("/specimens/2-1/photos", "multipart/form-data; boundary=cut", body)
}

#[test]
fn nothing_changes_for_another_site_another_name_or_a_stale_session() {
    let mut served = ready_to_test();
    let entries = |served: &Served| served.page("/api/record").matches("\"entry\":").count();
    let before = entries(&served);
    let form = [("act", "cautions")];
    let other = served.fill_from("/plans/1", &form, "https://elsewhere.example");
    assert_eq!(other.status, 403);
    holds(&other.body, &["Another site asked for a change in this book.", "Nothing was changed."]);
    let name = served.get_with("/", &[("host", "elsewhere.example")]);
    assert_eq!(name.status, 421);
    holds(&name.body, &["`elsewhere.example` is no name of this book"]);
    let cookie = served.cookie.clone();
    assert_eq!(served.post("/sign-out", "").status, 303);
    let stale = served.post("/plans/1", "act=cautions");
    assert_eq!(stale.status, 303);
    holds(&stale.head, &["location: /sign-in?to=/"]);
    let twin = served.post_json("/api/plans/1/acts", "{\"act\":\"cautions\"}");
    assert_eq!((twin.status, twin.header("content-type")), (401, "application/problem+json"));
    assert_eq!(served.cookie, cookie);
    let again = served.fill("/sign-in", &[("name", "Odalys Fenn"), ("password", PASSWORD)]);
    assert_eq!(again.status, 303, "{}", again.body);
    served.keep_cookie(&again);
    assert_eq!(entries(&served), before);
    served.ended();
}
