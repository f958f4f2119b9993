//! Words that are longer than ours, as another language has them: none is clipped.

use super::driver::{Browser, Profile};
use crate::served::Served;

/// A narrow phone and a bench tablet.
const SIZES: [(u32, u32); 2] = [(320, 640), (1180, 820)];

/// Makes each word of the page longer by 40 %; those of other people's, such as hashes, stay.
const LENGTHEN: &str = r#"(() => {
  const longer = (word) => word + word.slice(0, Math.ceil(word.length * 0.4)).toLowerCase();
  const walk = document.createTreeWalker(document.body, NodeFilter.SHOW_TEXT);
  let words = 0;
  const all = (text) => text.replace(/(?<![\p{L}\p{N}])\p{L}{2,}(?![\p{L}\p{N}])/gu, (word) => {
    words += 1;
    return longer(word);
  });
  for (const cell of document.querySelectorAll("[data-head]")) cell.dataset.head = all(cell.dataset.head);
  for (let node = walk.nextNode(); node !== null; node = walk.nextNode()) {
    if (node.parentElement.closest("script, style, code, pre, svg, textarea")) continue;
    node.data = all(node.data);
  }
  return words;
})()"#;

/// Words that reach beyond what hides the rest, or beyond the screen where nothing scrolls.
const CLIPPED: &str = r#"(() => {
  const clipped = [];
  const walk = document.createTreeWalker(document.body, NodeFilter.SHOW_TEXT);
  const range = document.createRange();
  for (let node = walk.nextNode(); node !== null; node = walk.nextNode()) {
    const parent = node.parentElement;
    const aside = parent.closest("script, style, svg, .skip, option");
    // What is for the ear alone is cut to nothing.
    let heard = false;
    for (let it = parent; it !== null; it = it.parentElement) heard ||= getComputedStyle(it).clipPath !== "none";
    if (heard || node.data.trim() === "" || aside || !parent.checkVisibility({ visibilityProperty: true })) continue;
    range.selectNodeContents(node);
    for (const box of range.getClientRects()) {
      let [left, right] = [0, document.documentElement.clientWidth];
      let hides = true;
      for (let it = parent; it !== null && it !== document.documentElement; it = it.parentElement) {
        const { overflowX } = getComputedStyle(it);
        if (overflowX === "visible") continue;
        hides = overflowX === "hidden" || overflowX === "clip";
        const inside = it.getBoundingClientRect();
        [left, right] = [inside.left, inside.right];
        break;
      }
      if (hides && (box.right > right + 1 || box.left < left - 1)) {
        clipped.push(`${Math.round(box.left)} to ${Math.round(box.right)} px: ${node.data.trim().slice(0, 80)}`);
        break;
      }
    }
  }
  return clipped;
})()"#;

/// What is clipped of the page that is open once its words are longer. The page is not itself then.
pub(super) async fn clipped(browser: &Browser, page: &str) -> Vec<String> {
    let words = browser.value(LENGTHEN).await.as_u64().unwrap();
    let mut found = Vec::new();
    if words < 5 {
        found.push(format!("{page} has {words} words to make longer"));
    }
    for size in SIZES {
        browser.screen(size, "light").await;
        let clipped: Vec<String> = serde_json::from_value(browser.value(CLIPPED).await).unwrap();
        let told = clipped.iter().map(|it| format!("{page} at {} px, longer: {it}", size.0));
        found.extend(told);
    }
    found
}

#[tokio::test]
async fn a_word_that_is_hidden_or_beyond_the_screen_is_found() {
    let served = Served::demo();
    let profile = Profile::new();
    let browser = Browser::of(&served, &profile).await;
    let with = |style: &str| {
        format!("document.querySelector('h1').style.cssText = '{style}; white-space: nowrap'; 0")
    };
    for style in ["width: 20px; overflow: hidden", "margin-left: 3000px"] {
        browser.go(&served.at("/")).await;
        browser.value(&with(style)).await;
        let found = clipped(&browser, "/").await;
        let of_today = found.iter().filter(|it| it.ends_with("px: Todayto"));
        assert_eq!(of_today.count(), SIZES.len(), "{style}: {found:?}");
    }
    drop(browser);
    served.ended();
}
