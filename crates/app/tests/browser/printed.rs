//! On paper a page is black on white whatever the screen is, has no buttons, and says on each sheet
//! where it is from, when it was read and by whom.

use serde_json::json;

use super::driver::{Browser, Profile};
use crate::served::{Served, holds};

/// How the page looks, and what its sheets say.
const LOOKS: &str = "(() => {
  const of = (selector, name) => getComputedStyle(document.querySelector(selector))[name];
  return {
    ground: of('html', 'backgroundColor'), text: of('html', 'color'), bar: of('.bar', 'display'),
    says: getComputedStyle(document.documentElement).getPropertyValue('--printed'),
  };
})()";

#[tokio::test]
async fn a_printed_page_is_black_on_white_and_says_where_it_is_from() {
    let served = Served::demo();
    let profile = Profile::new();
    let browser = Browser::of(&served, &profile).await;
    browser.go(&served.at("/plans/1")).await;
    for media in ["screen", "print"] {
        let dark = [json!({ "name": "prefers-color-scheme", "value": "dark" })];
        let asked = json!({ "media": media, "features": dark });
        browser.below("Emulation.setEmulatedMedia", asked).await;
        let looks = browser.value(LOOKS).await;
        let on_paper = media == "print";
        assert_eq!(looks["ground"] == "rgb(255, 255, 255)", on_paper, "{looks}");
        assert_eq!(looks["text"] == "rgb(0, 0, 0)", on_paper, "{looks}");
        assert_eq!(looks["bar"] == "none", on_paper, "{looks}");
        let says = looks["says"].as_str().unwrap();
        holds(says, &[&served.at("/plans/1"), " · read 2", " UTC · Odalys Fenn"]);
    }
    drop(browser);
    served.ended();
}
