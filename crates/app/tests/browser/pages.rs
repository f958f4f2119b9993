//! Every page that can be reached from the bar holds to the rules of all pages.

use std::collections::{BTreeSet, VecDeque};

use url::Url;

use super::axe::offences;
use super::driver::{Browser, Profile};
use super::lengthened::clipped;
use crate::house::none;
use crate::served::Served;

/// Pages of one kind, such as those of single specimens, that are looked at.
const OF_A_KIND: usize = 2;

#[tokio::test]
async fn every_page_reads_well_on_every_screen_and_asks_nobody_else() {
    let served = Served::demo();
    let profile = Profile::new();
    let browser = Browser::of(&served, &profile).await;
    let mut found = Vec::new();
    let mut waiting = VecDeque::from([served.at("/").parse::<Url>().unwrap()]);
    let mut seen = BTreeSet::new();
    let mut kinds = Vec::new();
    while let Some(page) = waiting.pop_front() {
        let kind = kind(&page);
        let of_this_kind = kinds.iter().filter(|it| **it == kind).count();
        if of_this_kind >= OF_A_KIND || !seen.insert(page.clone()) {
            continue;
        }
        if seen.len() > 1 && !is_page(&browser, &page).await {
            continue;
        }
        browser.go(page.as_str()).await;
        kinds.push(kind);
        found.extend(offences(&browser, page.path()).await);
        let links = browser.value("[...document.links].map((link) => link.href)").await;
        waiting.extend(
            links
                .as_array()
                .unwrap()
                .iter()
                .map(|link| link.as_str().unwrap().parse::<Url>().unwrap())
                .filter(|link| link.origin() == page.origin())
                .map(without_fragment),
        );
        found.extend(clipped(&browser, page.path()).await);
    }
    found.extend(browser.complaints().await);
    let home: Url = served.at("/").parse().unwrap();
    let elsewhere = browser.requests().await;
    let elsewhere = elsewhere
        .iter()
        .filter(|it| it.scheme().starts_with("http") && it.origin() != home.origin());
    found.extend(elsewhere.map(|address| format!("{address} was asked for")));
    assert!(kinds.len() >= 9, "only {kinds:?} were found");
    for page in ["/flame/bring", "/flame/run", "/flame/type"] {
        assert!(kinds.iter().any(|it| it == page), "{page} was not looked at, only {kinds:?}");
    }
    none(&found);
    drop(browser);
    served.ended();
}

/// Whether a page is there, and no file to take down.
async fn is_page(browser: &Browser, address: &Url) -> bool {
    let kind = "(answer) => answer.headers.get('content-type')";
    let asked = format!("fetch('{address}', {{ method: 'HEAD' }}).then({kind})");
    browser.value(&asked).await.as_str().is_some_and(|kind| kind.starts_with("text/html"))
}

/// The path without its numbers.
fn kind(page: &Url) -> String {
    let digits = |c: char| if c.is_ascii_digit() { '0' } else { c };
    let kind = page.path().chars().map(digits).collect::<String>().replace("00", "0");
    if kind.starts_with("/help/") { "/help/0".to_owned() } else { kind }
}

fn without_fragment(mut address: Url) -> Url {
    address.set_fragment(None);
    address
}

#[tokio::test]
async fn the_keyboard_alone_passes_the_bar_by_and_walks_it() {
    let served = Served::demo();
    let profile = Profile::new();
    let browser = Browser::of(&served, &profile).await;
    browser.go(&served.at("/")).await;
    browser.find("heading", "Today").await;
    browser.key("Tab", 9).await;
    let focused = "document.activeElement.textContent";
    assert_eq!(browser.value(focused).await, "Skip to the page");
    browser.key("Enter", 13).await;
    assert_eq!(browser.value("document.activeElement.localName").await, "main");
    browser.go(&served.at("/")).await;
    for link in ["Skip to the page", "Today", "Bench", "Plans"] {
        browser.key("Tab", 9).await;
        assert_eq!(browser.value(focused).await, link);
    }
    browser.key("Enter", 13).await;
    browser.find("heading", "").await;
    assert_eq!(browser.address().await.path(), "/plans");
    drop(browser);
    served.ended();
}
