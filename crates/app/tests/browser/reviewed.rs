//! An engineer reviews, sends back, approves and issues; the technician corrects in between. Two
//! people, two browsers, keyboard or touch.

use serde_json::Value;

use super::axe::offences;
use super::driver::{Browser, Profile};
use super::hands::{Hand, WAYS};
use crate::house::none;
use crate::served::{PASSWORD, Served, holds};
use crate::web_plans::{led, ready_to_sign};
use crate::web_sign::{as_person, comes_in, described};

async fn text(browser: &Browser) -> String {
    let shown = browser.value("document.querySelector('main').innerText").await;
    shown.as_str().unwrap().to_owned()
}

/// A browser of a person of their own.
async fn browser_of(served: &mut Served, cookie: &str, profile: &Profile) -> Browser {
    let browser = Browser::open(profile, &[]).await;
    let before = std::mem::replace(&mut served.cookie, cookie.to_owned());
    browser.sign_in(served).await;
    served.cookie = before;
    browser
}

/// Gives the signature that the page asks for; the first one of a sitting with both parts.
async fn signs(browser: &Browser, hand: Hand, name: Option<&str>, button: &str) {
    browser.find("heading", "Sign").await;
    if let Some(name) = name {
        browser.fill(hand, ("Name", name)).await;
    }
    browser.fill(hand, ("Password", PASSWORD)).await;
    browser.follow(hand, ("button", button)).await;
}

#[tokio::test]
async fn an_engineer_reviews_sends_back_approves_and_issues() {
    let mut found = Vec::new();
    for (hand, screen) in WAYS {
        let mut served = ready_to_sign();
        let quill = comes_in(&mut served, "Quill Marrow");
        described(&served);
        led(&served.post("/plans/2", "act=judge"));
        let (one, other) = (Profile::new(), Profile::new());
        let technician = Browser::of(&served, &one).await;
        let engineer = browser_of(&mut served, &quill, &other).await;
        for browser in [&technician, &engineer] {
            browser.screen(screen, "light").await;
        }
        // The technician signs what was seen.
        technician.go(&served.at("/plans/2")).await;
        technician.follow(hand, ("link", "Sign specimen 1 as tested")).await;
        technician.follow(hand, ("link", "Sign as tested")).await;
        found.extend(offences(&technician, "Sign").await);
        technician.screen(screen, "light").await;
        signs(&technician, hand, Some("Odalys Fenn"), "Sign as tested").await;
        holds(&text(&technician).await, &["Tested by", "Covers this record"]);
        // Who tested does not approve.
        technician.go(&served.at("/sign?what=plan-2&meaning=approved")).await;
        holds(&text(&technician).await, &["Odalys Fenn tested specimens of plan P-2"]);
        sent_back(&served, &engineer, hand).await;
        found.extend(offences(&engineer, "Review").await);
        engineer.screen(screen, "light").await;
        corrected(&served, &technician, hand).await;
        found.extend(offences(&technician, "a corrected specimen").await);
        technician.screen(screen, "light").await;
        issued(&mut served, &engineer, (hand, &quill)).await;
        found.extend(engineer.complaints().await);
        found.extend(technician.complaints().await);
        drop((technician, engineer));
        served.ended();
    }
    found.retain(|line| !line.contains("the server responded with a status of 4"));
    none(&found);
}

/// Odd things stand first; nothing is approved before each was opened. It goes back with a note.
async fn sent_back(served: &Served, engineer: &Browser, hand: Hand) {
    engineer.go(&served.at("/plans/2/review")).await;
    let shown = text(engineer).await;
    holds(&shown, &["The flame was removed 0.9 s late.", "There is no photograph and no film."]);
    assert!(!shown.contains("Approve and sign"), "{shown}");
    engineer.follow(hand, ("button", "Open specimen 1")).await;
    assert_eq!(engineer.address().await.path(), "/specimens/2-1");
    engineer.follow(hand, ("link", "Review of plan P-2")).await;
    engineer.find("link", "Approve and sign").await;
    engineer.value("document.querySelector('summary').focus()").await;
    engineer.key("Enter", 13).await;
    engineer.fill(hand, ("What is to be looked at?", "Was it removed late?")).await;
    engineer.follow(hand, ("button", "Send back")).await;
    holds(&text(engineer).await, &["◆ Sent back by Quill Marrow", "No longer covers this record"]);
}

/// What was sent back stands first at Today; a correction asks a reason; the old value is struck.
async fn corrected(served: &Served, technician: &Browser, hand: Hand) {
    technician.go(&served.at("/")).await;
    let first = "[...document.querySelectorAll('h2')]
        .find((it) => it.innerText === 'Waiting for you')
        .nextElementSibling.querySelector('tbody tr').innerText";
    let first = technician.value(first).await;
    holds(first.as_str().unwrap(), &["sent back by Quill Marrow: Was it removed late?"]);
    technician.follow(hand, ("link", "Specimen 1 of P-2")).await;
    technician.follow(hand, ("link", "Correct what was seen")).await;
    technician.fill(hand, ("Flame 1 removed", "30,2")).await;
    technician.follow(hand, ("button", "Correct it")).await;
    holds(&text(technician).await, &["There is a problem", "Say why a value is corrected."]);
    technician.fill(hand, ("Why is it corrected?", "The film shows it")).await;
    technician.follow(hand, ("button", "Correct it")).await;
    let struck = technician.value("document.querySelector('main del').innerText").await;
    assert!(struck.as_str().unwrap().ends_with("30.9 s"), "{struck}");
    holds(
        &text(technician).await,
        &["30.2 s", "The film shows it.", "No longer covers this record"],
    );
    technician.follow(hand, ("link", "Sign as tested")).await;
    // Of the same sitting: the password alone.
    assert_eq!(technician.value("document.querySelector('#name')").await, Value::Null);
    signs(technician, hand, None, "Sign as tested").await;
    led(&served.post("/plans/2", "act=judge"));
}

/// Approved with both parts; issued once, however often one goes back.
async fn issued(served: &mut Served, engineer: &Browser, (hand, quill): (Hand, &str)) {
    engineer.go(&served.at("/plans/2/review")).await;
    engineer.follow(hand, ("button", "Open specimen 1")).await;
    engineer.follow(hand, ("link", "Review of plan P-2")).await;
    engineer.follow(hand, ("link", "Approve and sign")).await;
    signs(engineer, hand, Some("Quill Marrow"), "Sign as approved").await;
    holds(&text(engineer).await, &["Approved by", "Covers this record"]);
    engineer.go(&served.at("/reports/new?plan=2")).await;
    engineer.follow(hand, ("button", "Issue report R-2 as Quill Marrow")).await;
    holds(&text(engineer).await, &["Report R-2 on plan", "Approved by"]);
    engineer.value("history.back()").await;
    engineer.find("heading", "Check before issuing").await;
    // A browser that shows the page as it was sends the same form again.
    let again =
        as_person(served, quill, |served| served.post("/reports", "plan=2&issued_before=0"));
    assert_eq!(again.status, 409);
    holds(&again.body, &["Report R-2 was issued at"]);
    let reports: Value = serde_json::from_str(&served.page("/api/reports")).unwrap();
    assert_eq!(reports["issued"].as_array().unwrap().len(), 2);
}
