//! A test is planned from Today on, one question a page, and given to the bench once.

use super::driver::{Browser, Profile};
use super::hands::{Hand, WAYS};
use crate::house::none;
use crate::served::{Served, holds};

#[tokio::test]
async fn a_test_is_planned_by_its_questions_and_drawn_up_once() {
    for (hand, screen) in WAYS {
        let served = Served::demo();
        let profile = Profile::new();
        let browser = Browser::of(&served, &profile).await;
        browser.screen(screen, "dark").await;
        browser.go(&served.at("/")).await;
        browser.follow(hand, ("link", "Plan a test")).await;
        questions(&browser, hand, &["NB-1", "CB-2", "TC-4", "SW-3"]).await;
        let check = browser.value("document.querySelector('main').innerText").await;
        holds(check.as_str().unwrap(), &["IEC 60695-11-5 edition 2016", "30 s", "Not given"]);
        browser.follow(hand, ("link", "Change What is tested")).await;
        browser.fill(hand, ("Who ordered the test?", "Another customer (made up)")).await;
        browser.follow(hand, ("button", "Continue to the check")).await;
        browser.follow(hand, ("button", "Give to the bench")).await;
        assert_eq!(browser.address().await.path(), "/plans/2");
        let plan = browser.value("document.querySelector('main').innerText").await;
        holds(plan.as_str().unwrap(), &["Another customer (made up)", "missing before the flame"]);
        // Back, and the button once more: it is said, and nothing is drawn up twice.
        browser.value("history.back()").await;
        browser.until("location.pathname !== '/plans/2'", "the page before").await;
        browser.reload().await;
        browser.find("heading", "There is a problem").await;
        holds(&served.page("/api/plans"), &["\"in_all\":2"]);
        let complaints = browser.complaints().await;
        let gone = "the server responded with a status of 404";
        none(&complaints.into_iter().filter(|it| !it.contains(gone)).collect::<Vec<_>>());
        drop(browser);
        served.ended();
    }
}

/// Goes through all questions, to the check.
pub(super) async fn questions(browser: &Browser, hand: Hand, pieces: &[&str]) {
    for (label, text) in [
        ("The laboratory's job", "Job 7 (made up)"),
        ("What is the part?", "cover, polycarbonate, 2 mm"),
        ("What mark does it bear?", "C-7"),
        ("In what condition did it come?", "new"),
        ("Who ordered the test?", "A customer (made up)"),
        ("The customer's address", "Nowhere"),
    ] {
        browser.fill(hand, (label, text)).await;
    }
    browser.follow(hand, ("button", "Continue")).await;
    browser.choose(hand, ("Which edition", "IEC 60695-11-5 edition 2016")).await;
    browser.choose(hand, ("Which product standard", "None")).await;
    browser.follow(hand, ("button", "Continue")).await;
    browser.fill(hand, ("Duration of application", "30 s")).await;
    browser.follow(hand, ("button", "Continue")).await;
    browser.fill(hand, ("The point of application", "lower edge, middle")).await;
    browser.follow(hand, ("button", "Continue")).await;
    browser.fill(hand, ("Position of the specimen", "as in use")).await;
    browser.follow(hand, ("button", "Continue")).await;
    browser.choose(hand, ("What lies below", "The layer that the rules specify")).await;
    browser.follow(hand, ("button", "Continue")).await;
    browser.follow(hand, ("button", "Continue")).await;
    browser.fill(hand, ("How many specimens", "3")).await;
    for mark in pieces {
        browser.tick(hand, mark).await;
    }
    browser.follow(hand, ("button", "Continue")).await;
    browser.follow(hand, ("button", "Continue")).await;
    browser.find("heading", "Check the answers").await;
}
