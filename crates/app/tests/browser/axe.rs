//! What a machine can tell of a page's accessibility and layout.

use serde_json::{Value, json};

use super::driver::Browser;
use crate::house::text;

/// Sizes of the screen: a narrow phone, a tablet on end, a bench tablet, a PC.
pub(super) const SIZES: [(u32, u32); 4] = [(320, 640), (820, 1180), (1180, 820), (1920, 1080)];

/// Both looks.
pub(super) const THEMES: [&str; 2] = ["light", "dark"];

/// What is looked for beside axe's rules: each line is an offence.
const LAYOUT: &str = r#"(() => {
  const offences = [];
  const wide = document.documentElement.scrollWidth - document.documentElement.clientWidth;
  if (wide > 0) offences.push(`${wide} px of overflow to the side`);
  if (document.documentElement.lang !== "en") offences.push("no language");
  const heads = document.querySelectorAll("h1").length;
  if (heads !== 1) offences.push(`${heads} headings of the first order`);
  if (!document.title.trim()) offences.push("no title");
  const targets = "a[href], button, input:not([type=hidden]), select, textarea, summary";
  for (const target of document.querySelectorAll(targets)) {
    if (!target.checkVisibility({ visibilityProperty: true })) continue;
    const box = target.getBoundingClientRect();
    if (box.width === 0 || box.right <= 0) continue;
    // A link inside a sentence takes the height of its line.
    const sentence = target.tagName === "A" && target.parentElement.closest("p, li, dd, td, span")
      && target.parentElement.innerText.trim() !== target.innerText.trim();
    // A small box is hit by its label too; a link alone in a cell by nothing else.
    const label = target.labels?.[0]?.getBoundingClientRect();
    const high = Math.max(box.height, label && target.matches("[type=radio], [type=checkbox]") ? label.height : 0);
    if (!sentence && high < 43.5) {
      offences.push(`${high.toFixed(1)} px high: ${target.outerHTML.slice(0, 160)}`);
    }
  }
  return offences;
})()"#;

/// The rules that are asked for, and what is told of each breach.
const RUN: &str = r#"axe.run(document, {
  resultTypes: ["violations"],
  runOnly: ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa", "best-practice"],
}).then((found) => found.violations.flatMap((rule) => rule.nodes.map((node) =>
  `${rule.id} (${rule.help}): ${node.html.slice(0, 200)} ${(node.any[0] ?? node.all[0] ?? node.none[0])?.message ?? ""}`)))"#;

/// Offences of the page that is open, at all sizes and in both themes.
pub(super) async fn offences(browser: &Browser, page: &str) -> Vec<String> {
    offences_in(browser, page, &THEMES).await
}

/// The same, in some of the themes.
pub(super) async fn offences_in(browser: &Browser, page: &str, themes: &[&str]) -> Vec<String> {
    let mut offences = Vec::new();
    for size in SIZES {
        for &theme in themes {
            browser.screen(size, theme).await;
            let found = offences_here(browser).await;
            offences.extend(
                found.iter().map(|line| format!("{page} at {} px, {theme}: {line}", size.0)),
            );
        }
    }
    offences
}

/// Offences of the page as it is laid out now.
pub(super) async fn offences_here(browser: &Browser) -> Vec<String> {
    if browser.value("typeof axe").await == "undefined" {
        let program = text("tests/web/node_modules/axe-core/axe.min.js");
        browser.below("Runtime.evaluate", json!({ "expression": program })).await;
    }
    [browser.value(LAYOUT).await, browser.value(RUN).await].into_iter().flat_map(lines).collect()
}

fn lines(found: Value) -> Vec<String> {
    serde_json::from_value(found).unwrap()
}
